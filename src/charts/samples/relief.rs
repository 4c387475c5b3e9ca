//! Surfaces in plan: few places and many, with and without holes, on a grid and scattered.

use super::super::relief::{Relief, ReliefPoint, ReliefVisit};
use super::super::{ChartError, Svg};
use super::{COLUMN, FULL, LONG, both};

/// A grid of places, `apart` mm from each other, with a height at each row and column.
pub(in crate::charts) fn grid(
    rows: u32,
    columns: u32,
    apart: f64,
    height: impl Fn(f64, f64) -> Option<f64>,
) -> Vec<ReliefPoint> {
    let share = |index: u32, count: u32| f64::from(index) / f64::from(count.max(2) - 1);
    let cell = |row: u32, column: u32| (usize::try_from(row).ok()).zip(usize::try_from(column).ok());
    let places = (0..rows).flat_map(|row| (0..columns).map(move |column| (row, column)));
    places
        .map(|(row, column)| ReliefPoint {
            x: apart * f64::from(column),
            y: apart * f64::from(row),
            height: height(share(column, columns), share(row, rows)),
            cell: cell(row, column),
        })
        .collect()
}

fn chart(points: [Vec<ReliefPoint>; 2], captions: [&str; 2]) -> Relief {
    let visits = both().into_iter().zip(points).zip(captions);
    Relief {
        width_pt: COLUMN,
        name: "Height above the middle of its zone".to_owned(),
        unit: "thou".to_owned(),
        length_unit: "mm".to_owned(),
        visits: visits
            .map(|((visit, points), caption)| ReliefVisit { visit, points, caption: caption.to_owned() })
            .collect(),
        range: None,
    }
}

/// Nine places before and after.
pub(in crate::charts) fn relief() -> Relief {
    let of = |heights: [f64; 9], apart: f64| {
        let mut points = grid(3, 3, apart, |_, _| None);
        for (point, height) in points.iter_mut().zip(heights) {
            point.y *= 0.7;
            point.height = Some(height);
        }
        points
    };
    chart(
        [
            of([-1.9, 0.4, 3.1, -2.4, -0.2, 2.0, -1.1, 0.9, 1.6], 320.0),
            of([-0.6, 0.1, 0.7, -0.4, 0.0, 0.5, -0.8, 0.3, 0.2], 320.0),
        ],
        ["Flat within 5.5 ± 0.6 thou", "Flat within 1.5 ± 0.6 thou"],
    )
}

/// A table with a slot across it: a row without heights but at its ends.
fn slotted() -> Relief {
    let surface = |size: f64| {
        move |x: f64, y: f64| {
            let is_slot = (y - 0.5).abs() < 0.01 && x > 0.2 && x < 0.8;
            let height = size * ((x - 0.4).powi(2) * 9.0 - 2.0 + y - (6.0 * x * y).sin());
            (!is_slot).then_some(height)
        }
    };
    chart(
        [grid(7, 9, 100.0, surface(1.6)), grid(7, 9, 100.0, surface(0.5))],
        ["Flat within 7.2 ± 0.9 thou", "Flat within 2.2 ± 0.9 thou"],
    )
}

/// Twelve places anywhere.
fn scattered() -> Relief {
    let points = |size: f64| {
        (0..12u32)
            .map(|index| {
                let (x, y) = (f64::from(index) / 11.0, f64::from(index * 7 % 12) / 11.0);
                let height = Some(size * (x - y + 0.3 * (9.0 * x).sin()));
                ReliefPoint { x: 900.0 * x, y: 600.0 * y, height, cell: None }
            })
            .collect::<Vec<_>>()
    };
    chart([points(0.08), points(0.03)], ["", "Flat within 0.04 mm"])
}

/// Ten thousand readings a visit, with noise.
pub(in crate::charts) fn many() -> Relief {
    let surface = |size: f64| {
        move |x: f64, y: f64| {
            let noise = ((x * 12_989.8 + y * 78_233.0).sin() * 43_758.5).fract();
            Some(size * ((5.0 * x).sin() + (7.0 * y).cos() + 0.4 * noise))
        }
    };
    chart([grid(100, 100, 8.0, surface(3.0)), grid(100, 100, 8.0, surface(1.0))], ["", ""])
}

pub(super) fn extremes(all: &mut Vec<(&'static str, Result<Svg, ChartError>)>) {
    all.push(("relief", relief().draw()));
    all.push(("relief-slot", slotted().draw()));
    all.push(("relief-scattered", scattered().draw()));
    all.push(("relief-many", many().draw()));
    let mut loose = many();
    loose.visits.iter_mut().flat_map(|visit| &mut visit.points).for_each(|point| point.cell = None);
    all.push(("relief-many-scattered", loose.draw()));
    let mut one = slotted();
    one.visits.truncate(1);
    one.width_pt = FULL;
    all.push(("relief-one", one.draw()));
    let mut six = slotted();
    six.visits = [0, 1, 0, 1, 1, 0].iter().map(|index| six.visits[*index].clone()).collect();
    six.visits[4].points.iter_mut().for_each(|point| point.height = None);
    all.push(("relief-six", six.draw()));
    six.width_pt = FULL;
    all.push(("relief-six-wide", six.draw()));
    let mut long = relief();
    LONG.repeat(2).clone_into(&mut long.name);
    for visit in &mut long.visits {
        LONG.repeat(2).clone_into(&mut visit.visit.name);
        "主軸 <b>\u{202e}&\u{0}אבג ".repeat(9).clone_into(&mut visit.caption);
    }
    all.push(("relief-long", long.draw()));
    let mut strip = slotted();
    strip.visits.iter_mut().flat_map(|visit| &mut visit.points).for_each(|point| point.y *= 0.1);
    all.push(("relief-strip", strip.draw()));
    strip.visits.iter_mut().flat_map(|visit| &mut visit.points).for_each(|point| {
        (point.x, point.y) = (point.y, point.x * 3.0);
    });
    all.push(("relief-tower", strip.draw()));
    let mut level = relief();
    level.visits.iter_mut().flat_map(|visit| &mut visit.points).for_each(|point| point.height = Some(1.9));
    all.push(("relief-level", level.draw()));
    let mut two = relief();
    two.visits.iter_mut().for_each(|visit| visit.points.truncate(2));
    all.push(("relief-two", two.draw()));
    let mut line = relief();
    line.visits.truncate(1);
    line.visits[0].points.truncate(1);
    all.push(("relief-point", line.draw()));
    let mut cut = relief();
    cut.range = Some((-1.0, 1.0));
    all.push(("relief-beyond", cut.draw()));
    let mut huge = slotted();
    for point in huge.visits.iter_mut().flat_map(|visit| &mut visit.points) {
        (point.x, point.y) = (1e9 * point.x, 1e9 * point.y);
        point.height = point.height.map(|height| 1e-9 * height);
    }
    all.push(("relief-huge", huge.draw()));
}
