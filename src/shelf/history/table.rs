//! A machine's history as JSON and as CSV.

use serde_json::{Value, json};

use super::{Course, History, Point, Trended};
use crate::session::days_between;

/// The version of the fields.
const SCHEMA: u32 = 1;

/// The whole history as JSON.
pub fn to_json(history: &History, program: &str) -> String {
    let whole = json!({
        "program": program,
        "schema": SCHEMA,
        "machine": history.machine,
        "serial": history.serial,
        "courses": history.courses.iter().map(course).collect::<Vec<Value>>(),
        "notes": history.said,
    });
    format!("{whole:#}\n")
}

fn course(course: &Course) -> Value {
    let limit = course.limit.as_ref();
    let (trend, no_trend) = match &course.trend {
        Ok(trended) => (trend(course, trended), Value::Null),
        Err(why) => (Value::Null, json!(why)),
    };
    json!({
        "check": course.check,
        "title": course.title,
        "measure": course.measure,
        "number": course.what,
        "where": course.at,
        "unit": course.unit.symbol(),
        "limit_at_least": limit.and_then(|limit| limit.at_least),
        "limit_at_most": limit.and_then(|limit| limit.at_most),
        "visits": course.points.iter().map(point).collect::<Vec<Value>>(),
        "trend": trend,
        "no_trend": no_trend,
    })
}

fn point(point: &Point) -> Value {
    json!({
        "session": point.session.display().to_string(),
        "visit": point.visit,
        "title": point.title,
        "state": point.state,
        "date": point.date,
        "value": point.finding.value,
        "expanded": point.finding.expanded().map(|expanded| expanded.expanded),
        "verdict": point.finding.verdict,
        "left_out_of_the_trend": point.left_out,
    })
}

fn trend(course: &Course, trended: &Trended) -> Value {
    let (trend, last) = (&trended.trend, days_between(trended.first, trended.last) as f64);
    let reach = course.limit.as_ref().and_then(|limit| trend.reaches(limit, last));
    json!({
        "since": trended.first,
        "until": trended.last,
        "visits": trended.visits,
        "repaired": trended.repaired,
        "slope_a_day": trend.line.slope,
        "slope_a_day_low": trend.line.slope - trend.half,
        "slope_a_day_high": trend.line.slope + trend.half,
        "mann_kendall": {"s": trend.test.s, "p": trend.test.p, "exact": trend.test.exact},
        // Only by going on beyond all that was measured.
        "extrapolated_to_limit": reach.map(|reach| json!({
            "earliest": trended.date(reach.earliest),
            "by_the_line": trended.date(reach.likely),
            "latest": trended.date(reach.latest),
        })),
    })
}

const COLUMNS: [&str; 16] = [
    "serial",
    "check",
    "measure",
    "number",
    "where",
    "unit",
    "session",
    "visit",
    "state",
    "date",
    "value",
    "expanded",
    "limit_at_least",
    "limit_at_most",
    "verdict",
    "left_out_of_the_trend",
];

/// The numbers as CSV (RFC 4180), a visit and a place each.
pub fn to_csv(history: &History) -> String {
    let mut writer = csv::Writer::from_writer(Vec::new());
    // Writing to memory cannot fail, and every row has as many cells as the head.
    let _ = writer.write_record(COLUMNS);
    let number = |value: Option<f64>| value.map_or_else(String::new, |value| value.to_string());
    for course in &history.courses {
        for point in &course.points {
            let limit = point.finding.limit.as_ref();
            let _ = writer.write_record([
                history.serial.clone(),
                course.check.clone(),
                course.measure.to_owned(),
                course.what.to_owned(),
                course.at.clone(),
                course.unit.symbol().to_owned(),
                point.session.display().to_string(),
                point.visit.clone(),
                point.state.word().to_owned(),
                point.date.to_string(),
                number(point.finding.value),
                number(point.finding.expanded().map(|expanded| expanded.expanded)),
                number(limit.and_then(|limit| limit.at_least)),
                number(limit.and_then(|limit| limit.at_most)),
                point.finding.verdict.words().to_owned(),
                point.left_out.clone().unwrap_or_default(),
            ]);
        }
    }
    String::from_utf8(writer.into_inner().unwrap_or_default()).unwrap_or_default()
}
