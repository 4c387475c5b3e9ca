//! A placeholder's value in the form that was asked for: figures as the report prints them, or words to be spoken.

use crate::findings::{BoundOn, Change, Finding, LimitOn, sentences};
use crate::quantity::spoken::{self, Aloud};
use crate::quantity::{Kind, Unit, decimals_for, fixed, round_with_uncertainty, significant, with_unit};
use crate::session::{Condition, ConditionValue, Date, written_out};

/// A form.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(clippy::struct_excessive_bools, reason = "each is asked for by a word of its own")]
pub(super) struct Form {
    /// In words, not in figures.
    pub(super) words: bool,
    /// Rounded for speech.
    pub(super) about: bool,
    /// With the uncertainty.
    pub(super) spread: bool,
    /// With the short name of the unit.
    pub(super) short: bool,
    /// Without a change's direction.
    pub(super) size: bool,
}

/// A number that was found.
#[derive(Clone, Debug)]
pub(super) struct Number {
    value: f64,
    uncertainty: Option<f64>,
    unit: Unit,
    difference: bool,
    limits: Vec<f64>,
}

/// What a placeholder stands for.
#[derive(Clone, Debug)]
pub(super) enum Value {
    Number(Number),
    Bound(BoundOn, Unit),
    Change(Change),
    /// A whole number of per cent, as printed.
    Percent(String),
    Limit(LimitOn, Unit),
    Spread {
        uncertainty: f64,
        unit: Unit,
        difference: bool,
    },
    Count(usize),
    Days(i64),
    Day(Date),
    Quantity(f64, Unit, String),
    /// A user's own words, or the program's.
    Words(String),
    Nothing,
}

/// A finding's value.
pub(super) fn number_of(finding: &Finding) -> Value {
    match (finding.value, finding.bound) {
        (Some(value), _) => Value::Number(Number {
            value,
            uncertainty: finding.expanded().map(|expanded| expanded.expanded),
            unit: finding.unit,
            difference: finding.difference,
            limits: finding
                .limit
                .iter()
                .flat_map(|limit| limit.at_least.into_iter().chain(limit.at_most))
                .collect(),
        }),
        (None, Some(bound)) => Value::Bound(bound, finding.unit),
        (None, None) => Value::Nothing,
    }
}

/// What it was before a change, or after it.
pub(super) fn number_of_change(change: &Change, before: bool, difference: bool) -> Value {
    let (value, uncertainty) =
        if before { (change.before, change.before_expanded) } else { (change.after, change.after_expanded) };
    Value::Number(Number { value, uncertainty, unit: change.unit, difference, limits: Vec::new() })
}

impl Number {
    fn aloud(&self, brief: bool) -> Aloud<'_> {
        Aloud {
            value: self.value,
            uncertainty: self.uncertainty,
            unit: self.unit,
            difference: self.difference,
            brief,
            limits: &self.limits,
        }
    }

    fn figure(&self, spread: bool) -> String {
        match self.uncertainty {
            None => with_unit(&significant(self.value, 4), self.unit),
            Some(uncertainty) => {
                let rounded = round_with_uncertainty(self.value, uncertainty);
                let number = if spread {
                    format!("{} ± {}", rounded.value, rounded.uncertainty)
                } else {
                    rounded.value
                };
                with_unit(&number, self.unit)
            }
        }
    }

    fn words(&self, form: Form) -> String {
        let aloud = self.aloud(form.short);
        let number = if form.about { aloud.about() } else { aloud.words() };
        let spread = if form.spread { aloud.give_or_take() } else { String::new() };
        if spread.is_empty() { number } else { format!("{number}, {spread}") }
    }
}

/// A change's size with half the width of its interval; differences of every kind.
fn size(change: &Change, value: f64) -> Number {
    let half = (change.high - change.low) / 2.0;
    Number {
        value,
        uncertainty: Some(half).filter(|half| *half > 0.0),
        unit: change.unit,
        difference: true,
        limits: Vec::new(),
    }
}

/// "higher by" or "lower by"; nothing of a change of nothing.
fn directed(change: &Change, number: &str) -> String {
    match change.change.partial_cmp(&0.0) {
        Some(std::cmp::Ordering::Greater) => format!("higher by {number}"),
        Some(std::cmp::Ordering::Less) => format!("lower by {number}"),
        _ => "the same".to_owned(),
    }
}

impl Value {
    /// The value of a condition that was written down.
    pub(super) fn condition(condition: &Condition) -> Self {
        match &condition.value {
            ConditionValue::Quantity(quantity) => {
                Self::Quantity(quantity.value(), quantity.unit(), condition.text.clone())
            }
            _ => Self::Words(condition.text.clone()),
        }
    }

    /// What takes the placeholder's place.
    pub(super) fn shown(&self, form: Form) -> String {
        if form.words {
            return self.spoken(form);
        }
        match self {
            Self::Number(number) => number.figure(form.spread),
            Self::Change(change) if form.size => size(change, change.change.abs()).figure(form.spread),
            Self::Change(change) if form.spread => sentences::of_change(change),
            Self::Change(change) => {
                let decimals = decimals_for((change.high - change.low) / 2.0);
                let text = fixed(change.change, decimals);
                let plus = if change.change > 0.0 { "+" } else { "" };
                with_unit(&format!("{plus}{text}"), change.unit)
            }
            Self::Percent(digits) if form.size => format!("{} %", digits.trim_start_matches('\u{2212}')),
            Self::Percent(digits) => format!("{digits} %"),
            Self::Words(text) => escaped(text),
            Self::Quantity(.., typed) => escaped(typed),
            other => other.figure(),
        }
    }

    /// As the report prints it; empty where it is no number.
    pub(super) fn figure(&self) -> String {
        match self {
            Self::Number(number) => number.figure(true),
            Self::Bound(bound, unit) => sentences::bound_words(*bound, *unit),
            Self::Change(change) => sentences::of_change(change),
            Self::Percent(digits) => format!("{digits} %"),
            Self::Limit(limit, unit) => {
                let bound = sentences::limit_bound(limit, *unit);
                bound.strip_prefix("at most ").unwrap_or(&bound).to_owned()
            }
            Self::Spread { uncertainty, unit, .. } => {
                with_unit(&fixed(*uncertainty, decimals_for(*uncertainty)), *unit)
            }
            Self::Count(number) => number.to_string(),
            Self::Days(number) if number.abs() == 1 => format!("{number} day"),
            Self::Days(number) => format!("{number} days").replace('-', "\u{2212}"),
            Self::Day(day) => written_out(*day),
            Self::Quantity(.., typed) => typed.clone(),
            Self::Nothing => "no value".to_owned(),
            Self::Words(_) => String::new(),
        }
    }

    /// As it is read aloud.
    pub(super) fn spoken(&self, form: Form) -> String {
        match self {
            Self::Number(number) => number.words(form),
            Self::Change(change) => {
                let number = size(change, change.change.abs()).words(form);
                if form.size { number } else { directed(change, &number) }
            }
            Self::Percent(digits) => {
                let number = spoken::decimal(digits.trim_start_matches('\u{2212}'));
                match digits.starts_with('\u{2212}') {
                    _ if form.size => format!("{number} per cent"),
                    true => format!("{number} per cent lower"),
                    false if number == "zero" => "the same to one per cent".to_owned(),
                    false => format!("{number} per cent higher"),
                }
            }
            Self::Bound(bound, unit) => match bound {
                BoundOn::AtMost(value) => {
                    format!("at most {}", spoken::exactly(*value, 3, *unit, form.short))
                }
                BoundOn::AtLeast(value) => {
                    format!("at least {}", spoken::exactly(*value, 3, *unit, form.short))
                }
            },
            Self::Limit(limit, unit) => limit_aloud(limit, *unit, form.short),
            Self::Spread { uncertainty, unit, difference } => {
                let digits = fixed(*uncertainty, decimals_for(*uncertainty));
                let value = digits.parse().unwrap_or(*uncertainty);
                let brief = *difference && unit.kind() == Kind::Level;
                let unit = Unit::known(Kind::Level, "dB").filter(|_| brief).unwrap_or(*unit);
                spoken::exactly(value, 6, unit, form.short)
            }
            Self::Count(number) => spoken::cardinal(u64::try_from(*number).unwrap_or(u64::MAX)),
            Self::Days(number) => {
                let count = spoken::cardinal(number.unsigned_abs());
                let minus = if *number < 0 { "minus " } else { "" };
                format!("{minus}{count} {}", if number.abs() == 1 { "day" } else { "days" })
            }
            Self::Day(day) => day_aloud(*day),
            Self::Quantity(value, unit, _) => spoken::exactly(*value, 6, *unit, form.short),
            Self::Words(text) => escaped(text),
            Self::Nothing => "no value".to_owned(),
        }
    }
}

fn limit_aloud(limit: &LimitOn, unit: Unit, brief: bool) -> String {
    let number = |value: f64| spoken::exactly(value, limit.digits(), unit, brief);
    match (limit.at_least, limit.at_most) {
        (Some(low), Some(high)) => {
            format!("from {} to {}", spoken::decimal(&significant(low, limit.digits())), number(high))
        }
        (Some(low), None) => format!("at least {}", number(low)),
        (None, Some(high)) => number(high),
        (None, None) => "none".to_owned(),
    }
}

/// A day: "the second of March twenty twenty-six".
fn day_aloud(day: Date) -> String {
    let written = written_out(day);
    let month = written.split(' ').nth(1).unwrap_or_default();
    let (number, of_year) = (u64::try_from(day.day()).unwrap_or(0), u64::try_from(day.year()).unwrap_or(0));
    format!("the {} of {month} {}", spoken::ordinal(number), spoken::year(of_year))
}

/// A user's words where `CommonMark` stands: its marks are taken for letters.
fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        if matches!(c, '\\' | '`' | '*' | '_' | '[' | ']' | '<' | '>' | '&' | '#' | '|' | '~' | '{' | '}') {
            out.push('\\');
        }
        out.push(if c.is_control() { ' ' } else { c });
    }
    out
}
