//! What a doubting reader looks up.

use serde::Serialize;

use super::{FindingGroup, ReadingTable, State};

/// The appendices; an empty one is left out.
#[derive(Debug, Clone, Default, Serialize)]
pub struct Appendices {
    /// The uncertainty budgets, check by check.
    pub budgets: Vec<Budget>,
    /// Findings that the sections do without: single axes.
    pub asides: Vec<Aside>,
    /// Where the readings stand that are not printed here.
    pub readings_elsewhere: String,
    /// Every raw reading that no section shows.
    pub readings: Vec<ReadingTable>,
    /// Every file of the session.
    pub files: Vec<FileFacts>,
    /// A visit each, with its seal; empty where nothing is sealed.
    pub seals: Vec<SealFacts>,
    /// What is to be said of files that do not travel as they are; may be empty.
    pub files_note: String,
    /// Cautions, a sentence each.
    pub cautions: Vec<String>,
    /// Methods and their sources.
    pub methods: Vec<Method>,
    /// What the program warned of while reading and analysing.
    pub warnings: Vec<String>,
}

/// Findings of a check that its section does without.
#[derive(Debug, Clone, Serialize)]
pub struct Aside {
    /// The check's title.
    pub title: String,
    /// The findings, a group for each kind.
    pub findings: Vec<FindingGroup>,
}

/// The uncertainty budgets of one check.
#[derive(Debug, Clone, Serialize)]
pub struct Budget {
    /// The check's title.
    pub title: String,
    /// A table for findings that are made of the same components.
    pub tables: Vec<BudgetTable>,
}

/// Budgets that have their components in common, a line each.
#[derive(Debug, Clone, Serialize)]
pub struct BudgetTable {
    /// The components, a group of columns each.
    pub components: Vec<BudgetComponent>,
    /// The findings, a group of rows for each kind.
    pub groups: Vec<BudgetGroup>,
}

/// The head of a component's columns.
#[derive(Debug, Clone, Serialize)]
pub struct BudgetComponent {
    /// What it is: `Display step`.
    pub name: String,
    /// `rectangular`, `normal`, `t`.
    pub distribution: String,
    /// The divisor as printed: `√12`. Empty where the rows differ; each row then has its own.
    pub divisor: String,
    /// Its degrees of freedom; `∞` where there is no end. Empty where the rows differ.
    pub dof: String,
}

/// The budgets of one kind of finding.
#[derive(Debug, Clone, Serialize)]
pub struct BudgetGroup {
    /// Which finding: `Run-out (TIR)`.
    pub what: String,
    /// The unit of values and contributions.
    pub unit: String,
    /// A note, such as "by Monte Carlo"; may be empty.
    pub note: String,
    /// A place and visit each.
    pub rows: Vec<BudgetRow>,
}

/// The budget of one finding, in its group's unit.
#[derive(Debug, Clone, Serialize)]
pub struct BudgetRow {
    /// The place; empty for a check read in one spot.
    #[serde(rename = "where")]
    pub place: String,
    /// The visit's state.
    pub state: State,
    /// The visit's title.
    pub visit: String,
    /// One for each of the table's components; `None` where it has no part in this finding.
    pub parts: Vec<Option<BudgetPart>>,
    /// The combined standard uncertainty.
    pub combined: String,
    /// The effective degrees of freedom; `∞` where there is no end.
    pub dof: String,
    /// The coverage factor.
    pub k: String,
    /// The expanded uncertainty.
    pub expanded: String,
}

/// One component of one finding's budget.
#[derive(Debug, Clone, Serialize)]
pub struct BudgetPart {
    /// What was stated or found, in the group's unit.
    pub value: String,
    /// The divisor as printed.
    pub divisor: String,
    /// The standard uncertainty that it adds to the finding, in the group's unit.
    pub contribution: String,
    /// Its degrees of freedom.
    pub dof: String,
}

/// A file of the session.
#[derive(Debug, Clone, Serialize)]
pub struct FileFacts {
    /// The path inside the session folder.
    pub path: String,
    /// The size, as printed: `2 184`.
    pub bytes: String,
    /// SHA-256, 64 hexadecimal digits.
    pub sha256: String,
    /// The MIME type.
    pub mime: String,
    /// How the bytes that travel differ from those listed: `masked copy`. Mostly empty.
    pub altered: String,
}

/// A visit and its seal.
#[derive(Debug, Clone, Serialize)]
pub struct SealFacts {
    /// The visit's title.
    pub visit: String,
    /// The visit's state.
    pub state: State,
    /// When it was sealed; empty where it is not.
    pub sealed: String,
    /// Whether the seal holds, or why there is none.
    pub standing: String,
    /// The seal before it, signature and time stamp, a sentence each.
    pub remarks: Vec<String>,
    /// Files that are not as they were sealed.
    pub changes: Vec<SealChange>,
}

/// A file that is not as it was sealed.
#[derive(Debug, Clone, Serialize)]
pub struct SealChange {
    /// The path from the visit's folder.
    pub path: String,
    /// SHA-256 as sealed; empty where it was added.
    pub was: String,
    /// SHA-256 now; empty where it is gone.
    pub is: String,
}

/// A method and where it is written.
#[derive(Debug, Clone, Serialize)]
pub struct Method {
    /// What it is for: `Uncertainty`.
    pub what: String,
    /// What was done.
    pub text: String,
    /// Its source: title, clause; or `common practice`.
    pub source: String,
}

/// A file that travels inside the PDF.
#[derive(Debug, Clone, Serialize)]
pub struct Attachment {
    /// Its name in the PDF's list; no two alike.
    pub name: String,
    /// Asset: its bytes.
    pub path: String,
    /// The MIME type. PDF/A-3 asks for it.
    pub mime: String,
    /// `source` (the document was made from it), `data` (a chart or table was), or `supplement`.
    pub relationship: String,
    /// What it is. PDF/A-3 asks for it.
    pub description: String,
}
