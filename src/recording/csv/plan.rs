//! Rows to numbers: a fast way for rows that are as the rows before them, and a careful way for all
//! others, which also says what is wrong.

use std::ops::Range;

use super::cells::{Shape, is_no_reading};
use super::dialect::Separator;
use super::number::number;
use super::rows::{Cell, Row, cells, is_no_row, row_at};
use super::time::{Format, Moment};
use super::trouble::{Trouble, Wrong};
use crate::recording::Stretch;

/// What is read of a column.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Slot {
    Skip,
    Time,
    Value(usize),
}

/// A column whose numbers are wanted.
#[derive(Clone, Debug)]
pub(super) struct Field {
    pub(super) name: String,
    /// The unit of its header, or of its first cell.
    pub(super) unit: Option<String>,
}

/// The column of times.
#[derive(Clone, Debug)]
pub(super) struct Clock {
    pub(super) name: String,
    pub(super) format: Format,
    /// The first row's time.
    pub(super) base: Moment,
}

/// How rows become numbers.
#[derive(Clone, Debug)]
pub(super) struct Plan {
    pub(super) separator: Separator,
    pub(super) line_end: u8,
    pub(super) decimal: u8,
    /// A slot for each cell of a row.
    pub(super) slots: Vec<Slot>,
    pub(super) fields: Vec<Field>,
    /// The field of each channel: a column may be asked for twice.
    pub(super) channels: Vec<usize>,
    pub(super) clock: Option<Clock>,
    pub(super) struck: Vec<Stretch>,
}

/// Rows read: columns of numbers, and what was left out.
#[derive(Debug, Default)]
pub(super) struct Parsed {
    /// Seconds since the first row; empty where there is no column of times.
    pub(super) times: Vec<f64>,
    /// A column for each field.
    pub(super) values: Vec<Vec<f64>>,
    /// Rows, those left out too.
    pub(super) rows: u64,
    /// Physical lines.
    pub(super) lines: u64,
    /// Comments and empty lines.
    pub(super) comments: u64,
    /// Before which sample rows were left out, and how many.
    pub(super) holes: Vec<(usize, u64)>,
    /// Empty cells, for each field.
    pub(super) missing: Vec<u64>,
    /// Rows of struck stretches that could not be read and need not be.
    pub(super) struck: u64,
    /// What is wrong; the first few with their text.
    pub(super) troubles: Vec<Trouble>,
}

impl Parsed {
    fn clear(&mut self, fields: usize) {
        self.times.clear();
        self.values.resize_with(fields, Vec::new);
        self.values.iter_mut().for_each(Vec::clear);
        (self.rows, self.lines, self.comments, self.struck) = (0, 0, 0, 0);
        self.holes.clear();
        self.missing.clear();
        self.missing.resize(fields, 0);
        self.troubles.clear();
    }

    /// Samples read.
    pub(super) fn samples(&self) -> usize {
        self.values.first().map_or(0, Vec::len)
    }

    fn hole(&mut self) {
        let at = self.samples();
        match self.holes.last_mut() {
            Some((before, count)) if *before == at => *count += 1,
            _ => self.holes.push((at, 1)),
        }
    }
}

/// Troubles that are kept with their text, of each piece of a file.
const SAID: usize = 12;

impl Plan {
    /// Reads the rows of a piece that ends with a row.
    pub(super) fn parse(&self, text: &[u8], piece: Range<usize>, parsed: &mut Parsed) {
        parsed.clear(self.fields.len());
        let bytes = text.get(piece.clone()).unwrap_or_default();
        let is_text = bytes.is_ascii() || std::str::from_utf8(bytes).is_ok();
        let mut scratch = Vec::new();
        let mut row = vec![0.0; self.fields.len()];
        let mut at = piece.start;
        while at < piece.end {
            let mut seconds = 0.0;
            if is_text && let Some(next) = self.quick(text, at, &mut row, &mut seconds) {
                for (column, value) in parsed.values.iter_mut().zip(&row) {
                    column.push(*value);
                }
                if self.clock.is_some() {
                    parsed.times.push(seconds);
                }
                parsed.rows += 1;
                parsed.lines += 1;
                at = next;
                continue;
            }
            let Some(found) = row_at(text, at, self.line_end) else {
                return;
            };
            self.careful(text, found, &mut row, &mut scratch, parsed);
            parsed.lines += found.lines as u64;
            at = found.next;
        }
    }

    /// A row of plain numbers. `None` where it is anything else.
    #[inline]
    fn quick(&self, text: &[u8], start: usize, row: &mut [f64], seconds: &mut f64) -> Option<usize> {
        let mut at = start;
        let (separator, spaces) = match self.separator {
            Separator::Byte(byte) => (byte, false),
            Separator::Spaces => (b' ', true),
            Separator::None => (self.line_end, false),
        };
        let last = self.slots.len() - 1;
        for (index, slot) in self.slots.iter().enumerate() {
            while *text.get(at)? == b' ' {
                at += 1;
            }
            match slot {
                Slot::Value(field) => {
                    let (value, end) = number(text, at, self.decimal)?;
                    *row.get_mut(*field)? = value;
                    at = end;
                }
                Slot::Time => at = self.quick_time(text, at, separator, seconds)?,
                Slot::Skip => {
                    let first = *text.get(at)?;
                    if first == b'"' || (index == 0 && matches!(first, b'#' | b'/' | b';')) {
                        return None;
                    }
                    at += memchr::memchr2(separator, self.line_end, text.get(at..)?)?;
                }
            }
            let byte = *text.get(at)?;
            if index < last {
                if byte != separator || (spaces && text.get(at + 1) == Some(&b'\t')) {
                    return None;
                }
                at += 1;
            } else if byte == self.line_end {
                return Some(at + 1);
            } else if byte == b'\r' && text.get(at + 1) == Some(&self.line_end) {
                return Some(at + 2);
            }
        }
        None
    }

    #[inline]
    fn quick_time(&self, text: &[u8], at: usize, separator: u8, seconds: &mut f64) -> Option<usize> {
        let clock = self.clock.as_ref()?;
        if let Format::Number(scale) = clock.format {
            let (value, end) = number(text, at, self.decimal)?;
            *seconds = value * scale - clock.base.part;
            return Some(end);
        }
        let end = at + memchr::memchr2(separator, self.line_end, text.get(at..)?)?;
        let cell = text.get(at..end)?.trim_ascii();
        *seconds = clock.format.moment(cell, self.decimal)?.since(clock.base);
        let end = if text.get(end.checked_sub(1)?) == Some(&b'\r') { end - 1 } else { end };
        Some(end)
    }

    /// Any row.
    #[cold]
    fn careful(
        &self,
        text: &[u8],
        row: Row,
        values: &mut [f64],
        scratch: &mut Vec<Cell>,
        parsed: &mut Parsed,
    ) {
        let line = text.get(row.start..row.end).unwrap_or_default();
        if is_no_row(line, self.separator) {
            parsed.comments += 1;
            return;
        }
        cells(line, self.separator, scratch);
        parsed.rows += 1;
        let mut seconds = None;
        let mut is_whole = true;
        match self.numbers(line, scratch, values, &mut seconds, &mut is_whole, parsed) {
            Ok(()) if is_whole => {
                for (column, value) in parsed.values.iter_mut().zip(values.iter()) {
                    column.push(*value);
                }
                if let Some(seconds) = seconds {
                    parsed.times.push(seconds);
                }
            }
            Ok(()) => parsed.hole(),
            Err((wrong, cell)) => {
                parsed.hole();
                if seconds.is_some_and(|seconds| self.is_struck(seconds)) {
                    parsed.struck += 1;
                } else {
                    let said = parsed.troubles.len() < SAID;
                    let below = parsed.lines + lines_before(line, cell, self.line_end);
                    let trouble = Trouble::new(below, parsed.rows - 1, wrong, said.then_some((line, cell)));
                    parsed.troubles.push(trouble);
                }
            }
        }
    }

    /// Whether a time lies in a struck stretch.
    fn is_struck(&self, seconds: f64) -> bool {
        self.struck.iter().any(|stretch| seconds >= stretch.from && seconds <= stretch.to)
    }

    fn numbers(
        &self,
        line: &[u8],
        row: &[Cell],
        values: &mut [f64],
        seconds: &mut Option<f64>,
        is_whole: &mut bool,
        parsed: &mut Parsed,
    ) -> Result<(), (Wrong, Cell)> {
        let all = Cell { start: 0, end: line.len(), quoted: false };
        if let Err(error) = std::str::from_utf8(line) {
            let at = error.valid_up_to();
            let cell = Cell { start: at, end: at + 1, quoted: false };
            return Err((Wrong::NotUtf8(line.get(at).copied().unwrap_or(0)), cell));
        }
        let time = self.slots.iter().position(|slot| *slot == Slot::Time);
        if let (Some(clock), Some(cell)) = (&self.clock, time.and_then(|at| row.get(at))) {
            let found = clock.format.moment(cell.of(line), self.decimal);
            let named = || Wrong::Time { column: clock.name.clone(), format: clock.format };
            *seconds = Some(found.ok_or_else(|| (named(), *cell))?.since(clock.base));
        }
        if row.len() != self.slots.len() {
            let at = if row.len() > self.slots.len() { row.get(self.slots.len()) } else { row.last() };
            let wrong = Wrong::Cells { found: row.len(), wanted: self.slots.len() };
            return Err((wrong, at.copied().unwrap_or(all)));
        }
        for (cell, slot) in row.iter().zip(&self.slots) {
            let Slot::Value(field) = slot else { continue };
            let content = cell.of(line);
            if content.is_empty() {
                *is_whole = false;
                if let Some(missing) = parsed.missing.get_mut(*field) {
                    *missing += 1;
                }
                continue;
            }
            let found = self.value(content, &self.fields[*field]).map_err(|wrong| (wrong, *cell))?;
            if let Some(value) = values.get_mut(*field) {
                *value = found;
            }
        }
        Ok(())
    }

    /// A cell as a number.
    fn value(&self, content: &[u8], field: &Field) -> Result<f64, Wrong> {
        let column = || field.name.clone();
        if is_no_reading(content) {
            return Err(Wrong::NoReading { column: column() });
        }
        let minus;
        let content = match std::str::from_utf8(content) {
            Ok(text) if text.starts_with('\u{2212}') => {
                minus = text.replacen('\u{2212}', "-", 1);
                minus.as_bytes()
            }
            _ => content,
        };
        let Some(shape) = Shape::of(content) else {
            return Err(Wrong::NotANumber { column: column() });
        };
        let others = if self.decimal == b'.' { shape.commas } else { shape.points };
        if others > 0 {
            return Err(Wrong::Decimal { column: column(), decimal: char::from(self.decimal) });
        }
        if !shape.unit.is_empty() && field.unit.as_deref() != Some(shape.unit) {
            let unit = shape.unit.to_owned();
            return Err(Wrong::Unit { column: column(), unit, before: field.unit.clone() });
        }
        shape.value(self.decimal).ok_or_else(|| Wrong::NotANumber { column: column() })
    }
}

/// Line ends in a row before one of its cells.
fn lines_before(line: &[u8], cell: Cell, line_end: u8) -> u64 {
    memchr::memchr_iter(line_end, line.get(..cell.start).unwrap_or_default()).count() as u64
}
