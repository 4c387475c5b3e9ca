//! Session folders below some folders, whatever else lies there.

use std::collections::BTreeSet;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use rayon::prelude::*;

/// What makes a folder a session.
const SESSION: &str = "session.yaml";
/// Where a session has its visits.
const VISITS: &str = "visits";
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
        let mut below = below(dir);
        // Below a folder nothing is come by twice, for no link is followed.
        let real = super::real(dir);
        below.sessions.retain(|path| known.insert(real.join(path.strip_prefix(dir).unwrap_or(path))));
        walked.sessions.extend(below.sessions);
        walked.unread.extend(below.unread);
        walked.links.extend(below.links);
        walked.bags.extend(below.bags);
    }
    walked
}

/// Level by level, the folders of each side by side: the depth of a tree costs no stack.
fn below(dir: &Path) -> Walked {
    let mut walked = Walked::default();
    let mut level = vec![dir.to_owned()];
    let mut asked_for = true;
    while !level.is_empty() {
        let looked: Vec<Looked> = level.par_iter().map(|folder| look_into(folder, asked_for)).collect();
        let mut next = Vec::new();
        for (folder, looked) in level.into_iter().zip(looked) {
            match looked {
                Looked::Unread(error) => {
                    walked.unread.push(format!("{} could not be looked into: {error}", folder.display()));
                }
                Looked::Bag => walked.bags.push(folder),
                Looked::Folder { session, folders, links } => {
                    walked.links.extend(links);
                    next.extend(folders);
                    if session {
                        walked.sessions.push(folder);
                    }
                }
            }
        }
        (level, asked_for) = (next, false);
    }
    // A folder stands before what lies in it, and that by name.
    walked.sessions.sort_unstable();
    walked.links.sort_unstable();
    walked.bags.sort_unstable();
    walked.unread.sort_unstable();
    walked
}

/// What a folder is.
enum Looked {
    Unread(io::Error),
    Bag,
    Folder { session: bool, folders: Vec<PathBuf>, links: Vec<PathBuf> },
}

fn look_into(folder: &Path, asked_for: bool) -> Looked {
    match entries(folder, asked_for) {
        Ok(looked) => looked,
        // A file was named, which is no folder of sessions.
        Err(error) if error.kind() == io::ErrorKind::NotADirectory => {
            Looked::Folder { session: false, folders: Vec::new(), links: Vec::new() }
        }
        Err(error) => Looked::Unread(error),
    }
}

fn entries(folder: &Path, asked_for: bool) -> io::Result<Looked> {
    let (mut session, mut folders, mut links) = (false, Vec::new(), Vec::new());
    for entry in fs::read_dir(folder)? {
        let entry = entry?;
        let (name, kind) = (entry.file_name(), entry.file_type()?);
        if name == BAG && !asked_for {
            return Ok(Looked::Bag);
        }
        session |= name == SESSION && !kind.is_dir();
        if kind.is_dir() && !name.to_string_lossy().starts_with(UNFINISHED) {
            folders.push(entry.path());
        } else if kind.is_symlink() && entry.path().is_dir() {
            links.push(entry.path());
        }
    }
    if session {
        folders.retain(|inside| inside.file_name().is_none_or(|name| name != VISITS));
    }
    Ok(Looked::Folder { session, folders, links })
}
