//! An instrument's story as JSON and as CSV.

use serde_json::{Value, json};

use super::{Instrument, Stood, Used};
use crate::session::days_between;

/// The version of the fields.
const SCHEMA: u32 = 1;

/// The whole story as JSON.
pub fn to_json(instrument: &Instrument, program: &str) -> String {
    let whole = json!({
        "program": program,
        "schema": SCHEMA,
        "instrument": instrument.name,
        "serial": instrument.serial,
        "calibrations": instrument.calibrations,
        "uses": instrument.uses.iter().map(used).collect::<Vec<Value>>(),
        "notes": instrument.said,
    });
    format!("{whole:#}\n")
}

fn used(one: &Used) -> Value {
    let (ran_out, days) = ran_out(one);
    let used = &one.used;
    json!({
        "session": one.session,
        "visit": used.visit,
        "date": used.date,
        "machine": used.machine,
        "machine_serial": used.machine_serial,
        "checks": used.checks,
        "calibration": one.stood.words(),
        "ran_out": ran_out,
        "days_after": days,
    })
}

/// The day that its calibration had run out on, and how many days before.
fn ran_out(one: &Used) -> (Option<String>, Option<i64>) {
    match one.stood {
        Stood::RanOut { due } => (Some(due.to_string()), Some(days_between(due, one.used.date))),
        _ => (None, None),
    }
}

const COLUMNS: [&str; 11] = [
    "serial",
    "instrument",
    "session",
    "visit",
    "date",
    "machine",
    "machine_serial",
    "checks",
    "calibration",
    "ran_out",
    "days_after",
];

/// The visits as CSV (RFC 4180). Several checks stand in one cell, parted by `; `.
pub fn to_csv(instrument: &Instrument) -> String {
    let mut writer = csv::Writer::from_writer(Vec::new());
    // Writing to memory cannot fail, and every row has as many cells as the head.
    let _ = writer.write_record(COLUMNS);
    for one in &instrument.uses {
        let (ran_out, days) = ran_out(one);
        let _ = writer.write_record([
            instrument.serial.clone().unwrap_or_default(),
            instrument.name.clone(),
            one.session.clone(),
            one.used.visit.clone(),
            one.used.date.to_string(),
            one.used.machine.clone(),
            one.used.machine_serial.clone().unwrap_or_default(),
            one.used.checks.join("; "),
            one.stood.words().to_owned(),
            ran_out.unwrap_or_default(),
            days.map(|days| days.to_string()).unwrap_or_default(),
        ]);
    }
    String::from_utf8(writer.into_inner().unwrap_or_default()).unwrap_or_default()
}
