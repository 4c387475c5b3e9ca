//! Windows and what they do to a line and to noise.

use std::f64::consts::TAU;

/// A window laid over a stretch of samples before its spectrum is taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Window {
    /// The periodic Hann window (scipy's `get_window("hann", n)`).
    Hann,
    /// The periodic Hamming window.
    Hamming,
    /// The periodic Blackman window.
    Blackman,
    /// None.
    Boxcar,
}

impl Window {
    /// Its `length` weights.
    pub fn weights(self, length: usize) -> Vec<f64> {
        let cosines: &[f64] = match self {
            Self::Hann => &[0.5, -0.5],
            Self::Hamming => &[0.54, -0.46],
            Self::Blackman => &[0.42, -0.5, 0.08],
            Self::Boxcar => &[1.0],
        };
        (0..length)
            .map(|index| {
                let turn = TAU * index as f64 / length as f64;
                cosines.iter().enumerate().map(|(k, a)| a * (turn * k as f64).cos()).sum()
            })
            .collect()
    }
}

/// The mean of the weights: what a line's amplitude is multiplied by.
pub fn coherent_gain(weights: &[f64]) -> f64 {
    weights.iter().sum::<f64>() / weights.len() as f64
}

/// The equivalent noise bandwidth in bins: n·Σw²/(Σw)².
pub fn noise_bandwidth(weights: &[f64]) -> f64 {
    let (sum, squares) = weights.iter().fold((0.0, 0.0), |(sum, squares), w| (sum + w, squares + w * w));
    weights.len() as f64 * squares / (sum * sum)
}
