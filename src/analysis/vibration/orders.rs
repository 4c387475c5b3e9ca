//! The orders: the peak amplitude of acceleration at 1×, 2× and 3× the turning frequency.

use crate::analysis::signal::spectrum::{Line, Spectrum};
use crate::analysis::signal::{alias, even};
use crate::quantity::significant;

use super::bearing::SLIP;
use super::fields::hertz;

/// From this share of the rate on, a recorder's own filter may have weakened a line (common practice).
pub(super) const FILTERED_FROM: f64 = 0.4;
/// The same where the samples were brought to an even grid, whose cubic then weakens it.
pub(super) const FILTERED_FROM_EVEN: f64 = 0.2;
/// Neighbouring orders must stand so many bins apart to be told from each other, and from the mean.
const APART: f64 = 5.0;

/// One order of one axis.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Order {
    /// Its line, or why there is none.
    pub(super) line: Result<Line, String>,
    /// What a reader must know of it.
    pub(super) notes: Vec<String>,
}

/// The order `k` at a turning frequency, samples coming `rate` a second.
pub(super) fn order(spectrum: &Spectrum, k: u32, turning: f64, rate: f64, on_grid: bool) -> Order {
    let frequency = f64::from(k) * turning;
    if let Some((why, at_length)) = hidden(k, frequency, turning, rate, spectrum.width) {
        return Order { line: Err(why), notes: vec![at_length] };
    }
    let mut notes = Vec::new();
    if on_grid && frequency > FILTERED_FROM_EVEN * rate {
        notes.push(format!(
            "{} lies above a fifth of the uneven rate: the even grid may show the line wrong by {} %.",
            hertz(frequency),
            significant(100.0 * even::largest_error(frequency / rate), 2)
        ));
    } else if frequency > FILTERED_FROM * rate {
        notes.push(format!(
            "{} lies near half the rate, {}: the recorder's own filter may have weakened it.",
            hertz(frequency),
            hertz(rate / 2.0)
        ));
    }
    match spectrum.line(frequency * (1.0 - SLIP), frequency * (1.0 + SLIP)) {
        Some(line) => Order { line: Ok(line), notes },
        None => Order {
            line: Err("The spectrum has too few bins about this line to hold it against.".to_owned()),
            notes,
        },
    }
}

/// Why an order cannot be seen, in a few words and at length.
fn hidden(k: u32, frequency: f64, turning: f64, rate: f64, width: f64) -> Option<(String, String)> {
    if turning <= 0.0 {
        return Some((
            "The machine stands.".to_owned(),
            "A machine that stands has no turning frequency, and no orders.".to_owned(),
        ));
    }
    if frequency >= rate / 2.0 {
        let shown = hertz(alias(frequency, rate));
        return Some((
            format!("Not visible: it would show, falsely, at {shown}."),
            format!(
                "{k}× is {}, above half the rate of {} samples a second; it would show, falsely, at {shown}.",
                hertz(frequency),
                significant(rate, 4)
            ),
        ));
    }
    if frequency * (1.0 + SLIP) + 3.0 * width > rate / 2.0 {
        return Some((
            "Too near half the rate.".to_owned(),
            format!(
                "{k}× is {}; so near half the rate, lines on either side of {} fold into each other.",
                hertz(frequency),
                hertz(rate / 2.0)
            ),
        ));
    }
    (turning < APART * width).then(|| {
        (
            "Recorded too briefly.".to_owned(),
            format!(
                "The spectrum's bins are {} wide, too coarse to part the orders of {}.",
                hertz(width),
                hertz(turning)
            ),
        )
    })
}

#[cfg(test)]
mod tests {
    use std::f64::consts::TAU;

    use super::*;
    use crate::analysis::signal::Window;
    use crate::analysis::signal::welch::of_samples;

    /// A sine of amplitude 0.3 in samples `rate` a second, and a little of everything else.
    fn shaking(frequency: f64, rate: f64) -> Spectrum {
        let samples: Vec<f64> = (0..20_000)
            .map(|n| {
                let t = f64::from(n) / rate;
                0.3 * (TAU * frequency * t).sin() + 1e-4 * f64::from((n * 7919) % 1009) / 1009.0
            })
            .collect();
        of_samples(&samples, rate, crate::analysis::signal::power_of_two_from(rate), Window::Hann, true)
            .expect("a spectrum")
    }

    #[test]
    fn an_order_is_found_although_the_motor_slips() {
        let spectrum = shaking(57.5 * 0.985, 1600.0);
        let found = order(&spectrum, 1, 57.5, 1600.0, false).line.expect("a line");
        assert!((found.amplitude - 0.3).abs() < 1e-3, "{found:?}");
        assert!((found.frequency - 57.5 * 0.985).abs() < 0.05, "{found:?}");
    }

    #[test]
    fn an_order_above_half_the_rate_is_refused_and_its_alias_named() {
        // A 4000 rpm spindle in a phone's 100 samples a second: 66.7 Hz would show at 33.3 Hz.
        let spectrum = shaking(4000.0 / 60.0, 100.0);
        let refused = order(&spectrum, 1, 4000.0 / 60.0, 100.0, false);
        assert_eq!(refused.line, Err("Not visible: it would show, falsely, at 33.33 Hz.".to_owned()));
        assert!(
            refused.notes[0].contains("66.67 Hz") && refused.notes[0].contains("33.33 Hz"),
            "{refused:?}"
        );
    }

    #[test]
    fn near_half_the_rate_an_order_is_refused_or_doubted() {
        let spectrum = shaking(49.5, 100.0);
        let why = order(&spectrum, 1, 49.5, 100.0, false).line.expect_err("refused");
        assert!(why.contains("Too near half the rate"), "{why}");
        let spectrum = shaking(43.0, 100.0);
        let found = order(&spectrum, 1, 43.0, 100.0, false);
        assert!(
            found.line.is_ok() && found.notes[0].contains("filter may have weakened it"),
            "{:?}",
            found.notes
        );
    }

    #[test]
    fn a_slow_turn_in_coarse_bins_is_refused() {
        let spectrum = shaking(57.5, 1600.0);
        let why = order(&spectrum, 1, 2.0, 1600.0, false).line.expect_err("refused");
        assert!(why.contains("Recorded too briefly"), "{why}");
        assert!(order(&spectrum, 1, 0.0, 1600.0, false).line.is_err(), "a machine that stands has no orders");
    }
}
