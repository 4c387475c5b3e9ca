//! What was read, as the report prints it: recordings by their accounts, a meter's figures as typed.

use crate::findings::{Cell, RawTable};
use crate::quantity::Unit;

/// A row of a meter's figures: mean, largest, frequency, as typed.
#[derive(Clone, Debug)]
pub(super) struct FigureRow {
    pub(super) at: String,
    pub(super) cells: [String; 3],
}

fn cells(texts: &[String]) -> Vec<Cell> {
    texts.iter().map(|text| Cell { text: text.clone(), struck: None }).collect()
}

fn columns(names: &[&str]) -> Vec<String> {
    names.iter().map(|name| (*name).to_owned()).collect()
}

/// The recordings of a visit in one table: the tables of their accounts put together.
pub(super) fn recordings(tables: Vec<(String, RawTable)>) -> Option<RawTable> {
    let mut all: Option<RawTable> = None;
    for (at, table) in tables {
        let rows = table.rows.into_iter().map(|(name, cells)| (format!("{at}: {name}"), cells));
        match &mut all {
            Some(all) => all.rows.extend(rows),
            None => all = Some(RawTable { at: String::new(), rows: rows.collect(), ..table }),
        }
    }
    all
}

/// The heads of a meter's figures.
const FIGURES: [&str; 4] = ["Speed", "Mean", "Largest", "Frequency"];

/// Whether a table holds a meter's figures, and not what recordings were.
pub(super) fn are_figures(table: &RawTable) -> bool {
    table.columns == FIGURES
}

pub(super) fn figures(rows: &[FigureRow], unit: Unit) -> Option<RawTable> {
    (!rows.is_empty()).then(|| RawTable {
        at: String::new(),
        columns: columns(&FIGURES),
        rows: rows.iter().map(|row| (row.at.clone(), cells(&row.cells))).collect(),
        unit,
    })
}
