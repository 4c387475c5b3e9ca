//! The Monte Carlo of one finding: 12 readings a turn, 3 turns, 100 032 draws, one core.
//!
//! `cargo bench --bench monte_carlo`. The figure to hold: under 20 ms.
#![allow(missing_docs, clippy::pedantic)]

use asfound::analysis::monte_carlo::{Draws, LANES, Noise, Row, propagate, spread};

fn main() {
    divan::main();
}

/// Readings of an eccentric shaft, in thou.
fn readings() -> Vec<f64> {
    (0..36).map(|index| (f64::from(index % 12) * 30.0_f64.to_radians()).sin() * 3.0).collect()
}

/// The run-out (TIR), mean of three turns: a step shared by the turns, a scatter for each reading.
#[divan::bench]
fn run_out_of_12_readings_and_3_turns() -> f64 {
    let readings = readings();
    let (step, scatter) = (Noise::rectangular(0.5), Noise::normal(0.3));
    let inputs: Vec<&Noise> = (0..12).map(|_| &step).chain((0..36).map(|_| &scatter)).collect();
    #[allow(clippy::cast_possible_truncation)]
    let offsets: Vec<f32> = readings.iter().map(|value| *value as f32).collect();
    let mut draws = Draws::seeded(&readings);
    let [tir] = propagate(&mut draws, &inputs, |rows: &[Row], out| {
        let mut total = [0f32; LANES];
        for turn in 0..3 {
            let (mut low, mut high) = ([f32::MAX; LANES], [f32::MIN; LANES]);
            for reading in 0..12 {
                let (step, scatter) = (&rows[reading], &rows[12 + 12 * turn + reading]);
                for lane in 0..LANES {
                    let value = offsets[12 * turn + reading] + step[lane] + scatter[lane];
                    low[lane] = low[lane].min(value);
                    high[lane] = high[lane].max(value);
                }
            }
            for lane in 0..LANES {
                total[lane] += high[lane] - low[lane];
            }
        }
        for lane in 0..LANES {
            out[0][lane] = total[lane] / 3.0;
        }
    });
    spread(&tir)
}

/// The same through the program: reading, all five findings of a station, both passes of draws.
#[divan::bench]
fn every_finding_of_a_station_by_the_whole_analysis(bencher: divan::Bencher<'_, '_>) {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let turn: Vec<String> = readings().iter().map(|value| format!("{value:.1}")).collect();
    let turns: Vec<String> = turn.chunks(12).map(|turn| format!("[{}]", turn.join(", "))).collect();
    std::fs::create_dir_all(folder.path().join("visits/v")).expect("a visit's folder");
    let session = "title: T\nunits: inch\nmachines: {m: {name: M}}\n\
        instruments: {i: {name: I, resolution: 0.0005 in, accuracy: 0.001 in}}\n\
        checks: {c: {measure: run-out, direction: radial, instrument: i, unit: thou}}\n";
    std::fs::write(folder.path().join("session.yaml"), session).expect("session.yaml");
    let visit =
        format!("state: baseline\ndate: 2026-03-02\nreadings: {{c: {{turns: [{}]}}}}\n", turns.join(", "));
    std::fs::write(folder.path().join("visits/v/visit.yaml"), visit).expect("visit.yaml");
    let mut problems = asfound::session::Problems::default();
    let session = asfound::session::read(folder.path(), &mut problems).expect("a session");
    let measures = asfound::registry::measures();
    bencher.bench_local(|| asfound::analysis::analyse(&session, &measures, &mut problems));
}
