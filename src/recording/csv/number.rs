//! Numbers read from bytes: exact, and fast where that can be proved.
//!
//! A decimal text whose digits make an integer up to 2⁵³ and whose power of ten is at most 22 is read
//! with one division or multiplication of two numbers that a double holds exactly, so that the result
//! is the nearest double (W. D. Clinger, "How to read floating point numbers accurately", PLDI 1990).
//! All others go to the standard library.

/// Powers of ten that a double holds exactly.
const EXACT: [f64; 23] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18,
    1e19, 1e20, 1e21, 1e22,
];
/// Powers of ten as integers.
const TENS: [u64; 17] = {
    let mut tens = [1_u64; 17];
    let mut index = 1;
    while index < 17 {
        tens[index] = tens[index - 1] * 10;
        index += 1;
    }
    tens
};
/// The largest integer up to which a double holds every integer.
const WHOLE: u64 = 1 << 53;

/// Up to eight digits at the front of eight bytes: their value and how many they are.
#[inline]
fn digits_of(word: u64) -> (u64, usize) {
    // A digit becomes 0 to 9; what is none gets its highest bit set.
    let plain = word ^ 0x3030_3030_3030_3030;
    let others = (plain.wrapping_add(0x7676_7676_7676_7676) | plain) & 0x8080_8080_8080_8080;
    let count = (others.trailing_zeros() / 8) as usize;
    if count == 0 {
        return (0, 0);
    }
    // Shifted up, the digits stand at the end, with zeros before them.
    let aligned = plain << (64 - 8 * count);
    let pairs = ((aligned & 0x0f0f_0f0f_0f0f_0f0f).wrapping_mul(2561)) >> 8;
    let fours = ((pairs & 0x00ff_00ff_00ff_00ff).wrapping_mul(6_553_601)) >> 16;
    let eights = ((fours & 0x0000_ffff_0000_ffff).wrapping_mul(42_949_672_960_001)) >> 32;
    (eights, count)
}

#[inline]
fn word(bytes: &[u8], at: usize) -> Option<u64> {
    let eight: [u8; 8] = bytes.get(at..at + 8)?.try_into().ok()?;
    Some(u64::from_le_bytes(eight))
}

/// A run of fewer than 16 digits: its value and length.
#[inline]
fn run(bytes: &[u8], at: usize) -> Option<(u64, usize)> {
    let (first, count) = digits_of(word(bytes, at)?);
    if count < 8 {
        return Some((first, count));
    }
    let (second, more) = digits_of(word(bytes, at + 8)?);
    if more == 8 {
        return None;
    }
    Some((first * TENS[more] + second, 8 + more))
}

/// The number at the front of the bytes and where it ends. `None` where there is none that is finite.
#[inline(always)]
#[expect(clippy::inline_always, reason = "it is the inner loop of reading; measured")]
pub(super) fn number(bytes: &[u8], start: usize, decimal: u8) -> Option<(f64, usize)> {
    match exact(bytes, start, decimal) {
        Some(found) => Some(found),
        None => any(bytes, start, decimal),
    }
}

/// The proved way; `None` where it does not apply.
#[inline(always)]
#[expect(clippy::inline_always, reason = "it is the inner loop of reading; measured")]
fn exact(bytes: &[u8], start: usize, decimal: u8) -> Option<(f64, usize)> {
    // Signs come as they like: no branch on them.
    let negative = *bytes.get(start)? == b'-';
    let mut at = start + usize::from(negative);
    let mut byte = *bytes.get(at)?;
    // Digit by digit: there are few, and the processor foresees how many.
    let first = at;
    let mut digits = 0_u64;
    while byte.is_ascii_digit() {
        digits = digits.wrapping_mul(10).wrapping_add(u64::from(byte - b'0'));
        at += 1;
        byte = *bytes.get(at)?;
    }
    let count = at - first;
    let mut places = 0;
    if byte == decimal {
        let (fraction, length) = run(bytes, at + 1)?;
        digits = digits.wrapping_mul(*TENS.get(length)?).wrapping_add(fraction);
        places = length;
        at += 1 + length;
        byte = *bytes.get(at)?;
    }
    // Up to 18 digits nothing ran over.
    if count + places == 0 || count + places > 18 || digits > WHOLE {
        return None;
    }
    let mut value = digits as f64;
    if byte == b'e' || byte == b'E' {
        let (power, end) = exponent(bytes, at + 1)?;
        let power = power - i32::try_from(places).ok()?;
        let scale = *EXACT.get(power.unsigned_abs() as usize)?;
        value = if power < 0 { value / scale } else { value * scale };
        at = end;
    } else {
        value /= EXACT[places];
    }
    Some((f64::from_bits(value.to_bits() | (u64::from(negative) << 63)), at))
}

/// A sign and up to three digits.
#[cold]
fn exponent(bytes: &[u8], start: usize) -> Option<(i32, usize)> {
    let sign = *bytes.get(start)?;
    let mut at = start + usize::from(sign == b'-' || sign == b'+');
    let first = at;
    let mut power = 0_i32;
    while let Some(digit) = bytes.get(at).filter(|byte| byte.is_ascii_digit()) {
        if at - first == 3 {
            return None;
        }
        power = power * 10 + i32::from(*digit - b'0');
        at += 1;
    }
    (at > first).then_some((if sign == b'-' { -power } else { power }, at))
}

/// The standard library's way, for long numbers and odd forms.
#[cold]
fn any(bytes: &[u8], start: usize, decimal: u8) -> Option<(f64, usize)> {
    let rest = bytes.get(start..)?;
    let part =
        |byte: &u8| byte.is_ascii_digit() || matches!(byte, b'+' | b'-' | b'e' | b'E') || *byte == decimal;
    // Longer than any number that is written down.
    let length = rest.iter().take(400).take_while(|byte| part(byte)).count();
    let text = std::str::from_utf8(rest.get(..length)?).ok()?;
    let value: f64 = if decimal == b'.' {
        text.parse().ok()?
    } else {
        text.replacen(char::from(decimal), ".", 1).parse().ok()?
    };
    value.is_finite().then_some((value, start + length))
}

/// A whole cell as a number.
pub(super) fn whole(cell: &[u8], decimal: u8) -> Option<f64> {
    let (value, end) = any(cell, 0, decimal)?;
    (end == cell.len()).then_some(value)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::{ProptestConfig, any, prop_assert, prop_assert_eq, proptest};

    use super::{number, whole};

    fn padded(text: &str) -> Vec<u8> {
        let mut bytes = text.as_bytes().to_vec();
        bytes.extend_from_slice(b",next,row\n");
        bytes
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(4000))]

        #[test]
        fn a_decimal_text_reads_bit_by_bit_as_the_standard_library_reads_it(
            text in "[+-]?([0-9]{1,20}(\\.[0-9]{0,20})?|\\.[0-9]{1,20})([eE][+-]?[0-9]{1,3})?",
            comma: bool,
        ) {
            let meant: f64 = text.parse().expect("a number");
            let (typed, decimal) = if comma { (text.replace('.', ","), b',') } else { (text, b'.') };
            let mut bytes = typed.into_bytes();
            let end = bytes.len();
            bytes.extend_from_slice(b";next;row\n");
            let found = number(&bytes, 0, decimal);
            if meant.is_finite() {
                let (value, stop) = found.expect("it is read");
                prop_assert_eq!(value.to_bits(), meant.to_bits());
                prop_assert_eq!(stop, end);
            } else {
                prop_assert!(found.is_none());
            }
        }

        #[test]
        fn the_nearest_doubles_of_readings_come_back(value in -1e6..1e6_f64, places in 0..9_usize) {
            let text = format!("{value:.places$}");
            let meant: f64 = text.parse().expect("a number");
            let (found, _) = number(&padded(&text), 0, b'.').expect("it is read");
            prop_assert_eq!(found.to_bits(), meant.to_bits());
        }

        #[test]
        fn no_bytes_make_it_panic(bytes in proptest::collection::vec(any::<u8>(), 0..40), start in 0..50_usize) {
            let _ = number(&bytes, start, b'.');
            let _ = whole(&bytes, b',');
        }
    }

    #[test]
    fn what_is_no_number_is_none() {
        for text in ["", "-", ".", "e5", "nan", "inf", "1e999", "--1", "1e", "x1"] {
            assert!(number(&padded(text), 0, b'.').is_none(), "{text}");
        }
    }
}
