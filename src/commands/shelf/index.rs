//! The typeset list of sessions, `OUT/shelf.pdf`.

use std::path::Path;

use super::super::PROGRAM;
use super::super::report::BuildError;
use crate::compose::Templates;
use crate::compose::shelf::{Sources, shelf};
use crate::evidence::sha256;
use crate::shelf::{Day, Row, Said, to_json};
use crate::typeset::{self, Meta, Pdf};

/// What the file is called in the folder of outputs.
pub(super) const NAME: &str = "shelf.pdf";

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

pub(super) fn made(list: &List<'_>, target: &Path, templates: &Templates) -> Result<Pdf, BuildError> {
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
