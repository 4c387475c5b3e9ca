//! Claims about every sample chart, made by reading the SVG back.

mod bands;
mod drawn;
mod embedded;
mod lean;
mod relief;
mod settings;
mod spectra;
mod traced;
mod zone;

use proptest::prelude::*;

use self::drawn::{Drawn, UNITS, grid_lines, open_circles, read};

use super::settings::Found;
use super::style::State;
use super::text::Face;
use super::{Bound, ChartError, Limit, Reading, samples, text};

fn all() -> Vec<(&'static str, Drawn)> {
    let draw = |(name, svg): (&'static str, Result<super::Svg, ChartError>)| {
        let svg = svg.unwrap_or_else(|error| unreachable!("{name}: {error}"));
        (name, read(&svg.text))
    };
    samples::all().into_iter().map(draw).collect()
}

#[test]
fn no_text_is_cut() {
    for (name, drawn) in all() {
        assert!(!drawn.words.is_empty(), "{name}");
        for word in &drawn.words {
            let inside = word.left >= -0.05
                && word.right <= drawn.width + 0.05
                && word.top >= -0.05
                && word.bottom <= drawn.height + 0.05;
            assert!(inside, "{name}: {:?} at {} to {}, {}", word.words, word.left, word.right, word.bottom);
        }
    }
}

#[test]
fn no_text_lies_on_another() {
    for (name, drawn) in all() {
        for (index, a) in drawn.words.iter().enumerate() {
            for b in &drawn.words[index + 1..] {
                // Capitals and figures only: a descender may reach into the line below.
                let across = a.right.min(b.right) - a.left.max(b.left);
                let down = a.bottom.min(b.bottom) - a.top.max(b.top);
                assert!(across < 0.5 || down < 2.2, "{name}: {:?} and {:?}", a.words, b.words);
            }
        }
    }
}

#[test]
fn nothing_is_drawn_outside_the_sheet() {
    for (name, drawn) in all() {
        for (tag, _, points) in &drawn.shapes {
            for (x, y) in points {
                let inside = *x >= -1.3 && *x <= drawn.width + 1.3 && *y >= -1.3 && *y <= drawn.height + 1.3;
                assert!(inside, "{name}: {tag} at {x}, {y}");
            }
        }
    }
}

#[test]
fn the_same_chart_gives_the_same_bytes() {
    assert_eq!(samples::all(), samples::all());
}

#[test]
fn text_is_no_smaller_than_seven_and_a_half_points() {
    for (name, svg) in samples::all() {
        let svg = svg.expect(name).text;
        let sizes =
            svg.split("font-size=\"").skip(1).filter_map(|rest| rest.split('"').next()?.parse::<f64>().ok());
        for size in sizes {
            assert!((7.5 * UNITS..=9.0 * UNITS).contains(&size), "{name}: {size}");
        }
    }
}

#[test]
fn a_value_beyond_the_range_is_neither_moved_to_the_frame_nor_drawn_but_said() {
    let mut chart = samples::repeats();
    chart.limit = None;
    chart.visits.truncate(1);
    chart.visits[0].mean = None;
    chart.visits[0].readings = [0.5, 5.0, 0.6].map(|value| Reading { value, struck: false }).to_vec();
    chart.range = Some((0.0, 1.0));
    let drawn = read(&chart.draw().expect("drawn").text);
    let (grid, ..) = grid_lines(&drawn);
    let (top, bottom) = (grid[0], grid[grid.len() - 1]);
    let marks = open_circles(&drawn);
    // The first is the mark beside the visit's name.
    let marks: Vec<_> = marks.into_iter().filter(|(_, y)| *y >= top - 0.01).collect();
    assert_eq!(marks.len(), 2, "{marks:?}");
    for ((_, y), value) in marks.iter().zip([0.5, 0.6]) {
        let expected = bottom - value * (bottom - top);
        assert!((y - expected).abs() < 0.06, "{y} is not {expected}");
    }
    assert!(drawn.words.iter().any(|word| word.words == "5"), "the value that is not drawn is said");
}

#[test]
fn a_line_that_leaves_the_range_is_cut_at_its_crossing() {
    let mut chart = samples::unrolled();
    chart.visits.truncate(1);
    chart.stations.truncate(1);
    chart.limit = None;
    chart.range = Some((0.0, 1.0));
    let turns = chart.stations[0].visits[0].as_mut().expect("turns");
    turns.profile = None;
    turns.tir = None;
    let reading = |angle: f64, value: f64| super::TurnReading { angle, value, struck: false };
    turns.turns =
        vec![vec![reading(0.0, 0.5), reading(90.0, 5.0), reading(180.0, 0.5), reading(270.0, f64::NAN)]];
    let drawn = read(&chart.draw().expect("drawn").text);
    let (grid, left, right) = grid_lines(&drawn);
    let (top, bottom) = (grid[0], grid[grid.len() - 1]);
    let x_of = |angle: f64| left + (angle + 6.0) / 372.0 * (right - left);
    let tint = State::AsFound.colour().tint(150);
    let tint = format!("#{:02X}{:02X}{:02X}", tint.0, tint.1, tint.2);
    let lines: Vec<&Vec<(f64, f64)>> = drawn
        .shapes
        .iter()
        .filter(|(tag, colour, points)| tag == "polyline" && *colour == tint && points[0].1 <= bottom + 0.01)
        .map(|(_, _, points)| points)
        .collect();
    assert_eq!(lines.len(), 2, "{lines:?}");
    // 0.5 to 5.0 over 90° crosses 1.0 at 10°.
    assert!((lines[0][1].0 - x_of(10.0)).abs() < 0.1 && (lines[0][1].1 - top).abs() < 0.06, "{lines:?}");
    assert!((lines[1][0].0 - x_of(170.0)).abs() < 0.1 && (lines[1][0].1 - top).abs() < 0.06, "{lines:?}");
    // The NaN is not on the origin nor anywhere else: two marks for four readings.
    let marks = open_circles(&drawn).into_iter().filter(|(_, y)| *y >= top - 0.01 && *y <= bottom + 0.01);
    assert_eq!(marks.count(), 2);
}

#[test]
fn a_limit_is_hatched_over_the_forbidden_side_only() {
    for (bound, is_above) in [(Bound::AtMost(14.0), true), (Bound::AtLeast(14.0), false)] {
        let mut chart = samples::repeats();
        chart.limit = Some(Limit { bound, text: "14 s".to_owned() });
        chart.range = Some((12.0, 16.0));
        let drawn = read(&chart.draw().expect("drawn").text);
        let (grid, ..) = grid_lines(&drawn);
        let edge = f64::midpoint(grid[0], grid[grid.len() - 1]);
        let hatch: Vec<f64> = drawn
            .shapes
            .iter()
            .filter(|(_, colour, _)| colour == "#B4B4B4")
            .flat_map(|(_, _, points)| points.iter().map(|point| point.1))
            .collect();
        assert!(!hatch.is_empty());
        assert!(
            hatch.iter().all(|y| if is_above { *y <= edge + 0.06 } else { *y >= edge - 0.06 }),
            "{bound:?}"
        );
    }
}

#[test]
fn in_the_summary_the_limit_stands_at_one_place_whatever_the_unit() {
    let chart = samples::summary();
    let drawn = read(&chart.draw().expect("drawn").text);
    let edges: Vec<f64> = drawn
        .shapes
        .iter()
        .filter(|(tag, colour, points)| {
            tag == "polyline" && colour == "#4A4A4A" && (points[0].0 - points[1].0).abs() < 1e-9
        })
        .map(|(_, _, points)| points[0].0)
        .collect();
    assert_eq!(edges.len(), chart.rows.len());
    assert!(edges.windows(2).all(|pair| (pair[0] - pair[1]).abs() < 1e-9), "{edges:?}");
    // A value of 1.8 times its limit stands 1.8 times as far from zero as the limit does.
    let zero =
        drawn.words.iter().find(|word| word.words == "0").map(|word| f64::midpoint(word.left, word.right));
    let mark = open_circles(&drawn)[1];
    let share = (mark.0 - zero.expect("zero is named")) / (edges[0] - zero.expect("zero is named"));
    assert!((share - 1.8).abs() < 0.01, "{share}");
}

#[test]
fn no_spike_of_a_long_recording_is_lost() {
    let mut chart = samples::curves::recording();
    let drawn = read(&chart.draw().expect("drawn").text);
    let tint = State::AsFound.colour().tint(110);
    let tint = format!("#{:02X}{:02X}{:02X}", tint.0, tint.1, tint.2);
    let columns: Vec<&Vec<(f64, f64)>> =
        drawn.shapes.iter().filter(|(_, colour, _)| *colour == tint).map(|(_, _, points)| points).collect();
    assert!(columns.len() < 450, "a column a point, not a line a sample: {}", columns.len());
    let length = |points: &Vec<(f64, f64)>| (points[0].1 - points[1].1).abs();
    let longest = columns.iter().map(|points| length(points)).fold(0.0, f64::max);
    let usual = length(columns[10]);
    assert!(longest > 15.0 * usual, "{longest} against {usual}");
    // Without the spike there is no such column.
    for reading in &mut chart.panels[0].courses[0].readings {
        reading.high = reading.value + 0.4;
    }
    let drawn = read(&chart.draw().expect("drawn").text);
    let columns = drawn.shapes.iter().filter(|(_, colour, _)| *colour == tint);
    assert!(columns.map(|(_, _, points)| length(points)).fold(0.0, f64::max) < 5.0 * usual);
}

#[test]
fn a_course_is_broken_where_a_recording_was() {
    let mut chart = samples::curves::recording();
    let lines = |chart: &super::curve::Curves| {
        let drawn = read(&chart.draw().expect("drawn").text);
        let courses = drawn
            .shapes
            .iter()
            .filter(|(tag, colour, points)| tag == "polyline" && colour == "#D55E00" && points.len() > 100);
        courses.count()
    };
    assert_eq!(lines(&chart), 2);
    chart.panels[0].courses[0].readings[400].fresh = false;
    assert_eq!(lines(&chart), 1);
}

#[test]
fn states_differ_by_shape_and_not_by_colour_alone() {
    let shape_of = |state: State| {
        let mut canvas = super::canvas::Canvas::default();
        super::marks::mark(&mut canvas, (10.0, 10.0), state, 2.4);
        let svg = canvas.finish(20.0, 20.0).expect("drawn").text;
        let tags: Vec<String> = read(&svg).shapes.into_iter().map(|(tag, ..)| tag).collect();
        tags
    };
    assert_eq!(shape_of(State::AsFound), ["circle", "circle"]);
    assert_eq!(shape_of(State::AsLeft), ["circle"]);
    assert_eq!(shape_of(State::Reference), ["polyline"]);
}

#[test]
fn names_that_look_like_markup_come_out_as_typed() {
    let mut chart = samples::summary();
    chart.rows[0].label = "</text><script>\u{0}&amp; #let".to_owned();
    let drawn = read(&chart.draw().expect("drawn").text);
    let text: Vec<&str> = drawn.words.iter().map(|word| word.words.as_str()).collect();
    assert!(text.join("").contains("</text><script>") && text.join(" ").contains("&amp; #let"), "{text:?}");
}

#[test]
fn what_cannot_be_drawn_is_refused_by_name() {
    let mut chart = samples::summary();
    chart.rows[1].found[0] = Some(samples::measured(f64::NAN, 0.1, "?"));
    let error = chart.draw().expect_err("NaN is refused");
    assert_eq!(error.to_string(), "a value of Arbor run-out, tip is not a finite number");

    let mut chart = samples::repeats();
    chart.visits.iter_mut().for_each(|visit| {
        visit.mean = None;
        visit.readings.iter_mut().for_each(|reading| reading.value = f64::NAN);
    });
    assert_eq!(chart.draw(), Err(ChartError::Nothing("no reading is finite")));
    chart.visits.clear();
    assert!(chart.draw().is_err());

    let mut chart = samples::unrolled();
    chart.width_pt = 40.0;
    assert_eq!(chart.draw(), Err(ChartError::TooNarrow { width_pt: 40.0 }));
    for width_pt in [f64::NAN, -3.0, f64::INFINITY, 1e9] {
        chart.width_pt = width_pt;
        assert!(chart.draw().is_err(), "{width_pt}");
    }
    let mut chart = samples::round();
    chart.visits[0].turns[0][0].angle = f64::INFINITY;
    assert_eq!(chart.draw(), Err(ChartError::NotFinite("an angle".to_owned())));
    let mut chart = samples::spindle();
    chart.limit = Some(samples::at_most(f64::INFINITY, "none"));
    assert_eq!(chart.draw(), Err(ChartError::NotFinite("a limit".to_owned())));
}

#[test]
fn a_width_that_is_measured_is_the_width_that_is_set() {
    // Kerning apart, which the measure leaves out: figures and capitals of Source Sans 3 by its hmtx.
    assert!((text::width("0123456789", 10.0, Face::Regular) - 49.7).abs() < 0.01);
}

#[test]
fn the_summary_of_two_visits_is_drawn_as_it_was_looked_at() {
    let mut chart = samples::summary();
    chart.rows.truncate(2);
    insta::assert_snapshot!(chart.draw().expect("drawn").text);
}

/// Every kind of float: zeros, subnormals, huge ones, NaN, infinities, and ordinary readings.
fn any_value() -> impl Strategy<Value = f64> {
    prop_oneof![any::<f64>(), -10.0..10.0, Just(0.0), Just(1e-9), Just(-1e9), Just(f64::NAN)]
}

fn is_all_inside(svg: &str) -> bool {
    let drawn = read(svg);
    let words = drawn.words.iter().all(|word| word.left >= -0.05 && word.right <= drawn.width + 0.05);
    let mut points = drawn.shapes.iter().flat_map(|(_, _, points)| points);
    words
        && points
            .all(|(x, y)| *x >= -1.3 && *x <= drawn.width + 1.3 && *y >= -1.3 && *y <= drawn.height + 1.3)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn whatever_the_readings_a_chart_is_drawn_inside_its_sheet_or_refused(
        values in proptest::collection::vec((any_value(), any::<bool>()), 0..12),
        mean in any_value(), half in any_value(), edge in any_value(),
        range in proptest::option::of((any_value(), any_value())),
    ) {
        let mut chart = samples::repeats();
        chart.visits[0].readings = values.iter().map(|(value, struck)| Reading { value: *value, struck: *struck }).collect();
        chart.visits[0].mean = Some(samples::measured(mean, half.abs(), "mean"));
        chart.limit = Some(samples::at_most(edge, "at most so much"));
        chart.range = range;
        if let Ok(svg) = chart.draw() {
            prop_assert!(is_all_inside(&svg.text));
        }

        let mut chart = samples::summary();
        chart.rows[0].found[0] = Some(samples::measured(mean, half.abs(), "found"));
        chart.rows[1].limit = Some(samples::at_most(edge, "at most so much"));
        chart.rows[2].true_zero = false;
        chart.rows[3].limit = Some(Limit { bound: Bound::Between(edge, mean), text: "between".to_owned() });
        if let Ok(svg) = chart.draw() {
            prop_assert!(is_all_inside(&svg.text));
        }

        let mut unrolled = samples::unrolled();
        let mut round = samples::round();
        let turn: Vec<_> = values
            .iter()
            .enumerate()
            .map(|(index, (value, struck))| super::TurnReading { angle: 33.0 * index as f64, value: *value, struck: *struck })
            .collect();
        if let Some(turns) = unrolled.stations[0].visits[0].as_mut() {
            turns.turns = vec![turn.clone()];
            turns.datum = mean;
        }
        unrolled.range = range;
        round.visits[0].turns = vec![turn];
        round.visits[1].profile.harmonics[0] = (mean, edge);
        for svg in [unrolled.draw(), round.draw()].into_iter().flatten() {
            prop_assert!(is_all_inside(&svg.text));
        }

        let mut chart = samples::curves::curves();
        for (reading, (value, struck)) in chart.panels[0].courses[0].readings.iter_mut().zip(&values) {
            (reading.value, reading.struck) = (*value, *struck);
        }
        chart.panels[0].courses[1].readings[3].time = mean;
        chart.panels[0].courses[1].ambient[0].1 = edge;
        chart.speeds[0].steps[1].1 = half;
        chart.limit = Some(samples::at_most(edge, "at most so much"));
        if let Ok(svg) = chart.draw() {
            prop_assert!(is_all_inside(&svg.text));
        }

        let mut chart = samples::settings();
        chart.visits[0].points[1].at = edge;
        chart.visits[0].points[2].found = Some(Found::Value(samples::measured(mean, half.abs(), "")));
        chart.visits[1].points[0].found = Some(Found::AtLeast(mean, "at least so much".to_owned()));
        chart.range = range;
        if let Ok(svg) = chart.draw() {
            prop_assert!(is_all_inside(&svg.text));
        }
        let mut chart = samples::stocks();
        chart.visits[0].points[0].readings = values.iter().map(|(value, struck)| Reading { value: *value, struck: *struck }).collect();
        if let Ok(svg) = chart.draw() {
            prop_assert!(is_all_inside(&svg.text));
        }

        let mut chart = samples::spindle();
        chart.visits[0].stations[1].found.value = mean;
        chart.visits[0].stations[2].distance = edge;
        chart.range = range;
        if let Ok(svg) = chart.draw() {
            prop_assert!(is_all_inside(&svg.text));
        }
    }
}
