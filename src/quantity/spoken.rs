//! Numbers as they are read aloud.
//!
//! The names of the units and their plurals follow NIST SP 811 (2008), 9.2 to 9.5, in British spelling: `hertz` has no
//! plural of its own, a quotient is said with "per", a power after the unit (`metres per second squared`) or before it
//! where it is a volume (`cubic inches`). Where the shop says it otherwise (`revolutions a minute`, `thousandths of an
//! inch`, `amps`), the shop is followed: common practice.

mod numbers;
mod units;

pub(crate) use numbers::{SMALL, TENS};
pub use numbers::{cardinal, clock, decimal, ordinal, year};
pub use units::{Names, names};

use super::rounding::{Decimals, decimals_for, fixed};
use super::{Kind, Unit, significant};

/// A number with what decides how precisely it may be said.
#[derive(Clone, Debug)]
pub struct Aloud<'a> {
    /// The number.
    pub value: f64,
    /// Its expanded uncertainty, where it has one; else it is said to four significant digits, as it is printed.
    pub uncertainty: Option<f64>,
    /// The unit.
    pub unit: Unit,
    /// Whether it is a distance on the unit's scale: a decibel of difference has no weighting.
    pub difference: bool,
    /// Whether the unit has been said in full before: "thousandths" for "thousandths of an inch".
    pub brief: bool,
    /// Limits that no rounding may carry it across.
    pub limits: &'a [f64],
}

impl Aloud<'_> {
    /// How many decimals the printed figure has.
    fn decimals(&self) -> Decimals {
        match self.uncertainty {
            Some(uncertainty) => decimals_for(uncertainty),
            None => places_of(&significant(self.value, 4)),
        }
    }

    /// As precisely as the figure, in a fraction where the shop says one and it lies within the figure's rounding.
    pub fn words(&self) -> String {
        let names = self.names();
        let decimals = self.decimals();
        if let Some(fraction) = self.fraction(decimals, names) {
            return fraction;
        }
        said(&fixed(self.value, decimals), names)
    }

    /// Rounded for speech: to the largest step of 1 or 5 that keeps within half the uncertainty and within six hundredths
    /// of the number (an ear that hears five does not think of five and a half), with "about" where that is coarser than
    /// the figure.
    pub fn about(&self) -> String {
        let names = self.names();
        let decimals = self.decimals();
        let figure: f64 = plain(&fixed(self.value, decimals));
        let Some(uncertainty) = self.uncertainty.filter(|u| *u > 0.0 && u.is_finite()) else {
            return self.words();
        };
        let last = 10f64.powi(-decimals.0);
        let room = (uncertainty / 2.0).min(0.06 * self.value.abs()).max(last / 2.0);
        let mut step = 10f64.powi(7);
        let mut five = false;
        while step > last * 1.000_001 {
            let coarse = (self.value / step).round() * step;
            let shown = coarse != 0.0 && (coarse - self.value).abs() <= room * (1.0 + 1e-9);
            if shown && self.same_side(coarse) && (coarse - figure).abs() < last / 1e6 {
                return self.words();
            }
            if shown && self.same_side(coarse) {
                return format!("about {}", self.exact(coarse, 6, names));
            }
            // 10, 5, 1, 0.5, 0.1: the steps that an ear takes for round.
            step /= if five { 5.0 } else { 2.0 };
            five = !five;
        }
        self.words()
    }

    /// "give or take half a thousandth"; empty where nothing is known of the uncertainty.
    pub fn give_or_take(&self) -> String {
        let Some(uncertainty) = self.uncertainty else { return String::new() };
        let decimals = self.decimals();
        let words = self.exact(plain(&fixed(uncertainty, decimals)), 6, self.names().short());
        format!("give or take {words}")
    }

    /// A number of this unit that stands as it is.
    fn exact(&self, value: f64, digits: i32, names: Names) -> String {
        let digits = significant(value, digits);
        let decimals = places_of(&digits);
        let exact = Self { value: plain(&digits), uncertainty: None, limits: &[], ..self.clone() };
        // What was rounded once is not rounded again: only a fraction that it is.
        let fraction = exact.fraction_within(decimals, 1e-9, names);
        fraction.unwrap_or_else(|| said(&digits, names))
    }

    fn names(&self) -> Names {
        let own = names(self.unit);
        // The difference of two levels is the same with every weighting.
        if self.brief || (self.difference && self.unit.kind() == Kind::Level) { own.short() } else { own }
    }

    /// Whether a rounded number stands to every limit as the number itself does.
    fn same_side(&self, rounded: f64) -> bool {
        let side = |value: f64, limit: f64| value.partial_cmp(&limit);
        self.limits.iter().all(|limit| side(self.value, *limit) == side(rounded, *limit))
    }

    /// In halves, quarters or tenths, where the shop says so of this unit and the figure's rounding holds it.
    fn fraction(&self, decimals: Decimals, names: Names) -> Option<String> {
        self.fraction_within(decimals, 10f64.powi(-decimals.0) / 2.0 * (1.0 + 1e-9), names)
    }

    fn fraction_within(&self, decimals: Decimals, room: f64, names: Names) -> Option<String> {
        let finest = finest_fraction(self.unit)?;
        // A figure without decimals is a whole number already.
        if decimals.0 <= 0 || self.value.abs() >= 100.0 {
            return None;
        }
        let size = self.value.abs();
        let minus = if self.value < 0.0 { "minus " } else { "" };
        let near = |wanted: f64| (wanted - size).abs() <= room && self.same_side(wanted.copysign(self.value));
        // A figure that is whole is said as such: "two", though it is printed 2.0.
        let figure = plain(&fixed(size, decimals));
        if figure.fract() == 0.0 {
            return None;
        }
        let quarters = (size * 4.0).round();
        let exact = (figure * f64::from(finest)).fract() == 0.0;
        // A tenth of a thousandth, a hundredth of a millimetre: nearer than a quarter.
        if size < 1.0 && !exact {
            if let Some(parts) = self.in_parts(figure, decimals, names) {
                return Some(format!("{minus}{parts}"));
            }
        }
        let said = quarters % 4.0 != 0.0 && (finest >= 4 || quarters % 2.0 == 0.0);
        (said && near(quarters / 4.0)).then(|| format!("{minus}{}", in_quarters(quarters, names)))
    }
}

impl Aloud<'_> {
    /// Less than one in the parts that the shop counts: "nine hundredths of a millimetre".
    fn in_parts(&self, figure: f64, decimals: Decimals, names: Names) -> Option<String> {
        const PARTS: [(&str, &str); 3] =
            [("tenth", "tenths"), ("hundredth", "hundredths"), ("thousandth", "thousandths")];
        let finest = match self.unit.symbol() {
            "thou" => 1,
            "mm" => 3,
            _ => 0,
        };
        let digits = fixed(figure, decimals);
        let after = digits.split_once('.')?.1.trim_end_matches('0');
        let (one, many) = PARTS.iter().take(finest).nth(after.len().checked_sub(1)?)?;
        let count: u64 = after.parse().ok()?;
        let word = if count == 1 { one } else { many };
        Some(format!("{} {word} of {} {}", cardinal(count), names.article, names.one))
    }
}

/// A number that is exact, such as a limit; `brief` as in [`Aloud::brief`].
pub fn exactly(value: f64, digits: i32, unit: Unit, brief: bool) -> String {
    let aloud = Aloud { value, uncertainty: None, unit, difference: false, brief, limits: &[] };
    aloud.exact(value, digits, aloud.names())
}

/// Digits as they are printed, with their unit.
pub fn said(digits: &str, names: Names) -> String {
    let number = decimal(digits);
    let unit = names.of(plain(digits));
    if unit.is_empty() { number } else { format!("{number} {unit}") }
}

/// The denominator up to which the shop says fractions of a unit (common practice).
fn finest_fraction(unit: Unit) -> Option<u32> {
    match unit.symbol() {
        "thou" | "in" | "ft" | "h" => Some(4),
        "mm" | "min" | "s" | "dB" | "dBA" | "dBC" | "dBZ" | "°F" | "°C" | "deg" | "A" | "lb" | "%" => {
            Some(2)
        }
        _ => None,
    }
}

/// A number of quarters that is no whole number: "half a thousandth", "two and a quarter thousandths".
fn in_quarters(quarters: f64, names: Names) -> String {
    let whole = (quarters / 4.0).floor();
    let of_one = format!("{} {}", names.article, names.one);
    let rest = quarters - 4.0 * whole;
    match (whole == 0.0, rest < 1.5, rest < 2.5) {
        (true, true, _) => format!("a quarter of {of_one}"),
        (true, _, true) => format!("half {of_one}"),
        (true, ..) => format!("three quarters of {of_one}"),
        (_, true, _) => format!("{} and a quarter {}", whole_number(whole), names.many),
        (_, _, true) => format!("{} and a half {}", whole_number(whole), names.many),
        _ => format!("{} and three-quarter {}", whole_number(whole), names.many),
    }
}

/// A whole number that arithmetic gave.
fn whole_number(number: f64) -> String {
    decimal(&fixed(number, Decimals(0)))
}

/// How many decimals a printed number has.
fn places_of(text: &str) -> Decimals {
    let places = text.split_once('.').map_or(0, |(_, after)| after.chars().count());
    Decimals(i32::try_from(places).unwrap_or(0))
}

/// A printed number's value.
fn plain(text: &str) -> f64 {
    text.replace('\u{2212}', "-").parse().unwrap_or(f64::NAN)
}

#[cfg(test)]
mod tests;
