//! The values that a history's template sees.

use serde::Serialize;

use super::super::document::{Exhibit, Fact, Number, PaperFacts, State};

/// A machine's history.
#[derive(Debug, Clone, Serialize)]
pub struct HistoryPage {
    /// Metadata.
    pub document: PaperFacts,
    /// The machine, its serial number, how many sessions, the first and the last day.
    pub facts: Vec<Fact>,
    /// A number each.
    pub courses: Vec<HistoryCourse>,
    /// What a reader must know beside them, in sentences.
    pub said: Vec<String>,
}

/// One number over the years.
#[derive(Debug, Clone, Serialize)]
pub struct HistoryCourse {
    /// The check's heading, with the place.
    pub title: String,
    /// The trend or why there is none, in sentences.
    pub told: Vec<String>,
    /// The drawing; none where no visit has a value.
    pub chart: Option<Exhibit>,
    /// The unit of every number.
    pub unit: String,
    /// A visit each, by date.
    pub rows: Vec<HistoryRow>,
}

/// A visit.
#[derive(Debug, Clone, Serialize)]
pub struct HistoryRow {
    /// The date as printed.
    pub date: String,
    /// The visit's title.
    pub visit: String,
    /// What it stands for.
    pub state: State,
    /// The number; none where there is no value.
    pub number: Option<Number>,
    /// The verdict in the words of the format; empty without a limit.
    pub verdict: String,
    /// The session's folder.
    pub session: String,
    /// Why the trend goes without it; mostly empty.
    pub left_out: String,
}
