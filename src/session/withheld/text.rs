//! Private values in a text: whole words, in capitals or not, over the end of a line too.

use std::ops::Range;

use super::WITHHELD;
use super::values::Private;

/// A text made ready to be searched.
pub(super) struct Folded {
    /// Each letter in lower case, with the byte at which it begins.
    letters: Vec<(usize, char)>,
    length: usize,
}

impl Folded {
    pub(super) fn of(text: &str) -> Self {
        let letters = text.char_indices().map(|(at, letter)| (at, folded(letter))).collect();
        Self { letters, length: text.len() }
    }

    fn letter(&self, index: usize) -> Option<char> {
        self.letters.get(index).map(|(_, letter)| *letter)
    }

    fn byte(&self, index: usize) -> usize {
        self.letters.get(index).map_or(self.length, |(at, _)| *at)
    }
}

fn folded(letter: char) -> char {
    letter.to_lowercase().next().unwrap_or(letter)
}

/// A private value in a text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Found {
    /// Which of the values searched.
    pub(super) value: usize,
    /// The bytes it stands on.
    pub(super) range: Range<usize>,
}

/// Every place of every value, none over another: at one place the first of the list counts.
pub(super) fn found(text: &Folded, values: &[&Private]) -> Vec<Found> {
    let needles: Vec<Vec<char>> =
        values.iter().map(|value| value.text.chars().map(folded).collect()).collect();
    let mut list = Vec::new();
    let mut at = 0;
    while at < text.letters.len() {
        let hit = needles
            .iter()
            .enumerate()
            .find_map(|(index, needle)| matched(text, at, needle).map(|end| (index, end)));
        match hit {
            Some((value, end)) => {
                list.push(Found { value, range: text.byte(at)..text.byte(end) });
                at = end;
            }
            None => at += 1,
        }
    }
    list
}

/// Where a value that begins at `at` ends. White space in it is any white space; a mark of punctuation may stand behind
/// a backslash, as `CommonMark` has it (0.31.2, 2.4).
fn matched(text: &Folded, at: usize, needle: &[char]) -> Option<usize> {
    let first = *needle.first()?;
    let opens = text.letter(at)?;
    if opens != first && opens != '\\' {
        return None;
    }
    if first.is_alphanumeric() && at > 0 && text.letter(at - 1).is_some_and(char::is_alphanumeric) {
        return None;
    }
    let mut here = at;
    for wanted in needle {
        let letter = text.letter(here)?;
        if wanted.is_whitespace() {
            if !letter.is_whitespace() {
                return None;
            }
            while text.letter(here).is_some_and(char::is_whitespace) {
                here += 1;
            }
            continue;
        }
        let escaped =
            letter == '\\' && wanted.is_ascii_punctuation() && text.letter(here + 1) == Some(*wanted);
        if escaped {
            here += 2;
        } else if letter == *wanted {
            here += 1;
        } else {
            return None;
        }
    }
    let last = needle.last().is_some_and(|c| c.is_alphanumeric());
    let goes_on = last && text.letter(here).is_some_and(char::is_alphanumeric);
    (!goes_on).then_some(here)
}

/// A text with `withheld` for every value; `None` where there is none. The ends of lines stay, so that places further
/// down do not move.
pub(super) fn masked(text: &str, values: &[&Private]) -> Option<String> {
    replaced(text, values, true)
}

/// The same where a value over the end of a line becomes one word on the first.
pub(super) fn masked_on_one_line(text: &str, values: &[&Private]) -> Option<String> {
    replaced(text, values, false)
}

fn replaced(text: &str, values: &[&Private], keeps_lines: bool) -> Option<String> {
    let found = found(&Folded::of(text), values);
    if found.is_empty() {
        return None;
    }
    let mut out = String::with_capacity(text.len());
    let mut done = 0;
    for Found { range, .. } in found {
        out.push_str(&text[done..range.start]);
        out.push_str(WITHHELD);
        if keeps_lines {
            out.extend(text[range.clone()].chars().filter(|c| *c == '\n'));
        }
        done = range.end;
    }
    out.push_str(&text[done..]);
    Some(out)
}

/// How the bytes of a text file stand for characters.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Encoding {
    Utf8,
    Latin1,
    Utf16 { big: bool },
}

/// A file's bytes as text, and how they are to be written again. `None` where they are none: a zero byte stands in no
/// text but UTF-16.
pub(super) fn decoded(bytes: &[u8], may_be_latin1: bool) -> Option<(String, Encoding)> {
    let big = bytes.starts_with(&[0xfe, 0xff]);
    if big || bytes.starts_with(&[0xff, 0xfe]) {
        if !bytes.len().is_multiple_of(2) {
            return None;
        }
        let units = bytes.chunks_exact(2).map(|pair| {
            let pair = [pair[0], pair[1]];
            if big { u16::from_be_bytes(pair) } else { u16::from_le_bytes(pair) }
        });
        let text = char::decode_utf16(units).collect::<Result<String, _>>().ok()?;
        return Some((text, Encoding::Utf16 { big }));
    }
    if bytes.contains(&0) {
        return None;
    }
    match std::str::from_utf8(bytes) {
        Ok(text) => Some((text.to_owned(), Encoding::Utf8)),
        Err(_) if may_be_latin1 => {
            Some((bytes.iter().map(|byte| char::from(*byte)).collect(), Encoding::Latin1))
        }
        Err(_) => None,
    }
}

/// The bytes of a text in an encoding. What Latin-1 has no character for was never in it.
pub(super) fn encoded(text: &str, encoding: Encoding) -> Vec<u8> {
    match encoding {
        Encoding::Utf8 => text.as_bytes().to_vec(),
        Encoding::Latin1 => text.chars().map(|c| u8::try_from(c).unwrap_or(b'?')).collect(),
        Encoding::Utf16 { big } => text
            .encode_utf16()
            .flat_map(|unit| if big { unit.to_be_bytes() } else { unit.to_le_bytes() })
            .collect(),
    }
}
