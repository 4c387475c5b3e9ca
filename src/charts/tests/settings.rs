//! Claims about a number drawn against its settings.

use super::super::samples;
use super::super::settings::{Along, Found};
use super::super::style::State;
use super::super::{ChartError, Svg};
use super::drawn::{Drawn, grid_lines, open_circles, read};

fn drawn(svg: Result<Svg, ChartError>) -> Drawn {
    read(&svg.expect("drawn").text)
}

/// The lines of a state's full colour that are drawn through values.
fn joined(drawn: &Drawn, state: State) -> Vec<Vec<(f64, f64)>> {
    let colour = state.colour();
    let colour = format!("#{:02X}{:02X}{:02X}", colour.0, colour.1, colour.2);
    let lines = drawn.shapes.iter().filter(|(tag, own, points)| {
        tag == "polyline" && *own == colour && (points[0].0 - points[points.len() - 1].0).abs() > 6.0
    });
    lines.map(|(_, _, points)| points.clone()).collect()
}

#[test]
fn values_stand_at_their_settings_and_are_joined_in_the_order_of_the_settings() {
    let mut chart = samples::settings();
    chart.visits.truncate(1);
    let drawn = drawn(chart.draw());
    let (heights, left, right) = grid_lines(&drawn);
    let marks = open_circles(&drawn);
    assert_eq!(marks.len(), 4);
    // 1000 to 4000 rpm between 12 pt beside the plot's edges.
    let x_of = |rpm: f64| left + 12.0 + (rpm - 1000.0) / 3000.0 * (right - left - 24.0);
    for (mark, rpm) in marks.iter().zip([3450.0, 1000.0, 2000.0, 4000.0]) {
        assert!((mark.0 - x_of(rpm)).abs() < 0.06, "{mark:?} is not at {rpm}");
    }
    let lines = joined(&drawn, State::AsFound);
    assert_eq!(lines.len(), 1, "{lines:?}");
    assert_eq!(lines[0].len(), 4);
    assert!(lines[0].windows(2).all(|pair| pair[0].0 < pair[1].0), "{lines:?}");
    // 80 and 75 dBA are two neighbouring grid lines; 79.6 lies between them.
    let at_2000 = marks[2].1;
    assert!(heights.windows(2).any(|pair| at_2000 > pair[0] && at_2000 < pair[1]));
}

#[test]
fn a_bound_breaks_the_line_and_is_an_arrow_with_its_words() {
    let mut chart = samples::settings();
    let points = &mut chart.visits[0].points;
    points[2].found = Some(Found::AtMost(79.0, "at most 79 dBA".to_owned()));
    chart.visits.truncate(1);
    let drawn = drawn(chart.draw());
    // 1000 | 2000 (bound) | 3450 to 4000.
    let lines = joined(&drawn, State::AsFound);
    assert_eq!(lines.iter().map(Vec::len).collect::<Vec<_>>(), [2], "{lines:?}");
    assert_eq!(open_circles(&drawn).len(), 3);
    assert!(drawn.words.iter().any(|word| word.words == "at most 79 dBA"));
}

#[test]
fn places_with_names_are_side_by_side_and_joined_by_nothing() {
    let drawn = drawn(samples::stocks().draw());
    assert!(joined(&drawn, State::AsFound).is_empty() && joined(&drawn, State::AsLeft).is_empty());
    for words in ["red oak", "pine", "hard maple"] {
        assert!(drawn.words.iter().any(|word| word.words == words), "{words}");
    }
    let remark: Vec<&str> = drawn.words.iter().map(|word| word.words.as_str()).collect();
    assert!(remark.join(" ").contains("1 of 3 runs stalled"), "{remark:?}");
}

#[test]
fn each_visit_is_named_at_the_end_of_its_line() {
    let drawn = drawn(samples::settings().draw());
    let (_, _, right) = grid_lines(&drawn);
    for name in ["As found", "As left"] {
        let word = drawn.words.iter().find(|word| word.words == name).expect("the visit is named");
        assert!(word.left >= right, "{name} stands in the plot");
    }
}

#[test]
fn what_lies_outside_the_list_of_names_is_refused() {
    let mut chart = samples::stocks();
    chart.along = Along::Names(vec!["red oak".to_owned()]);
    assert_eq!(chart.draw(), Err(ChartError::Nothing("a place has no name")));
    let mut chart = samples::settings();
    for visit in &mut chart.visits {
        visit.points.clear();
    }
    assert!(chart.draw().is_err());
    let mut chart = samples::settings();
    chart.visits[0].points[0].at = f64::NAN;
    assert_eq!(chart.draw(), Err(ChartError::NotFinite("a setting".to_owned())));
}
