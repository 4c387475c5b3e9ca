//! What went wrong in typesetting, in words and with its place.

use std::fmt;

use jiff::civil::Date;
use typst::diag::SourceDiagnostic;
use typst::syntax::{DiagSpan, Span};
use typst::{World, WorldExt};

use super::Origin;
use super::fonts::MissingFamily;
use super::world::MAIN;

/// Why there is no document.
#[derive(Debug, Clone, thiserror::Error)]
pub enum TypesetError {
    /// A template, or a picture it shows, is at fault. All troubles that Typst found, in its order.
    #[error("{}", listed(.0))]
    Source(Vec<Trouble>),
    /// A font family that should be shipped is missing.
    #[error(transparent)]
    Fonts(#[from] MissingFamily),
    /// A drawing names a family that would not be set in a shipped font.
    #[error(
        "{path}: the font family \"{families}\" is not one of ours, or it holds a figure and needs quotes"
    )]
    DrawingFamily {
        /// The drawing's path in the bundle.
        path: String,
        /// What it names, as written.
        families: String,
    },
    /// A path in the bundle that is not a plain relative one.
    #[error("\"{0}\" is not a path inside the document's bundle")]
    Path(String),
    /// A date that Typst cannot hold.
    #[error("{0} cannot be the date of a document")]
    Date(Date),
    /// The engine could not be set up.
    #[error("the typesetting engine could not be set up: {0}")]
    Engine(String),
}

/// One error or warning.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Trouble {
    /// What is wrong.
    pub message: String,
    /// Where; `None` where it concerns the whole document.
    pub place: Option<Place>,
    /// How it might be mended, and what led there.
    pub hints: Vec<String>,
}

/// A place in a template or in another source of the bundle.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Place {
    /// The template's or file's name.
    pub file: String,
    /// The line, counted from 1.
    pub line: usize,
    /// The column, counted in characters from 1.
    pub column: usize,
    /// The source at that place, as Typst saw it.
    pub text: String,
    /// How many characters of it stand before the place.
    pub before: usize,
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}:{}", self.file, self.line, self.column)
    }
}

impl fmt::Display for Trouble {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(place) = &self.place {
            write!(f, "{place}: ")?;
        }
        f.write_str(&self.message)?;
        if let Some(place) = self.place.as_ref().filter(|place| !place.text.is_empty()) {
            write!(f, "\n  {}\n  {}^", place.text, " ".repeat(place.before))?;
        }
        for hint in &self.hints {
            write!(f, "\n  {hint}")?;
        }
        Ok(())
    }
}

fn listed(troubles: &[Trouble]) -> String {
    let lines: Vec<String> = troubles.iter().map(ToString::to_string).collect();
    lines.join("\n")
}

/// Typst's diagnostics as troubles, each led back to the template that it stems from.
pub(super) fn explain(found: &[SourceDiagnostic], world: &dyn World, origins: &[Origin]) -> Vec<Trouble> {
    found.iter().map(|diagnostic| explain_one(diagnostic, world, origins)).collect()
}

fn explain_one(diagnostic: &SourceDiagnostic, world: &dyn World, origins: &[Origin]) -> Trouble {
    let place = place(diagnostic.span, world, origins);
    let mut hints: Vec<String> = diagnostic.hints.iter().map(|hint| format!("hint: {}", hint.v)).collect();
    // The calls that led there say which value of which template was at fault.
    for point in &diagnostic.trace {
        if let Some(at) = self::place(span(point.span), world, origins) {
            hints.push(format!("{} at {at}: {}", point.v, at.text));
        }
    }
    Trouble { message: diagnostic.message.to_string(), place, hints }
}

fn span(span: Span) -> DiagSpan {
    DiagSpan::from_span(span, None)
}

fn place(span: DiagSpan, world: &dyn World, origins: &[Origin]) -> Option<Place> {
    let id = span.id()?;
    let range = world.range(span)?;
    let file = id.get().vpath().get_without_slash().to_owned();
    let Ok(source) = world.source(id) else {
        // An asset: a picture or data, whose lines mean nothing to a reader.
        return Some(Place { file, line: 1, column: 1, text: String::new(), before: 0 });
    };
    let (line, column) = source.lines().byte_to_line_column(range.start)?;
    let lines = source.lines().line_to_range(line)?;
    let whole = source.text().get(lines)?;
    let indent = whole.chars().take_while(|letter| letter.is_whitespace()).count();
    let (text, before) = shorten(whole.trim(), column.saturating_sub(indent));
    let seen = Place { file, line: line + 1, column: column + 1, text, before };
    if seen.file == MAIN {
        return Some(lead_back(seen, range.start, source.text(), origins));
    }
    Some(seen)
}

/// From a byte of the composed source to the template that wrote it.
fn lead_back(seen: Place, byte: usize, main: &str, origins: &[Origin]) -> Place {
    let Some(origin) = origins.iter().find(|origin| origin.made.contains(&byte)) else {
        return seen;
    };
    let (mut line, mut column) = (origin.line, origin.column);
    if origin.verbatim {
        for c in main.get(origin.made.start..byte).unwrap_or_default().chars() {
            if c == '\n' {
                line += 1;
                column = 1;
            } else {
                column += 1;
            }
        }
    }
    Place { file: origin.template.clone(), line, column, ..seen }
}

/// At most about a line's worth of source about a column, for a composed line can be very long; and how many
/// characters of what is left stand before it.
fn shorten(text: &str, column: usize) -> (String, usize) {
    const MOST: usize = 110;
    if text.chars().count() <= MOST {
        return (text.to_owned(), column);
    }
    let start = column.saturating_sub(MOST / 2);
    let part: String = text.chars().skip(start).take(MOST).collect();
    let mark = if start > 0 { "…" } else { "" };
    (format!("{mark}{part}…"), column - start + mark.chars().count())
}
