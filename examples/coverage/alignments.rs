//! Straightness, flatness, parallelism, squareness; lengths in µm where nothing else is said.

use crate::engine::{Rng, Row, Study, Trial, Truth, instrument, list, plain, range, row, typed};

/// Why a zone is held less often: too high, hardly ever too low.
const LIFTED: &str = "noise pushes a width up: the value stays the one observed, the report says by how much, and a verdict allows for it";
/// Where it does.
const LIFTS: (f64, f64) = (60.0, 96.5);

/// An instrument that scatters, with a step and an accuracy of the travel that it shows.
#[derive(Clone, Copy)]
struct Way {
    noise: f64,
    step: f64,
    accuracy: f64,
    passes: usize,
    repeats: usize,
}

const USUAL: Way = Way { noise: 2.0, step: 0.2, accuracy: 0.0, passes: 3, repeats: 8 };

impl Way {
    fn instrument(&self, rng: &mut Rng) -> String {
        instrument(rng, "µm", self.step, self.accuracy, (self.repeats, self.noise, 0.0))
    }

    /// What its accuracy does to a travel.
    fn gain(&self, rng: &mut Rng, travel: f64) -> f64 {
        1.0 + rng.within(self.accuracy) / travel.abs().max(1e-9)
    }
}

/// The width of the narrowest zone between two parallel lines about heights at equal steps: the smallest over every edge
/// of their hull, by trying all pairs.
fn zone(heights: &[f64]) -> f64 {
    let at = |index: usize| (index as f64, heights[index]);
    let mut least = f64::INFINITY;
    for i in 0..heights.len() {
        for j in i + 1..heights.len() {
            let ((x, y), (to, end)) = (at(i), at(j));
            let slope = (end - y) / (to - x);
            let off: Vec<f64> = (0..heights.len()).map(|k| heights[k] - y - slope * (k as f64 - x)).collect();
            least = least.min(range(&off));
        }
    }
    least
}

/// Width about the least-squares line, heights at equal steps.
fn about_line(heights: &[f64]) -> f64 {
    let n = heights.len() as f64;
    let middle = (n - 1.0) / 2.0;
    let level = heights.iter().sum::<f64>() / n;
    let x = |k: usize| k as f64 - middle;
    let spread: f64 = (0..heights.len()).map(|k| x(k) * x(k)).sum();
    let slope = (0..heights.len()).map(|k| x(k) * (heights[k] - level)).sum::<f64>() / spread;
    range(&(0..heights.len()).map(|k| heights[k] - slope * x(k)).collect::<Vec<_>>())
}

fn about_ends(heights: &[f64]) -> f64 {
    let last = heights.len() - 1;
    let slope = (heights[last] - heights[0]) / last as f64;
    range(&(0..heights.len()).map(|k| heights[k] - slope * k as f64).collect::<Vec<_>>())
}

/// A line of seven places that bows by `bow` with waves upon it.
fn line(rng: &mut Rng, bow: f64) -> Vec<f64> {
    let phase = rng.between(0.0, std::f64::consts::TAU);
    (0..7)
        .map(|k| {
            let x = f64::from(k) / 3.0 - 1.0;
            bow * (1.0 - x * x) + 0.15 * bow * (4.0 * x + phase).sin()
        })
        .collect()
}

/// Passes over a line, each with a level and a slope of its own.
fn passes(rng: &mut Rng, way: &Way, heights: &[f64]) -> String {
    let gain = way.gain(rng, zone(heights));
    let lists: Vec<String> = (0..way.passes)
        .map(|_| {
            let (level, tilt) = (rng.within(100.0), rng.within(10.0));
            let read = heights.iter().enumerate().map(|(k, h)| gain * h + level + tilt * k as f64);
            list(read.map(|height| height + rng.normal(way.noise)).collect::<Vec<_>>(), way.step)
        })
        .collect();
    let along: Vec<String> = (0..heights.len()).map(|k| format!("{} mm", 150 * k)).collect();
    format!("along: [{}], passes: [{}]", along.join(", "), lists.join(", "))
}

fn straightness(how: &'static str, way: Way, bow: f64, rows: Vec<Row>) -> Study {
    Study {
        measure: "straightness",
        how,
        check: "unit: µm",
        rows,
        cost: 10,
        trial: Box::new(move |rng| {
            let heights = line(rng, bow);
            Trial {
                instrument: way.instrument(rng),
                visits: vec![passes(rng, &way, &heights)],
                files: Vec::new(),
                truths: vec![
                    Truth::of("", "straightness", zone(&heights)),
                    Truth::of("", "straightness_least_squares", about_line(&heights)),
                    Truth::of("", "straightness_end_points", about_ends(&heights)),
                ],
            }
        }),
    }
}

/// A table of 3 × 4 places that is twisted: the two lines along it of which the outer are twisted one against the other.
/// A twist h = c·x·y has the zone 2c over the corners at ±1, whichever plane is laid to it (the corners alternate).
fn flatness(how: &'static str, way: Way, twist: f64, rows: Vec<Row>) -> Study {
    Study {
        measure: "flatness",
        how,
        check: "unit: µm",
        rows,
        cost: 20,
        trial: Box::new(move |rng| {
            let gain = way.gain(rng, 2.0 * twist);
            let lists: Vec<String> = (0..way.passes)
                .map(|_| {
                    let (level, a, b) = (rng.within(100.0), rng.within(10.0), rng.within(10.0));
                    let rows: Vec<String> = [-1.0, 0.0, 1.0]
                        .iter()
                        .map(|y| {
                            let read = [-1.0, -1.0 / 3.0, 1.0 / 3.0, 1.0].map(|x| {
                                gain * twist * x * y + level + a * x + b * y + rng.normal(way.noise)
                            });
                            list(read, way.step)
                        })
                        .collect();
                    format!("[{}]", rows.join(", "))
                })
                .collect();
            let readings = if way.passes == 1 {
                format!("rows: {}", lists[0])
            } else {
                format!("passes: [{}]", lists.join(", "))
            };
            Trial {
                instrument: way.instrument(rng),
                visits: vec![format!("{readings}, step: [250 mm, 200 mm]")],
                files: Vec::new(),
                // About the least-squares plane of a twist, which is level, the corners stand 2c apart too.
                truths: vec![
                    Truth::of("", "flatness", 2.0 * twist),
                    Truth::of("", "flatness_least_squares", 2.0 * twist),
                ],
            }
        }),
    }
}

fn parallelism(how: &'static str, way: Way, pairs: usize, holds: Row) -> Study {
    Study {
        measure: "parallelism",
        how,
        check: "unit: µm, apart: 180 mm",
        rows: vec![holds, Row { what: "angle", ..holds }],
        cost: 1,
        trial: Box::new(move |rng| {
            let lean = rng.between(30.0, 60.0);
            let shown = lean * way.gain(rng, lean);
            let (mut front, mut rear) = (Vec::new(), Vec::new());
            for _ in 0..pairs {
                let level = rng.within(100.0);
                front.push(level + rng.normal(way.noise));
                rear.push(level + shown + rng.normal(way.noise));
            }
            let slope = lean / 1000.0 / 180.0;
            Trial {
                instrument: way.instrument(rng),
                visits: vec![format!(
                    "front: {}, rear: {}, same_tooth: true",
                    list(front, way.step),
                    list(rear, way.step)
                )],
                files: Vec::new(),
                truths: vec![
                    Truth::of("", "out_of_parallel", slope * 1000.0),
                    Truth::of("", "angle", slope.atan().to_degrees()),
                ],
            }
        }),
    }
}

/// Boards cut five times: widths in mm, with an error of the saw's own from board to board.
fn five_cuts(how: &'static str, boards: usize, repeats: usize, holds: Row) -> Study {
    Study {
        measure: "squareness",
        how,
        check: "unit: mm",
        rows: vec![holds],
        cost: 1,
        trial: Box::new(move |rng| {
            let slope = rng.between(0.0002, 0.0008);
            let noise = 0.02;
            let cuts: Vec<String> = (0..boards)
                .map(|_| {
                    let near = rng.between(25.0, 35.0);
                    let far = near - 4.0 * slope * 380.0;
                    let (near, far) = (near + rng.normal(noise), far + rng.normal(noise));
                    format!("{{near: {}, far: {}, strip: 380 mm}}", typed(near, 0.001), typed(far, 0.001))
                })
                .collect();
            let repeats = (repeats > 0).then(|| {
                let list = list(rng.normals(repeats, noise).into_iter().map(|r| r + 30.0), 0.001);
                format!(", repeat_readings: {list}, repeat_unit: mm")
            });
            Trial {
                instrument: format!("resolution: 0.001 mm{}", repeats.unwrap_or_default()),
                visits: vec![format!("five_cuts: [{}]", cuts.join(", "))],
                files: Vec::new(),
                truths: vec![Truth::of("", "out_of_square", slope * 1000.0)],
            }
        }),
    }
}

fn gap() -> Study {
    let way = Way { noise: 5.0, step: 10.0, accuracy: 5.0, repeats: 0, passes: 1 };
    Study {
        measure: "squareness",
        how: "a gap read 5 times, step 10 µm, scatter and accuracy ±5 µm, square true to 8 µm",
        check: "unit: µm, reference: {name: square, within: 8 µm}",
        rows: vec![row(
            "out_of_square",
            (95.0, 100.0),
            "three bounds in quadrature, and the step is not divided by √n",
        )],
        cost: 1,
        trial: Box::new(move |rng| {
            let gap = rng.between(80.0, 160.0);
            let own = rng.within(way.accuracy) + rng.within(8.0);
            let read: Vec<f64> = (0..5).map(|_| gap + own + rng.normal(way.noise)).collect();
            Trial {
                instrument: way.instrument(rng),
                visits: vec![format!("over: 300 mm, gap: {}", list(read, way.step))],
                files: Vec::new(),
                truths: vec![Truth::of("", "out_of_square", gap / 300.0)],
            }
        }),
    }
}

fn lines() -> Study {
    Study {
        measure: "squareness",
        how: "an indicator run up a square, 6 places twice",
        check: "unit: µm",
        rows: vec![plain("out_of_square")],
        cost: 1,
        trial: Box::new(move |rng| {
            let slope = rng.between(10.0, 40.0);
            let passes: Vec<String> = (0..2)
                .map(|_| {
                    let level = rng.within(100.0);
                    let read: Vec<f64> =
                        (0..6).map(|k| level + slope * f64::from(k) + rng.normal(2.0)).collect();
                    list(read, 0.2)
                })
                .collect();
            let along: Vec<String> = (0..6).map(|k| format!("{} mm", 20 * k)).collect();
            Trial {
                instrument: "resolution: 0.2 µm".to_owned(),
                visits: vec![format!(
                    "lines: [{{along: [{}], passes: [{}]}}]",
                    along.join(", "),
                    passes.join(", ")
                )],
                files: Vec::new(),
                // µm over 20 mm in mm/m.
                truths: vec![Truth::of("", "out_of_square", slope / 20.0)],
            }
        }),
    }
}

fn lifted(what: &'static str) -> Row {
    row(what, LIFTS, LIFTED)
}

/// Every study here.
pub fn studies() -> Vec<Study> {
    let three = ["straightness", "straightness_least_squares", "straightness_end_points"];
    let flat = ["flatness", "flatness_least_squares"];
    let lean = plain("out_of_parallel");
    let square = plain("out_of_square");
    vec![
        straightness(
            "7 places, 3 passes, bow 50 times the scatter",
            USUAL,
            100.0,
            three.map(lifted).to_vec(),
        ),
        straightness("7 places, 3 passes, bow 5 times the scatter", USUAL, 10.0, three.map(lifted).to_vec()),
        straightness(
            "7 places, 1 pass, 8 repeat readings",
            Way { passes: 1, ..USUAL },
            100.0,
            three.map(lifted).to_vec(),
        ),
        straightness(
            "7 places, 3 passes, accuracy 5 times the scatter",
            Way { accuracy: 10.0, ..USUAL },
            100.0,
            three.map(|what| row(what, (96.0, 100.0), "a stated bound is never passed")).to_vec(),
        ),
        flatness(
            "3 × 4 places, 3 passes, twist 50 times the scatter",
            USUAL,
            50.0,
            flat.map(lifted).to_vec(),
        ),
        flatness(
            "3 × 4 places, 1 pass, 8 repeat readings",
            Way { passes: 1, ..USUAL },
            50.0,
            flat.map(lifted).to_vec(),
        ),
        parallelism("5 pairs, scatter 10 steps", USUAL, 5, lean),
        parallelism("2 pairs, 8 repeat readings", USUAL, 2, lean),
        parallelism(
            "5 pairs, accuracy as large as the scatter of their mean",
            Way { accuracy: 2.2, ..USUAL },
            5,
            Row { holds: (94.0, 97.0), ..lean },
        ),
        five_cuts("5 boards cut five times", 5, 0, square),
        five_cuts("3 boards cut five times, 8 repeat readings", 3, 8, square),
        gap(),
        lines(),
    ]
}
