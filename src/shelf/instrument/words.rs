//! An instrument's story in sentences.

use super::{Instrument, Stood, Used};
use crate::session::{Date, days_between, written_out};
use crate::shelf::Calibration;

/// Its name with its serial number.
pub fn title(instrument: &Instrument) -> String {
    match &instrument.serial {
        Some(serial) => format!("{}, {serial}", instrument.name),
        None => instrument.name.clone(),
    }
}

/// Its calibrations, when each ran out, and how it stands on a day.
pub fn calibrations(instrument: &Instrument, on: Date) -> Vec<String> {
    let mut said: Vec<String> = instrument.calibrations.iter().map(|one| calibration(*one, on)).collect();
    if said.is_empty() {
        said.push("No session says when it was calibrated.".to_owned());
    } else if let Some(due) = instrument.calibrations.iter().filter_map(|one| one.due).max()
        && due >= on
    {
        let left = match days_between(on, due) {
            0 => "this is its last day".to_owned(),
            left => format!("{} left", days(left)),
        };
        said.push(format!("As of {}: {left}.", written_out(on)));
    }
    said
}

fn calibration(calibration: Calibration, on: Date) -> String {
    let runs_out = if calibration.ran_out(on) { "ran out" } else { "runs out" };
    match (calibration.made, calibration.due) {
        (Some(made), Some(due)) => {
            format!("Calibrated on {}; that {runs_out} on {}.", written_out(made), written_out(due))
        }
        (Some(made), None) => format!("Calibrated on {}; until when, no session says.", written_out(made)),
        (None, Some(due)) => {
            format!("Calibrated on a day that no session says; that {runs_out} on {}.", written_out(due))
        }
        (None, None) => String::new(),
    }
}

/// What was read with it after its calibration had run out, counted.
pub fn after(instrument: &Instrument) -> String {
    let (all, after) = (instrument.uses.len(), instrument.after().count());
    let open = instrument.uses.iter().filter(|used| used.stood == Stood::NotKnown).count();
    let mut text = match (all, after) {
        (0, _) => return "It was not used at any visit.".to_owned(),
        (_, 0) => format!("Used at {}; at none is it known that its calibration had run out.", visits(all)),
        (_, after) => {
            format!("Used at {}; at {after} of them its calibration had run out.", visits(all))
        }
    };
    if open > 0 {
        text += &format!(" At {open} nobody can say how it stood with it.");
    }
    text
}

/// How it stood at a visit: "calibration had run out 45 days before".
pub fn stood(used: &Used) -> String {
    match used.stood {
        Stood::RanOut { due } => {
            format!("calibration had run out {} before", days(days_between(due, used.used.date)))
        }
        other => other.words().to_owned(),
    }
}

fn days(count: i64) -> String {
    if count == 1 { "1 day".to_owned() } else { format!("{count} days") }
}

fn visits(count: usize) -> String {
    if count == 1 { "1 visit".to_owned() } else { format!("{count} visits") }
}
