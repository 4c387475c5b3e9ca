//! `stills`: pictures for the screen, a chart with its sentence and its number each.

use std::io::Write;
use std::path::{Path, PathBuf};

use clap::ValueEnum;
use rayon::prelude::*;
use serde_json::json;

use super::progress::Progress;
use super::report::BuildError;
use super::written::{self, File};
use super::{Outcome, PROGRAM, Published, read_and_analyse_for, show};
use crate::charts::ground::Ground;
use crate::compose::Templates;
use crate::compose::sheet::date;
use crate::compose::still::{self, Laid, Look, Stage, Still};
use crate::evidence;
use crate::findings::Findings;
use crate::session::{Date, Problems, Session, did_you_mean};
use crate::typeset::picture::{self, Pages, Said};

/// The folder of pictures beside a report.
pub(super) const FOLDER: &str = "stills";

/// What pictures stand on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum GroundNamed {
    /// Near black.
    Dark,
    /// White, as in the report.
    Light,
    /// None: to be laid over another picture, with an edge round marks and words.
    Clear,
}

impl GroundNamed {
    pub(super) fn ground(self) -> Ground {
        match self {
            Self::Dark => Ground::Dark,
            Self::Light => Ground::Light,
            Self::Clear => Ground::Clear,
        }
    }
}

/// How large pictures are.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum Size {
    /// 1920 by 1080 pixels; upright 1080 by 1920.
    Hd,
    /// 3840 by 2160 pixels; upright 2160 by 3840.
    #[value(name = "4k")]
    FourK,
}

impl Size {
    /// The pixels across.
    pub(super) fn across(self, upright: bool) -> u32 {
        match (self, upright) {
            (Self::Hd, false) => 1920,
            (Self::Hd, true) => 1080,
            (Self::FourK, false) => 3840,
            (Self::FourK, true) => 2160,
        }
    }
}

pub(super) struct Options {
    pub(super) grounds: Vec<GroundNamed>,
    pub(super) size: Size,
    pub(super) upright: bool,
    pub(super) clear_below: bool,
    pub(super) only: Vec<String>,
    pub(super) out: PathBuf,
    pub(super) templates: Option<PathBuf>,
    pub(super) published: Published,
    pub(super) quiet: bool,
}

/// Pictures laid out and typeset, to be had in any size.
pub struct Reel {
    laid: Vec<Laid>,
    pages: Pages,
    number: String,
}

impl Reel {
    /// The pictures, in the order asked.
    pub fn stills(&self) -> impl Iterator<Item = &Still> {
        self.laid.iter().map(|laid| &laid.still)
    }

    /// A picture so many pixels wide, as the bytes of a PNG file.
    pub fn png(&self, index: usize, pixels: u32) -> Result<Vec<u8>, BuildError> {
        let said = self.said(index);
        match self.pages.picture(index, pixels) {
            Some(picture) => Ok(picture.png(said)?),
            None => Ok(Vec::new()),
        }
    }

    /// A picture as SVG, its words as outlines.
    pub fn svg(&self, index: usize) -> String {
        self.pages.svg(index).unwrap_or_default()
    }

    fn said(&self, index: usize) -> Said<'_> {
        let title = self.laid.get(index).map_or("", |laid| laid.still.title.as_str());
        Said { title, number: &self.number }
    }
}

/// Lays pictures of a session out and typesets them, a page each. `number` is that of the readings.
pub fn reel(
    session: &Session,
    findings: &Findings,
    templates: &Templates,
    stills: &[Still],
    look: Look,
    number: &str,
) -> Result<Reel, BuildError> {
    let laid = still::lay(session, findings, stills, look);
    let stages: Vec<(&Laid, Stage)> = laid.iter().map(|laid| (laid, Stage::WHOLE)).collect();
    let pages = typeset(session, templates, &stages, look, date(session))?;
    Ok(Reel { laid, pages, number: number.to_owned() })
}

/// Typesets stages of pictures, a page each.
pub(super) fn typeset(
    session: &Session,
    templates: &Templates,
    stages: &[(&Laid, Stage)],
    look: Look,
    day: Date,
) -> Result<Pages, BuildError> {
    let (view, charts) = still::pages(stages, look, session, day);
    let mut bundle = templates.compose("still.typ", &view)?;
    for (path, svg) in charts {
        bundle.add_asset(path, svg.into_bytes());
    }
    Ok(picture::pages(&bundle, day)?)
}

/// A session with the pictures asked of it.
pub(super) struct Asked {
    pub(super) session: Session,
    pub(super) findings: Findings,
    pub(super) templates: Templates,
    /// The number of its readings.
    pub(super) number: String,
    pub(super) stills: Vec<Still>,
}

/// Reads a session and finds the pictures of these names, or all where none is named. What hinders is said.
pub(super) fn asked(
    dir: &Path,
    names: &[String],
    (templates, public): (Option<&Path>, bool),
    err: &mut dyn Write,
) -> Result<Asked, Outcome> {
    let shown = dir.display().to_string();
    let mut problems = Problems::default();
    let read = read_and_analyse_for(dir, public, &mut problems);
    let masks = read.as_ref().map(|(session, _)| &session.masks);
    let templates = super::templates(templates, dir, masks, err).ok_or(Outcome::SessionHasErrors)?;
    let number = read.as_ref().map(|(session, _)| evidence::number_of(session, &mut problems));
    show::problems(&problems, &shown, err);
    let read = read.zip(number).filter(|_| !problems.any_error());
    let ((session, findings), number) = read.ok_or(Outcome::SessionHasErrors)?;
    let stills = wanted(&still::list(&session, &findings), names).map_err(|why| {
        let _ = writeln!(err, "{}: {}", show::plain(&shown), show::plain(&why));
        Outcome::WrongArguments
    })?;
    Ok(Asked { session, findings, templates, number, stills })
}

/// Runs the command.
pub(super) fn run(dir: &Path, options: &Options, out: &mut dyn Write, err: &mut dyn Write) -> Outcome {
    let asked = match asked(dir, &options.only, (options.templates.as_deref(), options.published.public), err)
    {
        Ok(asked) => asked,
        Err(outcome) => return outcome,
    };
    match made(&asked, options) {
        Ok((files, warnings)) => {
            for warning in warnings {
                let _ = writeln!(err, "{}", show::plain(&warning));
            }
            write(&files, &asked, options, out, err)
        }
        Err(error) => {
            let shown = dir.display().to_string();
            let _ = writeln!(err, "{}: {}", show::plain(&shown), show::plain(&error.to_string()));
            Outcome::SessionHasErrors
        }
    }
}

/// The pictures asked for; all where none is named.
fn wanted(all: &[Still], only: &[String]) -> Result<Vec<Still>, String> {
    if all.is_empty() {
        return Err("there is nothing to make a picture of: no check has a value".to_owned());
    }
    if only.is_empty() {
        return Ok(all.to_vec());
    }
    let names: Vec<&str> = all.iter().map(|still| still.name.as_str()).collect();
    let mut stills: Vec<Still> = Vec::new();
    for name in only {
        let Some(still) = all.iter().find(|still| still.name == *name) else {
            return Err(format!("there is no picture '{name}'; {}", did_you_mean(name, &names)));
        };
        if !stills.contains(still) {
            stills.push(still.clone());
        }
    }
    Ok(stills)
}

/// The grounds asked for, each once.
fn grounds(options: &Options) -> Vec<GroundNamed> {
    let mut grounds: Vec<GroundNamed> = Vec::new();
    for ground in &options.grounds {
        if !grounds.contains(ground) {
            grounds.push(*ground);
        }
    }
    grounds
}

/// The files, and what is to be said.
fn made(asked: &Asked, options: &Options) -> Result<(Vec<File>, Vec<String>), BuildError> {
    let Asked { session, findings, templates, number, stills } = asked;
    let grounds = grounds(options);
    let progress = Progress::of(stills.len() * grounds.len(), "pictures", options.quiet);
    let across = options.size.across(options.upright);
    let (mut files, mut says) = (Vec::new(), Vec::new());
    for named in &grounds {
        let look =
            Look { ground: named.ground(), upright: options.upright, clear_below: options.clear_below };
        let reel = reel(session, findings, templates, stills, look, number)?;
        says.extend(reel.pages.warnings.iter().map(ToString::to_string));
        let folder = if grounds.len() > 1 { format!("{}/", look.ground.name()) } else { String::new() };
        let drawn: Result<Vec<[File; 2]>, BuildError> = (0..stills.len())
            .into_par_iter()
            .map(|index| {
                let name = format!("{folder}{}", stills[index].name);
                let png = reel.png(index, across)?;
                progress.step();
                Ok([(format!("{name}.png"), png), (format!("{name}.svg"), reel.svg(index).into_bytes())])
            })
            .collect();
        files.extend(drawn?.into_iter().flatten());
        for laid in reel.laid.iter().filter(|laid| laid.chart.is_none()) {
            says.push(format!("'{}' has no chart: none has room in a picture", laid.still.name));
        }
    }
    says.dedup();
    let list = contents(stills, &files, number);
    files.push((written::CONTENTS.to_owned(), list.into_bytes()));
    Ok((files, says))
}

/// What the folder holds, for the next run and for other programs.
fn contents(stills: &[Still], files: &[File], number: &str) -> String {
    let stills: Vec<serde_json::Value> = stills
        .iter()
        .map(|still| json!({"name": still.name, "says": still.title, "check": still.check}))
        .collect();
    let files: Vec<&str> = files.iter().map(|(name, _)| name.as_str()).collect();
    let value = json!({"program": PROGRAM, "number": number, "stills": stills, "files": files});
    format!("{value:#}\n")
}

fn write(
    files: &[File],
    Asked { session, stills, .. }: &Asked,
    options: &Options,
    out: &mut dyn Write,
    err: &mut dyn Write,
) -> Outcome {
    let target = options.out.join(&session.name);
    if super::report::entangled(&target, session) {
        let _ = writeln!(err, "{}: {}", show::plain(&session.name), super::report::ENTANGLED);
        return Outcome::CouldNotWrite;
    }
    if let Err(error) = written::put_folder(&target, FOLDER, files) {
        let _ = writeln!(err, "{}", show::plain(&error.to_string()));
        return Outcome::CouldNotWrite;
    }
    if !options.quiet {
        let mut text = String::new();
        for still in stills {
            text.push_str(&format!("{}: {}\n", still.name, still.title));
        }
        let folder = target.join(FOLDER);
        let count = stills.len() * grounds(options).len();
        let pictures = if count == 1 { "picture" } else { "pictures" };
        text.push_str(&format!(
            "{}{} ({count} {pictures}, PNG and SVG)\n",
            folder.display(),
            std::path::MAIN_SEPARATOR
        ));
        let _ = out.write_all(show::plain(&text).as_bytes());
    }
    Outcome::Done
}
