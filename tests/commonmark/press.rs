//! Sets Typst markup as the report does, and reads the letters back from the pages.

use std::path::{Path, PathBuf};

use asfound::notes::{Converted, Rules, to_typst};
use typst::foundations::{Bytes, Smart};
use typst::layout::{Frame, FrameItem};
use typst::text::Font;
use typst_as_lib::{TypstAsLibError, TypstEngine};
use typst_layout::PagedDocument;
use typst_pdf::{PdfOptions, PdfStandard, PdfStandards};

/// The typefaces of the report, and what can be set in them.
pub(crate) struct Press {
    engine_fonts: Vec<Font>,
    families: String,
}

impl Press {
    pub(crate) fn new() -> Self {
        let engine_fonts: Vec<Font> = font_files()
            .into_iter()
            .flat_map(|path| Font::iter(Bytes::new(std::fs::read(path).unwrap())))
            .collect();
        assert!(!engine_fonts.is_empty(), "no typeface to set text in");
        let mut families: Vec<String> = Vec::new();
        for font in &engine_fonts {
            let family = format!("{:?}", font.info().family.as_str());
            if !families.contains(&family) {
                families.push(family);
            }
        }
        // A serif for text, if there is one.
        families.sort_by_key(|family| !family.contains("Serif"));
        Self { engine_fonts, families: families.join(", ") }
    }

    pub(crate) fn covers(&self, c: char) -> bool {
        let fonts = &mut self.engine_fonts.iter();
        fonts.any(|font| font.info().coverage.contains(u32::from(c)))
    }

    /// Converts notes that have one picture, `here.png`.
    pub(crate) fn convert(&self, name: &str, markdown: &str) -> Converted {
        let rules = Rules {
            name,
            heading_level: 2,
            image: &|target| (target == "here.png").then(|| "/here.png".to_owned()),
            covers: &|c| self.covers(c),
        };
        to_typst(markdown, &rules)
    }

    /// The pages of a section that holds each text on a page of its own, checked as PDF/A-3a with
    /// PDF/UA-1; or what Typst says against it, warnings too.
    pub(crate) fn set(&self, texts: &[&str]) -> Result<Vec<String>, String> {
        let body = texts.join("\n#pagebreak()\n");
        let source = format!(
            "#set document(title: \"Notes\", date: datetime(year: 2024, month: 5, day: 4))\n\
             #set page(height: auto, margin: 1cm)\n\
             #set text(lang: \"en\", font: ({}))\n\
             #show raw: set text(font: ({}))\n\
             #set enum(numbering: (..) => none)\n#set list(marker: none)\n\
             = Notes\n#pagebreak()\n{body}",
            self.families, self.families
        );
        let engine = TypstEngine::builder()
            .fonts(self.engine_fonts.clone())
            .with_static_file_resolver([("here.png", picture())])
            .main_file(source)
            .build();
        let compiled = engine.compile::<PagedDocument>();
        if let Some(warning) = compiled.warnings.first() {
            return Err(format!("warning: {}", warning.message));
        }
        let document = compiled.output.map_err(|error| match error {
            TypstAsLibError::TypstSource(all) => all[0].message.to_string(),
            other => other.to_string(),
        })?;
        let options = PdfOptions {
            ident: Smart::Custom("notes".to_owned()),
            standards: PdfStandards::new(&[PdfStandard::A_3a, PdfStandard::Ua_1]).unwrap(),
            ..PdfOptions::default()
        };
        typst_pdf::pdf(&document, &options).map_err(|all| all[0].message.to_string())?;
        // The first page has the heading of the section alone.
        let pages = document.pages().iter().skip(1);
        Ok(pages.map(|page| letters(&page.frame)).collect())
    }

    /// As [`Press::set`], and if it fails, finds the text that is at fault.
    #[track_caller]
    pub(crate) fn must_set(&self, texts: &[(String, String)]) -> Vec<String> {
        let typst: Vec<&str> = texts.iter().map(|(_, typst)| typst.as_str()).collect();
        self.set(&typst).unwrap_or_else(|whole| {
            for (what, typst) in texts {
                if let Err(error) = self.set(&[typst]) {
                    panic!("{error}\n--- notes\n{what}\n--- Typst\n{typst}");
                }
            }
            panic!("each text can be set, all together cannot: {whole}");
        })
    }
}

fn font_files() -> Vec<PathBuf> {
    let ours = Path::new(env!("CARGO_MANIFEST_DIR")).join("templates/fonts");
    let folder = std::env::var_os("ASFOUND_TEST_FONTS").map_or(ours, PathBuf::from);
    let files = std::fs::read_dir(&folder)
        .unwrap_or_else(|error| panic!("no typefaces in {}: {error}", folder.display()));
    let mut files: Vec<PathBuf> = files.map(|entry| entry.unwrap().path()).collect();
    files.retain(|path| path.extension().is_some_and(|end| end == "ttf" || end == "otf"));
    files.sort();
    files
}

fn picture() -> Vec<u8> {
    let mut bytes = std::io::Cursor::new(Vec::new());
    image::DynamicImage::new_rgb8(40, 30).write_to(&mut bytes, image::ImageFormat::Png).unwrap();
    bytes.into_inner()
}

/// The letters on a page, without spaces, in the order in which they are set.
fn letters(frame: &Frame) -> String {
    let mut out = String::new();
    for (_, item) in frame.items() {
        match item {
            FrameItem::Group(group) => out.push_str(&letters(&group.frame)),
            FrameItem::Text(text) => out.push_str(&without_spaces(&text.text)),
            _ => {}
        }
    }
    out
}

pub(crate) fn without_spaces(text: &str) -> String {
    text.split_whitespace().collect()
}
