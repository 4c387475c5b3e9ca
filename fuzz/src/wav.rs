//! A WAV file as a recording and as its own calibration tone.

use std::io::Cursor;

use super::analysed;

const SESSION: &[u8] = b"title: T\nmachines: {m: {name: M}}\ninstruments: {i: {name: I, resolution: 0.1 dB, accuracy: 1 dB}}\n\
    checks:\n  a: {measure: sound, instrument: i, unit: dBA}\n  c: {measure: sound, instrument: i, unit: dBC}\n";
const VISIT: &[u8] = b"state: baseline\ndate: 2026-03-02\nreadings:\n  \
    a: {at: {1000 rpm: {file: x.wav, calibration: {file: tone.wav, level: 94 dB}}}}\n  \
    c: {at: {1000 rpm: {file: x.wav, calibration: {file: x.wav, level: 94 dB}}}}\n";

/// A second of 1 kHz at 8000 samples a second, so that what is said of the recording does not hang on its tone.
fn tone() -> Vec<u8> {
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: 8000,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut bytes = Cursor::new(Vec::new());
    let mut writer = hound::WavWriter::new(&mut bytes, spec).expect("a head");
    // A thousand turns of eight samples.
    for sample in [0i16, 5657, 8000, 5657, 0, -5657, -8000, -5657].into_iter().cycle().take(8000) {
        writer.write_sample(sample).expect("a sample");
    }
    writer.finalize().expect("an end");
    bytes.into_inner()
}

/// Tries what a fuzzer wrote.
pub fn run(bytes: &[u8]) {
    let tone = tone();
    let files = [
        ("session.yaml", SESSION),
        ("visits/v/visit.yaml", VISIT),
        ("visits/v/tone.wav", tone.as_slice()),
        ("visits/v/x.wav", bytes),
    ];
    analysed(&files);
}
