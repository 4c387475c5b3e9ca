//! page.html: the report for those who watch, in one file that asks nothing of any other.
//!
//! Its templates see the report's own values, so that a number on the page is the report's number; beside
//! them stand the drawings, the pictures, and what a viewer may take away.

mod data;
pub(in crate::compose) mod drawing;
pub(in crate::compose) mod sealed;

use std::collections::BTreeMap;

use serde::Serialize;

use super::document::{Markup, Report};
use super::report::{Sources, file_asset, readings};
use super::{ComposeError, Templates};
use crate::evidence::Item;
use crate::findings::readings_to_csv;
use crate::notes::{HtmlRules, Picture, to_html};

pub use data::{Download, LeftOut};

/// A picture of more bytes than this stays in the PDF, and all of them together may be no more than that.
const LARGEST_PICTURE: usize = 700 << 10;
const ALL_PICTURES: usize = 2 << 20;

/// What the page's templates see.
#[derive(Debug, Clone, Serialize)]
pub struct Page {
    /// The report's values. Its procedures and notes are HTML here, and a section has every reading.
    pub report: Report,
    /// The drawings, by the path of their exhibit, as HTML takes an SVG.
    pub charts: BTreeMap<String, Markup>,
    /// Photographs that stand in the page, by their path: each a `data:` address. Larger ones are not here.
    pub pictures: BTreeMap<String, Markup>,
    /// What can be taken away.
    pub downloads: Vec<Download>,
    /// Recordings and tables too large for the page.
    pub left_out: Vec<LeftOut>,
    /// The faces, as rules of a style sheet.
    pub faces: Markup,
    /// `page.css`.
    pub style: Markup,
    /// `page.js`.
    pub script: Markup,
    /// What the page may load: itself, and nothing else (Content Security Policy Level 3).
    pub policy: String,
}

/// What was made from the findings, to be taken away as it is.
#[derive(Debug, Clone, Copy)]
pub struct Data<'a> {
    /// findings.json.
    pub json: &'a str,
    /// findings.csv.
    pub csv: &'a str,
}

/// page.html, from the report's values and what stands beside them.
pub fn page(
    templates: &Templates,
    sources: Sources<'_>,
    report: &Report,
    data: Data<'_>,
) -> Result<String, ComposeError> {
    let sealed = sealed::sealed(templates)?;
    let pictures = pictures(sources.files);
    let readings = readings_to_csv(sources.findings);
    let (downloads, left_out) = data::offered(data, &readings, sources.files);
    let page = Page {
        report: for_screen(sources, report, &pictures),
        charts: drawing::all(report, sources.drawings),
        pictures: pictures.into_iter().map(|(path, address)| (file_asset(path), Markup(address))).collect(),
        downloads,
        left_out,
        faces: Markup(sealed.faces),
        style: Markup(sealed.style),
        script: Markup(sealed.script),
        policy: sealed.policy,
    };
    Ok(templates.fill("page.html", &page)?.text)
}

/// The pictures that are small enough for the page, by their path in the session: the smallest first, until
/// the room is used.
fn pictures(files: &[Item]) -> BTreeMap<&str, String> {
    let mut known: Vec<(&Item, &Vec<u8>)> = files
        .iter()
        .filter(|item| matches!(item.mime, "image/jpeg" | "image/png"))
        .filter_map(|item| Some((item, item.bytes.as_ref()?)))
        .filter(|(_, bytes)| bytes.len() <= LARGEST_PICTURE)
        .collect();
    known.sort_by_key(|(item, bytes)| (bytes.len(), item.path.as_str()));
    let mut room = ALL_PICTURES;
    let mut taken = BTreeMap::new();
    for (item, bytes) in known {
        let Some(left) = room.checked_sub(bytes.len()) else { break };
        room = left;
        taken.insert(item.path.as_str(), data::base64_address(item.mime, bytes));
    }
    taken
}

/// The report's values with what a user wrote in `CommonMark` as HTML, and with every reading in its section.
fn for_screen(sources: Sources<'_>, report: &Report, pictures: &BTreeMap<&str, String>) -> Report {
    let mut report = report.clone();
    for section in &mut report.checks {
        section.procedure = sources.session.check(&section.id).and_then(|check| {
            let text = check.procedure.as_ref()?;
            let name = format!("{}-procedure", section.id);
            let picture = |_: &str| Picture::Unknown;
            Some(Markup(to_html(text, &HtmlRules { name: &name, heading_level: 3, picture: &picture })))
        });
        if section.readings.is_empty() {
            section.readings = sources
                .findings
                .check(&section.id)
                .map(|found| readings::all(sources.session, found))
                .unwrap_or_default();
        }
    }
    report.notes = sources.session.notes.as_ref().map(|notes| {
        let picture = |target: &str| match pictures.get(target) {
            Some(address) => Picture::Shown(address.clone()),
            None if sources
                .files
                .iter()
                .any(|item| item.path == target && item.mime.starts_with("image/")) =>
            {
                Picture::Elsewhere("which is in report.pdf".to_owned())
            }
            None => Picture::Unknown,
        };
        let rules = HtmlRules { name: "notes", heading_level: 3, picture: &picture };
        Markup(to_html(&notes.source.text, &rules))
    });
    report
}
