//! Claims about spectra.

use super::super::ChartError;
use super::super::samples;
use super::drawn::read;

/// The polylines of the as-found colour.
fn lines(svg: &str) -> Vec<Vec<(f64, f64)>> {
    let drawn = read(svg);
    let lines = drawn.shapes.into_iter().filter(|(tag, colour, _)| tag == "polyline" && colour == "#D55E00");
    lines.map(|(_, _, points)| points).collect()
}

#[test]
fn no_line_is_lost_however_many_bins_a_column_holds() {
    let mut chart = samples::spectra();
    chart.visits.truncate(1);
    chart.marks.clear();
    chart.visits[0].width = 0.001;
    // 800 000 bins at 0.01 and a single one, in the middle, at 1.
    chart.visits[0].sizes = vec![0.01; 800_001];
    chart.visits[0].sizes[400_000] = 1.0;
    let found = lines(&chart.draw().expect("drawn").text);
    let points: Vec<(f64, f64)> = found.concat();
    assert!(points.len() < 3000, "{} points", points.len());
    let top = points.iter().copied().fold((0.0, f64::INFINITY), |top, p| if p.1 < top.1 { p } else { top });
    let (left, right) = (points[0].0, points[points.len() - 1].0);
    assert!((top.0 - f64::midpoint(left, right)).abs() < 1.0, "{top:?} between {left} and {right}");
    let base = points[0].1;
    // Two decades above the rest on a scale of decades.
    assert!(base - top.1 > 20.0, "{base} {top:?}");
}

#[test]
fn the_visits_share_one_scale_and_marks_stand_at_their_frequencies() {
    let mut chart = samples::spectra();
    let (once, twice) = (chart.visits[0].clone(), chart.visits[0].sizes.clone());
    chart.visits[1].sizes = twice.iter().map(|size| size / 10.0).collect();
    let drawn = read(&chart.draw().expect("drawn").text);
    let of = |colour: &str| -> Vec<(f64, f64)> {
        let all = drawn.shapes.iter().filter(|(tag, own, _)| tag == "polyline" && own == colour);
        all.flat_map(|(_, _, points)| points.clone()).collect()
    };
    let span = |points: &[(f64, f64)]| {
        let least = points.iter().map(|p| p.1).fold(f64::INFINITY, f64::min);
        let most = points.iter().map(|p| p.1).fold(0.0, f64::max);
        (least, most)
    };
    let (found, left) = (span(&of("#D55E00")), span(&of("#0072B2")));
    // The same shape, a tenth as large: lower in its plot by a decade, the plots 98 pt apart.
    assert!(left.0 - found.0 > 98.0 + 10.0, "{found:?} {left:?}");
    let word = drawn.words.iter().find(|word| word.words == "3×").expect("3× is marked");
    let other = drawn.words.iter().find(|word| word.words == "1×").expect("1× is marked");
    let (three, one) = (f64::midpoint(word.left, word.right), f64::midpoint(other.left, other.right));
    let two = drawn.words.iter().find(|word| word.words == "2×").expect("2× is marked");
    let two = f64::midpoint(two.left, two.right);
    assert!((three - two - (two - one)).abs() < 0.2, "{one} {two} {three}");
    assert!(!once.sizes.is_empty());
}

#[test]
fn what_cannot_be_drawn_is_refused() {
    let mut chart = samples::spectra();
    for visit in &mut chart.visits {
        visit.sizes = vec![0.0, f64::NAN, 0.0];
    }
    assert_eq!(chart.draw(), Err(ChartError::Nothing("no line is above zero")));
    chart.visits.clear();
    assert!(chart.draw().is_err());
    let mut chart = samples::spectra();
    chart.highest = f64::NAN;
    assert!(chart.draw().is_err());
    chart.highest = 800.0;
    chart.visits[0].width = 0.0;
    assert!(chart.draw().is_err());
    let mut chart = samples::spectra();
    chart.width_pt = 70.0;
    assert_eq!(chart.draw(), Err(ChartError::TooNarrow { width_pt: 70.0 }));
}
