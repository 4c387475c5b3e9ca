//! The one door through which a person's words enter Typst.

use std::fmt::Write as _;

/// The Typst string literal, quotes included, that Typst reads as exactly `text`.
///
/// It holds no control or invisible character and no line end: those are escaped by number, so it
/// can stand in any place of Typst code and be read in an editor without surprise.
///
/// ```
/// assert_eq!(asfound::notes::literal("3\" × #x\n"), r#""3\" × #x\n""#);
/// ```
pub fn literal(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + 2);
    push_literal(&mut out, text);
    out
}

/// Appends [`literal`]`(text)` to `out`.
pub(super) fn push_literal(out: &mut String, text: &str) {
    out.push('"');
    for c in text.chars() {
        match c {
            '"' => out.push_str("\\\""),
            '\\' => out.push_str("\\\\"),
            '\n' => out.push_str("\\n"),
            '\r' => out.push_str("\\r"),
            '\t' => out.push_str("\\t"),
            c if hides(c) => {
                // Writing to a string cannot fail.
                let _ = write!(out, "\\u{{{:x}}}", u32::from(c));
            }
            c => out.push(c),
        }
    }
    out.push('"');
}

/// Characters that a source file should not hold as such: controls, and signs that steer or hide
/// the text around them.
fn hides(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{AD}' | '\u{34F}' | '\u{61C}' | '\u{180B}'..='\u{180F}')
        || matches!(c, '\u{200B}'..='\u{200F}' | '\u{2028}'..='\u{202E}' | '\u{2060}'..='\u{206F}')
        || matches!(c, '\u{FE00}'..='\u{FE0F}' | '\u{FEFF}' | '\u{FFF9}'..='\u{FFFC}')
        || matches!(c, '\u{E0000}'..='\u{E0FFF}')
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use typst::syntax::ast::{AstNode, Expr, Markup};
    use typst::syntax::parse;

    use super::literal;

    /// What Typst's own parser reads from `#` and the literal.
    fn read(text: &str) -> Option<String> {
        let root = parse(&format!("#{}", literal(text)));
        if !root.errors_and_warnings().0.is_empty() {
            return None;
        }
        let markup = Markup::from_untyped(&root)?;
        let mut exprs = markup.exprs();
        match (exprs.next(), exprs.next()) {
            (Some(Expr::Str(string)), None) => Some(string.get().to_string()),
            _ => None,
        }
    }

    #[test]
    fn typst_reads_every_single_character_as_it_was_typed() {
        for c in '\0'..=char::MAX {
            let text = format!("{c}a");
            assert_eq!(read(&text).as_deref(), Some(text.as_str()), "{c:?}");
        }
    }

    #[test]
    fn a_literal_is_one_line_of_visible_characters() {
        let text = "a\u{0}\u{7}\r\n\t\u{85}\u{2028}\u{202E}\u{FEFF}\"\\u{41}";
        assert_eq!(literal(text), r#""a\u{0}\u{7}\r\n\t\u{85}\u{2028}\u{202e}\u{feff}\"\\u{41}""#);
    }

    proptest! {
        #[test]
        fn typst_reads_what_was_typed(text in any::<String>()) {
            prop_assert_eq!(read(&text), Some(text));
        }

        #[test]
        fn typst_reads_what_was_typed_in_the_letters_of_code(text in r#"[\\"'u{}n#$\[\]0-9a-f\n /*`]{0,40}"#) {
            prop_assert_eq!(read(&text), Some(text));
        }
    }
}
