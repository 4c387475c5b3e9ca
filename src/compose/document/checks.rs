//! A section each: checks, and how fair it is to compare the visits.

use serde::Serialize;

use super::{Exhibit, Fact, Markup, Number, State};

/// A check's section.
#[derive(Debug, Clone, Serialize)]
pub struct CheckSection {
    /// The check's id.
    pub id: String,
    /// Its title, the heading.
    pub title: String,
    /// Which block typesets it: `run-out` stands for `measures/run-out.typ`.
    pub template: String,
    /// The main finding, one number a visit, for the margin.
    pub key_figures: Vec<KeyFigure>,
    /// How it was done, in the user's words.
    pub procedure: Option<Markup>,
    /// How it was set up: instrument, direction, stations, turns, conditions.
    pub setup: Vec<Fact>,
    /// The charts.
    pub exhibits: Vec<Exhibit>,
    /// The finding, in sentences.
    pub sentences: Vec<String>,
    /// All findings, a group for each kind.
    pub findings: Vec<FindingGroup>,
    /// Notes under the findings, a sentence each: what a remark in the table means.
    pub finding_notes: Vec<String>,
    /// The readings; empty where they are too many for the section.
    pub readings: Vec<ReadingTable>,
    /// Changes between visits, a table for each comparison.
    pub changes: Vec<ChangeTable>,
    /// What the pattern is consistent with, a sentence each.
    pub patterns: Vec<String>,
    /// Short notes for the margin: a coarse instrument, one reading without scatter.
    pub notes: Vec<String>,
    /// Notes that the margin has no room for, under the findings.
    pub more_notes: Vec<String>,
    /// Cautions of this check, printed in the section.
    pub cautions: Vec<String>,
}

/// The number in the margin.
#[derive(Debug, Clone, Serialize)]
pub struct KeyFigure {
    /// The visit's state.
    pub state: Option<State>,
    /// The number.
    pub number: Number,
    /// What it is: `total run-out at the tip`.
    pub caption: String,
    /// The verdict, in the words of the format; may be empty.
    pub verdict: String,
}

/// Findings of one kind and unit.
#[derive(Debug, Clone, Serialize)]
pub struct FindingGroup {
    /// What was found: `Total run-out (TIR)`.
    pub what: String,
    /// The unit of every number in the group.
    pub unit: String,
    /// The limit as printed, with its source: `at most 1 thou (Owner's guide, p. 9)`. May be empty.
    pub limit: String,
    /// A place and visit each.
    pub rows: Vec<FindingRow>,
}

/// One finding; numbers are in the group's unit.
#[derive(Debug, Clone, Serialize)]
pub struct FindingRow {
    /// The place; empty for a check read in one spot.
    #[serde(rename = "where")]
    pub place: String,
    /// The visit's state.
    pub state: State,
    /// The visit's title.
    pub visit: String,
    /// The value; `None` where none can be given honestly, and `note` says why.
    pub value: Option<String>,
    /// Its expanded uncertainty.
    pub plus_minus: Option<String>,
    /// The coverage factor k; may be empty.
    pub k: String,
    /// The floor; may be empty.
    pub floor: String,
    /// The verdict; may be empty.
    pub verdict: String,
    /// Anything else, in a few words: `at most 0.5`, `high spot at 112°`. May be empty.
    pub note: String,
}

/// Changes of one comparison.
#[derive(Debug, Clone, Serialize)]
pub struct ChangeTable {
    /// The comparison's title.
    pub title: String,
    /// The other session's title, where one side is from another session: not the repair.
    pub elsewhere: Option<String>,
    /// Both visits as printed: `Baseline, 8 November 2025`.
    pub before_title: String,
    /// The later one.
    pub after_title: String,
    /// The state before, for the column's head.
    pub before: State,
    /// The state after.
    pub after: State,
    /// False where what had to match did not.
    pub like_for_like: bool,
    /// What differs, in a sentence that stands by itself; may be empty.
    pub differs: String,
    /// Changes, a group for each kind.
    pub groups: Vec<ChangeGroup>,
}

/// Changes of one kind and unit.
#[derive(Debug, Clone, Serialize)]
pub struct ChangeGroup {
    /// What changed.
    pub what: String,
    /// The unit of every number in the group.
    pub unit: String,
    /// A place each.
    pub rows: Vec<ChangeRow>,
}

/// One change; numbers are in the group's unit.
#[derive(Debug, Clone, Serialize)]
pub struct ChangeRow {
    /// The place.
    #[serde(rename = "where")]
    pub place: String,
    /// Whether it is the mean over all places, which is set apart.
    pub over_all: bool,
    /// Before.
    pub before: String,
    /// After.
    pub after: String,
    /// After less before.
    pub change: String,
    /// Lower end of the 95 % interval.
    pub low: String,
    /// Upper end of the 95 % interval.
    pub high: String,
    /// The change in percent of before, without the sign `%`; may be empty.
    pub percent: String,
    /// The conclusion, in the words of the format.
    pub conclusion: String,
    /// The conclusion with Holm's adjustment, where several were drawn; may be empty.
    pub adjusted: String,
}

/// Readings as they were written, in one unit: all places of all visits of a check.
#[derive(Debug, Clone, Serialize)]
pub struct ReadingTable {
    /// Its title: `Arbor run-out`. May be empty.
    pub title: String,
    /// The unit of every reading that does not carry its own.
    pub unit: String,
    /// Heads of the columns that name a row: `visit`, `where`, `turn`.
    pub label_heads: Vec<String>,
    /// Heads of the columns of readings: `0°`, `45°`, …
    pub value_heads: Vec<String>,
    /// The rows.
    pub rows: Vec<ReadingRow>,
    /// A note under the table; may be empty.
    pub note: String,
}

/// A row of readings, or of heads.
#[derive(Debug, Clone, Serialize)]
pub struct ReadingRow {
    /// The visit's state.
    pub state: Option<State>,
    /// One for each of `label_heads`.
    pub labels: Vec<String>,
    /// One for each of `value_heads`; a row may be shorter.
    pub cells: Vec<Reading>,
    /// Whether the cells are heads for the rows below, other than the table's own.
    pub is_head: bool,
    /// Whether it belongs to the row above: its labels, all but the last, are left blank.
    pub follows: bool,
}

/// A reading.
#[derive(Debug, Clone, Serialize)]
pub struct Reading {
    /// As it was written: `1.5`.
    pub shown: String,
    /// Why it was struck; `None` for a reading that counts.
    pub struck_because: Option<String>,
}

/// Two visits compared.
#[derive(Debug, Clone, Serialize)]
pub struct Comparison {
    /// Its title.
    pub title: String,
    /// The state before.
    pub before: State,
    /// The visit before, as printed: `As found, 2 March 2026`.
    pub before_title: String,
    /// The state after.
    pub after: State,
    /// The visit after.
    pub after_title: String,
    /// What it comes to, in sentences.
    pub sentences: Vec<String>,
    /// Every condition.
    pub conditions: Vec<ConditionRow>,
}

/// One condition at both visits.
#[derive(Debug, Clone, Serialize)]
pub struct ConditionRow {
    /// The check it concerns; empty for all.
    pub check: String,
    /// The condition.
    pub condition: String,
    /// Before; `not recorded` where it was not.
    pub before: String,
    /// After.
    pub after: String,
    /// `same`, `about the same`, `differs` or `not recorded`.
    pub standing: String,
    /// Whether it must match for the comparison to be like for like.
    pub must_match: bool,
}
