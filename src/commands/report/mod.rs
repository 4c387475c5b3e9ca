//! `report`: the main job. report.pdf, page.html, findings.json, findings.csv and the charts.

mod build;
mod many;
pub(super) mod published;
mod record;

use std::collections::BTreeMap;
use std::ffi::OsString;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use rayon::prelude::*;

pub(super) use build::room;
pub use build::{BuildError, Built, build, build_as};
pub(super) use many::run;

use self::build::{Drawn, build_with};
use super::written::{self, File};
use super::{Outcome, inspect, show};
use crate::analysis::Measure;
use crate::analysis::remembered::Memory;
use crate::compose::Templates;
use crate::evidence::seal::Standing;
use crate::evidence::{Known, Listed, Publication};
use crate::findings::Findings;
use crate::registry::measures;
use crate::session::{Problems, Session};
use crate::typeset::{Pdf, Press};

pub(super) struct Options {
    pub(super) out: PathBuf,
    pub(super) templates: Option<PathBuf>,
    pub(super) source: bool,
    pub(super) publication: Publication,
    pub(super) quiet: bool,
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
    let mut known: BTreeMap<OsString, PathBuf> = BTreeMap::new();
    let real: Vec<PathBuf> = dirs.par_iter().filter_map(|dir| std::fs::canonicalize(dir).ok()).collect();
    real.into_iter().find_map(|dir| {
        let name = dir.file_name().unwrap_or_default().to_owned();
        let twin = known.insert(name.clone(), dir).is_some();
        twin.then(|| name.to_string_lossy().into_owned())
    })
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
    /// The folders in which others were looked for, found or not.
    beside: Vec<PathBuf>,
    /// The report, where it was written.
    pub(super) made: Result<Made, Outcome>,
}

/// A report that was written.
pub(super) struct Made {
    session: Session,
    findings: Findings,
    seals: Vec<Standing>,
    pdf: PathBuf,
    pub(super) pages: usize,
    said: Vec<String>,
    /// Every file that it was made from and that its number follows from.
    listed: Vec<Listed>,
    /// What was written, by path below the folder of outputs.
    files: Vec<String>,
}

impl Made {
    /// Everything found and what was written, as the terminal shows it.
    pub(super) fn told(&self) -> String {
        let mut text = format!(
            "{}\n{} ({} pages), page.html, findings.json, findings.csv, charts/\n",
            inspect::told(&self.session, &self.findings, &self.seals),
            self.pdf.display(),
            self.pages
        );
        for line in &self.said {
            text += &format!("{line}\n");
        }
        text
    }
}

/// Reads, analyses, draws, typesets and writes. What is `kept` from the last time and has not changed is not done
/// again; the files are the same, byte for byte.
pub(super) fn attempt(dir: &Path, options: &Options, kept: &mut Kept) -> Attempt {
    let mut attempt = Attempt {
        before: String::new(),
        problems: Problems::default(),
        after: String::new(),
        others: Vec::new(),
        beside: Vec::new(),
        made: Err(Outcome::SessionHasErrors),
    };
    let mut said = Vec::new();
    // Read first: a copy for publication has its own copies of the session's templates.
    let session = super::read_for(dir, options.publication.public, &mut attempt.problems);
    let masks = session.as_ref().map(|session| &session.masks);
    let templates = super::templates(options.templates.as_deref(), dir, masks, &mut said);
    attempt.before = String::from_utf8_lossy(&said).into_owned();
    attempt.beside = session.as_ref().map(|session| session.beside.clone()).unwrap_or_default();
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
        kept: &mut Kept,
    ) -> Result<Made, Outcome> {
        let problems = &mut self.problems;
        let others = session.others.iter();
        self.others = others.map(|(named, other)| (named.clone(), other.root.clone())).collect();
        let found = found(&session, kept.last.as_ref(), problems);
        let findings = found.ok_or(Outcome::SessionHasErrors)?;
        let drawn = kept.last.as_mut().map(|last| &mut last.drawn);
        let asked = (options.publication, Known::Nothing);
        let built = build_with((&session, &findings), templates, asked, drawn, problems);
        let made = built.and_then(|built| {
            let pdf = kept.press.print(&built.bundle, &built.meta)?;
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
        let (seals, listed) = (built.seals.clone(), built.listed.clone());
        let files = files(built, pdf.bytes, options.source);
        if let Err(error) = written::replace(&target, &files) {
            self.remark(&error.to_string());
            return Err(Outcome::CouldNotWrite);
        }
        let mut stale = Vec::new();
        super::stale::say(&target, &number, &mut stale);
        self.after += &String::from_utf8_lossy(&stale);
        let (pages, pdf) = (pdf.pages, target.join("report.pdf"));
        let files = files.into_iter().map(|(path, _)| path).collect();
        Ok(Made { session, findings, seals, pdf, pages, said, listed, files })
    }

    /// Adds lines to what is said after the problems.
    fn remark(&mut self, text: &str) {
        self.after += &show::plain(text);
        self.after.push('\n');
    }
}

/// What is kept from one report to the next: fonts and templates.
#[derive(Default)]
pub(super) struct Kept {
    press: Press,
    last: Option<Last>,
}

/// What was found and drawn for the last report.
#[derive(Default)]
struct Last {
    memory: Arc<Memory>,
    drawn: Drawn,
}

impl Kept {
    /// Also what was found and drawn: for one session, made again and again.
    pub(super) fn of_one_session() -> Self {
        Self { last: Some(Last::default()), ..Self::default() }
    }

    /// Forgets what a few reports before had no use for, so that many sessions take no more room than some.
    fn turn(&self) {
        self.press.turn();
    }

    /// Forgets what the last reports had no use for: it takes its time.
    pub(super) fn tidy(&mut self) {
        self.press.tidy();
    }
}

/// Analyses a session; none where there is an error in it.
fn found(session: &Session, last: Option<&Last>, problems: &mut Problems) -> Option<Findings> {
    let Some(last) = last else {
        return super::analysed(session, &measures(), problems);
    };
    let remembering = last.memory.with(&measures());
    let measures: Vec<&dyn Measure> = remembering.iter().map(|measure| measure as &dyn Measure).collect();
    super::analysed(session, &measures, problems)
}

/// Said where it is.
pub(super) const ENTANGLED: &str =
    "the output would replace the session itself or lie inside it; choose another --out";

/// Whether the output folder is the session's, holds it, or lies inside it: then the next run would
/// take its own output for evidence, or have none left.
pub(super) fn entangled(target: &Path, session: &Session) -> bool {
    let Some(real) = in_the_end(target) else { return false };
    let touches = |root: &Path| real.starts_with(root) || root.starts_with(&real);
    touches(&session.root) || session.others.iter().any(|(_, other)| touches(&other.root))
}

/// Whether a place, which need not be there yet, lies in a folder.
pub(super) fn lies_in(target: &Path, folder: &Path) -> bool {
    let folder = std::fs::canonicalize(folder);
    in_the_end(target).zip(folder.ok()).is_some_and(|(real, folder)| real.starts_with(folder))
}

/// Whether a place, which need not be there yet, lies in a folder that is a session.
pub(super) fn lies_in_a_session(target: &Path) -> bool {
    let real = in_the_end(target);
    real.is_some_and(|real| real.ancestors().any(|above| above.join("session.yaml").is_file()))
}

/// Where a place is that need not be there yet, links resolved as far as there are any.
fn in_the_end(target: &Path) -> Option<PathBuf> {
    let mut known = target;
    let mut rest = PathBuf::new();
    loop {
        let there = if known.as_os_str().is_empty() { Path::new(".") } else { known };
        if let Ok(real) = std::fs::canonicalize(there) {
            return Some(real.join(&rest));
        }
        rest = Path::new(known.file_name()?).join(&rest);
        known = known.parent()?;
    }
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
