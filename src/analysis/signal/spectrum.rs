//! A one-sided power spectral density, and what is read from it: mean squares in a band, lines.

use statrs::distribution::{ChiSquared, ContinuousCDF};

/// Bins on either side of a line's highest that its energy is summed over: Hann's main lobe reaches
/// two bins, and less than 1 part in 1000 of a line lies beyond.
const LOBE: usize = 2;
/// How many bins' worth of noise such a sum of five holds, and its degrees of freedom for one
/// stretch: neighbouring bins of a Hann spectrum are correlated 4/9 and 1/36 in power (F. J. Harris,
/// Proc. IEEE 66, 1978, 51–83, gives the window's own spectrum −1/4, 1/2, −1/4).
const LOBE_BINS: f64 = 5.0;
const LOBE_DOF: f64 = 2.0 * 25.0 / (5.0 + 8.0 * 4.0 / 9.0 + 6.0 / 36.0);

/// A one-sided power spectral density, the first bin at 0 Hz.
#[derive(Clone, Debug, PartialEq)]
pub struct Spectrum {
    /// From bin to bin, hertz.
    pub width: f64,
    /// The density in each bin, unit² per hertz.
    pub density: Vec<f64>,
    /// Its standard deviation from stretch to stretch.
    pub deviation: Vec<f64>,
    /// How many stretches it is the mean of.
    pub stretches: u64,
    /// The window's equivalent noise bandwidth in bins.
    pub noise_bandwidth: f64,
}

/// A line of a spectrum.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line {
    /// Where it stands, hertz, interpolated between bins.
    pub frequency: f64,
    /// Its peak amplitude, in the unit of the samples, with the noise about it taken off.
    pub amplitude: f64,
    /// The standard uncertainty of the amplitude from stretch to stretch; NaN of a single stretch.
    pub deviation: f64,
    /// The amplitude that noise as loud as the surroundings shows 95 times in 100.
    pub floor: f64,
    /// The highest bin over the median of its surroundings, as a ratio of amplitudes.
    pub ratio: f64,
}

impl Line {
    /// The line of the samples times a factor.
    #[must_use]
    pub fn times(self, factor: f64) -> Self {
        Self {
            amplitude: self.amplitude * factor,
            deviation: self.deviation * factor,
            floor: self.floor * factor,
            ..self
        }
    }
}

impl Spectrum {
    /// The frequency of a bin.
    pub fn frequency(&self, bin: usize) -> f64 {
        bin as f64 * self.width
    }

    /// Stretches that count as independent: half-overlapped Hann stretches are correlated 1/36 in
    /// power (Welch 1967).
    pub fn independent(&self) -> f64 {
        let count = self.stretches as f64;
        count / (1.0 + 2.0 / 36.0 * (count - 1.0).max(0.0) / count.max(1.0))
    }

    /// The mean square of the samples: the sum of all bins (Parseval).
    pub fn mean_square(&self) -> f64 {
        self.density.iter().sum::<f64>() * self.width
    }

    /// The share of a bin that lies in a band: a bin reaches half its width to either side.
    pub fn share(&self, bin: usize, low: f64, high: f64) -> f64 {
        share(bin, self.width, low, high)
    }

    /// The mean square within a band of frequencies, each bin multiplied by `weight` of its frequency.
    pub fn in_band(&self, low: f64, high: f64, weight: impl Fn(f64) -> f64) -> f64 {
        let mut total = 0.0;
        for (bin, density) in self.density.iter().enumerate().skip(1) {
            let share = self.share(bin, low, high);
            if share > 0.0 {
                total += share * density * weight(self.frequency(bin));
            }
        }
        total * self.width
    }

    /// The sum with another spectrum of the same bins: axes at right angles combined.
    #[must_use]
    pub fn with(&self, other: &Self) -> Self {
        let add = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a + b).collect();
        Self {
            density: add(&self.density, &other.density),
            // As if all wandered together: cautious.
            deviation: add(&self.deviation, &other.deviation),
            ..*self
        }
    }

    /// The spectrum of the samples times a factor.
    #[must_use]
    pub fn times(mut self, factor: f64) -> Self {
        for value in self.density.iter_mut().chain(&mut self.deviation) {
            *value *= factor * factor;
        }
        self
    }

    /// The peak amplitude of a line that stands alone on a bin: √(2·density·noise bandwidth·width).
    pub fn amplitude(&self, bin: usize) -> f64 {
        self.density.get(bin).map_or(0.0, |d| (2.0 * d * self.noise_bandwidth * self.width).sqrt())
    }

    /// The bins whose centres lie in a band, as far as there are such.
    fn bins(&self, low: f64, high: f64) -> std::ops::Range<usize> {
        let last = self.density.len();
        let from = bin_at((low / self.width).ceil(), last);
        let to = bin_at((high / self.width).floor() + 1.0, last);
        from..to.max(from)
    }

    /// The highest bin between two frequencies.
    pub fn highest(&self, low: f64, high: f64) -> Option<usize> {
        self.bins(low, high).max_by(|a, b| self.density[*a].total_cmp(&self.density[*b]))
    }

    /// Where the line on a bin stands between its neighbours, from the ratio of the two highest bins
    /// (for Hann, δ = (2β − 1)/(β + 1); D. C. Rife and G. A. Vincent, Bell Syst. Tech. J. 49, 1970).
    pub fn between_bins(&self, bin: usize) -> f64 {
        let at = |index: Option<usize>| index.and_then(|i| self.density.get(i)).copied().unwrap_or(0.0);
        let (own, below, above) = (at(Some(bin)), at(bin.checked_sub(1)), at(Some(bin + 1)));
        if own <= 0.0 {
            return self.frequency(bin);
        }
        let (sign, beside) = if above >= below { (1.0, above) } else { (-1.0, below) };
        let beta = (beside / own).sqrt();
        let offset = ((2.0 * beta - 1.0) / (beta + 1.0)).clamp(0.0, 0.5);
        (bin as f64 + sign * offset) * self.width
    }

    /// The median of the bins about a band, the band's own lobes and the three lowest bins left out.
    pub fn surroundings(&self, low: f64, high: f64) -> Option<f64> {
        let centre = f64::midpoint(low, high);
        let reach = (0.2 * centre).max(12.0 * self.width) + (high - low) / 2.0;
        let apart = (LOBE + 1) as f64 * self.width;
        let mut about: Vec<f64> = self
            .bins((centre - reach).max(3.0 * self.width), centre + reach)
            .filter(|bin| {
                let frequency = self.frequency(*bin);
                frequency < low - apart || frequency > high + apart
            })
            .map(|bin| self.density[bin])
            .collect();
        if about.len() < 4 {
            return None;
        }
        let middle = about.len() / 2;
        let (_, median, _) = about.select_nth_unstable_by(middle, f64::total_cmp);
        Some(*median)
    }

    /// The line between two frequencies: the energy of the highest bin's main lobe, so that it does
    /// not matter where between two bins the line stands. `None` where the band lies outside the
    /// spectrum or has no surroundings to hold it against.
    pub fn line(&self, low: f64, high: f64) -> Option<Line> {
        // At least the bins beside the middle, for a line may stand between two.
        let centre = f64::midpoint(low, high);
        let half = ((high - low) / 2.0).max(self.width);
        let (low, high) = (centre - half, centre + half);
        let bin = self.highest(low.max(self.width), high)?;
        let lobe = bin.saturating_sub(LOBE).max(1)..(bin + LOBE + 1).min(self.density.len());
        let median = self.surroundings(low, high)?;
        let stretches = self.independent();
        let noise = median / median_of_mean(2.0 * stretches);
        let energy = lobe.clone().map(|bin| self.density[bin]).sum::<f64>() * self.width;
        let own = (energy - LOBE_BINS * noise * self.width).max(0.0);
        let amplitude = (2.0 * own).sqrt();
        let spread: f64 = lobe.map(|bin| self.deviation[bin]).sum::<f64>() * self.width / stretches.sqrt();
        // u(A) = u(A²/2)/A; near nothing, that of the noise itself.
        let deviation =
            if self.stretches < 2 { f64::NAN } else { spread / amplitude.max((2.0 * spread).sqrt()) };
        Some(Line {
            frequency: self.between_bins(bin),
            amplitude,
            deviation: if deviation.is_nan() && self.stretches >= 2 { 0.0 } else { deviation },
            floor: self.floor_of(noise, low, high),
            ratio: if median > 0.0 { (self.density[bin] / median).sqrt() } else { f64::INFINITY },
        })
    }

    /// The amplitude that noise of this density shows 95 times in 100, the highest bin being sought
    /// between two frequencies.
    fn floor_of(&self, noise: f64, low: f64, high: f64) -> f64 {
        let tries = ((high - low) / self.width / 2.0).max(1.0);
        let dof = LOBE_DOF * self.independent();
        let most = chi_squared(0.95_f64.powf(1.0 / tries), dof) / dof;
        (2.0 * LOBE_BINS * noise * self.width * (most - 1.0).max(0.0)).sqrt()
    }
}

/// The share of a bin that lies in a band.
pub(super) fn share(bin: usize, width: f64, low: f64, high: f64) -> f64 {
    let centre = bin as f64 * width;
    let (from, to) = ((centre - width / 2.0).max(low), (centre + width / 2.0).min(high));
    ((to - from) / width).clamp(0.0, 1.0)
}

/// The point below which chi-squared with `dof` degrees of freedom lies with probability `p`.
pub fn chi_squared(p: f64, dof: f64) -> f64 {
    ChiSquared::new(dof.clamp(0.5, 1e6)).map_or(dof, |law| law.inverse_cdf(p.clamp(0.0, 1.0 - 1e-12)))
}

/// The median of a mean of squares with `dof` degrees of freedom, over its expectation.
pub fn median_of_mean(dof: f64) -> f64 {
    chi_squared(0.5, dof) / dof
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "held between 0 and the number of bins"
)]
fn bin_at(value: f64, most: usize) -> usize {
    if value.is_finite() { value.clamp(0.0, most as f64) as usize } else { 0 }
}

#[cfg(test)]
mod tests {
    use std::f64::consts::TAU;

    use super::super::welch::of_samples;
    use super::super::window::Window;

    /// Noise of mean square 1 with a line of this amplitude at 57.3 Hz, 1000 samples a second.
    fn samples(seconds: u32, amplitude: f64, seed: u64) -> Vec<f64> {
        let mut state = seed;
        let mut uniform = || {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            f64::from(u32::try_from(state >> 32).unwrap_or(0)) / f64::from(u32::MAX) - 0.5
        };
        (0..1000 * seconds)
            .map(|n| {
                let noise = 3f64.sqrt() * (uniform() + uniform() + uniform() + uniform());
                noise + amplitude * (TAU * 57.3 * f64::from(n) / 1000.0).sin()
            })
            .collect()
    }

    /// How often of 200 times the amplitude is at or below the floor, and within twice its deviation.
    fn shares(seconds: u32, amplitude: f64) -> (f64, f64) {
        let (mut below, mut within) = (0.0, 0.0);
        for seed in 1..=200 {
            let spectrum = of_samples(&samples(seconds, amplitude, seed), 1000.0, 1024, Window::Hann, true);
            let line = spectrum.and_then(|s| s.line(57.5 * 0.98, 57.5 * 1.02)).expect("a line");
            below += f64::from(u8::from(line.amplitude <= line.floor)) / 200.0;
            within += f64::from(u8::from((line.amplitude - amplitude).abs() <= 2.1 * line.deviation)) / 200.0;
        }
        (below, within)
    }

    #[test]
    fn noise_alone_stays_below_the_floor_about_95_times_in_100() {
        for seconds in [3, 10] {
            let (below, _) = shares(seconds, 0.0);
            assert!((0.90..=0.99).contains(&below), "{below} of {seconds} s");
        }
    }

    #[test]
    fn a_line_clear_of_the_noise_lies_in_its_interval_and_above_the_floor() {
        for (seconds, amplitude) in [(3, 1.0), (10, 0.3), (10, 1.0)] {
            let (below, within) = shares(seconds, amplitude);
            assert!(below < 0.01 && within > 0.90, "{below} {within} of {seconds} s, {amplitude}");
        }
    }
}
