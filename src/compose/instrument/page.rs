//! The values that an instrument's template sees.

use serde::Serialize;

use super::super::document::{Fact, PaperFacts};

/// An instrument's story.
#[derive(Debug, Clone, Serialize)]
pub struct InstrumentPage {
    /// Metadata.
    pub document: PaperFacts,
    /// The instrument, its serial number, how many sessions and visits.
    pub facts: Vec<Fact>,
    /// Its calibrations and when each ran out, in sentences.
    pub calibrations: Vec<String>,
    /// The visits at which it was used, by date.
    pub rows: Vec<InstrumentRow>,
    /// What a reader must know beside them, in sentences.
    pub said: Vec<String>,
}

/// A visit.
#[derive(Debug, Clone, Serialize)]
pub struct InstrumentRow {
    /// The date as printed.
    pub date: String,
    /// The machine's name.
    pub machine: String,
    /// The machine's serial number; may be empty.
    pub serial: String,
    /// The titles of the checks.
    pub checks: Vec<String>,
    /// How it stood with its calibration, in words.
    pub calibration: String,
    /// Whether its calibration had run out.
    pub ran_out: bool,
    /// The session's folder.
    pub session: String,
    /// The visit's id.
    pub visit: String,
}
