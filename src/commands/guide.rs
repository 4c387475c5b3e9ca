//! `guide`: the guide, set by the program itself.

use std::io::Write;
use std::path::{Path, PathBuf};

use clap::ValueEnum;

use super::report::BuildError;
use super::{Outcome, PROGRAM, show, written};
use crate::compose::{Templates, guide};
use crate::evidence::sha256;
use crate::session::Paper;
use crate::typeset::{self, Meta, Pdf};

/// What the files are called.
const NAMES: [&str; 2] = ["guide.pdf", "guide.html"];

/// The paper it is set on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum Sheets {
    /// 210 × 297 mm
    A4,
    /// 8.5 × 11 in
    UsLetter,
}

pub(super) struct Options {
    pub(super) out: PathBuf,
    pub(super) paper: Sheets,
    pub(super) quiet: bool,
}

pub(super) fn run(options: &Options, out: &mut dyn Write, err: &mut dyn Write) -> Outcome {
    let (pdf, page) = match made(options.paper) {
        Ok(made) => made,
        Err(error) => {
            let _ = writeln!(err, "{}", show::plain(&error.to_string()));
            return Outcome::CouldNotWrite;
        }
    };
    let pages = pdf.pages;
    let [paper, screen] = NAMES.map(str::to_owned);
    let files = [(paper, pdf.bytes), (screen, page.into_bytes())];
    if let Err(error) = written::put_among(&options.out, &files, is_ours) {
        let _ = writeln!(err, "{}", show::plain(&error.to_string()));
        return Outcome::CouldNotWrite;
    }
    if !options.quiet {
        let named = |name: &str| show::plain(&Path::new(&options.out).join(name).display().to_string());
        let _ = writeln!(out, "{} ({pages} pages), {}", named(NAMES[0]), NAMES[1]);
    }
    Outcome::Done
}

fn made(sheets: Sheets) -> Result<(Pdf, String), BuildError> {
    let templates = Templates::embedded();
    let paper = match sheets {
        Sheets::A4 => Paper::A4,
        Sheets::UsLetter => Paper::UsLetter,
    };
    let bundle = guide::paper(&templates, paper, PROGRAM)?;
    let ident = format!("guide {}", sha256(bundle.main.text.as_bytes()));
    let pdf = typeset::pdf(&bundle, &Meta { ident, date: guide::DATE })?;
    Ok((pdf, guide::screen(&templates, PROGRAM)?))
}

/// Whether a file was made by this program: a PDF's metadata say so, and a page's head.
fn is_ours(bytes: &[u8]) -> bool {
    const GENERATOR: &[u8] = b"<meta name=\"generator\" content=\"asfound ";
    [written::CREATOR, GENERATOR].iter().any(|said| written::holds(bytes, said))
}
