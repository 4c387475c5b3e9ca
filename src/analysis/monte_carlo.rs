//! Propagation of distributions by Monte Carlo (JCGM 101:2008) for statistics that are not linear
//! in the readings: ranges, amplitudes, ratios.
//!
//! The draws give the spread; the value stays the one observed, since noise added to noisy
//! readings would push a range up. The seed comes from the readings, so a report is the same
//! every time.
//!
//! Draws are made and worked on [`LANES`] at a time, which lets the compiler use the machine's
//! wide registers; single precision is ample for a spread.

use std::sync::LazyLock;

use rand_pcg::Pcg64Mcg;
use rand_pcg::rand_core::{Rng, SeedableRng};
use statrs::distribution::{Continuous, ContinuousCDF, Normal};

/// Draws a finding (JCGM 101, 7.2.2, asks for 10⁴ times 1/(1 − p) and more).
pub const DRAWS: usize = 100_032;

/// Draws worked on at once.
pub const LANES: usize = 64;

/// Blocks of [`LANES`] draws between two looks at whether two digits stand.
pub const ROUND: usize = 157;

const CELLS: usize = 1 << 13;

/// One source of noise as a table of `CELLS` equally likely values, with the variance exact.
/// A draw is one look-up: the inverse of the distribution function (JCGM 101, C.2).
#[derive(Debug)]
pub struct Noise {
    cells: Vec<f32>,
}

impl Noise {
    /// Equally likely within ± half a step.
    pub fn rectangular(step: f64) -> Self {
        let cells: Vec<f64> =
            (0..CELLS).map(|index| step * ((index as f64 + 0.5) / CELLS as f64 - 0.5)).collect();
        Self::exact(&cells, step / 12f64.sqrt())
    }

    /// Normal with this standard deviation.
    pub fn normal(deviation: f64) -> Self {
        Self::exact(&STANDARD_NORMAL, deviation)
    }

    /// Scales the cells so that their standard deviation is exactly the one wanted.
    fn exact(cells: &[f64], deviation: f64) -> Self {
        let mean_square = cells.iter().map(|cell| cell * cell).sum::<f64>() / CELLS as f64;
        let scale = if mean_square > 0.0 { deviation / mean_square.sqrt() } else { 0.0 };
        #[allow(clippy::cast_possible_truncation)]
        let cells = cells.iter().map(|cell| (cell * scale) as f32).collect();
        Self { cells }
    }

    /// Whether it is silent.
    fn is_silent(&self) -> bool {
        self.cells.iter().all(|cell| *cell == 0.0)
    }
}

/// Every normal noise scales the same cells.
static STANDARD_NORMAL: LazyLock<Vec<f64>> = LazyLock::new(standard_normal_cells);

/// The middle of each of [`CELLS`] equally likely cells of the standard normal distribution: the
/// distribution function on a fine grid, inverted by walking along it.
fn standard_normal_cells() -> Vec<f64> {
    const GRID: usize = 4_000;
    const REACH: f64 = 5.0;
    let normal = Normal::standard();
    let step = 2.0 * REACH / GRID as f64;
    let mut cells = Vec::with_capacity(CELLS);
    let mut grid = 0;
    let (mut x, mut below) = (-REACH, normal.cdf(-REACH));
    let mut above = normal.cdf(-REACH + step);
    for index in 0..CELLS / 2 {
        let wanted = (index as f64 + 0.5) / CELLS as f64;
        while above < wanted && grid < GRID {
            grid += 1;
            x = -REACH + grid as f64 * step;
            below = above;
            above = normal.cdf(x + step);
        }
        let near = x + step * (wanted - below) / (above - below);
        // One Newton step takes the grid's error away.
        cells.push(near - (normal.cdf(near) - wanted) / normal.pdf(near));
    }
    let mirrored: Vec<f64> = cells.iter().rev().map(|cell| -cell).collect();
    cells.extend(mirrored);
    cells
}

/// A seed that depends on the readings alone (FNV-1a over their bits).
pub fn seed_of(readings: &[f64]) -> u64 {
    let mut seed = 0xcbf2_9ce4_8422_2325_u64;
    for byte in readings.iter().flat_map(|value| value.to_bits().to_le_bytes()) {
        seed = (seed ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3);
    }
    seed
}

/// A source of numbers that depends on the readings alone.
#[derive(Debug)]
pub struct Draws {
    generator: Pcg64Mcg,
}

impl Draws {
    /// Seeded with the readings (FNV-1a over their bits).
    pub fn seeded(readings: &[f64]) -> Self {
        Self::numbered(seed_of(readings), 0)
    }

    /// Seeded with the shape of the readings: a constant added to all of them, or another unit, makes the
    /// same draws, so that it changes no uncertainty either.
    pub fn of_shape(readings: &[f64]) -> Self {
        /// Parts of the readings' span that are told apart: far coarser than rounding, far finer than a step.
        const PARTS: f64 = 1_048_576.0;
        let first = readings.first().copied().unwrap_or(0.0);
        let span = readings.iter().map(|reading| (reading - first).abs()).fold(0.0, f64::max);
        let part = |reading: &f64| if span > 0.0 { ((reading - first) / span * PARTS).round() } else { 0.0 };
        Self::seeded(&readings.iter().map(part).collect::<Vec<f64>>())
    }

    /// Of a seed, one stream of many: blocks of draws that are worked on side by side have one each, so
    /// that their order plays no part.
    pub fn numbered(seed: u64, stream: u64) -> Self {
        let seed = seed ^ stream.wrapping_mul(0x9e37_79b9_7f4a_7c15);
        Self { generator: Pcg64Mcg::seed_from_u64(seed) }
    }

    /// Sixty-four random bits.
    #[inline]
    pub fn bits(&mut self) -> u64 {
        self.generator.next_u64()
    }

    /// Between 0 and 1, neither of them.
    #[inline]
    pub fn uniform(&mut self) -> f64 {
        ((self.generator.next_u64() >> 11) as f64 + 0.5) / (1u64 << 53) as f64
    }

    /// A draw of the standard normal distribution (Box and Muller).
    pub fn normal(&mut self) -> f64 {
        let radius = (-2.0 * self.uniform().ln()).sqrt();
        radius * (std::f64::consts::TAU * self.uniform()).cos()
    }

    /// Fills a row with draws of a noise.
    #[inline]
    fn fill(&mut self, noise: &Noise, row: &mut [f32; LANES]) {
        // Four 13-bit cell numbers to a 64-bit draw.
        let cells = &noise.cells[..CELLS];
        for four in row.chunks_exact_mut(4) {
            let mut bits = self.generator.next_u64();
            for value in four {
                #[allow(clippy::cast_possible_truncation)]
                let index = (bits as usize) & (CELLS - 1);
                *value = cells[index];
                bits >>= 16;
            }
        }
    }
}

/// A block of draws: a row an input, [`LANES`] draws side by side.
pub type Row = [f32; LANES];

/// Draws every input [`DRAWS`] times and gives the `K` statistics of each draw. `inputs` names
/// the noise of each row; `statistics` sees the rows and writes its results.
pub fn propagate<const K: usize>(
    draws: &mut Draws,
    inputs: &[&Noise],
    statistics: impl FnMut(&[Row], &mut [Row; K]),
) -> [Vec<f32>; K] {
    propagate_until(draws, inputs, |_| false, statistics)
}

/// The same, but no longer than until every statistic `stands` (the adaptive procedure of JCGM 101, 7.9):
/// asked after each [`ROUND`] of blocks.
pub fn propagate_until<const K: usize>(
    draws: &mut Draws,
    inputs: &[&Noise],
    stands: impl Fn(&[f32]) -> bool,
    mut statistics: impl FnMut(&[Row], &mut [Row; K]),
) -> [Vec<f32>; K] {
    let mut rows = vec![[0.0; LANES]; inputs.len()];
    let mut results: [Vec<f32>; K] = std::array::from_fn(|_| Vec::with_capacity(ROUND * LANES));
    let silent: Vec<bool> = inputs.iter().map(|noise| noise.is_silent()).collect();
    let mut out = [[0.0; LANES]; K];
    for block in 1..=DRAWS / LANES {
        for ((row, noise), silent) in rows.iter_mut().zip(inputs).zip(&silent) {
            if !silent {
                draws.fill(noise, row);
            }
        }
        statistics(&rows, &mut out);
        for (result, row) in results.iter_mut().zip(&out) {
            result.extend_from_slice(row);
        }
        if block % ROUND == 0 && results.iter().all(|result| stands(result)) {
            break;
        }
    }
    results
}

/// The standard deviation of the draws (JCGM 101, 7.6).
pub fn spread(draws: &[f32]) -> f64 {
    let n = draws.len() as f64;
    let centre = draws.iter().map(|draw| f64::from(*draw)).sum::<f64>() / n;
    let squares: f64 = draws.iter().map(|draw| (f64::from(*draw) - centre).powi(2)).sum();
    (squares / (n - 1.0)).sqrt()
}

/// The value that 95 draws of 100 do not exceed (JCGM 101, 7.7).
pub fn point_95(mut draws: Vec<f32>) -> f64 {
    if draws.is_empty() {
        return f64::NAN;
    }
    let index = (draws.len() * 95 / 100).min(draws.len() - 1);
    let (_, value, _) = draws.select_nth_unstable_by(index, f32::total_cmp);
    f64::from(*value)
}

/// Half a unit of the second digit of a number (JCGM 101, 7.9.2).
fn half_a_digit(number: f64) -> f64 {
    if number > 0.0 { 0.5 * 10f64.powf(number.log10().floor() - 1.0) } else { f64::INFINITY }
}

/// Whether the standard deviation of draws is known to two digits: twice its own standard deviation,
/// √((μ₄ − σ⁴)/n)/2σ, is below half a unit of the second.
pub fn spread_stands(draws: &[f32]) -> bool {
    let (n, deviation) = (draws.len() as f64, spread(draws));
    let mean = draws.iter().map(|draw| f64::from(*draw)).sum::<f64>() / n;
    let fourth = draws.iter().map(|draw| (f64::from(*draw) - mean).powi(4)).sum::<f64>() / n;
    if deviation <= 0.0 {
        return true;
    }
    let own = ((fourth - deviation.powi(4)).max(0.0) / n).sqrt() / (2.0 * deviation);
    2.0 * own < half_a_digit(deviation)
}

/// Whether the 95 % point is known to two digits: the points that lie two standard deviations of its rank
/// on either side are that near.
pub fn floor_stands(draws: &[f32]) -> bool {
    let n = draws.len() as f64;
    let mut sorted = draws.to_vec();
    sorted.sort_unstable_by(f32::total_cmp);
    let at = |share: f64| {
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let index = ((share * n) as usize).min(sorted.len().saturating_sub(1));
        sorted.get(index).copied().map_or(0.0, f64::from)
    };
    let rank = 2.0 * (0.95 * 0.05 / n).sqrt();
    (at(0.95 + rank) - at(0.95 - rank)) / 2.0 < half_a_digit(at(0.95))
}
