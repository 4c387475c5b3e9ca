//! Third-octave spectra: the usual one and the extremes. Invented levels prove nothing.

use super::super::bands::{Bands, BandsPlot, Spectrum};
use super::super::style::State;
use super::super::{ChartError, Svg};
use super::{COLUMN, FULL, LONG, both, visit};

const NAMES: [&str; 31] = [
    "20", "25", "31.5", "40", "50", "63", "80", "100", "125", "160", "200", "250", "315", "400", "500",
    "630", "800", "1 k", "1.25 k", "1.6 k", "2 k", "2.5 k", "3.15 k", "4 k", "5 k", "6.3 k", "8 k", "10 k",
    "12.5 k", "16 k", "20 k",
];

/// A hump about a band, the same every time.
fn hump(about: f64, top: f64) -> Vec<f64> {
    (0..31u32)
        .map(|band| top - 0.15 * (f64::from(band) - about).powi(2) + f64::from((band * 7919) % 13) / 4.0)
        .collect()
}

fn plot(name: &str, tops: [f64; 2]) -> BandsPlot {
    let levels = [hump(20.0, tops[0]), hump(14.0, tops[1])];
    let spectra = both().into_iter().zip(levels).map(|(visit, levels)| Spectrum { visit, levels });
    BandsPlot { name: name.to_owned(), spectra: spectra.collect() }
}

/// Two settings at two visits.
pub(in crate::charts) fn bands() -> Bands {
    Bands {
        width_pt: COLUMN,
        name: "Level in each third octave".to_owned(),
        unit: "dBA".to_owned(),
        names: NAMES.map(str::to_owned).to_vec(),
        plots: vec![plot("3450 rpm", [82.0, 74.0]), plot("1000 rpm", [66.0, 60.0])],
    }
}

pub(super) fn extremes(all: &mut Vec<(&'static str, Result<Svg, ChartError>)>) {
    all.push(("bands", bands().draw()));
    let mut many = bands();
    many.width_pt = FULL;
    many.plots = (0..5).map(|index| plot(LONG, [80.0 - f64::from(index), 77.0])).collect();
    many.plots[1].spectra.extend((0..4).map(|index| Spectrum {
        visit: visit(LONG, [State::Reference, State::AsLeft][index % 2]),
        levels: hump(5.0, 60.0),
    }));
    all.push(("bands-many", many.draw()));
    let mut few = bands();
    few.names.truncate(3);
    few.plots = vec![BandsPlot {
        name: String::new(),
        spectra: vec![Spectrum {
            visit: visit("As left", State::AsLeft),
            levels: vec![-3.0, f64::NAN, 12.0],
        }],
    }];
    all.push(("bands-three", few.draw()));
}
