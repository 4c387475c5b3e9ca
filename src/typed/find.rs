//! Numbers with a unit in a line of prose, in figures or in words.

use std::ops::Range;

use super::words::{self, Token};
use crate::quantity::Unit;

/// How near a number claims to be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Claim {
    /// As the digits say.
    Digits,
    /// "about", "nearly": twice as wide.
    About,
    /// "more than", "over": it is a little larger.
    MoreThan,
    /// "less than", "under": it is a little smaller.
    LessThan,
}

/// A number with a unit, as it stands in a line.
#[derive(Clone, Debug, PartialEq)]
pub struct Typed {
    /// Bytes of the line, the unit among them.
    pub range: Range<usize>,
    /// The smallest value meant; the only one unless a range was typed.
    pub low: f64,
    /// The largest.
    pub high: f64,
    /// Half a step of the last digit typed.
    pub half_step: f64,
    /// Every unit that the word can mean.
    pub units: Vec<Unit>,
    /// How near it claims to be.
    pub claim: Claim,
    /// The digits, where it was typed in figures and stands alone: for reading it aloud.
    pub digits: Option<String>,
    /// Bytes of the line that the number takes, without its unit.
    pub number: Range<usize>,
}

/// A number at a place: value, half a step of its last digit, and the byte after it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Number {
    pub(super) value: f64,
    pub(super) half_step: f64,
    pub(super) end: usize,
    pub(super) figures: bool,
}

/// Every number with a unit in a line, in order.
pub fn numbers(line: &str) -> Vec<Typed> {
    let tokens = words::tokens(line);
    let mut found: Vec<Typed> = Vec::new();
    let mut index = 0;
    while index < tokens.len() {
        match at(line, &tokens, index) {
            Some(typed) => {
                let end = typed.range.end;
                found.push(typed);
                while tokens.get(index).is_some_and(|token| token.range.start < end) {
                    index += 1;
                }
            }
            None => index += 1,
        }
    }
    found
}

fn at(line: &str, tokens: &[Token], index: usize) -> Option<Typed> {
    let token = tokens.get(index)?;
    let start = token.range.start;
    let first = number_at(line, tokens, index)?;
    if let Some((units, end)) = unit_after(line, first) {
        let digits = first.figures.then(|| line[start..first.end].to_owned());
        return Some(Typed {
            range: start..end,
            low: first.value,
            high: first.value,
            half_step: first.half_step,
            units,
            claim: claim_before(tokens, index),
            digits,
            number: start..first.end,
        });
    }
    // "five or six decibels", "2 to 3 thou", "2–3 thou".
    let next = tokens.iter().position(|token| token.range.start >= first.end)?;
    let joined = matches!(tokens.get(next)?.lower.as_str(), "or" | "to" | "–");
    let second = number_at(line, tokens, next + 1).filter(|second| joined && second.value > first.value)?;
    let (units, end) = unit_after(line, second)?;
    Some(Typed {
        range: start..end,
        low: first.value,
        high: second.value,
        half_step: second.half_step,
        units,
        claim: claim_before(tokens, index),
        digits: None,
        number: start..second.end,
    })
}

fn number_at(line: &str, tokens: &[Token], index: usize) -> Option<Number> {
    words::figures(line, tokens, index).or_else(|| words::in_words(line, tokens, index))
}

/// What stands before a number and says how near it is.
fn claim_before(tokens: &[Token], index: usize) -> Claim {
    let before =
        |back: usize| index.checked_sub(back).and_then(|at| tokens.get(at)).map_or("", |t| t.lower.as_str());
    match (before(2), before(1)) {
        (_, "about" | "around" | "roughly" | "some" | "nearly" | "almost" | "~" | "≈") | ("close", "to") => {
            Claim::About
        }
        ("more" | "better" | "larger" | "higher" | "longer", "than") | (_, "over" | "above") => {
            Claim::MoreThan
        }
        ("less" | "smaller" | "lower" | "shorter", "than") | (_, "under" | "below") => Claim::LessThan,
        _ => Claim::Digits,
    }
}

/// Words for units that the session format does not spell, longest first where one begins another.
const SPOKEN: &[(&str, &str)] = &[
    ("thousandths of a millimetre", "µm"),
    ("thousandth of a millimetre", "µm"),
    ("thousandths of an inch", "thou"),
    ("thousandth of an inch", "thou"),
    ("degrees fahrenheit", "°F"),
    ("degree fahrenheit", "°F"),
    ("degrees celsius", "°C"),
    ("degree celsius", "°C"),
    ("degrees f", "°F"),
    ("degrees c", "°C"),
    ("revolutions per minute", "rpm"),
    ("revolutions a minute", "rpm"),
    ("decibels", "dB"),
    ("decibel", "dB"),
    ("kilohertz", "kHz"),
    ("kilograms", "kg"),
    ("kilogram", "kg"),
    ("pounds", "lb"),
    ("kilowatts", "kW"),
    ("horsepower", "hp"),
    ("centimetres", "cm"),
    ("centimeters", "cm"),
    ("kelvins", "K"),
    ("amperes", "A"),
];

/// Parts of a unit: "four tenths of a millimetre".
const PARTS: &[(&str, f64)] = &[
    ("tenths of a ", 0.1),
    ("tenths of an ", 0.1),
    ("tenth of a ", 0.1),
    ("tenth of an ", 0.1),
    ("hundredths of a ", 0.01),
    ("hundredths of an ", 0.01),
    ("hundredth of a ", 0.01),
    ("quarters of a ", 0.25),
    ("quarters of an ", 0.25),
];

/// The unit that follows a number, with the byte after it.
fn unit_after(line: &str, number: Number) -> Option<(Vec<Unit>, usize)> {
    let rest = line.get(number.end..)?;
    let gap = rest.chars().next().filter(|c| matches!(c, ' ' | '\u{a0}' | '\u{202f}' | '-' | '\u{2011}'));
    let start = number.end + gap.map_or(0, char::len_utf8);
    let rest = line.get(start..)?;
    let joined = matches!(gap, Some('-' | '\u{2011}'));
    let lower = rest.to_lowercase();
    // Lower case may have another length: the words below are all ASCII, so the prefix has not.
    let ends =
        |word: &str| !rest.get(word.len()..).is_some_and(|after| after.starts_with(char::is_alphanumeric));
    if let Some((word, symbol)) = SPOKEN.iter().find(|(word, _)| lower.starts_with(word) && ends(word)) {
        let units: Vec<Unit> = Unit::all().filter(|unit| unit.symbol() == *symbol).collect();
        return Some((units, start + word.len()));
    }
    let mut best: Option<(&str, Vec<Unit>)> = None;
    for (spelling, unit) in Unit::spellings() {
        let fits =
            !spelling.is_empty() && spelled_so(rest, spelling) && whole(rest, spelling, number, gap, joined);
        match &mut best {
            _ if !fits => {}
            Some((known, units)) if known.len() == spelling.len() => units.push(unit),
            Some((known, _)) if known.len() > spelling.len() => {}
            _ => best = Some((spelling, vec![unit])),
        }
    }
    let (spelling, mut units) = best?;
    let mut end = start + spelling.len();
    // "degrees" alone is an angle or a temperature.
    if matches!(spelling, "degree" | "degrees") {
        units.extend(Unit::all().filter(|unit| matches!(unit.symbol(), "°F" | "°C")));
    }
    if matches!(spelling, "thousandths" | "thousandth" | "thou")
        && lower.get(spelling.len()..).is_some_and(|after| after.starts_with(" of an inch"))
    {
        end += " of an inch".len();
    }
    Some((units, end))
}

fn spelled_so(rest: &str, spelling: &str) -> bool {
    let long = spelling.chars().count() >= 3 && spelling.chars().all(|c| c.is_ascii_lowercase());
    match rest.get(..spelling.len()) {
        Some(head) if long => head.eq_ignore_ascii_case(spelling),
        Some(head) => head == spelling,
        None => false,
    }
}

/// Whether a spelling that begins `rest` is a unit there and not a word or a part of one.
fn whole(rest: &str, spelling: &str, number: Number, gap: Option<char>, joined: bool) -> bool {
    let after = &rest[spelling.len()..];
    let next = after.chars().next();
    let letters = spelling.ends_with(char::is_alphabetic);
    if next.is_some_and(|c| (letters && c.is_alphanumeric()) || matches!(c, '²' | '³' | '^')) {
        return false;
    }
    // `mm/s` is not `mm`, and `A-weighted` not an ampere.
    if let Some('/' | '·' | '-') = next
        && after.chars().nth(1).is_some_and(char::is_alphabetic)
    {
        return false;
    }
    let short = spelling.chars().count() <= 2 && spelling.chars().all(char::is_alphabetic);
    if !short {
        return true;
    }
    // Two letters after words or a hyphen are hardly a unit; "the 1990s" are no seconds.
    if !number.figures || joined || (spelling == "s" && gap.is_none()) {
        return false;
    }
    spelling != "in" || inch(after)
}

/// Whether "in" after a number is an inch: before a stop, a mark, or a word that a length goes with. "2 in the
/// shop" is no length.
fn inch(after: &str) -> bool {
    let mut words = after.trim_start().split(|c: char| !c.is_alphanumeric());
    let next = words.next().unwrap_or_default();
    let stops = after.chars().next().is_none_or(|c| !c.is_whitespace());
    stops
        || after.trim().is_empty()
        || matches!(
            next,
            "" | "by"
                | "long"
                | "deep"
                | "wide"
                | "thick"
                | "high"
                | "away"
                | "out"
                | "off"
                | "of"
                | "and"
                | "or"
                | "at"
                | "for"
                | "over"
                | "each"
                | "apart"
                | "from"
                | "to"
                | "across"
                | "per"
                | "±"
                | "when"
                | "where"
                | "as"
                | "is"
                | "was"
        )
}

/// A part of a unit after a number: its share and the byte at which the unit begins.
pub(super) fn part_after(line: &str, end: usize) -> Option<(f64, usize)> {
    let rest = line.get(end..)?;
    let (gap, rest) = match rest.strip_prefix(' ') {
        Some(rest) => (1, rest),
        None => (0, rest),
    };
    let (word, share) = PARTS.iter().find(|(word, _)| rest.starts_with(word))?;
    // What follows must be a unit of its own: "tenths of a second", not "tenths of a point".
    Some((*share, end + gap + word.len() - 1))
}
