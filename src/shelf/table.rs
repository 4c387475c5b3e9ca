//! Rows as JSON and as CSV.

use serde_json::{Value, json};

use super::row::{InstrumentOn, Row, Window};
use super::wanted::Day;

/// The version of the fields.
const SCHEMA: u32 = 1;

/// What is said of a list beside its rows.
#[derive(Clone, Copy, Debug)]
pub struct Said<'a> {
    /// The program and its version.
    pub program: &'a str,
    /// How long "soon" is, as it was asked for.
    pub within: &'a str,
    /// What the walk could not look into.
    pub unread: &'a [String],
}

/// The rows as JSON; coverage with what is left of it on the day.
pub fn to_json(rows: &[Row], day: Day, said: Said<'_>) -> String {
    let sessions: Vec<Value> = rows
        .iter()
        .map(|row| {
            let mut value = json!(row);
            let windows: Vec<Value> = row.coverage.iter().map(|window| with_days(window, day)).collect();
            value["coverage"] = windows.into();
            value
        })
        .collect();
    let whole = json!({
        "program": said.program,
        "schema": SCHEMA,
        "on": day.on,
        "within": said.within,
        "sessions": sessions,
        "not_looked_into": said.unread,
    });
    format!("{whole:#}\n")
}

fn with_days(window: &Window, day: Day) -> Value {
    let mut value = json!(window);
    value["days_left"] = json!(day.days_left(window));
    value["ends_soon"] = json!(day.ends_soon(window));
    value
}

const COLUMNS: [&str; 20] = [
    "path",
    "title",
    "machines",
    "serials",
    "measures",
    "visits",
    "first_visit",
    "last_visit",
    "state",
    "worst_verdict",
    "worst_verdict_last",
    "errors",
    "next_coverage",
    "next_coverage_machine",
    "ends",
    "days_left",
    "ends_soon",
    "sealed",
    "changed_since",
    "calibration_ran_out",
];

/// The rows as CSV (RFC 4180): of the coverage, what ends next. Several machines stand in one cell, parted by `; `, and a
/// machine without a serial number has an empty place there.
pub fn to_csv(rows: &[Row], day: Day) -> String {
    let mut writer = csv::Writer::from_writer(Vec::new());
    // Writing to memory cannot fail, and every row has as many cells as the head.
    let _ = writer.write_record(COLUMNS);
    for row in rows {
        let _ = writer.write_record(cells(row, day));
    }
    String::from_utf8(writer.into_inner().unwrap_or_default()).unwrap_or_default()
}

fn cells(row: &Row, day: Day) -> [String; 20] {
    let or_empty = |text: Option<String>| text.unwrap_or_default();
    let next = day.next(row);
    let names: Vec<&str> = row.machines.iter().map(|machine| machine.name.as_str()).collect();
    let serials: Vec<&str> =
        row.machines.iter().map(|machine| machine.serial.as_deref().unwrap_or_default()).collect();
    let ran_out: Vec<&str> = row.ran_out().map(InstrumentOn::called).collect();
    [
        row.path.clone(),
        row.title.clone(),
        names.join("; "),
        serials.join("; "),
        row.measures.join("; "),
        row.visits.to_string(),
        or_empty(row.first.map(|date| date.to_string())),
        or_empty(row.last.map(|date| date.to_string())),
        or_empty(row.state.map(|state| state.word().to_owned())),
        or_empty(row.worst.map(|verdict| verdict.words().to_owned())),
        or_empty(row.worst_last.map(|verdict| verdict.words().to_owned())),
        row.errors.to_string(),
        or_empty(next.map(|window| window.name.clone())),
        or_empty(next.map(|window| window.machine.clone())),
        or_empty(next.map(|window| window.until.to_string())),
        or_empty(next.map(|window| day.days_left(window).to_string())),
        or_empty(next.map(|window| if day.ends_soon(window) { "yes" } else { "no" }.to_owned())),
        row.seals.sealed.to_string(),
        (row.seals.changed + row.seals.lost).to_string(),
        ran_out.join("; "),
    ]
}
