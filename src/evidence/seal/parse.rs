//! Reads a seal, strictly: a seal is only ever written by a program, and what differs was changed.

use std::ops::Range;
use std::sync::Arc;

use super::{Before, Moment, Seal, SealedFile, from_visit, seal_path};
use crate::session::{Place, Problem, Problems, SourceFile, Walls};

/// The first line.
pub(super) const HEAD: &str = "# asfound seal 1";

/// Reads the seal of a visit. What is wrong goes to `problems`, as warnings with their lines; a seal in which
/// something is wrong is none.
pub fn parse(source: &Arc<SourceFile>, visit: &str, walls: &Walls, problems: &mut Problems) -> Option<Seal> {
    let mut reader = Reader { source, problems, whole: true };
    let mut lines = lines(&source.text);
    let head = lines.next();
    if head.as_ref().is_none_or(|(_, line)| *line != HEAD) {
        let later = head.as_ref().is_some_and(|(_, line)| line.starts_with("# asfound seal "));
        let help = if later {
            "another version of the program wrote it: read it with that one; sha256sum -c reads every version"
        } else {
            "a seal is written by 'asfound seal' and is not edited by hand"
        };
        let span = head.map_or(0..0, |(span, _)| span);
        reader.wrong("this is no seal that this program reads", span, &format!("expected '{HEAD}'"), help);
        return None;
    }
    let named = reader.field(lines.next(), "# visit: ", "the visit's id");
    let sealed = reader.field(lines.next(), "# sealed: ", "the moment");
    let before = reader.field(lines.next(), "# before: ", "the seal before, or 'none'");
    if let Some((span, id)) = named.filter(|(_, id)| *id != visit) {
        reader.wrong(
            &format!("the seal is of the visit '{id}' and lies in the folder of '{visit}'"),
            span,
            "another visit's",
            "put it back into the folder of its visit",
        );
    }
    let sealed = sealed.and_then(|(span, text)| {
        let moment = Moment::parse(text);
        if moment.is_none() {
            reader.wrong(
                &format!("'{text}' is not a moment"),
                span,
                "expected 2026-03-02T16:20:05-05:00",
                HOW,
            );
        }
        moment
    });
    let before = before.and_then(|(span, text)| reader.before(span, text));
    let files = reader.files(lines, visit, walls);
    if !source.text.ends_with('\n') {
        let end = source.text.len();
        reader.wrong("the last line has no end", end..end, "cut off", HOW);
    }
    let whole = reader.whole;
    Some(Seal { visit: visit.to_owned(), sealed: sealed?, before: before?, files }).filter(|_| whole)
}

const HOW: &str =
    "take the seal from a copy of the session, or look at both and seal the visit again with --again";

type Line<'a> = (Range<usize>, &'a str);

/// The lines with their places.
fn lines(text: &str) -> impl Iterator<Item = Line<'_>> {
    let mut at = 0;
    text.split_terminator('\n').map(move |line| {
        let start = at;
        at += line.len() + 1;
        (start..start + line.len(), line)
    })
}

struct Reader<'a> {
    source: &'a Arc<SourceFile>,
    problems: &'a mut Problems,
    whole: bool,
}

impl Reader<'_> {
    fn wrong(&mut self, message: &str, span: Range<usize>, expected: &str, help: &str) {
        self.whole = false;
        let place = Place { source: Arc::clone(self.source), span };
        self.problems.push(Problem::error(message, place).warning().expected(expected).help(help));
    }

    /// What stands behind the name of a line.
    fn field<'a>(&mut self, line: Option<Line<'a>>, name: &str, what: &str) -> Option<Line<'a>> {
        let end = self.source.text.len();
        let (span, line) = line.unwrap_or((end..end, ""));
        if let Some(value) = line.strip_prefix(name) {
            return Some((span.start + name.len()..span.end, value));
        }
        self.wrong(&format!("the seal does not say {what}"), span, &format!("expected '{name}…'"), HOW);
        None
    }

    /// The seal before: `Some(None)` where it is the first.
    #[allow(clippy::option_option)]
    fn before(&mut self, span: Range<usize>, text: &str) -> Option<Option<Before>> {
        if text == "none" {
            return Some(None);
        }
        let read = hashed(text).filter(|(_, path)| seal_path(path).is_some());
        if read.is_none() {
            let expected = "expected 'none', or a SHA-256, two spaces and visits/VISIT/seal.txt";
            self.wrong("the seal before is not named as it should be", span, expected, HOW);
        }
        let (sha256, path) = read?;
        Some(Some(Before { sha256: sha256.to_owned(), path: path.to_owned() }))
    }

    fn files<'a>(
        &mut self,
        lines: impl Iterator<Item = Line<'a>>,
        visit: &str,
        walls: &Walls,
    ) -> Vec<SealedFile> {
        let mut files: Vec<SealedFile> = Vec::new();
        for (span, line) in lines {
            let Some((sha256, shown)) = hashed(line) else {
                let expected = "expected a SHA-256 of 64 small hexadecimal digits, two spaces and a path";
                self.wrong("this line of the seal cannot be read", span, expected, HOW);
                continue;
            };
            let at = span.start + sha256.len() + 2..span.end;
            let path = match walls.relative("", &format!("visits/{visit}/{shown}")) {
                Ok(path) => path,
                Err(breach) => {
                    self.wrong(&format!("'{shown}': {breach}"), at, "expected a file of this session", HOW);
                    continue;
                }
            };
            if from_visit(visit, &path) != shown {
                let expected = format!("expected '{}'", from_visit(visit, &path));
                self.wrong(&format!("'{shown}' is not written as a seal writes a path"), at, &expected, HOW);
                continue;
            }
            if files.last().is_some_and(|last| last.shown.as_str() >= shown) {
                let expected = "expected every file once, in order";
                self.wrong(&format!("'{shown}' is named twice or out of its order"), at, expected, HOW);
            }
            files.push(SealedFile { shown: shown.to_owned(), path, sha256: sha256.to_owned() });
        }
        files
    }
}

/// A line as `sha256sum` writes it: the hash, two spaces, the path.
fn hashed(line: &str) -> Option<(&str, &str)> {
    let (sha256, path) = line.split_once("  ")?;
    let digit = |byte: u8| byte.is_ascii_digit() || (b'a'..=b'f').contains(&byte);
    (sha256.len() == 64 && sha256.bytes().all(digit) && !path.is_empty()).then_some((sha256, path))
}
