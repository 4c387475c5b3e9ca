//! What a doubting reader looks up.

use serde::Serialize;

use super::ReadingTable;

/// The appendices; an empty one is left out.
#[derive(Debug, Clone, Default, Serialize)]
pub struct Appendices {
    /// An uncertainty budget for each finding.
    pub budgets: Vec<Budget>,
    /// Every raw reading.
    pub readings: Vec<ReadingTable>,
    /// Every file of the session.
    pub files: Vec<FileFacts>,
    /// Cautions, a sentence each.
    pub cautions: Vec<String>,
    /// Methods and their sources.
    pub methods: Vec<Method>,
    /// What the program warned of while reading and analysing.
    pub warnings: Vec<String>,
}

/// The uncertainty budget of one finding.
#[derive(Debug, Clone, Serialize)]
pub struct Budget {
    /// Which finding: `Arbor run-out, tip, as found: total run-out`.
    pub title: String,
    /// The unit of values and contributions.
    pub unit: String,
    /// The components.
    pub rows: Vec<BudgetRow>,
    /// The combined standard uncertainty.
    pub combined: String,
    /// The effective degrees of freedom; `∞` where there is no end.
    pub dof: String,
    /// The coverage factor.
    pub k: String,
    /// The expanded uncertainty.
    pub expanded: String,
    /// A note, such as "by Monte Carlo, 100 000 draws"; may be empty.
    pub note: String,
}

/// One component of a budget.
#[derive(Debug, Clone, Serialize)]
pub struct BudgetRow {
    /// What it is: `display step`.
    pub component: String,
    /// Its value, in the budget's unit.
    pub value: String,
    /// `rectangular`, `normal`, `t`.
    pub distribution: String,
    /// The divisor as printed: `√12`.
    pub divisor: String,
    /// Standard uncertainty that it contributes, in the budget's unit.
    pub contribution: String,
    /// Its degrees of freedom; `∞` where there is no end.
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
