//! The values that the cue sheet's template sees.

use serde::Serialize;

use super::super::document::{Fact, Markup, PaperFacts};

/// A narration's cue sheet.
#[derive(Debug, Clone, Serialize)]
pub struct ScriptPage {
    /// Metadata.
    pub document: PaperFacts,
    /// Running time, words, pace.
    pub facts: Vec<Fact>,
    /// What is spoken, shown and waited for, in order.
    pub parts: Vec<Part>,
    /// The stills in order of use.
    pub stills: Vec<StillRow>,
    /// The numbers in the order they are read.
    pub numbers: Vec<NumberRow>,
}

/// A row of the sheet.
#[derive(Debug, Clone, Serialize)]
pub struct Part {
    /// `speech`, `heading` or `pause`.
    pub kind: &'static str,
    /// When it begins: `0:42`.
    pub time: String,
    /// How long it lasts: `18 s`; empty for a heading.
    pub length: String,
    /// A heading's words.
    pub text: String,
    /// What is spoken, numbers in words; none for a heading or a pause.
    pub spoken: Option<Markup>,
    /// The still that it is spoken over.
    pub still: Option<StillShown>,
    /// Whether the maker's own picture begins to be shown here.
    pub camera: bool,
}

/// A still beside a paragraph.
#[derive(Debug, Clone, Serialize)]
pub struct StillShown {
    /// Its name.
    pub name: String,
    /// Its picture among the document's assets; none where it goes on from the paragraph before, or has none.
    pub path: Option<String>,
    /// For those who cannot see it.
    pub alt: String,
    /// Whether it draws itself.
    pub build_up: bool,
    /// Whether it goes on from the paragraph before.
    pub goes_on: bool,
}

/// A still in its time.
#[derive(Debug, Clone, Serialize)]
pub struct StillRow {
    /// From when.
    pub from: String,
    /// Until when.
    pub until: String,
    /// Its name.
    pub name: String,
    /// Whether it draws itself.
    pub build_up: bool,
}

/// A number that is read.
#[derive(Debug, Clone, Serialize)]
pub struct NumberRow {
    /// When its paragraph begins.
    pub time: String,
    /// As it is read aloud.
    pub spoken: String,
    /// As the report prints it.
    pub figure: String,
    /// What it is.
    pub from: String,
}
