//! Numbers in figures and in words, token by token.

use std::ops::Range;

use super::find::{Number, part_after};
use crate::quantity::spoken::{SMALL, TENS};

/// A word, a number or a mark of a line.
#[derive(Clone, Debug)]
pub(super) struct Token {
    pub(super) range: Range<usize>,
    pub(super) lower: String,
}

/// The words and marks of a line: letters and digits together, every other sign alone.
pub(super) fn tokens(line: &str) -> Vec<Token> {
    let mut tokens: Vec<Token> = Vec::new();
    let mut open: Option<usize> = None;
    let close = |open: &mut Option<usize>, end: usize, tokens: &mut Vec<Token>| {
        if let Some(start) = open.take() {
            tokens.push(Token { range: start..end, lower: line[start..end].to_lowercase() });
        }
    };
    let mut previous = ' ';
    for (at, c) in line.char_indices() {
        let next = line[at + c.len_utf8()..].chars().next().unwrap_or(' ');
        // A point or a comma between digits is part of the number.
        let inside = matches!(c, '.' | ',') && previous.is_ascii_digit() && next.is_ascii_digit();
        let point = c == '.' && !previous.is_alphanumeric() && next.is_ascii_digit();
        if c.is_alphanumeric() || inside || point {
            open.get_or_insert(at);
        } else {
            close(&mut open, at, &mut tokens);
            if !c.is_whitespace() {
                tokens.push(Token { range: at..at + c.len_utf8(), lower: c.to_string() });
            }
        }
        previous = c;
    }
    close(&mut open, line.len(), &mut tokens);
    tokens
}

/// Signs after which a number is no measure: money, a number in a row, part of a name or a path.
const NOT_BEFORE: &[&str] = &["$", "€", "£", "#", "/", "_", "§", "@", "="];

/// A number in figures that begins with a token.
pub(super) fn figures(line: &str, tokens: &[Token], index: usize) -> Option<Number> {
    let token = tokens.get(index)?;
    let text = &line[token.range.clone()];
    let digits = text.chars().take_while(|c| c.is_ascii_digit() || matches!(c, '.' | ',')).count();
    let number = &text[..digits];
    if !number.starts_with(|c: char| c.is_ascii_digit() || c == '.') {
        return None;
    }
    let before = line[..token.range.start].chars().next_back();
    if let Some(before) = index.checked_sub(1).and_then(|at| tokens.get(at)) {
        let touching = before.range.end == token.range.start;
        if touching && NOT_BEFORE.contains(&before.lower.as_str()) {
            return None;
        }
        // `J-200` and `CS10-04417` are names.
        let joined = touching && matches!(before.lower.as_str(), "-" | "\u{2011}" | ":" | ".");
        let named = line[..before.range.start].chars().next_back().is_some_and(char::is_alphanumeric);
        if joined && named {
            return None;
        }
    }
    let minus = matches!(before, Some('-' | '\u{2212}')) && {
        let earlier = line[..token.range.start].chars().rev().nth(1);
        earlier.is_none_or(char::is_whitespace)
    };
    let plain = number.replace(',', "");
    let value: f64 = plain.parse().ok()?;
    let mut end = token.range.start + digits;
    let mut half_step = half_step(&plain, value);
    let mut value = if minus { -value } else { value };
    // "1/2 in", "3 1/2 in": a fraction is exact.
    let fraction = |at: usize| -> Option<(f64, usize)> {
        let rest = line.get(at..)?.strip_prefix('/')?;
        let below: String = rest.chars().take_while(char::is_ascii_digit).collect();
        let number: f64 = below.parse().ok().filter(|below| (2.0..=1000.0).contains(below))?;
        Some((number, at + 1 + below.len()))
    };
    if let Some((below, after)) = fraction(end) {
        value /= below;
        (half_step, end) = (0.5 / below, after);
    } else if let Some((share, after)) = part_after(line, end) {
        value *= share;
        (half_step, end) = (half_step * share, after);
    }
    // Letters that follow without a space are a unit (`45°`, `3mm`) or a name (`2nd`): the unit decides.
    Some(Number { value, half_step, end, figures: true })
}

/// Half a step of the last digit that was typed. Zeros at the end of a whole number may be idle, up to a fortieth of it:
/// "2400 Hz" is not meant to the hertz.
fn half_step(digits: &str, value: f64) -> f64 {
    if let Some((_, after)) = digits.split_once('.') {
        return 0.5 * 10f64.powi(-i32::try_from(after.len()).unwrap_or(0));
    }
    let zeros = digits.len() - digits.trim_end_matches('0').len();
    let idle = 0.5 * 10f64.powi(i32::try_from(zeros).unwrap_or(0));
    idle.min(value / 40.0).max(0.5)
}

fn small(word: &str) -> Option<f64> {
    let ones = SMALL.iter().position(|known| *known == word).map(|n| n as f64);
    ones.or_else(|| (2..TENS.len()).find(|n| TENS[*n] == word).map(|n| 10.0 * n as f64))
}

/// A number in words that begins with a token: "three thousand", "two and a half", "half a", "four tenths of a".
pub(super) fn in_words(line: &str, tokens: &[Token], index: usize) -> Option<Number> {
    let word = |at: usize| tokens.get(at).map_or("", |token| token.lower.as_str());
    let end_of = |at: usize| tokens.get(at).map_or(line.len(), |token| token.range.end);
    let exact =
        |value: f64, half_step: f64, end: usize| Some(Number { value, half_step, end, figures: false });
    match (word(index), word(index + 1), word(index + 2), word(index + 3)) {
        ("half", "a" | "an", ..) => return exact(0.5, 0.125, end_of(index + 1)),
        ("quarter", "of", "a" | "an", _) => return exact(0.25, 0.0625, end_of(index + 2)),
        ("three", "quarters", "of", "a" | "an") => return exact(0.75, 0.0625, end_of(index + 3)),
        _ => {}
    }
    let (mut value, mut at) = whole(tokens, index)?;
    let mut half_step = if value >= 20.0 && value % 10.0 == 0.0 { (value / 40.0).max(0.5) } else { 0.5 };
    let mut end = end_of(at - 1);
    if word(at) == "point" && small(word(at + 1)).is_some_and(|digit| digit < 10.0) {
        let mut place = 0.1;
        at += 1;
        while let Some(digit) = small(word(at)).filter(|digit| *digit < 10.0) {
            value += digit * place;
            half_step = place / 2.0;
            end = end_of(at);
            place /= 10.0;
            at += 1;
        }
    } else if word(at) == "and" {
        match (word(at + 1), word(at + 2)) {
            ("a", "half") => (value, half_step, end) = (value + 0.5, 0.25, end_of(at + 2)),
            ("a", "quarter") => (value, half_step, end) = (value + 0.25, 0.125, end_of(at + 2)),
            ("three", "quarter" | "quarters" | "-") => {
                let last = if word(at + 2) == "-" { at + 3 } else { at + 2 };
                (value, half_step, end) = (value + 0.75, 0.125, end_of(last));
            }
            _ => {}
        }
    }
    if let Some((share, after)) = part_after(line, end) {
        (value, half_step, end) = (value * share, half_step * share, after);
    }
    exact(value, half_step, end)
}

/// A whole number in words, and the index of the token after it.
fn whole(tokens: &[Token], index: usize) -> Option<(f64, usize)> {
    let word = |at: usize| tokens.get(at).map_or("", |token| token.lower.as_str());
    let (mut total, mut group) = (0.0, small(word(index))?);
    let mut at = index + 1;
    loop {
        match word(at) {
            // "twenty-one", "twenty one"
            "-" if group % 10.0 == 0.0 && group >= 20.0 && small(word(at + 1)).is_some_and(|n| n < 10.0) => {
                group += small(word(at + 1)).unwrap_or(0.0);
                at += 2;
            }
            "hundred" if group < 100.0 => {
                group *= 100.0;
                at += 1;
            }
            "thousand" if group < 1000.0 => {
                total += group * 1000.0;
                group = 0.0;
                at += 1;
            }
            "and" if (group >= 100.0 || (total > 0.0 && group == 0.0)) && small(word(at + 1)).is_some() => {
                group += small(word(at + 1)).unwrap_or(0.0);
                at += 2;
            }
            next if (group % 100.0 == 0.0 && (group > 0.0 || total > 0.0))
                || (group % 10.0 == 0.0 && group % 100.0 >= 20.0) =>
            {
                match small(next).filter(|n| group % 100.0 == 0.0 || *n < 10.0) {
                    Some(more) => {
                        group += more;
                        at += 1;
                    }
                    None => break,
                }
            }
            _ => break,
        }
    }
    Some((total + group, at))
}
