//! Sample charts for the tests: the usual ones and the extremes. Invented readings prove nothing.

mod bands;
pub(super) mod curves;
mod extremes;
mod history;
mod lean;
mod relief;
mod settings;
mod spectra;
mod traces;
mod zone;

pub(super) use self::bands::bands;
use self::extremes::{extremes, summary_of_forty};
pub(super) use self::lean::lean;
pub(super) use self::relief::{grid, many, relief};
pub(super) use self::settings::{settings, stocks};
pub(super) use self::spectra::spectra;
pub(super) use self::traces::trace;
use self::traces::traces;
pub(super) use self::zone::zone;
use super::repeats::{RepeatedVisit, Repeats};
use super::round::{Round, RoundVisit};
use super::spindle::{OffsetAndTilt, Spindle, SpindleVisit, Station};
use super::style::State;
use super::summary::{Summary, SummaryRow};
use super::unrolled::{Turns, Unrolled, UnrolledStation};
use super::{Bound, ChartError, Limit, Measured, Profile, Reading, Svg, TurnReading, Visit};

/// The width of the text column and of the whole page, in points.
pub(super) const COLUMN: f64 = 353.0;
pub(super) const FULL: f64 = 497.0;

const LONG: &str = "Arbor flange against the long-reach holder, second set-up";

pub(super) fn visit(name: &str, state: State) -> Visit {
    Visit { name: name.to_owned(), state }
}

pub(super) fn both() -> Vec<Visit> {
    vec![visit("As found", State::AsFound), visit("As left", State::AsLeft)]
}

pub(super) fn measured(value: f64, half: f64, text: &str) -> Measured {
    Measured { value, uncertainty: Some(half), text: text.to_owned() }
}

pub(super) fn limit(bound: Bound, text: &str) -> Limit {
    Limit { bound, text: text.to_owned() }
}

pub(super) fn at_most(edge: f64, text: &str) -> Limit {
    limit(Bound::AtMost(edge), text)
}

/// A turn of `count` readings of an off-centre circle, quantised to half a unit, the same every time.
pub(super) fn turn(count: u32, size: f64, high: f64, level: f64, seed: u32) -> Vec<TurnReading> {
    (0..count)
        .map(|index| {
            let angle = 360.0 * f64::from(index) / f64::from(count);
            let noise = f64::from((index * 7919 + seed * 104_729) % 97) / 97.0 - 0.5;
            let value = level + size * (angle - high).to_radians().cos() + 0.5 * noise;
            TurnReading { angle, value: (value * 2.0).round() / 2.0, struck: false }
        })
        .collect()
}

pub(super) fn profile(size: f64, high: f64, level: f64) -> Profile {
    let (sin, cos) = high.to_radians().sin_cos();
    Profile { constant: level, harmonics: vec![(size * cos, size * sin), (0.1 * size, 0.05)] }
}

pub(super) fn turns(count: u32, turns: u32, size: f64, high: f64, tir: &str) -> Turns {
    Turns {
        turns: (0..turns).map(|index| turn(count, size, high, 0.5, index)).collect(),
        datum: 0.0,
        profile: (count > 4).then(|| profile(size, high, 0.5)),
        tir: Some(measured(2.0 * size, 0.8, tir)),
    }
}

pub(super) fn unrolled() -> Unrolled {
    let mut found = turns(8, 3, 1.7, 135.0, "3.4 ± 0.8 thou");
    found.turns[1][5].struck = true;
    found.turns[1][5].value = 4.0;
    Unrolled {
        width_pt: COLUMN,
        name: "Reading".to_owned(),
        unit: "thou".to_owned(),
        visits: both(),
        stations: vec![
            UnrolledStation {
                name: "Shoulder".to_owned(),
                visits: vec![
                    Some(turns(8, 3, 0.9, 120.0, "1.8 ± 0.8 thou")),
                    Some(turns(8, 3, 0.2, 30.0, "0.5 ± 0.8 thou")),
                ],
            },
            UnrolledStation {
                name: "Tip, 40 mm".to_owned(),
                visits: vec![Some(found), Some(turns(8, 3, 0.4, 80.0, "0.8 ± 0.8 thou"))],
            },
        ],
        limit: Some(at_most(1.0, "TIR at most 1 thou")),
        range: None,
    }
}

/// Many stations and visits, many readings a turn or few.
pub(super) fn unrolled_grid(
    stations: u32,
    visits: u32,
    count: u32,
    turn_count: u32,
    width_pt: f64,
) -> Unrolled {
    let states = [State::AsFound, State::AsLeft, State::Reference];
    Unrolled {
        width_pt,
        name: "Reading".to_owned(),
        unit: "µm".to_owned(),
        visits: (0..visits)
            .map(|i| visit(&format!("Visit {} of the saw", i + 1), states[i as usize % 3]))
            .collect(),
        stations: (0..stations)
            .map(|s| UnrolledStation {
                name: format!("Station {}", s + 1),
                visits: (0..visits)
                    .map(|v| {
                        (s != 1 || v != 2).then(|| {
                            turns(
                                count,
                                turn_count,
                                1.0 + f64::from(s + v),
                                f64::from(40 * s),
                                "12.5 ± 0.8 µm",
                            )
                        })
                    })
                    .collect(),
            })
            .collect(),
        limit: Some(at_most(5.0, "TIR at most 5 µm")),
        range: None,
    }
}

pub(super) fn round() -> Round {
    let cell = |size: f64, high: f64, v: Visit, caption: &str| RoundVisit {
        visit: v,
        turns: (0..3).map(|index| turn(8, size, high, 0.5, index)).collect(),
        profile: profile(size, high, 0.5),
        high_spot: Some(high),
        caption: caption.to_owned(),
    };
    let [found, left] = [both().remove(0), both().remove(1)];
    Round {
        width_pt: COLUMN,
        unit: "thou".to_owned(),
        unit_mm: Some(0.0254),
        visits: vec![
            cell(1.7, 135.0, found, "High spot at 135°; centre off by 1.7 thou"),
            cell(0.3, 20.0, left, "High spot at 20°; centre off by 0.3 thou"),
        ],
    }
}

pub(super) fn repeats() -> Repeats {
    let readings = |values: &[f64]| {
        values.iter().map(|value| Reading { value: *value, struck: false }).collect::<Vec<_>>()
    };
    let mut first = readings(&[12.1, 12.4, 12.0, 12.2, 12.3]);
    first[3] = Reading { value: 12.9, struck: true };
    Repeats {
        width_pt: COLUMN,
        name: "Coast-down time".to_owned(),
        unit: "s".to_owned(),
        visits: vec![
            RepeatedVisit {
                visit: both().remove(0),
                readings: first,
                mean: Some(measured(12.2, 0.28, "12.20 ± 0.28 s")),
            },
            RepeatedVisit {
                visit: both().remove(1),
                readings: readings(&[14.9, 15.3, 15.1, 15.2]),
                mean: Some(measured(15.13, 0.27, "15.13 ± 0.27 s")),
            },
        ],
        limit: Some(limit(Bound::AtLeast(13.0), "at least 13 s")),
        range: None,
    }
}

pub(super) fn spindle() -> Spindle {
    let stations = |values: [(f64, f64, &str); 3]| {
        ["shoulder", "middle", "tip"]
            .iter()
            .zip(values)
            .map(|(name, (distance, value, text))| Station {
                name: (*name).to_owned(),
                distance,
                found: measured(value, 0.5, text),
            })
            .collect()
    };
    Spindle {
        width_pt: COLUMN,
        name: "Once per turn".to_owned(),
        unit: "thou".to_owned(),
        distance_name: "Distance from the shoulder".to_owned(),
        distance_unit: "mm".to_owned(),
        visits: vec![
            SpindleVisit {
                visit: both().remove(0),
                stations: stations([(0.0, 1.8, "1.8"), (20.0, 2.5, "2.5"), (40.0, 3.4, "3.4")]),
                fit: Some(OffsetAndTilt { offset: [0.9, 0.0], tilt: [0.02, 0.005], times: 2.0 }),
            },
            SpindleVisit {
                visit: both().remove(1),
                stations: stations([(0.0, 0.4, "0.4"), (20.0, 0.5, "0.5"), (40.0, 0.7, "0.7")]),
                fit: Some(OffsetAndTilt { offset: [0.2, 0.0], tilt: [0.003, 0.001], times: 2.0 }),
            },
        ],
        limit: Some(at_most(1.0, "at most 1 thou")),
        range: None,
    }
}

fn row(label: &str, limit: Option<Limit>, true_zero: bool, found: Vec<Option<Measured>>) -> SummaryRow {
    SummaryRow { label: label.to_owned(), limit, true_zero, found }
}

pub(super) fn summary() -> Summary {
    let rows = vec![
        row(
            "Arbor run-out, shoulder",
            Some(at_most(1.0, "at most 1 thou")),
            true,
            vec![Some(measured(1.8, 0.8, "1.8 ± 0.8 thou")), Some(measured(0.5, 0.8, "0.5 ± 0.8 thou"))],
        ),
        row(
            "Arbor run-out, tip",
            Some(at_most(1.0, "at most 1 thou")),
            true,
            vec![Some(measured(3.4, 0.8, "3.4 ± 0.8 thou")), Some(measured(0.6, 0.8, "0.6 ± 0.8 thou"))],
        ),
        row(
            "Flange wobble, rim",
            Some(at_most(2.0, "at most 2 thou")),
            true,
            vec![Some(measured(2.2, 0.8, "2.2 ± 0.8 thou")), Some(measured(0.9, 0.8, "0.9 ± 0.8 thou"))],
        ),
        row(
            "Coast-down time",
            Some(limit(Bound::AtLeast(13.0), "at least 13 s")),
            true,
            vec![Some(measured(12.2, 0.28, "12.20 ± 0.28 s")), Some(measured(15.13, 0.27, "15.13 ± 0.27 s"))],
        ),
    ];
    Summary { width_pt: COLUMN, visits: both(), rows }
}

/// One row of every kind of scale.
pub(super) fn summary_of_all_kinds() -> Summary {
    let mut all = summary();
    all.width_pt = FULL;
    all.rows.extend([
        row(
            "Fence to slot",
            Some(limit(Bound::Between(-2.0, 2.0), "−2 to 2 thou")),
            true,
            vec![Some(measured(-3.5, 0.8, "−3.5 ± 0.8 thou")), Some(measured(0.5, 0.8, "0.5 ± 0.8 thou"))],
        ),
        row(
            "Noise at 3450 rpm",
            Some(at_most(85.0, "at most 85 dBA")),
            false,
            vec![Some(measured(88.2, 1.1, "88.2 ± 1.1 dBA")), Some(measured(83.0, 1.1, "83.0 ± 1.1 dBA"))],
        ),
        row(
            "Idle current",
            None,
            true,
            vec![Some(measured(7.2, 0.2, "7.2 ± 0.2 A")), Some(measured(6.1, 0.2, "6.1 ± 0.2 A"))],
        ),
        row("Bearing temperature", None, false, vec![Some(measured(61.0, 2.0, "61 ± 2 °C")), None]),
        row(
            "Backlash",
            Some(at_most(0.5, "at most 0.5 mm")),
            true,
            vec![Some(measured(9.5, 0.1, "9.50 ± 0.10 mm")), Some(measured(0.4, 0.05, "0.40 ± 0.05 mm"))],
        ),
    ]);
    all
}

/// All sample charts by name.
pub(super) fn all() -> Vec<(&'static str, Result<Svg, ChartError>)> {
    let mut all = vec![
        ("summary", summary().draw()),
        ("summary-kinds", summary_of_all_kinds().draw()),
        ("summary-forty", summary_of_forty().draw()),
        ("unrolled", unrolled().draw()),
        ("unrolled-one", unrolled_grid(1, 1, 4, 1, COLUMN).draw()),
        ("unrolled-many", unrolled_grid(1, 2, 72, 6, COLUMN).draw()),
        ("unrolled-six", unrolled_grid(6, 6, 12, 3, FULL).draw()),
        ("unrolled-three", unrolled_grid(3, 3, 8, 2, COLUMN).draw()),
        ("round", round().draw()),
        ("repeats", repeats().draw()),
        ("spindle", spindle().draw()),
    ];
    let mut six = round();
    six.visits = [0, 1, 0, 1, 1, 0].iter().map(|index| six.visits[*index].clone()).collect();
    six.visits[3].turns[0][2].value = 40.0;
    six.visits[3].turns[0][2].struck = true;
    six.width_pt = FULL;
    all.push(("round-six", six.draw()));
    let mut cut = unrolled();
    cut.range = Some((-0.5, 1.2));
    all.push(("unrolled-beyond", cut.draw()));
    extremes(&mut all);
    curves::extremes(&mut all);
    settings::extremes(&mut all);
    history::extremes(&mut all);
    bands::extremes(&mut all);
    relief::extremes(&mut all);
    spectra::extremes(&mut all);
    traces(&mut all);
    zone::extremes(&mut all);
    lean::extremes(&mut all);
    all
}
