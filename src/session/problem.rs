//! What is wrong with a session, said to the person who typed it.

use std::collections::BTreeSet;
use std::ops::Range;
use std::sync::Arc;

/// A text file of the session, kept for the messages that point into it.
#[derive(Debug, PartialEq, Eq)]
pub struct SourceFile {
    /// The path as messages show it: the session's folder name, then `/`-separated.
    pub name: String,
    /// The whole text, or as much of it as a message shows.
    pub text: String,
    /// The line on which the text begins, from 1.
    pub first_line: usize,
    /// The characters of that line that stand before the text.
    pub first_column: usize,
}

impl SourceFile {
    /// A whole file.
    pub fn whole(name: impl Into<String>, text: impl Into<String>) -> Self {
        Self { name: name.into(), text: text.into(), first_line: 1, first_column: 0 }
    }
}

/// A stretch of a file of the session.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Place {
    /// The file.
    pub source: Arc<SourceFile>,
    /// Bytes of its text.
    pub span: Range<usize>,
}

impl Place {
    /// The line, counted from 1, on which the place begins.
    pub fn line(&self) -> usize {
        let start = self.span.start.min(self.source.text.len());
        let above = self.source.text.as_bytes()[..start].iter().filter(|byte| **byte == b'\n').count();
        above + self.source.first_line
    }
}

/// Whether a problem stops the work.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Severity {
    /// The session cannot be believed as it stands: exit code 1.
    Error,
    /// Worth saying; the work goes on.
    Warning,
}

/// One thing that is wrong: what, where, what was expected and how to mend it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Problem {
    /// Stops the work or not.
    pub severity: Severity,
    /// What is wrong, in lower case without a full stop.
    pub message: String,
    /// Where, as far as it stands anywhere.
    pub place: Option<Place>,
    /// What the caret's line says: what was expected there.
    pub expected: String,
    /// How to mend it.
    pub help: String,
}

impl Problem {
    /// An error at a place.
    pub fn error(message: impl Into<String>, place: Place) -> Self {
        Self {
            severity: Severity::Error,
            message: message.into(),
            place: Some(place),
            expected: String::new(),
            help: String::new(),
        }
    }

    /// An error of the folder as a whole.
    pub fn folder(message: impl Into<String>) -> Self {
        Self {
            severity: Severity::Error,
            message: message.into(),
            place: None,
            expected: String::new(),
            help: String::new(),
        }
    }

    /// The same as a warning.
    #[must_use]
    pub fn warning(mut self) -> Self {
        self.severity = Severity::Warning;
        self
    }

    /// With what was expected at the caret.
    #[must_use]
    pub fn expected(mut self, text: impl Into<String>) -> Self {
        self.expected = text.into();
        self
    }

    /// With the way to mend it.
    #[must_use]
    pub fn help(mut self, text: impl Into<String>) -> Self {
        self.help = text.into();
        self
    }
}

/// All that was found wrong, in the order of the files and lines.
#[derive(Clone, Debug, Default)]
pub struct Problems {
    list: Vec<Problem>,
    /// What is not kept: whether it is an error, file, place, message.
    more: BTreeSet<(bool, String, usize, String)>,
}

/// More problems than this help nobody; the rest is counted.
const MOST: usize = 200;

impl Problems {
    /// Adds a problem, unless the same was said of the same place. Beyond the first 200 it is only
    /// counted.
    pub fn push(&mut self, problem: Problem) {
        if self.list.contains(&problem) {
            return;
        }
        if self.list.len() < MOST {
            self.list.push(problem);
            return;
        }
        let (file, start) = problem
            .place
            .map_or_else(Default::default, |place| (place.source.name.clone(), place.span.start));
        self.more.insert((problem.severity == Severity::Error, file, start, problem.message));
    }

    /// Takes over another list.
    pub fn extend(&mut self, other: Self) {
        for problem in other.list {
            self.push(problem);
        }
        self.more.extend(other.more);
    }

    /// How many were counted and not kept.
    pub fn more(&self) -> usize {
        self.more.len()
    }

    /// Whether any of them stops the work.
    pub fn any_error(&self) -> bool {
        self.errors() > 0
    }

    /// How many are warnings.
    pub fn warnings(&self) -> usize {
        self.iter().filter(|problem| problem.severity == Severity::Warning).count()
    }

    /// How many of them stop the work, those that were only counted among them.
    pub fn errors(&self) -> usize {
        let kept = self.list.iter().filter(|problem| problem.severity == Severity::Error).count();
        kept + self.more.iter().filter(|(error, ..)| *error).count()
    }

    /// Whether every error stands in a file that was read. What the system said of a folder it may say otherwise the next time.
    pub fn all_in_files(&self) -> bool {
        self.iter().all(|problem| problem.severity == Severity::Warning || problem.place.is_some())
    }

    /// Whether nothing was found.
    pub fn is_empty(&self) -> bool {
        self.list.is_empty()
    }

    /// Sorts by file and line, so that the messages follow the person's reading.
    pub fn sort(&mut self) {
        self.list.sort_by_key(|problem| {
            problem.place.as_ref().map_or_else(
                || (0, String::new(), 0, 0, 0),
                |place| {
                    let source = &place.source;
                    (1, source.name.clone(), source.first_line, source.first_column, place.span.start)
                },
            )
        });
    }

    /// The problems.
    pub fn iter(&self) -> std::slice::Iter<'_, Problem> {
        self.list.iter()
    }
}

impl<'a> IntoIterator for &'a Problems {
    type Item = &'a Problem;
    type IntoIter = std::slice::Iter<'a, Problem>;

    fn into_iter(self) -> Self::IntoIter {
        self.iter()
    }
}

/// The known name nearest to what was typed, where one is near enough to be meant.
pub fn nearest<'a>(typed: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let lower = typed.to_lowercase().replace('_', "-");
    known
        .into_iter()
        .map(|name| {
            let plain = name.to_lowercase().replace('_', "-");
            (strsim::osa_distance(&plain, &lower), name)
        })
        .filter(|(distance, name)| *distance <= 1 + name.chars().count() / 4)
        .min_by_key(|(distance, _)| *distance)
        .map(|(_, name)| name)
}

/// "did you mean 'x'?", or the list of what is known.
pub fn did_you_mean(typed: &str, known: &[&str]) -> String {
    match nearest(typed, known.iter().copied()) {
        Some(name) => format!("did you mean '{name}'?"),
        None if known.is_empty() => String::new(),
        None => format!("known here: {}", known.join(", ")),
    }
}
