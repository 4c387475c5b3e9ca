//! What lies in a folder, as far as the system tells without any file being read.

use std::fs;
use std::path::Path;

use serde::{Deserialize, Serialize};

use super::{GRAIN, nanoseconds};

/// More than this in one session is not kept: it is then worked on every time.
const MOST: usize = 20_000;

/// A file as the system tells of it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(from = "(u64, u64, i64, u64)", into = "(u64, u64, i64, u64)")]
pub(in super::super) struct Mark {
    pub(super) size: u64,
    /// Nanoseconds since 1970.
    modified: u64,
    /// When anything about it last changed, where the system tells: a time that was set back does not hide a change.
    touched: i64,
    /// Tells it from another file that took its name, where the system does.
    place: u64,
}

impl From<(u64, u64, i64, u64)> for Mark {
    fn from((size, modified, touched, place): (u64, u64, i64, u64)) -> Self {
        Self { size, modified, touched, place }
    }
}

impl From<Mark> for (u64, u64, i64, u64) {
    fn from(mark: Mark) -> Self {
        (mark.size, mark.modified, mark.touched, mark.place)
    }
}

impl Mark {
    pub(in super::super) fn of(data: &fs::Metadata) -> Option<Self> {
        let (touched, place) = beside(data);
        Some(Self { size: data.len(), modified: nanoseconds(data.modified().ok()?)?, touched, place })
    }

    /// Whether this mark, taken at a moment, is that of no later save too.
    pub(super) fn vouches(&self, at: u64) -> bool {
        let last = self.modified.max(u64::try_from(self.touched).unwrap_or(0));
        last.saturating_add(GRAIN) < at
    }
}

#[cfg(unix)]
fn beside(data: &fs::Metadata) -> (i64, u64) {
    use std::os::unix::fs::MetadataExt;
    (data.ctime().saturating_mul(1_000_000_000).saturating_add(data.ctime_nsec()), data.ino())
}

#[cfg(not(unix))]
fn beside(_: &fs::Metadata) -> (i64, u64) {
    (0, 0)
}

/// Something that lies in a folder: its `/`-separated path there, and its mark. A folder has the empty mark, and `/` at its
/// path's end: what counts of it is that it is there.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(from = "(String, Mark)", into = "(String, Mark)")]
pub(super) struct Entry {
    pub(super) path: String,
    pub(super) mark: Mark,
}

impl From<(String, Mark)> for Entry {
    fn from((path, mark): (String, Mark)) -> Self {
        Self { path, mark }
    }
}

impl From<Entry> for (String, Mark) {
    fn from(entry: Entry) -> Self {
        (entry.path, entry.mark)
    }
}

impl Entry {
    pub(super) fn is_folder(&self) -> bool {
        self.path.ends_with('/')
    }
}

/// Everything below a folder, by path: hidden files too, for visit.yaml may name one. A link counts as what it leads to, one
/// that leads nowhere as itself. Nothing where there is no folder; none where there is too much, or something cannot be told of.
pub(super) fn look(folder: &Path) -> Option<Vec<Entry>> {
    let mut entries = Vec::new();
    let mut folders = vec![(folder.to_owned(), String::new())];
    while let Some((path, before)) = folders.pop() {
        let inside = match fs::read_dir(&path) {
            Ok(inside) => inside,
            Err(_) if before.is_empty() && !path.is_dir() => return Some(entries),
            Err(_) => return None,
        };
        for entry in inside {
            let entry = entry.ok()?;
            let mut below = before.clone();
            below.push_str(entry.file_name().to_str()?);
            let kind = entry.file_type().ok()?;
            if kind.is_dir() {
                below.push('/');
                folders.push((entry.path(), below.clone()));
                entries.push(Entry { path: below, mark: Mark::default() });
            } else {
                let behind = if kind.is_symlink() { fs::metadata(entry.path()).ok() } else { None };
                let data = behind.map_or_else(|| entry.metadata(), Ok).ok()?;
                entries.push(Entry { path: below, mark: Mark::of(&data)? });
            }
            if entries.len() > MOST {
                return None;
            }
        }
    }
    entries.sort_unstable();
    Some(entries)
}
