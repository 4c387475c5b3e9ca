//! Several passes over the same places, brought together.
//!
//! Between passes the instrument may be set to zero anew and the straightedge laid down otherwise, so
//! each pass has a level and a slope of its own: heights are the least-squares solution of
//! reading = height of the place + line (plane) of the pass, and what is left over is the scatter.

use nalgebra::{DMatrix, DVector};

use super::Places;
use super::exchange::height_at;

/// A reading: which place, in which pass, how high.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Observed {
    /// Index of the place.
    pub at: usize,
    /// Number of the pass, from zero.
    pub pass: usize,
    /// The height.
    pub height: f64,
    /// Whether it was struck: it is brought along, and does not count.
    pub struck: bool,
}

/// All passes as one.
#[derive(Clone, Debug)]
pub struct Combined {
    /// Indices of the places with a reading that counts.
    pub places: Vec<usize>,
    /// Their heights.
    pub heights: Vec<f64>,
    /// How many readings stand behind each.
    pub counts: Vec<usize>,
    /// The standard deviation of one reading and its degrees of freedom, where places were read again.
    pub scatter: Option<(f64, usize)>,
    /// Every reading less the line (plane) of its pass, in the order given.
    pub levelled: Vec<f64>,
}

/// Brings readings together. Those that are struck count only `with_struck`.
pub fn combine<const B: usize>(places: &Places<B>, observed: &[Observed], with_struck: bool) -> Combined {
    let counting: Vec<Observed> =
        observed.iter().filter(|reading| with_struck || !reading.struck).copied().collect();
    let mut counts = vec![0usize; places.len()];
    for reading in &counting {
        counts[reading.at] += 1;
    }
    let (lines, rank) = lines_of_passes(places, &counting, &counts);
    let levelled_by = |reading: &Observed| {
        let line = lines.get(reading.pass).copied().unwrap_or([0.0; B]);
        reading.height - height_at(&places.rows[reading.at], &line)
    };
    let mut sums = vec![0.0; places.len()];
    for reading in &counting {
        sums[reading.at] += levelled_by(reading);
    }
    let kept: Vec<usize> = (0..places.len()).filter(|index| counts[*index] > 0).collect();
    let mean = |index: usize| sums[index] / counts[index] as f64;
    let left: f64 = counting.iter().map(|reading| (levelled_by(reading) - mean(reading.at)).powi(2)).sum();
    let dof = counting.len().saturating_sub(kept.len() + rank);
    Combined {
        heights: kept.iter().map(|index| mean(*index)).collect(),
        counts: kept.iter().map(|index| counts[*index]).collect(),
        scatter: (dof > 0).then(|| ((left / dof as f64).sqrt(), dof)),
        levelled: observed.iter().map(levelled_by).collect(),
        places: kept,
    }
}

/// The line (plane) of every pass, about the common one, and how many numbers they took.
fn lines_of_passes<const B: usize>(
    places: &Places<B>,
    counting: &[Observed],
    counts: &[usize],
) -> (Vec<[f64; B]>, usize) {
    let passes = counting.iter().map(|reading| reading.pass + 1).max().unwrap_or(1);
    if passes == 1 {
        return (vec![[0.0; B]], 0);
    }
    let each = B - 1;
    // Normal equations with the heights of the places eliminated. They leave a line common to all
    // passes open, which the singular values tell.
    let size = passes * each;
    let (mut matrix, mut right) = (DMatrix::zeros(size, size), DVector::zeros(size));
    let mut by_place: Vec<Vec<Observed>> = vec![Vec::new(); places.len()];
    for reading in counting {
        by_place[reading.at].push(*reading);
    }
    for (place, readings) in by_place.iter().enumerate() {
        let n = counts[place] as f64;
        let mean = readings.iter().map(|reading| reading.height).sum::<f64>() / n.max(1.0);
        for reading in readings {
            for other in readings {
                let weight =
                    f64::from(u8::from(reading.pass == other.pass)) / same(readings, reading.pass) - 1.0 / n;
                for a in 0..each {
                    for b in 0..each {
                        matrix[(reading.pass * each + a, other.pass * each + b)] +=
                            weight * places.rows[place][a] * places.rows[place][b];
                    }
                }
            }
            for a in 0..each {
                right[reading.pass * each + a] += places.rows[place][a] * (reading.height - mean);
            }
        }
    }
    let decomposed = matrix.svd(true, true);
    let largest = decomposed.singular_values.iter().copied().fold(0.0, f64::max);
    let rank = decomposed.singular_values.iter().filter(|value| **value > 1e-9 * largest.max(1e-300)).count();
    let Ok(solved) = decomposed.solve(&right, 1e-9 * largest.max(1e-300)) else {
        return (vec![[0.0; B]; passes], 0);
    };
    let line = |pass: usize| std::array::from_fn(|k| if k < each { solved[pass * each + k] } else { 0.0 });
    ((0..passes).map(line).collect(), rank)
}

/// How often a pass read the place that these readings are of.
fn same(readings: &[Observed], pass: usize) -> f64 {
    readings.iter().filter(|reading| reading.pass == pass).count() as f64
}
