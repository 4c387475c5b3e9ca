//! Whether a comparison is fair: what was the same, what was not, what nobody wrote down.

use crate::findings::{Differs, VisitFindings};
use crate::quantity::{Difference, Quantity};
use crate::session::{Check, Condition, ConditionValue, Session, Visit};

const NOT_RECORDED: &str = "not recorded";

/// One side's conditions, by name, in the order written.
type Conditions = Vec<(String, ConditionValue, String)>;

/// One side of a comparison of one check.
#[derive(Clone, Copy, Debug)]
pub struct Sitting<'a> {
    /// The session it belongs to.
    pub session: &'a Session,
    /// The check there.
    pub check: &'a Check,
    /// The visit.
    pub visit: &'a Visit,
    /// What was found.
    pub found: &'a VisitFindings,
}

/// Everything that was not the same, and whether what must match did: what the check says, and what
/// its measure says of its own set-up (`deciding`).
pub fn compare(before: Sitting<'_>, after: Sitting<'_>, deciding: &[&str]) -> (Vec<Differs>, bool) {
    between(after.check, &Circumstances::of(before), &Circumstances::of(after), deciding)
}

/// The conditions of one check at one visit, kept without the session that they were written in.
#[derive(Clone, Debug)]
pub struct Circumstances(Conditions);

impl Circumstances {
    /// Those of a side.
    pub fn of(side: Sitting<'_>) -> Self {
        Self(conditions(side))
    }
}

/// The same of kept conditions, by what the later side's check says.
pub fn between(
    check: &Check,
    Circumstances(left): &Circumstances,
    Circumstances(right): &Circumstances,
    deciding: &[&str],
) -> (Vec<Differs>, bool) {
    let mut names: Vec<&str> = Vec::new();
    let written = left.iter().chain(right).map(|(name, ..)| name.as_str());
    for name in check.must_match.iter().map(String::as_str).chain(written) {
        if !names.contains(&name) {
            names.push(name);
        }
    }
    let mut differs = Vec::new();
    for name in names {
        let decides = check.must_match.iter().any(|must| must == name) || deciding.contains(&name);
        let find = |side: &Conditions| side.iter().find(|(known, ..)| known == name).cloned();
        let (a, b) = (find(left), find(right));
        let tolerance = check.about_the_same.iter().find(|(known, _)| known == name).map(|(_, value)| *value);
        let same = match (&a, &b) {
            (Some(a), Some(b)) => matches(&a.1, &b.1, tolerance),
            // Not written down is not the same, least of all where it decides.
            _ => false,
        };
        if !same {
            let text = |side: Option<(String, ConditionValue, String)>| {
                side.map_or_else(|| NOT_RECORDED.to_owned(), |(_, _, text)| text)
            };
            differs.push(Differs { condition: name.to_owned(), before: text(a), after: text(b), decides });
        }
    }
    let fair = !differs.iter().any(|difference| difference.decides);
    (differs, fair)
}

/// The visit's conditions, the check's in their place or beside them, then how the check was
/// made: instrument, machine, and what the measure says of its set-up.
fn conditions(side: Sitting<'_>) -> Conditions {
    let own = side
        .visit
        .readings_of(&side.check.id)
        .map(|readings| readings.conditions.as_slice())
        .unwrap_or_default();
    let mut list: Conditions = Vec::new();
    let mut put = |name: &str, value: ConditionValue, text: String| match list
        .iter_mut()
        .find(|(known, ..)| known == name)
    {
        Some(entry) => *entry = (name.to_owned(), value, text),
        None => list.push((name.to_owned(), value, text)),
    };
    for Condition { name, value, text } in side.visit.conditions.iter().chain(own) {
        put(name, value.clone(), text.clone());
    }
    if let Some(machine) = side.session.machine(&side.visit.machine) {
        put("machine", ConditionValue::Text(machine.name.clone()), machine.name.clone());
    }
    for (name, value) in &side.found.set_up {
        put(name, ConditionValue::Text(value.clone()), value.clone());
    }
    list
}

fn matches(a: &ConditionValue, b: &ConditionValue, tolerance: Option<Quantity>) -> bool {
    match (a, b) {
        (ConditionValue::Text(a), ConditionValue::Text(b)) => {
            a.trim().to_lowercase() == b.trim().to_lowercase()
        }
        (ConditionValue::Number(a), ConditionValue::Number(b)) => {
            let room = tolerance.map_or(0.0, Quantity::value);
            near(a - b, room, *a)
        }
        (ConditionValue::Quantity(a), ConditionValue::Quantity(b)) => {
            let Ok(difference) = *a - *b else {
                return false;
            };
            let room = tolerance
                .map(|tolerance| Difference::new(tolerance.value(), tolerance.unit()).to(difference.unit()));
            match room {
                None => near(difference.value(), 0.0, a.value()),
                Some(Ok(room)) => near(difference.value(), room, a.value()),
                Some(Err(_)) => false,
            }
        }
        _ => false,
    }
}

/// Within the room, give or take what the binary numbers cost.
fn near(difference: f64, room: f64, size: f64) -> bool {
    difference.abs() <= room.abs() + 1e-9 * size.abs().max(room.abs())
}
