//! The times of a recording: elapsed numbers, clock forms, times of day, ISO 8601.

use jiff::civil::Date;

use super::number;

/// How a file writes its times.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Format {
    /// A number of a unit that is so many seconds.
    Number(f64),
    /// Minutes and seconds, or hours too, since the beginning.
    Elapsed,
    /// Times of day, which may run over midnight.
    OfDay,
    /// Date and time of ISO 8601, with an offset from UTC in all of them or in none.
    Date { zoned: bool },
}

/// A time as whole seconds and a share of one, so that dates keep their fractions.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Moment {
    pub(super) whole: i64,
    pub(super) part: f64,
}

impl Moment {
    /// Seconds from another moment to this one.
    pub(super) fn since(self, other: Self) -> f64 {
        (self.whole - other.whole) as f64 + (self.part - other.part)
    }
}

impl Format {
    /// A cell as a moment.
    pub(super) fn moment(self, cell: &[u8], decimal: u8) -> Option<Moment> {
        let text = || std::str::from_utf8(cell).ok();
        match self {
            Self::Number(scale) => {
                let value = number::whole(cell, decimal)? * scale;
                value.is_finite().then_some(Moment { whole: 0, part: value })
            }
            Self::Elapsed => clock(text()?, false),
            Self::OfDay => clock(text()?, true),
            Self::Date { zoned } => {
                let (moment, has_zone) = date_and_time(text()?)?;
                (has_zone == zoned).then_some(moment)
            }
        }
    }
}

/// Whether a text is a clock form or a date with a time.
pub(super) fn looks_like_one(text: &str) -> bool {
    text.len() <= 40
        && (date_and_time(text).is_some() || clock(text, true).is_some() || clock(text, false).is_some())
}

/// A date with a time, and whether an offset from UTC stands behind it.
pub(super) fn date_and_time(text: &str) -> Option<(Moment, bool)> {
    let (date, rest) = date(text)?;
    let days = date.duration_since(Date::constant(1970, 1, 1)).as_secs();
    if rest.is_empty() {
        return Some((Moment { whole: days, part: 0.0 }, false));
    }
    let rest = rest.strip_prefix(['T', 't', ' '])?.trim_start();
    let (time, offset) = zone(rest)?;
    let of_day = clock(time, true)?;
    let whole = days + of_day.whole - offset.unwrap_or(0);
    Some((Moment { whole, part: of_day.part }, offset.is_some()))
}

/// Year, month, day, with `-` or `/` between them, and what follows.
fn date(text: &str) -> Option<(Date, &str)> {
    let bytes = text.as_bytes();
    let mark = *bytes.get(4)?;
    if !matches!(mark, b'-' | b'/') || bytes.get(7) != Some(&mark) {
        return None;
    }
    let number = |from: usize, to: usize| -> Option<i16> {
        let digits = text.get(from..to)?;
        digits.bytes().all(|byte| byte.is_ascii_digit()).then(|| digits.parse().ok())?
    };
    let month = i8::try_from(number(5, 7)?).ok()?;
    let day = i8::try_from(number(8, 10)?).ok()?;
    Some((Date::new(number(0, 4)?, month, day).ok()?, text.get(10..)?))
}

/// A time and the offset from UTC behind it, seconds.
fn zone(text: &str) -> Option<(&str, Option<i64>)> {
    if let Some(time) = text.strip_suffix(['Z', 'z']) {
        return Some((time.trim_end(), Some(0)));
    }
    let Some(at) = text.rfind(['+', '-']) else {
        return Some((text, None));
    };
    let (time, offset) = text.split_at(at);
    let (sign, digits) = offset.split_at(1);
    let digits = digits.replace(':', "");
    if !(digits.len() == 2 || digits.len() == 4) || !digits.bytes().all(|byte| byte.is_ascii_digit()) {
        return None;
    }
    let hours: i64 = digits.get(..2)?.parse().ok()?;
    let minutes: i64 =
        digits.get(2..).filter(|text| !text.is_empty()).map_or(Some(0), |text| text.parse().ok())?;
    if hours > 23 || minutes > 59 {
        return None;
    }
    let seconds = hours * 3600 + minutes * 60;
    Some((time.trim_end(), Some(if sign == "-" { -seconds } else { seconds })))
}

/// `14:30`, `1:02:30.5`. Of two parts the first is the hour of a time of day, else minutes.
fn clock(text: &str, of_day: bool) -> Option<Moment> {
    let (text, noon) = afternoon(text)?;
    if noon.is_some() && !of_day {
        return None;
    }
    let mut parts = [0_i64; 3];
    let mut count = 0;
    let mut part = 0.0;
    let mut rest = text;
    loop {
        let digits = rest.bytes().take_while(u8::is_ascii_digit).count();
        if digits == 0 || digits > 9 || count == 3 {
            return None;
        }
        parts[count] = rest[..digits].parse().ok()?;
        if count > 0 && (digits != 2 || parts[count] > 60) {
            return None;
        }
        count += 1;
        rest = &rest[digits..];
        match rest.as_bytes().first() {
            None => break,
            Some(b':') => rest = &rest[1..],
            Some(b'.' | b',') if count > 1 => {
                let digits = &rest[1..];
                if digits.is_empty() || digits.len() > 18 || !digits.bytes().all(|byte| byte.is_ascii_digit())
                {
                    return None;
                }
                part = format!("0.{digits}").parse().ok()?;
                break;
            }
            Some(_) => return None,
        }
    }
    let (mut hours, minutes, seconds) = match (count, of_day) {
        (3, _) => (parts[0], parts[1], parts[2]),
        (2, true) if part == 0.0 => (parts[0], parts[1], 0),
        (2, false) => (0, parts[0], parts[1]),
        _ => return None,
    };
    // 60 is a leap second, or a mistake that the next one shows.
    let minutes_fit = if count == 3 || of_day { minutes < 60 } else { true };
    if !minutes_fit || (of_day && hours > 24) {
        return None;
    }
    if let Some(is_afternoon) = noon {
        if !(1..=12).contains(&hours) {
            return None;
        }
        hours = hours % 12 + if is_afternoon { 12 } else { 0 };
    }
    Some(Moment { whole: hours * 3600 + minutes * 60 + seconds, part })
}

/// A time without AM or PM, and which of them stood behind it.
fn afternoon(text: &str) -> Option<(&str, Option<bool>)> {
    let bytes = text.as_bytes();
    let [.., half, b'M' | b'm'] = bytes else {
        return Some((text, None));
    };
    let afternoon = match half {
        b'A' | b'a' => false,
        b'P' | b'p' => true,
        _ => return None,
    };
    Some((text.get(..text.len() - 2)?.trim_end(), Some(afternoon)))
}

#[cfg(test)]
mod tests {
    #![expect(clippy::float_cmp, reason = "the numbers come back as they were written")]

    use super::*;

    fn seconds(text: &str) -> f64 {
        let (moment, _) = date_and_time(text).expect(text);
        moment.whole as f64 + moment.part
    }

    #[test]
    fn dates_count_from_1970_and_offsets_are_taken_off() {
        // RFC 3339, section 5.8: its three examples name one instant each; POSIX seconds by GNU date 9.1.
        assert_eq!(seconds("1985-04-12T23:20:50.52Z"), 482_196_050.52);
        assert_eq!(seconds("1996-12-19T16:39:57-08:00"), 851_042_397.0);
        assert_eq!(seconds("1996-12-20T00:39:57Z"), 851_042_397.0);
        assert_eq!(seconds("2026-03-02 14:30"), seconds("2026/03/02 14:30:00"));
        assert_eq!(seconds("2026-03-02T14:30:00,25+0100"), seconds("2026-03-02T13:30:00.25Z"));
    }

    #[test]
    fn clock_forms_are_minutes_and_seconds_and_times_of_day_hours_and_minutes() {
        let read = |format: Format, text: &str| {
            format.moment(text.as_bytes(), b'.').map(|m| m.whole as f64 + m.part)
        };
        assert_eq!(read(Format::Elapsed, "0:12.5"), Some(12.5));
        assert_eq!(read(Format::Elapsed, "75:00"), Some(4500.0));
        assert_eq!(read(Format::Elapsed, "1:02:30"), Some(3750.0));
        assert_eq!(read(Format::OfDay, "14:30"), Some(52_200.0));
        assert_eq!(read(Format::OfDay, "2:30:01 PM"), Some(52_201.0));
        assert_eq!(read(Format::OfDay, "12:00:01 AM"), Some(1.0));
        for wrong in ["14", "14:3", "14:61", "25:00:00", "14:30:", "-1:00", "13:00 PM", "1:2:3", "14:30:00."]
        {
            assert_eq!(read(Format::OfDay, wrong), None, "{wrong}");
        }
    }

    #[test]
    fn what_the_calendar_does_not_have_is_no_time() {
        for wrong in
            ["2026-02-29 10:00", "02/03/2026 10:00", "2026-03-02x", "2026-03-02T14:30+99", "2026-13-01"]
        {
            assert!(date_and_time(wrong).is_none(), "{wrong}");
        }
    }
}
