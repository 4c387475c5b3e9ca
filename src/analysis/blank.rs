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

#[cfg(test)]
mod tests {
    use super::*;

    fn levels(at: &str, rows: &[(&str, usize)]) -> RawTable {
        let cell = Cell { text: "70.0".to_owned(), struck: None };
        let width = rows.iter().map(|row| row.1).max().unwrap_or(0);
        let unit = Unit::known(Kind::Level, "dBA").unwrap_or_else(bare);
        let rows = rows.iter().map(|(name, n)| ((*name).to_owned(), vec![cell.clone(); *n])).collect();
        RawTable { at: at.to_owned(), columns: heads("Reading", width), rows, unit }
    }

    #[test]
    fn low_tables_with_the_same_heads_become_one_whose_rows_say_the_place() {
        let tables = [
            levels("2000 rpm", &[("level", 3), ("background", 2)]),
            levels("3450 rpm", &[("level", 2)]),
            levels("4000 rpm", &[("level", 4)]),
        ];
        let blanks = like(&merged(&tables), Order::AlongRows);
        assert_eq!(blanks.len(), 1);
        let only = &blanks[0];
        let names: Vec<&str> = only.rows.iter().map(|(name, _)| name.as_str()).collect();
        assert_eq!(names, ["2000 rpm, level", "2000 rpm, background", "3450 rpm", "4000 rpm"]);
        assert_eq!(only.columns, heads("Reading", 4));
        // What was not read there is no place to read; the numbers pass over it.
        let slots: Vec<&[Slot]> = only.rows.iter().map(|(_, cells)| cells.as_slice()).collect();
        assert_eq!(slots[0], [Slot::Read(1), Slot::Read(2), Slot::Read(3), Slot::Hole]);
        assert_eq!(slots[1], [Slot::Read(4), Slot::Read(5), Slot::Hole, Slot::Hole]);
        assert_eq!(slots[3], [Slot::Read(8), Slot::Read(9), Slot::Read(10), Slot::Read(11)]);
    }

    #[test]
    fn a_table_grows_by_what_is_repeated_and_is_never_cut() {
        let blanks = like(&[one_row(None, 3)], Order::AlongRows);
        let wider = grown(blanks.clone(), Grows::Columns, 5, Order::AlongRows);
        assert_eq!(wider[0].columns, heads("Reading", 5));
        assert_eq!(wider[0].rows[0].1.last(), Some(&Slot::Read(5)));
        assert_eq!(grown(blanks.clone(), Grows::Columns, 2, Order::AlongRows), blanks);
        let turns = like(&[empty("tip", heads("Turn", 8), &numbers(3), bare())], Order::AlongRows);
        let taller = grown(turns, Grows::Rows, 5, Order::AlongRows);
        assert_eq!(taller[0].rows.len(), 5);
        assert_eq!(taller[0].rows[4].0, "5");
        assert_eq!(taller[0].rows[4].1[7], Slot::Read(40));
    }
}
