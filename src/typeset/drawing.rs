//! The font families that an SVG names.
//!
//! Typst sets a family that it does not know in another one without a word, and reads a name that
//! holds a word like `3` only in quotes (CSS: each word of an unquoted family name is an
//! identifier, and an identifier does not begin with a figure). Both are caught here.

use super::{TypesetError, fonts};

/// The text of an asset that is an SVG.
pub(super) fn text<'a>(path: &str, bytes: &'a [u8]) -> Option<&'a str> {
    let svg = std::path::Path::new(path).extension().is_some_and(|end| end == "svg");
    svg.then(|| std::str::from_utf8(bytes).ok()).flatten()
}

/// Refuses an asset that is an SVG with a family that Typst would not set in a shipped font.
pub(super) fn check(path: &str, bytes: &[u8]) -> Result<(), TypesetError> {
    match text(path, bytes).and_then(foreign_family) {
        Some(families) => Err(TypesetError::DrawingFamily { path: path.to_owned(), families }),
        None => Ok(()),
    }
}

/// The first family named in an SVG that Typst would not set in a shipped font.
fn foreign_family(svg: &str) -> Option<String> {
    svg.match_indices("font-family")
        .filter_map(|(at, name)| value(svg.get(at + name.len()..)?))
        .find(|families| !first_is_ours(families))
        .map(str::to_owned)
}

/// What stands behind `font-family`, as an attribute or in a style.
fn value(rest: &str) -> Option<&str> {
    let rest = rest.trim_start();
    if let Some(attribute) = rest.strip_prefix('=') {
        let attribute = attribute.trim_start();
        let quote = attribute.chars().next().filter(|c| matches!(c, '"' | '\''))?;
        return attribute.get(1..)?.split(quote).next();
    }
    let style = rest.strip_prefix(':')?;
    style.split([';', '}', '<']).next().map(|families| families.trim().trim_end_matches('"'))
}

fn first_is_ours(families: &str) -> bool {
    let families = families.replace("&quot;", "\"").replace("&apos;", "'");
    let first = families.split(',').next().unwrap_or_default().trim();
    let quoted = ['"', '\''].iter().find_map(|quote| first.strip_prefix(*quote)?.strip_suffix(*quote));
    let name = match quoted {
        Some(name) => name,
        None if first.split_whitespace().any(|word| word.starts_with(|c: char| c.is_ascii_digit())) => {
            return false;
        }
        None => first,
    };
    fonts::is_shipped(name)
}

#[cfg(test)]
mod tests {
    use super::foreign_family;

    #[test]
    fn a_shipped_family_in_quotes_is_ours_in_every_way_of_writing_it() {
        for svg in [
            r#"<text font-family="'Source Sans 3', sans-serif">"#,
            r#"<text font-family='"Source Sans 3"'>"#,
            r#"<text font-family="&quot;Source Sans 3&quot;">"#,
            r#"<text style="font-size:9px;font-family:'Source Sans 3';fill:red">"#,
            r#"<text font-family="Source Code Pro">"#,
            "<path/>",
        ] {
            assert_eq!(foreign_family(svg), None, "{svg}");
        }
    }

    #[test]
    fn a_name_with_a_figure_and_no_quotes_is_not_read_and_so_it_is_caught() {
        assert_eq!(foreign_family(r#"<text font-family="Source Sans 3">"#).as_deref(), Some("Source Sans 3"));
    }

    #[test]
    fn a_misspelt_or_foreign_family_is_caught() {
        for family in ["Sauce Sans", "sans-serif", "Arial, 'Source Sans 3'"] {
            assert_eq!(foreign_family(&format!("<g font-family=\"{family}\">")).as_deref(), Some(family));
        }
    }
}
