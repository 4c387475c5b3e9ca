//! Blank sheets: every place of a check with a number that says when it is read.
//!
//! The order matters: an indicator creeps and a machine warms while the readings are taken. Read there and
//! back, or front and rear in turn, a creep shows as a scatter and not as a slope.

use crate::findings::{Cell, RawTable};
use crate::quantity::{Kind, Unit};

/// In which order the places of a table are read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Order {
    /// Row after row, each from its first place to its last.
    AlongRows,
    /// Row after row, every other one backwards.
    ThereAndBack,
    /// Column after column: front and rear in turn.
    DownColumns,
}

impl Order {
    /// As a sheet says it.
    pub fn words(self) -> &'static str {
        match self {
            Self::AlongRows => "Row after row, in the order of the small numbers.",
            Self::ThereAndBack => {
                "There and back: every other row backwards, in the order of the small numbers, so that a creep does \
                 not pass for a slope."
            }
            Self::DownColumns => {
                "One after the other down each column, in the order of the small numbers, so that a creep does not \
                 pass for a difference."
            }
        }
    }
}

/// A place on a sheet.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Slot {
    /// To be read; when, counted from one through the whole check.
    Read(usize),
    /// Nothing can be read here.
    Hole,
}

/// A blank table.
#[derive(Clone, Debug, PartialEq)]
pub struct Blank {
    /// The station, place or setting.
    pub at: String,
    /// What stands above each column; the first heads the rows' names.
    pub columns: Vec<String>,
    /// A name and its places.
    pub rows: Vec<(String, Vec<Slot>)>,
    /// The unit of bare numbers.
    pub unit: Unit,
}

/// Which way a table grows where more is to be read than the last time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Grows {
    /// By rows: turns, passes.
    Rows,
    /// By columns: readings beside each other.
    Columns,
    /// It does not.
    Not,
}

/// Blank tables with the layout of readings that were taken before.
pub fn like(tables: &[RawTable], order: Order) -> Vec<Blank> {
    let mut blanks: Vec<Blank> = tables.iter().map(blank).collect();
    number(&mut blanks, order);
    blanks
}

fn blank(table: &RawTable) -> Blank {
    let slot = |cell: &Cell| if cell.text == HOLE { Slot::Hole } else { Slot::Read(0) };
    let row = |(name, cells): &(String, Vec<Cell>)| (name.clone(), cells.iter().map(slot).collect());
    Blank {
        at: table.at.clone(),
        columns: table.columns.clone(),
        rows: table.rows.iter().map(row).collect(),
        unit: table.unit,
    }
}

/// Gives each place the number that says when it is read.
fn number(blanks: &mut [Blank], order: Order) {
    let mut count = 0;
    for blank in blanks {
        let rows = &mut blank.rows;
        let width = rows.iter().map(|(_, cells)| cells.len()).max().unwrap_or(0);
        let turns: Vec<(usize, usize)> = match order {
            Order::DownColumns => {
                (0..width).flat_map(|column| (0..rows.len()).map(move |row| (row, column))).collect()
            }
            Order::AlongRows | Order::ThereAndBack => (0..rows.len())
                .flat_map(|row| {
                    let back = order == Order::ThereAndBack && row % 2 == 1;
                    (0..width).map(move |column| (row, if back { width - 1 - column } else { column }))
                })
                .collect(),
        };
        for (row, column) in turns {
            if let Some(slot @ Slot::Read(_)) = rows.get_mut(row).and_then(|(_, cells)| cells.get_mut(column))
            {
                count += 1;
                *slot = Slot::Read(count);
            }
        }
    }
}

/// The same with room for `n` turns, passes or readings, where there is less; never for fewer.
#[must_use]
pub fn grown(mut blanks: Vec<Blank>, grows: Grows, n: usize, order: Order) -> Vec<Blank> {
    for blank in &mut blanks {
        match grows {
            Grows::Rows => {
                while let Some((_, last)) = blank.rows.last().filter(|_| blank.rows.len() < n) {
                    blank.rows.push(((blank.rows.len() + 1).to_string(), last.clone()));
                }
            }
            Grows::Columns => {
                while blank.columns.len() < n + 1 {
                    blank.columns.push(blank.columns.len().to_string());
                    for (_, cells) in &mut blank.rows {
                        let like = cells.last().copied().unwrap_or(Slot::Hole);
                        cells.push(like);
                    }
                }
            }
            Grows::Not => {}
        }
    }
    number(&mut blanks, order);
    blanks
}

/// What stands in a table where nothing can be read.
pub const HOLE: &str = "–";

/// A table that nobody has read yet; the first of `columns` heads the rows' names.
pub fn empty(at: &str, columns: Vec<String>, rows: &[String], unit: Unit) -> RawTable {
    let cells = vec![Cell { text: String::new(), struck: None }; columns.len().saturating_sub(1)];
    let rows = rows.iter().map(|name| (name.clone(), cells.clone())).collect();
    RawTable { at: at.to_owned(), columns, rows, unit }
}

/// One row of so many readings.
pub fn one_row(unit: Option<Unit>, readings: usize) -> RawTable {
    let unit = unit.unwrap_or_else(bare);
    empty("", heads("Reading", readings), &[unit.symbol().to_owned()], unit)
}

/// The unit of what has none.
fn bare() -> Unit {
    Unit::known(Kind::Number, "").expect("the table of units has the plain number")
}

/// Settings that nobody has named yet, with so many readings each.
pub fn settings(unit: Option<Unit>, settings: usize, readings: usize) -> RawTable {
    let unit = unit.unwrap_or_else(bare);
    empty("", heads("Setting", readings), &vec![String::new(); settings], unit)
}

/// A first head, and so many numbers.
pub fn heads(first: &str, many: usize) -> Vec<String> {
    std::iter::once(first.to_owned()).chain(numbers(many)).collect()
}

/// "1", "2" and so on.
pub fn numbers(many: usize) -> Vec<String> {
    (1..=many).map(|number| number.to_string()).collect()
}

/// Low tables that follow each other and share their heads as one: each row is named by its place too.
/// Where one has fewer columns, nothing can be read in those that it lacks.
pub fn merged(tables: &[RawTable]) -> Vec<RawTable> {
    const LOW: usize = 2;
    let low = |table: &RawTable| table.rows.len() <= LOW && !table.at.is_empty();
    let mut all: Vec<RawTable> = Vec::new();
    let mut open = false;
    for table in tables {
        let shares = |last: &RawTable| {
            last.unit == table.unit
                && (last.columns.starts_with(&table.columns) || table.columns.starts_with(&last.columns))
        };
        match all.last_mut().filter(|last| open && low(table) && shares(last)) {
            Some(last) => {
                if table.columns.len() > last.columns.len() {
                    last.columns.clone_from(&table.columns);
                }
                last.rows.extend(renamed(table));
            }
            None => {
                open = low(table);
                let mut first = table.clone();
                if open {
                    first.rows = renamed(table);
                    first.at = String::new();
                }
                all.push(first);
            }
        }
    }
    for table in &mut all {
        let width = table.columns.len().saturating_sub(1);
        for (_, cells) in &mut table.rows {
            cells.resize(width.max(cells.len()), Cell { text: HOLE.to_owned(), struck: None });
        }
    }
    all
}

/// Rows named by their table's place, and by what they were called where that says more than the unit.
fn renamed(table: &RawTable) -> Vec<(String, Vec<Cell>)> {
    let alone = table.rows.len() == 1;
    let name = |own: &str| {
        // A level without a background says no more than its place does.
        let plain = own == table.unit.symbol() || (alone && own == "level");
        if plain { table.at.clone() } else { format!("{}, {own}", table.at) }
    };
    table.rows.iter().map(|(own, cells)| (name(own), cells.clone())).collect()
}
