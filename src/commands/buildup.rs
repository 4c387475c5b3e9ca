//! `buildup`: pictures that draw themselves, as numbered frames, as one animated PNG and, where there is an
//! `ffmpeg`, as a film.
//!
//! A picture is rendered whole at each of its stages. A frame between two stages is a mix of the two through a
//! mask, so that the first and the last frame are the pictures that they start and end as, pixel for pixel.

mod film;
mod timing;

use std::io::Write;
use std::path::{Path, PathBuf};

use clap::ValueEnum;
use rayon::prelude::*;
use serde_json::json;

use self::timing::{Moment, Timing, Way};
use super::progress::Progress;
use super::report::BuildError;
use super::stills::{self, GroundNamed, Size};
use super::written::{self, File};
use super::{Outcome, PROGRAM, Published, show};
use crate::compose::Templates;
use crate::compose::sheet::date;
use crate::compose::still::{self, Laid, Look, Stage, Still};
use crate::findings::Findings;
use crate::session::Session;
use crate::typeset::picture::{Animation, Pages, Picture, Said};

/// Frames a second.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum Rate {
    /// 25 frames a second.
    #[value(name = "25")]
    TwentyFive,
    /// 30 frames a second.
    #[value(name = "30")]
    Thirty,
    /// 60 frames a second.
    #[value(name = "60")]
    Sixty,
}

impl Rate {
    fn per_second(self) -> u16 {
        match self {
            Self::TwentyFive => 25,
            Self::Thirty => 30,
            Self::Sixty => 60,
        }
    }
}

pub(super) struct Options {
    pub(super) names: Vec<String>,
    pub(super) ground: GroundNamed,
    pub(super) size: Size,
    pub(super) upright: bool,
    pub(super) clear_below: bool,
    pub(super) rate: Rate,
    pub(super) seconds: f64,
    pub(super) out: PathBuf,
    pub(super) templates: Option<PathBuf>,
    pub(super) published: Published,
    pub(super) quiet: bool,
}

/// The longest build-up, in seconds.
const LONGEST: f64 = 60.0;

/// Reads how long a build-up is to be.
pub(super) fn seconds(text: &str) -> Result<f64, String> {
    let number: f64 = text.parse().map_err(|_| format!("'{text}' is not a number of seconds"))?;
    if (0.2..=LONGEST).contains(&number) {
        Ok(number)
    } else {
        Err(format!("a build-up takes from 0.2 to {LONGEST} seconds"))
    }
}

/// Runs the command.
pub(super) fn run(dir: &Path, options: &Options, out: &mut dyn Write, err: &mut dyn Write) -> Outcome {
    let asked = match stills::asked(
        dir,
        &options.names,
        (options.templates.as_deref(), options.published.public),
        err,
    ) {
        Ok(asked) => asked,
        Err(outcome) => return outcome,
    };
    let target = options.out.join(&asked.session.name);
    if super::report::entangled(&target, &asked.session) {
        let _ = writeln!(err, "{}: {}", show::plain(&asked.session.name), super::report::ENTANGLED);
        return Outcome::CouldNotWrite;
    }
    for still in &asked.stills {
        let files = made(&asked.session, &asked.findings, &asked.templates, still, options, &asked.number);
        let files = match files {
            Ok(files) => files,
            Err(error) => {
                let shown = dir.display().to_string();
                let _ = writeln!(err, "{}: {}", show::plain(&shown), show::plain(&error.to_string()));
                return Outcome::SessionHasErrors;
            }
        };
        let name = format!("{}/{}", written::BUILDUPS, still.name);
        if let Err(error) = written::put_folder(&target, &name, &files) {
            let _ = writeln!(err, "{}", show::plain(&error.to_string()));
            return Outcome::CouldNotWrite;
        }
        if !options.quiet {
            let text = told(&target.join(&name), still, &files, options);
            let _ = out.write_all(show::plain(&text).as_bytes());
        }
    }
    Outcome::Done
}

/// What was written, and where there is no film, how to make one.
fn told(folder: &Path, still: &Still, files: &[File], options: &Options) -> String {
    let frames = files.iter().filter(|(name, _)| is_frame(name)).count();
    let film = film::name(&still.name);
    let has_film = files.iter().any(|(name, _)| *name == film);
    let also = if has_film { format!(", {film}") } else { String::new() };
    let folder = folder.display();
    let mut text =
        format!("{folder}{}: {frames} frames, {}.apng{also}\n", std::path::MAIN_SEPARATOR, still.name);
    if !has_film {
        text.push_str(&format!(
            "For a film with alpha: ffmpeg {} {folder}/{film}\n",
            film::arguments(options.rate.per_second(), &format!("{folder}/%04d.png")).join(" ")
        ));
    }
    text
}

/// Whether a file is one of the frames: `0001.png`.
fn is_frame(name: &str) -> bool {
    name.strip_suffix(".png").is_some_and(|number| number.bytes().all(|byte| byte.is_ascii_digit()))
}

/// The files of one build-up.
fn made(
    session: &Session,
    findings: &Findings,
    templates: &Templates,
    still: &Still,
    options: &Options,
    number: &str,
) -> Result<Vec<File>, BuildError> {
    let look =
        Look { ground: options.ground.ground(), upright: options.upright, clear_below: options.clear_below };
    let laid = still::lay(session, findings, std::slice::from_ref(still), look);
    let Some(laid) = laid.first() else { return Ok(Vec::new()) };
    let stages: Vec<(&Laid, Stage)> = laid.stages().into_iter().map(|stage| (laid, stage)).collect();
    let pages = stills::typeset(session, templates, &stages, look, date(session))?;
    let across = options.size.across(options.upright);
    let said = Said { title: &still.title, number };
    let build = BuildUp::new(laid, &stages, &pages, across);
    let (frames, animated) = build.frames(options, said)?;
    let film = film::of(&frames, options.rate.per_second());
    let mut files: Vec<File> =
        frames.into_iter().enumerate().map(|(index, png)| (format!("{:04}.png", index + 1), png)).collect();
    files.push((format!("{}.apng", still.name), animated));
    files.extend(film.map(|bytes| (film::name(&still.name), bytes)));
    let names: Vec<&str> = files.iter().map(|(name, _)| name.as_str()).collect();
    let contents = json!({
        "program": PROGRAM, "number": number, "name": still.name, "says": still.title,
        "frames_a_second": options.rate.per_second(), "files": names,
    });
    files.push((written::CONTENTS.to_owned(), format!("{contents:#}\n").into_bytes()));
    Ok(files)
}

/// A picture at each of its stages, and the ways from one to the next.
struct BuildUp {
    pictures: Vec<Picture>,
    ways: Vec<Way>,
}

impl BuildUp {
    /// Renders every stage so many pixels wide.
    fn new(laid: &Laid, stages: &[(&Laid, Stage)], pages: &Pages, across: u32) -> Self {
        let pictures: Vec<Picture> =
            (0..pages.len()).into_par_iter().filter_map(|page| pages.picture(page, across)).collect();
        let (page_width, _) = laid.size();
        let scale = f64::from(across) / page_width;
        let ways = stages.iter().enumerate().skip(1).map(|(page, (_, stage))| {
            let courses = match (stage.words, stage.layer, &laid.chart, pages.drawing(page)) {
                (false, Some(layer), Some(svg), Some(lies)) => {
                    svg.courses(layer).map(|course| timing::on_page(course, lies, scale)).collect()
                }
                _ => Vec::new(),
            };
            Way { courses }
        });
        let ways = ways.collect();
        Self { pictures, ways }
    }

    /// The frame at a moment.
    fn frame(&self, moment: Moment) -> Option<Picture> {
        let from = self.pictures.get(moment.way)?;
        let Some((to, way)) = self.pictures.get(moment.way + 1).zip(self.ways.get(moment.way)) else {
            return Some(from.clone());
        };
        if moment.share <= 0.0 {
            return Some(from.clone());
        }
        if moment.share >= 1.0 {
            return Some(to.clone());
        }
        Some(from.towards(to, way.mask(moment.share)))
    }

    /// Every frame as a PNG file, and all of them as one that moves.
    fn frames(&self, options: &Options, said: Said<'_>) -> Result<(Vec<Vec<u8>>, Vec<u8>), BuildError> {
        let per_second = options.rate.per_second();
        let timing = Timing::new(&self.ways, options.seconds, per_second);
        let mut animated = Vec::new();
        let (Some(first), count) = (self.pictures.first(), timing.count()) else {
            return Ok((Vec::new(), animated));
        };
        let mut animation = Animation::new(&mut animated, first, count, per_second, said)?;
        let mut files: Vec<Vec<u8>> = Vec::new();
        let progress = Progress::of(usize::try_from(count).unwrap_or(0), "frames", options.quiet);
        // As many frames at a time as there are processors: each takes as much memory as a picture.
        let together = u32::try_from(rayon::current_num_threads()).unwrap_or(1).clamp(1, 8);
        let mut next = 0;
        let mut last: Option<Picture> = None;
        while next < count {
            let until = (next + together).min(count);
            let drawn: Vec<Picture> =
                (next..until).into_par_iter().filter_map(|index| self.frame(timing.moment(index))).collect();
            // What is written last frame by frame is written while the frames themselves are packed.
            let (written, added) = rayon::join(
                || packed(&drawn, last.as_ref(), files.last(), said, &progress),
                || drawn.iter().try_for_each(|frame| animation.add(frame)),
            );
            added?;
            files.extend(written?);
            last = drawn.into_iter().last();
            next = until;
        }
        animation.finish()?;
        Ok((files, animated))
    }
}

/// Frames as PNG files; one that is like the one before is not packed again.
fn packed(
    drawn: &[Picture],
    before: Option<&Picture>,
    packed: Option<&Vec<u8>>,
    said: Said<'_>,
    progress: &Progress,
) -> Result<Vec<Vec<u8>>, BuildError> {
    let is_like = |index: usize| {
        let earlier = if index == 0 { before } else { drawn.get(index - 1) };
        earlier.is_some_and(|earlier| earlier == &drawn[index])
    };
    let fresh: Result<Vec<Option<Vec<u8>>>, BuildError> = (0..drawn.len())
        .into_par_iter()
        .map(|index| {
            let png = if is_like(index) { None } else { Some(drawn[index].png(said)?) };
            progress.step();
            Ok(png)
        })
        .collect();
    let mut files: Vec<Vec<u8>> = Vec::new();
    for png in fresh? {
        let same = || files.last().or(packed).cloned().unwrap_or_default();
        let png = png.unwrap_or_else(same);
        files.push(png);
    }
    Ok(files)
}
