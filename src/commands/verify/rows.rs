//! Findings held against findings, number by number.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::{Map, Value};

/// What names a row of each list.
const KEYS: [(&str, &[&str]); 2] =
    [("findings", &["check", "visit", "where", "what"]), ("changes", &["compare", "check", "where", "what"])];

/// Every number and word in which a report's findings.json differs from what follows from the readings.
pub(super) fn differences(given: &Value, again: &Value) -> Vec<String> {
    let mut lines = Vec::new();
    for (list, keys) in KEYS {
        let (given, mut again) = (rows(given, list, keys), rows(again, list, keys));
        for (name, row) in &given {
            match again.remove(name) {
                Some(other) => fields(name, row, &other, &mut lines),
                None => lines.push(format!("{name}: is in the report and does not follow from the readings")),
            }
        }
        lines.extend(
            again.keys().map(|name| format!("{name}: follows from the readings and is not in the report")),
        );
    }
    for (field, value) in given.as_object().into_iter().flatten() {
        let fixed = KEYS.iter().all(|(list, _)| list != field) && field != "program";
        if fixed && again.get(field) != Some(value) {
            lines.push(format!("findings.json: '{field}' is {value}"));
        }
    }
    lines
}

/// The rows of a list under names that a person knows them by; rows of one name are counted.
fn rows(whole: &Value, list: &str, keys: &[&str]) -> BTreeMap<String, Map<String, Value>> {
    let mut named: BTreeMap<String, Map<String, Value>> = BTreeMap::new();
    for row in whole.get(list).and_then(Value::as_array).into_iter().flatten() {
        let Some(row) = row.as_object() else { continue };
        let words = keys.iter().filter_map(|key| row.get(*key)?.as_str()).filter(|word| !word.is_empty());
        let name = words.collect::<Vec<_>>().join(", ");
        let mut nth = name.clone();
        let mut count = 1;
        while named.contains_key(&nth) {
            count += 1;
            nth = format!("{name} ({count})");
        }
        named.insert(nth, row.clone());
    }
    named
}

/// What a person looks at first; the rest follows from it and is told only where these are the same.
const MAIN: [&str; 10] = [
    "value",
    "uncertainty",
    "verdict",
    "before",
    "after",
    "change",
    "low",
    "high",
    "conclusion",
    "like_for_like",
];

/// One line for a row: what it says, and what follows from the readings.
fn fields(name: &str, given: &Map<String, Value>, again: &Map<String, Value>, lines: &mut Vec<String>) {
    let fields: BTreeSet<&String> = given.keys().chain(again.keys()).collect();
    let of = |row: &Map<String, Value>, field: &str| row.get(field).cloned().unwrap_or(Value::Null);
    let differ: Vec<&str> =
        fields.into_iter().map(String::as_str).filter(|field| of(given, field) != of(again, field)).collect();
    let main: Vec<&str> = MAIN.into_iter().filter(|field| differ.contains(field)).collect();
    let shown = if main.is_empty() { differ } else { main };
    if shown.is_empty() {
        return;
    }
    let said: Vec<String> = shown
        .iter()
        .map(|field| {
            format!(
                "{field} is {} in the report and {} from the readings",
                of(given, field),
                of(again, field)
            )
        })
        .collect();
    lines.push(format!("{name}: {}", said.join("; ")));
}

#[cfg(test)]
#[allow(clippy::unwrap_used, clippy::cast_possible_truncation)]
mod tests {
    use serde_json::json;

    use super::differences;

    #[test]
    fn each_number_that_was_changed_is_named_with_what_the_readings_give() {
        let row = |value: f64| json!({"check": "arbor", "visit": "as-found", "where": "", "what": "tir", "value": value});
        let whole = |value: f64| json!({"schema": 1, "program": "asfound 0.1.0", "findings": [row(value), row(2.0)], "changes": []});
        assert_eq!(differences(&whole(3.3), &whole(3.3)), Vec::<String>::new());
        assert_eq!(
            differences(&whole(1.3), &whole(3.3)),
            ["arbor, as-found, tir: value is 1.3 in the report and 3.3 from the readings"]
        );
        let mut fewer = whole(3.3);
        fewer["findings"].as_array_mut().unwrap().pop();
        assert_eq!(
            differences(&fewer, &whole(3.3)),
            ["arbor, as-found, tir (2): follows from the readings and is not in the report"]
        );
        assert_eq!(
            differences(&whole(3.3), &fewer),
            ["arbor, as-found, tir (2): is in the report and does not follow from the readings"]
        );
    }
}
