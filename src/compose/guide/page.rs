//! The values that the guide's templates see.

use serde::Serialize;

use super::super::document::{Markup, Method, PaperFacts};

/// The guide.
#[derive(Debug, Clone, Serialize)]
pub struct GuidePage {
    /// Metadata.
    pub document: PaperFacts,
    /// Its chapters, in order.
    pub chapters: Vec<Chapter>,
}

/// A chapter.
#[derive(Debug, Clone, Serialize)]
pub struct Chapter {
    /// Its title.
    pub title: String,
    /// Its address within the page.
    pub id: String,
    /// Its text; may be empty.
    pub body: Markup,
    /// How what it speaks of is computed, with the sources; may be empty.
    pub methods: Vec<Method>,
    /// The measures, in the chapter that is theirs.
    pub measures: Vec<MeasureShown>,
}

/// A measure.
#[derive(Debug, Clone, Serialize)]
pub struct MeasureShown {
    /// As a check names it; its address within the page.
    pub id: String,
    /// The same as a title.
    pub title: String,
    /// What it answers, how it is read, what it cannot tell.
    pub body: Markup,
    /// The numbers that come out.
    pub numbers: Vec<String>,
    /// How they are computed, with the sources.
    pub methods: Vec<Method>,
    /// What can hurt whoever takes the readings.
    pub cautions: Vec<String>,
}

/// The guide for a screen, in one file.
#[derive(Debug, Clone, Serialize)]
pub struct ScreenPage {
    /// The guide, its texts as HTML.
    pub guide: GuidePage,
    /// The faces, as rules of a style sheet.
    pub faces: Markup,
    /// `page.css`.
    pub style: Markup,
    /// `page.js`.
    pub script: Markup,
    /// What the page may load: itself, and nothing else.
    pub policy: String,
}
