//! The envelope of the band in which a signal is most impulsive, and its spectrum.
//!
//! A ball that passes a pit rings the housing at frequencies of its own; how often it does so shows in
//! the spectrum of the ringing's envelope (R. B. Randall and J. Antoni, Mech. Syst. Signal Process. 25,
//! 2011, 485–520). The band is sought by the kurtosis of the analytic signal, E|z|⁴/(E|z|²)², which is 2
//! for noise and 1 for a steady tone; its median over the pieces is taken, for a single click makes one
//! piece impulsive and not the half of them.

use std::sync::Arc;

use rayon::prelude::*;
use realfft::num_complex::Complex;
use realfft::{ComplexToReal, RealFftPlanner, RealToComplex};

use super::spectrum::Spectrum;
use super::welch::Welch;
use super::window::Window;

/// Bands are this wide at least, hertz.
pub const NARROWEST: f64 = 750.0;
/// The share of half the rate up to which bands reach: above, the recorder's own filter falls off.
pub const TOP: f64 = 0.95;
/// Left out at either end of a piece, where its beginning and its end meet.
const ENDS: usize = 16;

/// A band and how impulsive the signal is in it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Band {
    /// Its lower edge, hertz.
    pub low: f64,
    /// Its upper edge, hertz.
    pub high: f64,
    /// The median of E|z|⁴/(E|z|²)² over the pieces: 2 for noise.
    pub impulsiveness: f64,
}

/// The bands that are tried: from `lowest` up to 95 % of half the rate, `narrowest` wide and twice,
/// four times… as wide, each beginning half its width after the one before.
pub fn bands(rate: f64, lowest: f64, narrowest: f64) -> Vec<(f64, f64)> {
    let top = TOP * rate / 2.0;
    let mut list = Vec::new();
    // No more than some hundred bands, however high the rate.
    let mut width = narrowest.max(NARROWEST).max(top / 64.0);
    while width <= top - lowest {
        let mut low = lowest;
        while low + width <= top * (1.0 + 1e-12) {
            list.push((low, low + width));
            low += width / 2.0;
        }
        width *= 2.0;
    }
    list
}

/// A piece's spectrum, and back to a band's analytic signal.
struct Analytic {
    rate: f64,
    length: usize,
    bins: Vec<Complex<f64>>,
}

impl Analytic {
    fn of(piece: &[f32], rate: f64, forward: &Arc<dyn RealToComplex<f64>>) -> Option<Self> {
        let mut samples: Vec<f64> = piece.iter().map(|sample| f64::from(*sample)).collect();
        let mut bins = forward.make_output_vec();
        forward.process(&mut samples, &mut bins).ok()?;
        Some(Self { rate, length: piece.len(), bins })
    }

    /// The bins whose frequencies lie in a band.
    fn within(&self, low: f64, high: f64) -> &[Complex<f64>] {
        let width = self.rate / self.length as f64;
        let inside = |index: &usize| {
            let frequency = *index as f64 * width;
            frequency >= low && frequency <= high
        };
        let first = (1..self.bins.len()).find(inside).unwrap_or(self.bins.len());
        let last = (first..self.bins.len()).take_while(inside).last().map_or(first, |last| last + 1);
        &self.bins[first..last]
    }

    /// The squared magnitude of the analytic signal of these bins, at as many places as `backward`
    /// gives. Moved along the frequency axis, it is the same.
    fn squared(bins: &[Complex<f64>], backward: &Arc<dyn ComplexToReal<f64>>) -> Option<Vec<f64>> {
        let part = |turn: Complex<f64>| {
            let mut half = backward.make_input_vec();
            for (place, bin) in half.iter_mut().skip(1).zip(bins) {
                *place = bin * turn;
            }
            let mut out = backward.make_output_vec();
            backward.process(&mut half, &mut out).ok()?;
            Some(out)
        };
        let real = part(Complex::new(1.0, 0.0))?;
        let imaginary = part(Complex::new(0.0, -1.0))?;
        Some(real.iter().zip(imaginary).map(|(re, im)| re * re + im * im).collect())
    }
}

/// E|z|⁴/(E|z|²)² with the ends left out; 0 where there is no signal.
fn impulsiveness(squared: &[f64]) -> f64 {
    let ends = squared.len() / ENDS;
    let inner = squared.get(ends..squared.len() - ends).unwrap_or(&[]);
    let (second, fourth) = inner.iter().fold((0.0, 0.0), |(a, b), e| (a + e, b + e * e));
    if second > 0.0 { inner.len() as f64 * fourth / (second * second) } else { 0.0 }
}

/// The band in which the pieces are most impulsive; `None` where the rate leaves no band or there is
/// no piece. Defect frequencies up to `highest` are to be seen in its envelope.
pub fn most_impulsive(pieces: &[Vec<f32>], rate: f64, highest: f64) -> Option<Band> {
    let length = pieces.first()?.len();
    let tried = bands(rate, 2.0 * highest, 2.5 * highest);
    let mut planner = RealFftPlanner::<f64>::new();
    let forward = planner.plan_fft_forward(length);
    let width = rate / length as f64;
    let plans: Vec<Arc<dyn ComplexToReal<f64>>> = tried
        .iter()
        .map(|(low, high)| planner.plan_fft_inverse(places(length, 2.0 * (high - low) / width + 4.0)))
        .collect();
    let each: Vec<Vec<f64>> = pieces
        .par_iter()
        .map(|piece| {
            let Some(analytic) = Analytic::of(piece, rate, &forward) else { return Vec::new() };
            let of = |((low, high), plan): (&(f64, f64), &Arc<dyn ComplexToReal<f64>>)| {
                let bins = analytic.within(*low, *high);
                Analytic::squared(bins, plan).map_or(0.0, |squared| impulsiveness(&squared))
            };
            tried.iter().zip(&plans).map(of).collect()
        })
        .collect();
    let mut best: Option<Band> = None;
    for (index, (low, high)) in tried.iter().enumerate() {
        let mut values: Vec<f64> = each.iter().filter_map(|piece| piece.get(index).copied()).collect();
        values.sort_by(f64::total_cmp);
        let median = median_of_sorted(&values)?;
        if best.is_none_or(|best| median > best.impulsiveness) {
            best = Some(Band { low: *low, high: *high, impulsiveness: median });
        }
    }
    best.filter(|best| best.impulsiveness > 0.0)
}

fn median_of_sorted(values: &[f64]) -> Option<f64> {
    let middle = values.len() / 2;
    let upper = *values.get(middle)?;
    if values.len() % 2 == 1 { Some(upper) } else { Some(f64::midpoint(*values.get(middle - 1)?, upper)) }
}

/// A power of two with room for so many bins, no longer than the piece itself.
fn places(length: usize, wanted: f64) -> usize {
    let mut places = 16;
    while (places as f64) < wanted && places < length {
        places *= 2;
    }
    places
}

/// The envelope of one piece in a band, as long as the piece.
pub fn envelope(piece: &[f32], rate: f64, low: f64, high: f64) -> Option<Vec<f64>> {
    let mut planner = RealFftPlanner::<f64>::new();
    let analytic = Analytic::of(piece, rate, &planner.plan_fft_forward(piece.len()))?;
    let squared = Analytic::squared(analytic.within(low, high), &planner.plan_fft_inverse(piece.len()))?;
    // The transform there and back multiplies by the length.
    Some(squared.iter().map(|e| e.sqrt() / piece.len() as f64).collect())
}

/// The spectrum of the envelope of the pieces in a band, averaged over them.
pub fn spectrum(pieces: &[Vec<f32>], rate: f64, band: Band) -> Option<Spectrum> {
    let mut welch = Welch::new(pieces.first()?.len(), Window::Hann, true);
    let envelopes: Vec<Option<Vec<f64>>> =
        pieces.par_iter().map(|piece| envelope(piece, rate, band.low, band.high)).collect();
    for envelope in envelopes.into_iter().flatten() {
        welch.hear(&envelope);
    }
    welch.spectrum(rate)
}

#[cfg(test)]
mod tests {
    use std::f64::consts::TAU;

    use super::*;

    #[expect(clippy::cast_possible_truncation, reason = "test samples")]
    fn piece(of: impl Fn(f64) -> f64) -> Vec<f32> {
        (0..4096).map(|i| of(f64::from(i) / 4096.0) as f32).collect()
    }

    #[test]
    fn the_envelope_of_a_modulated_tone_is_its_modulation() {
        let modulated = |t: f64| (1.0 + 0.5 * (TAU * 30.0 * t).cos()) * (TAU * 1000.0 * t).sin();
        let found = envelope(&piece(modulated), 4096.0, 900.0, 1100.0).expect("an envelope");
        for (index, value) in found.iter().enumerate() {
            let wanted = 1.0 + 0.5 * (TAU * 30.0 * index as f64 / 4096.0).cos();
            assert!((value - wanted).abs() < 1e-6, "{value} is not {wanted}");
        }
        let spectrum =
            spectrum(&[piece(modulated)], 4096.0, Band { low: 900.0, high: 1100.0, impulsiveness: 0.0 });
        let line = spectrum.and_then(|s| s.line(29.0, 31.0)).expect("a line");
        assert!((line.amplitude - 0.5).abs() < 1e-3 && (line.frequency - 30.0).abs() < 1e-3, "{line:?}");
    }

    #[test]
    fn bands_are_wide_enough_and_end_below_half_the_rate() {
        for rate in [3000.0, 12_000.0, 48_000.0, 1e6] {
            let list = bands(rate, 300.0, 400.0);
            assert!(!list.is_empty() || rate < 3000.0);
            assert!(
                list.iter().all(|(low, high)| high - low >= NARROWEST && *high <= 0.95 * rate / 2.0 + 1e-6)
            );
            assert!(list.len() < 400, "{} at {rate}", list.len());
        }
        assert!(bands(800.0, 300.0, 400.0).is_empty(), "a slow recording has no such band");
    }
}
