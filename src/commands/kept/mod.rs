//! What was made of sessions before, kept beside the outputs in `OUT/.built`, so that the next run need not read again what
//! has not changed. It may be removed at any time, and it is never trusted over the inputs: a file whose size, time or place
//! on the disk is another, or whose time is too near to the look at it to tell, is read and its digest compared. What cannot be
//! read of it counts as nothing.

mod look;
mod rows;
mod store;

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::{SystemTime, UNIX_EPOCH};

use serde::{Deserialize, Serialize};

use super::PROGRAM;
use crate::evidence::digest::sha256_of;
use crate::evidence::sha256;
use crate::shelf::real;
pub(super) use look::Mark;
use look::{Entry, look};
pub(super) use rows::{ROWS, RowBefore, rows};
pub(super) use store::Store;

/// Two saves within so many nanoseconds can leave one time (FAT keeps two seconds).
const GRAIN: u64 = 2_000_000_000;

/// A session as it lay there before it was read.
pub(super) struct Seen {
    /// In nanoseconds since 1970: what is saved later may not be what was read.
    at: u64,
    root: PathBuf,
    entries: Vec<Entry>,
}

/// A file as it was known.
#[derive(Clone, Debug, Serialize, Deserialize)]
struct Known(Entry, Option<String>);

/// A folder, and everything that lay in it; nothing where it was not there.
#[derive(Clone, Debug, Serialize, Deserialize)]
struct Folder {
    path: PathBuf,
    entries: Vec<Known>,
}

/// All that something was made from.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(super) struct Inputs {
    at: u64,
    /// The session's folder, then those of others.
    folders: Vec<Folder>,
}

/// What was made, and from what.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(super) struct Record<T> {
    inputs: Inputs,
    pub(super) made: T,
}

impl Seen {
    /// Looks at every file of a session; none where that cannot be done, and then nothing is kept of it.
    pub(super) fn now(dir: &Path) -> Option<Self> {
        let at = nanoseconds(SystemTime::now())?;
        let root = fs::canonicalize(dir).ok()?;
        let entries = look(&root)?;
        Some(Self { at, root, entries })
    }

    pub(super) fn root(&self) -> &Path {
        &self.root
    }

    /// Every file with its digest, read now. To be called before the session is read: then the digests are never those of
    /// something newer.
    pub(super) fn digested(&self) -> Inputs {
        Inputs { at: self.at, folders: vec![folder(&self.root, self.entries.clone(), &BTreeMap::new())] }
    }

    /// The same after the session was read, with the digests that are `known` by resolved path of what was read; none where something
    /// in it has changed meanwhile.
    pub(super) fn digested_after(&self, known: &BTreeMap<PathBuf, String>) -> Option<Inputs> {
        let folder = folder(&self.root, self.entries.clone(), known);
        let same = look(&self.root).is_some_and(|now| now == self.entries);
        same.then(|| Inputs { at: self.at, folders: vec![folder] })
    }
}

impl Inputs {
    /// With another folder, which was read meanwhile; none where that cannot be looked at. What is not `known` of it is read
    /// now, so it must not have been saved lately.
    pub(super) fn and(mut self, path: &Path, known: &BTreeMap<PathBuf, String>) -> Option<Self> {
        let entries = look(path)?;
        let real = real(path);
        let unsure =
            |entry: &Entry| !entry.mark.vouches(self.at) && !known.contains_key(&real.join(&entry.path));
        if entries.iter().any(unsure) {
            return None;
        }
        self.folders.push(folder(path, entries, known));
        Some(self)
    }

    /// These inputs as they lie there now, where nothing in them has changed; and whether that took reading.
    fn still(&self, seen: &Seen) -> Option<(Self, bool)> {
        let (own, others) = self.folders.split_first()?;
        if own.path != seen.root {
            return None;
        }
        let mut read = false;
        let mut folders = vec![own.still(seen.entries.clone(), self.at, &mut read)?];
        for other in others {
            folders.push(other.still(look(&other.path)?, self.at, &mut read)?);
        }
        Some((Self { at: seen.at, folders }, read))
    }
}

impl Folder {
    fn still(&self, now: Vec<Entry>, at: u64, read: &mut bool) -> Option<Self> {
        if now.len() != self.entries.len() {
            return None;
        }
        let mut entries = Vec::with_capacity(now.len());
        for (Known(known, digest), entry) in self.entries.iter().zip(now) {
            if *known != entry || !known.mark.vouches(at) {
                let alike =
                    known.path == entry.path && known.mark.size == entry.mark.size && digest.is_some();
                *read = true;
                if !alike || digest_of(&self.path.join(&entry.path)) != *digest {
                    return None;
                }
            }
            entries.push(Known(entry, digest.clone()));
        }
        Some(Self { path: self.path.clone(), entries })
    }
}

/// A folder with the digests of its files: those that are `known` by their resolved paths, and what is read for the others.
fn folder(path: &Path, entries: Vec<Entry>, known: &BTreeMap<PathBuf, String>) -> Folder {
    let real = real(path);
    let digested = |entry: Entry| {
        let file = real.join(&entry.path);
        let read = || if entry.is_folder() { None } else { digest_of(&file) };
        let digest = known.get(&file).cloned().or_else(read);
        Known(entry, digest)
    };
    Folder { path: path.to_owned(), entries: entries.into_iter().map(digested).collect() }
}

/// The digest of a file; of a link that leads nowhere, of where it points. What is neither may never end and is told by its mark
/// alone.
fn digest_of(file: &Path) -> Option<String> {
    match fs::metadata(file) {
        Ok(data) if data.is_file() => sha256_of(file).ok(),
        Ok(_) => None,
        Err(_) => fs::read_link(file).ok().map(|to| sha256(to.as_os_str().as_encoded_bytes())),
    }
}

/// Nanoseconds since 1970; 64 bits hold them until 2554.
fn nanoseconds(moment: SystemTime) -> Option<u64> {
    u64::try_from(moment.duration_since(UNIX_EPOCH).ok()?.as_nanos()).ok()
}

/// The program to the byte: what another one made is made again.
pub(super) fn program() -> String {
    let mark = std::env::current_exe().ok().and_then(|path| Mark::of(&fs::metadata(path).ok()?));
    format!("{PROGRAM} {mark:?}")
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests;
