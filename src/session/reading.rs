//! One reading: a number as it was typed, or struck with its reason.

use std::sync::Arc;

use super::fields::{Fields, list_of, place, quantity_of};
use super::problem::{Place, Problem, Problems, SourceFile};
use super::tree::{Node, Value};
use crate::quantity::{Kind, Quantity, Unit};

/// A reading.
#[derive(Clone, Debug)]
pub struct Reading {
    /// What was read, in the unit it was written in.
    pub quantity: Quantity,
    /// As it was typed.
    pub text: String,
    /// Why it was struck, where it was: it is printed and left out of the analysis.
    pub struck: Option<String>,
    /// Where it stands.
    pub place: Place,
}

impl Reading {
    /// Whether it counts.
    pub fn counts(&self) -> bool {
        self.struck.is_none()
    }
}

/// A node as a reading: a number, a quantity, or `{struck: …, because: …}`.
pub fn reading_of(
    node: &Node,
    source: &Arc<SourceFile>,
    kinds: &[Kind],
    bare: Option<Unit>,
    problems: &mut Problems,
) -> Option<Reading> {
    let (number, struck) = match &node.value {
        Value::Map(_) => {
            let mut fields = Fields::of(node, source, "a struck reading", problems)?;
            let number = fields.need("struck", "9.5", problems);
            let because = fields.need_text("because", "knocked the stand", problems);
            fields.finish(problems);
            (number?, Some(because?))
        }
        Value::Nothing => {
            problems.push(
                Problem::error("a reading is missing", place(source, node))
                    .expected("expected a number")
                    .help("write the number read; leave the place out of the list if none was read"),
            );
            return None;
        }
        Value::Scalar(_) => (node.clone(), None),
        Value::List(_) => {
            problems.push(
                Problem::error("expected one reading, found a list", place(source, node))
                    .expected("expected a number")
                    .help("write the readings side by side: [0.0, 0.5, 1.0]"),
            );
            return None;
        }
    };
    let quantity = quantity_of(&number, source, kinds, bare, problems)?;
    let text = match &number.value {
        Value::Scalar(scalar) => scalar.text.clone(),
        _ => String::new(),
    };
    Some(Reading { quantity, text, struck, place: place(source, node) })
}

/// A node as a list of readings, at least one.
pub fn readings_of(
    node: &Node,
    source: &Arc<SourceFile>,
    what: &str,
    kinds: &[Kind],
    bare: Option<Unit>,
    problems: &mut Problems,
) -> Option<Vec<Reading>> {
    let items = list_of(node, source, what, problems)?;
    if items.is_empty() {
        problems.push(
            Problem::error(format!("{what} is an empty list"), place(source, node))
                .expected("expected readings")
                .help("write what was read, or leave the field out until it has been"),
        );
        return None;
    }
    let wanted = items.len();
    let read: Vec<Reading> =
        items.iter().filter_map(|item| reading_of(item, source, kinds, bare, problems)).collect();
    (read.len() == wanted).then_some(read)
}
