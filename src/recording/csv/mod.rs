//! CSV in all its dialects, in one pass with bounded memory.
//!
//! The beginning of the file shows how it is written ([`dialect`]); then pieces that end with a row are
//! turned into columns of numbers side by side ([`stream`], [`plan`]) while the piece before them is heard.

mod begin;
mod cells;
mod columns;
mod dialect;
mod number;
mod plan;
mod rows;
mod source;
mod stream;
#[cfg(test)]
mod tests;
mod time;
mod trouble;

use std::io::Read;

use super::account::Keeper;
use super::{Account, Listener, Recording, Request};
use crate::session::{Problem, Problems};
use dialect::{Layout, Unclear};
use source::Text;
use stream::Sizes;

/// Hears a CSV file to its end.
pub(super) fn listen(
    recording: &Recording,
    request: &Request,
    listener: &mut dyn Listener,
    problems: &mut Problems,
) -> Option<Account> {
    let latin1 = recording.how.encoding.as_deref() == Some("latin-1");
    match Text::open(&recording.path, latin1) {
        Ok(text) => hear(recording, request, text, Sizes::default(), listener, problems),
        Err(error) => {
            say_unreadable(recording, &error, problems);
            None
        }
    }
}

fn say_unreadable(recording: &Recording, error: &std::io::Error, problems: &mut Problems) {
    problems.push(
        Problem::error(
            format!("'{}': the file cannot be read: {error}", recording.name),
            recording.place.clone(),
        )
        .expected("expected a file that can be read")
        .help("copy it from the instrument again"),
    );
}

/// The same of any bytes, in pieces of any size.
fn hear<R: Read>(
    recording: &Recording,
    request: &Request,
    mut text: Text<R>,
    sizes: Sizes,
    listener: &mut dyn Listener,
    problems: &mut Problems,
) -> Option<Account> {
    let before = problems.errors();
    let mut head = Vec::new();
    let layout = match look(recording, &mut text, &mut head, sizes, problems) {
        Ok(layout) => layout?,
        Err(error) => {
            say_unreadable(recording, &error, problems);
            return None;
        }
    };
    let begun = begin::begin(recording, request, &head, &layout, problems)?;
    let mut keeper = Keeper::new(listener, &begun.start, begun.plan.clock.is_some(), &recording.struck);
    if begun.plan.clock.as_ref().is_some_and(|clock| clock.format == time::Format::OfDay) {
        keeper.over_midnight();
    }
    let rest = head.split_off(layout.start);
    let read =
        stream::run(&begun.plan, text, rest, &layout, sizes, &recording.shown(), &mut keeper, problems);
    let totals = match read {
        Ok(totals) => totals,
        Err(error) => {
            say_unreadable(recording, &error, problems);
            return None;
        }
    };
    if problems.errors() > before {
        return None;
    }
    let mut account = keeper.finish();
    if account.samples == 0 {
        problems.push(
            Problem::error(
                format!("'{}' holds no row with readings that count", recording.name),
                recording.place.clone(),
            )
            .expected("expected rows that are neither struck nor empty")
            .help("strike less of it, or name a column that holds readings"),
        );
        return None;
    }
    account.preamble = layout.preamble;
    account.comments = totals.comments;
    account.struck += totals.struck;
    for (index, channel) in account.channels.iter_mut().enumerate() {
        let field = begun.plan.channels.get(index).copied().unwrap_or(0);
        channel.missing = totals.missing.get(field).copied().unwrap_or(0);
        channel.unit = begun.plan.fields.get(field).and_then(|field| field.unit.clone());
    }
    Some(account)
}

/// Bytes of the beginning that are looked at, and as many where those show no row.
const HEADS: [usize; 2] = [256 << 10, 16 << 20];

/// Reads the beginning and finds out how the file is written.
fn look<R: Read>(
    recording: &Recording,
    text: &mut Text<R>,
    head: &mut Vec<u8>,
    sizes: Sizes,
    problems: &mut Problems,
) -> std::io::Result<Option<Layout>> {
    let mut seen = Err(Unclear::Empty);
    for most in HEADS {
        while head.len() < most && !text.ended() {
            text.more(head, (most - head.len()).min(sizes.read))?;
        }
        if text.ended() {
            stream::close(head);
        }
        if let Some(at) = memchr::memchr(0, head) {
            say_binary(recording, at, problems);
            return Ok(None);
        }
        let end = head.len();
        let whole = memchr::memrchr(dialect::line_end(head), head).map_or(0, |at| at + 1);
        seen = Layout::of(head.get(..whole.min(end)).unwrap_or_default(), &recording.how);
        let more = matches!(seen, Err(Unclear::Empty | Unclear::NoRows { .. })) && !text.ended();
        if !more {
            break;
        }
    }
    match seen {
        Ok(layout) => Ok(Some(layout)),
        Err(unclear) => {
            say_unclear(recording, &unclear, head, text.ended(), problems);
            Ok(None)
        }
    }
}

fn say_binary(recording: &Recording, at: usize, problems: &mut Problems) {
    problems.push(
        Problem::error(
            format!("'{}' is neither a WAV file nor a text (byte {} is zero)", recording.name, at + 1),
            recording.place.clone(),
        )
        .expected("expected a CSV or WAV file")
        .help("export the recording as CSV, or sound as WAV"),
    );
}

fn say_unclear(recording: &Recording, unclear: &Unclear, head: &[u8], ended: bool, problems: &mut Problems) {
    let shown = recording.shown();
    let at = |row: &rows::Row, line: usize| {
        let bytes = head.get(row.start..row.end.min(row.start + 400)).unwrap_or_default();
        let text = String::from_utf8_lossy(bytes).into_owned();
        let end = text.find('\n').unwrap_or(text.len());
        trouble::place(&shown, line, 0, text, 0..end)
    };
    let problem = match unclear {
        Unclear::Empty if ended => Problem::error(format!("'{}' is empty", recording.name), recording.place.clone())
            .expected("expected a recording with at least two rows")
            .help("copy it from the instrument again"),
        Unclear::Empty => {
            Problem::error(format!("a line of '{}' does not end", recording.name), recording.place.clone())
                .expected("expected rows of readings, a line each")
                .help("export the recording as CSV with one row a line")
        }
        Unclear::NoRows { row, line } => {
            Problem::error(format!("'{}' holds no row of numbers", recording.name), at(row, *line))
                .expected("the last line that holds anything")
                .help("is this the recording? Where the rows are below a long preamble, write 'skip:' and the number of lines above them")
        }
        Unclear::Endless { row, line } => {
            Problem::error("this line is longer than a megabyte", at(row, *line))
                .expected("expected rows of readings, a line each")
                .help("export the recording as CSV with one row a line")
        }
        Unclear::Comma { row, line } => {
            Problem::error("a comma here may stand between columns or in a number", at(row, *line))
                .expected("two columns, or a decimal comma?")
                .help("write separator: \",\" or decimal: \",\" beside 'file:'")
        }
    };
    problems.push(problem);
}
