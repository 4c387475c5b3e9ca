//! What one part of a session says of another: every name must lead somewhere.

use super::check::VisitRef;
use super::fields::Named;
use super::problem::{Problem, Problems};
use super::read::unknown_name;
use super::{ConditionValue, Session};
use crate::quantity::{Difference, Kind};

/// Checks every reference between the parts. Names that were written count as known even where
/// their own entry is faulty, so that one mistake makes one message.
pub(super) fn check(
    session: &Session,
    check_names: &[String],
    instrument_names: &[String],
    problems: &mut Problems,
) {
    let checks: Vec<&str> = check_names.iter().map(String::as_str).collect();
    let instruments: Vec<&str> = instrument_names.iter().map(String::as_str).collect();
    for check in &session.checks {
        instrument(check.instrument.as_ref(), &instruments, problems);
    }
    for visit in &session.visits {
        for readings in &visit.readings {
            if !checks.contains(&readings.check.as_str()) {
                problems.push(unknown_name("check", &readings.check, &checks, readings.place.clone()));
            }
            instrument(readings.instrument.as_ref(), &instruments, problems);
        }
        for photo in &visit.photos {
            if let Some(named) = &photo.check
                && !checks.contains(&named.id.as_str())
            {
                problems.push(unknown_name("check", &named.id, &checks, named.place.clone()));
            }
        }
    }
    tolerances(session, problems);
    comparisons(session, &checks, problems);
}

/// A tolerance must be of the kind of the conditions that it is for: 5 says nothing of 66 °F.
fn tolerances(session: &Session, problems: &mut Problems) {
    for check in &session.checks {
        for (name, tolerance) in &check.about_the_same {
            let own = session.visits.iter().filter_map(|visit| visit.readings_of(&check.id));
            let conditions = session.visits.iter().flat_map(|visit| &visit.conditions);
            let mut conditions =
                conditions.chain(own.flat_map(|readings| &readings.conditions)).filter(|c| c.name == *name);
            let unfit = conditions.find(|condition| match condition.value {
                ConditionValue::Quantity(value) => {
                    Difference::new(tolerance.value(), tolerance.unit()).to(value.unit()).is_err()
                }
                ConditionValue::Number(_) => tolerance.unit().kind() != Kind::Number,
                ConditionValue::Text(_) => false,
            });
            if let Some(condition) = unfit {
                problems.push(
                    Problem::error(
                        format!(
                            "'about_the_same' allows '{name}' {tolerance}, but a visit has it as {}",
                            condition.text
                        ),
                        check.place.clone(),
                    )
                    .expected("expected a tolerance of the same kind as the condition")
                    .help("write both with a unit, such as 5 °F for 66 °F, or both as bare numbers"),
                );
            }
        }
    }
}

fn instrument(named: Option<&Named>, known: &[&str], problems: &mut Problems) {
    if let Some(named) = named
        && !known.contains(&named.id.as_str())
    {
        problems.push(unknown_name("instrument", &named.id, known, named.place.clone()));
    }
}

fn comparisons(session: &Session, checks: &[&str], problems: &mut Problems) {
    for comparison in &session.compare {
        let (before, after) = (&comparison.before, &comparison.after);
        if let Some(place) = &after.place
            && (&before.session, &before.visit) == (&after.session, &after.visit)
        {
            problems.push(
                Problem::error("a visit compared with itself", place.clone())
                    .expected("expected another visit than 'before' names")
                    .help("name two visits, such as before: as-found, after: as-left"),
            );
        }
        for side in [before, after] {
            visit(session, side, problems);
        }
        for named in comparison.checks.iter().flatten() {
            if !checks.contains(&named.id.as_str()) {
                problems.push(unknown_name("check", &named.id, checks, named.place.clone()));
            }
        }
    }
}

fn visit(session: &Session, side: &VisitRef, problems: &mut Problems) {
    let Some(place) = &side.place else {
        return;
    };
    let there = match &side.session {
        None => Some(session),
        Some(path) => session.other(path),
    };
    let Some(there) = there else {
        return;
    };
    if there.visit(&side.visit).is_none() {
        let known: Vec<&str> = there.visits.iter().map(|visit| visit.id.as_str()).collect();
        problems.push(unknown_name("visit", &side.visit, &known, place.clone()));
    }
}
