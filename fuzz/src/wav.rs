//! A WAV file as a recording and as its own calibration tone.

use super::analysed;

const SESSION: &[u8] = b"title: T\nmachines: {m: {name: M}}\ninstruments: {i: {name: I, resolution: 0.1 dB, accuracy: 1 dB}}\n\
    checks:\n  a: {measure: sound, instrument: i, unit: dBA}\n  c: {measure: sound, instrument: i, unit: dBC}\n";
const VISIT: &[u8] = b"state: baseline\ndate: 2026-03-02\nreadings:\n  \
    a: {at: {1000 rpm: {file: x.wav, calibration: {file: tone.wav, level: 94 dB}}}}\n  \
    c: {at: {1000 rpm: {file: x.wav, calibration: {file: x.wav, level: 94 dB}}}}\n";

/// A second of 1 kHz at 8000 samples a second, so that what is said of the recording does not hang on its tone.
fn tone() -> Vec<u8> {
    let mut bytes = Vec::new();
    let data = 8000u32 * 2;
    bytes.extend(b"RIFF");
    bytes.extend((36 + data).to_le_bytes());
    bytes.extend(b"WAVEfmt \x10\0\0\0\x01\0\x01\0");
    bytes.extend(8000u32.to_le_bytes());
    bytes.extend(16_000u32.to_le_bytes());
    bytes.extend(b"\x02\0\x10\0data");
    bytes.extend(data.to_le_bytes());
    // A thousand turns of eight samples.
    let turn = [0i16, 5657, 8000, 5657, 0, -5657, -8000, -5657].map(i16::to_le_bytes);
    bytes.extend(turn.iter().flatten().cycle().take(16_000));
    bytes
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
