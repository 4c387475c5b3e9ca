//! Text in charts: made safe for XML, measured with the font that will set it, and broken into lines.

use std::sync::OnceLock;

use ab_glyph::{Font as _, FontRef};
use unicode_width::UnicodeWidthChar as _;

use super::ChartError;
use crate::packed::{self, Packed};

/// Source Sans 3 Regular; the family is named in [`super::style::FAMILY`].
pub(crate) static REGULAR: Packed = packed::font!("SourceSans3-Regular.ttf");
/// Source Sans 3 `SemiBold`, which stands for bold.
pub(crate) static STRONG: Packed = packed::font!("SourceSans3-SemiBold.ttf");

/// The height of capitals and figures, in em (OS/2 `sCapHeight` of the font).
pub(crate) const CAP_HEIGHT: f64 = 0.66;
/// Room above the baseline, in em: enough for an accent on a capital.
pub(crate) const ABOVE: f64 = 0.86;
/// Room below the baseline, in em.
pub(crate) const BELOW: f64 = 0.24;
/// From one baseline to the next, in em.
pub(crate) const LEADING: f64 = 1.18;

/// A weight of the family.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Face {
    /// Regular.
    Regular,
    /// `SemiBold`, asked for as bold.
    Strong,
}

/// The font of a face, read once.
pub(crate) fn font(face: Face) -> Result<&'static FontRef<'static>, ChartError> {
    static FONTS: [OnceLock<Option<FontRef<'static>>>; 2] = [OnceLock::new(), OnceLock::new()];
    let (slot, bytes, name) = match face {
        Face::Regular => (&FONTS[0], &REGULAR, "Source Sans 3 Regular"),
        Face::Strong => (&FONTS[1], &STRONG, "Source Sans 3 SemiBold"),
    };
    slot.get_or_init(|| FontRef::try_from_slice(bytes).ok()).as_ref().ok_or(ChartError::Font(name))
}

/// The advance of a text in points.
///
/// plotters measures at another size than it writes (`size` against `size/1.24`), so its figure is of
/// no use here. Kerning is left out: it hardly ever makes a text wider. A letter that the font lacks
/// is set in another; it counts as one em if East Asian wide, else as 0.65 em.
pub(crate) fn width(text: &str, size: f64, face: Face) -> f64 {
    let font = font(face).ok();
    let em = |letter: char| -> f64 {
        let columns = letter.width().unwrap_or(0);
        if columns == 0 {
            return 0.0;
        }
        match font {
            Some(font) if font.glyph_id(letter).0 != 0 => {
                let units = font.units_per_em().unwrap_or(1000.0);
                f64::from(font.h_advance_unscaled(font.glyph_id(letter)) / units)
            }
            _ if columns >= 2 => 1.0,
            _ => 0.65,
        }
    };
    text.chars().map(em).sum::<f64>() * size
}

/// A text as an SVG may hold it and as it will be set: no control characters (XML 1.0 forbids most of
/// them), no bidirectional overrides, no variation selectors (they break PDF/UA-1), spaces collapsed
/// as SVG collapses them.
pub(crate) fn clean(text: &str) -> String {
    let is_dropped = |letter: char| {
        matches!(letter,
            '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}'
            | '\u{fe00}'..='\u{fe0f}' | '\u{e0000}'..='\u{e0fff}' | '\u{feff}' | '\u{fff9}'..='\u{fffb}')
            || (u32::from(letter) & 0xfffe) == 0xfffe
    };
    let spaced: String = text
        .chars()
        .filter(|letter| !is_dropped(*letter))
        .map(
            |letter| {
                if letter.is_control() || matches!(letter, '\u{2028}' | '\u{2029}') { ' ' } else { letter }
            },
        )
        .collect();
    spaced.split(' ').filter(|word| !word.is_empty()).collect::<Vec<_>>().join(" ")
}

/// Breaks a text into lines no wider than `room` points: between words, and inside a word only where
/// the word alone is too wide. At least one letter goes on a line, whatever the room.
pub(crate) fn wrap(text: &str, size: f64, face: Face, room: f64) -> Vec<String> {
    let text = clean(text);
    let mut lines: Vec<String> = Vec::new();
    let mut line = String::new();
    for word in text.split(' ') {
        let longer = if line.is_empty() { word.to_owned() } else { format!("{line} {word}") };
        if width(&longer, size, face) <= room {
            line = longer;
            continue;
        }
        if !line.is_empty() {
            lines.push(std::mem::take(&mut line));
        }
        for letter in word.chars() {
            line.push(letter);
            if width(&line, size, face) > room && line.chars().count() > 1 {
                line.pop();
                lines.push(std::mem::replace(&mut line, letter.to_string()));
            }
        }
    }
    if !line.is_empty() {
        lines.push(line);
    }
    lines
}

/// The widest of some texts in points.
pub(crate) fn widest<'a>(texts: impl IntoIterator<Item = &'a str>, size: f64, face: Face) -> f64 {
    texts.into_iter().map(|text| width(&clean(text), size, face)).fold(0.0, f64::max)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_figures_are_tabular() {
        let zero = width("0", 10.0, Face::Regular);
        for figure in '1'..='9' {
            assert!((width(&figure.to_string(), 10.0, Face::Regular) - zero).abs() < 1e-6, "{figure}");
        }
    }

    #[test]
    fn the_signs_of_the_house_are_in_the_font() {
        for face in [Face::Regular, Face::Strong] {
            let font = font(face).expect("the font is in the program");
            for sign in "−±×≤≥°µ·⁰¹²³⁴⁵⁶⁷⁸⁹⁻–".chars() {
                assert_ne!(font.glyph_id(sign).0, 0, "{sign}");
            }
        }
    }

    #[test]
    fn the_cap_height_is_that_of_the_font() {
        let font = font(Face::Regular).expect("the font is in the program");
        let glyph = font.outline(font.glyph_id('H')).expect("H has an outline");
        let height = f64::from(glyph.bounds.max.y.max(glyph.bounds.min.y));
        assert!((height / 1000.0 - CAP_HEIGHT).abs() < 0.005, "{height}");
    }

    #[test]
    fn width_grows_with_size_and_text() {
        assert!(
            (width("arbor", 16.0, Face::Regular) - 2.0 * width("arbor", 8.0, Face::Regular)).abs() < 1e-9
        );
        assert!(width("arbors", 8.0, Face::Regular) > width("arbor", 8.0, Face::Regular));
        // East Asian letters are set one em wide.
        assert!((width("主軸", 8.0, Face::Regular) - 16.0).abs() < 1e-9);
    }

    #[test]
    fn control_characters_and_overrides_do_not_reach_the_svg() {
        assert_eq!(clean("a\u{0}b\u{1b}[31m\tc\nd"), "a b [31m c d");
        assert_eq!(clean("\u{202e}abc\u{feff}\u{fffe}\u{fe0f}"), "abc");
        assert_eq!(clean("  two   spaces "), "two spaces");
        assert_eq!(clean("מסב 主軸"), "מסב 主軸");
    }

    #[test]
    fn a_wrapped_text_keeps_every_letter_and_fits() {
        let text = "Run-out at the tip of the arbor with the long-reach indicator holder";
        let lines = wrap(text, 8.0, Face::Regular, 70.0);
        assert_eq!(lines.join(" "), text);
        assert!(lines.iter().all(|line| width(line, 8.0, Face::Regular) <= 70.0));
        let word = "Unterbrechungsfreie".repeat(4);
        let lines = wrap(&word, 8.0, Face::Regular, 50.0);
        assert_eq!(lines.concat(), word);
        assert!(lines.iter().all(|line| width(line, 8.0, Face::Regular) <= 50.0));
        assert_eq!(wrap("abc", 8.0, Face::Regular, 0.0), ["a", "b", "c"]);
        assert!(wrap("", 8.0, Face::Regular, 50.0).is_empty());
    }
}
