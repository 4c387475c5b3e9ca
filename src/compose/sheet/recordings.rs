//! The recordings of a visit, found in what was written of it.

use super::page::SheetRecording;
use crate::session::{Entry, Readings, Value};

/// Every file that a check's readings name, each with the setting or place that it stands under.
pub(super) fn recordings(readings: &Readings) -> Vec<SheetRecording> {
    let mut found = Vec::new();
    for entry in readings.own.clone().entries() {
        // What stands outermost (`at`, `places`) names the kind and not the place.
        let path =
            if matches!(entry.key.as_str(), "at" | "places") { Vec::new() } else { vec![entry.key.clone()] };
        if let Value::Map(inner) = &entry.node.value {
            walk(inner, &path, &mut found);
        }
    }
    // One file with a column for each place is one recording.
    let mut lines: Vec<SheetRecording> = Vec::new();
    for (setting, file) in found {
        match lines.iter_mut().find(|line| line.last == file) {
            Some(line) => line.setting = format!("{}, {setting}", line.setting),
            None => lines.push(SheetRecording { setting, last: file }),
        }
    }
    lines
}

fn walk(entries: &[Entry], path: &[String], found: &mut Vec<(String, String)>) {
    for entry in entries {
        match &entry.node.value {
            Value::Scalar(scalar) if entry.key == "file" => {
                found.push((path.join(", "), scalar.text.clone()));
            }
            Value::Map(inner) => {
                let deeper: Vec<String> = path.iter().cloned().chain([entry.key.clone()]).collect();
                walk(inner, &deeper, found);
            }
            _ => {}
        }
    }
}
