//! Dates by the calendar, and how long a coverage lasts.

use jiff::civil::{Date, Time};
use jiff::{Span, Unit};

use super::fields::{Fields, text_of};
use super::problem::{Problem, Problems, SourceFile};
use super::tree::Node;
use std::sync::Arc;

/// How long a coverage lasts, by the calendar: three years after 29 February is 28 February.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Lasts {
    count: i32,
    unit: LastsUnit,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum LastsUnit {
    Days,
    Weeks,
    Months,
    Years,
}

impl Lasts {
    /// Reads `30 days`, `6 weeks`, `18 months`, `3 years`.
    pub fn parse(text: &str) -> Option<Self> {
        let (number, word) = text.trim().split_once(char::is_whitespace)?;
        let count: i32 = number.parse().ok().filter(|n| (1..=20_000).contains(n))?;
        let unit = match word.trim() {
            "day" | "days" => LastsUnit::Days,
            "week" | "weeks" => LastsUnit::Weeks,
            "month" | "months" => LastsUnit::Months,
            "year" | "years" => LastsUnit::Years,
            _ => return None,
        };
        Some(Self { count, unit })
    }

    /// The last day that it covers, when it began on `start`.
    pub fn ends(self, start: Date) -> Option<Date> {
        let count = i64::from(self.count);
        let span = match self.unit {
            LastsUnit::Days => Span::new().try_days(count),
            LastsUnit::Weeks => Span::new().try_weeks(count),
            LastsUnit::Months => Span::new().try_months(count),
            LastsUnit::Years => Span::new().try_years(count),
        };
        start.checked_add(span.ok()?).ok()
    }
}

impl std::fmt::Display for Lasts {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let word = match self.unit {
            LastsUnit::Days => "day",
            LastsUnit::Weeks => "week",
            LastsUnit::Months => "month",
            LastsUnit::Years => "year",
        };
        let plural = if self.count == 1 { "" } else { "s" };
        write!(f, "{} {word}{plural}", self.count)
    }
}

/// Whole days from one date to another; negative where the second is earlier.
pub fn days_between(from: Date, to: Date) -> i64 {
    from.until((Unit::Day, to)).map_or(0, |span| i64::from(span.get_days()))
}

/// A date as a report writes it: 2 March 2026.
pub fn written_out(date: Date) -> String {
    const MONTHS: [&str; 12] = [
        "January",
        "February",
        "March",
        "April",
        "May",
        "June",
        "July",
        "August",
        "September",
        "October",
        "November",
        "December",
    ];
    let month = usize::try_from(date.month() - 1).ok().and_then(|index| MONTHS.get(index)).unwrap_or(&"");
    format!("{} {month} {}", date.day(), date.year())
}

fn shape(text: &str) -> Option<(i16, i8, i8)> {
    let mut parts = text.split('-');
    let (year, month, day) = (parts.next()?, parts.next()?, parts.next()?);
    let digits = |part: &str, length: usize| part.len() == length && part.chars().all(|c| c.is_ascii_digit());
    if parts.next().is_some() || !digits(year, 4) || !digits(month, 2) || !digits(day, 2) {
        return None;
    }
    Some((year.parse().ok()?, month.parse().ok()?, day.parse().ok()?))
}

/// A node as a date, `2026-03-02` (RFC 3339 full-date).
pub(super) fn date_of(node: &Node, source: &Arc<SourceFile>, problems: &mut Problems) -> Option<Date> {
    let text = text_of(node, source, "a date", problems)?;
    let place = super::fields::place(source, node);
    let Some((year, month, day)) = shape(text.trim()) else {
        problems.push(
            Problem::error(format!("'{text}' is not a date"), place)
                .expected("expected year-month-day")
                .help("write it as 2026-03-02"),
        );
        return None;
    };
    if let Ok(date) = Date::new(year, month, day) {
        return Some(date);
    }
    let help = match Date::new(year, month, 1) {
        Ok(first) => format!("that month has {} days", first.days_in_month()),
        Err(_) => "months run from 01 to 12".to_owned(),
    };
    problems.push(
        Problem::error(format!("the date {text} does not exist"), place)
            .expected("not in the calendar")
            .help(help),
    );
    None
}

/// A node as a time of day, `14:30`.
pub(super) fn time_of(node: &Node, source: &Arc<SourceFile>, problems: &mut Problems) -> Option<Time> {
    let text = text_of(node, source, "a time of day", problems)?;
    let parts: Vec<&str> = text.trim().split(':').collect();
    let digits = |part: &str| part.chars().all(|c| c.is_ascii_digit());
    let read = match parts.as_slice() {
        [hour, minute] if hour.len() <= 2 && minute.len() == 2 && digits(hour) && digits(minute) => hour
            .parse()
            .ok()
            .zip(minute.parse().ok())
            .and_then(|(hour, minute)| Time::new(hour, minute, 0, 0).ok()),
        _ => None,
    };
    if read.is_none() {
        problems.push(
            Problem::error(format!("'{text}' is not a time of day"), super::fields::place(source, node))
                .expected("expected hours and minutes")
                .help("write it in quotes, on the 24-hour clock: \"14:30\""),
        );
    }
    read
}

impl Fields {
    /// A date field.
    pub fn date(&mut self, name: &'static str, problems: &mut Problems) -> Option<Date> {
        let node = self.get(name)?;
        date_of(&node, self.source(), problems)
    }
}
