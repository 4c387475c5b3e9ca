//! `script`: the narration with every number filled in: script.md, its cue sheet, captions, and the stills it calls.

use std::collections::{BTreeMap, BTreeSet};
use std::io::Write;
use std::path::{Path, PathBuf};

use rayon::prelude::*;

use super::report::{self, BuildError};
use super::written::{self, File};
use super::{Outcome, PROGRAM, Published, read_and_analyse_for, show, stills};
use crate::charts::ground::Ground;
use crate::compose::Templates;
use crate::compose::script::{Sources, page};
use crate::compose::sheet::date;
use crate::compose::still::{self, Look, Still};
use crate::evidence;
use crate::findings::Findings;
use crate::script::timing::{self, Timing};
use crate::script::{Cue, Script, Step, captions};
use crate::session::{Problem, Problems, Session};
use crate::typeset::{self, Meta, Pdf};

/// What the files are called in the session's folder of outputs.
pub(super) const NAMES: [&str; 4] = ["script.md", "script.pdf", "script.vtt", "stills.txt"];

/// What begins the note that a text file of this program starts with.
pub(super) const MADE_BY: &str = "Made by asfound ";

pub(super) struct Options {
    pub(super) pace: u32,
    pub(super) out: PathBuf,
    pub(super) templates: Option<PathBuf>,
    pub(super) published: Published,
    pub(super) quiet: bool,
}

/// Runs the command.
pub(super) fn run(dir: &Path, options: &Options, out: &mut dyn Write, err: &mut dyn Write) -> Outcome {
    let shown = dir.display().to_string();
    let mut problems = Problems::default();
    let read = read_and_analyse_for(dir, options.published.public, &mut problems);
    let masks = read.as_ref().map(|(session, _)| &session.masks);
    let Some(templates) = super::templates(options.templates.as_deref(), dir, masks, err) else {
        return Outcome::SessionHasErrors;
    };
    let made = read.as_ref().and_then(|(session, findings)| {
        let source = session.script.as_ref().map(|script| &script.source);
        if source.is_none() {
            problems.push(Problem::folder(format!("{} holds no script.md", session.name)).help(
                "write what is to be spoken to script.md, beside session.yaml; the README has the grammar",
            ));
        }
        let mut gallery = Gallery::of(session, findings);
        let names: Vec<String> = gallery.stills.iter().map(|still| still.name.clone()).collect();
        let script = crate::script::read(source?, session, findings, Some(&names), &mut problems);
        let number = evidence::number_of(session, &mut problems);
        let drawn = gallery.draw(&script, session, findings, &templates, &number);
        Some(drawn.and_then(|()| made(session, &script, &gallery, &number, options, &templates)))
    });
    problems.sort();
    show::problems(&problems, &shown, err);
    let (Some((session, _)), Some(made), false) = (&read, made, problems.any_error()) else {
        return Outcome::SessionHasErrors;
    };
    match made {
        Ok(made) => match made.texts().find_map(|text| session.masks.still_in(text)) {
            Some(found) => {
                let _ = writeln!(err, "{}: {}", show::plain(&shown), report::published::still_held(found));
                Outcome::SessionHasErrors
            }
            None => write(&made, session, options, out, err),
        },
        Err(error) => {
            let _ = writeln!(err, "{}: {}", show::plain(&shown), show::plain(&error.to_string()));
            Outcome::SessionHasErrors
        }
    }
}

/// How many pixels wide a still is on the cue sheet, where it stands less than two inches wide.
const THUMBNAIL: u32 = 640;

/// The stills that a cue may call, and a small picture of each that one does.
struct Gallery {
    stills: Vec<Still>,
    /// By name: the picture's bytes, and the picture in words.
    pictures: BTreeMap<String, (Vec<u8>, String)>,
}

impl Gallery {
    fn of(session: &Session, findings: &Findings) -> Self {
        Self { stills: still::list(session, findings), pictures: BTreeMap::new() }
    }

    /// Draws the stills that cues call, as `asfound stills` draws them, on paper's ground.
    fn draw(
        &mut self,
        script: &Script,
        session: &Session,
        findings: &Findings,
        templates: &Templates,
        number: &str,
    ) -> Result<(), BuildError> {
        let called: BTreeSet<&str> = called(script).collect();
        let wanted: Vec<Still> =
            self.stills.iter().filter(|still| called.contains(still.name.as_str())).cloned().collect();
        if wanted.is_empty() {
            return Ok(());
        }
        let look = Look { ground: Ground::Light, upright: false, clear_below: false };
        let reel = stills::reel(session, findings, templates, &wanted, look, number)?;
        let drawn: Result<BTreeMap<_, _>, BuildError> = wanted
            .par_iter()
            .enumerate()
            .map(|(index, still)| {
                Ok((still.name.clone(), (reel.png(index, THUMBNAIL)?, still.title.clone())))
            })
            .collect();
        self.pictures = drawn?;
        Ok(())
    }

    /// Where a still's picture stands among the document's assets.
    fn asset(&self, name: &str) -> Option<String> {
        self.pictures.contains_key(name).then(|| format!("stills/{name}.png"))
    }
}

/// What the command writes.
struct Made {
    files: Vec<File>,
    pages: usize,
    pdf: Pdf,
    timing: Timing,
}

impl Made {
    /// The files that are text.
    fn texts(&self) -> impl Iterator<Item = &str> {
        self.files.iter().filter_map(|(_, bytes)| std::str::from_utf8(bytes).ok())
    }
}

fn made(
    session: &Session,
    script: &Script,
    gallery: &Gallery,
    number: &str,
    options: &Options,
    templates: &Templates,
) -> Result<Made, BuildError> {
    let timing = timing::lay(&script.steps, options.pace);
    let date = date(session);
    let picture = |name: &str| {
        let (_, alt) = gallery.pictures.get(name)?;
        Some((gallery.asset(name)?, format!("Still {name}. {alt}")))
    };
    let view = page(Sources {
        session,
        script,
        timing: &timing,
        pace: options.pace,
        picture: &picture,
        number,
        program: PROGRAM,
        date,
    });
    let mut bundle = templates.compose("script.typ", &view)?;
    for name in called(script) {
        if let (Some(asset), Some((bytes, _))) = (gallery.asset(name), gallery.pictures.get(name)) {
            bundle.add_asset(asset, bytes.clone());
        }
    }
    let meta =
        Meta { ident: format!("{number} script {}", evidence::sha256(script.filled.as_bytes())), date };
    let pdf = typeset::pdf(&bundle, &meta)?;
    let note = format!(
        "{MADE_BY}{} from {}/script.md ({number})",
        env!("CARGO_PKG_VERSION"),
        plain_name(&session.name)
    );
    let files = files(script, &timing, options.pace, &note, pdf.bytes.clone());
    Ok(Made { files, pages: pdf.pages, pdf, timing })
}

/// A name that ends no comment.
fn plain_name(name: &str) -> String {
    name.replace("--", "- -")
        .replace(['<', '>'], "?")
        .chars()
        .map(|c| if c.is_control() { '?' } else { c })
        .collect()
}

/// The names of the stills that cues call.
fn called(script: &Script) -> impl Iterator<Item = &str> {
    script.steps.iter().filter_map(|step| match step {
        Step::Cue(Cue::Still(still)) => Some(still.name.as_str()),
        _ => None,
    })
}

fn files(script: &Script, timing: &Timing, pace: u32, note: &str, pdf: Vec<u8>) -> Vec<File> {
    let markdown =
        format!("<!-- {note}; write in that file, this one is made anew. -->\n\n{}", script.filled);
    let captions = captions::captions(&script.steps, timing);
    let vtt = captions::to_vtt(&captions, &format!("{note}; times are estimated at {pace} words a minute"));
    let mut stills = format!(
        "{note}: the stills in order of use, from and until. Times are estimated at {pace} words a minute.\n\n"
    );
    for shown in timing::stills(&script.steps, timing) {
        let (from, until) = (timing::clock(shown.shown.start), timing::clock(shown.shown.end));
        let how = if shown.build_up { "  build-up" } else { "" };
        stills.push_str(&format!("{from:>7}  {until:>7}  {}{how}\n", shown.name));
    }
    let contents = [markdown.into_bytes(), pdf, vtt.into_bytes(), stills.into_bytes()];
    NAMES.iter().map(|name| (*name).to_owned()).zip(contents).collect()
}

fn write(
    made: &Made,
    session: &Session,
    options: &Options,
    out: &mut dyn Write,
    err: &mut dyn Write,
) -> Outcome {
    for warning in &made.pdf.warnings {
        let _ = writeln!(err, "{}", show::plain(&warning.to_string()));
    }
    let target = options.out.join(&session.name);
    if report::entangled(&target, session) {
        let _ = writeln!(err, "{}: {}", show::plain(&session.name), report::ENTANGLED);
        return Outcome::CouldNotWrite;
    }
    if let Err(error) = written::put_all(&target, &made.files) {
        let _ = writeln!(err, "{}", show::plain(&error.to_string()));
        return Outcome::CouldNotWrite;
    }
    if !options.quiet {
        let pages = if made.pages == 1 { "1 page".to_owned() } else { format!("{} pages", made.pages) };
        let text = format!(
            "{}, script.pdf ({pages}), script.vtt, stills.txt\n{} words, {} at {} words a minute\n",
            target.join("script.md").display(),
            made.timing.words,
            timing::clock(made.timing.total),
            options.pace,
        );
        let _ = out.write_all(show::plain(&text).as_bytes());
    }
    Outcome::Done
}
