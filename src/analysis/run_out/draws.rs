//! The Monte Carlo of a station: what noise does to its run-out and its amplitudes.

use super::super::harmonics::{At, Fit};
use super::super::monte_carlo::{
    Draws, LANES, Noise, Row, floor_stands, propagate_until, spread, spread_stands,
};
use super::super::size::{Drawn, ReadingNoise};

/// What the draws give for a station.
#[derive(Clone, Copy, Debug)]
pub(super) struct AllDrawn {
    /// Of the run-out, mean of the turns' ranges.
    pub tir: Drawn,
    /// Of the once-per-turn and the twice-per-turn size.
    pub harmonics: [Drawn; 2],
}

/// Draws twice: about the readings with `noise`, for the spread, and about nothing with `idle`
/// (what the instrument does by itself), for the floor; each until two digits stand (JCGM 101, 7.9).
pub(super) fn draw(
    places: &[At],
    values: &[f64],
    fitted: Option<&Fit>,
    noise: &ReadingNoise,
    idle: &ReadingNoise,
) -> AllDrawn {
    let mut draws = Draws::of_shape(values);
    let nothing = vec![0.0; values.len()];
    let around = Station::new(places, values, fitted).propagate(&mut draws, noise, spread_stands);
    // A step shared by all turns stays in an amplitude; scatter is averaged over them.
    let turns = places.iter().map(|at| at.turn).max().map_or(1, |last| last + 1) as f64;
    let (of_range, of_amplitude) = (idle.alone(1.0), idle.alone(turns));
    let alone = Station::new(places, &nothing, fitted).propagate(&mut draws, idle, floor_stands);
    let [still, ..] = Station::new(places, values, fitted).without_noise();
    let [tir, once, twice] = around;
    let [tir_alone, once_alone, twice_alone] = alone;
    let drawn = |around: &[f32], floor, lift| Drawn { spread: spread(around), lift, floor };
    let mean = tir.iter().map(|draw| f64::from(*draw)).sum::<f64>() / tir.len() as f64;
    AllDrawn {
        tir: drawn(&tir, of_range.floor(tir_alone), mean - still),
        harmonics: [
            drawn(&once, of_amplitude.floor(once_alone), 0.0),
            drawn(&twice, of_amplitude.floor(twice_alone), 0.0),
        ],
    }
}

/// A station's readings as the draws need them.
struct Station {
    /// Less the first, so that single precision is ample.
    offsets: Vec<f32>,
    /// Which of the distinct angles each was read at.
    slots: Vec<usize>,
    /// How many distinct angles there are.
    angles: usize,
    /// The turn of each.
    turns: Vec<usize>,
    /// What each adds to a₁, b₁, a₂, b₂.
    weights: Vec<[f32; 4]>,
}

impl Station {
    #[allow(clippy::cast_possible_truncation)]
    fn new(places: &[At], values: &[f64], fitted: Option<&Fit>) -> Self {
        let mut angles: Vec<f64> = places.iter().map(|at| at.angle).collect();
        angles.sort_by(f64::total_cmp);
        angles.dedup();
        let first = values.first().copied().unwrap_or(0.0);
        let slot = |at: &At| angles.iter().position(|angle| angle.total_cmp(&at.angle).is_eq()).unwrap_or(0);
        let weight = |row: usize, reading: usize| {
            fitted.and_then(|fit| fit.operator.get((row, reading))).map_or(0.0, |weight| *weight as f32)
        };
        Self {
            offsets: values.iter().map(|value| (value - first) as f32).collect(),
            slots: places.iter().map(slot).collect(),
            angles: angles.len(),
            turns: places.iter().map(|at| at.turn).collect(),
            weights: (0..values.len())
                .map(|reading| std::array::from_fn(|row| weight(row, reading)))
                .collect(),
        }
    }

    /// Run-out, once-per-turn and twice-per-turn size of every draw. Each angle's rounding error
    /// is one input for all turns, each reading's scatter one of its own.
    fn propagate(
        &self,
        draws: &mut Draws,
        noise: &ReadingNoise,
        stands: fn(&[f32]) -> bool,
    ) -> [Vec<f32>; 3] {
        let stepped = Noise::rectangular(noise.step);
        let scattered = Noise::normal(noise.spread.map_or(0.0, |spread| spread.deviation));
        let inputs: Vec<&Noise> =
            (0..self.angles).map(|_| &stepped).chain(self.offsets.iter().map(|_| &scattered)).collect();
        let turn_count = self.turns.iter().max().map_or(1, |last| last + 1);
        propagate_until(draws, &inputs, stands, |rows: &[Row], out| {
            self.statistics(rows, turn_count as f32, out);
        })
    }

    /// The statistics of the readings as they are.
    fn without_noise(&self) -> [f64; 3] {
        let turn_count = self.turns.iter().max().map_or(1, |last| last + 1);
        let rows = vec![[0f32; LANES]; self.angles + self.offsets.len()];
        let mut out = [[0f32; LANES]; 3];
        self.statistics(&rows, turn_count as f32, &mut out);
        out.map(|row| f64::from(row[0]))
    }

    fn statistics(&self, rows: &[Row], turn_count: f32, out: &mut [Row; 3]) {
        let mut sums = [[0f32; LANES]; 4];
        let mut total = [0f32; LANES];
        let (mut low, mut high) = ([f32::MAX; LANES], [f32::MIN; LANES]);
        for (reading, offset) in self.offsets.iter().enumerate() {
            let step = &rows[self.slots[reading]];
            let scatter = &rows[self.angles + reading];
            let mut values = [0f32; LANES];
            for lane in 0..LANES {
                let value = offset + step[lane] + scatter[lane];
                values[lane] = value;
                low[lane] = low[lane].min(value);
                high[lane] = high[lane].max(value);
            }
            for (sum, weight) in sums.iter_mut().zip(self.weights[reading]) {
                for lane in 0..LANES {
                    sum[lane] += weight * values[lane];
                }
            }
            if self.turns.get(reading + 1) != Some(&self.turns[reading]) {
                for lane in 0..LANES {
                    total[lane] += high[lane] - low[lane];
                }
                (low, high) = ([f32::MAX; LANES], [f32::MIN; LANES]);
            }
        }
        for lane in 0..LANES {
            out[0][lane] = total[lane] / turn_count;
            out[1][lane] = 2.0 * (sums[0][lane].powi(2) + sums[1][lane].powi(2)).sqrt();
            out[2][lane] = 2.0 * (sums[2][lane].powi(2) + sums[3][lane].powi(2)).sqrt();
        }
    }
}
