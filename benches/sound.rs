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

/// The same from a WAV file of 16 bits, with its calibration tone, by the whole analysis.
#[divan::bench(sample_count = 5)]
fn ten_minutes_of_a_wav_file(bencher: divan::Bencher<'_, '_>) {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let visit = folder.path().join("visits/v");
    std::fs::create_dir_all(&visit).expect("a visit's folder");
    let session = "title: T\nunits: metric\nmachines: {m: {name: M}}\n\
        checks: {c: {measure: sound, unit: dBA}}\n";
    std::fs::write(folder.path().join("session.yaml"), session).expect("session.yaml");
    let readings = "state: baseline\ndate: 2026-03-02\nreadings: {c: {at: {3450 rpm: {file: idle.wav, \
        calibration: {file: tone.wav, level: 94 dB}}}}}\n";
    std::fs::write(visit.join("visit.yaml"), readings).expect("visit.yaml");
    let write = |name: &str, seconds: u32, sample: &mut dyn FnMut(u32) -> f64| {
        let spec = hound::WavSpec {
            channels: 1,
            sample_rate: 48_000,
            bits_per_sample: 16,
            sample_format: hound::SampleFormat::Int,
        };
        let mut writer = hound::WavWriter::create(visit.join(name), spec).expect("a file");
        for n in 0..seconds * 48_000 {
            writer.write_sample((sample(n) * 32_767.0) as i16).expect("written");
        }
        writer.finalize().expect("closed");
    };
    let mut state = 1u32;
    write("idle.wav", 600, &mut |_| {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        0.2 * (f64::from(state) / f64::from(u32::MAX) - 0.5)
    });
    write("tone.wav", 10, &mut |n| 0.1 * (std::f64::consts::TAU * f64::from(n) / 48.0).sin());
    let mut problems = asfound::session::Problems::default();
    let session = asfound::session::read(folder.path(), &mut problems).expect("a session");
    let measures = asfound::registry::measures();
    bencher.bench_local(|| asfound::analysis::analyse(&session, &measures, &mut problems));
    assert!(!problems.any_error());
}
