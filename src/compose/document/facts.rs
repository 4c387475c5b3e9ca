//! The first page, the machine, its diary, and the instruments.

use serde::Serialize;

use super::{DateShown, Exhibit, Number, State};

/// Title block and metadata. The fields of the title block are the data fields of ISO 7200; an
/// empty one is left out.
#[derive(Debug, Clone, Serialize)]
pub struct DocumentFacts {
    /// The session's title.
    pub title: String,
    /// What kind of document it is: `Test report`.
    pub kind: String,
    /// What was asked of the tests.
    pub question: Option<String>,
    /// What a claim asks for.
    pub ask: Option<String>,
    /// Who prepared it (ISO 7200: creator).
    pub prepared_by: Option<String>,
    /// Who approved it (ISO 7200: approval person).
    pub approved_by: Option<String>,
    /// Whom it belongs to (ISO 7200: legal owner).
    pub owner: Option<String>,
    /// Its revision (ISO 7200: revision index).
    pub revision: Option<String>,
    /// Number drawn from the content (ISO 7200: identification number).
    pub number: String,
    /// The day of the last visit or event (ISO 7200: date of issue).
    pub date: DateShown,
    /// `us-letter` or `a4`.
    pub paper: String,
    /// The language's code: `en`.
    pub language: String,
    /// The program and its version.
    pub program: String,
    /// The line above the title: machine and kind, such as `Marlstone CS-10 cabinet saw`.
    pub subject: String,
    /// The machine as the title block names it, serial apart.
    pub machine: String,
    /// Serial number or numbers.
    pub serial: Option<String>,
    /// For a copy that is published: that it is one, and what was left out.
    pub publication: Option<String>,
}

/// What is said of a paper beside the report (a letter, sheets, a cue sheet) as a document.
#[derive(Debug, Clone, Serialize)]
pub struct PaperFacts {
    /// Its title.
    pub title: String,
    /// What it belongs to or is made from, for the metadata: `Letter with test report AF-…`.
    pub description: String,
    /// The report's number, drawn from the session's content.
    pub number: String,
    /// Who wrote it, or prepared the session; none where that is not known.
    pub author: Option<String>,
    /// Its date. Sheets do not print theirs.
    pub date: DateShown,
    /// `us-letter` or `a4`.
    pub paper: String,
    /// The language's code: `en`.
    pub language: String,
    /// The program and its version.
    pub program: String,
}

/// The first page: the question alone, answered.
#[derive(Debug, Clone, Serialize)]
pub struct Answer {
    /// The answer, two sentences or so.
    pub sentences: Vec<String>,
    /// One chart of every check before and after against its limit. Width `full`.
    pub chart: Option<Exhibit>,
    /// The table behind it.
    pub table: Option<SummaryTable>,
    /// What is not like for like; empty where all is.
    pub unfair: Vec<Unfair>,
    /// Visits that are not as they were sealed (`label`), and what is not; empty where all are.
    pub not_as_sealed: Vec<Fact>,
}

/// Every check's main finding, before and after.
#[derive(Debug, Clone, Serialize)]
pub struct SummaryTable {
    /// The state before; the column's head has its mark and word.
    pub before: Option<State>,
    /// The state after.
    pub after: Option<State>,
    /// A check each.
    pub groups: Vec<SummaryGroup>,
    /// What the numbers are, in a line under the table; may be empty.
    pub note: String,
}

/// One check's rows.
#[derive(Debug, Clone, Serialize)]
pub struct SummaryGroup {
    /// The check's title.
    pub title: String,
    /// The unit of every number in the group.
    pub unit: String,
    /// A place each.
    pub rows: Vec<SummaryRow>,
}

/// One place's numbers; all in the group's unit.
#[derive(Debug, Clone, Serialize)]
pub struct SummaryRow {
    /// The place; empty for a check read in one spot.
    #[serde(rename = "where")]
    pub place: String,
    /// The number before.
    pub before: Option<Number>,
    /// Verdict on the number before, in the words of the format; empty without a limit.
    pub before_verdict: String,
    /// The number after.
    pub after: Option<Number>,
    /// Verdict on the number after.
    pub after_verdict: String,
    /// After less before.
    pub change: Option<Number>,
    /// The limit as printed, without unit: `≤ 1`. Empty without one.
    pub limit: String,
    /// The conclusion on the change, in the words of the format; empty without a change.
    pub conclusion: String,
    /// False where what had to match did not; the row is then marked.
    pub like_for_like: bool,
}

/// A comparison that is not like for like.
#[derive(Debug, Clone, Serialize)]
pub struct Unfair {
    /// What was compared: `Rim wobble, as found to as left`.
    pub what: String,
    /// What differs, in a sentence.
    pub differs: String,
    /// Whether the table above shows it, with the mark †.
    pub in_table: bool,
}

/// A label and what stands behind it.
#[derive(Debug, Clone, Serialize)]
pub struct Fact {
    /// `Serial`.
    pub label: String,
    /// `CS10-04417`.
    pub value: String,
}

/// A machine.
#[derive(Debug, Clone, Serialize)]
pub struct MachineFacts {
    /// Its name.
    pub name: String,
    /// Kind, serial, bought, seller, order, price, as far as known.
    pub facts: Vec<Fact>,
    /// The coverage it was bought with.
    pub coverage: Vec<CoverageFacts>,
}

/// A coverage window (return, warranty).
#[derive(Debug, Clone, Serialize)]
pub struct CoverageFacts {
    /// Its name.
    pub name: String,
    /// How long it lasts, as written: `3 years`.
    pub lasts: String,
    /// Its last day.
    pub until: String,
    /// Where that is written; may be empty.
    pub reference: String,
    /// How things stood at each visit: `As found: 1084 days left`.
    pub standing: String,
}

/// A visit.
#[derive(Debug, Clone, Serialize)]
pub struct VisitFacts {
    /// Its title.
    pub title: String,
    /// Its state.
    pub state: State,
    /// The date as printed.
    pub date: String,
    /// Who read the instruments; may be empty.
    pub by: String,
    /// Conditions, as label and value.
    pub conditions: Vec<Fact>,
}

/// One day in the diary.
#[derive(Debug, Clone, Serialize)]
pub struct DiaryEntry {
    /// The date as printed.
    pub date: String,
    /// What happened.
    pub what: String,
    /// The state, where it is a visit.
    pub state: Option<State>,
    /// Days since the entry before; `None` for the first.
    pub days_since: Option<i64>,
    /// How the coverage stood that day; may be empty.
    pub coverage: String,
}

/// An instrument.
#[derive(Debug, Clone, Serialize)]
pub struct InstrumentFacts {
    /// Its name.
    pub name: String,
    /// Smallest step it shows, with unit; may be empty.
    pub resolution: String,
    /// The stated accuracy or the certificate's uncertainty, with unit and sign; may be empty.
    pub accuracy: String,
    /// Date of calibration as printed; may be empty: the page then says "not stated".
    pub calibrated: String,
    /// Where it was used, titles of checks.
    pub used_in: Vec<String>,
    /// Tip angle, correction, emissivity: whatever else was set.
    pub facts: Vec<Fact>,
    /// Standard deviation of `repeat_readings` with unit, and their number; may be empty.
    pub repeatability: String,
}
