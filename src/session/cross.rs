//! What one part of a session says of another: every name must lead somewhere.

use super::Session;
use super::check::VisitRef;
use super::fields::Named;
use super::problem::{Problem, Problems};
use super::read::unknown_name;

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
    comparisons(session, &checks, problems);
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
