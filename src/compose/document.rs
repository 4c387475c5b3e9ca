//! The view model: every value that a report's templates see, and nothing that they do not.
//!
//! Numbers are decimal strings that have already been rounded (JCGM 100, 7.2.6): rounding happens
//! once, where this is filled in, and a template only places digits. A minus may be written `-`;
//! the page prints a true minus. Texts are plain and may hold anything: the environment writes them
//! as literals. Only [`Markup`] is markup. Paths name assets of the document's bundle.

mod appendices;
mod checks;
mod facts;

use serde::{Serialize, Serializer};

pub use appendices::{
    Appendices, Aside, Attachment, Budget, BudgetComponent, BudgetGroup, BudgetPart, BudgetRow, BudgetTable,
    FileFacts, Method, SealChange, SealFacts,
};
pub use checks::{
    ChangeGroup, ChangeRow, ChangeTable, CheckSection, Comparison, ConditionRow, FindingGroup, FindingRow,
    KeyFigure, Reading, ReadingRow, ReadingTable,
};
pub use facts::{
    Answer, CoverageFacts, DiaryEntry, DocumentFacts, Fact, InstrumentFacts, MachineFacts, PaperFacts,
    SummaryGroup, SummaryRow, SummaryTable, Unfair, VisitFacts,
};

/// A whole report.
#[derive(Debug, Clone, Serialize)]
pub struct Report {
    /// Title block and metadata.
    pub document: DocumentFacts,
    /// The first page.
    pub answer: Answer,
    /// The machines, in the session's order.
    pub machines: Vec<MachineFacts>,
    /// The visits, by date. They are also in the diary.
    pub visits: Vec<VisitFacts>,
    /// Purchase, visits, events and ends of coverage, by date.
    pub diary: Vec<DiaryEntry>,
    /// The instruments that were used.
    pub instruments: Vec<InstrumentFacts>,
    /// A section each, in the session's order.
    pub checks: Vec<CheckSection>,
    /// Which visits were compared, and how fair that is.
    pub comparisons: Vec<Comparison>,
    /// The session's notes, turned into Typst.
    pub notes: Option<Markup>,
    /// Photographs, in order of date.
    pub photos: Vec<Photo>,
    /// What a doubting reader looks up.
    pub appendices: Appendices,
    /// Files that travel inside the PDF.
    pub attachments: Vec<Attachment>,
}

/// Markup that this program made from what a user wrote, and that is written as it is: Typst in a report,
/// HTML in a page.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Markup(pub String);

impl Serialize for Markup {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        minijinja::Value::from_safe_string(self.0.clone()).serialize(serializer)
    }
}

/// The state of the machine at a visit; the template gives it mark, colour and word.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum State {
    /// Before the repair: open circle, vermillion.
    AsFound,
    /// After the repair: filled circle, blue.
    AsLeft,
    /// What others are held against: short upright bar, grey.
    Reference,
    /// A machine in good order, once and for later: short upright bar, grey.
    Baseline,
}

/// A calendar date.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct DateShown {
    /// The year.
    pub year: i16,
    /// The month, 1 to 12.
    pub month: i8,
    /// The day of the month.
    pub day: i8,
    /// As it is printed: `2 March 2026`.
    pub text: String,
}

impl From<jiff::civil::Date> for DateShown {
    fn from(date: jiff::civil::Date) -> Self {
        let text = crate::session::written_out(date).replace(' ', "\u{a0}");
        Self { year: date.year(), month: date.month(), day: date.day(), text }
    }
}

/// A number with its expanded uncertainty (95 %), both in `unit`.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Number {
    /// The value: `3.4`.
    pub value: String,
    /// The expanded uncertainty, without the sign: `0.8`. `None` where there is none.
    pub plus_minus: Option<String>,
    /// The unit as printed: `thou`. Empty for a count.
    pub unit: String,
}

/// How wide a chart stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Width {
    /// The text column, 125 mm on US Letter and 119 mm on A4.
    Text,
    /// Text and margin together, 178 mm and 172 mm.
    Full,
    /// Half of `Full`; two that follow each other stand side by side.
    Half,
}

/// A chart.
#[derive(Debug, Clone, Serialize)]
pub struct Exhibit {
    /// Asset: the SVG.
    pub path: String,
    /// What the chart shows and finds, for those who cannot see it. Never empty.
    pub alt: String,
    /// The finding as the chart's title, set above it by the template. Empty where the drawing
    /// carries its title itself.
    pub title: String,
    /// What else a reader needs: how it was read, what the marks mean. May be empty.
    pub caption: String,
    /// How wide it stands.
    pub width: Width,
}

/// A photograph.
#[derive(Debug, Clone, Serialize)]
pub struct Photo {
    /// Asset: JPEG or PNG.
    pub path: String,
    /// What is to be seen. Never empty: the caption, or else the file's name.
    pub alt: String,
    /// The caption as written.
    pub caption: String,
    /// When it was taken or, failing that, the visit's date.
    pub date: String,
    /// Where it was taken; empty where that is not known or not to be shown.
    pub position: String,
    /// What is odd about its date, in a sentence that accuses nobody; mostly empty.
    pub remark: String,
    /// The visit's title.
    pub visit: String,
    /// The visit's state.
    pub state: State,
}
