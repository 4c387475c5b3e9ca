//! The typeset list of sessions, `OUT/shelf.pdf`.

use std::io::Write;
use std::path::{Path, PathBuf};

use super::super::report::{BuildError, lies_in};
use super::super::{Outcome, PROGRAM, show, written};
use crate::compose::Templates;
use crate::compose::shelf::{Sources, shelf};
use crate::evidence::sha256;
use crate::shelf::{Day, Row, Said, to_json};
use crate::typeset::{self, Meta, Pdf};

/// What the file is called in the folder of outputs.
const NAME: &str = "shelf.pdf";

/// What is listed.
#[derive(Clone, Copy)]
pub(super) struct List<'a> {
    pub(super) rows: &'a [Row],
    /// The folders' names of all sessions that were come by, listed or not.
    pub(super) names: &'a [String],
    pub(super) said: &'a [String],
    pub(super) day: Day,
    pub(super) within: &'a str,
}

/// Writes the list. It must not lie in one of the sessions, where it would count as evidence.
pub(super) fn write(
    list: &List<'_>,
    sessions: &[PathBuf],
    (target, folder): (&Path, Option<&Path>),
    quiet: bool,
    out: &mut dyn Write,
    err: &mut dyn Write,
) -> Outcome {
    let mut refuse = |why: &str, outcome: Outcome| {
        let _ = writeln!(err, "{}", show::plain(why));
        outcome
    };
    if sessions.iter().any(|session| lies_in(target, session)) {
        return refuse(
            &format!("{}: the list would lie inside a session; choose another --out", target.display()),
            Outcome::CouldNotWrite,
        );
    }
    let templates = match folder.map_or_else(|| Ok(Templates::embedded()), Templates::with_folder) {
        Ok(templates) => templates,
        Err(error) => return refuse(&error.to_string(), Outcome::SessionHasErrors),
    };
    let pdf = match made(list, target, &templates) {
        Ok(pdf) => pdf,
        Err(error) => return refuse(&error.to_string(), Outcome::SessionHasErrors),
    };
    if let Err(error) = written::put_alone(&target.join(NAME), &pdf.bytes) {
        return refuse(&error.to_string(), Outcome::CouldNotWrite);
    }
    if !quiet {
        let pages = if pdf.pages == 1 { "1 page".to_owned() } else { format!("{} pages", pdf.pages) };
        let text = format!("{} ({pages})\n", target.join(NAME).display());
        let _ = out.write_all(show::plain(&text).as_bytes());
    }
    Outcome::Done
}

fn made(list: &List<'_>, target: &Path, templates: &Templates) -> Result<Pdf, BuildError> {
    let report = |row: &Row| report(row, list.names, target);
    let page = shelf(&Sources {
        rows: list.rows,
        report: &report,
        said: list.said,
        day: list.day,
        within: list.within,
        program: PROGRAM,
    });
    let told =
        to_json(list.rows, list.day, Said { program: PROGRAM, within: list.within, unread: list.said });
    let meta = Meta { ident: format!("shelf {}", sha256(told.as_bytes())), date: list.day.on };
    Ok(typeset::pdf(&templates.compose("shelf.typ", &page)?, &meta)?)
}

/// The report of a session as it lies beside the list. Where two sessions have one name, nobody can say whose it is.
fn report(row: &Row, names: &[String], target: &Path) -> Option<String> {
    let alone = names.iter().filter(|name| **name == row.name).count() == 1;
    let there = target.join(&row.name).join("report.pdf").is_file();
    (alone && there).then(|| format!("{}/report.pdf", row.name))
}
