//! A template's values as the text of HTML, and what helps a template to set figures in columns.

use minijinja::value::ValueKind;
use minijinja::{Environment, Error, ErrorKind, Output, Value, context};

use crate::notes::{escaped, visible};
use crate::quantity::kept_together;

/// Writes a value where a template put it: marked safe, as it is; else as text that HTML reads as just
/// that text, in an element or in a quoted attribute.
pub(super) fn write(out: &mut Output, value: &Value) -> Result<(), Error> {
    if value.is_safe() {
        return Ok(out.write_str(value.as_str().unwrap_or_default())?);
    }
    match value.kind() {
        ValueKind::None => Ok(()),
        ValueKind::Bool | ValueKind::Number => Ok(write!(out, "{value}")?),
        ValueKind::String => {
            let shown = visible(value.as_str().unwrap_or_default(), &|_| true);
            Ok(out.write_str(&escaped(&kept_together(&shown.text)))?)
        }
        other => Err(Error::new(ErrorKind::BadEscape, format!("a {other} cannot be written as HTML"))),
    }
}

/// Gives the environment what the page's templates call.
pub(super) fn add_helpers(environment: &mut Environment<'static>) {
    environment.add_filter("figures", |text: String| figures(&text));
    environment.add_function("column", column);
    environment.add_function("reading_column", reading_column);
    environment.add_function("used", used);
}

/// A typed minus becomes a true one. What is no number passes as it is.
fn figures(text: &str) -> String {
    match text.strip_prefix('-') {
        Some(rest) => format!("\u{2212}{rest}"),
        None => text.to_owned(),
    }
}

/// The rows of groups, one group after the other; what has no rows is a row itself.
fn rows_of(groups: &Value) -> Result<Vec<Value>, Error> {
    let mut list = Vec::new();
    for item in groups.try_iter()? {
        let rows = item.get_attr("rows")?;
        if rows.is_undefined() { list.push(item) } else { list.extend(rows.try_iter()?) }
    }
    Ok(list)
}

/// What a dotted path leads to; `None` where it leads nowhere.
fn at(value: &Value, path: &str) -> Result<Option<String>, Error> {
    let mut value = value.clone();
    for step in path.split('.') {
        if value.is_none() || value.is_undefined() {
            return Ok(None);
        }
        value = value.get_attr(step)?;
    }
    Ok((!value.is_none() && !value.is_undefined()).then(|| value.to_string()))
}

/// `column(groups, "before.value", "–")`: one cell for each row, so that they meet in the decimal point when
/// set flush right. A cell has `shown`, and `pad`: the class that keeps the room of the figures it lacks.
#[allow(clippy::needless_pass_by_value, reason = "the signature of a function")]
fn column(groups: Value, path: &str, missing: Option<&str>) -> Result<Vec<Value>, Error> {
    let mut texts = Vec::new();
    for row in rows_of(&groups)? {
        texts.push(at(&row, path)?.unwrap_or_else(|| missing.unwrap_or_default().to_owned()));
    }
    Ok(aligned(&texts))
}

/// `reading_column(rows, 3)`: the same for the fourth reading of each row; heads between the rows are left
/// empty, for they are no numbers.
#[allow(clippy::needless_pass_by_value, reason = "the signature of a function")]
fn reading_column(rows: Value, index: usize) -> Result<Vec<Value>, Error> {
    let mut texts = Vec::new();
    for row in rows.try_iter()? {
        let cell = row.get_attr("cells")?.get_item_by_index(index).unwrap_or(Value::UNDEFINED);
        let is_head = row.get_attr("is_head")?.is_true();
        let shown = if is_head || cell.is_undefined() { None } else { at(&cell, "shown")? };
        texts.push(shown.unwrap_or_default());
    }
    Ok(aligned(&texts))
}

/// `used(groups, "floor")`: whether any row has something there.
#[allow(clippy::needless_pass_by_value, reason = "the signature of a function")]
fn used(groups: Value, path: &str) -> Result<bool, Error> {
    for row in rows_of(&groups)? {
        if at(&row, path)?.is_some_and(|text| !text.is_empty()) {
            return Ok(true);
        }
    }
    Ok(false)
}

/// Whether a text is a number, perhaps with a sign before it.
fn is_number(text: &str) -> bool {
    let before = text.chars().take_while(|c| !c.is_ascii_alphanumeric()).count();
    before <= 2 && text.chars().nth(before).is_some_and(|c| c.is_ascii_digit())
}

/// How many figures stand after the point; none where there is no point.
fn places(text: &str) -> Option<usize> {
    text.rsplit_once('.').map(|(_, after)| after.chars().count())
}

fn aligned(texts: &[String]) -> Vec<Value> {
    /// The style sheet has a class for so many.
    const MOST: usize = 9;
    let deepest = texts.iter().filter(|text| is_number(text)).filter_map(|text| places(text)).max();
    let pad = |text: &str| match (deepest, places(text)) {
        (Some(deepest), None) if is_number(text) => format!(" p{}", deepest.min(MOST)),
        (Some(deepest), Some(have)) if is_number(text) && have < deepest => {
            format!(" d{}", (deepest - have).min(MOST))
        }
        _ => String::new(),
    };
    texts.iter().map(|text| context! { shown => figures(text), pad => pad(text) }).collect()
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::compose::{ComposeError, Templates};

    fn fill(template: &str, values: &Value) -> Result<String, ComposeError> {
        let folder = tempfile::tempdir().unwrap();
        std::fs::write(folder.path().join("t.html"), template).unwrap();
        Templates::with_folder(folder.path())?.fill("t.html", &values).map(|main| main.text)
    }

    #[test]
    fn every_value_is_written_as_text() {
        let values =
            context! { text => "</td><script>'\"&", n => -3, nothing => (), map => context! { a => 1 } };
        assert_eq!(
            fill("{{ text }} {{ n }} {{ nothing }}|", &values).unwrap(),
            "&lt;/td&gt;&lt;script&gt;&#39;&quot;&amp; -3 |"
        );
        assert!(fill("{{ map }}", &values).is_err());
        assert!(fill("{{ gone }}", &values).is_err());
    }

    #[test]
    fn a_macro_s_output_is_html_and_its_arguments_are_text() {
        let template = "{% macro f(x) %}<b>{{ x }}</b>{% endmacro %}{{ f(x) }}";
        assert_eq!(fill(template, &context! { x => "<i>" }).unwrap(), "<b>&lt;i&gt;</b>");
    }

    #[test]
    fn figures_keep_the_room_of_the_places_they_lack() {
        let rows = vec!["3.25", "-0.5", "12", "–", "not given"];
        let rows: Vec<Value> = rows.into_iter().map(|v| context! { v }).collect();
        let groups = vec![context! { rows => rows }];
        let template = "{% for c in column(groups, 'v', '–') %}[{{ c.shown }}{{ c.pad }}]{% endfor %}";
        assert_eq!(fill(template, &context! { groups }).unwrap(), "[3.25][−0.5 d1][12 p2][–][not given]");
    }

    #[test]
    fn a_path_that_leads_nowhere_gives_what_stands_for_nothing() {
        let rows = vec![context! { after => () }, context! { after => context! { value => "1" } }];
        let template = "{% for c in column(rows, 'after.value', '–') %}[{{ c.shown }}]{% endfor %}{{ 'used' if used(rows, 'after.value') }}";
        assert_eq!(fill(template, &context! { rows }).unwrap(), "[–][1]used");
    }
}
