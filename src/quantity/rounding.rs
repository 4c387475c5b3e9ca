//! Rounding for the page, once and at the end (JCGM 100:2008, 7.2.6).

/// How many decimals a number is shown with; negative for tens, hundreds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Decimals(pub i32);

/// A value and its expanded uncertainty as they are printed, to the same place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Rounded {
    /// The value's digits.
    pub value: String,
    /// The uncertainty's digits.
    pub uncertainty: String,
    /// The place both are rounded to.
    pub decimals: Decimals,
}

/// The place to which an expanded uncertainty is given: two significant digits where the first is
/// 1 or 2, else one. JCGM 100 7.2.6 allows at most two; a first digit of 1 or 2 keeps the second
/// since rounding to one would change it by up to a third (common practice).
pub fn decimals_for(uncertainty: f64) -> Decimals {
    if uncertainty <= 0.0 || !uncertainty.is_finite() {
        return Decimals(3);
    }
    let exponent = decimal_exponent(uncertainty);
    let leading = uncertainty / 10f64.powi(exponent);
    // 2.96 would be shown as "3.0": it is rounded to 3 already.
    let digits = if leading < 2.95 { 2 } else { 1 };
    let place = digits - 1 - exponent;
    // 9.7 rounds up to 10: one place less keeps it at one digit or two.
    let rounded = round_to(uncertainty, Decimals(place));
    let grown = decimal_exponent(rounded) > exponent && digits == 2;
    Decimals(if grown { place - 1 } else { place })
}

fn decimal_exponent(value: f64) -> i32 {
    // `format!` gives the exact decimal exponent, which log10 does not near powers of ten.
    let text = format!("{:e}", value.abs());
    text.split_once('e').and_then(|(_, exponent)| exponent.parse().ok()).unwrap_or(0)
}

fn round_to(value: f64, decimals: Decimals) -> f64 {
    fixed_ascii(value, decimals).parse().unwrap_or(value)
}

/// Rounds half to even on the decimal digits that were meant, not on the binary neighbour:
/// 0.25 V read as `0.25` goes to 0.2, and 10.057 62 Ω to 10.058 (JCGM 100, 7.2.6).
fn fixed_ascii(value: f64, decimals: Decimals) -> String {
    if decimals.0 >= 0 {
        let places = usize::try_from(decimals.0).unwrap_or(0).min(17);
        let text = format!("{value:.places$}");
        return without_negative_zero(text);
    }
    let scale = 10f64.powi(-decimals.0);
    without_negative_zero(format!("{:.0}", (value / scale).round_ties_even() * scale))
}

fn without_negative_zero(text: String) -> String {
    match text.strip_prefix('-') {
        Some(rest) if rest.chars().all(|c| matches!(c, '0' | '.')) => rest.to_owned(),
        _ => text,
    }
}

/// The number to that place, with a true minus sign.
pub fn fixed(value: f64, decimals: Decimals) -> String {
    fixed_ascii(value, decimals).replace('-', "\u{2212}")
}

/// A value to the place of its expanded uncertainty, which has at most two significant digits.
pub fn round_with_uncertainty(value: f64, uncertainty: f64) -> Rounded {
    let decimals = decimals_for(uncertainty);
    Rounded { value: fixed(value, decimals), uncertainty: fixed(uncertainty, decimals), decimals }
}

/// A number without an uncertainty, to at most so many significant digits and without idle zeros.
pub fn significant(value: f64, digits: i32) -> String {
    if value == 0.0 || !value.is_finite() {
        return if value == 0.0 { "0".to_owned() } else { "not a number".to_owned() };
    }
    let decimals = Decimals((digits - 1 - decimal_exponent(value)).max(0));
    let text = fixed(value, decimals);
    if text.contains('.') {
        return text.trim_end_matches('0').trim_end_matches('.').to_owned();
    }
    text
}

/// A whole number in groups of three digits.
pub fn grouped(number: u64, separator: char) -> String {
    let digits = number.to_string();
    let mut text = String::new();
    for (index, digit) in digits.chars().enumerate() {
        if index > 0 && (digits.len() - index).is_multiple_of(3) {
            text.push(separator);
        }
        text.push(digit);
    }
    text
}
