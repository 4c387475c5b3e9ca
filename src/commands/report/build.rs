//! From a session and its findings to a report's source, drawings and data.

use std::collections::BTreeMap;

use rayon::prelude::*;

use super::super::PROGRAM;
use super::published;
use crate::charts::exhibit::{Exhibit, Room};
use crate::charts::{ChartError, overview};
use crate::compose::page::{Data, page};
use crate::compose::report::{Drawings, Sources, chart_asset, file_asset, report};
use crate::compose::{ComposeError, Templates};
use crate::evidence::seal::Standing;
use crate::evidence::{self, Item, Known, Listed, Publication};
use crate::findings::{CheckFindings, Findings, to_csv, to_json};
use crate::registry::registered;
use crate::session::withheld::{Masks, Private};
use crate::session::{Paper, Problems, Session};
use crate::typeset::picture::PictureError;
use crate::typeset::{Bundle, Meta, TypesetError};

/// Why a report could not be made from a session without errors.
#[derive(Debug, thiserror::Error)]
pub enum BuildError {
    /// A chart could not be drawn.
    #[error("the chart of '{check}' could not be drawn: {error}")]
    Chart {
        /// The check's title.
        check: String,
        /// Why.
        error: ChartError,
    },
    /// A template is at fault.
    #[error("{0}")]
    Compose(#[from] ComposeError),
    /// The document could not be typeset.
    #[error("{0}")]
    Typeset(#[from] TypesetError),
    /// A picture could not be written.
    #[error("{0}")]
    Picture(#[from] PictureError),
}

/// Everything that a report is made of, before anything is written.
pub struct Built {
    /// The document's source and assets.
    pub bundle: Bundle,
    /// Its number and date.
    pub meta: Meta,
    /// The charts: path below the output folder, SVG.
    pub charts: Vec<(String, String)>,
    /// findings.json.
    pub json: String,
    /// findings.csv.
    pub csv: String,
    /// made.json: how it was made, which the document carries.
    pub made: String,
    /// page.html.
    pub page: String,
    /// How each visit stands with its seal.
    pub seals: Vec<Standing>,
    /// Every file of the session, and of those that it is compared with, with its digest.
    pub listed: Vec<Listed>,
    /// What the files that travel tell of people and places, a sentence each.
    pub said: Vec<String>,
}

impl Built {
    /// The first private value that stands in what is to be published, though it should not.
    pub(super) fn still_holds<'a>(&self, masks: &'a Masks) -> Option<&'a Private> {
        let charts = self.charts.iter().map(|(_, svg)| svg);
        let texts = [&self.bundle.main.text, &self.json, &self.csv, &self.page];
        texts.into_iter().chain(charts).find_map(|text| masks.still_in(text))
    }
}

/// From a session and its findings to the document's source and assets. What the notes' writer
/// should know goes to `problems` as warnings.
pub fn build(
    session: &Session,
    findings: &Findings,
    templates: &Templates,
    problems: &mut Problems,
) -> Result<Built, BuildError> {
    build_as(session, findings, templates, Publication::default(), Known::Nothing, problems)
}

/// The same as it is to be published, with what is known of the session's files.
pub fn build_as(
    session: &Session,
    findings: &Findings,
    templates: &Templates,
    publication: Publication,
    known: Known<'_>,
    problems: &mut Problems,
) -> Result<Built, BuildError> {
    build_with((session, findings), templates, (publication, known), None, problems)
}

pub(super) fn build_with(
    (session, findings): (&Session, &Findings),
    templates: &Templates,
    (publication, known): (Publication, Known<'_>),
    drawn: Option<&mut Drawn>,
    problems: &mut Problems,
) -> Result<Built, BuildError> {
    let files = published::files(session, (publication, known), problems);
    let number = evidence::document_number(&files);
    let drawings = draw(session, findings, drawn)?;
    let seals = evidence::seal::check(session, &files, problems);
    let sources = Sources {
        session,
        findings,
        drawings: &drawings,
        files: &files,
        seals: &seals,
        publication,
        number: &number,
        program: PROGRAM,
    };
    let view = report(sources, problems);
    let mut bundle = templates.compose("report.typ", &view)?;
    let json = to_json(findings, &session.name, PROGRAM);
    let csv = to_csv(findings);
    let page = page(templates, sources, &view, Data { json: &json, csv: &csv })?;
    let charts = charts(&drawings);
    let listed: Vec<Listed> = files.iter().map(Listed::from).collect();
    let outside = templates.outside(&session.root);
    let made = evidence::made_json(PROGRAM, &number, publication, &files, &outside);
    let said = published::said(publication, &files);
    let texts = [
        ("findings.json", json.as_str()),
        ("findings.csv", &csv),
        ("files.sha256", &evidence::list::written(&listed)),
        ("made.json", &made),
    ];
    add_assets(&mut bundle, files, &charts, &texts);
    let date = view.document.date;
    let date = crate::session::Date::new(date.year, date.month, date.day).unwrap_or_default();
    Ok(Built {
        bundle,
        meta: Meta { ident: number, date },
        charts,
        json,
        csv,
        made,
        page,
        seals,
        listed,
        said,
    })
}

/// Adds what the document shows and carries: files of the session, drawings, and what was made from it.
fn add_assets(bundle: &mut Bundle, files: Vec<Item>, charts: &[(String, String)], made: &[(&str, &str)]) {
    for item in files {
        if let Some(bytes) = item.bytes {
            bundle.add_asset(file_asset(&item.path), bytes);
        }
    }
    for (path, svg) in charts {
        bundle.add_asset(path.clone(), svg.clone().into_bytes());
    }
    for (name, text) in made {
        bundle.add_asset(format!("made/{name}"), text.as_bytes().to_vec());
    }
}

/// The page's columns in points, as `templates/house.typ` lays them.
pub(in crate::commands) fn room(paper: Paper) -> Room {
    let points = |millimetres: f64| millimetres * 72.0 / 25.4;
    match paper {
        Paper::UsLetter => Room { text: points(125.0), full: points(178.0), height: None },
        Paper::A4 => Room { text: points(119.0), full: points(172.0), height: None },
    }
}

fn draw(session: &Session, findings: &Findings, drawn: Option<&mut Drawn>) -> Result<Drawings, BuildError> {
    let room = room(session.paper);
    let at = |check: &str| {
        let check = check.to_owned();
        move |error| BuildError::Chart { check, error }
    };
    let known = drawn.as_deref();
    let fresh: Result<Vec<(String, Vec<Exhibit>)>, BuildError> = findings
        .checks
        .par_iter()
        .map(|check| {
            let exhibits = match (known.and_then(|known| known.of(check, room)), registered(check.measure)) {
                (Some(exhibits), _) => exhibits,
                (None, Some(registered)) => {
                    (registered.draw)(session, check, room).map_err(at(&check.title))?
                }
                (None, None) => Vec::new(),
            };
            Ok((check.check.clone(), exhibits))
        })
        .collect();
    let drawings = Drawings {
        summary: overview::draw(session, findings, room).map_err(at("first page"))?,
        checks: fresh?.into_iter().collect::<BTreeMap<_, _>>(),
    };
    if let Some(drawn) = drawn {
        drawn.keep(findings, &drawings, room);
    }
    Ok(drawings)
}

/// What was drawn for the last report, for checks that were not examined anew since.
#[derive(Default)]
pub(super) struct Drawn {
    checks: BTreeMap<String, (CheckFindings, Room, Vec<Exhibit>)>,
}

impl Drawn {
    /// A check's exhibits, where its findings are those remembered from the last time: then everything
    /// that they and a drawing of them follow from was the same.
    fn of(&self, check: &CheckFindings, room: Room) -> Option<Vec<Exhibit>> {
        let (known, wide, exhibits) = self.checks.get(&check.check)?;
        let same = known.visits.len() == check.visits.len()
            && known.visits.iter().zip(&check.visits).all(|(a, b)| a.details.is(&b.details))
            && known.patterns == check.patterns
            && *wide == room;
        (same && !check.visits.is_empty()).then(|| exhibits.clone())
    }

    fn keep(&mut self, findings: &Findings, drawings: &Drawings, room: Room) {
        let of = |check: &CheckFindings| {
            let exhibits = drawings.checks.get(&check.check)?.clone();
            Some((check.check.clone(), (check.clone(), room, exhibits)))
        };
        self.checks = findings.checks.iter().filter_map(of).collect();
    }
}

fn charts(drawings: &Drawings) -> Vec<(String, String)> {
    let summary = drawings.summary.iter().map(|exhibit| ("", exhibit));
    let checks = drawings
        .checks
        .iter()
        .flat_map(|(check, list)| list.iter().map(move |exhibit| (check.as_str(), exhibit)));
    summary
        .chain(checks)
        .map(|(check, exhibit)| (chart_asset(check, exhibit.name), exhibit.svg.text.clone()))
        .collect()
}
