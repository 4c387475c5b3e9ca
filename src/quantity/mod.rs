//! Quantities as types: a number with its unit, a difference of two such, and their rounding.
//!
//! A temperature is not a temperature difference: 36 °F as a difference is 20 K, as a temperature
//! it is 275.4 K. [`Quantity`] is a place on a scale, [`Difference`] a distance on it; only a
//! difference may be an uncertainty, a rise, a resolution or a tolerance.

mod parse;
mod rounding;
pub mod spoken;
mod together;
mod unit;

use std::fmt;

pub use parse::{ParseProblem, parse_clock, parse_difference, parse_number, parse_quantity, parse_unit};
pub use rounding::{Decimals, Rounded, decimals_for, fixed, grouped, round_with_uncertainty, significant};
pub use together::kept_together;
pub use unit::{Kind, Unit, UnitSystem, units_of};

/// A place on a scale: a number in a unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Quantity {
    value: f64,
    unit: Unit,
}

/// A distance on a scale: the difference of two quantities, converted without a zero offset.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Difference {
    value: f64,
    unit: Unit,
}

/// Why a quantity cannot be shown in a unit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{found} cannot be converted to {wanted}")]
pub struct KindMismatch {
    /// The kind at hand, in words.
    pub found: &'static str,
    /// The kind wanted, in words.
    pub wanted: &'static str,
}

impl Quantity {
    /// A quantity of `value` in `unit`.
    pub fn new(value: f64, unit: Unit) -> Self {
        Self { value, unit }
    }

    /// The number in the quantity's own unit.
    pub fn value(self) -> f64 {
        self.value
    }

    /// The unit it was given in.
    pub fn unit(self) -> Unit {
        self.unit
    }

    /// The number in another unit of the same kind.
    pub fn to(self, unit: Unit) -> Result<f64, KindMismatch> {
        let from = self.unit.as_kind_of(unit);
        from.convertible(unit)?;
        if from == unit {
            return Ok(self.value);
        }
        let si = self.value * from.factor() + from.offset();
        Ok((si - unit.offset()) / unit.factor())
    }
}

impl Difference {
    /// A difference of `value` in `unit`.
    pub fn new(value: f64, unit: Unit) -> Self {
        Self { value, unit }
    }

    /// The number in the difference's own unit.
    pub fn value(self) -> f64 {
        self.value
    }

    /// The unit it was given in.
    pub fn unit(self) -> Unit {
        self.unit
    }

    /// The number in another unit of the same kind; a temperature's zero plays no part. A decibel
    /// of difference is the same with every weighting.
    pub fn to(self, unit: Unit) -> Result<f64, KindMismatch> {
        let from = self.unit.as_kind_of(unit);
        if from.kind() != unit.kind() {
            return Err(KindMismatch { found: from.kind().words(), wanted: unit.kind().words() });
        }
        if from == unit {
            return Ok(self.value);
        }
        Ok(self.value * from.factor() / unit.factor())
    }
}

impl std::ops::Sub for Quantity {
    type Output = Result<Difference, KindMismatch>;

    fn sub(self, other: Self) -> Self::Output {
        Ok(Difference::new(self.value - other.to(self.unit)?, self.unit))
    }
}

/// A number with its unit behind it; a number that has none stands alone.
pub fn with_unit(number: &str, unit: Unit) -> String {
    let symbol = unit.symbol();
    if symbol.is_empty() { number.to_owned() } else { format!("{number} {symbol}") }
}

impl fmt::Display for Quantity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&with_unit(&significant(self.value, 6), self.unit))
    }
}

impl fmt::Display for Difference {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&with_unit(&significant(self.value, 6), self.unit))
    }
}
