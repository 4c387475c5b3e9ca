//! Means, deviations, intervals and adjustments that every measure shares.
//!
//! Deviations are taken about the mean in a second pass: the one-pass sum of squares loses every
//! digit on NIST's `NumAcc4` (NIST `StRD`, univariate).

use super::student;

/// Repeated numbers, summed up.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sample {
    /// How many.
    pub n: usize,
    /// Their mean; NaN of none.
    pub mean: f64,
    /// Their standard deviation (n − 1); NaN of fewer than two.
    pub deviation: f64,
}

/// A 95 % interval of a difference.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Interval {
    /// The difference.
    pub difference: f64,
    /// Its lower end.
    pub low: f64,
    /// Its upper end.
    pub high: f64,
    /// The degrees of freedom used.
    pub dof: f64,
}

/// The mean, twice passed so that large offsets cost no digits.
pub fn mean(values: &[f64]) -> f64 {
    let n = values.len() as f64;
    let rough = values.iter().sum::<f64>() / n;
    rough + values.iter().map(|value| value - rough).sum::<f64>() / n
}

/// Sums up repeated numbers.
pub fn sample(values: &[f64]) -> Sample {
    let centre = mean(values);
    let squares: f64 = values.iter().map(|value| (value - centre).powi(2)).sum();
    let slip: f64 = values.iter().map(|value| value - centre).sum();
    let n = values.len();
    let corrected = squares - slip * slip / n as f64;
    let deviation = if n < 2 { f64::NAN } else { (corrected.max(0.0) / (n as f64 - 1.0)).sqrt() };
    Sample { n, mean: centre, deviation }
}

/// The autocorrelation at lag one, with the common mean and the full sum (NIST `StRD`).
pub fn lag_one(values: &[f64]) -> f64 {
    let centre = mean(values);
    let products: f64 = values.windows(2).map(|pair| (pair[0] - centre) * (pair[1] - centre)).sum();
    products / values.iter().map(|value| (value - centre).powi(2)).sum::<f64>()
}

/// Groups compared: sums of squares between and within, and F.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Variance {
    /// Sum of squares between the groups.
    pub between: f64,
    /// Sum of squares within the groups.
    pub within: f64,
    /// Degrees of freedom between.
    pub dof_between: f64,
    /// Degrees of freedom within.
    pub dof_within: f64,
    /// The ratio of the mean squares.
    pub f: f64,
}

impl Variance {
    /// The standard deviation pooled over the groups.
    pub fn pooled(&self) -> f64 {
        (self.within / self.dof_within).sqrt()
    }
}

/// One-way analysis of variance; the grand mean is taken off first, without which NIST's
/// `SmLs07` comes out negative.
pub fn one_way(groups: &[Vec<f64>]) -> Variance {
    let all: Vec<f64> = groups.iter().flatten().copied().collect();
    let grand = mean(&all);
    let (mut between, mut within) = (0.0, 0.0);
    for group in groups {
        let shifted: Vec<f64> = group.iter().map(|value| value - grand).collect();
        let centre = mean(&shifted);
        between += group.len() as f64 * centre * centre;
        within += shifted.iter().map(|value| (value - centre).powi(2)).sum::<f64>();
    }
    let dof_between = groups.len() as f64 - 1.0;
    let dof_within = all.len() as f64 - groups.len() as f64;
    Variance { between, within, dof_between, dof_within, f: (between / dof_between) / (within / dof_within) }
}

/// The interval of `difference`, whose standard uncertainty has `dof` degrees of freedom.
pub fn interval(difference: f64, standard: f64, dof: f64) -> Interval {
    let half = student::quantile(0.975, dof) * standard;
    Interval { difference, low: difference - half, high: difference + half, dof }
}

/// Holm's step-down adjustment of probabilities (S. Holm, Scand. J. Statist. 6, 1979, 65–70), in
/// the order given.
pub fn holm(probabilities: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..probabilities.len()).collect();
    order.sort_by(|a, b| probabilities[*a].total_cmp(&probabilities[*b]));
    let mut adjusted = vec![1.0; probabilities.len()];
    let mut running: f64 = 0.0;
    for (rank, index) in order.iter().enumerate() {
        let factor = (probabilities.len() - rank) as f64;
        running = running.max((factor * probabilities[*index]).min(1.0));
        adjusted[*index] = running;
    }
    adjusted
}
