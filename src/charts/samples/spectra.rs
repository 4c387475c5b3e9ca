//! Spectra: the usual ones and the extremes.

use super::super::spectra::{Mark, Spectra, SpectrumVisit};
use super::super::{ChartError, Svg};
use super::{COLUMN, LONG, both};

/// Lines of 1 Hz width on a floor that wanders.
pub(in crate::charts) fn sizes(count: u32, once: f64, floor: f64) -> Vec<f64> {
    (0..count)
        .map(|bin| {
            let wander = 1.0 + 0.8 * f64::from((bin * 7919) % 97) / 97.0;
            let line = match bin {
                57 | 58 => once,
                115 => once / 3.0,
                173 => once / 8.0,
                _ => 0.0,
            };
            floor * wander + line
        })
        .collect()
}

pub(in crate::charts) fn spectra() -> Spectra {
    let mark = |frequency: f64, words: &str| Mark { frequency, words: words.to_owned() };
    Spectra {
        width_pt: COLUMN,
        name: "Acceleration, peak of a line".to_owned(),
        unit: "g".to_owned(),
        highest: 800.0,
        visits: both()
            .into_iter()
            .zip([(0.3, 0.002), (0.05, 0.001)])
            .map(|(visit, (once, floor))| SpectrumVisit {
                visit,
                width: 1.0,
                sizes: sizes(1600, once, floor),
            })
            .collect(),
        marks: vec![
            mark(57.5, "1×"),
            mark(115.0, "2×"),
            mark(172.5, "3×"),
            mark(206.1, "outer"),
            mark(311.4, "inner"),
            mark(271.0, "ball"),
            mark(22.9, "cage"),
        ],
    }
}

pub(in crate::charts) fn extremes(all: &mut Vec<(&'static str, Result<Svg, ChartError>)>) {
    all.push(("spectra", spectra().draw()));
    let mut one = spectra();
    one.visits.truncate(1);
    one.visits[0].sizes = sizes(200_000, 3e5, 1e3);
    one.visits[0].width = 0.01;
    all.push(("spectra-one-fine", one.draw()));
    let mut coarse = spectra();
    coarse.visits[0].sizes = vec![0.0, 1e-9, f64::NAN, 3e-9, 0.0, 2e-9];
    coarse.visits[0].width = 100.0;
    coarse.visits[1].sizes = vec![0.0; 4];
    all.push(("spectra-coarse", coarse.draw()));
    let mut long = spectra();
    LONG.repeat(3).clone_into(&mut long.name);
    for visit in &mut long.visits {
        LONG.repeat(3).clone_into(&mut visit.visit.name);
    }
    for (index, mark) in long.marks.iter_mut().enumerate() {
        mark.frequency = 790.0 - index as f64;
        "outer race".clone_into(&mut mark.words);
    }
    all.push(("spectra-crowded", long.draw()));
    let mut beyond = spectra();
    beyond.highest = 60.0;
    all.push(("spectra-marks-beyond", beyond.draw()));
}
