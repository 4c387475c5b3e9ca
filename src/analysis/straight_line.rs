//! A straight line through points by least squares, with the uncertainty of its numbers and the
//! correlation between them (JCGM 100:2008, H.3; NIST `StRD`, Norris).
//!
//! Sums are taken about the means: the textbook sums of squares lose digits where x is far from zero.

use super::statistics::mean;

/// A fitted line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line {
    /// y where x is zero.
    pub intercept: f64,
    /// y for each x.
    pub slope: f64,
    /// How many points.
    pub n: usize,
    /// The sum of squares left.
    pub left: f64,
    /// √(sum of squares left / (n − 2)); NaN of two points.
    pub deviation: f64,
    /// The mean of x.
    pub middle: f64,
    /// Σ(x − mean)².
    pub spread: f64,
}

/// The line through points. `None` of fewer than two, or where every x is the same.
pub fn fit(x: &[f64], y: &[f64]) -> Option<Line> {
    let n = x.len().min(y.len());
    let (x, y) = (x.get(..n)?, y.get(..n)?);
    if n < 2 {
        return None;
    }
    let (middle, level) = (mean(x), mean(y));
    let spread: f64 = x.iter().map(|x| (x - middle).powi(2)).sum();
    if spread.is_nan() || spread <= 0.0 {
        return None;
    }
    let slope = x.iter().zip(y).map(|(x, y)| (x - middle) * (y - level)).sum::<f64>() / spread;
    let intercept = level - slope * middle;
    let left = x.iter().zip(y).map(|(x, y)| (y - level - slope * (x - middle)).powi(2)).sum::<f64>();
    let deviation = if n > 2 { (left / (n as f64 - 2.0)).sqrt() } else { f64::NAN };
    Some(Line { intercept, slope, n, left, deviation, middle, spread })
}

impl Line {
    /// The line at x.
    pub fn at(&self, x: f64) -> f64 {
        self.intercept + self.slope * x
    }

    /// The degrees of freedom, n − 2.
    pub fn dof(&self) -> f64 {
        self.n as f64 - 2.0
    }

    /// The standard uncertainty of the slope, from the points' scatter about the line.
    pub fn slope_standard(&self) -> f64 {
        self.deviation / self.spread.sqrt()
    }

    /// The standard uncertainty of the line at x (not of a new reading there), the correlation of
    /// intercept and slope included.
    pub fn standard_at(&self, x: f64) -> f64 {
        self.deviation * (1.0 / self.n as f64 + (x - self.middle).powi(2) / self.spread).sqrt()
    }

    /// The correlation of intercept and slope.
    pub fn correlation(&self) -> f64 {
        let mean_square = self.middle.powi(2) + self.spread / self.n as f64;
        -self.middle / mean_square.sqrt()
    }
}
