//! The title block, machines and their coverage, visits, the diary, instruments, photographs.

use super::super::document::{
    CoverageFacts, DateShown, DiaryEntry, DocumentFacts, Fact, InstrumentFacts, MachineFacts, PaperFacts,
    Photo, State, VisitFacts,
};
use super::{Sources, file_asset};
use crate::evidence::Positions;
use crate::findings::{CoverageWindow, Repeats};
use crate::quantity::{Difference, significant};
use crate::session::{self, Bound, Date, Instrument, Machine, Paper, Session, days_between};

/// A state for the templates.
pub(in crate::compose) fn state(state: session::State) -> State {
    match state {
        session::State::AsFound => State::AsFound,
        session::State::AsLeft => State::AsLeft,
        session::State::Reference => State::Reference,
        session::State::Baseline => State::Baseline,
    }
}

fn shown(date: Date) -> String {
    DateShown::from(date).text
}

fn fact(label: &str, value: impl Into<String>) -> Fact {
    Fact { label: label.to_owned(), value: value.into() }
}

/// The paper as the templates name it.
pub(in crate::compose) fn paper(session: &Session) -> &'static str {
    paper_name(session.paper)
}

/// The same of a paper alone.
pub(in crate::compose) fn paper_name(paper: Paper) -> &'static str {
    match paper {
        Paper::UsLetter => "us-letter",
        Paper::A4 => "a4",
    }
}

/// The last day of the session: the latest visit or event.
pub(in crate::compose) fn last_day(session: &Session) -> Option<Date> {
    let visits = session.visits.iter().map(|visit| visit.date);
    let events = session.events.iter().map(|event| event.on);
    visits.chain(events).max()
}

/// What is said as a document of a paper that is made from a session.
pub(in crate::compose) fn beside(
    session: &Session,
    (title, description): (String, String),
    number: &str,
    date: Date,
    program: &str,
) -> PaperFacts {
    PaperFacts {
        title,
        description,
        number: number.to_owned(),
        author: session.prepared_by.clone(),
        date: DateShown::from(date),
        paper: paper(session).to_owned(),
        language: "en".to_owned(),
        program: program.to_owned(),
    }
}

pub(super) fn document(sources: Sources<'_>) -> DocumentFacts {
    let session = sources.session;
    let tested: Vec<&Machine> = session
        .machines
        .iter()
        .filter(|machine| session.visits.iter().any(|visit| visit.machine == machine.id))
        .collect();
    let join = |pick: fn(&Machine) -> Option<String>| {
        let list: Vec<String> = tested.iter().filter_map(|machine| pick(machine)).collect();
        (!list.is_empty()).then(|| list.join(", "))
    };
    let named = |machine: &Machine| match &machine.kind {
        Some(kind) => format!("{}, {kind}", machine.name),
        None => machine.name.clone(),
    };
    let machine = tested.iter().map(|machine| named(machine)).collect::<Vec<_>>().join("; ");
    DocumentFacts {
        title: session.title.clone(),
        kind: "Test report".to_owned(),
        question: session.question.clone(),
        ask: session.ask.clone(),
        prepared_by: session.prepared_by.clone(),
        approved_by: None,
        owner: None,
        revision: None,
        number: sources.number.to_owned(),
        date: DateShown::from(last_day(session).unwrap_or_default()),
        paper: paper(session).to_owned(),
        language: "en".to_owned(),
        program: sources.program.to_owned(),
        subject: machine.clone(),
        machine,
        serial: join(|machine| machine.serial.clone()),
        publication: sources.publication.public.then(|| WITHHELD.to_owned()),
    }
}

/// Said of a report that is a copy for publication.
const WITHHELD: &str = "A copy for publication. Withheld: people's names and addresses, serial numbers, sellers, \
                        order numbers, prices, and where photographs were taken. The document number is that of the \
                        session itself.";

pub(super) fn machines(sources: Sources<'_>) -> Vec<MachineFacts> {
    sources
        .session
        .machines
        .iter()
        .map(|machine| {
            let mut facts = Vec::new();
            let mut put = |label: &str, value: &Option<String>| {
                facts.extend(value.as_ref().map(|value| fact(label, value)));
            };
            put("Kind", &machine.kind);
            put("Serial", &machine.serial);
            put("Bought", &machine.bought.map(shown));
            put("Seller", &machine.seller);
            put("Order", &machine.order);
            put("Price", &machine.price);
            let windows = sources.findings.coverage.iter().filter(|window| window.machine == machine.id);
            MachineFacts {
                name: machine.name.clone(),
                facts,
                coverage: windows.map(|window| coverage(sources.session, window)).collect(),
            }
        })
        .collect()
}

fn days(number: i64) -> String {
    if number == 1 { "1 day".to_owned() } else { format!("{number} days") }
}

fn coverage(session: &Session, window: &CoverageWindow) -> CoverageFacts {
    let visits = session.visits.iter().filter(|visit| visit.machine == window.machine);
    let standing: Vec<String> = visits
        .map(|visit| {
            let left = days_between(visit.date, window.until);
            let title = &visit.title;
            if visit.date < window.from {
                format!("{title}: not yet begun")
            } else if left >= 0 {
                format!("{title}: {} left", days(left))
            } else {
                format!("{title}: over for {}", days(-left))
            }
        })
        .collect();
    CoverageFacts {
        name: window.name.clone(),
        lasts: window.lasts.clone(),
        until: shown(window.until),
        reference: window.reference.clone().unwrap_or_default(),
        standing: standing.join(" · "),
    }
}

pub(super) fn visits(session: &Session) -> Vec<VisitFacts> {
    session
        .visits
        .iter()
        .map(|visit| VisitFacts {
            title: visit.title.clone(),
            state: state(visit.state),
            date: match visit.time {
                Some(time) => format!("{}, {:02}:{:02}", shown(visit.date), time.hour(), time.minute()),
                None => shown(visit.date),
            },
            by: visit.by.clone().unwrap_or_default(),
            conditions: visit.conditions.iter().map(|c| fact(&c.name, &c.text)).collect(),
        })
        .collect()
}

/// Purchase, visits, events and ends of coverage, by date.
pub(super) fn diary(sources: Sources<'_>) -> Vec<DiaryEntry> {
    let session = sources.session;
    let windows = &sources.findings.coverage;
    let mut days: Vec<(Date, u8, String, Option<State>)> = Vec::new();
    for machine in &session.machines {
        days.extend(machine.bought.map(|on| (on, 0, format!("Bought: {}", machine.name), None)));
    }
    for visit in &session.visits {
        days.push((visit.date, 1, format!("Visit: {}", visit.title), Some(state(visit.state))));
    }
    for event in &session.events {
        days.push((event.on, 2, event.what.clone(), None));
    }
    let last = last_day(session);
    for window in windows.iter().filter(|window| last.is_some_and(|last| window.until <= last)) {
        days.push((window.until, 3, format!("Last day of: {}", window.name), None));
    }
    days.sort_by_key(|day| (day.0, day.1));
    let mut before = None;
    days.into_iter()
        .map(|(on, _, what, state)| {
            let since = before.map(|before| days_between(before, on));
            let last_told = before.replace(on);
            DiaryEntry {
                date: shown(on),
                what,
                state,
                days_since: since,
                coverage: standing_on(windows, on, last_told),
            }
        })
        .collect()
}

/// How the coverage stood on a day. A window that was over is named on the first day after it only.
fn standing_on(windows: &[CoverageWindow], on: Date, last_told: Option<Date>) -> String {
    let mut told = false;
    let begun = windows.iter().filter(|window| on >= window.from);
    let parts: Vec<String> = begun
        .filter_map(|window| {
            let left = days_between(on, window.until);
            if left < 0 {
                let news = last_told.is_none_or(|last| last <= window.until);
                return news.then(|| format!("{}: over", window.name));
            }
            // The first says what the numbers are; those after it need not.
            let number =
                if std::mem::replace(&mut told, true) { left.to_string() } else { days(left) + " left" };
            Some(format!("{}: {number}", window.name))
        })
        .collect();
    parts.join(" · ")
}

pub(super) fn instruments(sources: Sources<'_>) -> Vec<InstrumentFacts> {
    let session = sources.session;
    session
        .instruments
        .iter()
        .filter_map(|instrument| {
            let used_in: Vec<String> = session
                .checks
                .iter()
                .filter(|check| {
                    session.visits.iter().any(|visit| {
                        visit.readings_of(&check.id).is_some_and(|readings| {
                            session
                                .instrument_used(check, readings)
                                .is_some_and(|used| used.id == instrument.id)
                        })
                    })
                })
                .map(|check| check.title.clone())
                .collect();
            let repeats = sources.findings.repeats.iter().find(|repeats| repeats.instrument == instrument.id);
            (!used_in.is_empty()).then(|| instrument_facts(instrument, repeats, used_in))
        })
        .collect()
}

fn plus_minus(difference: Difference) -> String {
    format!("± {difference}")
}

fn instrument_facts(
    instrument: &Instrument,
    repeats: Option<&Repeats>,
    used_in: Vec<String>,
) -> InstrumentFacts {
    let mut facts = Vec::new();
    if let Some(serial) = &instrument.serial {
        facts.push(fact("Serial no.", serial.clone()));
    }
    if let Some(due) = instrument.calibration_due {
        facts.push(fact("Calibration due", shown(due)));
    }
    if let Some(angle) = instrument.tip_angle {
        facts.push(fact("Tip angle", angle.to_string()));
    }
    if let Some(correction) = instrument.correction.filter(|correction| correction.value() != 0.0) {
        facts.push(fact("Correction", correction.to_string()));
    }
    if let Some(emissivity) = instrument.emissivity_set {
        facts.push(fact("Emissivity set", significant(emissivity, 3)));
    }
    InstrumentFacts {
        name: instrument.name.clone(),
        resolution: instrument.resolution.map_or_else(String::new, |step| step.to_string()),
        accuracy: accuracy(instrument),
        calibrated: instrument.calibrated.map_or_else(String::new, shown),
        used_in,
        facts,
        repeatability: repeats.map_or_else(String::new, repeatability),
    }
}

/// Its certificate, or else what is stated; empty where nothing is.
pub(in crate::compose) fn accuracy(instrument: &Instrument) -> String {
    let stated: Vec<String> = instrument
        .accuracy
        .iter()
        .map(|bound| match bound {
            Bound::Absolute(half) => plus_minus(*half),
            Bound::OfReading(share) => format!("± {} % of reading", significant(share * 100.0, 3)),
        })
        .collect();
    match &instrument.certificate {
        Some(certificate) => {
            format!("U = {}, k = {} (certificate)", certificate.expanded, significant(certificate.k, 3))
        }
        None if stated.len() > 1 => format!("{}, the larger", stated.join(" or ")),
        None => stated.join(""),
    }
}

/// "0.24 thou from 10 readings".
fn repeatability(repeats: &Repeats) -> String {
    format!("{} {} from {} readings", significant(repeats.deviation, 2), repeats.unit, repeats.n)
}

pub(super) fn photos(sources: Sources<'_>) -> Vec<Photo> {
    let session = sources.session;
    let shows_positions = sources.publication.positions == Positions::Shown;
    session
        .visits
        .iter()
        .flat_map(|visit| {
            visit.photos.iter().map(move |photo| {
                let name = photo.file.rsplit('/').next().unwrap_or(&photo.file);
                let caption = if photo.caption.is_empty() { name } else { &photo.caption };
                let position = photo.position.filter(|_| shows_positions);
                let outside = photo.dated_outside(visit);
                Photo {
                    path: file_asset(&photo.file),
                    alt: format!("Photograph: {caption}"),
                    caption: caption.to_owned(),
                    date: photo
                        .taken
                        .map_or_else(|| shown(visit.date), |taken| kept_together(taken.to_string())),
                    position: position.map_or_else(String::new, |place| kept_together(place.to_string())),
                    remark: outside.map_or_else(String::new, |_| {
                        format!(
                            "Its date is not that of the visit, {}; clocks in cameras are often wrong.",
                            shown(visit.date)
                        )
                    }),
                    visit: session.visit_title(&visit.id).to_owned(),
                    state: state(visit.state),
                }
            })
        })
        .collect()
}

/// A text that no line breaks but after a comma.
fn kept_together(text: String) -> String {
    text.replace(' ', "\u{a0}").replace(",\u{a0}", ", ")
}
