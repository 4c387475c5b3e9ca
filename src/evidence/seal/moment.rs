//! A moment as a clock on a wall has it, with its distance from UTC.

use std::fmt;

use crate::session::{Date, written_out};

/// A date-time of RFC 3339, section 5.6, kept as it was written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Moment {
    text: String,
    date: Date,
}

impl Moment {
    /// Reads `2026-03-02T16:20:05-05:00`. Letters are capitals, and the distance from UTC is there.
    pub fn parse(text: &str) -> Option<Self> {
        let bytes = text.as_bytes();
        let number = |from: usize, length: usize| -> Option<i16> {
            let digits = bytes.get(from..from + length)?;
            if !digits.iter().all(u8::is_ascii_digit) {
                return None;
            }
            std::str::from_utf8(digits).ok()?.parse().ok()
        };
        let is = |at: usize, wanted: u8| bytes.get(at) == Some(&wanted);
        if !(is(4, b'-') && is(7, b'-') && is(10, b'T') && is(13, b':') && is(16, b':')) {
            return None;
        }
        let date = Date::new(number(0, 4)?, number(5, 2)?.try_into().ok()?, number(8, 2)?.try_into().ok()?);
        // A minute may have a 61st second.
        let within = number(11, 2)? < 24 && number(14, 2)? < 60 && number(17, 2)? <= 60;
        let mut end = 19;
        if is(end, b'.') {
            let digits = bytes[end + 1..].iter().take_while(|byte| byte.is_ascii_digit()).count();
            if digits == 0 {
                return None;
            }
            end += 1 + digits;
        }
        let zone = match bytes.get(end)? {
            b'Z' => bytes.len() == end + 1,
            b'+' | b'-' => {
                let within = number(end + 1, 2)? < 24 && number(end + 4, 2)? < 60;
                within && is(end + 3, b':') && bytes.len() == end + 6
            }
            _ => false,
        };
        (within && zone).then_some(Self { text: text.to_owned(), date: date.ok()? })
    }

    /// As it was written.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// The day on that clock.
    pub fn date(&self) -> Date {
        self.date
    }
}

/// "2 March 2026, 16:20:05 (UTC−05:00)".
impl fmt::Display for Moment {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let time = &self.text[11..];
        let (time, zone) = time.split_at(time.find(['Z', '+', '-']).unwrap_or(time.len()));
        let zone = zone.replace('-', "\u{2212}").replace('Z', "");
        write!(f, "{}, {time} (UTC{zone})", written_out(self.date))
    }
}
