//! Claims about the heights of a line and its zone.

use proptest::prelude::*;

use super::super::style::State;
use super::super::zone::Zone;
use super::super::{ChartError, samples};
use super::drawn::{Drawn, grid_lines, open_circles, read};
use super::{any_value, is_all_inside};

fn drawn(chart: &Zone) -> Drawn {
    read(&chart.draw().expect("drawn").text)
}

fn first_only() -> Zone {
    let mut chart = samples::zone();
    chart.visits.truncate(1);
    chart.limit = None;
    chart.range = Some((-4.0, 4.0));
    chart
}

/// The level lines of a colour from the plot's grid on, as (height, left, right).
fn level(drawn: &Drawn, colour: &str) -> Vec<(f64, f64, f64)> {
    let lines = drawn.shapes.iter().filter(|(tag, own, points)| {
        tag == "polyline" && own == colour && points.len() == 2 && (points[0].1 - points[1].1).abs() < 1e-9
    });
    lines.map(|(_, _, points)| (points[0].1, points[0].0, points[1].0)).collect()
}

#[test]
fn the_zones_lines_stand_at_the_heights_given_over_the_length_of_the_line() {
    let mut chart = first_only();
    chart.visits[0].zone = (-2.5, 3.0);
    let drawn = drawn(&chart);
    let (grid, left, right) = grid_lines(&drawn);
    let (top, bottom) = (grid[0], grid[grid.len() - 1]);
    let y_of = |height: f64| bottom - (height + 4.0) / 8.0 * (bottom - top);
    // 0 to 900 mm with 1.5 % beside on either side.
    let x_of = |along: f64| left + (along + 13.5) / 927.0 * (right - left);
    let lines: Vec<_> =
        level(&drawn, "#D55E00").into_iter().filter(|line| line.0 > top && line.2 - line.1 > 50.0).collect();
    assert_eq!(lines.len(), 2, "{lines:?}");
    for (line, height) in lines.iter().zip([-2.5, 3.0]) {
        assert!((line.0 - y_of(height)).abs() < 0.06, "{line:?} is not at {height}");
        assert!((line.1 - x_of(0.0)).abs() < 0.06 && (line.2 - x_of(900.0)).abs() < 0.06, "{line:?}");
    }
    // The dimension stands between extension lines at the same heights, outside the plot.
    let arms: Vec<_> = level(&drawn, "#1A1A1A").into_iter().filter(|line| line.2 > right + 5.0).collect();
    assert_eq!(arms.len(), 2, "{arms:?}");
    for height in [-2.5, 3.0] {
        assert!(arms.iter().any(|arm| (arm.0 - y_of(height)).abs() < 0.06), "{arms:?}");
    }
}

#[test]
fn what_touches_the_zone_is_marked_at_its_place() {
    let chart = first_only();
    let drawn = drawn(&chart);
    let (grid, left, right) = grid_lines(&drawn);
    let (top, bottom) = (grid[0], grid[grid.len() - 1]);
    let marks: Vec<_> =
        open_circles(&drawn).into_iter().filter(|mark| mark.1 >= top && mark.1 <= bottom).collect();
    let touching = &chart.visits[0].touching;
    assert_eq!((marks.len(), touching.len()), (3, 3));
    for (mark, (along, height)) in marks.iter().zip(touching) {
        assert!((mark.0 - (left + (along + 13.5) / 927.0 * (right - left))).abs() < 0.06, "{mark:?}");
        assert!((mark.1 - (bottom - (height + 4.0) / 8.0 * (bottom - top))).abs() < 0.06, "{mark:?}");
    }
}

#[test]
fn before_and_after_share_one_scale() {
    let mut chart = samples::zone();
    chart.visits[0].zone = (-2.0, 2.0);
    chart.visits[1].zone = (-1.0, 1.0);
    let drawn = drawn(&chart);
    let extent = |colour: &str| {
        let lines: Vec<_> =
            level(&drawn, colour).into_iter().filter(|line| line.2 - line.1 > 200.0).collect();
        assert_eq!(lines.len(), 2, "{lines:?}");
        ((lines[0].0 - lines[1].0).abs(), lines[0].1, lines[0].2)
    };
    let (found, left) = (extent("#D55E00"), extent("#0072B2"));
    assert!((found.0 / left.0 - 2.0).abs() < 0.02, "{found:?} {left:?}");
    assert!((found.1 - left.1).abs() < 0.06 && (found.2 - left.2).abs() < 0.06, "{found:?} {left:?}");
    let (heights, ..) = grid_lines(&drawn);
    assert_eq!(heights.len() % 2, 0, "the same ticks in both panels");
}

#[test]
fn the_limit_is_a_pair_of_lines_half_its_width_from_zero_hatched_beyond() {
    let mut chart = first_only();
    chart.limit = Some(samples::at_most(3.0, "at most 3 thou"));
    let drawn = drawn(&chart);
    let (grid, ..) = grid_lines(&drawn);
    let (top, bottom) = (grid[0], grid[grid.len() - 1]);
    let y_of = |height: f64| bottom - (height + 4.0) / 8.0 * (bottom - top);
    let edges: Vec<f64> = level(&drawn, "#6E6E6E").into_iter().map(|line| line.0).collect();
    assert_eq!(edges.len(), 2);
    assert!((edges[0] - y_of(-1.5)).abs() < 0.06 && (edges[1] - y_of(1.5)).abs() < 0.06, "{edges:?}");
    let hatch: Vec<f64> = drawn
        .shapes
        .iter()
        .filter(|(_, colour, points)| colour == "#B4B4B4" && points[0].1 <= bottom + 0.01)
        .flat_map(|(_, _, points)| points.iter().map(|point| point.1))
        .collect();
    assert!(hatch.iter().any(|y| *y < y_of(1.5)) && hatch.iter().any(|y| *y > y_of(-1.5)));
    assert!(hatch.iter().all(|y| *y <= y_of(1.5) + 0.06 || *y >= y_of(-1.5) - 0.06), "{hatch:?}");
}

#[test]
fn a_spike_among_two_thousand_positions_is_not_lost() {
    let mut chart = first_only();
    let visit = &mut chart.visits[0];
    visit.profile = (0..2000).map(|index| (f64::from(index), 0.1 * f64::from(index % 2))).collect();
    visit.profile[777].1 = 3.5;
    visit.readings = visit.profile.iter().map(|(along, _)| (*along, 0.0, false)).collect();
    visit.touching.clear();
    let drawn = drawn(&chart);
    let (grid, ..) = grid_lines(&drawn);
    let (top, bottom) = (grid[0], grid[grid.len() - 1]);
    let line = drawn
        .shapes
        .iter()
        .filter(|(tag, colour, _)| tag == "polyline" && colour == "#D55E00")
        .max_by_key(|(_, _, points)| points.len())
        .map(|(_, _, points)| points)
        .expect("the profile");
    assert!(line.len() < 2000, "no more points than can be seen: {}", line.len());
    let highest = line.iter().map(|point| point.1).fold(f64::INFINITY, f64::min);
    assert!((highest - (bottom - 7.5 / 8.0 * (bottom - top))).abs() < 0.06, "{highest}");
    // Crowded readings are no dots.
    let dots = drawn.shapes.iter().filter(|(tag, ..)| tag == "circle").count();
    assert!(dots < 10, "{dots}");
}

#[test]
fn a_struck_reading_is_a_cross_and_a_visit_without_heights_says_so() {
    let mut chart = samples::zone();
    let words = |chart: &Zone| drawn(chart).words.into_iter().map(|word| word.words).collect::<Vec<_>>();
    assert!(words(&chart).contains(&"struck".to_owned()));
    assert!(!words(&chart).contains(&"not read".to_owned()));
    chart.visits[0].readings.iter_mut().for_each(|reading| reading.2 = false);
    chart.visits[1].profile.clear();
    assert!(!words(&chart).contains(&"struck".to_owned()));
    assert!(words(&chart).contains(&"not read".to_owned()));
}

#[test]
fn what_cannot_be_drawn_is_refused() {
    let mut chart = samples::zone();
    chart.visits[0].profile[2].1 = f64::NAN;
    assert_eq!(chart.draw(), Err(ChartError::NotFinite("a height".to_owned())));
    let mut chart = samples::zone();
    chart.visits[1].zone.0 = f64::NEG_INFINITY;
    assert_eq!(chart.draw(), Err(ChartError::NotFinite("a line of a zone".to_owned())));
    let mut chart = samples::zone();
    chart.visits[0].readings[0].0 = f64::NAN;
    assert_eq!(chart.draw(), Err(ChartError::NotFinite("a position along the line".to_owned())));
    let mut chart = samples::zone();
    chart.visits.clear();
    assert_eq!(chart.draw(), Err(ChartError::Nothing("no height is finite")));
    let mut chart = samples::zone();
    chart.width_pt = 70.0;
    assert_eq!(chart.draw(), Err(ChartError::TooNarrow { width_pt: 70.0 }));
    // A reading that is no number is only not drawn.
    let mut chart = samples::zone();
    chart.visits[0].readings[0].1 = f64::NAN;
    assert!(chart.draw().is_ok());
}

#[test]
fn a_reference_is_told_from_the_others_by_its_dashes() {
    let mut chart = first_only();
    let dashes = |chart: &Zone, state: State| {
        let colour = state.colour();
        let colour = format!("#{:02X}{:02X}{:02X}", colour.0, colour.1, colour.2);
        drawn(chart).shapes.iter().filter(|(tag, own, _)| tag == "polyline" && *own == colour).count()
    };
    let solid = dashes(&chart, State::AsFound);
    chart.visits[0].visit.state = State::Reference;
    assert!(dashes(&chart, State::Reference) > 10 * solid);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn whatever_the_heights_a_zone_is_drawn_inside_its_sheet_or_refused(
        values in proptest::collection::vec((any_value(), any_value(), any::<bool>()), 0..12),
        zone in any_value(), width in any_value(), edge in any_value(), width_pt in 60.0..600.0,
        range in proptest::option::of((any_value(), any_value())),
    ) {
        let mut chart = samples::zone();
        chart.width_pt = width_pt;
        chart.limit = Some(samples::at_most(edge, "at most so much"));
        chart.range = range;
        chart.visits[1].zone = (-zone, zone);
        chart.visits[1].width = Some(samples::measured(width, 0.1, "so much ± a little"));
        chart.visits[1].readings = values.clone();
        if let Ok(svg) = chart.draw() {
            prop_assert!(is_all_inside(&svg.text));
        }
        chart.visits[0].profile = values.iter().map(|value| (value.0, value.1)).collect();
        chart.visits[0].touching = chart.visits[0].profile.clone();
        if let Ok(svg) = chart.draw() {
            prop_assert!(is_all_inside(&svg.text));
        }
    }
}
