//! From the YAML of one visit to series, ambient and schedule.

use std::sync::Arc;

use super::recorded;
use super::series::{Ambient, Point, Recorded, Series, Step, clock};
use crate::analysis::Sitting;
use crate::analysis::uncertainty::Shown;
use crate::quantity::{Kind, Unit};
use crate::session::{
    ConditionValue, Entry, Fields, Node, Problem, Problems, Reading, SourceFile, Value, key_place, list_of,
    place_of, quantity_of, reading_of,
};

/// The speed settings, in the order of time; none where there is no `schedule`.
pub(super) fn schedule(own: &mut Fields, problems: &mut Problems) -> Vec<Step> {
    let Some(items) = own.list("schedule", problems) else { return Vec::new() };
    let source = Arc::clone(own.source());
    let mut steps: Vec<Step> = Vec::new();
    for item in &items {
        let Some((time, speed)) =
            pair(item, &source, "a step of the schedule", "[\"4:00\", 2000 rpm]", problems)
        else {
            continue;
        };
        let kinds = [Kind::RotationalSpeed, Kind::Velocity];
        let speed = quantity_of(&speed, &source, &kinds, None, problems);
        let Some(from) = time_of(&time, &source, problems) else { continue };
        in_order(steps.last().map(|step| step.from), from, &time, &source, problems);
        let Some(speed) = speed else { continue };
        steps.push(Step { from, speed, place: place_of(&source, &time) });
    }
    steps
}

/// The ambient: a temperature, or a recording or list of them, whose series stands beside it; the
/// visit's condition of that name where the readings have none.
pub(super) fn ambient(
    own: &mut Fields,
    sitting: &Sitting<'_>,
    unit: Unit,
    shown: &Shown,
    problems: &mut Problems,
) -> Option<(Ambient, Option<Series>)> {
    let Some(node) = own.get("ambient") else {
        return Some((condition(sitting, unit), None));
    };
    let source = Arc::clone(own.source());
    if !matches!(node.value, Value::Map(_)) {
        let value = quantity_of(&node, &source, &[Kind::Temperature], Some(unit), problems)?.to(unit).ok()?;
        return Some((Ambient::Constant { value: value + shown.correction, is_condition: false }, None));
    }
    let mut fields = Fields::of(&node, &source, "'ambient'", problems)?;
    let read = points_or_file(&mut fields, sitting, unit, shown, problems);
    fields.finish(problems);
    let (points, typed, recorded) = read?;
    let curve: Vec<(f64, f64)> =
        points.iter().filter(|point| !point.struck).map(|point| (point.seconds, point.shown)).collect();
    let ambient = if curve.is_empty() { Ambient::Unknown } else { Ambient::Curve(curve) };
    let name = "ambient".to_owned();
    let place = place_of(&source, &node);
    Some((ambient, Some(Series { name, points, surface: None, recorded, typed, place })))
}

/// The points, the readings as typed, and what a recording was.
type PointsRead = (Vec<Point>, Vec<(String, String, Option<String>)>, Option<Recorded>);

fn points_or_file(
    fields: &mut Fields,
    sitting: &Sitting<'_>,
    unit: Unit,
    shown: &Shown,
    problems: &mut Problems,
) -> Option<PointsRead> {
    if fields.written("file") && !fields.written("points") {
        let (points, account) = recorded::heard(fields, sitting, unit, shown, problems)?;
        return Some((points, Vec::new(), Some(account)));
    }
    let (points, typed) = points(fields, unit, shown, problems)?;
    Some((points, typed, None))
}

/// The condition `ambient` of the readings, else of the visit.
fn condition(sitting: &Sitting<'_>, unit: Unit) -> Ambient {
    let all = sitting.readings.conditions.iter().chain(&sitting.visit.conditions);
    all.filter(|condition| condition.name == "ambient")
        .find_map(|condition| match condition.value {
            ConditionValue::Quantity(quantity) => quantity.to(unit).ok(),
            _ => None,
        })
        .map_or(Ambient::Unknown, |value| Ambient::Constant { value, is_condition: true })
}

/// The places, in the order written.
pub(super) fn places(
    own: &mut Fields,
    sitting: &Sitting<'_>,
    unit: Unit,
    shown: &Shown,
    problems: &mut Problems,
) -> Vec<Series> {
    let example = "{motor: {points: [[\"0:00\", 66.2], [\"2:00\", 71.0]]}}";
    let Some(node) = own.need("places", example, problems) else { return Vec::new() };
    let source = Arc::clone(own.source());
    let Some(fields) = Fields::of(&node, &source, "'places'", problems) else { return Vec::new() };
    let entries = fields.entries();
    if entries.is_empty() {
        problems.push(
            Problem::error("'places' holds no place", place_of(&source, &node))
                .expected("expected at least one place with its readings")
                .help(format!("write for example: places: {example}")),
        );
    }
    let mut series: Vec<Series> = Vec::new();
    for entry in &entries {
        let plain = |name: &str| name.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase();
        let twin = series.iter().find(|other| plain(&other.name) == plain(&entry.key));
        if plain(&entry.key).is_empty() || twin.is_some() {
            let message = twin.map_or_else(
                || "a place without a name".to_owned(),
                |twin| format!("'{}' and '{}' are one place", twin.name, entry.key),
            );
            problems.push(
                Problem::error(message, key_place(&source, entry))
                    .expected("expected a name of its own for each place")
                    .help("write all readings of one place in one list"),
            );
            continue;
        }
        series.extend(series_of(entry, &source, sitting, unit, shown, problems));
    }
    series
}

fn series_of(
    entry: &Entry,
    source: &Arc<SourceFile>,
    sitting: &Sitting<'_>,
    unit: Unit,
    shown: &Shown,
    problems: &mut Problems,
) -> Option<Series> {
    let what = format!("the place '{}'", entry.key);
    let mut fields = Fields::of(&entry.node, source, &what, problems)?;
    let surface = fields
        .get("surface_emissivity")
        .and_then(|node| Some((fields.fraction("surface_emissivity", problems)?, fields.at(&node))));
    let place = key_place(source, entry);
    let read = points_or_file(&mut fields, sitting, unit, shown, problems);
    fields.finish(problems);
    let (points, typed, recorded) = read?;
    if !points.iter().any(|point| !point.struck) {
        problems.push(
            Problem::error(format!("no reading of '{}' is left", entry.key), place)
                .expected("expected at least one reading that counts")
                .help("take the place out of this visit, or measure again"),
        );
        return None;
    }
    Some(Series { name: entry.key.clone(), points, surface, recorded, typed, place })
}

/// The points with the readings as typed.
type Typed = (Vec<Point>, Vec<(String, String, Option<String>)>);

/// The field `points`: times with temperatures, in the order of time.
fn points(fields: &mut Fields, unit: Unit, shown: &Shown, problems: &mut Problems) -> Option<Typed> {
    let example = "[[\"0:00\", 66.2], [\"2:00\", 71.0]]";
    let node = fields.need("points", example, problems)?;
    let source = Arc::clone(fields.source());
    let items = list_of(&node, &source, "'points'", problems)?;
    if items.is_empty() {
        problems.push(
            Problem::error("'points' is an empty list", place_of(&source, &node))
                .expected("expected readings with their times")
                .help(format!("write for example: points: {example}")),
        );
        return None;
    }
    let (mut points, mut typed): Typed = (Vec::new(), Vec::new());
    for item in &items {
        let Some((time, temperature)) = pair(item, &source, "a point", "[\"2:00\", 71.0]", problems) else {
            continue;
        };
        let reading = reading_of(&temperature, &source, &[Kind::Temperature], Some(unit), problems);
        let Some(seconds) = time_of(&time, &source, problems) else { continue };
        in_order(points.last().map(|point: &Point| point.seconds), seconds, &time, &source, problems);
        let Some(reading) = reading else { continue };
        let value = reading.quantity.to(unit).ok()? + shown.correction;
        typed.push((written(&time), as_typed(&reading), reading.struck.clone()));
        points.push(Point {
            seconds,
            shown: value,
            low: value,
            high: value,
            samples: 1,
            spread: 0.0,
            struck: !reading.counts(),
            fresh: points.is_empty(),
            place: reading.place,
        });
    }
    (points.len() == items.len()).then_some((points, typed))
}

fn as_typed(reading: &Reading) -> String {
    reading.text.clone()
}

fn written(node: &Node) -> String {
    match &node.value {
        Value::Scalar(scalar) => scalar.text.clone(),
        _ => String::new(),
    }
}

/// A list of two.
fn pair(
    item: &Node,
    source: &Arc<SourceFile>,
    what: &str,
    example: &str,
    problems: &mut Problems,
) -> Option<(Node, Node)> {
    if let Value::List(two) = &item.value
        && let [first, second] = two.as_slice()
    {
        return Some((first.clone(), second.clone()));
    }
    problems.push(
        Problem::error(format!("{what} should be a time and what it goes with, found {}", item.words()), {
            place_of(source, item)
        })
        .expected("expected two in brackets, the time first")
        .help(format!("write for example: {example}")),
    );
    None
}

/// A clock form or a quantity of time, in seconds from the beginning of the run.
fn time_of(node: &Node, source: &Arc<SourceFile>, problems: &mut Problems) -> Option<f64> {
    let second = Unit::known(Kind::Time, "s")?;
    let seconds = quantity_of(node, source, &[Kind::Time], None, problems)?.to(second).ok()?;
    if seconds >= 0.0 {
        return Some(seconds);
    }
    problems.push(
        Problem::error("a time before the beginning", place_of(source, node))
            .expected("expected the time since the run began")
            .help("let the clock begin at \"0:00\""),
    );
    None
}

/// Says it where a time does not come after the one before it.
fn in_order(before: Option<f64>, now: f64, node: &Node, source: &Arc<SourceFile>, problems: &mut Problems) {
    let Some(before) = before.filter(|before| now <= *before) else { return };
    let message = if now < before {
        format!("{} comes after {}: the points are out of order", clock(now), clock(before))
    } else {
        format!("{} stands twice", clock(now))
    };
    problems.push(
        Problem::error(message, place_of(source, node))
            .expected("expected a later time than the one before")
            .help("write them in the order taken, one at each time; strike one that was wrong"),
    );
}
