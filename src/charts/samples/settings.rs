//! Numbers against their settings: speeds and stocks, few and many.

use super::super::settings::{Along, Found, SettingPoint, Settings, SettingsVisit};
use super::super::style::State;
use super::super::{ChartError, Reading, Svg};
use super::{COLUMN, LONG, at_most, both, measured, visit};

pub(in crate::charts) fn point(at: f64, value: f64, half: f64) -> SettingPoint {
    let found = Some(Found::Value(measured(value, half, "")));
    SettingPoint { at, found, readings: Vec::new(), remark: None }
}

fn visits(points: [Vec<SettingPoint>; 2]) -> Vec<SettingsVisit> {
    both().into_iter().zip(points).map(|(visit, points)| SettingsVisit { visit, points }).collect()
}

/// Levels at speeds: not all were read at both visits, and one has only a bound.
pub(in crate::charts) fn settings() -> Settings {
    let mut found = vec![point(3450.0, 88.1, 1.2), point(1000.0, 71.3, 1.1), point(2000.0, 79.6, 1.1)];
    found.push(point(4000.0, 92.0, 1.3));
    let mut left = vec![point(1500.0, 70.0, 1.1), point(2000.0, 74.2, 1.1), point(3450.0, 83.0, 1.1)];
    left.push(SettingPoint {
        found: Some(Found::AtMost(66.4, "at most 66.4 dBA".to_owned())),
        ..point(1000.0, 0.0, 0.0)
    });
    Settings {
        width_pt: COLUMN,
        name: "Level".to_owned(),
        unit: "dBA".to_owned(),
        along: Along::Numbers { name: "Speed".to_owned(), unit: "rpm".to_owned() },
        visits: visits([found, left]),
        limit: Some(at_most(85.0, "at most 85 dBA")),
        from_zero: false,
        range: None,
    }
}

/// Droop in two stocks, with single readings, a struck one and a remark.
pub(in crate::charts) fn stocks() -> Settings {
    let reading = |value: f64, struck: bool| Reading { value, struck };
    let mut found = vec![point(0.0, 13.2, 3.1), point(1.0, 7.9, 1.4)];
    found[0].readings = vec![reading(12.9, false), reading(13.6, false), reading(17.0, true)];
    found[0].remark = Some("As found: 1 of 3 runs stalled".to_owned());
    let mut left = vec![point(0.0, 9.1, 1.9), point(1.0, 6.0, 1.2)];
    left[1].readings = vec![reading(5.8, false), reading(6.2, false)];
    left.push(SettingPoint {
        found: None,
        readings: vec![reading(11.0, false)],
        remark: Some("As left: both runs stalled".to_owned()),
        ..point(2.0, 0.0, 0.0)
    });
    Settings {
        name: "Droop".to_owned(),
        unit: "%".to_owned(),
        along: Along::Names(["red oak", "pine", "hard maple"].map(str::to_owned).to_vec()),
        visits: visits([found, left]),
        limit: Some(at_most(12.0, "at most 12 %")),
        from_zero: true,
        ..settings()
    }
}

/// As many visits and settings as there may be.
fn crowd(count: u32, visit_count: u32, names: bool) -> Settings {
    let states = [State::AsFound, State::AsLeft, State::Reference];
    let value = |index: u32, of: u32| f64::from((index * 37 + of * 11) % 50) + f64::from(index);
    let points = |of: u32| {
        let one = |index: u32| {
            let at = if names { f64::from(index) } else { 500.0 + 100.0 * f64::from(index) };
            let mut point = point(at, value(index, of), 4.0);
            if (index + of) % 9 == 8 {
                point.found = Some(Found::AtLeast(value(index, of), "at least so much".to_owned()));
            }
            point
        };
        (0..count).map(one).collect()
    };
    let along = if names {
        Along::Names((0..count).map(|index| format!("stock number {index}")).collect())
    } else {
        settings().along
    };
    Settings {
        visits: (0..visit_count)
            .map(|of| SettingsVisit {
                visit: visit(&format!("Visit {} of the saw", of + 1), states[of as usize % 3]),
                points: points(of),
            })
            .collect(),
        along,
        limit: None,
        ..settings()
    }
}

pub(super) fn extremes(all: &mut Vec<(&'static str, Result<Svg, ChartError>)>) {
    all.push(("settings", settings().draw()));
    all.push(("settings-stocks", stocks().draw()));
    all.push(("settings-forty", crowd(40, 6, false).draw()));
    all.push(("settings-forty-names", crowd(40, 6, true).draw()));
    all.push(("settings-six-names", crowd(6, 6, true).draw()));
    let mut one = settings();
    for visit in &mut one.visits {
        visit.points.truncate(1);
    }
    one.visits[1].points[0].at = 3450.0;
    all.push(("settings-one", one.draw()));
    let mut one = stocks();
    one.along = Along::Names(vec!["red oak".to_owned()]);
    one.visits.truncate(1);
    one.visits[0].points.truncate(1);
    all.push(("settings-one-name", one.draw()));
    let mut long = stocks();
    LONG.repeat(2).clone_into(&mut long.name);
    long.along = Along::Names(vec![LONG.to_owned(), "主軸 <b>\u{202e}&\u{0}אבג".to_owned(), LONG.repeat(4)]);
    for visit in &mut long.visits {
        LONG.clone_into(&mut visit.visit.name);
        visit.points[0].remark = Some(LONG.to_owned());
    }
    all.push(("settings-long", long.draw()));
    let mut cut = settings();
    cut.range = Some((75.0, 90.0));
    all.push(("settings-beyond", cut.draw()));
    let mut cut = crowd(40, 6, false);
    cut.range = Some((30.0, 50.0));
    all.push(("settings-forty-beyond", cut.draw()));
    let mut bounds = settings();
    bounds.limit = None;
    for (index, point) in bounds.visits.iter_mut().flat_map(|visit| visit.points.iter_mut()).enumerate() {
        let words = format!("at most {index} dBA");
        point.found = Some(Found::AtMost(50.0, words));
    }
    all.push(("settings-bounds", bounds.draw()));
    let mut huge = settings();
    for point in huge.visits.iter_mut().flat_map(|visit| visit.points.iter_mut()) {
        point.at *= 1e7;
        point.found = Some(Found::Value(measured(-1e9 * point.at, 1e6, "")));
    }
    all.push(("settings-huge", huge.draw()));
}
