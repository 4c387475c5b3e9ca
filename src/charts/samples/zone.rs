//! Straightness: the usual one and the extremes.

use super::super::style::State;
use super::super::zone::{Zone, ZoneVisit};
use super::super::{ChartError, Svg, Visit};
use super::{COLUMN, FULL, LONG, at_most, measured, visit};

/// Two passes at `count` positions of a line bowed up (down where `bow` is below zero). Its ends and its
/// farthest point between touch the zone, one on the other side: so it can be no narrower.
fn bowed(visit: Visit, count: u32, length: f64, bow: f64) -> ZoneVisit {
    let profile: Vec<(f64, f64)> = (0..count)
        .map(|index| {
            let share = f64::from(index) / f64::from(count - 1);
            let noise = f64::from((index * 7919) % 97) / 97.0 - 0.5;
            (length * share, bow * 4.0 * share * (1.0 - share) * (1.0 + 0.3 * noise))
        })
        .collect();
    let far =
        profile.iter().map(|point| point.1).fold(0.0, |a: f64, b| if b.abs() > a.abs() { b } else { a });
    let profile: Vec<(f64, f64)> = profile.into_iter().map(|(x, y)| (x, y - far / 2.0)).collect();
    let half = far.abs() / 2.0;
    let pass = |sign: f64| {
        let off = move |index: usize| sign * 0.08 * bow * (1.0 + (index % 4) as f64 / 2.0);
        profile.iter().enumerate().map(move |(index, (x, y))| (*x, y + off(index), false))
    };
    ZoneVisit {
        visit,
        readings: pass(1.0).chain(pass(-1.0)).collect(),
        zone: (-half, half),
        touching: profile.iter().filter(|point| point.1.abs() >= half * (1.0 - 1e-12)).copied().collect(),
        width: Some(measured(far.abs(), 0.6, &format!("{:.1} ± 0.6 thou", far.abs()))),
        profile,
    }
}

/// A fence before and after its face was lapped.
pub(in super::super) fn zone() -> Zone {
    let mut found = bowed(visit("As found", State::AsFound), 10, 900.0, 4.6);
    found.readings.push((300.0, -3.9, true));
    Zone {
        width_pt: COLUMN,
        name: "Height above the middle of its zone".to_owned(),
        unit: "thou".to_owned(),
        along_name: "Along the fence, from the front".to_owned(),
        along_unit: "mm".to_owned(),
        visits: vec![found, bowed(visit("As left", State::AsLeft), 10, 900.0, 1.2)],
        limit: Some(at_most(3.0, "at most 3 thou")),
        range: None,
    }
}

pub(super) fn extremes(all: &mut Vec<(&'static str, Result<Svg, ChartError>)>) {
    all.push(("zone", zone().draw()));
    let mut three = zone();
    three.visits = vec![bowed(visit("As found", State::AsFound), 3, 40.0, -2.0)];
    three.limit = None;
    all.push(("zone-three-points", three.draw()));
    let mut many = zone();
    many.width_pt = FULL;
    many.visits = vec![
        bowed(visit("As found", State::AsFound), 2000, 2000.0, 4.6),
        bowed(visit("As left", State::AsLeft), 2000, 1500.0, 1.2),
    ];
    many.visits[1].profile[700].1 = -4.0;
    all.push(("zone-two-thousand", many.draw()));
    let states = [State::Reference, State::AsFound, State::AsLeft];
    let mut six = zone();
    six.visits = (0..6)
        .map(|index| {
            let name = format!("Visit {} of the saw", index + 1);
            let bow = 4.0 - 0.75 * f64::from(index);
            bowed(visit(&name, states[index as usize % 3]), 8 + index, 900.0, bow)
        })
        .collect();
    six.visits[4].profile.clear();
    all.push(("zone-six", six.draw()));
    let mut cut = zone();
    cut.range = Some((-0.9, 1.9));
    all.push(("zone-beyond", cut.draw()));
    let mut cut = many;
    cut.range = Some((-1.0, 1.5));
    all.push(("zone-two-thousand-beyond", cut.draw()));
    let mut wide = zone();
    wide.limit = Some(at_most(100.0, "at most 100 thou"));
    wide.unit = "µm".to_owned();
    all.push(("zone-limit-far", wide.draw()));
    let mut flat = zone();
    for visit in &mut flat.visits {
        visit.profile.iter_mut().for_each(|point| point.1 = 0.0);
        visit.readings.iter_mut().for_each(|reading| reading.1 = 0.0);
        visit.zone = (0.0, 0.0);
        visit.touching.clear();
    }
    flat.limit = None;
    all.push(("zone-flat", flat.draw()));
    let mut long = zone();
    long.name = LONG.repeat(2);
    long.along_name = LONG.repeat(2);
    for visit in &mut long.visits {
        LONG.clone_into(&mut visit.visit.name);
        visit.width = Some(measured(1.0, 0.1, "1000000000.00 ± 12000000.00 micrometres, second set-up"));
    }
    all.push(("zone-long", long.draw()));
    long.width_pt = 150.0;
    all.push(("zone-narrow", long.draw()));
    let mut tiny = zone();
    for visit in &mut tiny.visits {
        visit.profile.iter_mut().for_each(|point| *point = (point.0 * 1e9, point.1 * 1e-9));
        visit.touching.iter_mut().for_each(|point| *point = (point.0 * 1e9, point.1 * 1e-9));
        visit.readings.iter_mut().for_each(|one| *one = (one.0 * 1e9, one.1 * 1e-9, one.2));
        visit.zone = (visit.zone.0 * 1e-9, visit.zone.1 * 1e-9);
    }
    tiny.limit = Some(at_most(3e-9, "at most 3 nm"));
    all.push(("zone-tiny", tiny.draw()));
}
