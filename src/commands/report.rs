//! `report`: the main job. report.pdf, page.html, findings.json, findings.csv and the charts.

pub(super) mod published;

use std::collections::BTreeMap;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use rayon::prelude::*;

use super::written::{self, File};
use super::{Outcome, PROGRAM, inspect, show};
use crate::analysis::Measure;
use crate::analysis::remembered::Memory;
use crate::charts::exhibit::{Exhibit, Room};
use crate::charts::{ChartError, overview};
use crate::compose::page::{Data, page};
use crate::compose::report::{Drawings, Sources, chart_asset, file_asset, report};
use crate::compose::{ComposeError, Templates};
use crate::evidence::{self, Item, Listed, Publication};
use crate::findings::{CheckFindings, Findings, to_csv, to_json};
use crate::registry::{measures, registered};
use crate::session::withheld::{Masks, Private};
use crate::session::{Paper, Problems, Session};
use crate::typeset::picture::PictureError;
use crate::typeset::{self, Bundle, Meta, Pdf, Press, TypesetError};

pub(super) struct Options {
    pub(super) out: PathBuf,
    pub(super) templates: Option<PathBuf>,
    pub(super) source: bool,
    pub(super) publication: Publication,
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
    /// made.json: how it was made, which the document carries.
    pub made: String,
    /// page.html.
    pub page: String,
    /// What the files that travel tell of people and places, a sentence each.
    pub said: Vec<String>,
}

impl Built {
    /// The first private value that stands in what is to be published, though it should not.
    fn still_holds<'a>(&self, masks: &'a Masks) -> Option<&'a Private> {
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
    build_as(session, findings, templates, Publication::default(), None, problems)
}

/// The same as it is to be published. `list` is the session's own list of files where the folder that was read holds
/// other bytes: a masked copy, or what a report carries. Number and list of files are then its.
pub fn build_as(
    session: &Session,
    findings: &Findings,
    templates: &Templates,
    publication: Publication,
    list: Option<&[Listed]>,
    problems: &mut Problems,
) -> Result<Built, BuildError> {
    build_with((session, findings), templates, (publication, list), None, problems)
}

fn build_with(
    (session, findings): (&Session, &Findings),
    templates: &Templates,
    (publication, list): (Publication, Option<&[Listed]>),
    drawn: Option<&mut Drawn>,
    problems: &mut Problems,
) -> Result<Built, BuildError> {
    let files = published::files(session, (publication, list), problems);
    let number = evidence::document_number(&files);
    let drawings = draw(session, findings, drawn)?;
    let sources = Sources {
        session,
        findings,
        drawings: &drawings,
        files: &files,
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
    Ok(Built { bundle, meta: Meta { ident: number, date }, charts, json, csv, made, page, said })
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
fn room(paper: Paper) -> Room {
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
struct Drawn {
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

/// Runs the command on every folder; one bad session does not stop the rest.
pub(super) fn run(dirs: &[PathBuf], options: &Options, out: &mut dyn Write, err: &mut dyn Write) -> Outcome {
    if two_of_one_name(dirs, err) {
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

/// Whether two of the folders would write to one place, which is said.
pub(super) fn two_of_one_name(dirs: &[PathBuf], err: &mut dyn Write) -> bool {
    let Some(name) = named_twice(dirs) else {
        return false;
    };
    let _ = writeln!(
        err,
        "two of the folders are called '{}' and would write to one place; make their reports with different --out",
        show::plain(&name)
    );
    true
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
    let attempt = attempt(dir, options, None);
    let _ = err.write_all(attempt.before.as_bytes());
    show::problems(&attempt.problems, &dir.display().to_string(), err);
    let _ = err.write_all(attempt.after.as_bytes());
    match attempt.made {
        Ok(made) => {
            if !options.quiet {
                let _ = out.write_all(show::plain(&made.told()).as_bytes());
            }
            Outcome::Done
        }
        Err(outcome) => outcome,
    }
}

/// What came of making a session's report, and everything that is to be said of it.
pub(super) struct Attempt {
    /// Said before the problems, in whole lines.
    pub(super) before: String,
    /// What is wrong with the session.
    pub(super) problems: Problems,
    /// Said after the problems, in whole lines.
    pub(super) after: String,
    /// Other sessions that it is compared with: how they are named, and their folders.
    pub(super) others: Vec<(String, PathBuf)>,
    /// The report, where it was written.
    pub(super) made: Result<Made, Outcome>,
}

/// A report that was written.
pub(super) struct Made {
    session: Session,
    findings: Findings,
    pdf: PathBuf,
    pub(super) pages: usize,
    said: Vec<String>,
}

impl Made {
    /// Everything found and what was written, as the terminal shows it.
    pub(super) fn told(&self) -> String {
        let mut text = format!(
            "{}\n{} ({} pages), page.html, findings.json, findings.csv, charts/\n",
            inspect::told(&self.session, &self.findings),
            self.pdf.display(),
            self.pages
        );
        for line in &self.said {
            text += &format!("{line}\n");
        }
        text
    }
}

/// Reads, analyses, draws, typesets and writes. Where something is `kept` from the last time, what has
/// not changed is not done again; the files are the same, byte for byte.
pub(super) fn attempt(dir: &Path, options: &Options, kept: Option<&mut Kept>) -> Attempt {
    let mut attempt = Attempt {
        before: String::new(),
        problems: Problems::default(),
        after: String::new(),
        others: Vec::new(),
        made: Err(Outcome::SessionHasErrors),
    };
    let mut said = Vec::new();
    // Read first: a copy for publication has its own copies of the session's templates.
    let session = super::read_for(dir, options.publication.public, &mut attempt.problems);
    let masks = session.as_ref().map(|session| &session.masks);
    let templates = super::templates(options.templates.as_deref(), dir, masks, &mut said);
    attempt.before = String::from_utf8_lossy(&said).into_owned();
    if let (Some(session), Some(templates)) = (session, templates) {
        attempt.made = attempt.make(dir, session, options, &templates, kept);
    }
    attempt
}

impl Attempt {
    fn make(
        &mut self,
        dir: &Path,
        session: Session,
        options: &Options,
        templates: &Templates,
        mut kept: Option<&mut Kept>,
    ) -> Result<Made, Outcome> {
        let problems = &mut self.problems;
        let others = session.others.iter();
        self.others = others.map(|(named, other)| (named.clone(), other.root.clone())).collect();
        let found = found(&session, kept.as_deref_mut(), problems);
        let findings = found.ok_or(Outcome::SessionHasErrors)?;
        let drawn = kept.as_deref_mut().map(|kept| &mut kept.drawn);
        let asked = (options.publication, None);
        let built = build_with((&session, &findings), templates, asked, drawn, problems);
        let made = built.and_then(|built| {
            let pdf = match kept {
                Some(kept) => kept.press.print(&built.bundle, &built.meta)?,
                None => typeset::pdf(&built.bundle, &built.meta)?,
            };
            Ok((pdf, built))
        });
        if self.problems.any_error() {
            return Err(Outcome::SessionHasErrors);
        }
        match made {
            Ok((pdf, built)) => self.write(dir, options, pdf, built, session, findings),
            Err(error) => {
                self.remark(&format!("{}: {error}", dir.display()));
                Err(Outcome::SessionHasErrors)
            }
        }
    }

    fn write(
        &mut self,
        dir: &Path,
        options: &Options,
        pdf: Pdf,
        built: Built,
        session: Session,
        findings: Findings,
    ) -> Result<Made, Outcome> {
        for warning in &pdf.warnings {
            self.remark(&warning.to_string());
        }
        let target = options.out.join(&session.name);
        if entangled(&target, &session) {
            self.remark(&format!("{}: {ENTANGLED}", dir.display()));
            return Err(Outcome::CouldNotWrite);
        }
        if let Some(found) = built.still_holds(&session.masks) {
            self.remark(&format!("{}: {}", dir.display(), published::still_held(found)));
            return Err(Outcome::SessionHasErrors);
        }
        let (number, said) = (built.meta.ident.clone(), built.said.clone());
        if let Err(error) = written::replace(&target, &files(built, pdf.bytes, options.source)) {
            self.remark(&error.to_string());
            return Err(Outcome::CouldNotWrite);
        }
        let mut stale = Vec::new();
        super::stale::say(&target, &number, &mut stale);
        self.after += &String::from_utf8_lossy(&stale);
        Ok(Made { session, findings, pdf: target.join("report.pdf"), pages: pdf.pages, said })
    }

    /// Adds lines to what is said after the problems.
    fn remark(&mut self, text: &str) {
        self.after += &show::plain(text);
        self.after.push('\n');
    }
}

/// What is kept from one report of a session to the next.
#[derive(Default)]
pub(super) struct Kept {
    press: Press,
    memory: Arc<Memory>,
    drawn: Drawn,
}

impl Kept {
    /// Forgets what the last reports had no use for: it takes its time.
    pub(super) fn tidy(&mut self) {
        self.press.tidy();
    }
}

/// Analyses a session; none where there is an error in it.
fn found(session: &Session, kept: Option<&mut Kept>, problems: &mut Problems) -> Option<Findings> {
    let Some(kept) = kept else {
        return super::analysed(session, &measures(), problems);
    };
    let remembering = kept.memory.with(&measures());
    let measures: Vec<&dyn Measure> = remembering.iter().map(|measure| measure as &dyn Measure).collect();
    super::analysed(session, &measures, problems)
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
        ("page.html".to_owned(), built.page.into_bytes()),
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
