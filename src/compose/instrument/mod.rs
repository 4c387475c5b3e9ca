//! From an instrument's story to a typeset paper.

mod page;

pub use page::{InstrumentPage, InstrumentRow};

use super::document::{DateShown, Fact, PaperFacts};
use super::report::facts::paper_name;
use crate::session::{Date, written_out};
use crate::shelf::instrument::{Instrument, Stood, Used, words};

/// The paper's values; `on` is the day that is looked back from.
pub fn instrument(instrument: &Instrument, on: Date, program: &str) -> InstrumentPage {
    let fact = |label: &str, value: String| Fact { label: label.to_owned(), value };
    let after = instrument.after().count();
    let mut said = vec![
        words::after(instrument),
        "How it stood is taken from what any of the sessions says of its calibrations; a calibration is good to its last day."
            .to_owned(),
    ];
    said.extend(instrument.said.iter().cloned());
    InstrumentPage {
        document: PaperFacts {
            title: format!("{} over time", instrument.name),
            description: format!("All visits at which {} was used", words::title(instrument)),
            number: format!("{}, as of {}", words::title(instrument), DateShown::from(on).text),
            author: None,
            date: DateShown::from(on),
            paper: paper_name(instrument.paper).to_owned(),
            language: "en".to_owned(),
            program: program.to_owned(),
        },
        facts: vec![
            fact("Instrument", instrument.name.clone()),
            fact("Serial no.", instrument.serial.clone().unwrap_or_else(|| "not stated".to_owned())),
            fact("Sessions", instrument.sessions.to_string()),
            fact("Visits", instrument.uses.len().to_string()),
            fact("Past its calibration", after.to_string()),
            fact("As of", written_out(on)),
        ],
        calibrations: words::calibrations(instrument, on),
        rows: instrument.uses.iter().map(row).collect(),
        said,
    }
}

fn row(one: &Used) -> InstrumentRow {
    InstrumentRow {
        date: DateShown::from(one.used.date).text,
        machine: one.used.machine.clone(),
        serial: one.used.machine_serial.clone().unwrap_or_default(),
        checks: one.used.checks.clone(),
        calibration: words::stood(one),
        ran_out: matches!(one.stood, Stood::RanOut { .. }),
        session: one.session.clone(),
        visit: one.used.visit.clone(),
    }
}
