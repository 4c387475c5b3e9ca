//! One-third-octave bands (IEC 61260-1:2014, base ten) by sums of the power spectrum.
//!
//! Frames overlap by half under a sine window, whose squares add to one: every sample counts once,
//! and the bands of a recording add up to its mean square (Parseval). A bin across an edge is
//! shared between its bands. This is no filter bank of a class: far from a band's edges it is
//! steeper, and it has no time response of its own.

use std::f64::consts::PI;
use std::sync::Arc;

use realfft::num_complex::Complex;
use realfft::{RealFftPlanner, RealToComplex};

use super::weighting::Weighting;

/// The lowest band, as the index n of 1000·10^(n/10) Hz: 20 Hz.
pub const LOWEST: i32 = -17;
/// The highest band: 20 kHz.
pub const HIGHEST: i32 = 13;

/// A band's level.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Band {
    /// n of its exact middle 1000·10^(n/10) Hz.
    pub index: i32,
    /// The mean square in it, or the level made of that.
    pub value: f64,
}

/// The exact middle of a band in hertz (IEC 61260-1:2014, 5.2, with G = 10^0.3).
pub fn middle(index: i32) -> f64 {
    1000.0 * 10f64.powf(f64::from(index) / 10.0)
}

/// Its lower and upper edge in hertz.
pub fn edges(index: i32) -> (f64, f64) {
    let half = 10f64.powf(0.05);
    (middle(index) / half, middle(index) * half)
}

/// The nominal name of a band: `31.5 Hz`, `1.25 kHz` (IEC 61260-1:2014, table E.1).
pub fn name(index: i32) -> String {
    const NAMES: [&str; 10] = ["1", "1.25", "1.6", "2", "2.5", "3.15", "4", "5", "6.3", "8"];
    let place = usize::try_from(index.rem_euclid(10)).unwrap_or(0);
    let decade = index.div_euclid(10);
    let shifted = |tens: i32| -> String {
        let number: f64 = NAMES[place].parse().unwrap_or(1.0);
        let plain = number * 10f64.powi(tens);
        // 315 and 3.15, but 31.5 and 12.5.
        if plain >= 100.0 { format!("{plain:.0}") } else { format!("{plain:.1}").replace(".0", "") }
    };
    match decade {
        -2 => format!("{} Hz", shifted(1)),
        -1 => format!("{} Hz", shifted(2)),
        0 => format!("{} kHz", NAMES[place]),
        _ => format!("{} kHz", shifted(decade)),
    }
}

/// Sums the power spectrum of a recording, stretch by stretch.
pub struct Spectrum {
    rate: f64,
    frame: usize,
    window: Vec<f64>,
    fft: Arc<dyn RealToComplex<f64>>,
    windowed: Vec<f64>,
    bins: Vec<Complex<f64>>,
    scratch: Vec<Complex<f64>>,
    pending: Vec<f64>,
    power: Vec<f64>,
    samples: u64,
}

impl std::fmt::Debug for Spectrum {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Spectrum({} Hz, frames of {})", self.rate, self.frame)
    }
}

impl Spectrum {
    /// For a rate in samples a second. Frames are a power of two with bins no wider than 1.5 Hz, so
    /// that the lowest band holds three; a high rate gets wider bins.
    pub fn new(rate: f64) -> Self {
        let mut frame = 1024;
        while (frame as f64) < rate / 1.5 && frame < 1 << 18 {
            frame *= 2;
        }
        let fft = RealFftPlanner::new().plan_fft_forward(frame);
        let window = (0..frame).map(|n| (PI * (n as f64 + 0.5) / frame as f64).sin()).collect();
        let mut spectrum = Self {
            rate,
            frame,
            window,
            windowed: fft.make_input_vec(),
            bins: fft.make_output_vec(),
            scratch: fft.make_scratch_vec(),
            fft,
            pending: Vec::with_capacity(2 * frame),
            power: vec![0.0; frame / 2 + 1],
            samples: 0,
        };
        spectrum.begin();
        spectrum
    }

    /// Half a frame of nothing before the first sample, so that it counts as much as any other.
    fn begin(&mut self) {
        self.pending.clear();
        self.pending.resize(self.frame / 2, 0.0);
    }

    /// The next samples of a stretch.
    pub fn hear(&mut self, mut samples: &[f64]) {
        self.samples += samples.len() as u64;
        while !samples.is_empty() {
            let room = self.frame - self.pending.len();
            let (now, later) = samples.split_at(room.min(samples.len()));
            self.pending.extend_from_slice(now);
            samples = later;
            if self.pending.len() == self.frame {
                self.add_frame();
                self.pending.drain(..self.frame / 2);
            }
        }
    }

    /// Ends a stretch; the next sample does not go on from the last.
    pub fn pause(&mut self) {
        // The first half of what waits was in one frame so far, the second half in none.
        for _ in 0..2 {
            if self.pending.iter().any(|sample| *sample != 0.0) {
                self.pending.resize(self.frame, 0.0);
                self.add_frame();
                self.pending.drain(..self.frame / 2);
            }
        }
        self.begin();
    }

    fn add_frame(&mut self) {
        for ((out, x), w) in self.windowed.iter_mut().zip(&self.pending).zip(&self.window) {
            *out = x * w;
        }
        let done =
            self.fft.process_with_scratch(&mut self.windowed, &mut self.bins, &mut self.scratch).is_ok();
        if done {
            for (sum, bin) in self.power.iter_mut().zip(&self.bins) {
                *sum += bin.norm_sqr();
            }
        }
    }

    /// The mean square in each band that lies whole below half the rate, weighted bin by bin.
    pub fn bands(&mut self, weighting: Weighting) -> Vec<Band> {
        self.pause();
        if self.samples == 0 {
            return Vec::new();
        }
        let width = self.rate / self.frame as f64;
        let scale = 2.0 / (self.frame as f64 * self.samples as f64);
        let in_band = |index: i32| {
            let (low, high) = edges(index);
            let held = self.power.iter().enumerate().skip(1).map(|(bin, power)| {
                let hertz = bin as f64 * width;
                let (left, right) = (hertz - width / 2.0, hertz + width / 2.0);
                let share = ((right.min(high) - left.max(low)) / width).clamp(0.0, 1.0);
                if share > 0.0 { share * power * weighting.power(hertz) } else { 0.0 }
            });
            Band { index, value: scale * held.sum::<f64>() }
        };
        // Below three bins a band cannot be told from its neighbours.
        (LOWEST..=HIGHEST)
            .filter(|index| edges(*index).1 <= self.rate / 2.0)
            .filter(|index| edges(*index).1 - edges(*index).0 >= 3.0 * width)
            .map(in_band)
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a few seconds of samples")]
    fn sine(hertz: f64, rate: f64, seconds: f64) -> Vec<f64> {
        let count = (rate * seconds) as usize;
        (0..count).map(|n| (2.0 * PI * hertz * n as f64 / rate).sin()).collect()
    }

    #[test]
    fn names_are_the_nominal_ones() {
        let names: Vec<String> = (LOWEST..=HIGHEST).map(name).collect();
        assert_eq!(
            names.join(", "),
            "20 Hz, 25 Hz, 31.5 Hz, 40 Hz, 50 Hz, 63 Hz, 80 Hz, 100 Hz, 125 Hz, 160 Hz, 200 Hz, 250 Hz, \
             315 Hz, 400 Hz, 500 Hz, 630 Hz, 800 Hz, 1 kHz, 1.25 kHz, 1.6 kHz, 2 kHz, 2.5 kHz, 3.15 kHz, \
             4 kHz, 5 kHz, 6.3 kHz, 8 kHz, 10 kHz, 12.5 kHz, 16 kHz, 20 kHz"
        );
    }

    #[test]
    fn a_sine_in_the_middle_of_a_band_is_in_that_band() {
        for rate in [44_100.0, 48_000.0] {
            for index in LOWEST..=HIGHEST {
                if edges(index).1 > rate / 2.0 {
                    continue;
                }
                let mut spectrum = Spectrum::new(rate);
                spectrum.hear(&sine(middle(index), rate, 20.0));
                let bands = spectrum.bands(Weighting::Z);
                let own = bands.iter().find(|band| band.index == index).map_or(0.0, |band| band.value);
                // Half of one squared; the lowest band, three bins wide, may lose a little.
                let off = 10.0 * (own / 0.5).log10();
                assert!(off.abs() < 0.1, "{} at {rate}: {off} dB", name(index));
                for other in bands.iter().filter(|band| (band.index - index).abs() > 1) {
                    let leak = 10.0 * (other.value / 0.5).log10();
                    assert!(leak < -20.0, "{} in {}: {leak}", name(index), name(other.index));
                }
            }
        }
    }

    #[test]
    fn bands_of_noise_add_up_to_its_mean_square() {
        // A linear congruential generator (Numerical Recipes' constants): noise, the same every time.
        let mut state = 1u32;
        let noise: Vec<f64> = (0..200_001)
            .map(|_| {
                state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                f64::from(state) / f64::from(u32::MAX) - 0.5
            })
            .collect();
        let total = noise.iter().map(|x| x * x).sum::<f64>() / noise.len() as f64;
        for cuts in [vec![200_001], vec![7, 100_000, 99_994]] {
            let mut spectrum = Spectrum::new(48_000.0);
            let mut rest = noise.as_slice();
            for cut in cuts {
                let (now, later) = rest.split_at(cut);
                spectrum.hear(now);
                rest = later;
            }
            let bands = spectrum.bands(Weighting::Z);
            let sum: f64 = bands.iter().map(|band| band.value).sum();
            // White noise: what the bands cover of the band up to half the rate.
            let covered = (edges(HIGHEST).1 - edges(LOWEST).0) / 24_000.0;
            assert!((sum / total / covered - 1.0).abs() < 0.01, "{sum} of {total}");
        }
    }

    #[test]
    fn pauses_lose_no_energy() {
        let tone = sine(1000.0, 48_000.0, 3.0);
        let mut spectrum = Spectrum::new(48_000.0);
        for part in tone.chunks(20_000) {
            spectrum.hear(part);
            spectrum.pause();
        }
        let bands = spectrum.bands(Weighting::Z);
        let all: f64 = bands.iter().map(|band| band.value).sum();
        assert!((all / 0.5 - 1.0).abs() < 1e-3, "{all}");
    }
}
