//! Long recordings: the usual one and the extremes.

use super::super::style::State;
use super::super::trace::{Trace, TracedVisit};
use super::super::{ChartError, Svg};
use super::{COLUMN, FULL, LONG, visit};

/// An outline of a humming signal that grows, in `count` stretches of `step` seconds.
fn outline(count: u32, step: f64, size: f64) -> Vec<(f64, f64, f64)> {
    (0..count)
        .map(|index| {
            let time = (f64::from(index) + 0.5) * step;
            let noise = f64::from((index * 7919) % 97) / 97.0;
            let swell = size * (0.6 + 0.3 * (f64::from(index) / 90.0).sin() + 0.1 * noise);
            (time, -swell * (0.9 + 0.1 * noise), swell)
        })
        .collect()
}

pub(in super::super) fn trace() -> Trace {
    let mut found = outline(800, 0.025, 0.4);
    found[301].2 = 0.9;
    let mut left = outline(640, 0.03125, 0.15);
    left.drain(200..230);
    Trace {
        width_pt: COLUMN,
        name: "Acceleration, x".to_owned(),
        unit: "g".to_owned(),
        visits: vec![
            TracedVisit {
                visit: visit("As found", State::AsFound),
                text: "peak 0.90 ± 0.05 g".to_owned(),
                outline: found,
                struck: vec![(12.0, 15.0)],
            },
            TracedVisit {
                visit: visit("As left", State::AsLeft),
                text: "peak 0.15 ± 0.05 g".to_owned(),
                outline: left,
                struck: Vec::new(),
            },
        ],
        range: None,
    }
}

pub(in super::super) fn traces(all: &mut Vec<(&'static str, Result<Svg, ChartError>)>) {
    all.push(("trace", trace().draw()));
    let mut cut = trace();
    cut.range = Some((-0.2, 0.3));
    all.push(("trace-beyond", cut.draw()));
    let mut long = trace();
    long.width_pt = FULL;
    long.visits[0].outline =
        outline(1200, 30.0, 4000.0).into_iter().map(|(t, _, high)| (t, high, high)).collect();
    long.visits[0].struck = vec![(0.0, 400.0), (30_000.0, 90_000.0)];
    long.visits[0].visit.name = LONG.to_owned();
    long.visits[1].outline.truncate(1);
    long.visits[1].visit.state = State::Reference;
    long.visits[1].text = format!("{LONG}; {LONG}");
    all.push(("trace-long", long.draw()));
}
