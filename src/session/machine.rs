//! Machines, what covers them, and the claim's diary.

use super::date::{Lasts, date_of, written_out};
use super::fields::Fields;
use super::problem::{Place, Problem, Problems};
use super::read::Reader;
use jiff::civil::Date;

/// A promise that runs for a time after the machine was bought.
#[derive(Clone, Debug, PartialEq)]
pub struct Coverage {
    /// What it is called.
    pub name: String,
    /// How long it lasts.
    pub lasts: Lasts,
    /// Where that is written.
    pub reference: Option<String>,
}

/// A machine under test.
#[derive(Clone, Debug)]
pub struct Machine {
    /// Its id in the session.
    pub id: String,
    /// Maker and model as the plate says.
    pub name: String,
    /// What it is: a cabinet saw.
    pub kind: Option<String>,
    /// The serial number.
    pub serial: Option<String>,
    /// The day it was bought.
    pub bought: Option<Date>,
    /// Who sold it.
    pub seller: Option<String>,
    /// The order's number.
    pub order: Option<String>,
    /// What was paid, as it was written.
    pub price: Option<String>,
    /// What covers it, in the order written.
    pub coverage: Vec<Coverage>,
    /// Where it is written.
    pub place: Place,
}

/// A line of the claim's diary.
#[derive(Clone, Debug, PartialEq)]
pub struct Event {
    /// The day.
    pub on: Date,
    /// What happened.
    pub what: String,
    /// A file that shows it, relative to the session folder.
    pub file: Option<String>,
}

impl Machine {
    pub(super) fn read(id: String, mut fields: Fields, problems: &mut Problems) -> Option<Self> {
        let place = fields.place();
        let name = fields.need_text("name", "Marlstone CS-10", problems);
        let bought = fields.date("bought", problems);
        let coverage_node = fields.get("coverage");
        let coverage = coverages(&mut fields, problems);
        if let (Some(node), None) = (&coverage_node, bought) {
            if !fields.written("bought") {
                problems.push(
                    Problem::error("coverage without the day the machine was bought", fields.at(node))
                        .expected("this runs from 'bought'")
                        .help("write the day, for example: bought: 2026-01-20"),
                );
            }
        }
        let machine = Self {
            id,
            name: name.clone().unwrap_or_default(),
            kind: fields.text("kind", problems),
            serial: fields.text("serial", problems),
            bought,
            seller: fields.text("seller", problems),
            order: fields.text("order", problems),
            price: fields.text("price", problems),
            coverage,
            place,
        };
        fields.finish(problems);
        name.map(|_| machine)
    }
}

fn coverages(fields: &mut Fields, problems: &mut Problems) -> Vec<Coverage> {
    let mut coverage = Vec::new();
    for node in fields.list("coverage", problems).unwrap_or_default() {
        let Some(mut window) = Fields::of(&node, fields.source(), "a coverage", problems) else {
            continue;
        };
        let name = window.need_text("name", "Parts and labour", problems);
        let lasts = window.need("lasts", "3 years", problems).and_then(|node| {
            let text = window.text_of(&node, "'lasts'", problems)?;
            let lasts = Lasts::parse(&text);
            if lasts.is_none() {
                problems.push(
                    Problem::error(format!("'{text}' is not a length of time"), window.at(&node))
                        .expected("expected a whole number of days, weeks, months or years")
                        .help("write for example: 30 days, 18 months, 3 years"),
                );
            }
            lasts
        });
        let reference = window.text("reference", problems);
        window.finish(problems);
        if let (Some(name), Some(lasts)) = (name, lasts) {
            coverage.push(Coverage { name, lasts, reference });
        }
    }
    coverage
}

/// Points out a photograph that is dated before the event that it is to show. One that is dated after it is nothing odd:
/// what came by post is photographed when there is time.
fn dated_before((on, file): (Date, &str), reader: &Reader, at: Place, problems: &mut Problems) {
    let Some(taken) = reader.taken(file).filter(|taken| taken.moment.date() < on && !taken.may_be_on(on))
    else {
        return;
    };
    problems.push(
        Problem::error(format!("'{file}' is dated {taken}, and the event {}", written_out(on)), at)
            .warning()
            .expected("dated before its event")
            .help("clocks in cameras are often wrong; check the clock, the event's 'on', and that this is the picture meant"),
    );
}

pub(super) fn events(fields: &mut Fields, reader: &Reader, problems: &mut Problems) -> Vec<Event> {
    let mut events = Vec::new();
    for node in fields.list("events", problems).unwrap_or_default() {
        let Some(mut event) = Fields::of(&node, fields.source(), "an event", problems) else {
            continue;
        };
        let on = event
            .need("on", "2026-03-03", problems)
            .and_then(|node| date_of(&node, event.source(), problems));
        let what = event.need_text("what", "Wrote to the maker", problems);
        let file_node = event.get("file");
        let at = file_node.as_ref().map(|node| event.at(node));
        let file = file_node.and_then(|node| reader.named_file(&node, event.source(), "", problems));
        event.finish(problems);
        if let (Some(on), Some(file), Some(at)) = (on, &file, at) {
            dated_before((on, file), reader, at, problems);
        }
        if let (Some(on), Some(what)) = (on, what) {
            events.push(Event { on, what, file });
        }
    }
    events.sort_by_key(|event| event.on);
    events
}
