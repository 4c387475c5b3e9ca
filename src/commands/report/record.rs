//! What is kept of a report: its files as they were written, or why it could not be made.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use super::{Made, Options};
use crate::commands::kept::{self, Inputs, Mark, Seen, Store};
use crate::commands::show;
use crate::shelf::{Row, real};

/// What a run made of a session.
#[derive(Debug, Serialize, Deserialize)]
pub(super) struct Before {
    how: String,
    pub(super) came: Came,
}

/// What came of it.
#[derive(Debug, Serialize, Deserialize)]
pub(super) enum Came {
    /// A report: its files by their paths in the folder of outputs, and what the run warned of.
    Made { files: Vec<(String, Mark)>, warnings: usize },
    /// None, for the session has errors: how they were shown of the folder that was named so, in colour or not.
    Wrong { dir: String, colour: bool, said: String },
}

/// The records in a folder of outputs.
pub(super) struct Records {
    /// All beside the files that a report depends on: the program, and what was asked.
    how: String,
    out: PathBuf,
    reports: Store<Before>,
    /// Rows for lists of sessions, which a report has at hand.
    rows: Store<kept::RowBefore>,
    templates: Option<PathBuf>,
}

impl Records {
    pub(super) fn of(options: &Options) -> Self {
        let templates = options.templates.as_deref().map(real);
        let how = format!("{} {:?} {templates:?} {}", kept::program(), options.publication, options.source);
        let reports = Store::open(&options.out, "reports");
        let rows = Store::to_add(&options.out, kept::ROWS);
        Self { how, out: options.out.clone(), reports, rows, templates }
    }

    /// What the last run made of a session, where nothing has changed since: neither what was read nor what was made.
    pub(super) fn still(&self, seen: &Seen) -> Option<Came> {
        let there = |(path, known): &(String, Mark)| self.mark(path).as_ref() == Some(known);
        let holds = |before: &Before| {
            before.how == self.how
                && match &before.came {
                    Came::Made { files, .. } => files.iter().all(there),
                    Came::Wrong { colour, .. } => *colour == show::colour(false),
                }
        };
        self.reports.of(seen, holds).map(|before| before.came)
    }

    fn mark(&self, path: &str) -> Option<Mark> {
        Mark::of(&fs::metadata(self.out.join(path)).ok()?)
    }

    /// Keeps a report that was made, and the session's row.
    pub(super) fn keep(&self, seen: &Seen, made: &Made, warnings: usize, options: &Options) {
        let own = made.listed.iter().filter_map(|file| {
            let path = fs::canonicalize(seen.root().join(&file.path)).ok()?;
            Some((path, file.sha256.clone()))
        });
        let own: BTreeMap<PathBuf, String> = own.collect();
        let Some(inputs) = self.inputs(seen, &own, &made.session.beside) else { return };
        let files: Option<Vec<(String, Mark)>> = made
            .files
            .iter()
            .map(|file| {
                let path = format!("{}/{file}", made.session.name);
                let mark = self.mark(&path)?;
                Some((path, mark))
            })
            .collect();
        if !options.publication.public {
            let row = Row::of_analysed(seen.root(), &made.session, &made.findings, &made.seals);
            self.rows.put(inputs.clone(), &kept::RowBefore::of(row));
        }
        if let Some(files) = files {
            self.reports.put(inputs, &Before { how: self.how.clone(), came: Came::Made { files, warnings } });
        }
    }

    /// Keeps why a report could not be made.
    pub(super) fn keep_wrong(&self, seen: &Seen, (dir, said): (&str, &str), beside: &[PathBuf]) {
        if let Some(inputs) = self.inputs(seen, &BTreeMap::new(), beside) {
            let colour = show::colour(false);
            let came = Came::Wrong { dir: dir.to_owned(), colour, said: said.to_owned() };
            self.reports.put(inputs, &Before { how: self.how.clone(), came });
        }
    }

    fn inputs(&self, seen: &Seen, known: &BTreeMap<PathBuf, String>, beside: &[PathBuf]) -> Option<Inputs> {
        let templates = self.templates.iter().map(PathBuf::as_path);
        let mut folders = beside.iter().map(PathBuf::as_path).chain(templates);
        folders.try_fold(seen.digested_after(known)?, |inputs, folder: &Path| inputs.and(folder, known))
    }

    /// Writes what was kept.
    pub(super) fn save(&self) {
        self.reports.save();
        self.rows.save();
    }
}
