//! The rows of many sessions: those that are kept still, the others made anew.

use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use super::{Seen, Store, program};
use crate::commands::progress::Progress;
use crate::registry::measures;
use crate::shelf::{Row, processors, side_by_side};

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
        let seen = Seen::now(dir);
        let known = seen.as_ref().and_then(|seen| store.of(seen, |before| before.program == program));
        let row = match known {
            // It may have been come by in another way.
            Some(before) => Row { path: dir.display().to_string(), ..before.row },
            None => {
                let inputs = seen.map(|seen| seen.digested());
                let (row, beside) = Row::read(dir, &measures);
                let none = std::collections::BTreeMap::new();
                let inputs =
                    beside.iter().try_fold(inputs, |inputs, folder| Some(Some(inputs?.and(folder, &none)?)));
                if let Some(inputs) = inputs.flatten() {
                    store.put(inputs, &RowBefore { program: program.clone(), row: row.clone() });
                }
                row
            }
        };
        progress.step();
        row
    };
    let mut all = Vec::with_capacity(sessions.len());
    side_by_side(sessions, processors(), &of, &mut |row| all.push(row));
    store.save();
    all
}
