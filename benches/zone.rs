//! The minimum zone of 10,000 points with its uncertainty and floor: 2 × 100 032 draws.
//!
//! `cargo bench --bench zone`. The figure to hold: under 1 s on two cores.
#![allow(missing_docs, clippy::pedantic)]

use asfound::analysis::size::{Drawn, ReadingNoise};
use asfound::analysis::uncertainty::Repeatability;
use asfound::analysis::zone::{Against, Places, draw};

fn main() {
    divan::main();
}

/// A table of 100 × 100 places, 10 mm apart.
fn table() -> Places<4> {
    let points: Vec<(f64, f64)> =
        (0..10_000).map(|index| (f64::from(index % 100) * 10.0, f64::from(index / 100) * 10.0)).collect();
    Places::surface(&points)
}

/// A bowl of 60 µm with readings to a micrometre that scatter by half of one.
fn bowl() -> Vec<f64> {
    let height = |index: i32| {
        let (x, y) = (f64::from(index % 100) / 50.0 - 1.0, f64::from(index / 100) / 50.0 - 1.0);
        let rough = f64::from((index * 7919) % 97) / 97.0 - 0.5;
        (40.0 * (x * x + 0.5 * y * y) + rough).round()
    };
    (0..10_000).map(height).collect()
}

fn drawn(heights: &[f64], against: Against) -> Drawn {
    let spread = Some(Repeatability { deviation: 0.5, dof: 9.0 });
    let noise = ReadingNoise { step: 1.0, spread, spread_name: "Repeatability of the instrument" };
    let counts = vec![1; heights.len()];
    draw(&table(), heights, &counts, against, (&noise, &noise)).expect("the places span a plane")
}

#[divan::bench(sample_count = 10)]
fn minimum_zone_of_a_bowl() -> Drawn {
    drawn(&bowl(), Against::MinimumZone)
}

#[divan::bench(sample_count = 10)]
fn minimum_zone_of_a_flat_table() -> Drawn {
    drawn(&vec![0.0; 10_000], Against::MinimumZone)
}

#[divan::bench(sample_count = 10)]
fn least_squares_of_a_bowl() -> Drawn {
    drawn(&bowl(), Against::LeastSquares)
}

/// A workshop's grid: 5 × 8 places.
#[divan::bench(sample_count = 10)]
fn minimum_zone_of_forty_places() -> Drawn {
    let points: Vec<(f64, f64)> =
        (0..40).map(|index| (f64::from(index % 8) * 110.0, f64::from(index / 8) * 150.0)).collect();
    let heights: Vec<f64> = (0..40).map(|index| f64::from((index * 7) % 11)).collect();
    let spread = Some(Repeatability { deviation: 0.5, dof: 9.0 });
    let noise = ReadingNoise { step: 1.0, spread, spread_name: "Repeatability of the instrument" };
    draw(&Places::surface(&points), &heights, &[1; 40], Against::MinimumZone, (&noise, &noise))
        .expect("spans")
}
