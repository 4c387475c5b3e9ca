//! Ten minutes of sound at 48 kHz through the whole meter: weighting, Leq, F, peak, third octaves.
//!
//! `cargo bench --bench sound`. The figure to hold, with the reading of the file: under 2 s.
#![allow(missing_docs, clippy::pedantic)]

use asfound::analysis::sound::meter::Meter;
use asfound::analysis::sound::weighting::Weighting;
use asfound::recording::{Block, Listener, Start};

fn main() {
    divan::main();
}

#[divan::bench(args = ["A", "C", "Z"], sample_count = 5)]
fn ten_minutes_of_sound(bencher: divan::Bencher<'_, '_>, letter: &str) {
    let weighting = match letter {
        "A" => Weighting::A,
        "C" => Weighting::C,
        _ => Weighting::Z,
    };
    let mut state = 1u32;
    let block: Vec<f64> = (0..48_000)
        .map(|_| {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            f64::from(state) / f64::from(u32::MAX) - 0.5
        })
        .collect();
    bencher.bench_local(|| {
        let mut meter = Meter::new(weighting);
        meter.begin(&Start { names: vec!["channel 1".to_owned()], rate: 48_000.0, jitter: 0.0 });
        for _ in 0..600 {
            for part in block.chunks(8192) {
                meter.hear(&Block { fresh: false, seconds: None, channels: &[part] });
            }
        }
        meter.finish()
    });
}
