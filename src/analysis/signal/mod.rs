//! Signals: spectra, levels and envelopes of evenly sampled recordings, heard in one pass.
//!
//! Everything here holds a fixed amount of memory whatever the length of the recording. Frequencies
//! are in hertz, times in seconds, samples in whatever unit they come in; a density is that unit
//! squared per hertz, one-sided.

pub mod envelope;
pub mod even;
pub mod moments;
pub mod spectrum;
pub mod tracks;
pub mod welch;
pub mod window;

pub use spectrum::{Line, Spectrum};
pub use welch::Welch;
pub use window::Window;

/// Where a frequency shows in a recording of `rate` samples a second: itself up to half the rate,
/// its alias |f − rate·round(f/rate)| above.
pub fn alias(frequency: f64, rate: f64) -> f64 {
    (frequency - rate * (frequency / rate).round()).abs()
}

/// The smallest power of two that is not below `value`, between 2⁴ and 2¹⁷.
pub fn power_of_two_from(value: f64) -> usize {
    let mut length = 16;
    while (length as f64) < value && length < 1 << 17 {
        length *= 2;
    }
    length
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_frequency_above_half_the_rate_shows_at_its_alias() {
        // Closed form; 120 Hz hum in a phone's 100 samples a second shows at 20 Hz.
        for (rate, frequency, shown) in
            [(1000.0, 900.0, 100.0), (2560.0, 3000.0, 440.0), (100.0, 120.0, 20.0), (1000.0, 400.0, 400.0)]
        {
            assert!((alias(frequency, rate) - shown).abs() < 1e-9, "{frequency} at {rate}");
        }
    }

    #[test]
    fn stretches_are_powers_of_two_within_bounds() {
        assert_eq!(
            [0.0, 100.0, 3200.0, 48_000.0, 1e9].map(power_of_two_from),
            [16, 128, 4096, 65_536, 131_072]
        );
    }
}
