//! Courses over time: a usual run, a recording, one reading, many visits.

use super::super::curve::{Course, Curves, Panel, Speeds, TimedReading};
use super::super::style::State;
use super::super::{ChartError, Svg};
use super::{FULL, LONG, at_most, both, visit};

fn reading(time: f64, value: f64) -> TimedReading {
    TimedReading { time, value, low: value, high: value, struck: false, fresh: false }
}

fn course(state: State, name: &str, rise: f64, count: u32, step: f64) -> Course {
    let at = |time: f64| 66.0 + rise * (1.0 - (-time / 7.0).exp());
    let readings: Vec<TimedReading> =
        (0..count).map(|index| reading(step * f64::from(index), at(step * f64::from(index)))).collect();
    let end = step * f64::from(count.saturating_sub(1));
    Course {
        visit: visit(name, state),
        readings,
        fits: vec![(0..=20).map(|k| end * f64::from(k) / 20.0).map(|time| (time, at(time) + 0.2)).collect()],
        ambient: vec![(0.0, 66.0), (end, 67.0)],
    }
}

fn panel(name: &str, rise: f64) -> Panel {
    Panel {
        name: name.to_owned(),
        courses: vec![
            course(State::AsFound, "As found", rise, 16, 2.0),
            course(State::AsLeft, "As left", 0.6 * rise, 13, 2.0),
        ],
    }
}

/// Two places before and after over one schedule.
pub(in super::super) fn curves() -> Curves {
    let steps = vec![(0.0, 1000.0), (4.0, 2000.0), (12.0, 1000.0)];
    let speeds = both().into_iter().map(|visit| Speeds { visit, steps: steps.clone(), until: 30.0 });
    let mut chart = Curves {
        width_pt: FULL,
        name: "Temperature".to_owned(),
        unit: "°F".to_owned(),
        time_name: "Time, min".to_owned(),
        panels: vec![panel("arbor bearing", 60.0), panel("motor", 25.0)],
        speeds: speeds.collect(),
        speed_name: "Speed, rpm".to_owned(),
        limit: Some(at_most(120.0, "at most 120 °F")),
        range: None,
        time_range: None,
    };
    chart.panels[0].courses[0].readings[5].struck = true;
    chart
}

/// A recording of many samples whose spikes must stay.
pub(in super::super) fn recording() -> Curves {
    let mut chart = curves();
    chart.panels.truncate(1);
    chart.panels[0].courses.truncate(1);
    let course = &mut chart.panels[0].courses[0];
    course.readings = (0..1000)
        .map(|index| {
            let time = 0.03 * f64::from(index);
            let value = 66.0 + 50.0 * (1.0 - (-time / 7.0).exp());
            let spike = if index == 700 { 40.0 } else { 0.4 };
            TimedReading {
                low: value - 0.4,
                high: value + spike,
                fresh: index == 400,
                ..reading(time, value)
            }
        })
        .collect();
    chart
}

pub(super) fn extremes(all: &mut Vec<(&'static str, Result<Svg, ChartError>)>) {
    all.push(("curves", curves().draw()));
    all.push(("curves-recording", recording().draw()));
    let mut three = curves();
    three.panels.push(panel("gearbox, drive side", 10.0));
    three.speeds[1].steps = vec![(0.0, 1500.0), (10.0, 3450.0)];
    all.push(("curves-three", three.draw()));
    let mut bare = curves();
    bare.speeds.clear();
    bare.limit = None;
    bare.panels.truncate(1);
    bare.panels[0].courses.truncate(1);
    bare.panels[0].courses[0].readings.truncate(1);
    bare.panels[0].courses[0].fits.clear();
    bare.panels[0].courses[0].ambient.clear();
    all.push(("curves-one", bare.draw()));
    let mut many = curves();
    many.panels.truncate(1);
    let one = many.panels[0].courses[0].clone();
    many.panels[0].courses = (0..9).map(|_| one.clone()).collect();
    for (index, course) in many.panels[0].courses.iter_mut().enumerate() {
        course.visit.name = if index == 4 { LONG.to_owned() } else { format!("Visit {index}") };
    }
    all.push(("curves-many", many.draw()));
    let mut cut = curves();
    cut.range = Some((70.0, 90.0));
    all.push(("curves-beyond", cut.draw()));
    let mut still = curves();
    for speeds in &mut still.speeds {
        speeds.steps = vec![(0.0, 0.0)];
    }
    all.push(("curves-still", still.draw()));
}
