//! Numbers read again and again, speeds, loads: means with Student's t.

use crate::engine::{Rng, Row, Study, Trial, Truth, instrument, list, plain, row, typed};

/// Why a stated bound gives more than 95.
const BOUND: &str =
    "a stated bound is never passed: ±a counts as a/√3 (JCGM 100, 4.3.7), and 1.96·a/√3 is more than a";
/// Why a display step gives more than 95.
const STEP: &str =
    "the step is never passed: half a step counts as d/√12, and 1.96 of that is more than half a step";
/// Rows that rest on a bound alone.
const SURE: (f64, f64) = (96.0, 100.0);

/// An instrument that errs by so much at most, read `n` times.
#[derive(Clone, Copy)]
struct Way {
    step: f64,
    noise: f64,
    accuracy: f64,
    /// U of a certificate with k = 2.
    certified: f64,
    repeats: usize,
    n: usize,
}

const ONCE: Way = Way { step: 0.01, noise: 0.0, accuracy: 0.0, certified: 0.0, repeats: 0, n: 1 };

impl Way {
    fn instrument(&self, rng: &mut Rng) -> String {
        let about = if self.repeats > 0 { rng.between(10.0, 20.0) } else { 0.0 };
        let mut text = instrument(rng, "s", self.step, self.accuracy, (self.repeats, self.noise, about));
        if self.certified > 0.0 {
            text += &format!(", calibration_uncertainty: {{U: {} s, k: 2}}", self.certified);
        }
        text
    }

    /// What it reads of `truth` at one visit: its own error stays the same throughout.
    fn readings(&self, rng: &mut Rng, truth: f64) -> String {
        let own = rng.within(self.accuracy) + rng.normal(self.certified / 2.0);
        let readings: Vec<f64> = (0..self.n).map(|_| truth + own + rng.normal(self.noise)).collect();
        format!("readings: {}", list(readings, self.step))
    }
}

fn quantity(how: &'static str, way: Way, one: Row) -> Study {
    Study {
        measure: "quantity",
        how,
        check: "unit: s",
        rows: vec![one],
        cost: 1,
        trial: Box::new(move |rng| {
            let truth = rng.between(10.0, 20.0);
            Trial {
                instrument: way.instrument(rng),
                visits: vec![way.readings(rng, truth)],
                files: Vec::new(),
                truths: vec![Truth::of("", "mean", truth)],
            }
        }),
    }
}

/// Two visits, the same number of readings at each.
fn change(how: &'static str, way: Way, one: Row) -> Study {
    Study {
        measure: "quantity",
        how,
        check: "unit: s",
        rows: vec![one],
        cost: 2,
        trial: Box::new(move |rng| {
            let (before, after) = (rng.between(10.0, 20.0), rng.between(10.0, 20.0));
            Trial {
                instrument: way.instrument(rng),
                visits: vec![way.readings(rng, before), way.readings(rng, after)],
                files: Vec::new(),
                truths: vec![Truth::change("", "mean", after - before)],
            }
        }),
    }
}

fn speed() -> Study {
    Study {
        measure: "speed",
        how: "4 readings, scatter 3 rpm, accuracy ±1 rpm or 0.05 %",
        check: "unit: rpm",
        rows: vec![row("error", (94.0, 97.5), BOUND)],
        cost: 1,
        trial: Box::new(|rng| {
            let truth = rng.between(2900.0, 3100.0);
            let own = rng.within(1f64.max(0.0005 * truth));
            let readings: Vec<f64> = (0..4).map(|_| truth + own + rng.normal(3.0)).collect();
            Trial {
                instrument: "resolution: 1 rpm, accuracy: [1 rpm, 0.05 %]".to_owned(),
                visits: vec![format!("at: {{3000 rpm: {}}}", list(readings, 1.0))],
                files: Vec::new(),
                truths: vec![Truth::of("3000 rpm", "error", 100.0 * (truth - 3000.0) / 3000.0)],
            }
        }),
    }
}

fn load() -> Study {
    Study {
        measure: "load",
        how: "5 runs, droop 13 ± 0.8 %, feed ± 3 %, tachometer ±2 rpm",
        check: "unit: rpm",
        rows: ["droop", "loaded_speed", "feed_rate", "removal_rate", "droop_per_removal"].map(plain).to_vec(),
        cost: 2,
        trial: Box::new(|rng| {
            let own = rng.within(2.0);
            let (droop, idle, feed) =
                (rng.between(12.0, 14.0), rng.between(3440.0, 3460.0), rng.between(27.0, 30.0));
            let mut runs = Vec::new();
            for _ in 0..5 {
                let unloaded = idle + rng.normal(2.0);
                let loaded = unloaded * (1.0 - (droop + rng.normal(0.8)) / 100.0);
                let time = 600.0 / (feed * (1.0 + rng.normal(0.03)));
                runs.push(format!(
                    "{{unloaded: {}, loaded: {}, length: 600 mm, time: {} s}}",
                    typed(unloaded + own, 1.0),
                    typed(loaded + own, 1.0),
                    typed(time, 0.01)
                ));
            }
            // kerf × depth × feed, mm³/s in cm³/min.
            let removal = 2.4 * 50.0 * feed * 60.0 / 1000.0;
            let truths = [
                ("droop", droop),
                ("loaded_speed", idle * (1.0 - droop / 100.0)),
                // mm/s in m/min.
                ("feed_rate", feed * 0.06),
                ("removal_rate", removal),
                // The mean of a quotient: one over a number that scatters by 3 % is larger by 0.03².
                ("droop_per_removal", droop / removal * (1.0 + 0.03 * 0.03)),
            ];
            Trial {
                instrument: "resolution: 1 rpm, accuracy: 2 rpm".to_owned(),
                visits: vec![format!(
                    "kerf: 2.4 mm, cuts: {{oak: {{depth: 50 mm, runs: [{}]}}}}",
                    runs.join(", ")
                )],
                files: Vec::new(),
                truths: truths.map(|(what, value)| Truth::of("oak", what, value)).into(),
            }
        }),
    }
}

/// Four speeds read before and after; the mean over all of them moves by one number.
fn speeds_compared() -> Study {
    Study {
        measure: "speed",
        how: "change over 4 speeds, each 4 readings before and after, scatter 3 rpm",
        check: "unit: rpm",
        rows: vec![plain("error")],
        cost: 4,
        trial: Box::new(|rng| {
            let moved = rng.within(1.0);
            let mut visits = [String::new(), String::new()];
            for set in [1000.0, 2000.0, 3000.0, 4000.0] {
                let base = rng.within(0.5);
                for (visit, error) in visits.iter_mut().zip([base, base + moved]) {
                    let readings: Vec<f64> =
                        (0..4).map(|_| set * (1.0 + error / 100.0) + rng.normal(0.002 * set)).collect();
                    *visit += &format!("{set} rpm: {}, ", list(readings, 0.1));
                }
            }
            Trial {
                instrument: "resolution: 0.1 rpm".to_owned(),
                visits: visits.map(|visit| format!("at: {{{visit}}}")).into(),
                files: Vec::new(),
                truths: vec![Truth::change("all speeds", "error", moved)],
            }
        }),
    }
}

/// Every study here.
pub fn studies() -> Vec<Study> {
    let noise = 0.1;
    let mean = plain("mean");
    vec![
        quantity("10 readings, scatter 10 steps", Way { noise, n: 10, ..ONCE }, mean),
        quantity("4 readings, scatter 10 steps", Way { noise, n: 4, ..ONCE }, mean),
        quantity("3 readings, their own scatter", Way { noise, n: 3, ..ONCE }, mean),
        quantity("2 readings, their own scatter", Way { noise, n: 2, ..ONCE }, mean),
        quantity("3 readings, 10 repeat readings", Way { noise, n: 3, repeats: 10, ..ONCE }, mean),
        quantity("1 reading, 6 repeat readings", Way { noise, repeats: 6, ..ONCE }, mean),
        quantity("1 reading, certificate U (k = 2), step far below", Way { certified: 0.2, ..ONCE }, mean),
        quantity(
            "6 readings, scatter half a step",
            Way { step: 0.2, noise, n: 6, ..ONCE },
            row(
                "mean",
                SURE,
                "the step is not divided by √n, though a scatter of half a step makes its rounding errors nearly independent",
            ),
        ),
        quantity(
            "6 readings, scatter a tenth of a step",
            Way { step: 1.0, noise, n: 6, ..ONCE },
            row("mean", SURE, STEP),
        ),
        quantity(
            "10 readings, accuracy ten times the scatter",
            Way { noise, accuracy: 1.0, n: 10, ..ONCE },
            row("mean", SURE, BOUND),
        ),
        quantity(
            "10 readings, accuracy as large as their mean's scatter",
            Way { noise, accuracy: 0.055, n: 10, ..ONCE },
            plain("mean"),
        ),
        speed(),
        load(),
        change("change, 5 readings before and after", Way { noise, n: 5, ..ONCE }, mean),
        change(
            "change, 1 reading before and after, 6 repeat readings",
            Way { noise, repeats: 6, ..ONCE },
            mean,
        ),
        change(
            "change, 3 readings before and after, 10 repeat readings",
            Way { noise, n: 3, repeats: 10, ..ONCE },
            mean,
        ),
        speeds_compared(),
    ]
}
