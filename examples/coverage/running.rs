//! What is read while the machine runs: temperatures, sound, vibration.

use std::f64::consts::TAU;
use std::fmt::Write as _;
use std::io::Cursor;

use crate::engine::{Rng, Row, Study, Trial, Truth, list, plain, row, shown, typed};

const BOUND: &str = "a stated bound is never passed: ±a counts as a/√3, and 1.96·a/√3 is more than a";

const LOBE: &str = "the bins of a line are taken to wander together, which is cautious";

/// A body that is heated until `turn` and cools after it; minutes and °C.
#[derive(Clone, Copy)]
struct Course {
    ambient: f64,
    warms: f64,
    tau: f64,
    turn: f64,
}

impl Course {
    fn at(&self, minutes: f64) -> f64 {
        let heated = |m: f64| self.warms * (1.0 - (-m / self.tau).exp());
        let rise = if minutes <= self.turn {
            heated(minutes)
        } else {
            heated(self.turn) * (-(minutes - self.turn) / self.tau).exp()
        };
        self.ambient + rise
    }
}

fn clock(minutes: f64) -> String {
    let seconds = (minutes * 60.0).round() as u64;
    format!("\"{}:{:02}\"", seconds / 60, seconds % 60)
}

fn points(times: &[f64], values: &[f64], step: f64) -> String {
    let each: Vec<String> = times
        .iter()
        .zip(values)
        .map(|(time, value)| format!("[{}, {}]", clock(*time), typed(*value, step)))
        .collect();
    format!("points: [{}]", each.join(", "))
}

/// Slope of the least-squares line.
fn slope(x: &[f64], y: &[f64]) -> f64 {
    let n = x.len() as f64;
    let (mx, my) = (x.iter().sum::<f64>() / n, y.iter().sum::<f64>() / n);
    let spread: f64 = x.iter().map(|x| (x - mx) * (x - mx)).sum();
    x.iter().zip(y).map(|(x, y)| (x - mx) * (y - my)).sum::<f64>() / spread
}

fn thermometer(rng: &mut Rng, step: f64, noise: f64, accuracy: f64) -> String {
    let accuracy = if accuracy > 0.0 { format!(", accuracy: {accuracy} K") } else { String::new() };
    let repeats = list(rng.normals(8, noise).into_iter().map(|r| 40.0 + r), step);
    format!("resolution: {step} K{accuracy}, repeat_readings: {repeats}, repeat_unit: °C")
}

/// Half a run up and half a run down, read every two minutes.
fn warm_up(how: &'static str, noise: f64, accuracy: f64, rows: Vec<Row>) -> Study {
    Study {
        measure: "temperature",
        how,
        check: "unit: °C",
        rows,
        cost: 4,
        trial: Box::new(move |rng| {
            let course = Course {
                ambient: 20.0,
                warms: rng.between(35.0, 45.0),
                tau: rng.between(18.0, 22.0),
                turn: 40.0,
            };
            let phase = (rng.between(0.0, 2.0) * 60.0).round() / 60.0;
            let times: Vec<f64> = (0..35).map(|k| 2.0 * f64::from(k) + phase).collect();
            let truths: Vec<f64> = times.iter().map(|time| course.at(*time)).collect();
            // The same thermometer errs anew where it reads the air.
            let (own, of_air) = (rng.within(accuracy), rng.within(accuracy));
            let read: Vec<f64> = truths.iter().map(|truth| truth + own + rng.normal(noise)).collect();
            let ambient = typed(course.ambient + rng.within(0.05) + of_air, 0.1);
            let hottest = truths.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            let last = times[times.len() - 1];
            let tail = times.iter().position(|t| *t >= last - (last - times[0]) / 5.0 - 1e-6).unwrap();
            let rate = 60.0 * slope(&times[tail..], &truths[tail..]);
            let schedule = "schedule: [[\"0:00\", 3000 rpm], [\"40:00\", 0 rpm]]";
            Trial {
                instrument: thermometer(rng, 0.1, noise, accuracy),
                visits: vec![format!(
                    "ambient: {ambient} °C, {schedule}, places: {{p: {{{}}}}}",
                    points(&times, &read, 0.1)
                )],
                files: Vec::new(),
                truths: vec![
                    Truth::of("p", "maximum", hottest),
                    Truth::of("p", "rise", hottest - course.ambient),
                    Truth::of("p", "time_of_maximum", course.turn),
                    Truth::of("p", "end_rate", rate),
                    Truth::of("p, 3000 rpm", "time_constant", course.tau),
                ],
            }
        }),
    }
}

/// When a run settles: the half hour from then on changes by 1 K.
fn settles() -> Study {
    Study {
        measure: "temperature",
        how: "a run of 2 h read every 2 min, scatter 0.1 K, 38 K in all",
        check: "unit: °C",
        rows: vec![row(
            "settled_at",
            (95.0, 100.0),
            "half the time between readings is a bound, and readings within 1 K of 1 K in half an hour reach far",
        )],
        cost: 4,
        trial: Box::new(|rng| {
            let course =
                Course { ambient: 20.0, warms: 38.0, tau: rng.between(14.0, 18.0), turn: f64::INFINITY };
            let phase = (rng.between(0.0, 2.0) * 60.0).round() / 60.0;
            let change = |from: f64| {
                let times: Vec<f64> = (0..=15).map(|k| from + 2.0 * f64::from(k)).collect();
                30.0 * slope(&times, &times.iter().map(|t| course.at(*t)).collect::<Vec<_>>())
            };
            let (mut low, mut high) = (0.0, 120.0);
            for _ in 0..50 {
                let middle = f64::midpoint(low, high);
                if change(middle) > 1.0 { low = middle } else { high = middle }
            }
            let times: Vec<f64> = (0..60).map(|k| 2.0 * f64::from(k) + phase).collect();
            let read: Vec<f64> = times.iter().map(|time| course.at(*time) + rng.normal(0.1)).collect();
            Trial {
                instrument: thermometer(rng, 0.1, 0.1, 0.0),
                visits: vec![format!("ambient: 20 °C, places: {{p: {{{}}}}}", points(&times, &read, 0.1))],
                files: Vec::new(),
                truths: vec![Truth::of("p", "settled_at", low)],
            }
        }),
    }
}

/// A time constant from residuals that hang together (correlation 0.6 from one to the next).
fn hanging_together() -> Study {
    Study {
        measure: "temperature",
        how: "a fit to 90 readings whose errors hang together (0.6)",
        check: "unit: °C",
        rows: vec![row(
            "time_constant",
            (88.0, 97.0),
            "the correlation is estimated from the residuals, which come out less correlated than the errors",
        )],
        cost: 8,
        trial: Box::new(|rng| {
            let course =
                Course { ambient: 20.0, warms: 30.0, tau: rng.between(9.0, 11.0), turn: f64::INFINITY };
            let times: Vec<f64> = (0..90).map(|k| f64::from(k) / 3.0).collect();
            let mut error = rng.normal(0.3);
            let mut read = Vec::new();
            for time in &times {
                read.push(course.at(*time) + error);
                error = 0.6 * error + rng.normal(0.3 * 0.8);
            }
            Trial {
                instrument: "resolution: 0.01 K".to_owned(),
                visits: vec![format!("ambient: 20 °C, places: {{p: {{{}}}}}", points(&times, &read, 0.01))],
                files: Vec::new(),
                truths: vec![Truth::of("p", "time_constant", course.tau)],
            }
        }),
    }
}

/// A mean of energies: what scatters by s decibels has (ln 10/20)·s² more than its mean.
fn energy_mean(level: f64, scatter: f64) -> f64 {
    level + std::f64::consts::LN_10 / 20.0 * scatter * scatter
}

fn sum(a: f64, b: f64) -> f64 {
    10.0 * (10f64.powf(a / 10.0) + 10f64.powf(b / 10.0)).log10()
}

fn levels(
    how: &'static str,
    n: usize,
    accuracy: f64,
    repeats: usize,
    behind: Option<f64>,
    one: Row,
) -> Study {
    Study {
        measure: "sound",
        how,
        check: "unit: dBA",
        rows: vec![one],
        cost: 1,
        trial: Box::new(move |rng| {
            let scatter = 0.5;
            let level = rng.between(70.0, 90.0);
            let own = rng.within(accuracy);
            let mut text = String::from("resolution: 0.1 dB");
            if accuracy > 0.0 {
                text += &format!(", accuracy: {accuracy} dB");
            }
            if repeats > 0 {
                let list = list(rng.normals(repeats, scatter).into_iter().map(|r| 80.0 + r), 0.1);
                text += &format!(", repeat_readings: {list}, repeat_unit: dBA");
            }
            let mut read =
                |level: f64| list((0..n).map(|_| level + own + rng.normal(scatter)).collect::<Vec<_>>(), 0.1);
            // Machine and background together are what scatters.
            let readings = match behind {
                Some(below) => {
                    let background = level - below;
                    let whole = sum(level, energy_mean(background, 0.0));
                    format!("{{readings: {}, background: {}}}", read(whole), read(background))
                }
                None => read(level),
            };
            // With a background both means are larger by the same share, and so is their difference.
            Trial {
                instrument: text,
                visits: vec![format!("at: {{3450 rpm: {readings}}}")],
                files: Vec::new(),
                truths: vec![Truth::of("3450 rpm", "level", energy_mean(level, scatter))],
            }
        }),
    }
}

fn levels_compared() -> Study {
    Study {
        measure: "sound",
        how: "change over 4 speeds, each 4 readings before and after, scatter 0.5 dB",
        check: "unit: dBA",
        rows: vec![plain("level")],
        cost: 4,
        trial: Box::new(|rng| {
            let moved = rng.within(2.0);
            let mut visits = [String::new(), String::new()];
            for set in [1000, 2000, 3000, 4000] {
                let level = rng.between(70.0, 80.0);
                for (visit, level) in visits.iter_mut().zip([level, level + moved]) {
                    let read = list((0..4).map(|_| level + rng.normal(0.5)).collect::<Vec<_>>(), 0.1);
                    let _ = write!(visit, "{set} rpm: {read}, ");
                }
            }
            Trial {
                instrument: "resolution: 0.1 dB".to_owned(),
                visits: visits.map(|visit| format!("at: {{{visit}}}")).into(),
                files: Vec::new(),
                truths: vec![Truth::change("all speeds", "level", moved)],
            }
        }),
    }
}

/// 16 bits, one channel, 8,000 a second.
fn wav(samples: &[f64]) -> Vec<u8> {
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: 8000,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut bytes = Cursor::new(Vec::new());
    let mut writer = hound::WavWriter::new(&mut bytes, spec).unwrap();
    for sample in samples {
        writer.write_sample((sample.clamp(-1.0, 1.0) * 32_767.0).round() as i16).unwrap();
    }
    writer.finalize().unwrap();
    bytes.into_inner()
}

/// A recording of noise whose strength wanders, calibrated on a tone.
fn recorded() -> Study {
    Study {
        measure: "sound",
        how: "a recording of 6 s, its strength wandering by 1 dB from half second to half second, calibrator ±0.3 dB",
        check: "unit: dB",
        rows: vec![row("level", (94.0, 98.5), BOUND)],
        cost: 10,
        trial: Box::new(|rng| {
            let (amplitude, strength) = (0.3, rng.between(0.01, 0.05));
            let tone: Vec<f64> =
                (0..16_000).map(|k| amplitude * (TAU * 1000.0 * f64::from(k) / 8000.0).sin()).collect();
            let mut samples = Vec::new();
            for _ in 0..12 {
                let now = strength * 10f64.powf(rng.normal(1.0) / 20.0);
                samples.extend((0..4000).map(|_| now * rng.normal(1.0)));
            }
            // The level of the process: that of its mean energy. The calibrator's tone is not quite what it says.
            let own = rng.within(0.3);
            let truth = 94.0 + own + energy_mean(20.0 * (strength / (amplitude / 2f64.sqrt())).log10(), 1.0);
            Trial {
                instrument: "resolution: 0.1 dB".to_owned(),
                visits: vec![
                    "at: {3450 rpm: {file: x.wav, calibration: {file: tone.wav, level: 94 dB, accuracy: 0.3 dB}}}".to_owned(),
                ],
                files: vec![("x.wav", wav(&samples)), ("tone.wav", wav(&tone))],
                truths: vec![Truth::of("3450 rpm", "level", truth)],
            }
        }),
    }
}

/// g in mm/s².
const G: f64 = 9806.65;

/// Three orders in noise, ten seconds at 800 a second.
fn shaken(how: &'static str, accuracy: f64, rows: Vec<Row>) -> Study {
    Study {
        measure: "vibration",
        how,
        check: "unit: g, band: [10 Hz, 300 Hz]",
        rows,
        cost: 10,
        trial: Box::new(move |rng| {
            let (rate, noise, step) = (800.0, 0.05, 0.001);
            let turning = 57.5 * (1.0 + rng.within(0.01));
            let sizes = [rng.between(0.25, 0.35), 0.10, 0.06];
            let phases = [0.0; 3].map(|_: f64| rng.between(0.0, TAU));
            let gain = 1.0 + rng.within(accuracy);
            let mut csv = String::from("a\n");
            let (mut sum, mut least, mut most): (f64, f64, f64) = (0.0, f64::INFINITY, f64::NEG_INFINITY);
            for k in 0..8000 {
                let t = f64::from(k) / rate;
                let tones: f64 =
                    (0..3).map(|o| sizes[o] * (TAU * turning * (o as f64 + 1.0) * t + phases[o]).sin()).sum();
                let value = tones + rng.normal(noise);
                sum += value;
                (least, most) = (least.min(value), most.max(value));
                let _ = writeln!(csv, "{:.3}", shown(gain * value, step));
            }
            // Of this recording, about its own mean.
            let peak = (most - sum / 8000.0).max(sum / 8000.0 - least);
            let rms = (sizes.iter().map(|a| a * a / 2.0).sum::<f64>() + noise * noise).sqrt();
            let lines: f64 =
                (0..3).map(|o| (sizes[o] / (TAU * turning * (o as f64 + 1.0))).powi(2) / 2.0).sum();
            let density = noise * noise / (rate / 2.0);
            let behind = density * (1.0 / 10.0 - 1.0 / 300.0) / (TAU * TAU);
            let at = "3450 rpm";
            let instrument =
                if accuracy > 0.0 { format!(", accuracy: {} %", 100.0 * accuracy) } else { String::new() };
            Trial {
                instrument: format!("resolution: {step} g{instrument}"),
                visits: vec![format!("at: {{{at}: {{file: x.csv, rate: 800 Hz, axes: {{z: a}}}}}}")],
                files: vec![("x.csv", csv.into_bytes())],
                truths: vec![
                    Truth::of(at, "velocity_rms", G * (lines + behind).sqrt()),
                    Truth::of(at, "acceleration_rms", rms),
                    Truth::of(at, "acceleration_peak", peak),
                    Truth::of(at, "crest_factor", peak / rms),
                    Truth::of(at, "dominant_frequency", turning),
                    Truth::of(at, "order_1", sizes[0]),
                    Truth::of(at, "order_2", sizes[1]),
                    Truth::of(at, "order_3", sizes[2]),
                ],
            }
        }),
    }
}

/// What a meter or a phone showed, once.
fn figures() -> Study {
    Study {
        measure: "vibration",
        how: "a meter's figures, 6 repeat readings",
        check: "unit: g",
        rows: vec![plain("acceleration_mean"), plain("acceleration_max")],
        cost: 1,
        trial: Box::new(|rng| {
            let (mean, most) = (rng.between(0.1, 0.2), rng.between(0.6, 0.8));
            let repeats = list(rng.normals(6, 0.02).into_iter().map(|r| 0.3 + r), 0.001);
            let (a, b) = (mean + rng.normal(0.02), most + rng.normal(0.02));
            Trial {
                instrument: format!("resolution: 0.001 g, repeat_readings: {repeats}, repeat_unit: g"),
                visits: vec![format!(
                    "at: {{3450 rpm: {{mean: {}, max: {}}}}}",
                    typed(a.max(0.0), 0.001),
                    typed(b, 0.001)
                )],
                files: Vec::new(),
                truths: vec![
                    Truth::of("3450 rpm", "acceleration_mean", mean),
                    Truth::of("3450 rpm", "acceleration_max", most),
                ],
            }
        }),
    }
}

/// Every study here.
pub fn studies() -> Vec<Study> {
    let level = plain("level");
    vec![
        warm_up(
            "35 readings, scatter 0.1 K",
            0.1,
            0.0,
            vec![
                plain("maximum"),
                plain("rise"),
                row("time_of_maximum", (95.0, 100.0), "the time to the reading before and after is a bound"),
                row(
                    "end_rate",
                    (96.0, 100.0),
                    "the step counts whole at both ends of the line, though rounding errors on a slope nearly cancel",
                ),
                plain("time_constant"),
            ],
        ),
        warm_up(
            "35 readings, scatter 0.1 K, accuracy ±1 K",
            0.1,
            1.0,
            vec![row("maximum", (96.0, 100.0), BOUND), row("rise", (94.0, 98.0), BOUND)],
        ),
        settles(),
        hanging_together(),
        levels("5 readings, scatter 0.5 dB", 5, 0.0, 0, None, level),
        levels("2 readings, scatter 0.5 dB, 8 repeat readings", 2, 0.0, 8, None, level),
        levels("4 readings, accuracy ±1 dB", 4, 1.0, 0, None, row("level", (94.0, 100.0), BOUND)),
        levels("5 readings of machine and of background, 6 dB apart", 5, 0.0, 0, Some(4.7), level),
        recorded(),
        levels_compared(),
        shaken(
            "10 s of three orders in noise",
            0.0,
            vec![
                plain("velocity_rms"),
                plain("acceleration_rms"),
                row(
                    "acceleration_peak",
                    (96.0, 100.0),
                    "of this recording itself: only the step is left, which is a bound",
                ),
                row("crest_factor", (94.0, 100.0), "scatter and step in quadrature"),
                row(
                    "dominant_frequency",
                    (95.0, 100.0),
                    "half a bin is a bound, and the line is placed between bins",
                ),
                row("order_1", (94.0, 100.0), LOBE),
                row("order_2", (94.0, 100.0), LOBE),
                row("order_3", (94.0, 100.0), LOBE),
            ],
        ),
        shaken(
            "10 s of three orders in noise, accuracy ±2 %",
            0.02,
            ["velocity_rms", "acceleration_rms", "acceleration_peak", "order_1"]
                .map(|what| row(what, (94.0, 100.0), BOUND))
                .to_vec(),
        ),
        figures(),
    ]
}
