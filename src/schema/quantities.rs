//! Numbers with units as JSON Schema: the patterns of what [`crate::quantity::parse_quantity`] reads.

use serde_json::json;

use super::shape::{Form, Shape, any, like, nothing, some_text};
use crate::quantity::{Kind, Unit, units_of};

/// A number as the reader takes it. Hyphen, minus sign and plus; a decimal point; an exponent.
pub(super) const NUMBER: &str = r"[+\u2212-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?";

/// `14:30` (minutes and seconds), `1:02:30`.
const CLOCK: &str = r"[0-9]+(?::[0-9]+)?:[0-9.]+";

/// A quantity of one of these kinds (of any kind where there is none), with its unit.
pub fn quantity(kinds: &[Kind]) -> Shape {
    let says = format!("{}: a number with its unit.{}", words(kinds), units_in_words(kinds));
    like(&format!("^\\s*(?:{})\\s*$", forms(kinds, "").join("|"))).says(&says).named(&name(kinds))
}

/// The same, or a bare number in the unit that the check (or the instrument) gives.
pub fn number_or_quantity(kinds: &[Kind]) -> Shape {
    let says = format!(
        "{}: a number in the unit given for bare numbers, or with its own.{}",
        words(kinds),
        units_in_words(kinds)
    );
    let pattern = format!("^\\s*(?:{})\\s*$", forms(kinds, "?").join("|"));
    Shape::of(json!({"type": ["number", "string"], "pattern": pattern}))
        .says(&says)
        .named(&format!("{}-or-number", name(kinds)))
}

/// A reading: a number, with or without its unit, or one that was struck.
pub fn reading(kinds: &[Kind]) -> Shape {
    struck_or(number_or_quantity(kinds), &format!("reading-of-{}", name(kinds)))
}

/// A reading that needs its unit.
pub fn reading_with_unit(kinds: &[Kind]) -> Shape {
    struck_or(quantity(kinds), &format!("reading-of-{}-with-unit", name(kinds)))
}

fn struck_or(number: Shape, name: &str) -> Shape {
    let struck = Form::new()
        .need("struck", number.clone(), "The reading that was wrong, as it was read.")
        .need("because", some_text(), "Why it does not count. It is printed struck through, with this.")
        .shape();
    any([number, struck])
        .says(
            "What was read, or {struck: 9.5, because: knocked the stand} for a reading that does not count.",
        )
        .named(name)
}

/// A unit by any of its spellings; none at all is a plain number's.
pub fn unit(kinds: &[Kind]) -> Shape {
    let none = if kinds.is_empty() { "|" } else { "" };
    let symbols: Vec<&str> = units(kinds).map(Unit::symbol).filter(|symbol| !symbol.is_empty()).collect();
    like(&format!("^\\s*(?:{}{none})\\s*$", spellings(kinds))).such_as(&symbols)
}

/// What a list of readings may hold where nothing could be read.
pub fn or_hole(reading: Shape) -> Shape {
    any([reading, nothing()])
}

fn units(kinds: &[Kind]) -> Box<dyn Iterator<Item = Unit> + '_> {
    if kinds.is_empty() {
        return Box::new(Unit::all());
    }
    Box::new(kinds.iter().flat_map(|kind| units_of(*kind)))
}

/// Every way in which a quantity of these kinds may be written. `unit_may` is `?` where the unit may be left out.
fn forms(kinds: &[Kind], unit_may: &str) -> Vec<String> {
    let allows = |kind| kinds.is_empty() || kinds.contains(&kind);
    let mut forms = vec![format!("{NUMBER}\\s*(?:{}){unit_may}", spellings(kinds))];
    if allows(Kind::Time) {
        forms.push(CLOCK.to_owned());
    }
    if allows(Kind::Angle) {
        let length = format!("{NUMBER}\\s*(?:{})", spellings(&[Kind::Length]));
        forms.push(format!("{length}\\s* over \\s*{length}"));
    }
    forms
}

/// Every spelling of every unit, as alternatives of a pattern.
fn spellings(kinds: &[Kind]) -> String {
    let mut all: Vec<&str> = Vec::new();
    for (spelling, unit) in Unit::spellings() {
        let wanted = kinds.is_empty() || kinds.contains(&unit.kind());
        if wanted && !spelling.is_empty() && !all.contains(&spelling) {
            all.push(spelling);
        }
    }
    all.iter().map(|spelling| escaped(spelling)).collect::<Vec<_>>().join("|")
}

/// A text as a pattern of itself: the syntax characters of ECMA-262 with a backslash.
fn escaped(text: &str) -> String {
    let mut pattern = String::new();
    for letter in text.chars() {
        if r"^$\.*+?()[]{}|/".contains(letter) {
            pattern.push('\\');
        }
        pattern.push(letter);
    }
    pattern
}

/// "rotational-speed-or-velocity"; "quantity" for any.
fn name(kinds: &[Kind]) -> String {
    if kinds.is_empty() {
        return "quantity".to_owned();
    }
    let bare = |kind: &Kind| kind.words().split_once(' ').map_or("", |(_, name)| name).replace(' ', "-");
    kinds.iter().map(bare).collect::<Vec<_>>().join("-or-")
}

fn words(kinds: &[Kind]) -> String {
    if kinds.is_empty() {
        return "A quantity".to_owned();
    }
    let text = kinds.iter().map(|kind| kind.words()).collect::<Vec<_>>().join(" or ");
    text.replacen('a', "A", 1)
}

fn units_in_words(kinds: &[Kind]) -> String {
    if kinds.is_empty() {
        return String::new();
    }
    let symbols: Vec<&str> = units(kinds).map(Unit::symbol).collect();
    format!(" Units: {}.", symbols.join(", "))
}

/// An angle round a turn in bare degrees, 0 to 360.
pub fn degrees() -> Shape {
    Shape::of(json!({
        "type": ["number", "string"],
        "minimum": 0,
        "maximum": 360,
        "pattern": format!("^\\s*{NUMBER}\\s*°*(?:deg)*\\s*$"),
    }))
}
