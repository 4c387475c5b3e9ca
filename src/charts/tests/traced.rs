//! Long recordings: no spike is lost, and what is not there is not drawn.

use super::super::clip::Rect;
use super::super::samples;
use super::drawn::{Drawn, grid_lines, read};
use crate::recording::{Column, How, Listener, Recording, Request, Start, TimeBase};
use crate::session::{Place, Problems, SourceFile};

struct Deaf;

impl Listener for Deaf {
    fn begin(&mut self, _: &Start) {}
    fn hear(&mut self, _: &crate::recording::Block<'_>) {}
}

/// The lines of the first visit's recording.
fn lines(drawn: &Drawn) -> Vec<&Vec<(f64, f64)>> {
    let lines = drawn.shapes.iter().filter(|(tag, colour, _)| tag == "polyline" && colour == "#D55E00");
    lines.map(|(_, _, points)| points).collect()
}

#[test]
fn a_spike_of_one_sample_in_a_million_is_drawn_at_its_place_and_height() {
    let rows: String = (0..1_000_000)
        .map(|index| {
            if index == 654_321 {
                "5\n"
            } else if index % 2 == 0 {
                "1\n"
            } else {
                "0\n"
            }
        })
        .collect();
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("run.csv");
    std::fs::write(&path, format!("x\n{rows}")).expect("written");
    let source = SourceFile::whole("arbor/visits/a/visit.yaml", "x");
    let place = Place { source: std::sync::Arc::new(source), span: 0..1 };
    let recording = Recording {
        path,
        name: "visits/a/run.csv".to_owned(),
        place: place.clone(),
        how: How::default(),
        struck: Vec::new(),
    };
    let request =
        Request { time: TimeBase::Rate(1000.0), channels: vec![Column::Named("x".to_owned(), place)] };
    let account = recording.listen(&request, &mut Deaf, &mut Problems::default()).expect("it is read");
    let mut chart = samples::trace();
    chart.visits.truncate(1);
    chart.visits[0].struck.clear();
    chart.visits[0].outline.clone_from(&account.channels[0].outline);
    chart.range = Some((0.0, 10.0));
    let drawn = read(&chart.draw().expect("drawn").text);
    let (grid, left, right) = grid_lines(&drawn);
    let (top, bottom) = (grid[0], grid[grid.len() - 1]);
    let height = |value: f64| bottom - value / 10.0 * (bottom - top);
    let points: Vec<(f64, f64)> = lines(&drawn).into_iter().flatten().copied().collect();
    let spike: Vec<_> = points.iter().filter(|(_, y)| *y < height(1.0) - 0.1).collect();
    assert!(!spike.is_empty());
    for (x, y) in spike {
        assert!((y - height(5.0)).abs() < 0.06, "{y}");
        let end = account.channels[0].outline.last().expect("an end").0 / 1000.0;
        let meant = left + 0.654_321 / end.max(1.0) * (right - left);
        assert!((x - meant).abs() < 1.5, "{x} is not {meant}");
    }
}

#[test]
fn where_no_sample_is_no_line_is_drawn() {
    let mut chart = samples::trace();
    chart.visits.truncate(1);
    chart.visits[0].struck.clear();
    chart.visits[0].outline = (0..100)
        .filter(|index| !(40..60).contains(index))
        .map(|index| (f64::from(index) + 0.5, -1.0, 1.0))
        .collect();
    let drawn = read(&chart.draw().expect("drawn").text);
    let found = lines(&drawn);
    assert_eq!(found.len(), 2, "{found:?}");
    let (_, left, right) = grid_lines(&drawn);
    let gap = Rect {
        left: left + 0.42 * (right - left),
        right: left + 0.58 * (right - left),
        top: 0.0,
        bottom: drawn.height,
    };
    assert!(found.iter().all(|line| line.iter().all(|point| !gap.holds(*point))));
}

#[test]
fn a_struck_stretch_is_hatched_over_its_time_and_no_further() {
    let chart = samples::trace();
    let drawn = read(&chart.draw().expect("drawn").text);
    let (_, left, right) = grid_lines(&drawn);
    let x = |seconds: f64| left + seconds / 20.0 * (right - left);
    let hatch: Vec<f64> = drawn
        .shapes
        .iter()
        .filter(|(_, colour, points)| colour == "#B4B4B4" && points[0].1 < drawn.height - 14.0)
        .flat_map(|(_, _, points)| points.iter().map(|point| point.0))
        .collect();
    assert!(!hatch.is_empty());
    assert!(hatch.iter().all(|place| *place >= x(12.0) - 0.1 && *place <= x(15.0) + 0.1), "{hatch:?}");
}
