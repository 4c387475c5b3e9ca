//! Verdicts of what lies at its limit, which is where they go wrong most easily, and floors of perfect parts.

use crate::engine::{PLAIN, Rng, Row, Study, Trial, Truth, instrument, list, plain, range, typed};

/// Just within the limit or just beyond it, as often.
fn at_limit(rng: &mut Rng, limit: f64) -> f64 {
    limit * if rng.between(0.0, 1.0) < 0.5 { 1.0 - 1e-6 } else { 1.0 + 1e-6 }
}

fn mean(how: &'static str, noise: f64, step: f64, accuracy: f64) -> Study {
    Study {
        measure: "quantity",
        how,
        check: "unit: s, limit: {at_most: 15 s}",
        rows: vec![plain("mean")],
        cost: 1,
        trial: Box::new(move |rng| {
            let truth = at_limit(rng, 15.0);
            let own = rng.within(accuracy);
            let read: Vec<f64> = (0..5).map(|_| truth + own + rng.normal(noise)).collect();
            Trial {
                instrument: instrument(rng, "s", step, accuracy, (0, 0.0, 0.0)),
                visits: vec![format!("readings: {}", list(read, step))],
                files: Vec::new(),
                truths: vec![Truth::of("", "mean", truth)],
            }
        }),
    }
}

fn speed(how: &'static str, noise: f64) -> Study {
    Study {
        measure: "speed",
        how,
        check: "unit: rpm, limit: {at_most: 2 %}",
        rows: vec![plain("error")],
        cost: 1,
        trial: Box::new(move |rng| {
            // Either way from the speed set: 2 % of size is the limit.
            let truth = at_limit(rng, 2.0);
            let read: Vec<f64> = (0..5).map(|_| 3000.0 * (1.0 + truth / 100.0) + rng.normal(noise)).collect();
            Trial {
                instrument: "resolution: 1 rpm".to_owned(),
                visits: vec![format!("at: {{3000 rpm: {}}}", list(read, 1.0))],
                files: Vec::new(),
                truths: vec![Truth::of("3000 rpm", "error", truth)],
            }
        }),
    }
}

fn level(how: &'static str, noise: f64) -> Study {
    Study {
        measure: "sound",
        how,
        check: "unit: dBA, limit: {at_most: 85 dBA}",
        rows: vec![plain("level")],
        cost: 1,
        trial: Box::new(move |rng| {
            let truth = at_limit(rng, 85.0);
            // A mean of energies has (ln 10/20)·s² more than the mean of its decibels.
            let middle = truth - std::f64::consts::LN_10 / 20.0 * noise * noise;
            let read: Vec<f64> = (0..5).map(|_| middle + rng.normal(noise)).collect();
            Trial {
                instrument: "resolution: 0.1 dB".to_owned(),
                visits: vec![format!("at: {{3450 rpm: {}}}", list(read, 0.1))],
                files: Vec::new(),
                truths: vec![Truth::of("3450 rpm", "level", truth)],
            }
        }),
    }
}

/// Three turns of eight at a spindle whose run-out is `size`, and what goes twice per turn a quarter of that.
fn turns(rng: &mut Rng, size: f64, noise: f64, step: f64, many: usize) -> String {
    let (high, twice) = (rng.between(0.0, std::f64::consts::TAU), rng.between(0.0, std::f64::consts::TAU));
    let shape: Vec<f64> = (0..8)
        .map(|k| {
            let angle = std::f64::consts::TAU * f64::from(k) / 8.0;
            (angle - high).cos() + 0.25 * (2.0 * angle - twice).cos()
        })
        .collect();
    let scale = size / range(&shape);
    let lists: Vec<String> = (0..many)
        .map(|_| {
            let level = rng.within(20.0 * step.max(1.0));
            list(shape.iter().map(|h| level + scale * h + rng.normal(noise)).collect::<Vec<_>>(), step)
        })
        .collect();
    format!("turns: [{}]", lists.join(", "))
}

fn run_out(how: &'static str, noise: f64, step: f64) -> Study {
    Study {
        measure: "run-out",
        how,
        check: "direction: radial, unit: µm, limit: {at_most: 25 µm}",
        rows: vec![plain("tir")],
        cost: 8,
        trial: Box::new(move |rng| {
            let truth = at_limit(rng, 25.0);
            Trial {
                instrument: instrument(rng, "µm", step, 0.0, (8, noise, 0.0)),
                visits: vec![turns(rng, truth, noise, step, 3)],
                files: Vec::new(),
                truths: vec![Truth::of("", "tir", truth)],
            }
        }),
    }
}

/// Three passes over a bow of seven places, whose narrowest zone is its height.
fn bow(rng: &mut Rng, size: f64, noise: f64, step: f64) -> String {
    let lists: Vec<String> = (0..3)
        .map(|_| {
            let (level, tilt) = (rng.within(20.0 * step.max(1.0)), rng.within(step.max(1.0)));
            let read = (0..7).map(|k| {
                let x = f64::from(k) / 3.0 - 1.0;
                size * (1.0 - x * x) + level + tilt * x
            });
            list(read.map(|height| height + rng.normal(noise)).collect::<Vec<_>>(), step)
        })
        .collect();
    format!("along: [0 mm, 150 mm, 300 mm, 450 mm, 600 mm, 750 mm, 900 mm], passes: [{}]", lists.join(", "))
}

fn straight(how: &'static str, noise: f64, step: f64) -> Study {
    Study {
        measure: "straightness",
        how,
        check: "unit: µm, limit: {at_most: 50 µm}",
        rows: vec![plain("straightness")],
        cost: 10,
        trial: Box::new(move |rng| {
            let truth = at_limit(rng, 50.0);
            Trial {
                instrument: instrument(rng, "µm", step, 0.0, (8, noise, 0.0)),
                visits: vec![bow(rng, truth, noise, step)],
                files: Vec::new(),
                truths: vec![Truth::of("", "straightness", truth)],
            }
        }),
    }
}

fn parallel(how: &'static str, noise: f64) -> Study {
    Study {
        measure: "parallelism",
        how,
        check: "unit: µm, apart: 200 mm, limit: {at_most: 0.25 mm/m}",
        rows: vec![plain("out_of_parallel")],
        cost: 1,
        trial: Box::new(move |rng| {
            let truth = at_limit(rng, 0.25);
            let (mut front, mut rear) = (Vec::new(), Vec::new());
            for _ in 0..5 {
                let level = rng.within(50.0);
                front.push(level + rng.normal(noise));
                rear.push(level + 200.0 * truth + rng.normal(noise));
            }
            Trial {
                instrument: "resolution: 1 µm".to_owned(),
                visits: vec![format!("front: {}, rear: {}", list(front, 1.0), list(rear, 1.0))],
                files: Vec::new(),
                truths: vec![Truth::of("", "out_of_parallel", truth)],
            }
        }),
    }
}

fn rise(how: &'static str, noise: f64, accuracy: f64) -> Study {
    Study {
        measure: "temperature",
        how,
        check: "unit: °C, limit: {at_most: 40 K, of: rise}",
        rows: vec![plain("rise")],
        cost: 2,
        trial: Box::new(move |rng| {
            let truth = at_limit(rng, 40.0);
            let (own, of_air) = (rng.within(accuracy), rng.within(accuracy));
            // Warm at once and cold soon after: one reading is the highest.
            let points: Vec<String> = (0..8)
                .map(|k| {
                    let warm = if k == 4 { truth } else { truth * 0.5 };
                    format!("[\"{}:00\", {}]", 2 * k, typed(20.0 + warm + own + rng.normal(noise), 0.1))
                })
                .collect();
            Trial {
                instrument: instrument(rng, "K", 0.1, accuracy, (8, noise, 300.0)),
                visits: vec![format!(
                    "ambient: {} °C, places: {{p: {{points: [{}]}}}}",
                    typed(20.0 + of_air + rng.within(0.05), 0.1),
                    points.join(", ")
                )],
                files: Vec::new(),
                truths: vec![Truth::of("p", "rise", truth)],
            }
        }),
    }
}

/// What lies at its limit, with instruments from fine to coarse.
pub fn verdicts() -> Vec<Study> {
    vec![
        mean("5 readings, scatter 0.1 s", 0.1, 0.01, 0.0),
        mean("5 readings, scatter 1 s", 1.0, 0.01, 0.0),
        mean("5 readings, scatter 4 s", 4.0, 0.01, 0.0),
        mean("5 readings, scatter 0.5 s, step 2 s", 0.5, 2.0, 0.0),
        mean("5 readings, scatter 0.5 s, accuracy ±2 s", 0.5, 0.01, 2.0),
        speed("5 readings, scatter 3 rpm", 3.0),
        speed("5 readings, scatter 30 rpm", 30.0),
        level("5 readings, scatter 0.3 dB", 0.3),
        level("5 readings, scatter 1 dB", 1.0),
        level("5 readings, scatter 2 dB", 2.0),
        run_out("3 turns of 8, scatter 0.5 µm, step 0.1 µm", 0.5, 0.1),
        run_out("3 turns of 8, scatter 2 µm, step 1 µm", 2.0, 1.0),
        run_out("3 turns of 8, scatter 6 µm, step 1 µm", 6.0, 1.0),
        run_out("3 turns of 8, scatter 1 µm, step 10 µm", 1.0, 10.0),
        rise("8 readings, scatter 0.3 K", 0.3, 0.0),
        rise("8 readings, scatter 0.3 K, accuracy ±2 K", 0.3, 2.0),
        straight("7 places, 3 passes, scatter 1 µm, step 0.1 µm", 1.0, 0.1),
        straight("7 places, 3 passes, scatter 5 µm, step 1 µm", 5.0, 1.0),
        straight("7 places, 3 passes, scatter 15 µm, step 1 µm", 15.0, 1.0),
        straight("7 places, 3 passes, scatter 1 µm, step 20 µm", 1.0, 20.0),
        parallel("5 pairs, scatter 2 µm", 2.0),
        parallel("5 pairs, scatter 20 µm", 20.0),
    ]
}

/// A perfect spindle.
fn still_spindle(how: &'static str, noise: f64, step: f64, many: usize, repeats: usize) -> Study {
    Study {
        measure: "run-out",
        how,
        check: "direction: radial, unit: µm",
        rows: ["tir", "once_per_turn", "twice_per_turn"].map(plain).to_vec(),
        cost: 8,
        trial: Box::new(move |rng| Trial {
            instrument: instrument(rng, "µm", step, 0.0, (repeats, noise, 0.0)),
            visits: vec![turns(rng, 0.0, noise, step, many)],
            files: Vec::new(),
            truths: ["tir", "once_per_turn", "twice_per_turn"].map(|what| Truth::of("", what, 0.0)).into(),
        }),
    }
}

fn straight_line(how: &'static str, noise: f64, step: f64, repeats: usize) -> Study {
    let whats = ["straightness", "straightness_least_squares", "straightness_end_points"];
    Study {
        measure: "straightness",
        how,
        check: "unit: µm",
        rows: whats.map(plain).to_vec(),
        cost: 10,
        trial: Box::new(move |rng| Trial {
            instrument: instrument(rng, "µm", step, 0.0, (repeats, noise, 0.0)),
            visits: vec![bow(rng, 0.0, noise, step)],
            files: Vec::new(),
            truths: whats.map(|what| Truth::of("", what, 0.0)).into(),
        }),
    }
}

/// Noise with a bearing named: nothing is there to be seen.
fn still_bearing() -> Study {
    let whats = ["order_1", "order_2", "order_3", "outer_race", "inner_race", "ball", "cage"];
    Study {
        measure: "vibration",
        how: "8 s of noise at 6,400 a second, a bearing named",
        check: "unit: g, bearing: {balls: 9, ball: 7.94 mm, pitch: 39.04 mm}",
        rows: whats.map(|what| Row { what, holds: PLAIN, why: "" }).to_vec(),
        cost: 40,
        trial: Box::new(move |rng| {
            use std::fmt::Write as _;
            let mut csv = String::from("a\n");
            for _ in 0..51_200 {
                let _ = writeln!(csv, "{:.4}", rng.normal(0.1));
            }
            Trial {
                instrument: "resolution: 0.0001 g".to_owned(),
                visits: vec!["at: {3450 rpm: {file: x.csv, rate: 6400 Hz, axes: {z: a}}}".to_owned()],
                files: vec![("x.csv", csv.into_bytes())],
                truths: whats.map(|what| Truth::of("3450 rpm", what, 0.0)).into(),
            }
        }),
    }
}

/// Perfect parts.
pub fn floors() -> Vec<Study> {
    vec![
        still_spindle("3 turns of 8, scatter 1 µm, step 0.1 µm, 30 repeat readings", 1.0, 0.1, 3, 30),
        still_spindle("3 turns of 8, scatter 1 µm, step 0.1 µm, 6 repeat readings", 1.0, 0.1, 3, 6),
        still_spindle("1 turn of 8, scatter far below the step, no repeat readings", 0.01, 1.0, 1, 0),
        straight_line("7 places, 3 passes, scatter 2 µm, step 0.2 µm, 30 repeat readings", 2.0, 0.2, 30),
        straight_line("7 places, 3 passes, scatter 2 µm, step 0.2 µm, 6 repeat readings", 2.0, 0.2, 6),
        still_bearing(),
    ]
}
