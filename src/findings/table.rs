//! Findings as JSON and CSV, a row each, in the columns of the session format.

use serde_json::{Map, Value, json};

use super::{
    BoundOn, Change, CheckChanges, CheckFindings, ComparisonFindings, Finding, Findings, LimitOn,
    VisitFindings,
};

/// The version of the columns.
const SCHEMA: u32 = 1;

fn number(value: Option<f64>) -> Value {
    // A number that is not finite has no place in JSON; the notes say why there is none.
    value.filter(|value| value.is_finite()).map_or(Value::Null, |value| json!(value))
}

fn limit(limit: Option<&LimitOn>) -> (Value, Value) {
    let Some(limit) = limit else {
        return (Value::Null, Value::Null);
    };
    let value = match (limit.at_least, limit.at_most) {
        (Some(low), Some(high)) => json!([low, high]),
        (low, high) => number(low.or(high)),
    };
    (value, json!(limit.kind()))
}

fn row(check: &CheckFindings, visit: &VisitFindings, finding: &Finding) -> Map<String, Value> {
    let expanded = finding.expanded();
    let (limit, limit_kind) = limit(finding.limit.as_ref());
    let bound = match finding.bound {
        None => Value::Null,
        Some(BoundOn::AtMost(value)) => json!({ "at_most": value }),
        Some(BoundOn::AtLeast(value)) => json!({ "at_least": value }),
    };
    let mut notes: Vec<String> = Vec::new();
    if finding.struck > 0 {
        let with = finding.with_struck.map_or_else(String::new, |value| {
            format!("; with them it would be {} {}", crate::quantity::significant(value, 4), finding.unit)
        });
        notes.push(format!("{} struck{with}.", finding.struck));
    }
    if finding.at_floor() {
        notes.push("Not distinguishable from zero with this instrument.".to_owned());
    }
    notes.extend(finding.notes.iter().cloned());
    let Value::Object(row) = json!({
        "check": check.check,
        "measure": check.measure,
        "visit": visit.visit,
        "where": finding.at,
        "what": finding.what,
        "value": number(finding.value),
        "unit": finding.unit.symbol(),
        "uncertainty": number(expanded.map(|e| e.expanded)),
        "k": number(expanded.map(|e| e.k)),
        "dof": number(expanded.map(|e| e.dof)),
        "n": finding.n,
        "struck": finding.struck,
        "limit": limit,
        "limit_kind": limit_kind,
        "verdict": finding.verdict.words(),
        "floor": number(finding.floor),
        "bound": bound,
        "notes": notes,
    }) else {
        return Map::new();
    };
    row
}

fn change_row(comparison: &ComparisonFindings, check: &CheckChanges, change: &Change) -> Map<String, Value> {
    let differs: Vec<Value> = check
        .differs
        .iter()
        .map(|d| json!({ "condition": d.condition, "before": d.before, "after": d.after }))
        .collect();
    let Value::Object(row) = json!({
        "compare": comparison.id,
        "check": change.check,
        "where": change.at,
        "what": change.what,
        "before": number(Some(change.before)),
        "after": number(Some(change.after)),
        "change": number(Some(change.change)),
        "low": number(Some(change.low)),
        "high": number(Some(change.high)),
        "unit": change.unit.symbol(),
        "percent": number(change.percent),
        "conclusion": change.conclusion.words(),
        "adjusted_conclusion": change.adjusted.map(super::Conclusion::words),
        "like_for_like": check.like_for_like,
        "differs": differs,
        "notes": change.notes,
    }) else {
        return Map::new();
    };
    row
}

/// Every finding's row, check by check.
fn rows(findings: &Findings) -> impl Iterator<Item = Map<String, Value>> + '_ {
    findings.checks.iter().flat_map(|check| {
        check
            .visits
            .iter()
            .flat_map(move |visit| visit.findings.iter().map(move |finding| row(check, visit, finding)))
    })
}

/// Every change's row, comparison by comparison.
fn change_rows(findings: &Findings) -> Vec<Map<String, Value>> {
    let mut rows = Vec::new();
    for comparison in &findings.comparisons {
        for check in &comparison.checks {
            rows.extend(check.changes.iter().map(|change| change_row(comparison, check, change)));
        }
    }
    rows
}

/// `findings.json`: the schema, the session's and the program's name, findings and changes.
pub fn to_json(findings: &Findings, session: &str, program: &str) -> String {
    let whole = json!({
        "schema": SCHEMA,
        "session": session,
        "program": program,
        "findings": rows(findings).collect::<Vec<_>>(),
        "changes": change_rows(findings),
    });
    let mut text = serde_json::to_string_pretty(&whole).unwrap_or_default();
    text.push('\n');
    text
}

/// A text that a spreadsheet would take for a formula is given a leading apostrophe.
fn harmless(text: &str) -> String {
    let first = text.trim_start_matches([' ', '\t', '\r', '\n']).chars().next();
    let formula =
        matches!(first, Some('=' | '+' | '-' | '@')) || matches!(text.chars().next(), Some('\t' | '\r'));
    if formula { format!("'{text}") } else { text.to_owned() }
}

fn cell(value: &Value) -> String {
    match value {
        Value::Null => String::new(),
        Value::String(text) => harmless(text),
        Value::Number(number) => number.to_string(),
        Value::Bool(truth) => truth.to_string(),
        Value::Array(list) => {
            let texts: Vec<String> = list
                .iter()
                .map(|item| item.as_str().map_or_else(|| item.to_string(), str::to_owned))
                .collect();
            harmless(&texts.join(" | "))
        }
        Value::Object(_) => value.to_string(),
    }
}

/// The columns of a finding's row.
const COLUMNS: [&str; 18] = [
    "check",
    "measure",
    "visit",
    "where",
    "what",
    "value",
    "unit",
    "uncertainty",
    "k",
    "dof",
    "n",
    "struck",
    "limit",
    "limit_kind",
    "verdict",
    "floor",
    "bound",
    "notes",
];

/// A CSV as RFC 4180 has it.
fn csv_of<const N: usize>(columns: [&str; N], rows: impl Iterator<Item = [String; N]>) -> String {
    let mut writer = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(Vec::new());
    // Writing to memory cannot fail.
    let _ = writer.write_record(columns);
    for row in rows {
        let _ = writer.write_record(row);
    }
    let bytes = writer.into_inner().unwrap_or_default();
    String::from_utf8(bytes).unwrap_or_default()
}

/// `findings.csv`: the findings' rows (RFC 4180).
pub fn to_csv(findings: &Findings) -> String {
    let cells = |row: Map<String, Value>| COLUMNS.map(|column| row.get(column).map(cell).unwrap_or_default());
    csv_of(COLUMNS, rows(findings).map(cells))
}

/// The columns of a reading's row.
const READING_COLUMNS: [&str; 10] =
    ["check", "measure", "visit", "where", "row", "column", "reading", "unit", "struck", "because"];

/// `readings.csv`: every reading that was typed, as it was typed, a row each (RFC 4180).
pub fn readings_to_csv(findings: &Findings) -> String {
    let mut rows = Vec::new();
    for check in &findings.checks {
        for (visit, raw) in
            check.visits.iter().flat_map(|visit| visit.raw.iter().map(move |raw| (visit, raw)))
        {
            for (name, cells) in &raw.rows {
                for (index, cell) in cells.iter().enumerate() {
                    let head = raw.columns.get(index + 1).cloned().unwrap_or_default();
                    // A reading may begin with its sign; any other text is made harmless.
                    let is_number = cell.text.parse::<f64>().is_ok();
                    rows.push([
                        harmless(&check.check),
                        check.measure.to_owned(),
                        harmless(&visit.visit),
                        harmless(&raw.at),
                        harmless(name),
                        harmless(&head),
                        if is_number { cell.text.clone() } else { harmless(&cell.text) },
                        raw.unit.symbol().to_owned(),
                        cell.struck.is_some().to_string(),
                        cell.struck.as_deref().map(harmless).unwrap_or_default(),
                    ]);
                }
            }
        }
    }
    csv_of(READING_COLUMNS, rows.into_iter())
}
