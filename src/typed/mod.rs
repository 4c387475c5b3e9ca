//! Numbers that a hand typed into notes.md or script.md, held against the session.
//!
//! A number with a unit that belongs to no finding, change, reading, limit, condition, instrument, day or setting of the
//! session, within the rounding that its digits claim, is pointed out, with the finding that it most likely meant. Nobody
//! is told that it is wrong: it may be somebody else's number, and a line with the mark `<!-- meant -->`, which is not seen
//! where `CommonMark` is shown, is left alone.
//!
//! Code, links and what is struck through are not read.

pub mod find;
mod known;
mod words;

use std::collections::BTreeSet;
use std::sync::Arc;

use find::{Claim, Typed};
use known::{Gathered, Known, Origin, described};

use crate::findings::Findings;
use crate::notes::prose::{self, Block, BlockKind, Line};
use crate::session::{Place, Problem, Problems, Session};

/// Says of a line that its numbers are meant as they stand.
pub const MEANT: &str = "<!-- meant -->";

/// Whether a piece of HTML is the mark.
pub fn is_meant(html: &str) -> bool {
    let inner = html.trim().strip_prefix("<!--").and_then(|rest| rest.strip_suffix("-->"));
    inner.is_some_and(|inner| inner.trim().eq_ignore_ascii_case("meant"))
}

/// Points out, as warnings, the numbers of notes.md and script.md that the session does not hold.
pub fn point_out(session: &Session, findings: &Findings, problems: &mut Problems) {
    let texts = [(&session.notes, false), (&session.script, true)];
    let mut known: Option<Gathered<'_>> = None;
    for (notes, script) in texts {
        let Some(notes) = notes else { continue };
        let source = &notes.source;
        let meant = meant_lines(&source.text);
        for block in prose::blocks(&source.text) {
            if matches!(block.kind, BlockKind::Code | BlockKind::Html) {
                continue;
            }
            let (line, typed) = typed_in(&block, script);
            for typed in typed {
                let place = Place { source: Arc::clone(source), span: line.place(typed.range.clone()) };
                if meant.contains(&place.line()) {
                    continue;
                }
                let known = known.get_or_insert_with(|| Gathered::of(session, findings));
                if known.list.iter().any(|known| is(&typed, known)) {
                    continue;
                }
                problems.push(stranger(session, &line, &typed, place, known, script));
            }
        }
    }
}

/// The numbers of a block outside its placeholders.
fn typed_in(block: &Block, script: bool) -> (Line, Vec<Typed>) {
    let line = Line::of(&block.pieces);
    let mut text = line.text.clone();
    if script {
        for asked in crate::script::ask::placeholders(&line.text).into_iter().flatten() {
            // As many bytes of a letter that no number holds.
            let blank = "\u{1}".repeat(asked.range.len());
            text.replace_range(asked.range, &blank);
        }
    }
    let typed = find::numbers(&text);
    (line, typed)
}

/// The lines that carry the mark, from 1.
fn meant_lines(text: &str) -> BTreeSet<usize> {
    let marked = |line: &str| {
        line.match_indices("<!--").any(|(at, _)| {
            let end = line[at..].find("-->").map(|end| at + end + 3);
            end.is_some_and(|end| is_meant(&line[at..end]))
        })
    };
    text.lines().enumerate().filter(|(_, line)| marked(line)).map(|(index, _)| index + 1).collect()
}

/// Whether a typed number is one that the session holds. A size is often told without its sign.
fn is(typed: &Typed, known: &Known<'_>) -> bool {
    typed.units.iter().filter_map(|unit| known.to(*unit)).any(|value| {
        let near = |value: f64| {
            let room = typed.half_step * (1.0 + 1e-9) + 1e-12 * value.abs();
            let wide = (4.0 * typed.half_step).max(typed.high.abs() / 10.0);
            let (below, above) = match typed.claim {
                Claim::Digits => (room, room),
                Claim::About => (2.0 * room, 2.0 * room),
                Claim::MoreThan => (room / 10.0, wide),
                Claim::LessThan => (wide, room / 10.0),
            };
            (typed.low - below..=typed.high + above).contains(&value)
        };
        near(value) || (typed.low >= 0.0 && near(value.abs()))
    })
}

/// The warning for a number that nobody knows.
fn stranger(
    session: &Session,
    line: &Line,
    typed: &Typed,
    place: Place,
    known: &Gathered<'_>,
    script: bool,
) -> Problem {
    let text = line.text.get(typed.range.clone()).unwrap_or_default();
    let problem = Problem::error(format!("'{text}' is no number of this session"), place).warning();
    let likely = likeliest(line, typed, known).and_then(|origin| described(session, origin));
    let Some((figure, from, placeholder)) = likely else {
        return problem
            .expected("nothing of this kind was found, read or written down")
            .help(format!("if it is another's number, end the line with {MEANT}"));
    };
    let instead = if script { format!("write {placeholder} instead") } else { "correct it".to_owned() };
    problem
        .expected(format!("most likely {figure}"))
        .help(format!("{from}: {figure}; {instead}, or end the line with {MEANT}"))
}

/// Letters on either side of a number that tell what it is about.
const AROUND: usize = 60;

/// The finding or change that was most likely meant: the nearest, where words beside it count for more than nearness.
fn likeliest<'a>(line: &Line, typed: &Typed, known: &Gathered<'a>) -> Option<Origin<'a>> {
    let text = &line.text;
    let from = text.floor_char_boundary(typed.range.start.saturating_sub(AROUND));
    let to = text.floor_char_boundary((typed.range.end + AROUND).min(text.len()));
    let around: BTreeSet<String> = words_of(text.get(from..to).unwrap_or_default());
    let moved = ["fell", "rise", "less", "more", "lower", "higher", "change", "longer", "shorter", "quieter"];
    let moved = moved.iter().any(|word| around.contains(*word));
    let mut best: Option<(f64, Origin<'a>)> = None;
    for known in &known.list {
        let (names, unlikely) = match known.origin {
            Origin::Found(check, visit, finding) => {
                let state = visit.state.spoken();
                let what = finding.what.replace('_', " ");
                (words_of(&format!("{} {} {what} {state}", check.title, finding.at)), 1.0)
            }
            Origin::Changed(check, _, change) => {
                (words_of(&format!("{} {} change", check.title, change.at)), if moved { 1.0 } else { 8.0 })
            }
            Origin::Held => continue,
        };
        let named = names.intersection(&around).count() as f64;
        for value in typed.units.iter().filter_map(|unit| known.to(*unit)) {
            let value = if typed.low >= 0.0 { value.abs() } else { value };
            let scale = value.abs().max(typed.high.abs());
            let off =
                if scale > 0.0 { (value - f64::midpoint(typed.low, typed.high)).abs() / scale } else { 0.0 };
            let score = off * unlikely / (1.0 + named).powi(3);
            if off < 0.75 && best.as_ref().is_none_or(|(least, _)| score < *least) {
                best = Some((score, known.origin));
            }
        }
    }
    best.map(|(_, origin)| origin)
}

/// The words of a text that name something.
fn words_of(text: &str) -> BTreeSet<String> {
    let words = text.split(|c: char| !c.is_alphanumeric()).filter(|word| word.chars().count() >= 3);
    let words = words.map(|word| match word.to_lowercase().as_str() {
        "rose" => "rise".to_owned(),
        lower => lower.to_owned(),
    });
    words.filter(|word| !matches!(word.as_str(), "the" | "and" | "for" | "with")).collect()
}

#[cfg(test)]
mod tests;
