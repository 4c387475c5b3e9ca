//! From a session and its findings to the values of the report's templates.
//!
//! Rounding happens here, once (JCGM 100, 7.2.6); the templates only place digits.

mod answer;
pub(in crate::compose) mod appendices;
mod budgets;
mod changes;
mod checks;
pub(in crate::compose) mod facts;
pub(in crate::compose) mod numbers;
pub(in crate::compose) mod readings;

use std::collections::BTreeMap;

use super::document::{Attachment, Markup, Report};
use crate::charts::exhibit::Exhibit;
use crate::evidence::seal::Standing;
use crate::evidence::{Item, Publication};
use crate::findings::{Findings, sentences};
use crate::notes;
use crate::session::{Problem, Problems, Session};
use crate::typeset;

/// The drawings of a report.
#[derive(Debug, Default)]
pub struct Drawings {
    /// The first page's chart.
    pub summary: Option<Exhibit>,
    /// Each check's charts, by the check's id.
    pub checks: BTreeMap<String, Vec<Exhibit>>,
}

/// What the report is made from.
#[derive(Clone, Copy, Debug)]
pub struct Sources<'a> {
    /// The session.
    pub session: &'a Session,
    /// What was found.
    pub findings: &'a Findings,
    /// The drawings.
    pub drawings: &'a Drawings,
    /// Every file of the session.
    pub files: &'a [Item],
    /// How each visit stands with its seal.
    pub seals: &'a [Standing],
    /// How the report is published.
    pub publication: Publication,
    /// The document number.
    pub number: &'a str,
    /// The program's name and version.
    pub program: &'a str,
}

/// Where a file of the session stands among the document's assets.
pub fn file_asset(path: &str) -> String {
    format!("session/{}", asset_name(path))
}

/// Where a chart stands among the document's assets.
pub fn chart_asset(check: &str, name: &str) -> String {
    if check.is_empty() { format!("charts/{name}.svg") } else { format!("charts/{check}-{name}.svg") }
}

/// A path that is plain to Typst whatever the file is called: other characters are written as
/// their code points, so that no two names become one.
fn asset_name(path: &str) -> String {
    path.chars()
        .map(|c| {
            if c.is_ascii_alphanumeric() || matches!(c, '/' | '-' | '_' | '.') {
                c.to_string()
            } else {
                format!("~{:x}~", u32::from(c))
            }
        })
        .collect()
}

/// The values of the report's templates. What is wrong with the notes goes to `problems`.
pub fn report(sources: Sources<'_>, problems: &mut Problems) -> Report {
    let Sources { session, findings, .. } = sources;
    let machines = facts::machines(sources);
    Report {
        document: facts::document(sources),
        answer: answer::answer(sources),
        visits: facts::visits(session),
        diary: facts::diary(sources),
        instruments: facts::instruments(sources),
        checks: checks::sections(sources),
        comparisons: changes::comparisons(session, findings),
        notes: story(sources, problems),
        photos: facts::photos(sources),
        appendices: appendices::appendices(sources),
        attachments: attachments(sources),
        machines,
    }
}

/// The session's notes as Typst markup; pictures are those of the session.
fn story(sources: Sources<'_>, problems: &mut Problems) -> Option<Markup> {
    let source = &sources.session.notes.as_ref()?.source;
    let picture = |target: &str| {
        let known = sources.files.iter().find(|item| item.path == target && item.bytes.is_some())?;
        known.mime.starts_with("image/").then(|| file_asset(&known.path))
    };
    let rules = notes::Rules { name: "notes", heading_level: 2, image: &picture, covers: &covers };
    let converted = notes::to_typst(&source.text, &rules);
    for remark in &converted.remarks {
        let place =
            crate::session::Place { source: std::sync::Arc::clone(source), span: remark.range.clone() };
        problems.push(Problem::error(remark.message.clone(), place).warning());
    }
    Some(Markup(converted.typst))
}

/// A user's Markdown in a field (a procedure) as Typst markup: no pictures. `name` keeps its
/// footnotes apart from all others.
pub(in crate::compose) fn short_markup(name: &str, text: &str) -> Markup {
    let rules = notes::Rules { name, heading_level: 4, image: &|_| None, covers: &covers };
    Markup(notes::to_typst(text, &rules).typst)
}

/// Whether the report's typefaces have a character.
fn covers(c: char) -> bool {
    typeset::fonts::covers(c)
}

/// Every file of the session travels in the PDF, with the findings made from it.
fn attachments(sources: Sources<'_>) -> Vec<Attachment> {
    let mut list: Vec<Attachment> = sources
        .files
        .iter()
        .filter(|item| item.bytes.is_some())
        .map(|item| Attachment {
            name: attached_name(&item.path),
            path: file_asset(&item.path),
            mime: item.mime.to_owned(),
            relationship: relationship(item).to_owned(),
            description: match altered(item) {
                "" => format!("File of the session: {}", item.path),
                how => format!("File of the session, {how}: {}", item.path),
            },
        })
        .collect();
    for (name, mime, relationship, what) in [
        ("findings.json", "application/json", "data", "Every finding and change, with units and uncertainty"),
        ("findings.csv", "text/csv", "data", "Every finding as a table"),
        (
            "files.sha256",
            "text/plain",
            "supplement",
            "Every file of the session with its SHA-256, as sha256sum reads it",
        ),
        ("made.json", "application/json", "supplement", "How this report was made"),
    ] {
        // A session may hold a file of that name itself; two of one name a PDF cannot carry.
        let taken = list.iter().any(|known| known.name == name);
        list.push(Attachment {
            // No path of a session gives a name that begins with a single '~'.
            name: if taken { format!("~{name}") } else { name.to_owned() },
            path: format!("made/{name}"),
            mime: mime.to_owned(),
            relationship: relationship.to_owned(),
            description: what.to_owned(),
        });
    }
    list
}

/// A path as one name: common tools refuse to take out a file whose name leads into folders. The
/// path itself stands in the attachment's description.
pub fn attached_name(path: &str) -> String {
    path.replace('~', "~~").replace('/', "~")
}

/// How the bytes of a file that travel differ from the session's own; empty where they do not.
fn altered(item: &Item) -> &'static str {
    match (item.altered, item.mime) {
        (false, _) => "",
        (true, "image/jpeg" | "image/png") => "without position",
        (true, _) => "masked copy",
    }
}

/// How a file relates to the document (ISO 19005-3, 6.8; `AFRelationship`).
fn relationship(item: &Item) -> &'static str {
    match item.mime {
        "application/yaml" | "text/markdown" => "source",
        "text/csv" | "audio/wav" | "application/json" => "data",
        _ => "supplement",
    }
}

/// The words for one of a measure's numbers.
pub(in crate::compose) fn what_words(what: &str) -> String {
    crate::registry::measures()
        .iter()
        .flat_map(|measure| measure.whats())
        .find(|known| known.name == what)
        .map_or_else(|| what.to_owned(), |known| sentences::capital(known.words))
}

/// A visit's title as a table names it: cut where it is so long that it would leave the numbers no room.
/// The table of visits has it whole.
fn visit_name(session: &Session, id: &str) -> String {
    const MOST: usize = 36;
    crate::findings::claim::words::shortened(session.visit_title(id), MOST)
}
