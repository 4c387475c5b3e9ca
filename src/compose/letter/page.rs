//! The values that the letter's template sees.

use serde::Serialize;

use super::super::document::{Fact, Number, PaperFacts, State};

/// A claim's covering letter, one page.
#[derive(Debug, Clone, Serialize)]
pub struct LetterPage {
    /// Metadata.
    pub document: PaperFacts,
    /// Who writes; none where the session does not say: the template leaves lines to fill in.
    pub sender: Option<Side>,
    /// Who is written to; none where the session does not say: lines to fill in.
    pub addressee: Option<Side>,
    /// The reference line: machine, serial number, order, the report's number, the date.
    pub reference: Vec<Fact>,
    /// `Dear Marlstone service desk,`.
    pub salutation: String,
    /// What was bought, when and from whom.
    pub bought: String,
    /// How many checks are beyond their limits, or that none is shown to be.
    pub found: Vec<String>,
    /// The exhibits; none where nothing is claimed.
    pub exhibits: Option<Exhibits>,
    /// How it stood after the repair and what the comparisons show, a paragraph each.
    pub remarks: Vec<String>,
    /// What is too close to call and so not claimed, in a sentence; may be empty.
    pub not_claimed: String,
    /// What covers the machine and how it stood.
    pub coverage: Vec<String>,
    /// What is asked.
    pub ask: String,
    /// What the report holds.
    pub closing: Vec<String>,
    /// The name under the line for the signature; may be empty.
    pub signed: String,
    /// What goes with the letter.
    pub enclosed: String,
}

/// A party's name, address and e-mail.
#[derive(Debug, Clone, Serialize)]
pub struct Side {
    /// The name.
    pub name: String,
    /// The lines below it.
    pub lines: Vec<String>,
}

/// The claimed findings, a row each, each an exhibit that points to a section of the report.
#[derive(Debug, Clone, Serialize)]
pub struct Exhibits {
    /// When the findings were made, where all rows share the visit; else each row says it.
    pub found: Option<Occasion>,
    /// The same for the later visit.
    pub after: Option<Occasion>,
    /// Whether any row has a later visit: else there are no columns for it.
    pub has_after: bool,
    /// The rows, those furthest beyond their limit first.
    pub rows: Vec<ExhibitRow>,
    /// What the marks and numbers mean, and what did not fit: sentences under the table.
    pub notes: Vec<String>,
}

/// A visit in the table's head.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Occasion {
    /// Its state: mark and word.
    pub state: State,
    /// Its date as printed.
    pub date: String,
}

/// One claimed finding.
#[derive(Debug, Clone, Serialize)]
pub struct ExhibitRow {
    /// The exhibit's number, from 1.
    pub number: usize,
    /// The check's title.
    pub title: String,
    /// The place; may be empty.
    pub place: String,
    /// What a mean hides, and other places: `at worst 100 %; and 2 places more`; may be empty.
    pub also: String,
    /// The section of the report; none where it has none.
    pub section: Option<usize>,
    /// The limit with its unit: `≤ 1 thou`.
    pub limit: String,
    /// Where the limit is written; may be empty.
    pub source: String,
    /// What was found.
    pub found: ExhibitCell,
    /// What was found later.
    pub after: Option<ExhibitCell>,
    /// Whether the comparison of the two is not like for like: the row is then marked †.
    pub unlike: bool,
}

/// A number with its verdict.
#[derive(Debug, Clone, Serialize)]
pub struct ExhibitCell {
    /// The number.
    pub number: Option<Number>,
    /// The verdict, in the words of the session format.
    pub verdict: String,
    /// `2 March 2026`, where the table's head does not say it; else empty.
    pub on: String,
}
