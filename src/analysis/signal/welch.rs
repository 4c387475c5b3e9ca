//! Welch's spectrum (P. D. Welch, IEEE Trans. Audio Electroacoust. AU-15, 1967, 70–73): periodograms
//! of overlapping stretches, averaged. Scaling and one-sidedness are scipy.signal.welch's.

use std::sync::Arc;

use realfft::num_complex::Complex;
use realfft::{RealFftPlanner, RealToComplex};

use super::spectrum::Spectrum;
use super::window::Window;

/// What one stretch held, weighed by frequency: for its scatter from stretch to stretch.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Weighed {
    /// Its mean square.
    pub plain: f64,
    /// Its mean square with each bin multiplied by its weight.
    pub weighed: f64,
}

/// Averages the periodograms of stretches of one length.
pub struct Welch {
    length: usize,
    plan: Arc<dyn RealToComplex<f64>>,
    window: Vec<f64>,
    /// Σw².
    power: f64,
    /// Σw.
    gain: f64,
    detrend: bool,
    work: Vec<f64>,
    bins: Vec<Complex<f64>>,
    scratch: Vec<Complex<f64>>,
    sum: Vec<f64>,
    squares: Vec<f64>,
    weights: Vec<f64>,
    stretches: u64,
}

impl std::fmt::Debug for Welch {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Welch")
            .field("length", &self.length)
            .field("stretches", &self.stretches)
            .finish_non_exhaustive()
    }
}

impl Welch {
    /// For stretches of `length` samples (2 at least); `detrend` takes each one's mean off.
    pub fn new(length: usize, window: Window, detrend: bool) -> Self {
        let length = length.max(2);
        let plan = RealFftPlanner::<f64>::new().plan_fft_forward(length);
        let weights = window.weights(length);
        Self {
            length,
            power: weights.iter().map(|w| w * w).sum(),
            gain: weights.iter().sum(),
            window: weights,
            detrend,
            work: plan.make_input_vec(),
            bins: plan.make_output_vec(),
            scratch: plan.make_scratch_vec(),
            sum: vec![0.0; length / 2 + 1],
            squares: vec![0.0; length / 2 + 1],
            weights: vec![0.0; length / 2 + 1],
            stretches: 0,
            plan,
        }
    }

    /// Sets the weight of each bin in [`Weighed::weighed`]; what is missing weighs nothing.
    pub fn weigh(&mut self, weights: &[f64]) {
        for (own, weight) in self.weights.iter_mut().zip(weights) {
            *own = *weight;
        }
    }

    /// Samples a stretch.
    pub fn length(&self) -> usize {
        self.length
    }

    /// Takes in one stretch of exactly [`Welch::length`] samples; others are passed over.
    pub fn hear(&mut self, stretch: &[f64]) -> Weighed {
        if stretch.len() != self.length {
            return Weighed::default();
        }
        let mean = if self.detrend { sum(stretch) / self.length as f64 } else { 0.0 };
        for ((work, sample), w) in self.work.iter_mut().zip(stretch).zip(&self.window) {
            *work = (sample - mean) * w;
        }
        // The buffers are the plan's own, so lengths fit.
        if self.plan.process_with_scratch(&mut self.work, &mut self.bins, &mut self.scratch).is_err() {
            return Weighed::default();
        }
        self.stretches += 1;
        self.take_in()
    }

    fn take_in(&mut self) -> Weighed {
        let last = self.sum.len() - 1;
        let edge = |index: usize, bins: &[Complex<f64>]| bins[index].norm_sqr();
        let (first_bin, last_bin) = (edge(0, &self.bins), edge(last, &self.bins));
        let (plain, weighed) = self.add_up();
        // Every bin stands for two but the first and, with an even length, the last.
        let single = if self.length.is_multiple_of(2) { last_bin } else { 0.0 };
        let last_weight = if self.length.is_multiple_of(2) { self.weights[last] } else { 0.0 };
        let scale = 1.0 / (self.length as f64 * self.power);
        Weighed {
            plain: (2.0 * plain - first_bin - single) * scale,
            weighed: (2.0 * weighed - first_bin * self.weights[0] - last_bin * last_weight) * scale,
        }
    }

    /// Adds the stretch's bins to the sums; their sum, plain and weighed, in eight lanes that the processor
    /// adds side by side.
    fn add_up(&mut self) -> (f64, f64) {
        let (mut plain, mut weighed) = ([0.0; 8], [0.0; 8]);
        let sums = self.sum.chunks_mut(8).zip(self.squares.chunks_mut(8));
        for ((bins, weights), (sums, squares)) in self.bins.chunks(8).zip(self.weights.chunks(8)).zip(sums) {
            let rows =
                bins.iter().zip(weights).zip(sums).zip(squares).zip(plain.iter_mut().zip(&mut weighed));
            for ((((bin, weight), sum), squares), (plain, weighed)) in rows {
                let power = bin.re * bin.re + bin.im * bin.im;
                *sum += power;
                *squares += power * power;
                *plain += power;
                *weighed += power * weight;
            }
        }
        (plain.iter().sum(), weighed.iter().sum())
    }

    /// The averaged density for samples `rate` a second; `None` before the first stretch.
    pub fn spectrum(&self, rate: f64) -> Option<Spectrum> {
        if self.stretches == 0 || rate <= 0.0 || !rate.is_finite() {
            return None;
        }
        let count = self.stretches as f64;
        let scale = 1.0 / (rate * self.power);
        let last = self.sum.len() - 1;
        let sides = |index: usize| {
            let single = index == 0 || (index == last && self.length.is_multiple_of(2));
            if single { 1.0 } else { 2.0 }
        };
        let density: Vec<f64> =
            self.sum.iter().enumerate().map(|(index, sum)| sides(index) * scale * sum / count).collect();
        let deviation = self
            .sum
            .iter()
            .zip(&self.squares)
            .enumerate()
            .map(|(index, (sum, squares))| {
                let mean = sum / count;
                let variance = (squares / count - mean * mean).max(0.0) * count / (count - 1.0).max(1.0);
                sides(index) * scale * variance.sqrt()
            })
            .collect();
        Some(Spectrum {
            width: rate / self.length as f64,
            density,
            deviation,
            stretches: self.stretches,
            noise_bandwidth: self.length as f64 * self.power / (self.gain * self.gain),
        })
    }
}

/// The sum in eight lanes, which the processor adds side by side.
pub(super) fn sum(values: &[f64]) -> f64 {
    let mut lanes = [0.0; 8];
    let blocks = values.chunks_exact(8);
    let rest: f64 = blocks.remainder().iter().sum();
    for block in blocks {
        for (lane, value) in lanes.iter_mut().zip(block) {
            *lane += value;
        }
    }
    lanes.iter().sum::<f64>() + rest
}

/// The spectrum of samples at hand, with half overlap; `None` where they are fewer than `length`.
pub fn of_samples(
    samples: &[f64],
    rate: f64,
    length: usize,
    window: Window,
    detrend: bool,
) -> Option<Spectrum> {
    let mut welch = Welch::new(length, window, detrend);
    let hop = (length - length / 2).max(1);
    let mut from = 0;
    while let Some(stretch) = samples.get(from..from + length) {
        welch.hear(stretch);
        from += hop;
    }
    welch.spectrum(rate)
}
