//! What a cell is taken for: a number, a time, a text, or nothing.

use super::number;
use super::time;
use crate::quantity::Unit;

/// What a cell looks like, whatever the decimal sign.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Class {
    Empty,
    Number,
    Time,
    Text,
}

impl Class {
    /// Whether a cell of this class may stand in a column of the other.
    pub(super) fn fits(self, column: Self) -> bool {
        self == column || self == Self::Empty || column == Self::Empty
    }
}

/// What a cell looks like.
pub(super) fn class(cell: &[u8]) -> Class {
    if cell.is_empty() {
        Class::Empty
    } else if is_no_reading(cell) || Shape::of(cell).is_some() {
        Class::Number
    } else if std::str::from_utf8(cell).is_ok_and(time::looks_like_one) {
        Class::Time
    } else {
        Class::Text
    }
}

/// Not a number, or infinite, as programs write it.
pub(super) fn is_no_reading(cell: &[u8]) -> bool {
    let plain = match cell {
        [b'+' | b'-', rest @ ..] => rest,
        all => all,
    };
    ["nan", "inf", "infinity", "1.#inf", "1.#qnan", "1.#ind"]
        .iter()
        .any(|word| plain.eq_ignore_ascii_case(word.as_bytes()))
}

/// The parts of a number with perhaps a unit behind it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Shape<'a> {
    /// Sign, digits and signs between them, exponent.
    pub(super) number: &'a [u8],
    /// What follows, without spaces.
    pub(super) unit: &'a str,
    pub(super) points: usize,
    pub(super) commas: usize,
}

impl<'a> Shape<'a> {
    /// `None` where it is no number.
    pub(super) fn of(cell: &'a [u8]) -> Option<Self> {
        let signed = usize::from(matches!(cell.first(), Some(b'+' | b'-')));
        let body = cell.get(signed..)?;
        let digits = body.iter().take_while(|b| b.is_ascii_digit() || matches!(b, b'.' | b',')).count();
        let mantissa = &body[..digits];
        let points = mantissa.iter().filter(|byte| **byte == b'.').count();
        let commas = mantissa.iter().filter(|byte| **byte == b',').count();
        let plain =
            points + commas <= 1 || is_grouped(mantissa, b',', b'.') || is_grouped(mantissa, b'.', b',');
        if !plain || !mantissa.iter().any(u8::is_ascii_digit) {
            return None;
        }
        let end = signed + digits + exponent(&body[digits..]);
        let unit = std::str::from_utf8(&cell[end..]).ok()?.trim();
        let known = unit.is_empty() || (unit.len() <= 12 && Unit::is_spelled(unit));
        known.then(|| Self { number: &cell[..end], unit, points, commas })
    }

    /// Its value with that decimal sign.
    pub(super) fn value(&self, decimal: u8) -> Option<f64> {
        number::whole(self.number, decimal)
    }

    /// Whether a comma in it may as well stand between thousands: `1,234`.
    pub(super) fn may_group(&self) -> bool {
        let plain = self.number.strip_prefix(b"-").or_else(|| self.number.strip_prefix(b"+"));
        let plain = plain.unwrap_or(self.number);
        let parts: Vec<&[u8]> = plain.split(|byte| *byte == b',').collect();
        match parts.as_slice() {
            [first, second] => {
                (1..=3).contains(&first.len()) && second.len() == 3 && first.first() != Some(&b'0')
            }
            _ => false,
        }
    }
}

/// Whether every third digit before the decimal sign has a mark before it: `1,234,567.8`.
fn is_grouped(digits: &[u8], mark: u8, decimal: u8) -> bool {
    let whole = digits.split(|byte| *byte == decimal).next().unwrap_or_default();
    let mut groups = whole.split(|byte| *byte == mark);
    let first = groups.next().unwrap_or_default();
    digits.iter().filter(|byte| **byte == decimal).count() <= 1
        && (1..=3).contains(&first.len())
        && groups.all(|group| group.len() == 3)
        && !digits[whole.len()..].contains(&mark)
}

fn exponent(rest: &[u8]) -> usize {
    if !matches!(rest.first(), Some(b'e' | b'E')) {
        return 0;
    }
    let sign = usize::from(matches!(rest.get(1), Some(b'+' | b'-')));
    let digits = rest[1 + sign..].iter().take_while(|byte| byte.is_ascii_digit()).count();
    if digits == 0 { 0 } else { 1 + sign + digits }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cell_is_taken_for_what_it_looks_like() {
        for number in ["1", "-1.5", "+1,5e-3", "1.234,5", "nan", "-Infinity", "1.2 g", "3mm/s", "5 %", ".5"] {
            assert_eq!(class(number.as_bytes()), Class::Number, "{number}");
        }
        for time in [
            "14:30",
            "0:12.5",
            "2026-03-02T14:30:00Z",
            "2026-03-02 14:30",
            "2:30:01 PM",
            "2026/03/02 14:30:01,5",
        ] {
            assert_eq!(class(time.as_bytes()), Class::Time, "{time}");
        }
        for text in ["x", "ax (g)", "1.2.x", "e5", "-", "12 parsecs", "1 2"] {
            assert_eq!(class(text.as_bytes()), Class::Text, "{text}");
        }
        assert_eq!(class(b""), Class::Empty);
    }
}
