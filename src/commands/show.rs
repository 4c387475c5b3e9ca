//! Problems as a person sees them: file, line, the line itself with a caret, and how to mend it.

use std::fmt;
use std::io::{IsTerminal, Write};

use miette::{
    Diagnostic, GraphicalReportHandler, GraphicalTheme, LabeledSpan, MietteError, MietteSpanContents,
    SourceCode, SourceSpan, SpanContents,
};

use crate::session::{Place, Problem, Problems, Severity};

/// Whether a stream takes colour: a terminal, and no `NO_COLOR` (no-color.org).
pub(super) fn colour(stdout: bool) -> bool {
    let wanted = std::env::var_os("NO_COLOR").is_none_or(|value| value.is_empty());
    let terminal = if stdout { std::io::stdout().is_terminal() } else { std::io::stderr().is_terminal() };
    wanted && terminal
}

#[derive(Debug)]
struct Shown {
    message: String,
    severity: Severity,
    source: Option<Line>,
    label: Option<LabeledSpan>,
    help: String,
}

impl fmt::Display for Shown {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message)
    }
}

impl std::error::Error for Shown {}

impl Diagnostic for Shown {
    fn severity(&self) -> Option<miette::Severity> {
        Some(match self.severity {
            Severity::Error => miette::Severity::Error,
            Severity::Warning => miette::Severity::Warning,
        })
    }

    fn help<'a>(&'a self) -> Option<Box<dyn fmt::Display + 'a>> {
        (!self.help.is_empty()).then(|| Box::new(&self.help) as Box<dyn fmt::Display>)
    }

    fn source_code(&self) -> Option<&dyn SourceCode> {
        self.source.as_ref().map(|source| source as &dyn SourceCode)
    }

    fn labels(&self) -> Option<Box<dyn Iterator<Item = LabeledSpan> + '_>> {
        self.label
            .as_ref()
            .map(|label| Box::new(std::iter::once(label.clone())) as Box<dyn Iterator<Item = _>>)
    }
}

/// A text that cannot steer a terminal: control and direction characters become as many bytes of
/// plain marks, so that every place in the text stays where it was.
pub(super) fn plain(text: &str) -> String {
    text.chars()
        .map(|c| {
            let steers = (c.is_control() && c != '\n' && c != '\t')
                || matches!(c, '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
            if steers { "?".repeat(c.len_utf8()) } else { c.to_string() }
        })
        .collect()
}

/// Long lines (a table of readings on one line) are cut to the neighbourhood of the place.
const MOST_LINE: usize = 160;

/// The one line that a problem stands on.
#[derive(Debug)]
struct Line {
    name: String,
    text: String,
    /// From 0.
    number: usize,
    /// Where the place begins in its line, in characters from 0.
    column: usize,
}

impl SourceCode for Line {
    fn read_span<'a>(
        &'a self,
        _: &SourceSpan,
        _: usize,
        _: usize,
    ) -> Result<Box<dyn SpanContents<'a> + 'a>, MietteError> {
        Ok(Box::new(MietteSpanContents::new_named(
            self.name.clone(),
            self.text.as_bytes(),
            SourceSpan::from(0..self.text.len()),
            self.number,
            self.column,
            1,
        )))
    }
}

fn shown(problem: &Problem) -> Shown {
    let located = problem.place.as_ref().map(locate);
    let (source, label) = match located {
        None => (None, None),
        Some((source, span)) => {
            let text = (!problem.expected.is_empty()).then(|| problem.expected.clone());
            (Some(source), Some(LabeledSpan::new_with_span(text, span)))
        }
    };
    Shown {
        message: plain(&problem.message),
        severity: problem.severity,
        source,
        label,
        help: plain(&problem.help),
    }
}

fn locate(place: &Place) -> (Line, SourceSpan) {
    let text = place.source.text.as_str();
    let start = floor(text, place.span.start);
    let line_start = text[..start].rfind('\n').map_or(0, |index| index + 1);
    let line_end = text[start..].find('\n').map_or(text.len(), |index| start + index);
    // One line is enough to find it again: the caret marks the first.
    let mut end = floor(text, place.span.end).max(start).min(line_end);
    let (mut from, mut to) = (line_start, line_end);
    if line_end - line_start > MOST_LINE {
        end = end.min(floor(text, start + MOST_LINE / 2));
        from = floor(text, start.saturating_sub(MOST_LINE / 4)).max(line_start);
        to = floor(text, from + MOST_LINE).min(line_end);
    }
    let before = if line_start == 0 { place.source.first_column } else { 0 };
    let line = Line {
        name: plain(&place.source.name),
        // As many bytes as before, so that the places hold.
        text: plain(text[from..to].trim_end_matches('\r')),
        number: place.line().saturating_sub(1),
        column: before + text[line_start..start].chars().count(),
    };
    (line, SourceSpan::from(start - from..end - from))
}

fn floor(text: &str, index: usize) -> usize {
    let mut index = index.min(text.len());
    while !text.is_char_boundary(index) {
        index -= 1;
    }
    index
}

/// Writes all problems, errors and warnings, and a closing line that counts the errors.
pub(super) fn problems(problems: &Problems, session: &str, err: &mut dyn Write) {
    let theme = if colour(false) { GraphicalTheme::unicode() } else { GraphicalTheme::unicode_nocolor() };
    let handler = GraphicalReportHandler::new_themed(theme).with_width(96).with_context_lines(0);
    for problem in problems {
        let mut text = String::new();
        if handler.render_report(&mut text, &shown(problem)).is_ok() {
            let _ = writeln!(err, "{}", text.trim_end());
        }
    }
    if problems.more() > 0 {
        let _ = writeln!(err, "\nand {} more", problems.more());
    }
    let errors = problems.errors();
    if errors > 0 {
        let what = if errors == 1 { "1 error" } else { &format!("{errors} errors") };
        let _ = writeln!(err, "\n{what} in {}; nothing was written.", plain(session));
    }
}
