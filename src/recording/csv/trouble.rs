//! What is wrong with a row, as the person who looks into the file will find it.

use std::sync::Arc;

use super::rows::Cell;
use super::time::Format;
use crate::session::{Place, Problem, SourceFile};

/// What is wrong with a row.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Wrong {
    /// More or fewer cells than the rows have.
    Cells { found: usize, wanted: usize },
    /// No number.
    NotANumber { column: String },
    /// Not a number, or infinite.
    NoReading { column: String },
    /// The other decimal sign, or signs between thousands.
    Decimal { column: String, decimal: char },
    /// Another unit than before.
    Unit { column: String, unit: String, before: Option<String> },
    /// No time of the form that the first row has.
    Time { column: String, format: Format },
    /// A byte that is no UTF-8.
    NotUtf8(u8),
}

/// What is wrong with a row, and where it stands.
#[derive(Clone, Debug)]
pub(super) struct Trouble {
    /// Lines above it, in its piece of the file.
    pub(super) lines_above: u64,
    /// Rows above it, in its piece of the file.
    pub(super) row: u64,
    wrong: Wrong,
    shown: Option<Shown>,
}

/// The part of a row that a message shows.
#[derive(Clone, Debug)]
struct Shown {
    text: String,
    /// Characters of its line before it.
    before: usize,
    cell: std::ops::Range<usize>,
}

/// Bytes of a row shown before and after the start of a cell.
const AROUND: usize = 200;

impl Shown {
    fn of(line: &[u8], cell: Cell) -> Self {
        let line_start =
            memchr::memrchr(b'\n', line.get(..cell.start).unwrap_or_default()).map_or(0, |at| at + 1);
        let from = cell.start.saturating_sub(AROUND).max(line_start);
        let to = line.len().min(cell.start + AROUND);
        let part = |range: std::ops::Range<usize>| {
            String::from_utf8_lossy(line.get(range).unwrap_or_default()).into_owned()
        };
        // Cut where a character begins.
        let from = (from..cell.start.max(from))
            .find(|at| is_boundary(line, *at))
            .unwrap_or(cell.start.min(line.len()));
        let to = (cell.start.min(to)..=to).rfind(|at| is_boundary(line, *at)).unwrap_or(to);
        let head = part(from..cell.start.min(to));
        let inside = part(cell.start.min(to)..cell.end.clamp(cell.start, to.max(cell.start)));
        let start = head.len();
        let text = head + &part(cell.start.min(to)..to);
        let end = (start + inside.len()).min(text.len());
        Self { text, before: part(line_start..from).chars().count(), cell: start..end.max(start) }
    }
}

fn is_boundary(bytes: &[u8], at: usize) -> bool {
    bytes.get(at).is_none_or(|byte| byte & 0xc0 != 0x80)
}

impl Trouble {
    /// Something wrong; with the row and the cell where it is to be shown.
    pub(super) fn new(lines_above: u64, row: u64, wrong: Wrong, shown: Option<(&[u8], Cell)>) -> Self {
        Self { lines_above, row, wrong, shown: shown.map(|(line, cell)| Shown::of(line, cell)) }
    }

    /// As a problem of the file of that name, with so many lines above this piece.
    pub(super) fn problem(&self, file: &str, lines_above: u64) -> Option<Problem> {
        let shown = self.shown.as_ref()?;
        let line = usize::try_from(lines_above + self.lines_above + 1).unwrap_or(usize::MAX);
        let typed = shown.text.get(shown.cell.clone()).unwrap_or_default();
        let (message, expected, help) = self.wrong.words(&short(typed));
        let at = place(file, line, shown.before, shown.text.clone(), shown.cell.clone());
        Some(Problem::error(message, at).expected(expected).help(help))
    }
}

/// A place in a file of which only a part is kept.
pub(super) fn place(
    file: &str,
    line: usize,
    before: usize,
    text: String,
    span: std::ops::Range<usize>,
) -> Place {
    let source = SourceFile { name: file.to_owned(), text, first_line: line, first_column: before };
    Place { source: Arc::new(source), span }
}

/// A row's text cut to what a message can quote.
pub(super) fn short(text: &str) -> String {
    if text.chars().count() <= 40 { text.to_owned() } else { text.chars().take(39).chain(['…']).collect() }
}

const STRIKE: &str =
    "strike the stretch if it was bad: struck: [{from: \"0:12\", to: \"0:15\", because: cable pulled}]";

impl Wrong {
    /// What is wrong, what was expected, and how to mend it.
    fn words(&self, typed: &str) -> (String, String, String) {
        match self {
            Self::Cells { found, wanted } => (
                format!("this row has {}, the others have {wanted}", count(*found, "cell")),
                format!("expected {}", count(*wanted, "cell")),
                format!(
                    "if the rows begin further down, write 'skip:' and the number of lines above them; {STRIKE}"
                ),
            ),
            Self::NotANumber { column } => (
                format!("'{typed}' in {column} is not a number"),
                "expected a number".to_owned(),
                format!(
                    "if the rows begin further down, write 'skip:' and the number of lines above them; {STRIKE}"
                ),
            ),
            Self::NoReading { column } => (
                format!("'{typed}' in {column} is not a reading"),
                "expected a number".to_owned(),
                STRIKE.to_owned(),
            ),
            Self::Decimal { column, decimal } => {
                let sign = if *decimal == '.' { "point" } else { "comma" };
                (
                    format!("'{typed}' in {column} is not a number with a decimal {sign}"),
                    format!("expected a decimal {sign} and no marks between thousands"),
                    "say how the file writes numbers, decimal: \".\" or decimal: \",\", and export it without marks \
                     between thousands"
                        .to_owned(),
                )
            }
            Self::Unit { column, unit, before } => (
                match before {
                    Some(before) => format!("mixed units in {column}: {unit} here, {before} before"),
                    None => format!("mixed units in {column}: {unit} here, none before"),
                },
                "expected one unit in the whole column".to_owned(),
                "export the column in one unit".to_owned(),
            ),
            Self::Time { column, format } => (
                format!("'{typed}' in {column} is not a time of this recording"),
                format!("expected {}", wanted(*format)),
                "if the rows begin further down, write 'skip:' and the number of lines above them".to_owned(),
            ),
            Self::NotUtf8(byte) => (
                format!("the file is not UTF-8 (byte 0x{byte:02X})"),
                "no character in UTF-8".to_owned(),
                "say how it is written: encoding: latin-1".to_owned(),
            ),
        }
    }
}

/// What a time of a format looks like.
fn wanted(format: Format) -> &'static str {
    match format {
        Format::Number(_) => "a number, as in the first row",
        Format::Elapsed => "minutes and seconds, 0:12.5, as in the first row",
        Format::OfDay => "a time of day, 14:30:05",
        Format::Date { zoned: true } => "a date and time with its offset from UTC, as in the first row",
        Format::Date { zoned: false } => "a date and time without an offset, as in the first row",
    }
}

/// `1 cell`, `2 cells`.
pub(super) fn count(number: usize, noun: &str) -> String {
    if number == 1 { format!("1 {noun}") } else { format!("{number} {noun}s") }
}

/// A list that a message can hold.
pub(super) fn short_list(names: &[String]) -> String {
    const MOST: usize = 12;
    let shown: Vec<String> = names.iter().take(MOST).map(|name| short(name)).collect();
    let rest = names.len().saturating_sub(MOST);
    if rest == 0 { shown.join(", ") } else { format!("{} and {rest} more", shown.join(", ")) }
}
