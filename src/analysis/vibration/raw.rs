//! What was read, as the appendix prints it: recordings by their accounts, a meter's figures as typed.

use crate::findings::{Cell, RawTable};
use crate::quantity::{Unit, significant};
use crate::recording::{Account, Recording};

/// A recording's row.
#[derive(Clone, Debug)]
pub(super) struct RecordingRow {
    at: String,
    cells: Vec<String>,
}

/// A row of a meter's figures: mean, largest, frequency, as typed.
#[derive(Clone, Debug)]
pub(super) struct FigureRow {
    pub(super) at: String,
    pub(super) cells: [String; 3],
}

pub(super) fn recording_row(
    at: &str,
    recording: &Recording,
    account: &Account,
    names: &[String],
) -> RecordingRow {
    let jitter = if account.jitter > 0.0 {
        format!("{} %", significant(100.0 * account.jitter, 2))
    } else {
        "even".to_owned()
    };
    RecordingRow {
        at: at.to_owned(),
        cells: vec![
            recording.name.clone(),
            names.join(", "),
            account.samples.to_string(),
            format!("{} s", significant(account.seconds, 4)),
            format!("{} Hz", significant(account.rate, 5)),
            jitter,
        ],
    }
}

fn cells(texts: &[String]) -> Vec<Cell> {
    texts.iter().map(|text| Cell { text: text.clone(), struck: None }).collect()
}

fn columns(names: &[&str]) -> Vec<String> {
    names.iter().map(|name| (*name).to_owned()).collect()
}

pub(super) fn recordings(rows: &[RecordingRow], unit: Unit) -> Option<RawTable> {
    (!rows.is_empty()).then(|| RawTable {
        at: String::new(),
        columns: columns(&["Speed", "Recording", "Axes", "Samples", "Length", "Rate", "Jitter"]),
        rows: rows.iter().map(|row| (row.at.clone(), cells(&row.cells))).collect(),
        unit,
    })
}

pub(super) fn figures(rows: &[FigureRow], unit: Unit) -> Option<RawTable> {
    (!rows.is_empty()).then(|| RawTable {
        at: String::new(),
        columns: columns(&["Speed", "Mean", "Largest", "Frequency"]),
        rows: rows.iter().map(|row| (row.at.clone(), cells(&row.cells))).collect(),
        unit,
    })
}

/// What the account of a recording has to say.
pub(super) fn account_notes(account: &Account) -> Vec<String> {
    let _ = account;
    Vec::new()
}
