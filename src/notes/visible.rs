//! Makes every character of a text one that a page can show.
//!
//! PDF/A (ISO 19005-3, 6.2.11) allows neither a character that the typeface lacks nor one whose
//! meaning is not in Unicode, and a report that has to be believed must not hold signs that turn
//! the order of the letters or do not print. Such a character is shown by its number in ASCII
//! letters, `[U+0007]`, which every typeface has (few have U+FFFD or the control pictures).

use std::borrow::Cow;
use std::collections::BTreeSet;

/// A text that a page can show.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Visible<'a> {
    /// The text to set.
    pub text: Cow<'a, str>,
    /// The characters that were replaced by their numbers.
    pub named: BTreeSet<char>,
}

/// What becomes of a character.
enum Fate {
    Keep,
    Drop,
    LineEnd,
    Space,
    Name,
}

/// Replaces what cannot be shown; `covers` says whether the typefaces have a character.
///
/// - Shown by number: control characters but tab and line end; marks that reorder text
///   (U+202A–202E, U+2066–2069) and the deprecated U+206A–206F; invisible operators; tags; U+FEFF;
///   U+FFF9–FFFC; private use; noncharacters; and what `covers` refuses.
/// - Dropped: variation selectors and U+034F. They choose between two pictures of one letter and
///   break the link from glyph to letter that PDF/UA-1 needs.
/// - A space that the typefaces lack becomes a plain one. CR, CR LF, U+2028 and U+2029 become a
///   line end.
/// - Kept unasked: soft hyphen, zero-width space, joiners, word joiner and the implicit direction
///   marks, which Typst itself deals with.
pub fn visible<'a>(text: &'a str, covers: &dyn Fn(char) -> bool) -> Visible<'a> {
    let mut named = BTreeSet::new();
    let stays = |c: char| matches!(fate(c, covers), Fate::Keep);
    let Some(first) = text.find(|c| !stays(c)) else {
        return Visible { text: Cow::Borrowed(text), named };
    };
    let (head, tail) = text.split_at(first);
    let mut out = String::with_capacity(text.len() + 8);
    out.push_str(head);
    let mut chars = tail.chars().peekable();
    while let Some(c) = chars.next() {
        match fate(c, covers) {
            Fate::Keep => out.push(c),
            Fate::Drop => {}
            Fate::Space => out.push(' '),
            Fate::LineEnd => {
                if c == '\r' {
                    chars.next_if_eq(&'\n');
                }
                out.push('\n');
            }
            Fate::Name => {
                named.insert(c);
                out.push_str(&number(c));
            }
        }
    }
    Visible { text: Cow::Owned(out), named }
}

/// `[U+0007]`
fn number(c: char) -> String {
    format!("[{}]", code_point(c))
}

/// `U+0007`, as the Unicode Standard writes it (Appendix A, Notational Conventions).
pub(super) fn code_point(c: char) -> String {
    format!("U+{:04X}", u32::from(c))
}

fn fate(c: char, covers: &dyn Fn(char) -> bool) -> Fate {
    match c {
        '\r' | '\u{2028}' | '\u{2029}' => Fate::LineEnd,
        c if plain(c) => Fate::Keep,
        c if chooses_a_glyph(c) => Fate::Drop,
        c if unprintable(c) => Fate::Name,
        c if covers(c) => Fate::Keep,
        c if c.is_whitespace() => Fate::Space,
        _ => Fate::Name,
    }
}

/// Characters that need no asking: visible ASCII, and those that Typst lays out itself.
fn plain(c: char) -> bool {
    matches!(c, ' '..='~' | '\n' | '\t' | '\u{AD}')
        || matches!(c, '\u{61C}' | '\u{200B}'..='\u{200F}' | '\u{2060}')
}

/// Variation selectors and the combining grapheme joiner.
fn chooses_a_glyph(c: char) -> bool {
    matches!(c, '\u{34F}' | '\u{180B}'..='\u{180D}' | '\u{180F}')
        || matches!(c, '\u{FE00}'..='\u{FE0F}' | '\u{E0100}'..='\u{E01EF}')
}

fn unprintable(c: char) -> bool {
    let code = u32::from(c);
    c.is_control()
        || matches!(c, '\u{202A}'..='\u{202E}' | '\u{2061}'..='\u{206F}')
        || matches!(c, '\u{FEFF}' | '\u{FFF9}'..='\u{FFFC}' | '\u{FDD0}'..='\u{FDEF}')
        || matches!(c, '\u{E000}'..='\u{F8FF}' | '\u{E0000}'..='\u{E00FF}')
        || matches!(c, '\u{F0000}'..)
        || code & 0xFFFE == 0xFFFE
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::visible;

    fn all(text: &str) -> String {
        visible(text, &|_| true).text.into_owned()
    }

    #[test]
    fn controls_are_shown_by_number() {
        assert_eq!(all("a\u{7}b\u{0}\u{9b}"), "a[U+0007]b[U+0000][U+009B]");
        assert_eq!(all("tab\tand\nline"), "tab\tand\nline");
    }

    #[test]
    fn marks_that_reorder_the_letters_are_shown_by_number() {
        assert_eq!(all("0.6\u{202E}9.1"), "0.6[U+202E]9.1");
        assert_eq!(all("\u{2067}x\u{2069}"), "[U+2067]x[U+2069]");
    }

    #[test]
    fn what_pdf_forbids_is_shown_by_number_even_if_a_typeface_has_it() {
        let forbidden = "\u{FEFF}\u{FFFE}\u{FFFC}\u{E000}\u{F8FF}\u{F0000}\u{10FFFD}\u{FDD0}\u{E0061}";
        for c in forbidden.chars() {
            assert_eq!(all(&c.to_string()), format!("[U+{:04X}]", u32::from(c)));
        }
    }

    #[test]
    fn a_variation_selector_leaves_its_letter() {
        assert_eq!(all("*\u{FE0E}\u{2699}\u{FE0F}"), "*\u{2699}");
    }

    #[test]
    fn every_kind_of_line_end_is_one() {
        assert_eq!(all("a\r\nb\rc\u{2028}d"), "a\nb\nc\nd");
    }

    #[test]
    fn a_letter_that_no_typeface_has_is_shown_by_number_and_a_space_as_a_space() {
        let ascii = |c: char| c.is_ascii();
        let shown = visible("Wälzlager\u{2003}x", &ascii);
        assert_eq!(shown.text, "W[U+00E4]lzlager x");
        assert_eq!(shown.named.into_iter().collect::<String>(), "ä");
    }

    proptest! {
        #[test]
        fn nothing_unprintable_is_left_and_a_second_pass_changes_nothing(text in any::<String>()) {
            let once = all(&text);
            prop_assert!(!once.chars().any(|c| c.is_control() && c != '\n' && c != '\t'));
            prop_assert_eq!(all(&once), once);
        }
    }
}
