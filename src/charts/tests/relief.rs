//! Claims about the plan of a surface.

use proptest::prelude::*;

use super::super::relief::{Relief, ReliefPoint};
use super::super::{ChartError, samples};
use super::drawn::{Drawn, read};
use super::{any_value, is_all_inside};

type Place = (f64, f64);

fn drawn(chart: &Relief) -> Drawn {
    read(&chart.draw().expect("drawn").text)
}

/// Whether a filled outline holds a place (by crossings; a slit is crossed twice).
fn is_within(outline: &[Place], (x, y): Place) -> bool {
    let edges = outline.iter().zip(outline.iter().cycle().skip(1));
    let crossed =
        edges.filter(|(a, b)| (a.1 > y) != (b.1 > y) && x < a.0 + (y - a.1) / (b.1 - a.1) * (b.0 - a.0));
    crossed.count() % 2 == 1
}

/// The shade that is seen at a place; `None` for paper.
fn shade_at(drawn: &Drawn, place: Place) -> Option<String> {
    let fills = drawn.shapes.iter().filter(|(tag, _, points)| tag == "polygon" && is_within(points, place));
    fills.map(|(_, colour, _)| colour.clone()).next_back().filter(|colour| colour != "#FFFFFF")
}

/// The places read, in the order in which they were given, of all visits.
fn dots(drawn: &Drawn) -> Vec<Place> {
    let dots = drawn.shapes.iter().filter(|(tag, colour, _)| tag == "circle" && colour == "#1A1A1A");
    dots.map(|(_, _, points)| points[1]).collect()
}

/// The centres of the marks of the highest places and of the lowest, those of the keys last.
fn peaks(drawn: &Drawn) -> (Vec<Place>, Vec<Place>) {
    let marks = drawn
        .shapes
        .iter()
        .filter(|(tag, colour, points)| tag == "polygon" && colour == "#1A1A1A" && points.len() <= 4);
    let (up, down): (Vec<_>, Vec<_>) = marks.partition(|(_, _, points)| points[0].1 < points[1].1);
    let centre = |(_, _, points): &(String, String, Vec<Place>)| {
        let sum = points[..3].iter().fold((0.0, 0.0), |sum, point| (sum.0 + point.0, sum.1 + point.1));
        (sum.0 / 3.0, sum.1 / 3.0)
    };
    (up.into_iter().map(centre).collect(), down.into_iter().map(centre).collect())
}

fn says(drawn: &Drawn, words: &str) -> bool {
    drawn.words.iter().any(|word| word.words.contains(words))
}

fn is_near(a: Place, b: Place) -> bool {
    (a.0 - b.0).abs() < 0.1 && (a.1 - b.1).abs() < 0.1
}

fn between(a: Place, b: Place) -> Place {
    (f64::midpoint(a.0, b.0), f64::midpoint(a.1, b.1))
}

/// A chart whose one visit has some points.
fn with(points: Vec<ReliefPoint>) -> Relief {
    let mut chart = samples::relief();
    chart.visits.truncate(1);
    chart.visits[0].points = points;
    chart
}

#[test]
fn a_hole_in_the_table_stays_paper() {
    for scattered in [false, true] {
        let mut points = samples::grid(5, 5, 100.0, |x, y| ((x, y) != (0.5, 0.5)).then_some(3.0 * x + y));
        if scattered {
            for point in &mut points {
                point.cell = None;
            }
        }
        let drawn = drawn(&with(points));
        let dots = dots(&drawn);
        assert_eq!(dots.len(), 24, "the hole is no place read");
        let (left, right) = (dots[11], dots[12]);
        let hole = between(left, right);
        let share = |share: f64| (left.0 + share * (right.0 - left.0), hole.1 + 1.5);
        // From 100 to 300 mm along the middle row; the hole is at 200.
        for inside in [0.45, 0.5, 0.55] {
            assert_eq!(shade_at(&drawn, share(inside)), None, "scattered: {scattered}, {inside}");
        }
        let beside = between(dots[0], dots[6]);
        assert!(shade_at(&drawn, (beside.0 + 2.0, beside.1)).is_some(), "the table is there beside it");
    }
}

#[test]
fn a_cell_with_three_heights_is_drawn_as_one_triangle() {
    let drawn = drawn(&with(samples::grid(2, 2, 100.0, |x, y| (x * y < 1.0).then_some(x - y))));
    let dots = dots(&drawn);
    let middle = between(dots[1], dots[2]);
    assert!(shade_at(&drawn, (middle.0 - 4.0, middle.1 + 4.0)).is_some());
    assert_eq!(shade_at(&drawn, (middle.0 + 4.0, middle.1 - 4.0)), None);
}

#[test]
fn before_and_after_share_one_scale() {
    // A plane from −4 to 4 before; 1.5 all over after.
    let mut chart = samples::relief();
    chart.visits[0].points = samples::grid(3, 3, 100.0, |x, _| Some(8.0 * x - 4.0));
    chart.visits[1].points = samples::grid(3, 3, 100.0, |_, _| Some(1.5));
    let drawn = drawn(&chart);
    let dots = dots(&drawn);
    let along = |share: f64| (dots[0].0 + share * (dots[2].0 - dots[0].0), dots[0].1 - 11.0);
    let after = shade_at(&drawn, (dots[9].0 + 31.0, dots[9].1 - 11.0)).expect("the second visit is drawn");
    assert_eq!(shade_at(&drawn, along(5.5 / 8.0)), Some(after.clone()));
    for (height, is_other) in [(-3.5, true), (0.5, true), (2.5, true), (1.2, false), (1.8, false)] {
        let shade = shade_at(&drawn, along((height + 4.0) / 8.0)).expect("the first visit is drawn");
        assert_eq!(shade != after, is_other, "{height}");
    }
    // The bar says which it is: the box between 1 and 2, above its labels, below the plans.
    let label = |words: &str| {
        let found = drawn.words.iter().rfind(|word| word.words == words).expect("the bar has this label");
        (f64::midpoint(found.left, found.right), found.top - 5.0)
    };
    assert_eq!(shade_at(&drawn, between(label("1"), label("2"))), Some(after));
}

#[test]
fn a_level_runs_where_the_surface_has_that_height() {
    // 0 to 10 over 400 mm: the line of 5 stands in the middle, that of 2 at a fifth.
    let drawn = drawn(&with(samples::grid(3, 5, 100.0, |x, _| Some(10.0 * x))));
    let dots = dots(&drawn);
    let (left, right) = (dots[0].0, dots[4].0);
    let lines = drawn.shapes.iter().filter(|(tag, colour, points)| {
        tag == "polyline"
            && colour == "#1A1A1A"
            && points[0].0 > left + 0.5
            && points[0].0 < right - 0.5
            && (points[0].1 - points[points.len() - 1].1).abs() > 50.0
    });
    let mut shares: Vec<f64> = lines
        .map(|(_, _, points)| {
            assert!(points.iter().all(|point| (point.0 - points[0].0).abs() < 0.06), "{points:?}");
            (points[0].0 - left) / (right - left)
        })
        .collect();
    shares.sort_by(f64::total_cmp);
    let expected = [0.2, 0.4, 0.6, 0.8];
    assert_eq!(shares.len(), 4, "{shares:?}");
    assert!(shares.iter().zip(expected).all(|(share, level)| (share - level).abs() < 1e-3), "{shares:?}");
    assert!(says(&drawn, "a line every 2 thou"));
}

#[test]
fn the_highest_and_the_lowest_point_are_marked_where_they_are() {
    let drawn = drawn(&samples::relief());
    let (dots, (highest, lowest)) = (dots(&drawn), peaks(&drawn));
    assert_eq!((highest.len(), lowest.len()), (3, 3), "two visits and the keys");
    assert!(is_near(highest[0], dots[2]) && is_near(lowest[0], dots[3]), "as found");
    assert!(is_near(highest[1], dots[9 + 2]) && is_near(lowest[1], dots[9 + 6]), "as left");
    for words in ["+3.1", "−2.4", "+0.7", "−0.8"] {
        assert!(says(&drawn, words), "{words}");
    }
}

#[test]
fn one_height_all_over_has_no_highest_and_no_lowest() {
    let drawn = drawn(&with(samples::grid(3, 3, 100.0, |_, _| Some(1.9))));
    assert_eq!(peaks(&drawn), (Vec::new(), Vec::new()));
    assert!(says(&drawn, "+1.90") && !says(&drawn, "highest"));
}

#[test]
fn a_table_is_drawn_in_its_own_proportions_with_y_up() {
    let drawn = drawn(&samples::relief());
    let dots = dots(&drawn);
    let (across, up) = (dots[2].0 - dots[0].0, dots[0].1 - dots[6].1);
    assert!((across / up - 640.0 / 448.0).abs() < 0.01, "{across} by {up}");
    assert!(says(&drawn, "drawn to scale"));
    assert!(says(&drawn, "x, mm") && says(&drawn, "y, mm"));
}

#[test]
fn a_table_too_long_for_that_is_stretched_and_this_is_said() {
    let mut chart = samples::relief();
    chart.visits.iter_mut().for_each(|visit| {
        visit.points = samples::grid(3, 11, 200.0, |x, y| Some(x + y));
        visit.points.iter_mut().for_each(|point| point.y *= 0.375);
    });
    let drawn = drawn(&chart);
    let dots = dots(&drawn);
    let (across, up) = (dots[10].0 - dots[0].0, dots[0].1 - dots[22].1);
    let times = up / across * 2000.0 / 150.0;
    assert!(
        up >= 40.0 && says(&drawn, &format!("y drawn {times:.1} times as large as x")),
        "{across} by {up}"
    );
    assert!((dots[33].0 - dots[0].0).abs() < 0.1, "as left stands under as found");
}

#[test]
fn few_places_on_a_line_are_drawn_with_their_heights_and_no_surface() {
    for cell in [true, false] {
        let mut points = samples::grid(1, 4, 100.0, |x, _| Some(2.5 - 5.0 * x));
        if !cell {
            for point in &mut points {
                (point.y, point.cell) = (0.3 * point.x, None);
            }
        }
        let drawn = drawn(&with(points));
        let dots = dots(&drawn);
        assert_eq!(dots.len(), 4);
        for words in ["+2.5", "+0.8", "−0.8", "−2.5"] {
            assert!(says(&drawn, words), "{words}");
        }
        let fills = drawn
            .shapes
            .iter()
            .filter(|(tag, colour, _)| tag == "polygon" && colour != "#FFFFFF" && colour != "#1A1A1A");
        assert_eq!(fills.count(), 0, "no surface lies between places on a line, and no bar names its bands");
    }
}

#[test]
fn of_ten_thousand_readings_the_highest_is_still_the_true_one() {
    let mut chart = samples::many();
    chart.visits[0].points[5050].height = Some(40.0);
    for scattered in [false, true] {
        if scattered {
            chart.visits[0].points.iter_mut().for_each(|point| point.cell = None);
        }
        let svg = chart.draw().expect("drawn").text;
        assert!(svg.len() < 400_000, "{}", svg.len());
        let drawn = read(&svg);
        assert!(says(&drawn, "+40") && says(&drawn, "means of neighbouring readings"));
    }
    // Nothing but noise has the longest lines.
    for visit in &mut chart.visits {
        for (point, seed) in visit.points.iter_mut().zip(0u32..) {
            point.height = Some(f64::from(seed.wrapping_mul(2_654_435_761) % 1000));
        }
    }
    let size = chart.draw().expect("drawn").text.len();
    assert!(size < 400_000, "{size}");
}

#[test]
fn heights_beyond_the_range_are_in_the_last_bands_and_that_is_said() {
    let mut chart = samples::relief();
    chart.range = Some((-1.0, 1.0));
    let drawn = drawn(&chart);
    assert!(says(&drawn, "down to −2.4 and up to +3.1"));
    assert!(says(&drawn, "+3.1") && says(&drawn, "−2.4"), "the highest and lowest are what was read");
    chart.range = Some((-10.0, 10.0));
    assert!(!says(&read(&chart.draw().expect("drawn").text), "beyond the scale"));
}

#[test]
fn what_cannot_be_drawn_is_refused() {
    let mut chart = samples::relief();
    chart.visits[0].points[4].height = Some(f64::NAN);
    let nan = chart.draw().expect("a height that is no number is a hole");
    chart.visits[0].points[4].height = None;
    assert_eq!(Ok(nan), chart.draw());
    chart.visits[0].points[4].x = f64::NAN;
    assert_eq!(chart.draw(), Err(ChartError::NotFinite("a place".to_owned())));
    let mut chart = samples::relief();
    chart.range = Some((0.0, f64::INFINITY));
    assert_eq!(chart.draw(), Err(ChartError::NotFinite("the range of heights".to_owned())));
    chart.range = None;
    chart.width_pt = 70.0;
    assert_eq!(chart.draw(), Err(ChartError::TooNarrow { width_pt: 70.0 }));
    chart.width_pt = 353.0;
    chart.visits.iter_mut().flat_map(|visit| &mut visit.points).for_each(|point| point.height = None);
    assert_eq!(chart.draw(), Err(ChartError::Nothing("no place has a height")));
    chart.visits.clear();
    assert!(chart.draw().is_err());
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    #[test]
    fn whatever_the_places_and_heights_the_plan_is_drawn_inside_its_sheet_or_refused(
        values in proptest::collection::vec((any_value(), any_value(), any_value(), 0usize..4, 0usize..4), 1..14),
        is_grid in any::<bool>(), width_pt in 60.0..600.0f64,
        range in proptest::option::of((any_value(), any_value())),
    ) {
        let mut chart = samples::relief();
        chart.width_pt = width_pt;
        chart.range = range;
        chart.visits[0].points = values
            .into_iter()
            .map(|(x, y, height, row, column)| ReliefPoint {
                x, y, height: Some(height), cell: is_grid.then_some((row, column)),
            })
            .collect();
        if let Ok(svg) = chart.draw() {
            prop_assert!(is_all_inside(&svg.text));
        }
    }
}
