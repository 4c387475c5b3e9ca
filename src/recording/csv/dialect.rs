//! How a file is written, from what its beginning shows: separator, header, where the rows begin.
//!
//! The rows are the longest stretch of lines with equally many cells of the same classes, a number or a
//! time among them, over all separators that could have been meant. What two readings fit alike is not
//! guessed but said ([`Unclear`]).

use super::cells::{Class, class};
use super::rows::{Cell, Row, cells, comment_text, is_no_row, line_at, row_at};
use crate::quantity::Unit;
use crate::recording::How;

/// What stands between cells.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Separator {
    /// One byte.
    Byte(u8),
    /// Spaces and tabs, as many as there are.
    Spaces,
    /// Nothing: one cell a row.
    None,
}

impl Separator {
    /// Where the next one stands.
    pub(super) fn find(self, bytes: &[u8]) -> Option<usize> {
        match self {
            Self::Byte(byte) => memchr::memchr(byte, bytes),
            Self::Spaces => memchr::memchr2(b' ', b'\t', bytes),
            Self::None => None,
        }
    }
}

/// In the order in which they are tried; of equals the first is taken.
const CANDIDATES: [Separator; 6] = [
    Separator::Byte(b';'),
    Separator::Byte(b'\t'),
    Separator::Byte(b'|'),
    Separator::Byte(b','),
    Separator::Spaces,
    Separator::None,
];

/// A row longer than this is none.
pub(super) const MOST_ROW: usize = 1 << 20;

/// Rows that are looked at closely.
pub(super) const SAMPLE: usize = 256;

/// How a file is written.
#[derive(Clone, Debug)]
pub(super) struct Layout {
    pub(super) separator: Separator,
    pub(super) line_end: u8,
    /// Cells a row.
    pub(super) width: usize,
    /// The header's cells; none where there is no header.
    pub(super) names: Vec<String>,
    /// Units of a line of units below the header.
    pub(super) units: Vec<String>,
    /// Where the first row begins.
    pub(super) start: usize,
    /// Lines above it.
    pub(super) lines_above: usize,
    /// Lines above the header, or above the first row where there is none.
    pub(super) preamble: usize,
    /// The first rows.
    pub(super) sample: Vec<Row>,
}

/// Why the beginning of a file does not show how it is written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Unclear {
    /// Nothing but white space.
    Empty,
    /// Lines, but none of numbers. The last of them is given.
    NoRows { row: Row, line: usize },
    /// A line longer than any row.
    Endless { row: Row, line: usize },
    /// A comma may stand between cells or in numbers.
    Comma { row: Row, line: usize },
}

/// A line of the beginning.
#[derive(Clone, Copy, Debug)]
struct Line {
    row: Row,
    /// Lines above it.
    above: usize,
}

/// The lines of the beginning, quotes honoured where they close.
fn lines(head: &[u8], line_end: u8, skip: usize) -> (Vec<Line>, usize) {
    let mut list = Vec::new();
    let (mut at, mut above) = (0, 0);
    while above < skip {
        let Some(row) = line_at(head, at, line_end) else { break };
        at = row.next;
        above += 1;
    }
    let skipped = above;
    while let Some(row) = row_at(head, at, line_end).or_else(|| line_at(head, at, line_end)) {
        list.push(Line { row, above });
        at = row.next;
        above += row.lines;
    }
    (list, skipped)
}

/// The line end of a file: a carriage return where there is no line feed.
pub(super) fn line_end(head: &[u8]) -> u8 {
    let feeds = memchr::memchr(b'\n', head).is_some();
    if !feeds && memchr::memchr(b'\r', head).is_some() { b'\r' } else { b'\n' }
}

/// A stretch of like rows.
#[derive(Clone, Debug, Default)]
struct Stretch {
    classes: Vec<Class>,
    length: usize,
}

impl Stretch {
    fn share(&self) -> f64 {
        let said = self.classes.iter().filter(|class| matches!(class, Class::Number | Class::Time)).count();
        said as f64 / self.classes.len().max(1) as f64
    }

    fn weight(&self) -> f64 {
        self.length as f64 * self.share()
    }

    fn admits(&self, classes: &[Class]) -> bool {
        classes.len() == self.classes.len()
            && classes.iter().zip(&self.classes).all(|(cell, column)| cell.fits(*column))
    }

    fn take(&mut self, classes: &[Class]) {
        for (column, cell) in self.classes.iter_mut().zip(classes) {
            if *column == Class::Empty {
                *column = *cell;
            }
        }
        self.length += 1;
    }
}

fn classes(head: &[u8], row: Row, separator: Separator, scratch: &mut Vec<Cell>) -> Vec<Class> {
    let line = &head[row.start..row.end];
    cells(line, separator, scratch);
    scratch.iter().map(|cell| class(cell.of(line))).collect()
}

fn holds_number(classes: &[Class]) -> bool {
    classes.iter().any(|class| matches!(class, Class::Number | Class::Time))
}

/// The longest stretch of like rows under a separator.
fn longest(head: &[u8], list: &[Line], separator: Separator) -> Stretch {
    let mut scratch = Vec::new();
    let mut best = Stretch::default();
    let mut current = Stretch::default();
    for line in list {
        if is_no_row(&head[line.row.start..line.row.end], separator) {
            continue;
        }
        let found = classes(head, line.row, separator, &mut scratch);
        if current.admits(&found) {
            current.take(&found);
        } else {
            let length = usize::from(holds_number(&found));
            current = Stretch { classes: found, length };
        }
        if current.weight() > best.weight() {
            best.clone_from(&current);
        }
    }
    best
}

/// The first line that is a row like the others, or a damaged one above it.
fn first_row(head: &[u8], list: &[Line], separator: Separator, stretch: &Stretch, how: &How) -> usize {
    let mut scratch = Vec::new();
    let is_row = |line: &Line| !is_no_row(&head[line.row.start..line.row.end], separator);
    let mut found = |line: &Line| classes(head, line.row, separator, &mut scratch);
    let mut like = |line: &Line| {
        let classes = found(line);
        stretch.admits(&classes) && holds_number(&classes)
    };
    let mut first = list.iter().position(|line| is_row(line) && like(line)).unwrap_or(0);
    // Damaged rows belong to the rows: as many cells, and a number where there should be one.
    while first > 0 && how.header != Some(true) {
        let above = &list[first - 1];
        if is_row(above) {
            let classes = found(above);
            let numbers = classes
                .iter()
                .zip(&stretch.classes)
                .any(|(cell, column)| matches!(cell, Class::Number | Class::Time) && cell == column);
            if classes.len() != stretch.classes.len() || !numbers {
                break;
            }
        }
        first -= 1;
    }
    // Where only comments and empty lines were passed, they stay above.
    while first + 1 < list.len() && !is_row(&list[first]) {
        first += 1;
    }
    first
}

impl Layout {
    /// What the beginning of a file shows, with what the session says of it.
    pub(super) fn of(head: &[u8], how: &How) -> Result<Self, Unclear> {
        let line_end = line_end(head);
        let (list, skipped) = lines(head, line_end, how.skip.unwrap_or(0));
        if let Some(line) = list.iter().find(|line| line.row.end - line.row.start > MOST_ROW) {
            return Err(Unclear::Endless { row: line.row, line: line.above + 1 });
        }
        let candidates: Vec<Separator> = match how.separator {
            Some(' ') => vec![Separator::Spaces],
            Some(byte) => vec![Separator::Byte(u8::try_from(byte).unwrap_or(b','))],
            None => CANDIDATES
                .into_iter()
                .filter(|one| how.decimal != Some(',') || *one != Separator::Byte(b','))
                .collect(),
        };
        let mut best: Option<(Separator, Stretch)> = None;
        for separator in candidates {
            let stretch = longest(head, &list, separator);
            let better = best.as_ref().is_none_or(|(_, best)| stretch.weight() > best.weight());
            // One cell a row is what there is without a separator.
            let splits = stretch.classes.len() > 1 || separator == Separator::None || how.separator.is_some();
            if stretch.length > 0 && splits && better {
                best = Some((separator, stretch));
            }
        }
        let Some((separator, stretch)) = best else {
            let filled = |line: &&Line| !head[line.row.start..line.row.end].trim_ascii().is_empty();
            return Err(list
                .iter()
                .rfind(filled)
                .map_or(Unclear::Empty, |line| Unclear::NoRows { row: line.row, line: line.above + 1 }));
        };
        let mut layout = Self::placed(head, &list, separator, &stretch, how);
        layout.line_end = line_end;
        layout.preamble += if list.is_empty() { skipped } else { 0 };
        if layout.sample.is_empty() {
            return Err(list
                .last()
                .map_or(Unclear::Empty, |line| Unclear::NoRows { row: line.row, line: line.above + 1 }));
        }
        layout.refuse_a_doubtful_comma(head, how)?;
        Ok(layout)
    }

    /// Finds the first row and the header above it.
    fn placed(head: &[u8], list: &[Line], separator: Separator, stretch: &Stretch, how: &How) -> Self {
        let is_row = |line: &Line| !is_no_row(&head[line.row.start..line.row.end], separator);
        let mut first = first_row(head, list, separator, stretch, how);
        let width = stretch.classes.len();
        let mut layout = Self {
            separator,
            line_end: b'\n',
            width,
            names: Vec::new(),
            units: Vec::new(),
            start: 0,
            lines_above: 0,
            preamble: 0,
            sample: Vec::new(),
        };
        let mut header_at = None;
        if how.header != Some(false) {
            header_at = layout.header(head, list, first, how);
        }
        if let Some(at) = header_at.filter(|at| *at >= first) {
            // `header: true` on a line that looks like a row.
            first = (at + 1).min(list.len());
        }
        let end = list.last().map_or(0, |line| line.row.next);
        let line = list.get(first);
        layout.start = line.map_or(end, |line| line.row.start);
        layout.lines_above =
            line.map_or_else(|| list.last().map_or(0, |line| line.above + line.row.lines), |line| line.above);
        let unit_lines = usize::from(!layout.units.is_empty());
        layout.preamble = header_at.map_or(layout.lines_above, |at| list[at].above);
        layout.preamble = layout.preamble.min(layout.lines_above.saturating_sub(unit_lines));
        layout.sample = list[first.min(list.len())..]
            .iter()
            .filter(|line| is_row(line))
            .take(SAMPLE)
            .map(|line| line.row)
            .collect();
        layout
    }

    /// The header: the nearest line above the first row that has as many cells and no number. A line
    /// of units may stand between. A comment may be one.
    fn header(&mut self, head: &[u8], list: &[Line], first: usize, how: &How) -> Option<usize> {
        let mut at = first;
        if how.header == Some(true) && how.skip.is_some() {
            // The first line that the session left to be read.
            let filled = |line: &Line| !head[line.row.start..line.row.end].trim_ascii().is_empty();
            let at = list.iter().position(filled)?;
            self.names = self.names_in(&head[list[at].row.start..list[at].row.end]);
            return Some(at);
        }
        while at > 0 {
            at -= 1;
            let line = &head[list[at].row.start..list[at].row.end];
            if line.trim_ascii().is_empty() {
                continue;
            }
            let is_comment = is_no_row(line, self.separator);
            let text = if is_comment { comment_text(line)? } else { line };
            let names = self.names_in(text);
            let fits = names.len() == self.width || (names.len() + 1 == self.width && self.width > 2);
            let numbers = names.iter().any(|name| class(name.as_bytes()) == Class::Number);
            let filled = names.iter().any(|name| !name.is_empty());
            let forced = how.header == Some(true);
            if !fits || !filled || (numbers && !forced) || (is_comment && self.width == 1) {
                if is_comment {
                    continue;
                }
                return None;
            }
            if self.units.is_empty()
                && names.iter().all(|name| is_unit(name))
                && self.header_above(head, list, at)
            {
                self.units = names;
                continue;
            }
            self.names = names;
            return Some(at);
        }
        None
    }

    fn names_in(&self, line: &[u8]) -> Vec<String> {
        let mut found = Vec::new();
        cells(line, self.separator, &mut found);
        found.iter().map(|cell| cell.text(line)).collect()
    }

    /// Whether the line above could be the header, so that this one may hold units.
    fn header_above(&self, head: &[u8], list: &[Line], at: usize) -> bool {
        let Some(above) = at.checked_sub(1).and_then(|index| list.get(index)) else {
            return false;
        };
        let names = self.names_in(&head[above.row.start..above.row.end]);
        names.len() == self.width && names.iter().all(|name| class(name.as_bytes()) == Class::Text)
    }

    /// `0,12` may be two cells or one number. A header with as many names, a sign or a point shows which.
    fn refuse_a_doubtful_comma(&self, head: &[u8], how: &How) -> Result<(), Unclear> {
        let doubtful = self.separator == Separator::Byte(b',')
            && how.separator.is_none()
            && how.decimal.is_none()
            && self.names.is_empty();
        if !doubtful || self.width < 2 {
            return Ok(());
        }
        let mut scratch = Vec::new();
        // Whether every cell of a column could be the part before a comma, or the part after it.
        let mut before = vec![true; self.width];
        let mut after = vec![true; self.width];
        for row in &self.sample {
            let line = &head[row.start..row.end];
            cells(line, self.separator, &mut scratch);
            if scratch.len() != self.width {
                continue;
            }
            for (index, cell) in scratch.iter().enumerate() {
                let content = cell.of(line);
                let digits = content.iter().all(u8::is_ascii_digit) && !content.is_empty() && !cell.quoted;
                let unsigned =
                    content.strip_prefix(b"-").or_else(|| content.strip_prefix(b"+")).unwrap_or(content);
                let whole = unsigned.iter().all(u8::is_ascii_digit) && !unsigned.is_empty() && !cell.quoted;
                before[index] &= whole;
                after[index] &= digits;
            }
        }
        let doubtful = before.iter().zip(after.iter().skip(1)).any(|(first, second)| *first && *second);
        match self.sample.first() {
            Some(row) if doubtful => Err(Unclear::Comma { row: *row, line: self.lines_above + 1 }),
            _ => Ok(()),
        }
    }
}

/// Whether a cell of a header is nothing but a unit: `g`, `(m/s²)`, `[s]`, or empty.
fn is_unit(cell: &str) -> bool {
    let plain = cell.trim().trim_matches(['(', ')', '[', ']']).trim();
    plain.is_empty() || cell.starts_with(['(', '[']) || Unit::is_spelled(plain)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn layout(text: &str) -> Layout {
        Layout::of(text.as_bytes(), &How::default()).expect(text)
    }

    #[test]
    fn the_file_shows_its_separator() {
        for (text, separator, width) in [
            ("t,x\n0,1.5\n1,2.5\n", Separator::Byte(b','), 2),
            ("t;x\n0;1,5\n1;2,5\n", Separator::Byte(b';'), 2),
            ("0\t1,5\n1\t2,5\n", Separator::Byte(b'\t'), 2),
            ("0|1.5|ok\n1|2.5|ok\n", Separator::Byte(b'|'), 3),
            ("  0   1.5\n 10   2.5\n", Separator::Spaces, 2),
            ("1.5\n2.5\n", Separator::None, 1),
            ("2026-03-02 14:30:00;1,5\n2026-03-02 14:30:01;2,5\n", Separator::Byte(b';'), 2),
            ("2026-03-02 14:30:00,1.5\n2026-03-02 14:30:01,2.5\n", Separator::Byte(b','), 2),
            ("1,5 2,5\n2,5 3,5\n", Separator::Spaces, 2),
            ("0, 1.5\n1, 2.5\n", Separator::Byte(b','), 2),
        ] {
            let found = layout(text);
            assert_eq!((found.separator, found.width), (separator, width), "{text}");
        }
    }

    #[test]
    fn a_preamble_is_not_taken_for_rows() {
        let found = layout("Logger 7\nRate: 3200\nStarted,2026\n\ntime (s),ax [g]\n0,0.1\n1,0.2\n");
        assert_eq!(found.names, ["time (s)", "ax [g]"]);
        assert_eq!((found.preamble, found.lines_above), (4, 5));
        let long = format!("{}t,x\n0,1.5\n1,2.5\n", "# a line of words, and more words\n".repeat(5000));
        let found = layout(&long);
        assert_eq!((found.preamble, found.lines_above), (5000, 5001));
        assert_eq!(found.names, ["t", "x"]);
    }

    #[test]
    fn a_header_may_be_a_comment_and_may_have_units_below() {
        assert_eq!(layout("# t, x\n0,1.5\n1,2.5\n").names, ["t", "x"]);
        let found = layout("t;x\ns;mm/s\n0;1,5\n1;2,5\n");
        assert_eq!(found.names, ["t", "x"]);
        assert_eq!(found.units, ["s", "mm/s"]);
        assert_eq!(found.preamble, 0);
    }

    #[test]
    fn a_damaged_first_row_is_still_a_row() {
        let found = layout("t,x\n0,abc\n1,2.5\n2,3.5\n");
        assert_eq!(found.lines_above, 1);
        assert_eq!(found.names, ["t", "x"]);
    }

    #[test]
    fn a_comma_that_could_be_two_things_is_not_guessed() {
        for text in ["0,12\n1,15\n", "12,5,3,4\n11,5,3,4\n"] {
            assert!(
                matches!(Layout::of(text.as_bytes(), &How::default()), Err(Unclear::Comma { .. })),
                "{text}"
            );
        }
        for text in [
            "t,x\n0,12\n1,15\n",
            "0,-5\n1,-7\n",
            "0.5,3\n1.5,4\n",
            "2026-03-02T10:00,5\n2026-03-02T10:01,5\n",
        ] {
            assert_eq!(layout(text).separator, Separator::Byte(b','), "{text}");
        }
        let how = How { separator: Some(','), ..How::default() };
        assert!(Layout::of(b"0,12\n1,15\n", &how).is_ok());
        let how = How { decimal: Some(','), ..How::default() };
        assert_eq!(Layout::of(b"0,12\n1,15\n", &how).map(|found| found.separator), Ok(Separator::None));
    }

    #[test]
    fn no_rows_are_said() {
        assert_eq!(Layout::of(b"", &How::default()).map(|_| ()), Err(Unclear::Empty));
        assert_eq!(Layout::of(b" \n\n", &How::default()).map(|_| ()), Err(Unclear::Empty));
        assert!(matches!(Layout::of(b"t,x\n", &How::default()), Err(Unclear::NoRows { line: 1, .. })));
    }
}
