//! Captions: the narration in stretches that an eye can read, as `WebVTT` (W3C Candidate Recommendation, 4 April 2019).
//!
//! At most two lines of 42 letters, at most seven seconds, broken after a sentence or a clause rather than within one, and
//! never between a number and its unit: common practice of subtitlers.

use std::fmt::Write as _;
use std::ops::Range;

use super::speech::Token;
use super::timing::Timing;
use super::{Speech, Step};

/// Letters of a line at most.
pub const MOST_LETTERS: usize = 42;
/// Milliseconds of a caption at most.
const MOST_TIME: u64 = 7_000;
/// Shorter than this it is joined to its neighbour, where it fits.
const LEAST_TIME: u64 = 1_200;

/// A caption.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Caption {
    /// From when to when, in milliseconds.
    pub shown: Range<u64>,
    /// One line or two.
    pub lines: Vec<String>,
}

/// The captions of the whole narration, in order.
pub fn captions(steps: &[Step], timing: &Timing) -> Vec<Caption> {
    let mut all = Vec::new();
    for (step, span) in steps.iter().zip(&timing.spans) {
        if let Step::Speech(speech) = step {
            all.extend(of_speech(speech, span.clone()));
        }
    }
    all
}

/// The captions as a `WebVTT` file with a note of where they come from.
pub fn to_vtt(captions: &[Caption], note: &str) -> String {
    let mut text = format!("WEBVTT\n\nNOTE {}\n", harmless(note));
    for (index, caption) in captions.iter().enumerate() {
        let Range { start, end } = caption.shown;
        // Writing to a string cannot fail.
        let _ = write!(text, "\n{}\n{} --> {}\n", index + 1, stamp(start), stamp(end));
        for line in &caption.lines {
            text.push_str(&harmless(line));
            text.push('\n');
        }
    }
    text
}

/// Text that holds no mark of `WebVTT`: `<` begins a tag, `&` a name, and `-->` may stand nowhere in it.
fn harmless(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;")
}

/// `00:01:02.345`
fn stamp(milliseconds: u64) -> String {
    let (seconds, rest) = (milliseconds / 1000, milliseconds % 1000);
    format!("{:02}:{:02}:{:02}.{rest:03}", seconds / 3600, seconds / 60 % 60, seconds % 60)
}

fn of_speech(speech: &Speech, span: Range<u64>) -> Vec<Caption> {
    let tokens = divided(&speech.tokens);
    // How far the voice is after each word, in letters spoken.
    let mut reached = vec![0_u64];
    for token in &tokens {
        let letters = u64::try_from(token.spoken.chars().count()).unwrap_or(0);
        reached.push(reached.last().copied().unwrap_or(0) + letters + 1);
    }
    let whole = reached.last().copied().unwrap_or(1).max(1);
    let length = span.end - span.start;
    let at = |index: usize| span.start + length * reached.get(index).copied().unwrap_or(whole) / whole;
    stretches(&tokens, &at)
        .into_iter()
        // Nothing is shown for no time: the specification wants an end after its start.
        .filter(|stretch| at(stretch.end) > at(stretch.start))
        .map(|stretch| Caption {
            shown: at(stretch.start)..at(stretch.end),
            lines: lines(&tokens[stretch]).unwrap_or_default(),
        })
        .collect()
}

/// Words longer than a line in parts that are not.
fn divided(tokens: &[Token]) -> Vec<Token> {
    let mut out = Vec::with_capacity(tokens.len());
    for token in tokens {
        let letters: Vec<char> = token.shown.chars().collect();
        if letters.len() <= MOST_LETTERS {
            out.push(token.clone());
            continue;
        }
        let parts = letters.chunks(MOST_LETTERS);
        let last = parts.len() - 1;
        out.extend(parts.enumerate().map(|(index, part)| Token {
            shown: part.iter().collect(),
            spoken: if index == 0 { token.spoken.clone() } else { String::new() },
            glued: index == last && token.glued,
        }));
    }
    out
}

/// How ill it is to break after a word.
fn ill(tokens: &[Token], index: usize) -> u64 {
    let Some(token) = tokens.get(index) else { return 0 };
    let word = token.shown.trim_end_matches(['"', '”', '’', ')', '*', '_']);
    let next = tokens.get(index + 1).map_or("", |next| next.shown.as_str());
    if token.glued {
        4_000
    } else if word.ends_with(['.', '!', '?']) {
        0
    } else if word.ends_with([';', ':', '–', '—']) {
        60
    } else if word.ends_with(',') {
        120
    } else if matches!(
        next,
        "and"
            | "but"
            | "or"
            | "that"
            | "which"
            | "as"
            | "because"
            | "when"
            | "where"
            | "if"
            | "so"
            | "than"
            | "with"
            | "in"
            | "at"
            | "on"
            | "from"
            | "to"
            | "by"
            | "of"
            | "for"
    ) {
        260
    } else if matches!(
        word,
        "a" | "an" | "the" | "and" | "or" | "of" | "to" | "in" | "my" | "its" | "no" | "about"
    ) {
        900
    } else {
        420
    }
}

/// The captions as stretches of words: those whose breaks and lengths are least ill together.
fn stretches(tokens: &[Token], at: &dyn Fn(usize) -> u64) -> Vec<Range<usize>> {
    let count = tokens.len();
    // For each number of words: the least cost of captions that end there, and where the last of them begins.
    let mut best: Vec<(u64, usize)> = vec![(0, 0)];
    for end in 1..=count {
        let mut least = (u64::MAX, end - 1);
        for start in (0..end).rev() {
            let single = end - start == 1;
            let (fits, time) = (lines(&tokens[start..end]).is_some(), at(end) - at(start));
            if !single && (!fits || time > MOST_TIME) {
                break;
            }
            let letters = shown_length(&tokens[start..end]) as u64;
            // Well filled, but not for its own sake: a short caption costs as much as a clause torn apart.
            let short = if time < LEAST_TIME { 700 } else { 0 };
            let empty = (84_u64.saturating_sub(letters)).pow(2) / 16;
            let cost = best[start].0.saturating_add(ill(tokens, end - 1) + empty + short + 60);
            if cost < least.0 {
                least = (cost, start);
            }
        }
        best.push(least);
    }
    let mut cuts = Vec::new();
    let mut end = count;
    while end > 0 {
        let start = best[end].1;
        cuts.push(start..end);
        end = start;
    }
    cuts.reverse();
    cuts
}

fn shown_length(tokens: &[Token]) -> usize {
    tokens.iter().map(|token| token.shown.chars().count() + 1).sum::<usize>().saturating_sub(1)
}

/// Words in one line, or in two that are about as long; none where they do not fit.
fn lines(tokens: &[Token]) -> Option<Vec<String>> {
    let text =
        |tokens: &[Token]| tokens.iter().map(|token| token.shown.as_str()).collect::<Vec<_>>().join(" ");
    if shown_length(tokens) <= MOST_LETTERS {
        return Some(vec![text(tokens)]);
    }
    let mut best: Option<(u64, usize)> = None;
    for cut in 1..tokens.len() {
        let (first, second) = (shown_length(&tokens[..cut]), shown_length(&tokens[cut..]));
        if first > MOST_LETTERS || second > MOST_LETTERS {
            continue;
        }
        let uneven = first.abs_diff(second) as u64;
        let cost = ill(tokens, cut - 1) / 4 + uneven * 8;
        if best.is_none_or(|(least, _)| cost < least) {
            best = Some((cost, cut));
        }
    }
    let (_, cut) = best?;
    Some(vec![text(&tokens[..cut]), text(&tokens[cut..])])
}
