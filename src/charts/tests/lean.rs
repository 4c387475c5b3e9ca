//! Claims about lines that lean away from a reference.

use proptest::prelude::*;

use super::super::lean::Lean;
use super::super::{Bound, ChartError, Reading, samples};
use super::drawn::{Drawn, grid_lines, open_circles, read};
use super::{any_value, is_all_inside};

fn drawn(chart: &Lean) -> Drawn {
    read(&chart.draw().expect("drawn").text)
}

/// The plot of a chart over −4 to 8 whose farthest line ends at 300: places of distance and departure.
struct Plot {
    top: f64,
    bottom: f64,
    left: f64,
    right: f64,
    /// Room right of the farthest end.
    room: f64,
}

impl Plot {
    fn of(drawn: &Drawn, visits: u32) -> Self {
        let (grid, left, right) = grid_lines(drawn);
        let room = 6.0 + 5.0 * f64::from(visits);
        Self { top: grid[0], bottom: grid[grid.len() - 1], left, right, room }
    }

    fn at(&self, along: f64, departure: f64) -> (f64, f64) {
        let x = self.left + along / 300.0 * (self.right - self.left - self.room);
        (x, self.bottom - (departure + 4.0) / 12.0 * (self.bottom - self.top))
    }
}

fn sample() -> Lean {
    let mut chart = samples::lean();
    chart.range = Some((-4.0, 8.0));
    chart
}

fn is_near(a: (f64, f64), b: (f64, f64)) -> bool {
    (a.0 - b.0).abs() < 0.08 && (a.1 - b.1).abs() < 0.08
}

/// The first line of a colour that starts at a place.
fn line_from(drawn: &Drawn, colour: &str, start: (f64, f64)) -> Option<Vec<(f64, f64)>> {
    let mut lines = drawn.shapes.iter().filter(|(tag, own, _)| tag == "polyline" && own == colour);
    lines.find(|(_, _, points)| is_near(points[0], start)).map(|(_, _, points)| points.clone())
}

#[test]
fn a_line_starts_at_the_reference_and_ends_at_its_own_distance() {
    let mut chart = sample();
    chart.visits[0].over = 180.0;
    let drawn = drawn(&chart);
    let plot = Plot::of(&drawn, 2);
    for (colour, along, departure) in [("#D55E00", 180.0, 5.0), ("#0072B2", 300.0, -0.8)] {
        let line = line_from(&drawn, colour, plot.at(0.0, 0.0)).expect("a line from the origin");
        assert!(is_near(line[1], plot.at(along, departure)), "{line:?} {:?}", plot.at(along, departure));
    }
    let marks = open_circles(&drawn);
    assert_eq!(marks.len(), 1);
    assert!(is_near(marks[0], plot.at(180.0, 5.0)), "{marks:?}");
}

#[test]
fn the_uncertainty_is_a_wedge_from_the_origin_with_its_whisker_at_the_end() {
    let drawn = drawn(&sample());
    let plot = Plot::of(&drawn, 2);
    let wedge = drawn
        .shapes
        .iter()
        .find(|(tag, _, points)| tag == "polygon" && is_near(points[0], plot.at(0.0, 0.0)))
        .map(|(_, _, points)| points)
        .expect("a wedge");
    for departure in [5.8, 4.2] {
        assert!(wedge.iter().any(|point| is_near(*point, plot.at(300.0, departure))), "{wedge:?}");
    }
    let whisker = line_from(&drawn, "#D55E00", plot.at(300.0, 4.2)).expect("a whisker");
    assert!(is_near(whisker[1], plot.at(300.0, 5.8)), "{whisker:?}");
}

#[test]
fn whiskers_of_one_distance_do_not_lie_on_each_other() {
    let mut chart = sample();
    chart.visits[0].found.value = 0.4;
    let drawn = drawn(&chart);
    let plot = Plot::of(&drawn, 2);
    let (end, _) = plot.at(300.0, 0.0);
    let upright = |colour: &str| {
        let mut lines = drawn.shapes.iter().filter(|(_, own, points)| own == colour && points.len() == 2);
        let found = lines.find(|(_, _, p)| (p[0].0 - p[1].0).abs() < 1e-9 && (p[0].0 - end).abs() < 4.0);
        found.map(|(_, _, points)| points[0].0).expect("a whisker")
    };
    let (found, left) = (upright("#D55E00"), upright("#0072B2"));
    assert!(left - found > 1.5, "{found} {left}");
    assert!((f64::midpoint(found, left) - end).abs() < 0.08, "{found} {left} about {end}");
}

#[test]
fn a_limit_is_a_wedge_from_the_origin_hatched_beyond() {
    let mut chart = sample();
    // 1 thou over 100 mm is 3 over 300.
    chart.limit = Some((samples::at_most(1.0, "at most 1 thou over 100 mm"), 100.0));
    let drawn = drawn(&chart);
    let plot = Plot::of(&drawn, 2);
    let origin = plot.at(0.0, 0.0);
    let slope = (plot.at(300.0, 3.0).1 - origin.1) / (plot.at(300.0, 3.0).0 - origin.0);
    let edges: Vec<_> = drawn
        .shapes
        .iter()
        .filter(|(tag, colour, points)| {
            tag == "polyline" && colour == "#6E6E6E" && is_near(points[0], origin)
        })
        .map(|(_, _, points)| (points[1].1 - origin.1) / (points[1].0 - origin.0))
        .collect();
    for sign in [1.0, -1.0] {
        assert!(edges.iter().any(|edge| (edge - sign * slope).abs() < 0.002), "{edges:?} {slope}");
    }
    let hatch: Vec<(f64, f64)> = drawn
        .shapes
        .iter()
        .filter(|(_, colour, points)| colour == "#B4B4B4" && points[0].1 <= plot.bottom + 0.01)
        .flat_map(|(_, _, points)| points.iter().copied())
        .collect();
    let beyond = |point: &(f64, f64), sign: f64| {
        // Down the page is positive: the upper side lies at or above its edge.
        sign * (point.1 - (origin.1 + sign * slope * (point.0 - origin.0)))
    };
    assert!(hatch.len() > 40);
    assert!(hatch.iter().all(|point| beyond(point, 1.0) <= 0.1 || beyond(point, -1.0) <= 0.1), "{hatch:?}");
    assert!(hatch.iter().any(|point| beyond(point, 1.0) < -5.0));
    assert!(hatch.iter().any(|point| beyond(point, -1.0) < -5.0));
}

#[test]
fn a_limit_to_one_side_forbids_only_the_other() {
    let mut chart = sample();
    chart.limit = Some((samples::limit(Bound::AtLeast(-1.0), "at least −1 thou"), 300.0));
    let drawn = drawn(&chart);
    let plot = Plot::of(&drawn, 2);
    let zero = plot.at(0.0, 0.0).1;
    let hatch = drawn.shapes.iter().filter(|(_, colour, _)| colour == "#B4B4B4");
    let points: Vec<_> = hatch.flat_map(|(_, _, points)| points).collect();
    assert!(!points.is_empty() && points.iter().all(|point| point.1 >= zero - 0.06));
}

#[test]
fn single_readings_stand_beside_the_end_at_their_departures() {
    let mut chart = sample();
    chart.visits.truncate(1);
    chart.visits[0].readings =
        [(4.0, false), (6.5, false), (7.5, true)].map(|(value, struck)| Reading { value, struck }).to_vec();
    let drawn = drawn(&chart);
    let plot = Plot::of(&drawn, 1);
    let (x, _) = plot.at(300.0, 0.0);
    let dots: Vec<_> = drawn
        .shapes
        .iter()
        .filter(|(tag, _, points)| tag == "circle" && points[1].0 > x + 3.0 && points[1].0 < plot.right)
        .filter(|(_, _, points)| points[1].1 < plot.bottom)
        .map(|(_, _, points)| points[1])
        .collect();
    assert_eq!(dots.len(), 2, "a struck reading is no dot: {dots:?}");
    for (dot, departure) in dots.iter().zip([4.0, 6.5]) {
        assert!(is_near(*dot, (x + 6.0, plot.at(0.0, departure).1)), "{dot:?}");
    }
}

#[test]
fn how_much_too_steep_it_is_drawn_follows_from_the_two_scales() {
    let said = |chart: &Lean| {
        let words = drawn(chart).words.into_iter().map(|word| word.words);
        words.filter(|words| words.contains("as steep as it is")).collect::<Vec<_>>()
    };
    let mut chart = sample();
    let plot = Plot::of(&drawn(&chart), 2);
    // A slope of one in a hundred is 3 mm over 300 mm: 118.11 thou.
    let (origin, end) = (plot.at(0.0, 0.0), plot.at(300.0, 3.0 / 0.0254));
    let times = (origin.1 - end.1) / (end.0 - origin.0) / 0.01;
    let words = said(&chart);
    let number: f64 = words[0].split_whitespace().find_map(|word| word.parse().ok()).expect("a number");
    assert!((number / times - 1.0).abs() < 0.05, "{words:?} is not {times}");
    chart.unit_per_along = None;
    assert!(said(&chart).is_empty());
}

#[test]
fn each_line_is_named_with_its_value_at_its_end_and_so_is_the_reference() {
    let drawn = drawn(&sample());
    let plot = Plot::of(&drawn, 2);
    for words in ["As found", "5.0 ± 0.8 thou", "As left", "the slot", "at most 2 thou"] {
        let word = drawn.words.iter().find(|word| word.words == words);
        assert!(word.is_some_and(|word| word.left > plot.right), "{words}");
    }
}

#[test]
fn what_cannot_be_drawn_is_refused() {
    let mut chart = sample();
    chart.visits[0].over = 0.0;
    assert!(matches!(chart.draw(), Err(ChartError::Nothing(_))));
    chart.visits[0].over = f64::NAN;
    assert_eq!(chart.draw(), Err(ChartError::NotFinite("a distance".to_owned())));
    let mut chart = sample();
    chart.visits[0].found.value = f64::INFINITY;
    assert_eq!(chart.draw(), Err(ChartError::NotFinite("a departure".to_owned())));
    let mut chart = sample();
    chart.limit = Some((samples::at_most(1.0, "at most 1 thou"), 0.0));
    assert!(chart.draw().is_err());
    let mut chart = sample();
    chart.visits.clear();
    assert_eq!(chart.draw(), Err(ChartError::Nothing("no visit")));
    let mut chart = sample();
    chart.width_pt = 120.0;
    assert_eq!(chart.draw(), Err(ChartError::TooNarrow { width_pt: 120.0 }));
    // A reading that is no number is only not drawn.
    let mut chart = sample();
    chart.visits[0].readings[0].value = f64::NAN;
    assert!(chart.draw().is_ok());
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn whatever_was_found_a_lean_is_drawn_inside_its_sheet_or_refused(
        values in proptest::collection::vec((any_value(), any::<bool>()), 0..12),
        found in any_value(), half in any_value(), over in any_value(), edge in any_value(),
        limit_over in any_value(), factor in any_value(), width_pt in 60.0..600.0,
        range in proptest::option::of((any_value(), any_value())),
    ) {
        let mut chart = samples::lean();
        chart.width_pt = width_pt;
        chart.range = range;
        chart.visits[0].found = samples::measured(found, half.abs(), "so much over so far");
        chart.visits[1].readings =
            values.iter().map(|(value, struck)| Reading { value: *value, struck: *struck }).collect();
        chart.limit = Some((samples::limit(Bound::Between(edge, found), "between"), 100.0));
        if let Ok(svg) = chart.draw() {
            prop_assert!(is_all_inside(&svg.text));
        }
        chart.limit = Some((samples::at_most(edge, "at most so much"), limit_over.abs()));
        chart.visits[1].over = over.abs();
        chart.unit_per_along = Some(factor.abs());
        if let Ok(svg) = chart.draw() {
            prop_assert!(is_all_inside(&svg.text));
        }
    }
}
