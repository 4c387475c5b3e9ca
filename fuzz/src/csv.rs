//! A CSV file of an instrument, named with every way of reading it, by a vibration and a temperature check.

use super::analysed;

const SESSION: &[u8] = b"title: T\nunits: metric\nmachines: {m: {name: M}}\n\
    instruments: {a: {name: A, resolution: 0.001 g, accuracy: 2 %}, t: {name: T, resolution: 0.1 K, accuracy: 1 K}}\n\
    checks:\n  v: {measure: vibration, instrument: a, unit: g, bearing: {balls: 9, ball: 7.94 mm, pitch: 39.04 mm}}\n  \
    t: {measure: temperature, instrument: t, unit: \"\xc2\xb0C\"}\n";

/// How the file is named: its columns, and what is said of its form.
const WAYS: [&str; 8] = [
    "file: x.csv, time: t, axes: {z: a}",
    "file: x.csv, time: 1, axes: {x: 2}, header: false",
    "file: x.csv, rate: 3200 Hz, axes: {x: 1, y: 2}",
    "file: x.csv, rate: 100 Hz, axes: {x: 1}, separator: \";\", decimal: \",\"",
    "file: x.csv, time: t, time_unit: ms, axes: {z: a}, encoding: latin-1",
    "file: x.csv, time: t, time_unit: ms, axes: {z: a}, struck: [{from: \"0:01\", to: \"0:02\", because: x}]",
    "file: x.csv, time: t, axes: {z: a}, skip: 2",
    "file: x.csv, time: t, axes: {z: a}, clock: true",
];
const TEMPERATURES: [&str; 2] =
    ["file: x.csv, time: t, time_unit: s, value: a", "file: x.csv, time: t, value: 2, clock: true"];

/// Tries what a fuzzer wrote.
pub fn run(bytes: &[u8]) {
    let Some((first, csv)) = bytes.split_first() else { return };
    let way = usize::from(*first);
    let readings = match WAYS.get(way % 10) {
        Some(way) => format!("v: {{at: {{3450 rpm: {{{way}}}}}}}"),
        None => format!("t: {{ambient: 20 \u{b0}C, places: {{p: {{{}}}}}}}", TEMPERATURES[way % 2]),
    };
    let visit = format!("state: baseline\ndate: 2026-03-02\nreadings:\n  {readings}\n");
    let files =
        [("session.yaml", SESSION), ("visits/v/visit.yaml", visit.as_bytes()), ("visits/v/x.csv", csv)];
    analysed(&files);
}
