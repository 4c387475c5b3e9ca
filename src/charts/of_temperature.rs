//! What `temperature` shows: the course at every place over the speeds that were set.

use super::ChartError;
use super::curve::{Course, Curves, Panel, Speeds, TimedReading};
use super::exhibit::{Draw, Exhibit, Measure, Room, main_limit, visit};
use crate::analysis::temperature::{Curve, TemperatureDetails};
use crate::findings::{CheckFindings, VisitFindings, sentences};
use crate::quantity::Unit;
use crate::session::Session;

/// The exhibits of a temperature check.
pub const DRAW: Draw = draw;

/// A drawing's name by its number; places beyond are not drawn, and the caption says so.
const NAMES: [&str; 8] =
    ["courses", "courses-2", "courses-3", "courses-4", "courses-5", "courses-6", "courses-7", "courses-8"];

/// Places in one drawing.
const PLACES: usize = 3;

fn details(found: &VisitFindings) -> Option<&TemperatureDetails> {
    found.details.of::<TemperatureDetails>()
}

/// Every place that any visit read, in the order written.
fn places(check: &CheckFindings) -> Vec<String> {
    let mut places: Vec<String> = Vec::new();
    for curve in check.visits.iter().filter_map(details).flat_map(|details| &details.curves) {
        if !places.contains(&curve.place) {
            places.push(curve.place.clone());
        }
    }
    places
}

fn draw(session: &Session, check: &CheckFindings, room: Room) -> Result<Vec<Exhibit>, ChartError> {
    let places = places(check);
    let whole = chart(session, check, room, &places);
    let Some((values, time)) = whole.ranges() else { return Ok(Vec::new()) };
    let left_out = places.len().saturating_sub(NAMES.len() * PLACES);
    let mut exhibits = Vec::new();
    for (places, name) in places.chunks(PLACES).zip(NAMES) {
        let draw = |places: &Vec<String>| {
            let mut chart = chart(session, check, room, places);
            (chart.range, chart.time_range) = (Some(values), Some(time));
            chart.draw_to(room.height)
        };
        exhibits.push(Exhibit {
            name,
            svg: room.all_or(places.to_vec(), vec![told(check, places).to_owned()], draw)?,
            title: title(session, check, places),
            caption: caption(check, left_out),
            measure: Measure::Full,
        });
    }
    Ok(exhibits)
}

/// The finding: of the telling place where it is among these, else of the first.
fn title(session: &Session, check: &CheckFindings, places: &[String]) -> String {
    let what = if is_rise(check) { "rise" } else { "maximum" };
    let place = told(check, places);
    let words = if what == "rise" { "Rise over ambient" } else { "Highest temperature" };
    format!("{words} at '{place}': {}.", sentences::at_each_visit(session, check, place, what).join(", "))
}

/// The telling place where it is among these, else the first.
fn told<'a>(check: &'a CheckFindings, places: &'a [String]) -> &'a str {
    let place = sentences::telling_place(check).filter(|telling| places.iter().any(|place| place == telling));
    place.or(places.first().map(String::as_str)).unwrap_or("")
}

fn caption(check: &CheckFindings, left_out: usize) -> String {
    let what = if is_rise(check) { "The rise over the ambient" } else { "The temperature" };
    let more = match left_out {
        0 => String::new(),
        1 => " One more place is not drawn.".to_owned(),
        many => format!(" {many} more places are not drawn."),
    };
    format!(
        "{what} at each place against the time, over the speeds that were set; before and after share the scale.{more}"
    )
}

/// Whether the rise is what the check speaks of.
fn is_rise(check: &CheckFindings) -> bool {
    check.main == "rise"
}

fn chart(session: &Session, check: &CheckFindings, room: Room, places: &[String]) -> Curves {
    let is_rise = is_rise(check);
    let course = |found: &VisitFindings, place: &str| -> Option<Course> {
        let details = details(found)?;
        let curve = details.curves.iter().find(|curve| curve.place == place)?;
        Some(Course {
            visit: visit(session, found),
            readings: readings(curve, is_rise),
            fits: fits(curve, is_rise),
            ambient: if is_rise { Vec::new() } else { details.ambient.clone() },
        })
    };
    let panels = places
        .iter()
        .map(|place| Panel {
            name: place.clone(),
            courses: check.visits.iter().filter_map(|found| course(found, place)).collect(),
        })
        .collect();
    let unit = speed_unit(check);
    let symbol = unit.map_or("", Unit::symbol);
    Curves {
        width_pt: room.full,
        name: if is_rise { "Rise over ambient" } else { "Temperature" }.to_owned(),
        unit: check.unit.symbol().to_owned(),
        time_name: "Time, min".to_owned(),
        panels,
        speeds: check.visits.iter().filter_map(|found| speeds(session, found, unit?)).collect(),
        speed_name: format!("Speed, {symbol}"),
        limit: main_limit(check).filter(|_| matches!(check.main, "maximum" | "rise")),
        range: None,
        time_range: None,
    }
}

fn readings(curve: &Curve, is_rise: bool) -> Vec<TimedReading> {
    curve
        .points
        .iter()
        .map(|point| {
            let zero = if is_rise { point.ambient.unwrap_or(f64::NAN) } else { 0.0 };
            TimedReading {
                time: point.minutes,
                value: point.value - zero,
                low: point.low - zero,
                high: point.high - zero,
                struck: point.struck,
                fresh: point.fresh,
            }
        })
        .collect()
}

fn fits(curve: &Curve, is_rise: bool) -> Vec<Vec<(f64, f64)>> {
    let zero = |ambient: Option<f64>| if is_rise { ambient.unwrap_or(f64::NAN) } else { 0.0 };
    let shifted = |fit: &Vec<(f64, f64, Option<f64>)>| {
        fit.iter().map(|(time, value, ambient)| (*time, value - zero(*ambient))).collect()
    };
    curve.fits.iter().map(shifted).collect()
}

/// The unit that the first schedule is written in.
fn speed_unit(check: &CheckFindings) -> Option<Unit> {
    let mut schedules = check.visits.iter().filter_map(details).flat_map(|details| &details.schedule);
    schedules.next().map(|(_, speed)| speed.unit())
}

fn speeds(session: &Session, found: &VisitFindings, unit: Unit) -> Option<Speeds> {
    let details = details(found)?;
    let steps: Option<Vec<(f64, f64)>> =
        details.schedule.iter().map(|(from, speed)| Some((*from, speed.to(unit).ok()?))).collect();
    Some(Speeds { visit: visit(session, found), steps: steps?, until: details.end })
}
