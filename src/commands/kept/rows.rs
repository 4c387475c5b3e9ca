//! The rows of many sessions: those that are kept still, the others made anew.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use super::{Inputs, Seen, Store, program};
use crate::analysis::Measure;
use crate::commands::progress::Progress;
use crate::registry::measures;
use crate::shelf::{Row, RowRead, processors, side_by_side};

/// What the file of rows is called.
pub(in super::super) const ROWS: &str = "rows";

/// A row as it is kept.
#[derive(Debug, Serialize, Deserialize)]
pub(in super::super) struct RowBefore {
    program: String,
    row: Row,
}

impl RowBefore {
    pub(in super::super) fn of(row: Row) -> Self {
        Self { program: program(), row }
    }
}

/// A row of each of these sessions, in their order.
pub(in super::super) fn rows(sessions: &[PathBuf], out: &Path, quiet: bool) -> Vec<Row> {
    let (store, program) = (Store::<RowBefore>::open(out, ROWS), program());
    let measures = measures();
    let progress = Progress::of(sessions.len(), "sessions", quiet);
    let of = |(): &mut (), dir: &Path| {
        let row = row(dir, &store, &program, &measures);
        progress.step();
        row
    };
    let mut all = Vec::with_capacity(sessions.len());
    side_by_side(sessions, processors(), &of, &mut |row| all.push(row));
    store.save();
    all
}

fn row(dir: &Path, store: &Store<RowBefore>, program: &str, measures: &[&dyn Measure]) -> Row {
    let seen = Seen::now(dir);
    let known = seen.as_ref().and_then(|seen| store.of(seen, |before| before.program == program));
    if let Some(before) = known {
        // It may have been come by in another way.
        return Row { path: dir.display().to_string(), ..before.row };
    }
    // Before it is read: the digests are then of nothing newer.
    let inputs = seen.map(|seen| seen.digested());
    let RowRead { row, beside, all_in_files } = Row::read(dir, measures);
    let with_others = |inputs: Inputs| {
        beside.iter().try_fold(inputs, |inputs, folder| inputs.and(folder, &BTreeMap::new()))
    };
    if let Some(inputs) = inputs.filter(|_| all_in_files).and_then(with_others) {
        store.put(inputs, &RowBefore { program: program.to_owned(), row: row.clone() });
    }
    row
}
