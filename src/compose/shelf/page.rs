//! The values that the list's template sees.

use serde::Serialize;

use super::super::document::{Fact, PaperFacts, State};

/// A list of sessions.
#[derive(Debug, Clone, Serialize)]
pub struct ShelfPage {
    /// Metadata.
    pub document: PaperFacts,
    /// How many there are, what ends soon, and on which day.
    pub facts: Vec<Fact>,
    /// The sessions.
    pub rows: Vec<ShelfRow>,
    /// What a reader must know beside them, in sentences.
    pub said: Vec<String>,
}

/// A session.
#[derive(Debug, Clone, Serialize)]
pub struct ShelfRow {
    /// Its title; its folder's name where the title cannot be read.
    pub title: String,
    /// Its folder.
    pub path: String,
    /// Its report, as an address from the list's folder; none where there is none.
    pub report: Option<String>,
    /// Its machines.
    pub machines: Vec<ShelfMachine>,
    /// How many visits: `2 visits`; empty without one.
    pub visits: String,
    /// The first and the last day; empty without one.
    pub days: String,
    /// What the last visit stands for.
    pub state: Option<State>,
    /// The verdict in words: `over, at last within`; or how many errors there are.
    pub verdict: String,
    /// What ends soon, a line each; else the day that coverage ends next.
    pub coverage: Vec<String>,
    /// Whether coverage ends soon.
    pub ends_soon: bool,
    /// How the visits stand with their seals; may be empty.
    pub seals: String,
    /// Which instruments were used after their calibration had run out; mostly empty.
    pub calibration: String,
}

/// A machine.
#[derive(Debug, Clone, Serialize)]
pub struct ShelfMachine {
    /// Its name.
    pub name: String,
    /// Its serial number; may be empty.
    pub serial: String,
}
