//! Session folders below some folders, whatever else lies there.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

use walkdir::WalkDir;

/// What makes a folder a session.
const SESSION: &str = "session.yaml";
/// What makes a folder a bag (RFC 8493, 2.1.1). What lies in one is a copy.
const BAG: &str = "bagit.txt";
/// Unfinished work of this program begins so.
const UNFINISHED: &str = ".asfound-";

/// What a walk came by.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Walked {
    /// The session folders, in the order of the folders asked for and by name in each.
    pub sessions: Vec<PathBuf>,
    /// What could not be looked into, and why, in sentences.
    pub unread: Vec<String>,
    /// Links to folders, which were not followed: they could lead anywhere, or round in a circle.
    pub links: Vec<PathBuf>,
    /// Bags, which were not looked into: what lies in one is a copy.
    pub bags: Vec<PathBuf>,
}

/// Finds the session folders in and below each of these folders. A folder is a session where it holds a
/// `session.yaml`; its visits are not looked into, the other folders in it are.
pub fn walk(dirs: &[PathBuf]) -> Walked {
    let mut walked = Walked::default();
    let mut known = BTreeSet::new();
    for dir in dirs {
        below(dir, &mut known, &mut walked);
    }
    walked
}

fn below(dir: &Path, known: &mut BTreeSet<PathBuf>, walked: &mut Walked) {
    let mut entries = WalkDir::new(dir).sort_by_file_name().into_iter();
    while let Some(entry) = entries.next() {
        let entry = match entry {
            Ok(entry) => entry,
            Err(error) => {
                walked.unread.push(said(dir, &error));
                continue;
            }
        };
        let (path, asked_for) = (entry.path(), entry.depth() == 0);
        if entry.file_type().is_symlink() && !asked_for {
            if path.is_dir() {
                walked.links.push(path.to_owned());
            }
            continue;
        }
        if !(entry.file_type().is_dir() || asked_for && path.is_dir()) {
            continue;
        }
        if !asked_for && passed_over(path) {
            entries.skip_current_dir();
        } else if !asked_for && fs::symlink_metadata(path.join(BAG)).is_ok() {
            walked.bags.push(path.to_owned());
            entries.skip_current_dir();
        } else if is_session(path) && known.insert(fs::canonicalize(path).unwrap_or_else(|_| path.to_owned()))
        {
            walked.sessions.push(path.to_owned());
        }
    }
}

fn is_session(folder: &Path) -> bool {
    fs::symlink_metadata(folder.join(SESSION)).is_ok_and(|data| !data.is_dir())
}

/// The visits of a session, and what a run that is under way, or was killed, has there.
fn passed_over(folder: &Path) -> bool {
    let name = folder.file_name().unwrap_or_default();
    let of_session = name == "visits" && folder.parent().is_some_and(is_session);
    of_session || name.to_string_lossy().starts_with(UNFINISHED)
}

fn said(dir: &Path, error: &walkdir::Error) -> String {
    let path = error.path().unwrap_or(dir).display();
    match error.io_error() {
        Some(cause) => format!("{path} could not be looked into: {cause}"),
        None => format!("{path} could not be looked into: {error}"),
    }
}
