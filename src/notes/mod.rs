//! Notes: what a person wrote in `CommonMark` becomes Typst markup, and never Typst code.
//!
//! [`to_typst`] reads the whole of `CommonMark` 0.31.2, tables, footnotes, strikethrough and task
//! lists. Every letter that the person typed reaches Typst inside a string [`literal`], so that
//! `#import`, `$x$` or `]` come out as those letters. The only calls in the output are those of
//! Typst's own functions listed in [`CALLS`]; no prelude is needed.
//!
//! What a printed page cannot do is said in words and in a [`Remark`]: HTML is shown as typed, a
//! picture that is not in the session is named, an address that is not `http`, `https` or `mailto`
//! is written out and not linked. Nothing typed is left out but the titles of links and of
//! pictures within a line and the language of a code block, which have no place on paper; cells
//! of a table beyond its head, as GFM says; and variation selectors (see [`visible`]).
//!
//! A template may restyle all of it with show rules: `heading`, `list`, `enum`, `quote`, `raw`,
//! `table`, `footnote`, `figure`, `link`, `line`; and the box of a task by its label,
//! `#show label("task-done"): …` and `label("task-open")`.

mod address;
mod html;
mod literal;
mod plan;
pub mod prose;
mod remark;
mod together;
mod visible;
mod write;

#[cfg(test)]
mod tests;

use std::ops::Range;

pub(crate) use html::escaped;
pub use html::{HtmlRules, Picture, to_html};
pub use literal::literal;
pub use remark::{Remark, RemarkKind};
pub use together::together;
pub use visible::{Visible, visible};

/// The Typst functions that converted notes call; they call no other.
pub const CALLS: [&str; 19] = [
    "box",
    "emph",
    "enum",
    "figure",
    "footnote",
    "heading",
    "image",
    "label",
    "line",
    "linebreak",
    "link",
    "list",
    "par",
    "parbreak",
    "quote",
    "raw",
    "strike",
    "strong",
    "table",
];

/// What the report asks of the notes that are set in it.
pub struct Rules<'a> {
    /// A name that no other notes of the same report have; it keeps their footnotes apart.
    pub name: &'a str,
    /// The level, 1 to 6, that the highest heading of the notes becomes. Headings below follow
    /// without a gap, as PDF/UA-1 (ISO 14289-1, 7.4.2) asks, and none is deeper than 6.
    pub heading_level: u8,
    /// The path in the Typst world for a picture's target as written, or `None` if there is none.
    pub image: &'a dyn Fn(&str) -> Option<String>,
    /// Whether the report's typefaces have this character. PDF/A forbids a missing one, so it is
    /// shown by its number instead.
    pub covers: &'a dyn Fn(char) -> bool,
}

/// Notes ready for Typst.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Converted {
    /// Typst markup: to be placed where a block may stand, in a section one level above
    /// [`Rules::heading_level`].
    pub typst: String,
    /// The pictures that the notes ask for, in their order, with those that were not found.
    pub images: Vec<ImageUse>,
    /// What the writer of the notes should know, in the order of the text.
    pub remarks: Vec<Remark>,
}

/// A picture named in the notes, wherever it may lie; addresses on the network are not among them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ImageUse {
    /// The target as written, percent-decoded.
    pub target: String,
    /// Its description; empty if none was written.
    pub alt: String,
    /// Where it stands in the notes, in bytes.
    pub offset: Range<usize>,
}

/// Converts `markdown` to Typst markup. Takes any text; time grows in proportion to its length.
pub fn to_typst(markdown: &str, rules: &Rules<'_>) -> Converted {
    let plan = plan::read(markdown);
    write::write(markdown, &plan, rules)
}
