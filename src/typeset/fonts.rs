//! The fonts: shipped with the program, and nothing else.
//!
//! No system font is read, so that a page looks the same on every machine. PDF/UA-1 makes an error
//! of a character that no font has; [`printable`] spells such a character out beforehand, so that a
//! title with an emoji costs nobody their report and nothing is lost in silence.

use std::borrow::Cow;
use std::fmt::Write as _;
use std::sync::LazyLock;

use typst::foundations::Bytes;
use typst::text::Font;

use crate::charts::text::{REGULAR, STRONG};
use crate::packed::{self, Packed};

/// The family of headings, labels, tables and charts. Its figures are lining and tabular.
pub const SANS: &str = crate::charts::style::FAMILY;

/// The family of running text.
pub const SERIF: &str = "Source Serif 4";

/// The family of code and checksums.
pub const MONO: &str = "Source Code Pro";

static SANS_ITALIC: Packed = packed::font!("SourceSans3-Italic.ttf");
static SERIF_REGULAR: Packed = packed::font!("SourceSerif4-Regular.ttf");
static SERIF_ITALIC: Packed = packed::font!("SourceSerif4-Italic.ttf");
static SERIF_BOLD: Packed = packed::font!("SourceSerif4-Bold.ttf");
static SERIF_BOLD_ITALIC: Packed = packed::font!("SourceSerif4-BoldItalic.ttf");
static MONO_REGULAR: Packed = packed::font!("SourceCodePro-Regular.ttf");
static HEBREW: Packed = packed::font!("NotoSansHebrew-Regular.ttf");
static ARABIC: Packed = packed::font!("NotoNaskhArabic-Regular.ttf");
static MATH: Packed = packed::font!("FallbackMath-Regular.ttf");
static SYMBOLS: Packed = packed::font!("FallbackSymbols-Regular.ttf");
static SYMBOLS_TWO: Packed = packed::font!("FallbackSymbolsTwo-Regular.ttf");
static CJK_REGULAR: Packed = packed::font!("FallbackCJK-Regular.otf");

static ALWAYS: [&Packed; 13] = [
    &REGULAR,
    &STRONG,
    &SANS_ITALIC,
    &SERIF_REGULAR,
    &SERIF_ITALIC,
    &SERIF_BOLD,
    &SERIF_BOLD_ITALIC,
    &MONO_REGULAR,
    &HEBREW,
    &ARABIC,
    &MATH,
    &SYMBOLS,
    &SYMBOLS_TWO,
];

/// Every family that a document may count on. The last one is there only where a text needs it.
const FAMILIES: [&str; 9] = [
    SANS,
    SERIF,
    MONO,
    "Noto Sans Hebrew",
    "Noto Naskh Arabic",
    "Fallback Math",
    "Fallback Symbols",
    "Fallback Symbols Two",
    "Fallback CJK",
];

static BASE: LazyLock<Vec<Font>> =
    LazyLock::new(|| ALWAYS.iter().filter_map(|packed| parse(packed)).collect());

static CJK: LazyLock<Option<Font>> = LazyLock::new(|| parse(&CJK_REGULAR));

/// A family that should be shipped is not there. Typst would drop or replace its text without a
/// word, so this stops everything.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("the font family \"{family}\" is missing from the font book")]
pub struct MissingFamily {
    /// The family that was looked for.
    pub family: &'static str,
}

/// Whether a family of this name is shipped.
pub fn is_shipped(family: &str) -> bool {
    FAMILIES.contains(&family)
}

fn parse(data: &'static [u8]) -> Option<Font> {
    Font::new(Bytes::new(data), 0)
}

/// The fonts of a document.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Set {
    /// All of ours but the large one.
    Usual,
    /// With the large one for Chinese, Japanese and Korean.
    WithCjk,
}

impl Set {
    /// What a document needs that holds these texts: the large font only where a character asks for it.
    pub fn showing<'a>(texts: impl IntoIterator<Item = &'a str>) -> Self {
        if texts.into_iter().any(needs_cjk) { Self::WithCjk } else { Self::Usual }
    }

    /// The fonts, or which of their families is not there.
    pub fn fonts(self) -> Result<Vec<Font>, MissingFamily> {
        let mut fonts = BASE.clone();
        match self {
            Self::Usual => checked(fonts, &FAMILIES[..FAMILIES.len() - 1]),
            Self::WithCjk => {
                fonts.extend(CJK.iter().cloned());
                checked(fonts, &FAMILIES)
            }
        }
    }
}

/// Gives the fonts back if every one of the families is among them.
fn checked(fonts: Vec<Font>, families: &[&'static str]) -> Result<Vec<Font>, MissingFamily> {
    match families.iter().find(|family| !fonts.iter().any(|font| font.info().family == **family)) {
        Some(family) => Err(MissingFamily { family }),
        None => Ok(fonts),
    }
}

fn needs_cjk(text: &str) -> bool {
    text.chars().any(|c| !is_plain(c) && !in_base(c) && in_cjk(c))
}

/// The characters of a text that no shipped font can show, in order, each once.
pub fn uncovered(text: &str) -> Vec<char> {
    let mut found = Vec::new();
    for c in text.chars() {
        if !covers(c) && !found.contains(&c) {
            found.push(c);
        }
    }
    found
}

/// The text with every character that no shipped font can show spelt out as its code point, as in
/// `⟨U+1F600⟩`. Controls are spelt out too, and so are the overrides of writing direction, which
/// could make a title read as something else than what was typed.
pub fn printable(text: &str) -> Cow<'_, str> {
    if text.chars().all(covers) {
        return Cow::Borrowed(text);
    }
    let mut out = String::with_capacity(text.len() + 16);
    for c in text.chars() {
        if covers(c) {
            out.push(c);
        } else {
            // Writing into a String cannot fail.
            let _ = write!(out, "⟨U+{:04X}⟩", u32::from(c));
        }
    }
    Cow::Owned(out)
}

fn is_plain(c: char) -> bool {
    matches!(c, ' '..='~' | '\n')
}

/// Whether a shipped font shows this character, and it is none that [`printable`] spells out.
pub fn covers(c: char) -> bool {
    is_plain(c) || (!is_control(c) && (in_base(c) || in_cjk(c)))
}

/// Controls, direction overrides and isolates, line and paragraph separators, variation selectors,
/// the byte order mark, and private use.
fn is_control(c: char) -> bool {
    c.is_control()
        || matches!(
            c,
            '\u{200e}' | '\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{fe00}'..='\u{fe0f}'
                | '\u{feff}' | '\u{fff9}'..='\u{fffc}' | '\u{e000}'..='\u{f8ff}' | '\u{e0000}'..='\u{10ffff}'
        )
}

/// The characters of the usual fonts, a bit each: every character of a document is asked for.
static IN_BASE: LazyLock<Vec<u64>> = LazyLock::new(|| {
    let mut bits = vec![0; (char::MAX as usize >> 6) + 1];
    for c in BASE.iter().flat_map(|font| font.info().coverage.iter()) {
        if let Some(word) = bits.get_mut(c as usize >> 6) {
            *word |= 1 << (c & 63);
        }
    }
    bits
});

fn in_base(c: char) -> bool {
    let c = u32::from(c);
    IN_BASE.get(c as usize >> 6).is_some_and(|word| word & (1_u64 << (c & 63)) != 0)
}

fn in_cjk(c: char) -> bool {
    CJK.as_ref().is_some_and(|font| font.info().coverage.contains(u32::from(c)))
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn every_shipped_font_is_read_and_every_family_is_in_the_book() {
        assert_eq!(BASE.len(), ALWAYS.len());
        let fonts = Set::showing(["测量"]).fonts().unwrap();
        assert_eq!(fonts.len(), ALWAYS.len() + 1);
    }

    #[test]
    fn an_empty_book_is_an_error_for_typst_would_drop_all_text_without_a_word() {
        assert_eq!(checked(Vec::new(), &FAMILIES), Err(MissingFamily { family: SANS }));
    }

    #[test]
    fn the_large_font_is_in_the_book_only_where_a_text_needs_it() {
        assert_eq!(Set::showing(["Ø 25 µm ≤ 1 thou", "שלום"]), Set::Usual);
        assert_eq!(Set::showing(["ball race", "軸受"]), Set::WithCjk);
        assert_eq!(Set::Usual.fonts().unwrap().len(), ALWAYS.len());
    }

    #[test]
    fn the_shop_s_signs_and_the_world_s_scripts_are_all_covered() {
        let signs = "☐☑☒✓→←↔≤≥±µμΩ⌀°×÷−–—…′″≈√∞•●○⟨⟩½²³①②⊥∥∠§†‡€£“”‘’";
        assert_eq!(uncovered(signs), Vec::<char>::new());
        assert_eq!(uncovered("Ελληνικά Русский עברית العربية 中文 日本語 カナ 한국어"), Vec::<char>::new());
    }

    #[test]
    fn what_no_font_has_is_spelt_out_and_never_lost() {
        assert_eq!(uncovered("a😀b😀"), vec!['😀']);
        assert_eq!(printable("a😀b"), "a⟨U+1F600⟩b");
        assert_eq!(printable("bell\u{7}, \u{202e}back"), "bell⟨U+0007⟩, ⟨U+202E⟩back");
        assert!(matches!(printable("3.4 ± 0.8 thou"), Cow::Borrowed(_)));
    }

    #[test]
    fn the_figures_of_both_families_are_tabular_as_they_come() {
        for font in &BASE[..7] {
            let face = font.info();
            let widths: Vec<_> = ('0'..='9').map(|c| width(font, c)).collect();
            let even = widths.iter().all(|w| (w - widths[0]).abs() < 0.0015);
            assert!(even, "{} {:?}: {widths:?}", face.family, face.variant);
        }
    }

    #[test]
    fn the_widths_that_decimal_alignment_counts_on_are_the_font_s_own() {
        let tables = include_str!("../../templates/tables.typ");
        assert!(tables.contains(&format!("#let digit = {:.3}em", width(&BASE[0], '0'))), "digit");
        assert!(tables.contains(&format!("#let point = {:.3}em", width(&BASE[0], '.'))), "point");
    }

    /// The advance of a character in ems.
    fn width(font: &Font, c: char) -> f64 {
        let instance = font.clone().instantiate(
            font.info().variant,
            typst::layout::Abs::pt(10.0),
            &typst::text::FontVariations::default(),
        );
        let glyph = instance.ttf().glyph_index(c).unwrap();
        instance.x_advance(glyph.0).unwrap().get()
    }
}
