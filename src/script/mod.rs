//! The narration: `CommonMark` with placeholders for what was found and cues that call a still.
//!
//! [`read`] takes script.md apart: the text with every placeholder filled ([`Script::filled`]), and what is spoken, shown
//! and waited for, in order ([`Step`]). [`timing`] lays it on a clock at a pace, [`captions`] cuts it into captions.
//!
//! Headings, tables, code and HTML are not spoken. Nothing here computes a statistic: every number comes from the findings
//! as the report prints it.

pub mod answer;
pub mod ask;
pub mod captions;
mod cue;
mod speech;
pub mod timing;
mod value;

use std::ops::Range;
use std::sync::Arc;

pub use answer::{Answer, Answers};
pub use cue::{Cue, Still};
pub use speech::{Speech, Token};

use crate::findings::Findings;
use crate::notes::prose::{self, Block, BlockKind, Line, PieceKind};
use crate::session::{Place, Problem, Problems, Session, SourceFile};
use ask::{Asked, BraceProblem};
use cue::CueProblem;

/// A part of the narration, in order.
#[derive(Clone, Debug)]
pub enum Step {
    /// A heading, which is not spoken.
    Heading {
        /// Its level, 1 to 6.
        level: u8,
        /// Its words.
        text: String,
    },
    /// What is spoken.
    Speech(Speech),
    /// What is shown or waited for.
    Cue(Cue),
}

/// The narration, filled in and taken apart.
#[derive(Clone, Debug)]
pub struct Script {
    /// script.md with every placeholder filled and all else as it was typed.
    pub filled: String,
    /// Its parts.
    pub steps: Vec<Step>,
}

/// Reads a session's script. What is wrong goes to `problems`: every placeholder that names nothing, every cue for a still
/// that there is not (where `stills` says which there are).
pub fn read(
    source: &Arc<SourceFile>,
    session: &Session,
    findings: &Findings,
    stills: Option<&[String]>,
    problems: &mut Problems,
) -> Script {
    let mut reader = Reader {
        source,
        answers: Answers { session, findings },
        stills,
        problems,
        edits: Vec::new(),
        steps: Vec::new(),
    };
    for block in prose::blocks(&source.text) {
        reader.block(&block);
    }
    let Reader { edits, steps, .. } = reader;
    Script { filled: edited(&source.text, 0..source.text.len(), &edits), steps }
}

/// An answer and the place of its placeholder in the file.
struct Filled {
    place: Range<usize>,
    answer: Answer,
}

struct Reader<'a> {
    source: &'a Arc<SourceFile>,
    answers: Answers<'a>,
    stills: Option<&'a [String]>,
    problems: &'a mut Problems,
    /// What replaces what in the file, in order.
    edits: Vec<(Range<usize>, String)>,
    steps: Vec<Step>,
}

impl Reader<'_> {
    fn block(&mut self, block: &Block) {
        if matches!(block.kind, BlockKind::Code | BlockKind::Html) {
            return;
        }
        let line = Line::of(&block.pieces);
        let filled = self.fill(&line);
        self.edits.extend(filled.iter().map(|filled| (filled.place.clone(), filled.answer.shown.clone())));
        match block.kind {
            BlockKind::Heading(level) => {
                let text = speech::plain(&block.pieces, &filled);
                self.steps.push(Step::Heading { level, text });
            }
            BlockKind::Paragraph => self.paragraph(block, &filled),
            BlockKind::Cell | BlockKind::Code | BlockKind::Html => {}
        }
    }

    /// The placeholders of a line with their answers.
    fn fill(&mut self, line: &Line) -> Vec<Filled> {
        let mut filled = Vec::new();
        for asked in ask::placeholders(&line.text) {
            match asked {
                Ok(asked) => filled.extend(self.answer(line, &asked)),
                Err(wrong) => self.braces(line, &wrong),
            }
        }
        filled
    }

    fn answer(&mut self, line: &Line, asked: &Asked) -> Option<Filled> {
        match self.answers.answer(asked) {
            Ok(mut answer) => {
                if speech::begins_sentence(&line.text[..asked.range.start]) {
                    answer.begin_sentence();
                }
                Some(Filled { place: line.place(asked.range.clone()), answer })
            }
            Err(wrong) => {
                let place = self.place(line.place(wrong.range));
                self.problems
                    .push(Problem::error(wrong.message, place).expected(wrong.expected).help(wrong.help));
                None
            }
        }
    }

    fn braces(&mut self, line: &Line, wrong: &BraceProblem) {
        let (range, message, expected) = match wrong {
            BraceProblem::Open(range) => {
                (range, "a brace is opened and not closed", "expected '}' in the same paragraph")
            }
            BraceProblem::Empty(range) => (range, "there is nothing in the braces", "expected a check"),
        };
        let place = self.place(line.place(range.clone()));
        self.problems.push(
            Problem::error(message, place)
                .expected(expected)
                .help("write for example {arbor-runout, as-found}, or \\{ for a brace that is one"),
        );
    }

    fn place(&self, span: Range<usize>) -> Place {
        Place { source: Arc::clone(self.source), span }
    }

    /// The lines of a paragraph: cues on lines of their own, and between them what is spoken.
    fn paragraph(&mut self, block: &Block, filled: &[Filled]) {
        let mut from = 0;
        let mut run = 0;
        let mut spoken_from = block.range.start;
        let breaks =
            |index: usize| block.pieces.get(index).is_none_or(|piece| piece.kind == PieceKind::Break);
        for index in 0..=block.pieces.len() {
            if !breaks(index) {
                continue;
            }
            let line = Line::of(&block.pieces[from..index]);
            match cue::on_line(&line.text) {
                Some(found) => {
                    self.speech(block, run..from, spoken_from, filled);
                    self.cue(&line, found);
                    run = index + 1;
                    spoken_from = block.pieces.get(run).map_or(block.range.end, |piece| piece.range.start);
                }
                None if index == block.pieces.len() => self.speech(block, run..index, spoken_from, filled),
                None => {}
            }
            from = index + 1;
        }
    }

    fn cue(&mut self, line: &Line, found: Result<Cue, CueProblem>) {
        let place = self.place(line.place(0..line.text.len()));
        let problem = match found {
            Ok(Cue::Still(still)) if self.stills.is_some_and(|stills| !stills.contains(&still.name)) => {
                let known: Vec<&str> = self.stills.unwrap_or_default().iter().map(String::as_str).collect();
                let at = line.text.find(&still.name).unwrap_or(0);
                let place = self.place(line.place(at..at + still.name.len()));
                Problem::error(format!("there is no still '{}'", still.name), place)
                    .expected("expected the name of a still")
                    .help(crate::session::did_you_mean(&still.name, &known))
            }
            Ok(cue) => return self.steps.push(Step::Cue(cue)),
            Err(wrong) => Problem::error(wrong.message, place).expected(wrong.expected).help(cue::HELP),
        };
        self.problems.push(problem);
    }

    fn speech(&mut self, block: &Block, pieces: Range<usize>, from: usize, filled: &[Filled]) {
        let pieces = block.pieces.get(pieces).unwrap_or_default();
        let Some(last) = pieces.iter().rposition(|piece| piece.kind != PieceKind::Break) else { return };
        let pieces = &pieces[..=last];
        let whole = block.pieces.last().is_some_and(|end| end.range == pieces[last].range);
        let to = if whole { block.range.end } else { pieces[last].range.end };
        let inside: Vec<&Filled> =
            filled.iter().filter(|filled| filled.place.start >= from && filled.place.end <= to).collect();
        let speech = speech::speech(&self.source.text, from..to, pieces, &inside);
        if !speech.tokens.is_empty() {
            self.steps.push(Step::Speech(speech));
        }
    }
}

/// A stretch of a text with some ranges replaced; the edits are in order and do not overlap.
fn edited(text: &str, range: Range<usize>, edits: &[(Range<usize>, String)]) -> String {
    let mut out = String::with_capacity(range.len());
    let mut at = range.start;
    for (place, instead) in
        edits.iter().filter(|(place, _)| place.start >= range.start && place.end <= range.end)
    {
        if place.start < at {
            continue;
        }
        out.push_str(text.get(at..place.start).unwrap_or_default());
        out.push_str(instead);
        at = place.end;
    }
    out.push_str(text.get(at..range.end).unwrap_or_default());
    out
}

#[cfg(test)]
mod tests;
