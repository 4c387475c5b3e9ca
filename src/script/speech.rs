//! A paragraph as it is spoken: with every number in words, and word by word for the clock.

use std::ops::Range;

use super::{Answer, Filled, edited};
use crate::notes::prose::{Line, Piece, PieceKind};
use crate::quantity::spoken;
use crate::typed::find;

/// A word as it is shown, and as it is spoken.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Token {
    /// As a caption shows it.
    pub shown: String,
    /// As it is read aloud: may be several words, or none.
    pub spoken: String,
    /// Whether the next word must stay on its line: a number and its unit.
    pub glued: bool,
}

/// What is spoken in one go.
#[derive(Clone, Debug)]
pub struct Speech {
    /// `CommonMark` with every number in words; those of placeholders in strong letters.
    pub markdown: String,
    /// Word by word.
    pub tokens: Vec<Token>,
    /// The numbers that its placeholders brought, in order.
    pub answers: Vec<Answer>,
}

impl Speech {
    /// How many words are spoken; the parts of "twenty-five" are two.
    pub fn words(&self) -> usize {
        self.tokens.iter().map(|token| spoken_words(&token.spoken)).sum()
    }
}

fn spoken_words(text: &str) -> usize {
    let parts = text.split(|c: char| c.is_whitespace() || c == '-');
    parts.filter(|part| part.contains(char::is_alphanumeric)).count()
}

/// Whether what follows some words begins a sentence; a cue's line ends one.
pub(super) fn begins_sentence(before: &str) -> bool {
    let before =
        before.trim_end().trim_end_matches(['"', '\'', '”', '’', ')', '(', '“', '‘', '*', '_']).trim_end();
    before.is_empty() || before.ends_with(['.', '!', '?', ']'])
}

/// A stretch of the file, and what is shown and spoken in its place.
struct Mark {
    place: Range<usize>,
    shown: String,
    spoken: String,
}

/// The words of a block in one line, with the answers in it.
pub(super) fn plain(pieces: &[Piece], filled: &[Filled]) -> String {
    let marks: Vec<Mark> = filled.iter().map(mark_of).collect();
    let tokens = tokens(pieces, &marks);
    tokens.iter().map(|token| token.shown.as_str()).collect::<Vec<_>>().join(" ")
}

fn mark_of(filled: &Filled) -> Mark {
    Mark {
        place: filled.place.clone(),
        shown: unescaped(&filled.answer.shown),
        spoken: unescaped(&filled.answer.spoken),
    }
}

/// A stretch of a paragraph as it is spoken.
pub(super) fn speech(text: &str, range: Range<usize>, pieces: &[Piece], filled: &[&Filled]) -> Speech {
    let mut marks: Vec<Mark> = filled.iter().map(|filled| mark_of(filled)).collect();
    let mut edits: Vec<(Range<usize>, String)> =
        filled.iter().map(|filled| (filled.place.clone(), format!("**{}**", filled.answer.spoken))).collect();
    for mark in typed(text, pieces, filled) {
        edits.push((mark.place.clone(), mark.spoken.clone()));
        marks.push(mark);
    }
    for piece in pieces {
        match piece.kind {
            PieceKind::Break => {
                let after = text.get(piece.range.end..range.end).unwrap_or_default();
                // What a quotation or a list puts before its next line is no part of the words.
                let margin = after.len() - after.trim_start_matches([' ', '\t', '>']).len();
                edits.push((piece.range.start..piece.range.end + margin, "\n".to_owned()));
            }
            PieceKind::Html => edits.push((piece.range.clone(), String::new())),
            _ => {}
        }
    }
    edits.sort_by_key(|(place, _)| (place.start, place.end));
    marks.sort_by_key(|mark| mark.place.start);
    Speech {
        markdown: edited(text, range, &edits),
        tokens: tokens(pieces, &marks),
        answers: filled.iter().map(|filled| filled.answer.clone()).collect(),
    }
}

/// Numbers with a unit that a hand typed in figures: they are read aloud as well.
fn typed(text: &str, pieces: &[Piece], filled: &[&Filled]) -> Vec<Mark> {
    let line = Line::of(pieces);
    let mut marks = Vec::new();
    for typed in find::numbers(&line.text) {
        let place = line.place(typed.range.clone());
        let taken =
            filled.iter().any(|filled| filled.place.start < place.end && place.start < filled.place.end);
        let (Some(digits), Some(unit), false) = (&typed.digits, typed.units.first(), taken) else { continue };
        // A fraction is read as it stands.
        if digits.contains('/') || digits.contains(char::is_whitespace) {
            continue;
        }
        let plain = digits.replace(',', "");
        let between = line.text.get(typed.number.end..).unwrap_or_default();
        let spoken = if between.starts_with(['-', '\u{2011}']) {
            // "10-inch" describes: "ten-inch".
            let rest = line.text.get(typed.number.end..typed.range.end).unwrap_or_default();
            format!("{}{rest}", spoken::decimal(&plain))
        } else {
            spoken::said(&plain, spoken::names(*unit))
        };
        let shown = text.get(place.clone()).unwrap_or_default().to_owned();
        marks.push(Mark { place, shown, spoken });
    }
    marks
}

/// Word by word.
fn tokens(pieces: &[Piece], marks: &[Mark]) -> Vec<Token> {
    let mut words = Words::default();
    let mut until = 0;
    for piece in pieces {
        let start = piece.range.start.max(until);
        match piece.kind {
            PieceKind::Html => {}
            PieceKind::Text => {
                let mut at = start;
                while let Some(mark) =
                    marks.iter().find(|mark| mark.place.start >= at && mark.place.start < piece.range.end)
                {
                    words.plain(slice(piece, at..mark.place.start));
                    words.said(&mark.shown, &mark.spoken);
                    at = mark.place.end;
                    until = at;
                }
                words.plain(slice(piece, at..piece.range.end));
            }
            _ if piece.range.start < until => {}
            PieceKind::Break => words.plain(" "),
            PieceKind::Entity | PieceKind::Apart | PieceKind::Code => words.plain(&piece.text),
        }
    }
    words.end(false);
    words.tokens
}

/// A part of a piece's text, by its place in the file.
fn slice(piece: &Piece, place: Range<usize>) -> &str {
    let offset = piece.range.start;
    let part = place.start.saturating_sub(offset)..place.end.saturating_sub(offset);
    piece.text.get(part).unwrap_or_default()
}

#[derive(Default)]
struct Words {
    tokens: Vec<Token>,
    shown: String,
    spoken: String,
}

/// A number of more letters than this may be broken across lines.
const MOST_GLUED: usize = 26;

impl Words {
    fn plain(&mut self, text: &str) {
        for c in text.chars() {
            if c.is_whitespace() {
                self.end(false);
            } else {
                self.shown.push(c);
                self.spoken.push(c);
            }
        }
    }

    /// An answer: as many words as are shown, among which those that are spoken are shared out.
    fn said(&mut self, shown: &str, spoken: &str) {
        let shown: Vec<&str> = shown.split_whitespace().collect();
        let spoken: Vec<&str> = spoken.split_whitespace().collect();
        let glued = shown.iter().map(|word| word.chars().count() + 1).sum::<usize>() <= MOST_GLUED;
        let share = |index: usize| index * spoken.len() / shown.len().max(1);
        for (index, word) in shown.iter().enumerate() {
            if index > 0 {
                self.end(glued);
            }
            self.shown.push_str(word);
            let part = spoken.get(share(index)..share(index + 1)).unwrap_or_default();
            self.spoken.push_str(&part.join(" "));
        }
    }

    fn end(&mut self, glued: bool) {
        if !self.shown.is_empty() {
            let (shown, spoken) = (std::mem::take(&mut self.shown), std::mem::take(&mut self.spoken));
            self.tokens.push(Token { shown, spoken, glued });
        }
    }
}

/// Without the backslashes that keep `CommonMark`'s marks from being read.
fn unescaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut chars = text.chars().peekable();
    while let Some(c) = chars.next() {
        match chars.peek() {
            Some(next) if c == '\\' && next.is_ascii_punctuation() => {}
            _ => {
                out.push(c);
                continue;
            }
        }
        out.extend(chars.next());
    }
    out
}
