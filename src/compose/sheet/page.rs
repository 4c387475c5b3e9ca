//! The values that the sheets' template sees.

use serde::Serialize;

use super::super::document::{Fact, Markup, PaperFacts};

/// Blank reading sheets, one a check.
#[derive(Debug, Clone, Serialize)]
pub struct SheetPages {
    /// Metadata.
    pub document: PaperFacts,
    /// A sheet for each check, in the session's order.
    pub sheets: Vec<Sheet>,
}

/// One check's sheet.
#[derive(Debug, Clone, Serialize)]
pub struct Sheet {
    /// The check's heading.
    pub title: String,
    /// The session's title.
    pub session: String,
    /// The machine; empty where there are several and no visit says which.
    pub machine: String,
    /// Its serial number; may be empty.
    pub serial: String,
    /// The coming visit's title, where it was given.
    pub visit: String,
    /// The last visit that has the check, with its date; empty before the first.
    pub last: String,
    /// The instrument; empty where none is named.
    pub instrument: String,
    /// What it shows to, its accuracy, when it was calibrated.
    pub instrument_facts: Vec<Fact>,
    /// How it is done, turned into Typst.
    pub procedure: Option<Markup>,
    /// How it was done the last time.
    pub setup: Vec<Fact>,
    /// Conditions: those that must match first.
    pub conditions: Vec<SheetCondition>,
    /// What can hurt whoever takes the readings.
    pub cautions: Vec<String>,
    /// The limit with its source; may be empty.
    pub limit: String,
    /// How many readings could show the change that matters, in sentences; may be empty.
    pub needed: Vec<String>,
    /// In which order the places are read; empty where there is no table.
    pub order: String,
    /// Whether the tables are the usual ones, since no visit shows a layout.
    pub usual: bool,
    /// The blank tables.
    pub tables: Vec<SheetTable>,
    /// The recordings to make, a line each.
    pub recordings: Vec<SheetRecording>,
}

/// A condition with a place for today's.
#[derive(Debug, Clone, Serialize)]
pub struct SheetCondition {
    /// What it is called.
    pub name: String,
    /// What it was the last time; empty where nobody wrote it down.
    pub last: String,
    /// Whether it must match.
    pub must_match: bool,
    /// How far it may differ: `± 5 °F`; may be empty.
    pub room: String,
}

/// A blank table.
#[derive(Debug, Clone, Serialize)]
pub struct SheetTable {
    /// The station or place; may be empty.
    pub title: String,
    /// The unit; may be empty.
    pub unit: String,
    /// What heads the rows' names.
    pub name_head: String,
    /// What heads the readings; an empty one is left to write.
    pub heads: Vec<String>,
    /// The rows.
    pub rows: Vec<SheetRow>,
}

/// A row of blank cells.
#[derive(Debug, Clone, Serialize)]
pub struct SheetRow {
    /// Its name; an empty one is left to write.
    pub name: String,
    /// When each cell is read, counted from one; none where nothing can be read.
    pub cells: Vec<Option<usize>>,
}

/// A recording to make.
#[derive(Debug, Clone, Serialize)]
pub struct SheetRecording {
    /// The setting, place or channel; empty where it is left to write.
    pub setting: String,
    /// What the file was called the last time; may be empty.
    pub last: String,
}
