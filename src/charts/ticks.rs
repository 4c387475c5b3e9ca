//! Round numbers on an axis: steps of 1, 2 and 5 times a power of ten, with labels as long as the step
//! needs.

/// U+2212, the sign that is as wide as a figure.
const MINUS: char = '\u{2212}';

/// How a number of steps is made whole.
type Rounding = fn(f64) -> f64;

/// Evenly spaced round values. Value `k` is `k · mantissa · 10^exponent`.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Ticks {
    mantissa: i64,
    exponent: i32,
    first: i64,
    last: i64,
    /// The labels are in units of ten to this power, a multiple of three; zero unless the numbers are
    /// very large or very small.
    pub(super) power: i32,
}

impl Ticks {
    /// The round values from `low` to `high`, the finest step that gives at most `most` (two or more) of
    /// them. Both must be finite; where they are equal the axis is opened about them.
    pub(super) fn inside(low: f64, high: f64, most: usize) -> Self {
        Self::finest(low, high, most.max(2), (f64::ceil, f64::floor))
    }

    /// The edges of round bands that hold `low` to `high`: from the last round value not above the one to
    /// the first not below the other, in the finest step that leaves at most `most` (two or more) bands.
    pub(super) fn around(low: f64, high: f64, most: usize) -> Self {
        Self::finest(low, high, most.max(2) + 1, (f64::floor, f64::ceil))
    }

    /// The finest step that gives at most `most` values between the ends, each brought to a step as given.
    fn finest(low: f64, high: f64, most: usize, (at_low, at_high): (Rounding, Rounding)) -> Self {
        let (low, high) = opened(low, high);
        let rough = (high - low) / most as f64;
        let mut exponent = whole(rough.log10().floor());
        let mut mantissas = [1, 2, 5].into_iter().cycle();
        loop {
            let mantissa = mantissas.next().unwrap_or(1);
            let first = whole64(nearly(low, mantissa, exponent, at_low));
            let last = whole64(nearly(high, mantissa, exponent, at_high));
            let count = usize::try_from(last.saturating_sub(first)).map_or(0, |n| n.saturating_add(1));
            if count <= most {
                let ticks = Self { mantissa, exponent, first, last, power: 0 };
                return Self { power: ticks.suitable_power(), ..ticks };
            }
            if mantissa == 5 {
                exponent += 1;
            }
        }
    }

    /// Zero and the largest of 1, 2 and 5 times a power of ten that is not above `size` (over zero).
    pub(super) fn step_below(size: f64) -> Self {
        let exponent = whole(size.log10().floor());
        let fits = |mantissa: &i64| nearly(size, *mantissa, exponent, f64::floor) >= 1.0;
        let (mantissa, exponent) =
            [5, 2, 1].into_iter().find(fits).map_or((5, exponent - 1), |mantissa| (mantissa, exponent));
        let ticks = Self { mantissa, exponent, first: 0, last: 1, power: 0 };
        Self { power: ticks.suitable_power(), ..ticks }
    }

    /// The values, lowest first.
    pub(super) fn values(&self) -> Vec<f64> {
        (self.first..=self.last).map(|k| self.value(k)).collect()
    }

    /// The lowest value.
    fn low(&self) -> f64 {
        self.value(self.first)
    }

    /// The highest value.
    fn high(&self) -> f64 {
        self.value(self.last)
    }

    /// The distance of two neighbours.
    pub(super) fn step(&self) -> f64 {
        self.value(1)
    }

    /// The labels, in the order of the values, all with the decimals that the step needs.
    pub(super) fn labels(&self) -> Vec<String> {
        (self.first..=self.last).map(|k| self.label(k)).collect()
    }

    /// `thou`, or `10⁻⁹ thou` where the labels are in such units.
    pub(super) fn unit(&self, unit: &str) -> String {
        if self.power == 0 {
            return unit.to_owned();
        }
        let digits: String = self.power.to_string().chars().map(superscript).collect();
        format!("10{digits} {unit}").trim_end().to_owned()
    }

    fn value(&self, k: i64) -> f64 {
        let whole = (k * self.mantissa) as f64;
        // Dividing by an exact power of ten rounds once; multiplying by 0.1 and the like rounds twice.
        if self.exponent >= 0 {
            whole * 10f64.powi(self.exponent)
        } else {
            whole / 10f64.powi(-self.exponent)
        }
    }

    fn label(&self, k: i64) -> String {
        let whole = k * self.mantissa;
        let shift = self.exponent - self.power;
        let digits = whole.unsigned_abs().to_string();
        let unsigned = if whole == 0 && shift >= 0 {
            digits
        } else if let Ok(zeros) = usize::try_from(shift) {
            digits + &"0".repeat(zeros)
        } else {
            let decimals = shift.unsigned_abs() as usize;
            let padded = format!("{digits:0>width$}", width = decimals + 1);
            let (before, after) = padded.split_at(padded.len() - decimals);
            format!("{before}.{after}")
        };
        if whole < 0 { format!("{MINUS}{unsigned}") } else { unsigned }
    }

    /// Zero, or the multiple of three that makes the labels short.
    fn suitable_power(&self) -> i32 {
        let largest = self.low().abs().max(self.high().abs());
        if largest == 0.0 || (largest < 1e6 && self.exponent >= -5) {
            return 0;
        }
        whole((largest.log10() / 3.0).floor()) * 3
    }
}

/// The range, opened where it is empty or too small for its size to be resolved.
pub(super) fn opened(low: f64, high: f64) -> (f64, f64) {
    let (low, high) = (low.min(high), low.max(high));
    let size = low.abs().max(high.abs());
    // Beyond this, powers of ten are not exact enough to draw with.
    if size < 1e-150 {
        return (-1.0, 1.0);
    }
    if high - low > size * 1e-9 {
        return (low, high);
    }
    let room = size * if high <= low { 0.1 } else { 1e-9 };
    (low - room, high + room)
}

/// `value/step` by `round`, but a value within 10⁻⁹ of a step counts as on it.
fn nearly(value: f64, mantissa: i64, exponent: i32, round: Rounding) -> f64 {
    let scaled = value / 10f64.powi(exponent) / mantissa as f64;
    if (scaled - scaled.round()).abs() < 1e-9 { scaled.round() } else { round(scaled) }
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "a float cast saturates, and the logarithm of a float is under 400"
)]
fn whole(value: f64) -> i32 {
    value as i32
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "the range is at least 10⁻⁹ of its size, so steps are few"
)]
fn whole64(value: f64) -> i64 {
    value as i64
}

pub(super) fn superscript(digit: char) -> char {
    match digit {
        '-' => '⁻',
        '1' => '¹',
        '2' => '²',
        '3' => '³',
        '4' => '⁴',
        '5' => '⁵',
        '6' => '⁶',
        '7' => '⁷',
        '8' => '⁸',
        '9' => '⁹',
        _ => '⁰',
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn labels_have_the_decimals_of_the_step_and_a_real_minus() {
        let ticks = Ticks::inside(-0.61, 1.04, 5);
        assert_eq!(ticks.labels(), ["−0.5", "0.0", "0.5", "1.0"]);
        assert_eq!(ticks.values(), [-0.5, 0.0, 0.5, 1.0]);
        assert_eq!(Ticks::inside(0.0, 40.0, 5).labels(), ["0", "10", "20", "30", "40"]);
        assert_eq!(Ticks::inside(0.0, 0.08, 5).labels(), ["0.00", "0.02", "0.04", "0.06", "0.08"]);
        // Tenths to the last bit: 3 · 0.1 would not be 0.3.
        assert_eq!(Ticks::inside(0.0, 0.3, 4).values(), [0.0, 0.1, 0.2, 0.3]);
    }

    #[test]
    fn very_large_and_very_small_numbers_are_shown_in_powers_of_ten() {
        let ticks = Ticks::inside(0.0, 4e-9, 5);
        assert_eq!(ticks.labels(), ["0", "1", "2", "3", "4"]);
        assert_eq!(ticks.unit("mm"), "10⁻⁹ mm");
        let ticks = Ticks::inside(-1e9, 1e9, 5);
        assert_eq!(ticks.labels(), ["−1.0", "−0.5", "0.0", "0.5", "1.0"]);
        assert_eq!(ticks.unit("rpm"), "10⁹ rpm");
        assert_eq!(Ticks::inside(0.0, 3450.0, 5).unit("rpm"), "rpm");
    }

    #[test]
    fn a_scale_bar_is_round_and_no_longer_than_asked() {
        for (size, bar) in [(1.0, 1.0), (0.99, 0.5), (2.3, 2.0), (7.0, 5.0), (1e-9, 1e-9), (0.3, 0.2)] {
            assert!((Ticks::step_below(size).step() / bar - 1.0).abs() < 1e-12, "{size}");
        }
    }

    #[test]
    fn bands_are_round_and_hold_what_they_are_made_for() {
        assert_eq!(Ticks::around(-2.4, 3.1, 9).labels(), ["−3", "−2", "−1", "0", "1", "2", "3", "4"]);
        assert_eq!(Ticks::around(0.0, 4.0, 4).values(), [0.0, 1.0, 2.0, 3.0, 4.0]);
        assert_eq!(Ticks::around(0.12, 0.14, 3).labels(), ["0.12", "0.13", "0.14"]);
    }

    #[test]
    fn equal_values_get_an_axis_about_them() {
        for value in [0.0, 1.5, -3.0, 1e-9, 1e9] {
            let ticks = Ticks::inside(value, value, 6);
            assert!(ticks.low() < value && value < ticks.high(), "{value}: {ticks:?}");
        }
    }

    proptest! {
        #[test]
        fn steps_are_round_few_and_end_within_a_step_of_the_range(
            a in -1e6..1e6, span in 1e-2..1e9, most in 2usize..12,
        ) {
            let ticks = Ticks::inside(a, a + span, most);
            prop_assert!([1, 2, 5].contains(&ticks.mantissa));
            let (step, slack) = (ticks.step(), 1e-8 * ticks.step());
            prop_assert!(ticks.low() >= a - slack && ticks.low() < a + step + slack);
            prop_assert!(ticks.high() <= a + span + slack && ticks.high() > a + span - step - slack);
            let values = ticks.values();
            prop_assert!(values.len() <= most && values.len() >= (most / 3).max(1));
            prop_assert_eq!(values.len(), ticks.labels().len());
        }

        #[test]
        fn a_label_reads_back_as_its_value(a in -1e5..1e5, span in 1e-3..1e5) {
            let ticks = Ticks::inside(a, a + span, 6);
            for (value, label) in ticks.values().iter().zip(ticks.labels()) {
                let read: f64 = label.replace('−', "-").parse().expect("a label is a number");
                let size = value.abs().max(ticks.step());
                prop_assert!((read * 10f64.powi(ticks.power) - value).abs() <= 1e-12 * size);
            }
        }
    }
}
