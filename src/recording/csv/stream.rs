//! The rows of a file in pieces: one batch is read, the one before it is turned into numbers on all
//! cores, and the one before that is heard, at the same time. Three batches are all that is ever held.

use std::io::{self, Read};
use std::ops::Range;

use super::dialect::{Layout, MOST_ROW};
use super::plan::{Parsed, Plan};
use super::rows::row_at;
use super::source::Text;
use super::trouble::{count, place};
use crate::recording::account::Keeper;
use crate::session::{Problem, Problems};

/// How much is read at a time, and how much one core gets at a time, bytes.
#[derive(Clone, Copy, Debug)]
pub(super) struct Sizes {
    pub(super) read: usize,
    pub(super) piece: usize,
}

impl Default for Sizes {
    fn default() -> Self {
        Self { read: 4 << 20, piece: 512 << 10 }
    }
}

/// Rows of a file that are shown with what is wrong in them.
const SAID: usize = 12;

/// What was read besides samples.
#[derive(Debug, Default)]
pub(super) struct Totals {
    lines: u64,
    rows: u64,
    pub(super) comments: u64,
    pub(super) struck: u64,
    /// Empty cells of each field.
    pub(super) missing: Vec<u64>,
    said: usize,
    unsaid: u64,
}

/// Some whole rows.
#[derive(Debug, Default)]
struct Batch {
    text: Vec<u8>,
    /// The end of the last whole row.
    whole: usize,
    pieces: Vec<Range<usize>>,
    parsed: Vec<Parsed>,
    /// What follows cannot be a row.
    endless: bool,
}

/// A last line without an end gets one.
pub(super) fn close(text: &mut Vec<u8>) {
    let end = super::dialect::line_end(text);
    if text.last().is_some_and(|last| *last != end) {
        text.push(end);
    }
}

impl Batch {
    /// Reads on until there is a whole row; what is left over waits in `rest`.
    fn fill<R: Read>(
        &mut self,
        text: &mut Text<R>,
        rest: &mut Vec<u8>,
        line_end: u8,
        sizes: Sizes,
    ) -> io::Result<()> {
        self.text.clear();
        self.pieces.clear();
        self.endless = false;
        self.whole = 0;
        self.text.append(rest);
        loop {
            let room = sizes.read.saturating_sub(self.text.len()).max(sizes.read.min(MOST_ROW));
            text.more(&mut self.text, room)?;
            if text.ended() && self.text.last().is_some_and(|last| *last != line_end) {
                self.text.push(line_end);
            }
            self.cut(line_end, sizes.piece);
            if self.text.len() - self.whole > MOST_ROW || (text.ended() && self.whole < self.text.len()) {
                self.endless = true;
                return Ok(());
            }
            if !self.pieces.is_empty() || text.ended() {
                rest.extend_from_slice(&self.text[self.whole..]);
                return Ok(());
            }
        }
    }

    /// Cuts the text into pieces that end with a row.
    fn cut(&mut self, line_end: u8, piece: usize) {
        self.pieces.clear();
        let text = self.text.as_slice();
        let quotes = memchr::memchr(b'"', text).is_some();
        let (mut from, mut at) = (0, 0);
        loop {
            let next = if quotes {
                row_at(text, at, line_end).map(|row| row.next)
            } else {
                let ahead = (from + piece).min(text.len()).saturating_sub(1).max(at);
                let after = memchr::memchr(line_end, text.get(ahead..).unwrap_or_default());
                after.map(|offset| ahead + offset + 1).or_else(|| {
                    memchr::memrchr(line_end, text.get(at..).unwrap_or_default())
                        .map(|offset| at + offset + 1)
                })
            };
            let Some(next) = next else {
                break;
            };
            at = next;
            if at - from >= piece {
                self.pieces.push(from..at);
                from = at;
            }
        }
        if at > from {
            self.pieces.push(from..at);
        }
        self.whole = at;
    }
}

/// Reads all rows and has them heard. What is wrong with rows goes to `problems`.
#[expect(clippy::too_many_arguments, reason = "each is one thing, used here alone")]
pub(super) fn run<R: Read>(
    plan: &Plan,
    mut text: Text<R>,
    mut rest: Vec<u8>,
    layout: &Layout,
    sizes: Sizes,
    file: &str,
    keeper: &mut Keeper<'_>,
    problems: &mut Problems,
) -> io::Result<Totals> {
    let mut totals = Totals { missing: vec![0; plan.fields.len()], ..Totals::default() };
    totals.lines = layout.lines_above as u64;
    let (mut done, mut current, mut next) = (Batch::default(), Batch::default(), Batch::default());
    current.fill(&mut text, &mut rest, plan.line_end, sizes)?;
    while !current.pieces.is_empty() || current.endless || !done.pieces.is_empty() {
        let stop = current.endless;
        let pieces = current.pieces.len();
        if current.parsed.len() < pieces {
            current.parsed.resize_with(pieces, Parsed::default);
        }
        let bytes = current.text.as_slice();
        let work = current.pieces.iter().zip(current.parsed.iter_mut());
        rayon::in_place_scope(|scope| -> io::Result<()> {
            for (piece, parsed) in work {
                scope.spawn(move |_| plan.parse(bytes, piece.clone(), parsed));
            }
            next.pieces.clear();
            next.endless = false;
            if !stop {
                next.fill(&mut text, &mut rest, plan.line_end, sizes)?;
            }
            hear(&done, plan, file, &mut totals, keeper, problems);
            Ok(())
        })?;
        if current.endless {
            hear(&current, plan, file, &mut totals, keeper, problems);
            say_endless(&current, plan.line_end, file, totals.lines, problems);
            break;
        }
        std::mem::swap(&mut done, &mut current);
        std::mem::swap(&mut current, &mut next);
    }
    if totals.unsaid > 0 {
        let rows = count(usize::try_from(totals.unsaid).unwrap_or(usize::MAX), "more row");
        let verb = if totals.unsaid == 1 { "is" } else { "are" };
        let last = usize::try_from(totals.lines).unwrap_or(usize::MAX);
        let place = place(file, last.max(1), 0, String::new(), 0..0);
        problems.push(
            Problem::error(format!("{rows} of this file {verb} wrong"), place)
                .help("the first ones are shown; most often one cause is behind them all"),
        );
    }
    Ok(totals)
}

/// Hears a batch's rows, unless something was wrong.
fn hear(
    batch: &Batch,
    plan: &Plan,
    file: &str,
    totals: &mut Totals,
    keeper: &mut Keeper<'_>,
    problems: &mut Problems,
) {
    for parsed in batch.parsed.iter().take(batch.pieces.len()) {
        for trouble in &parsed.troubles {
            if plan.clock.is_none() && keeper.is_struck(totals.rows + trouble.row) {
                totals.struck += 1;
                continue;
            }
            match trouble.problem(file, totals.lines).filter(|_| totals.said < SAID) {
                Some(problem) => {
                    totals.said += 1;
                    problems.push(problem);
                }
                None => totals.unsaid += 1,
            }
        }
        totals.lines += parsed.lines;
        totals.rows += parsed.rows;
        totals.comments += parsed.comments;
        totals.struck += parsed.struck;
        for (all, missing) in totals.missing.iter_mut().zip(&parsed.missing) {
            *all += missing;
        }
        if totals.said + usize::try_from(totals.unsaid).unwrap_or(1) == 0 {
            speak(parsed, plan, keeper);
        }
    }
}

fn speak(parsed: &Parsed, plan: &Plan, keeper: &mut Keeper<'_>) {
    let part = |range: Range<usize>| -> Vec<&[f64]> {
        plan.channels.iter().map(|field| &parsed.values[*field][range.clone()]).collect()
    };
    let samples = parsed.samples();
    if plan.clock.is_some() {
        keeper.of_day(&parsed.times, &part(0..samples));
        return;
    }
    let mut from = 0;
    for (before, lost) in &parsed.holes {
        keeper.rated(&part(from..*before));
        keeper.hole(*lost);
        from = *before;
    }
    keeper.rated(&part(from..samples));
}

fn say_endless(batch: &Batch, line_end: u8, file: &str, lines: u64, problems: &mut Problems) {
    let rest = batch.text.get(batch.whole..).unwrap_or_default();
    let line = usize::try_from(lines + 1).unwrap_or(usize::MAX);
    let text = String::from_utf8_lossy(rest.get(..rest.len().min(200)).unwrap_or_default()).into_owned();
    let first = memchr::memchr(line_end, rest).is_some_and(|at| at + 1 < rest.len() || at < MOST_ROW);
    let (message, expected, help) = if first && memchr::memchr(b'"', rest).is_some() {
        (
            "a quote in this row is never closed".to_owned(),
            "expected a closing quote",
            "close the quote, or take it out; where this line is no row, write 'skip:' and the number of lines above the rows",
        )
    } else {
        (
            "this line is longer than a megabyte".to_owned(),
            "expected rows of readings, a line each",
            "export the recording as CSV with one row a line",
        )
    };
    let end = text.find(['\n', '\r']).unwrap_or(text.len());
    problems.push(Problem::error(message, place(file, line, 0, text, 0..end)).expected(expected).help(help));
}
