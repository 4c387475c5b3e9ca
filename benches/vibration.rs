//! The vibration engine: three axes at 25 600 samples a second, blocks of 16 384 rows, as the reader
//! gives them. `cargo bench --bench vibration`. The figure to hold: 15 ns a sample and axis, so that a
//! 1 GB recording (25 million rows) is analysed in about a second beside its reading.
#![allow(missing_docs, clippy::pedantic)]

use asfound::analysis::signal::tracks::{Tracks, Wish};
use asfound::recording::{Block, Listener, Start};
use divan::counter::ItemsCount;

fn main() {
    divan::main();
}

const ROWS: usize = 1 << 14;
const BLOCKS: usize = 60;

/// A shaft's order, a bearing's ringing and noise.
fn axis(seed: u32) -> Vec<f64> {
    let mut state = seed;
    (0..ROWS)
        .map(|index| {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (index as f64 * 0.014).sin() + f64::from(state >> 8) / f64::from(1 << 24)
        })
        .collect()
}

fn listen(pieces: bool) -> u64 {
    let axes = [axis(1), axis(2), axis(3)];
    let channels: Vec<&[f64]> = axes.iter().map(Vec::as_slice).collect();
    let mut tracks = Tracks::new(Wish { band: (10.0, 1000.0), pieces });
    tracks.begin(&Start { names: vec![String::new(); 3], rate: 25_600.0, jitter: 0.0 });
    for index in 0..BLOCKS {
        tracks.hear(&Block { fresh: index == 0, seconds: None, channels: &channels });
    }
    tracks.finish().map_or(0, |heard| heard.samples)
}

#[divan::bench(args = [false, true])]
fn three_axes(bencher: divan::Bencher<'_, '_>, pieces: bool) {
    bencher.counter(ItemsCount::new(3 * ROWS * BLOCKS)).bench(|| listen(pieces));
}
