//! `report`: the main job. report.pdf, findings.json, findings.csv and the charts.

use std::collections::BTreeMap;
use std::io::Write;
use std::path::{Path, PathBuf};

use rayon::prelude::*;

use super::written::{self, File};
use super::{Outcome, PROGRAM, inspect, letter, read_and_analyse, show};
use crate::charts::exhibit::{Exhibit, Room};
use crate::charts::{ChartError, overview};
use crate::compose::report::{Drawings, Sources, chart_asset, file_asset, report};
use crate::compose::{ComposeError, Templates};
use crate::evidence::{self, Item};
use crate::findings::{Findings, to_csv, to_json};
use crate::registry::registered;
use crate::session::{Paper, Problems, Session};
use crate::typeset::picture::PictureError;
use crate::typeset::{self, Bundle, Meta, TypesetError};

pub(super) struct Options {
    pub(super) out: PathBuf,
    pub(super) templates: Option<PathBuf>,
    pub(super) source: bool,
    pub(super) quiet: bool,
}

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
}

/// From a session and its findings to the document's source and assets. What the notes' writer
/// should know goes to `problems` as warnings.
pub fn build(
    session: &Session,
    findings: &Findings,
    templates: &Templates,
    problems: &mut Problems,
) -> Result<Built, BuildError> {
    let files = evidence::inventory(session, problems);
    let number = evidence::document_number(&files);
    let drawings = draw(session, findings)?;
    let sources =
        Sources { session, findings, drawings: &drawings, files: &files, number: &number, program: PROGRAM };
    let view = report(sources, problems);
    let mut bundle = templates.compose("report.typ", &view)?;
    let json = to_json(findings, &session.name, PROGRAM);
    let csv = to_csv(findings);
    let charts = charts(&drawings);
    add_assets(&mut bundle, files, &charts, &json, &csv);
    let date = view.document.date;
    let date = crate::session::Date::new(date.year, date.month, date.day).unwrap_or_default();
    Ok(Built { bundle, meta: Meta { ident: number, date }, charts, json, csv })
}

fn add_assets(bundle: &mut Bundle, files: Vec<Item>, charts: &[(String, String)], json: &str, csv: &str) {
    for item in files {
        if let Some(bytes) = item.bytes {
            bundle.add_asset(file_asset(&item.path), bytes);
        }
    }
    for (path, svg) in charts {
        bundle.add_asset(path.clone(), svg.clone().into_bytes());
    }
    bundle.add_asset("made/findings.json", json.as_bytes().to_vec());
    bundle.add_asset("made/findings.csv", csv.as_bytes().to_vec());
}

/// The page's columns in points, as `templates/house.typ` lays them.
fn room(paper: Paper) -> Room {
    let points = |millimetres: f64| millimetres * 72.0 / 25.4;
    match paper {
        Paper::UsLetter => Room { text: points(125.0), full: points(178.0), height: None },
        Paper::A4 => Room { text: points(119.0), full: points(172.0), height: None },
    }
}

fn draw(session: &Session, findings: &Findings) -> Result<Drawings, BuildError> {
    let room = room(session.paper);
    let at = |check: &str| {
        let check = check.to_owned();
        move |error| BuildError::Chart { check, error }
    };
    let drawn: Result<Vec<(String, Vec<Exhibit>)>, BuildError> = findings
        .checks
        .par_iter()
        .map(|check| {
            let exhibits = match registered(check.measure) {
                Some(registered) => (registered.draw)(session, check, room).map_err(at(&check.title))?,
                None => Vec::new(),
            };
            Ok((check.check.clone(), exhibits))
        })
        .collect();
    Ok(Drawings {
        summary: overview::draw(session, findings, room).map_err(at("first page"))?,
        checks: drawn?.into_iter().collect::<BTreeMap<_, _>>(),
    })
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

/// Runs the command on every folder; one bad session does not stop the rest.
pub(super) fn run(dirs: &[PathBuf], options: &Options, out: &mut dyn Write, err: &mut dyn Write) -> Outcome {
    if let Some(name) = named_twice(dirs) {
        let _ = writeln!(
            err,
            "two of the folders are called '{}' and would write to one place; make their reports with different --out",
            show::plain(&name)
        );
        return Outcome::CouldNotWrite;
    }
    let mut worst = Outcome::Done;
    for dir in dirs {
        let outcome = one(dir, options, out, err);
        if outcome.code() > worst.code() {
            worst = outcome;
        }
    }
    worst
}

/// The name that two different folders share, if any do.
fn named_twice(dirs: &[PathBuf]) -> Option<String> {
    let real: Vec<PathBuf> = dirs.iter().filter_map(|dir| std::fs::canonicalize(dir).ok()).collect();
    real.iter().enumerate().find_map(|(index, dir)| {
        let twin = real[..index].iter().any(|other| other.file_name() == dir.file_name());
        twin.then(|| dir.file_name().unwrap_or_default().to_string_lossy().into_owned())
    })
}

fn one(dir: &Path, options: &Options, out: &mut dyn Write, err: &mut dyn Write) -> Outcome {
    let Some(templates) = super::templates(options.templates.as_deref(), dir, err) else {
        return Outcome::SessionHasErrors;
    };
    let shown = dir.display().to_string();
    let mut problems = Problems::default();
    let Some((session, findings)) = read_and_analyse(dir, &mut problems) else {
        show::problems(&problems, &shown, err);
        return Outcome::SessionHasErrors;
    };
    let made = build(&session, &findings, &templates, &mut problems)
        .and_then(|built| Ok((typeset::pdf(&built.bundle, &built.meta)?, built)));
    show::problems(&problems, &shown, err);
    if problems.any_error() {
        return Outcome::SessionHasErrors;
    }
    let (pdf, built) = match made {
        Ok(made) => made,
        Err(error) => {
            let _ = writeln!(err, "{}: {}", show::plain(&shown), show::plain(&error.to_string()));
            return Outcome::SessionHasErrors;
        }
    };
    for warning in &pdf.warnings {
        let _ = writeln!(err, "{}", show::plain(&warning.to_string()));
    }
    let target = options.out.join(&session.name);
    if entangled(&target, &session) {
        let _ = writeln!(err, "{}: {ENTANGLED}", show::plain(&shown));
        return Outcome::CouldNotWrite;
    }
    let number = built.meta.ident.clone();
    if let Err(error) = written::replace(&target, &files(built, pdf.bytes, options.source)) {
        let _ = writeln!(err, "{}", show::plain(&error.to_string()));
        return Outcome::CouldNotWrite;
    }
    letter::say_if_stale(&target, &number, err);
    super::stills::say_if_stale(&target, &number, err);
    if !options.quiet {
        let text = format!(
            "{}\n{} ({} pages), findings.json, findings.csv, charts/\n",
            inspect::told(&session, &findings),
            target.join("report.pdf").display(),
            pdf.pages
        );
        let _ = out.write_all(show::plain(&text).as_bytes());
    }
    Outcome::Done
}

/// Said where it is.
pub(super) const ENTANGLED: &str =
    "the output would replace the session itself or lie inside it; choose another --out";

/// Whether the output folder is the session's, holds it, or lies inside it: then the next run would
/// take its own output for evidence, or have none left.
pub(super) fn entangled(target: &Path, session: &Session) -> bool {
    let mut known = target;
    let mut rest = PathBuf::new();
    let real = loop {
        let there = if known.as_os_str().is_empty() { Path::new(".") } else { known };
        if let Ok(real) = std::fs::canonicalize(there) {
            break real.join(&rest);
        }
        match (known.parent(), known.file_name()) {
            (Some(parent), Some(name)) => {
                rest = Path::new(name).join(&rest);
                known = parent;
            }
            _ => return false,
        }
    };
    let touches = |root: &Path| real.starts_with(root) || root.starts_with(&real);
    touches(&session.root) || session.others.iter().any(|(_, other)| touches(&other.root))
}

fn files(built: Built, pdf: Vec<u8>, with_source: bool) -> Vec<File> {
    let mut files: Vec<File> = vec![
        ("report.pdf".to_owned(), pdf),
        ("findings.json".to_owned(), built.json.into_bytes()),
        ("findings.csv".to_owned(), built.csv.into_bytes()),
    ];
    files.extend(built.charts.into_iter().map(|(path, svg)| (path, svg.into_bytes())));
    if with_source {
        files.push(("source/main.typ".to_owned(), built.bundle.main.text.into_bytes()));
        for (name, text) in built.bundle.sources {
            files.push((format!("source/{name}"), text.into_owned().into_bytes()));
        }
        for (name, bytes) in built.bundle.assets {
            files.push((format!("source/{name}"), bytes.to_vec()));
        }
    }
    files
}
