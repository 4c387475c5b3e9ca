//! From Typst source and its assets to the bytes of an archivable PDF, or to pictures.
//!
//! Nothing comes from outside the [`Bundle`]: no file, no package, no system font, no clock. The
//! same bundle and [`Meta`] give the same bytes.

mod drawing;
pub mod fonts;
pub mod picture;
mod press;
mod revise;
mod trouble;
mod world;

use std::borrow::Cow;
use std::collections::BTreeMap;

use jiff::civil::Date;
use typst::diag::SourceResult;
use typst::foundations::{Bytes, Datetime, Smart};
use typst_layout::PagedDocument;
use typst_pdf::{PdfOptions, PdfStandard, PdfStandards, Timestamp};

pub use press::Press;
pub use trouble::{Place, Trouble, TypesetError};

/// The program as it names itself in a document's metadata.
pub const CREATOR: &str = concat!("asfound ", env!("CARGO_PKG_VERSION"));

/// All that a document is made of. Paths are relative, with `/` between their parts.
#[derive(Debug, Clone, Default)]
pub struct Bundle {
    /// The source that is compiled. It may import any of `sources` and read any of `assets`.
    pub main: Main,
    /// Other Typst sources by path, such as `house.typ`.
    pub sources: BTreeMap<String, Cow<'static, str>>,
    /// Pictures, data and files to attach, by path. Cloning is cheap.
    pub assets: BTreeMap<String, Bytes>,
}

impl Bundle {
    /// Adds a picture, data or a file to attach.
    pub fn add_asset(&mut self, path: impl Into<String>, bytes: Vec<u8>) {
        self.assets.insert(path.into(), Bytes::new(bytes));
    }
}

/// The main source, and where each stretch of it was written.
#[derive(Debug, Clone, Default)]
pub struct Main {
    /// Typst source.
    pub text: String,
    /// Which template made which stretch, in order of `made`; empty where no template did.
    pub origins: Vec<Origin>,
}

/// A stretch of the main source and the place in a template that made it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Origin {
    /// The template's name.
    pub template: String,
    /// Byte range in the main source.
    pub made: std::ops::Range<usize>,
    /// The place in the template, counted from 1, where the stretch begins.
    pub line: usize,
    /// The column, counted in characters from 1.
    pub column: usize,
    /// Whether the stretch is the template's own text, letter by letter; else an expression made it.
    pub verbatim: bool,
}

/// What is said about the document, none of it from a clock or a machine.
#[derive(Debug, Clone)]
pub struct Meta {
    /// Tells this document from every other and stays the same from run to run: the content's
    /// SHA-256 or the document number.
    pub ident: String,
    /// The date of the document, as the session gives it.
    pub date: Date,
}

/// A typeset document.
#[derive(Debug, Clone)]
pub struct Pdf {
    /// The file, PDF/A-3a and PDF/UA-1.
    pub bytes: Vec<u8>,
    /// The number of pages.
    pub pages: usize,
    /// What Typst warned of, such as a font family that is not there.
    pub warnings: Vec<Trouble>,
}

/// Compiles a bundle and exports it as PDF/A-3a (ISO 19005-3) together with PDF/UA-1
/// (ISO 14289-1), which ask for a title, a date, a language, tags, an `alt` on each picture and a
/// MIME type and description on each attachment.
pub fn pdf(bundle: &Bundle, meta: &Meta) -> Result<Pdf, TypesetError> {
    press::clear();
    Press::default().print(bundle, meta)
}

/// Compiles a bundle on a day and hands the document on; what Typst warned of stands beside what comes of it.
fn compiled<T>(
    bundle: &Bundle,
    day: Date,
    export: impl FnOnce(PagedDocument) -> SourceResult<T>,
) -> Result<(T, Vec<Trouble>), TypesetError> {
    press::clear();
    Press::default().set(bundle, day, export)
}

impl Bundle {
    /// Every text that may be shown, for choosing fonts.
    fn texts(&self) -> impl Iterator<Item = &str> {
        std::iter::once(self.main.text.as_str())
            .chain(self.sources.values().map(AsRef::as_ref))
            .chain(self.drawings())
    }

    /// The SVG assets' texts.
    fn drawings(&self) -> impl Iterator<Item = &str> {
        self.assets.iter().filter_map(|(path, bytes)| drawing::text(path, bytes))
    }
}

fn datetime(date: Date) -> Result<Datetime, TypesetError> {
    let part = |n: i8| u8::try_from(n).ok();
    part(date.month())
        .zip(part(date.day()))
        .and_then(|(month, day)| Datetime::from_ymd_hms(i32::from(date.year()), month, day, 0, 0, 0))
        .ok_or(TypesetError::Date(date))
}

fn options(meta: &Meta, date: Datetime) -> PdfOptions {
    PdfOptions {
        ident: Smart::Custom(meta.ident.clone()),
        creator: Smart::Custom(Some(CREATOR.to_owned())),
        timestamp: Some(Timestamp::new_utc(date)),
        standards: PdfStandards::new(&[PdfStandard::A_3a, PdfStandard::Ua_1])
            .expect("the two standards go together, which a test shows"),
        ..PdfOptions::default()
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    fn meta() -> Meta {
        Meta { ident: "test".to_owned(), date: jiff::civil::date(2026, 3, 20) }
    }

    fn bundle(text: &str) -> Bundle {
        let head = "#set document(title: \"Test\")\n#set text(font: \"Source Serif 4\", lang: \"en\")\n";
        Bundle { main: Main { text: format!("{head}{text}"), origins: Vec::new() }, ..Bundle::default() }
    }

    #[test]
    fn pdf_a_3a_and_pdf_ua_1_can_be_asked_for_together() {
        let made = pdf(&bundle("= Found\nThe arbor ran out 3.4 thou."), &meta()).unwrap();
        assert!(made.bytes.starts_with(b"%PDF-1.7"));
        assert_eq!(made.pages, 1);
        assert!(made.warnings.is_empty(), "{:?}", made.warnings);
    }

    #[test]
    fn today_is_the_date_of_the_session_and_never_the_clock_s() {
        let text = "#assert.eq(datetime.today(), datetime(year: 2026, month: 3, day: 20))\n= Found";
        pdf(&bundle(text), &meta()).unwrap();
    }

    #[test]
    fn a_file_outside_the_bundle_and_a_package_are_not_found() {
        for text in [
            "= A\n#read(\"/etc/passwd\")",
            "= A\n#read(\"../../secret.txt\")",
            "#import \"@preview/anything:1.0.0\"",
        ] {
            let error = pdf(&bundle(text), &meta()).unwrap_err();
            assert!(matches!(error, TypesetError::Source(_)), "{error}");
        }
    }

    #[test]
    fn a_misspelt_family_is_a_warning_with_its_place() {
        let made = pdf(&bundle("= A\n#text(font: \"Sauce Serif\")[x]"), &meta()).unwrap();
        let warning = made.warnings.first().unwrap();
        assert_eq!(warning.message, "unknown font family: sauce serif");
        assert_eq!(warning.place.as_ref().map(|place| (place.line, place.column)), Some((4, 13)));
    }

    #[test]
    fn a_broken_picture_is_an_error_with_its_place_and_no_panic() {
        let mut bundle = bundle("= A\n#image(\"charts/a.svg\", alt: \"a\")");
        bundle.add_asset("charts/a.svg", b"<svg".to_vec());
        let error = pdf(&bundle, &meta()).unwrap_err();
        assert!(error.to_string().starts_with("charts/a.svg:1:1: failed to parse SVG"), "{error}");
    }

    #[test]
    fn a_drawing_in_a_family_that_is_not_shipped_is_an_error_for_typst_would_take_another_without_a_word() {
        let mut bundle = bundle("= A");
        bundle.add_asset("charts/a.svg", b"<text font-family=\"Sauce Sans\">".to_vec());
        let error = pdf(&bundle, &meta()).unwrap_err();
        assert!(
            error.to_string().contains("charts/a.svg") && error.to_string().contains("Sauce Sans"),
            "{error}"
        );
    }

    #[test]
    fn a_path_that_leaves_the_bundle_is_refused() {
        let mut bundle = bundle("= A");
        bundle.add_asset("../outside.svg", Vec::new());
        assert!(matches!(pdf(&bundle, &meta()), Err(TypesetError::Path(_))));
    }
}
