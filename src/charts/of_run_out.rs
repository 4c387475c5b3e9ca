//! What `run-out` shows: its turns unrolled, one station in the round, and the stations along the
//! spindle.

use super::exhibit::{Draw, Exhibit, Measure, Room, main_limit, measured, visit};
use super::round::{Round, RoundVisit};
use super::spindle::{OffsetAndTilt, Spindle, SpindleVisit, Station};
use super::unrolled::{Turns, Unrolled, UnrolledStation};
use super::{ChartError, Profile, TurnReading};
use crate::analysis::run_out::{Direction, RunOutDetails, StationDetails};
use crate::findings::{CheckFindings, VisitFindings, sentences};
use crate::quantity::{Kind, Quantity, Unit, UnitSystem};
use crate::session::Session;

/// The exhibits of a run-out check.
pub const DRAW: Draw = draw;

fn draw(session: &Session, check: &CheckFindings, room: Room) -> Result<Vec<Exhibit>, ChartError> {
    let mut exhibits = Vec::new();
    if check.visits.is_empty() {
        return Ok(exhibits);
    }
    exhibits.push(unrolled(session, check, room)?);
    exhibits.extend(round(session, check, room)?);
    exhibits.extend(spindle(session, check, room)?);
    Ok(exhibits)
}

fn details(found: &VisitFindings) -> Option<&RunOutDetails> {
    found.details.of::<RunOutDetails>()
}

/// Every station that any visit read, in the check's order.
fn stations(check: &CheckFindings) -> Vec<String> {
    let mut ids: Vec<String> = Vec::new();
    for details in check.visits.iter().filter_map(details) {
        for station in &details.stations {
            if !ids.contains(&station.id) {
                ids.push(station.id.clone());
            }
        }
    }
    ids
}

fn station<'a>(found: &'a VisitFindings, id: &str) -> Option<&'a StationDetails> {
    details(found)?.stations.iter().find(|station| station.id == id)
}

fn readings(station: &StationDetails) -> Vec<Vec<TurnReading>> {
    let one = |(angle, value, struck): &(f64, f64, bool)| TurnReading {
        angle: *angle,
        value: *value,
        struck: *struck,
    };
    station.turns.iter().map(|turn| turn.iter().map(one).collect()).collect()
}

/// The fitted profile about the mean of the turns' constants.
fn profile(station: &StationDetails) -> Option<Profile> {
    let fit = station.fit.as_ref()?;
    let constant = fit.constants.iter().sum::<f64>() / fit.constants.len() as f64;
    Some(Profile { constant, harmonics: fit.harmonics.clone() })
}

/// Each visit's value of a finding at a place: "3.3 ± 0.4 thou as found, 0.5 ± 0.4 thou as left".
fn values(session: &Session, check: &CheckFindings, at: &str, what: &str) -> String {
    sentences::at_each_visit(session, check, at, what).join(", ")
}

fn unrolled(session: &Session, check: &CheckFindings, room: Room) -> Result<Exhibit, ChartError> {
    let ids = stations(check);
    let at = sentences::telling_place(check).unwrap_or("").to_owned();
    let turns = |found: &VisitFindings, id: &str| -> Option<Turns> {
        let station = station(found, id)?;
        let profile = profile(station);
        Some(Turns {
            turns: readings(station),
            datum: profile.as_ref().map_or(0.0, |profile| profile.constant),
            profile,
            tir: found.finding(id, "tir").and_then(measured),
        })
    };
    let chart = |ids: &Vec<String>| Unrolled {
        width_pt: room.full,
        name: "Reading about the turn's mean".to_owned(),
        unit: check.unit.symbol().to_owned(),
        visits: check.visits.iter().map(|found| visit(session, found)).collect(),
        stations: ids
            .iter()
            .map(|id| UnrolledStation {
                name: id.clone(),
                visits: check.visits.iter().map(|found| turns(found, id)).collect(),
            })
            .collect(),
        limit: main_limit(check).filter(|_| check.main == "tir"),
        range: None,
    };
    let place = if at.is_empty() { "Run-out".to_owned() } else { format!("Run-out at '{at}'") };
    let draw = |ids: &Vec<String>| chart(ids).draw_to(room.height);
    Ok(Exhibit {
        name: "unrolled",
        svg: room.all_or(ids, vec![at.clone()], draw)?,
        title: format!("{place}: {}.", values(session, check, &at, "tir")),
        caption: "Every reading against the angle from the index mark, the turns joined; the curve is the \
                  fitted profile, the bracket the run-out (TIR)."
            .to_owned(),
        measure: Measure::Full,
    })
}

fn millimetres(unit: Unit) -> Option<f64> {
    Quantity::new(1.0, unit).to(Unit::known(Kind::Length, "mm")?).ok()
}

/// One station in the round: the one that the check's sentence speaks of.
fn round(session: &Session, check: &CheckFindings, room: Room) -> Result<Option<Exhibit>, ChartError> {
    let Some(at) = sentences::telling_place(check).map(str::to_owned) else {
        return Ok(None);
    };
    let mut visits = Vec::new();
    for found in &check.visits {
        let Some(station) = station(found, &at) else { continue };
        let (Some(profile), Some(once)) = (profile(station), found.finding(&at, "once_per_turn")) else {
            continue;
        };
        let high = station.fit.as_ref().and_then(|fit| fit.high_spot(1)).filter(|_| !once.at_floor());
        let spot = high.map_or_else(String::new, |angle| format!("; high spot at {angle:.0}°"));
        visits.push(RoundVisit {
            visit: visit(session, found),
            turns: readings(station),
            profile,
            high_spot: high,
            caption: format!("Once per turn {}{spot}", sentences::said(once)),
        });
    }
    if visits.is_empty() {
        return Ok(None);
    }
    let chart = Round {
        width_pt: if visits.len() > 2 { room.full } else { room.text },
        unit: check.unit.symbol().to_owned(),
        unit_mm: millimetres(check.unit),
        visits,
    };
    let measure = if chart.visits.len() > 2 { Measure::Full } else { Measure::Text };
    let place = if at.is_empty() { "Once per turn".to_owned() } else { format!("Once per turn at '{at}'") };
    Ok(Some(Exhibit {
        name: "round",
        svg: chart.draw_to(room.height)?,
        title: format!("{place}: {}.", values(session, check, &at, "once_per_turn")),
        caption: "The same readings round the turn, magnified, with the fitted circle and its centre."
            .to_owned(),
        measure,
    }))
}

/// The stations along the axis, where a tilt was fitted.
fn spindle(session: &Session, check: &CheckFindings, room: Room) -> Result<Option<Exhibit>, ChartError> {
    let symbol = match session.units {
        UnitSystem::Inch => "in",
        UnitSystem::Metric => "mm",
    };
    let Some(distance_unit) = Unit::known(Kind::Length, symbol) else { return Ok(None) };
    let first = check.visits.iter().find_map(details);
    if !first.is_some_and(|details| details.direction == Direction::Radial) {
        return Ok(None);
    }
    let Ok(per_unit) = Quantity::new(1.0, distance_unit).to(check.unit) else { return Ok(None) };
    let mut visits = Vec::new();
    for found in &check.visits {
        let Some(details) = details(found) else { continue };
        let Some(fitted) = details.spindle else { continue };
        let stations = details
            .stations
            .iter()
            .filter_map(|station| {
                Some(Station {
                    name: station.id.clone(),
                    distance: station.distance? / per_unit,
                    found: measured(found.finding(&station.id, "once_per_turn")?)?,
                })
            })
            .collect();
        let line = fitted.line;
        visits.push(SpindleVisit {
            visit: visit(session, found),
            stations,
            fit: Some(OffsetAndTilt {
                offset: [line.offset.0, line.offset.1],
                tilt: [line.tilt.0 * per_unit, line.tilt.1 * per_unit],
                times: 2.0,
            }),
        });
    }
    if visits.is_empty() {
        return Ok(None);
    }
    let chart = Spindle {
        width_pt: room.text,
        name: "Once per turn".to_owned(),
        unit: check.unit.symbol().to_owned(),
        distance_name: "Distance along the axis".to_owned(),
        distance_unit: symbol.to_owned(),
        visits,
        limit: None,
        range: None,
    };
    Ok(Some(Exhibit {
        name: "along",
        svg: chart.draw_to(room.height)?,
        title: format!("Tilt of the axis: {}.", values(session, check, "all stations", "tilt")),
        caption: "The once-per-turn part at each station, and the line that offset and tilt give.".to_owned(),
        measure: Measure::Text,
    }))
}
