//! Run-out: ranges and amplitudes, whose noise is not their error's.

use crate::engine::{Rng, Row, Study, Trial, Truth, instrument, list, plain, range, row};

/// Why a range is held less often: too high, hardly ever too low.
const LIFTED: &str = "noise pushes a range up: the value stays the one observed, the report says by how much, and a verdict allows for it";
/// Where it does.
const LIFTS: (f64, f64) = (60.0, 96.0);
const STEP: &str =
    "the step is never passed: half a step counts as d/√12, and 1.96 of that is more than half a step";
const BOUND: &str = "a stated bound is never passed: ±a counts as a/√3, and 1.96·a/√3 is more than a";

/// A spindle read with an indicator; lengths in µm.
#[derive(Clone, Copy)]
struct Way {
    /// Twice the eccentricity, and the size of what goes twice per turn.
    once: f64,
    twice: f64,
    /// Standard deviation of what does not repeat.
    noise: f64,
    step: f64,
    /// Half of the accuracy's band.
    accuracy: f64,
    angles: usize,
    turns: usize,
    repeats: usize,
}

const USUAL: Way =
    Way { once: 40.0, twice: 6.0, noise: 1.0, step: 0.1, accuracy: 0.0, angles: 8, turns: 3, repeats: 8 };

/// A turn's true profile at so many angles.
fn profile(way: &Way, once: (f64, f64), phase: f64) -> Vec<f64> {
    (0..way.angles)
        .map(|index| {
            let angle = std::f64::consts::TAU * index as f64 / way.angles as f64;
            once.0 * angle.cos() + once.1 * angle.sin() + way.twice / 2.0 * (2.0 * angle - phase).cos()
        })
        .collect()
}

impl Way {
    fn instrument(&self, rng: &mut Rng) -> String {
        instrument(rng, "µm", self.step, self.accuracy, (self.repeats, self.noise, 0.0))
    }

    /// All turns as YAML. Its accuracy is an error of the travel that it shows; each turn creeps to a level of its own.
    fn turns(&self, rng: &mut Rng, profile: &[f64]) -> String {
        let travel = range(profile).max(1e-9);
        let gain = 1.0 + rng.within(self.accuracy) / travel;
        let mut turns = Vec::new();
        for _ in 0..self.turns {
            let level = rng.between(-50.0, 50.0);
            turns.push(list(
                profile.iter().map(|value| level + gain * value + rng.normal(self.noise)),
                self.step,
            ));
        }
        format!("turns: [{}]", turns.join(", "))
    }
}

fn one_station(how: &'static str, way: Way, rows: Vec<Row>) -> Study {
    Study {
        measure: "run-out",
        how,
        check: "direction: radial, unit: µm",
        rows,
        cost: 8,
        trial: Box::new(move |rng| {
            let (high, phase) =
                (rng.between(0.0, std::f64::consts::TAU), rng.between(0.0, std::f64::consts::TAU));
            let once = (way.once / 2.0 * high.cos(), way.once / 2.0 * high.sin());
            let profile = profile(&way, once, phase);
            let noise = way.noise.hypot(way.step / 12f64.sqrt());
            Trial {
                instrument: way.instrument(rng),
                visits: vec![way.turns(rng, &profile)],
                files: Vec::new(),
                truths: vec![
                    Truth::of("", "tir", range(&profile)),
                    Truth::of("", "once_per_turn", way.once),
                    Truth::of("", "twice_per_turn", way.twice),
                    Truth::of("", "residual", noise),
                    Truth::of("", "non_repeating", noise),
                ],
            }
        }),
    }
}

/// Where each turn ends: so much from where it began.
fn closing(how: &'static str, turns: usize, one: Row) -> Study {
    Study {
        measure: "run-out",
        how,
        check: "direction: radial, unit: µm",
        rows: vec![one],
        cost: 8,
        trial: Box::new(move |rng| {
            let moved = rng.within(5.0);
            let way = USUAL;
            let mut lists = Vec::new();
            for _ in 0..turns {
                let mut turn: Vec<f64> = profile(&way, (20.0, 0.0), 0.0);
                turn.push(turn[0] + moved);
                lists.push(list(turn.iter().map(|value| value + rng.normal(way.noise)), way.step));
            }
            Trial {
                instrument: way.instrument(rng),
                visits: vec![format!("closes: true, turns: [{}]", lists.join(", "))],
                files: Vec::new(),
                truths: vec![Truth::of("", "closing_error", moved)],
            }
        }),
    }
}

/// Three stations along a spindle.
fn spindle(how: &'static str, way: Way, rows: Vec<Row>) -> Study {
    Study {
        measure: "run-out",
        how,
        check: "direction: radial, unit: µm, stations: {a: {from: 0 mm}, b: {from: 40 mm}, c: {from: 80 mm}}",
        rows,
        cost: 24,
        trial: Box::new(move |rng| {
            let vector = |rng: &mut Rng, size: f64| {
                let angle = rng.between(0.0, std::f64::consts::TAU);
                (size * angle.cos(), size * angle.sin())
            };
            let offset = vector(rng, way.once / 2.0);
            // So much more at 80 mm.
            let tilt = vector(rng, way.once / 2.0);
            let mut stations = Vec::new();
            for (id, share) in [("a", 0.0), ("b", 0.5), ("c", 1.0)] {
                let once = (offset.0 + share * tilt.0, offset.1 + share * tilt.1);
                stations.push(format!("{id}: {{{}}}", way.turns(rng, &profile(&way, once, 0.0))));
            }
            Trial {
                instrument: way.instrument(rng),
                visits: vec![format!("stations: {{{}}}", stations.join(", "))],
                files: Vec::new(),
                truths: vec![
                    Truth::of("all stations", "offset", way.once / 2.0),
                    // µm over 80 mm in mm/m.
                    Truth::of("all stations", "tilt", way.once / 2.0 / 80.0),
                ],
            }
        }),
    }
}

/// One station before and after.
fn change(how: &'static str, way: Way, after: f64, rows: Vec<Row>) -> Study {
    Study {
        measure: "run-out",
        how,
        check: "direction: radial, unit: µm",
        rows,
        cost: 16,
        trial: Box::new(move |rng| {
            let before = profile(&way, (way.once / 2.0, 0.0), 1.0);
            let left = profile(&way, (0.0, after / 2.0), 2.0);
            Trial {
                instrument: way.instrument(rng),
                visits: vec![way.turns(rng, &before), way.turns(rng, &left)],
                files: Vec::new(),
                truths: vec![
                    Truth::change("", "tir", range(&left) - range(&before)),
                    Truth::change("", "once_per_turn", after - way.once),
                ],
            }
        }),
    }
}

/// Every study here.
pub fn studies() -> Vec<Study> {
    vec![
        one_station(
            "3 turns of 8, TIR 40 times the scatter",
            USUAL,
            vec![
                row("tir", LIFTS, LIFTED),
                plain("once_per_turn"),
                plain("twice_per_turn"),
                plain("residual"),
                plain("non_repeating"),
            ],
        ),
        one_station(
            "3 turns of 8, TIR 8 times the scatter",
            Way { once: 8.0, twice: 2.0, ..USUAL },
            vec![row("tir", LIFTS, LIFTED), plain("once_per_turn"), plain("twice_per_turn")],
        ),
        one_station(
            "1 turn of 8, TIR 20 times the scatter",
            Way { once: 20.0, turns: 1, ..USUAL },
            vec![row("tir", LIFTS, LIFTED), plain("once_per_turn")],
        ),
        one_station(
            "1 turn of 24, TIR 10 times the scatter",
            Way { once: 10.0, twice: 0.0, turns: 1, angles: 24, ..USUAL },
            vec![row("tir", LIFTS, LIFTED), plain("once_per_turn")],
        ),
        one_station(
            "3 turns of 8, step 5 times the scatter",
            Way { step: 5.0, ..USUAL },
            vec![row("tir", (96.0, 100.0), STEP), row("once_per_turn", (96.0, 100.0), STEP)],
        ),
        one_station(
            "3 turns of 8, accuracy 3 times the scatter",
            Way { accuracy: 3.0, ..USUAL },
            vec![row("tir", (95.0, 100.0), BOUND), row("once_per_turn", (95.0, 100.0), BOUND)],
        ),
        closing("1 turn that closes", 1, plain("closing_error")),
        closing(
            "3 turns that close",
            3,
            row(
                "closing_error",
                (94.0, 98.5),
                "the largest of three: each alone is held 98.3 times (Bonferroni)",
            ),
        ),
        spindle("3 stations, 3 turns of 8", USUAL, vec![plain("offset"), plain("tilt")]),
        change(
            "change, 3 turns of 8 before and after, 40 µm to 10 µm",
            USUAL,
            10.0,
            vec![plain("tir"), plain("once_per_turn")],
        ),
    ]
}
