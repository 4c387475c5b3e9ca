//! Mean, mean square, extremes: what the samples themselves say, in one pass.

use super::welch::sum;

/// How many of the farthest samples are kept for the longest vector.
const KEPT: usize = 256;

/// The level of one channel. Squares are taken about `shift`, a first guess of the mean, so that a
/// large offset costs no digits.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Level {
    shift: f64,
    count: u64,
    sum: f64,
    squares: f64,
    least: f64,
    most: f64,
}

impl Level {
    /// Nothing heard yet.
    pub fn about(shift: f64) -> Self {
        Self { shift, count: 0, sum: 0.0, squares: 0.0, least: f64::INFINITY, most: f64::NEG_INFINITY }
    }

    /// Takes in samples.
    pub fn hear(&mut self, samples: &[f64]) {
        let (mut sums, mut squares) = ([0.0; 8], [0.0; 8]);
        let (mut least, mut most) = ([f64::INFINITY; 8], [f64::NEG_INFINITY; 8]);
        let mut take = |values: &[f64]| {
            for (lane, value) in values.iter().enumerate() {
                let off = value - self.shift;
                sums[lane] += off;
                squares[lane] += off * off;
                least[lane] = if *value < least[lane] { *value } else { least[lane] };
                most[lane] = if *value > most[lane] { *value } else { most[lane] };
            }
        };
        let blocks = samples.chunks_exact(8);
        let rest = blocks.remainder();
        blocks.for_each(&mut take);
        take(rest);
        self.count += samples.len() as u64;
        self.sum += sums.iter().sum::<f64>();
        self.squares += squares.iter().sum::<f64>();
        self.least = least.iter().copied().fold(self.least, f64::min);
        self.most = most.iter().copied().fold(self.most, f64::max);
    }

    /// How many samples were heard.
    pub fn count(&self) -> u64 {
        self.count
    }

    /// Their mean.
    pub fn mean(&self) -> f64 {
        self.shift + self.sum / self.count as f64
    }

    /// The mean square about the mean.
    pub fn mean_square(&self) -> f64 {
        let count = self.count as f64;
        let mean = self.sum / count;
        (self.squares / count - mean * mean).max(0.0)
    }

    /// The largest distance from the mean.
    pub fn peak(&self) -> f64 {
        (self.most - self.mean()).max(self.mean() - self.least)
    }
}

/// The longest vector of several channels about their means.
///
/// The means are known only at the end. The farthest samples from a first guess of them are kept;
/// whatever the means turn out to be, the farthest from them is among those kept as long as the guess
/// was off by less than half of what the nearest kept sample lacks to the farthest. Where it was off
/// by more, [`Vectors::peak`] says by how much the result may be short.
#[derive(Clone, Debug)]
pub struct Vectors {
    centre: Vec<f64>,
    /// The squared length a sample must have to be kept.
    threshold: f64,
    kept: Vec<(f64, Vec<f64>)>,
    lengths: Vec<f64>,
}

/// The longest vector.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Longest {
    /// Its length.
    pub length: f64,
    /// By how much the true one may be longer; 0 where the result is exact.
    pub short_by: f64,
}

impl Vectors {
    /// About a first guess of the means.
    pub fn about(centre: &[f64]) -> Self {
        Self { centre: centre.to_vec(), threshold: -1.0, kept: Vec::new(), lengths: Vec::new() }
    }

    /// Takes in samples, the channels equally long.
    pub fn hear(&mut self, channels: &[&[f64]]) {
        let count = channels.iter().map(|channel| channel.len()).min().unwrap_or(0);
        let mut lengths = std::mem::take(&mut self.lengths);
        lengths.clear();
        lengths.resize(count, 0.0);
        for (channel, centre) in channels.iter().zip(&self.centre) {
            for (length, sample) in lengths.iter_mut().zip(*channel) {
                let off = sample - centre;
                *length += off * off;
            }
        }
        for (block, first) in lengths.chunks(64).zip((0..).step_by(64)) {
            let far = block.iter().fold(f64::NEG_INFINITY, |far, l| if *l > far { *l } else { far });
            if far <= self.threshold {
                continue;
            }
            for (length, index) in block.iter().zip(first..) {
                if *length > self.threshold {
                    let sample = channels.iter().filter_map(|channel| channel.get(index).copied());
                    self.keep(*length, sample.collect());
                }
            }
        }
        self.lengths = lengths;
    }

    fn keep(&mut self, length: f64, sample: Vec<f64>) {
        self.kept.push((length, sample));
        if self.kept.len() >= 2 * KEPT {
            self.kept.sort_by(|a, b| b.0.total_cmp(&a.0));
            self.kept.truncate(KEPT);
            self.threshold = self.kept.last().map_or(-1.0, |last| last.0);
        }
    }

    /// The longest vector about the means.
    pub fn peak(&self, means: &[f64]) -> Longest {
        let distance =
            |sample: &[f64]| sample.iter().zip(means).map(|(a, b)| (a - b) * (a - b)).sum::<f64>().sqrt();
        let length = self.kept.iter().map(|(_, sample)| distance(sample)).fold(0.0, f64::max);
        // Nothing that was not kept lies farther from the means than this.
        let others = if self.threshold < 0.0 { 0.0 } else { self.threshold.sqrt() + distance(&self.centre) };
        Longest { length, short_by: (others - length).max(0.0) }
    }
}

/// Whether every sample is a number.
pub(super) fn all_finite(samples: &[f64]) -> bool {
    // 0·x is 0 for numbers and NaN for all else.
    sum_of_nothing(samples) == 0.0
}

fn sum_of_nothing(samples: &[f64]) -> f64 {
    let mut lanes = [0.0; 8];
    let blocks = samples.chunks_exact(8);
    let rest: f64 = blocks.remainder().iter().map(|value| 0.0 * value).sum();
    for block in blocks {
        for (lane, value) in lanes.iter_mut().zip(block) {
            *lane += 0.0 * value;
        }
    }
    sum(&lanes) + rest
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn an_offset_costs_no_digits() {
        let samples: Vec<f64> = (0..1000).map(|i| 1e9 + f64::from(i % 2)).collect();
        let mut level = Level::about(1e9);
        samples.chunks(7).for_each(|part| level.hear(part));
        assert_eq!(level.count(), 1000);
        assert!((level.mean() - 1e9 - 0.5).abs() < 1e-6);
        assert!((level.mean_square() - 0.25).abs() < 1e-9);
        assert!((level.peak() - 0.5).abs() < 1e-6);
    }

    #[test]
    fn what_is_no_number_is_seen() {
        assert!(all_finite(&[1.0; 19]));
        for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
            for place in [0, 8, 18] {
                let mut samples = [1.0; 19];
                samples[place] = bad;
                assert!(!all_finite(&samples), "{bad} at {place}");
            }
        }
    }

    proptest! {
        #[test]
        fn the_longest_vector_is_the_farthest_sample_or_short_by_what_is_said(
            samples in proptest::collection::vec((-1.0..1.0f64, -1.0..1.0f64), 2..2000),
            guess in (-0.05..0.05f64, -0.05..0.05f64), parts in 1usize..400,
        ) {
            let x: Vec<f64> = samples.iter().map(|s| s.0).collect();
            let y: Vec<f64> = samples.iter().map(|s| s.1).collect();
            let mut vectors = Vectors::about(&[guess.0, guess.1]);
            for (a, b) in x.chunks(parts).zip(y.chunks(parts)) {
                vectors.hear(&[a, b]);
            }
            let mean = |values: &[f64]| values.iter().sum::<f64>() / values.len() as f64;
            let means = [mean(&x), mean(&y)];
            let farthest = samples.iter().map(|s| (s.0 - means[0]).hypot(s.1 - means[1])).fold(0.0, f64::max);
            let found = vectors.peak(&means);
            prop_assert!(found.length <= farthest + 1e-12);
            prop_assert!(found.length + found.short_by >= farthest - 1e-12, "{found:?} {farthest}");
        }
    }
}
