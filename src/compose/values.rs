//! A template's values as Typst literals.

use minijinja::value::ValueKind;
use minijinja::{Error, ErrorKind, Output, Value};

use super::literal;
use crate::notes::together;
use crate::typeset::fonts;

/// Writes a value where a template put it: marked safe, as it is; else as a Typst literal.
pub(super) fn write(out: &mut Output, value: &Value) -> Result<(), Error> {
    write_literal(out, value, Position::Code)
}

/// Where a value is written: as the template put it, or inside another value's literal.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Position {
    Code,
    Inside,
}

/// Writes a value as a Typst literal.
fn write_literal(out: &mut Output, value: &Value, position: Position) -> Result<(), Error> {
    if value.is_safe() {
        let text = value.as_str().unwrap_or_default();
        return match position {
            Position::Code => Ok(out.write_str(text)?),
            Position::Inside => Ok(write!(out, "[{text}]")?),
        };
    }
    match value.kind() {
        ValueKind::None => out.write_str("none")?,
        ValueKind::Bool => write!(out, "{}", value.is_true())?,
        ValueKind::Number => write_number(out, value)?,
        ValueKind::String => {
            let printable = fonts::printable(value.as_str().unwrap_or_default());
            out.write_str(&literal(&together(&printable)))?;
        }
        ValueKind::Seq | ValueKind::Iterable => {
            out.write_str("(")?;
            for item in value.try_iter()? {
                write_literal(out, &item, Position::Inside)?;
                out.write_str(", ")?;
            }
            out.write_str(")")?;
        }
        ValueKind::Map if value.len() == Some(0) => out.write_str("(:)")?,
        ValueKind::Map => {
            out.write_str("(")?;
            for key in value.try_iter()? {
                write!(out, "{}: ", literal(&key.to_string()))?;
                write_literal(out, &value.get_item(&key)?, Position::Inside)?;
                out.write_str(", ")?;
            }
            out.write_str(")")?;
        }
        other => {
            return Err(Error::new(ErrorKind::BadEscape, format!("a {other} cannot be written as Typst")));
        }
    }
    Ok(())
}

fn write_number(out: &mut Output, value: &Value) -> Result<(), Error> {
    let text = value.to_string();
    match text.parse::<f64>() {
        // A minus after `#` would be read as text.
        Ok(number) if number.is_finite() && number < 0.0 => write!(out, "({text})")?,
        Ok(number) if number.is_finite() => out.write_str(&text)?,
        _ => {
            return Err(Error::new(
                ErrorKind::BadEscape,
                format!("{text} is not a number that Typst can hold"),
            ));
        }
    }
    Ok(())
}

/// `{{ text | exact }}`: a string literal of just this text, also where no font could show it. For
/// what is never seen on a page: names of attachments, paths.
#[allow(clippy::needless_pass_by_value, reason = "the signature of a filter")]
pub(super) fn exact(text: String) -> Value {
    Value::from_safe_string(literal(&text))
}

/// `{{ name | attachment_name }}`: like `exact`, but with the backslash, which Typst refuses in a
/// path, written as `%5C`.
#[allow(clippy::needless_pass_by_value, reason = "the signature of a filter")]
pub(super) fn attachment_name(name: String) -> Value {
    Value::from_safe_string(literal(&name.replace('\\', "%5C")))
}
