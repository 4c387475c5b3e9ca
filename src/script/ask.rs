//! The grammar of a placeholder.
//!
//! ```text
//! { [WHAT of]… SUBJECT [at PLACE] [, WHICH] [, HOW]… }
//! ```
//!
//! `{arbor-runout at tip, as-found, in words}` asks for the main finding of a check at a place and a visit, in words.
//! WHICH is a visit, or a comparison where a change is asked for; it and the HOWs may stand in any order. Letter case, and
//! whether a name has `-`, `_` or a space between its words, do not count. A line may end within a placeholder.

use std::ops::Range;

/// Words of a placeholder with their place in the line of their block.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Words {
    /// As typed, with single spaces.
    pub text: String,
    /// Bytes of the line.
    pub range: Range<usize>,
}

/// In which form a number is wanted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum How {
    /// With its uncertainty, as the report prints it.
    Figures,
    /// Without its uncertainty.
    Value,
    /// In words, as precisely as the figure.
    InWords,
    /// In words, rounded for speech.
    About,
    /// With what the uncertainty leaves open, in words.
    GiveOrTake,
    /// In words, with the short name of a unit that has been said in full.
    Short,
    /// Of a change: how large it is, without its direction.
    Size,
}

impl How {
    /// Every form by the name that asks for it.
    pub const NAMES: [(&'static str, Self); 7] = [
        ("figures", Self::Figures),
        ("value", Self::Value),
        ("in words", Self::InWords),
        ("about", Self::About),
        ("give or take", Self::GiveOrTake),
        ("short", Self::Short),
        ("size", Self::Size),
    ];

    fn named(text: &str) -> Option<Self> {
        let plain = folded(text);
        Self::NAMES.iter().find(|(name, _)| *name == plain).map(|(_, how)| *how)
    }
}

/// A placeholder taken apart.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Asked {
    /// What is asked of the subject, the outermost first: `change`, `order_1`.
    pub what: Vec<Words>,
    /// A check, a visit, a machine or a coverage.
    pub subject: Words,
    /// The place, and what follows it up to the next comma.
    pub place: Option<Words>,
    /// What stands between commas and is no HOW.
    pub rest: Vec<Words>,
    /// The forms wanted.
    pub hows: Vec<How>,
    /// The whole, braces included.
    pub range: Range<usize>,
}

/// A name without letter case and with spaces between its words.
pub fn folded(name: &str) -> String {
    let spaced = name.to_lowercase().replace(['-', '_'], " ");
    spaced.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// What is wrong with the braces of a line.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum BraceProblem {
    /// Opened and not closed in the same paragraph.
    Open(Range<usize>),
    /// Nothing in it.
    Empty(Range<usize>),
}

/// The placeholders of a line of text, in order.
pub fn placeholders(line: &str) -> Vec<Result<Asked, BraceProblem>> {
    let mut found = Vec::new();
    let mut from = 0;
    while let Some(start) = line[from..].find('{').map(|at| from + at) {
        let rest = &line[start + 1..];
        let next = rest.find(['{', '}']).filter(|at| rest[*at..].starts_with('}'));
        let Some(length) = next else {
            found.push(Err(BraceProblem::Open(start..start + 1)));
            from = start + 1;
            continue;
        };
        let range = start..start + length + 2;
        from = range.end;
        found.push(asked(line, range.clone()).ok_or(BraceProblem::Empty(range)));
    }
    found
}

/// The part of a line without the spaces about it.
fn trimmed(line: &str, range: Range<usize>) -> Words {
    let text = &line[range.clone()];
    let start = range.start + text.len() - text.trim_start().len();
    let end = start + text.trim().len();
    Words { text: text.split_whitespace().collect::<Vec<_>>().join(" "), range: start..end }
}

/// Where a word stands for itself, with a space on either side.
fn word_at(text: &str, word: &str) -> Option<usize> {
    let lower = text.to_ascii_lowercase();
    lower.match_indices(word).map(|(at, _)| at).find(|at| {
        let end = at + word.len();
        text[..*at].ends_with(char::is_whitespace) && text[end..].starts_with(char::is_whitespace)
    })
}

fn asked(line: &str, range: Range<usize>) -> Option<Asked> {
    let inner = range.start + 1..range.end - 1;
    let mut parts: Vec<Range<usize>> = Vec::new();
    let mut start = inner.start;
    for (at, _) in line[inner.clone()].match_indices(',') {
        parts.push(start..inner.start + at);
        start = inner.start + at + 1;
    }
    parts.push(start..inner.end);
    let first = parts.first()?.clone();
    let text = &line[first.clone()];
    let (head, place) = match word_at(text, "at") {
        Some(at) => (first.start..first.start + at, Some(first.start + at + 2..first.end)),
        None => (first, None),
    };
    let mut what = Vec::new();
    let mut head = head;
    while let Some(at) = word_at(&line[head.clone()], "of") {
        what.push(trimmed(line, head.start..head.start + at));
        head = head.start + at + 2..head.end;
    }
    let subject = trimmed(line, head);
    if subject.text.is_empty() {
        return None;
    }
    let (mut rest, mut hows) = (Vec::new(), Vec::new());
    for part in parts.into_iter().skip(1) {
        let words = trimmed(line, part);
        match How::named(&words.text) {
            Some(how) => hows.push(how),
            None if words.text.is_empty() => {}
            None => rest.push(words),
        }
    }
    Some(Asked { what, subject, place: place.map(|range| trimmed(line, range)), rest, hows, range })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn one(line: &str) -> Asked {
        placeholders(line).remove(0).expect("a placeholder")
    }

    #[test]
    fn a_placeholder_is_taken_apart_at_its_little_words_and_commas() {
        let asked = one("It swung {change of order_1 of vibration at 3450 rpm, x, repair, in words}.");
        assert_eq!(asked.what.iter().map(|w| w.text.as_str()).collect::<Vec<_>>(), ["change", "order_1"]);
        assert_eq!(asked.subject.text, "vibration");
        assert_eq!(asked.place.as_ref().map(|w| w.text.as_str()), Some("3450 rpm"));
        assert_eq!(asked.rest.iter().map(|w| w.text.as_str()).collect::<Vec<_>>(), ["x", "repair"]);
        assert_eq!(asked.hows, [How::InWords]);
    }

    #[test]
    fn a_check_whose_name_holds_a_little_word_is_one_name() {
        let asked = one("{state-of-bearing, as-found}");
        assert_eq!((asked.what.len(), asked.subject.text.as_str()), (0, "state-of-bearing"));
    }

    #[test]
    fn a_brace_that_is_not_closed_is_told_and_the_next_is_still_read() {
        let found = placeholders("a {b c {d} e {");
        assert!(matches!(found[0], Err(BraceProblem::Open(ref range)) if range.start == 2));
        assert_eq!(found[1].as_ref().map(|asked| asked.subject.text.as_str()), Ok("d"));
        assert!(matches!(found[2], Err(BraceProblem::Open(_))));
        assert!(matches!(placeholders("{ }")[0], Err(BraceProblem::Empty(_))));
    }
}
