//! From a session and what was found so far to blank reading sheets.

mod needed;
mod page;
mod recordings;

pub use page::{Sheet, SheetCondition, SheetPages, SheetRecording, SheetRow, SheetTable};

use super::document::{DateShown, Fact};
use super::report::{facts, short_markup, what_words};
use crate::analysis::blank::{self, Blank, Slot};
use crate::analysis::{Measure, readings_needed};
use crate::findings::{CheckFindings, Findings, VisitFindings, sentences};
use crate::registry::registered;
use crate::session::{Check, Condition, Date, Instrument, LimitKind, Machine, Session, Visit};

/// Lines for recordings where nobody knows yet how many there will be.
const RECORDINGS: usize = 4;

/// What the sheets are made from.
#[derive(Clone, Copy, Debug)]
pub struct Sources<'a> {
    /// The session.
    pub session: &'a Session,
    /// What was found so far.
    pub findings: &'a Findings,
    /// The checks wanted; all where there are none.
    pub checks: &'a [String],
    /// The coming visit's title.
    pub visit: &'a str,
    /// The number of the session's state.
    pub number: &'a str,
    /// The program's name and version.
    pub program: &'a str,
    /// The document's date.
    pub date: Date,
}

/// The document's date: that of the last visit or event. A PDF must have one, so a session without any
/// day in it has the first of the century.
pub fn date(session: &Session) -> Date {
    const NO_DAY: Date = Date::constant(2000, 1, 1);
    facts::last_day(session).unwrap_or(NO_DAY)
}

/// The sheets' values.
pub fn sheets(sources: Sources<'_>) -> SheetPages {
    let session = sources.session;
    let wanted = |id: &String| sources.checks.is_empty() || sources.checks.contains(id);
    SheetPages {
        document: facts::beside(
            session,
            (
                format!("Reading sheets: {}", session.title),
                format!("Blank reading sheets, laid out from {}", sources.number),
            ),
            sources.number,
            sources.date,
            sources.program,
        ),
        sheets: sources
            .findings
            .checks
            .iter()
            .filter(|found| wanted(&found.check))
            .filter_map(|found| sheet(sources, session.check(&found.check)?, found))
            .collect(),
    }
}

fn sheet(sources: Sources<'_>, check: &Check, found: &CheckFindings) -> Option<Sheet> {
    let session = sources.session;
    let measure = registered(found.measure)?.measure;
    let last = found.visits.last();
    let visit = last.and_then(|last| session.visit(&last.visit));
    let readings = visit.and_then(|visit| visit.readings_of(&check.id));
    let instrument = match readings {
        Some(readings) => session.instrument_used(check, readings),
        None => check.instrument.as_ref().and_then(|named| session.instrument(&named.id)),
    };
    let machine = machine(session, visit);
    let mut recordings = readings.map(recordings::recordings).unwrap_or_default();
    let needed = readings_needed::of_check(session, check, found, measure);
    let mut tables = last.map_or_else(|| measure.usual(session, check), |last| measure.blanks(last));
    if let Some((grows, n)) = needed.as_ref().and_then(needed::room) {
        tables = blank::grown(tables, grows, n, measure.order());
    }
    if tables.is_empty() && recordings.is_empty() {
        recordings = vec![SheetRecording { setting: String::new(), last: String::new() }; RECORDINGS];
    }
    Some(Sheet {
        title: found.title.clone(),
        session: session.title.clone(),
        machine: machine.map_or_else(String::new, |machine| machine.name.clone()),
        serial: machine.and_then(|machine| machine.serial.clone()).unwrap_or_default(),
        visit: sources.visit.to_owned(),
        last: visit.map_or_else(String::new, |visit| {
            format!("{}, {}", visit.title, DateShown::from(visit.date).text)
        }),
        instrument: instrument.map_or_else(String::new, |one| one.name.clone()),
        instrument_facts: instrument.map(instrument_facts).unwrap_or_default(),
        procedure: check.procedure.as_ref().map(|text| short_markup(&check.id, text)),
        setup: last.map(set_up).unwrap_or_default(),
        conditions: conditions(check, visit),
        cautions: measure.cautions().iter().map(|caution| (*caution).to_owned()).collect(),
        limit: limit(check, found),
        needed: needed.map(|needed| needed::sentences(&needed, measure)).unwrap_or_default(),
        order: order(&tables, measure),
        usual: last.is_none(),
        tables: tables.iter().map(table).collect(),
        recordings,
    })
}

/// The visit's machine; before the first visit, the only one there is.
fn machine<'a>(session: &'a Session, visit: Option<&Visit>) -> Option<&'a Machine> {
    match (visit, session.machines.as_slice()) {
        (Some(visit), _) => session.machine(&visit.machine),
        (None, [only]) => Some(only),
        (None, _) => None,
    }
}

fn fact(label: &str, value: String) -> Fact {
    Fact { label: label.to_owned(), value }
}

fn instrument_facts(instrument: &Instrument) -> Vec<Fact> {
    let known = [
        ("shows to", instrument.resolution.map(|step| step.to_string())),
        ("accuracy", Some(facts::accuracy(instrument)).filter(|text| !text.is_empty())),
        ("serial no.", instrument.serial.clone()),
        ("calibrated", instrument.calibrated.map(|date| DateShown::from(date).text)),
        ("due", instrument.calibration_due.map(|date| DateShown::from(date).text)),
    ];
    known.into_iter().filter_map(|(label, value)| Some(fact(label, value?))).collect()
}

/// How the readings were taken; the instrument has a field of its own.
fn set_up(last: &VisitFindings) -> Vec<Fact> {
    let own = last.set_up.iter().filter(|(name, _)| name != "instrument");
    own.map(|(name, value)| fact(&sentences::capital(name), value.clone())).collect()
}

/// What must match, then what else was written down: the check's own in place of the visit's.
fn conditions(check: &Check, visit: Option<&Visit>) -> Vec<SheetCondition> {
    let own = visit.and_then(|visit| visit.readings_of(&check.id));
    let own = own.map(|readings| readings.conditions.as_slice()).unwrap_or_default();
    let of_visit = visit.map(|visit| visit.conditions.as_slice()).unwrap_or_default();
    let written = || own.iter().chain(of_visit);
    let rooms = check.about_the_same.iter().map(|(name, _)| name);
    let names =
        check.must_match.iter().chain(of_visit.iter().chain(own).map(|c: &Condition| &c.name)).chain(rooms);
    let mut list: Vec<SheetCondition> = Vec::new();
    for name in names {
        if list.iter().any(|known| known.name == *name) {
            continue;
        }
        let room = check.about_the_same.iter().find(|(known, _)| known == name);
        list.push(SheetCondition {
            name: name.clone(),
            last: written().find(|c| c.name == *name).map_or_else(String::new, |c| c.text.clone()),
            must_match: check.must_match.contains(name),
            room: room.map_or_else(String::new, |(_, room)| format!("±\u{a0}{room}")),
        });
    }
    list
}

/// "Run-out (TIR): at most 1 thou (Owner's guide, p. 9)."
fn limit(check: &Check, found: &CheckFindings) -> String {
    let Some(limit) = &check.limit else { return String::new() };
    let bound = match (&limit.typed, limit.kind) {
        (Some(typed), _) => format!("at most {typed}"),
        (None, LimitKind::AtMost(most)) => format!("at most {most}"),
        (None, LimitKind::AtLeast(least)) => format!("at least {least}"),
        (None, LimitKind::Between(low, high)) => format!("{low} to {high}"),
    };
    let source = limit.source.as_ref().map_or_else(String::new, |source| format!(" ({source})"));
    format!("{}: {bound}{source}.", what_words(found.main))
}

/// In which order the places are read; in one row there is only one.
fn order(tables: &[Blank], measure: &dyn Measure) -> String {
    match tables {
        [] => String::new(),
        [only] if only.rows.len() == 1 => "In the order of the small numbers.".to_owned(),
        _ => measure.order().words().to_owned(),
    }
}

fn table(blank: &Blank) -> SheetTable {
    let (name_head, heads) = blank
        .columns
        .split_first()
        .map_or((String::new(), Vec::new()), |(first, rest)| (first.clone(), rest.to_vec()));
    let slot = |slot: &Slot| match slot {
        Slot::Read(number) => Some(*number),
        Slot::Hole => None,
    };
    let row = |(name, cells): &(String, Vec<Slot>)| SheetRow {
        name: name.clone(),
        cells: cells.iter().map(slot).collect(),
    };
    SheetTable {
        title: blank.at.clone(),
        unit: blank.unit.symbol().to_owned(),
        name_head,
        heads,
        rows: blank.rows.iter().map(row).collect(),
    }
}
