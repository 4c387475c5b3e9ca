//! A text as a Typst string literal.

use std::fmt::Write as _;

/// The text as a Typst string literal, quotes included.
///
/// Typst reads it back as exactly the same text. Everything in ASCII that has a meaning in Typst is
/// written as `\u{…}`, which is an escape both within a string and in markup. So even a template
/// that puts the literal where markup stands, forgetting the `#`, shows the text with quotes about
/// it and never runs it.
pub fn literal(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + 2);
    out.push('"');
    for c in text.chars() {
        if is_harmless(c) {
            out.push(c);
        } else {
            // Writing into a String cannot fail.
            let _ = write!(out, "\\u{{{:x}}}", u32::from(c));
        }
    }
    out.push('"');
    out
}

fn is_harmless(c: char) -> bool {
    match c {
        'a'..='z' | 'A'..='Z' | '0'..='9' | ' ' | '.' | ',' | '(' | ')' | '%' | '+' | '?' | '!' | ';' => true,
        _ => !c.is_ascii() && !c.is_control(),
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::literal;

    #[test]
    fn whatever_means_something_to_typst_is_escaped() {
        assert_eq!(literal("3.4 thou"), "\"3.4 thou\"");
        assert_eq!(literal("\"#[x]\\"), "\"\\u{22}\\u{23}\\u{5b}x\\u{5d}\\u{5c}\"");
    }

    proptest! {
        #[test]
        fn typst_reads_back_what_was_written(text in any::<String>()) {
            let source = typst::syntax::parse_code(&literal(&text));
            prop_assert!(!source.diagnosis().errors);
            let read = source.children().find_map(typst::syntax::SyntaxNode::cast::<typst::syntax::ast::Str>);
            prop_assert_eq!(read.map(|s| s.get().to_string()), Some(text));
        }

        #[test]
        fn in_markup_it_is_text_and_never_code(text in any::<String>()) {
            use typst::syntax::SyntaxKind as Kind;
            let source = typst::syntax::parse(&literal(&text));
            prop_assert!(!source.diagnosis().errors);
            for node in source.children() {
                let plain = matches!(
                    node.kind(),
                    Kind::Text | Kind::Space | Kind::Escape | Kind::SmartQuote | Kind::Shorthand | Kind::Parbreak
                );
                prop_assert!(plain, "{:?}", node);
            }
        }
    }
}
