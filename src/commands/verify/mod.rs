//! `verify`: whether a bag, a zip or a report is whole, and whether its numbers still follow from its readings.

mod again;
mod answer;
mod archive;
mod carried;
mod pages;
mod rows;
mod taken;

use std::fs::{self, File};
use std::io::{Read, Write};
use std::path::{Path, PathBuf};

pub use answer::Answer;
pub use carried::Prover;

use super::progress::Progress;
use super::{Outcome, show};

pub(super) struct Options {
    pub(super) templates: Option<PathBuf>,
    pub(super) quiet: bool,
}

pub(super) fn run(paths: &[PathBuf], options: &Options, out: &mut dyn Write, err: &mut dyn Write) -> Outcome {
    let mut outcome = Outcome::Done;
    for path in paths {
        let answer = one(path, options);
        let name = show::plain(&path.display().to_string());
        let verdict = if answer.is_whole() { "stands" } else { "does NOT stand" };
        // A reader that went away is no error of ours.
        if !options.quiet || !answer.is_whole() {
            let stream: &mut dyn Write = if answer.is_whole() { out } else { err };
            let _ = writeln!(stream, "{name}: {verdict}");
            for line in answer.differences() {
                let _ = writeln!(stream, "  differs: {}", show::plain(&line));
            }
            for line in &answer.remarks {
                let _ = writeln!(stream, "  note: {}", show::plain(line));
            }
            for line in &answer.holds {
                let _ = writeln!(stream, "  holds: {}", show::plain(line));
            }
        }
        if !answer.is_whole() {
            outcome = Outcome::SessionHasErrors;
        }
    }
    outcome
}

fn one(path: &Path, options: &Options) -> Answer {
    let progress = Progress::of(usize::MAX, "files", options.quiet);
    Prover::default().prove_path(path, options.templates.as_deref(), &mut |_| progress.step())
}

impl Prover {
    /// Proves whatever lies there: a bag, its zip, or a report. `tell` hears of each file of a bag before it is read.
    pub fn prove_path(
        &mut self,
        path: &Path,
        templates: Option<&Path>,
        tell: &mut dyn FnMut(&str),
    ) -> Answer {
        if path.is_dir() {
            return archive::folder(path, templates, tell);
        }
        let mut unreadable = Answer::default();
        let mut begin = Vec::new();
        match File::open(path).and_then(|file| file.take(8).read_to_end(&mut begin)) {
            Err(error) => unreadable.differ(format!("it cannot be read: {error}")),
            Ok(_) if begin.starts_with(b"PK") => return archive::zip(path, templates, tell),
            Ok(_) if begin.starts_with(b"%PDF-") => match fs::metadata(path).map(|data| data.len()) {
                Ok(size) if size > crate::evidence::pdf::MOST => {
                    unreadable.differ("it is far larger than a report");
                }
                _ => match fs::read(path) {
                    Ok(bytes) => return self.prove(bytes, templates),
                    Err(error) => unreadable.differ(format!("it cannot be read: {error}")),
                },
            },
            Ok(_) => unreadable.differ("this is neither a bag (a folder or a zip) nor a report (a PDF)"),
        }
        unreadable
    }
}
