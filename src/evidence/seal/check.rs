//! Whether what was sealed is still as it was.

use std::collections::BTreeMap;
use std::fs;
use std::sync::Arc;

use super::files::{Hashes, of_visit};
use super::signature::Signature;
use super::stamp::Stamp;
use super::{
    MOST_BYTES, NAME, SIGNATURE, STAMP, Seal, from_visit, kept_name, kept_number, parse, seal_path,
    signature, stamp,
};
use crate::evidence::{Item, sha256};
use crate::session::{Problem, Problems, Session, SourceFile, Visit, WallBreach, Walls};

/// How a visit stands with its seal.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Standing {
    /// The visit's id.
    pub visit: String,
    /// What was found.
    pub found: Found,
}

/// What was found of a visit's seal.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Found {
    /// There is no seal.
    Nothing,
    /// There was one: what lay beside it, or one that was kept, is still there.
    Gone,
    /// A file lies in its place that is none. Why, was said as a problem.
    Unreadable,
    /// A seal.
    Seal(Box<Checked>),
}

/// A seal, and all that was held against it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Checked {
    /// The seal as it is written.
    pub seal: Seal,
    /// SHA-256 of its file, 64 hexadecimal digits.
    pub sha256: String,
    /// What is not as it was sealed, by path.
    pub changes: Vec<Change>,
    /// The seals before it, back to the first one of another visit; none where it is the first.
    pub before: Vec<Link>,
    /// The signature beside it.
    pub signature: Option<Signature>,
    /// The time stamp beside it.
    pub stamp: Option<Stamp>,
}

/// A file that is not as it was sealed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Change {
    /// The path, from the visit's folder.
    pub path: String,
    /// What became of it.
    pub what: What,
}

/// What became of a file since it was sealed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum What {
    /// Other bytes: SHA-256 as sealed, and now.
    Changed {
        /// As sealed.
        was: String,
        /// Now.
        is: String,
    },
    /// It is gone, or cannot be read.
    Missing {
        /// As sealed.
        was: String,
        /// Why it is not there.
        why: String,
    },
    /// It was not there, or the visit did not name it.
    Added {
        /// Now.
        is: String,
    },
}

/// A seal that another one follows.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Link {
    /// It is as it was.
    Right {
        /// Its path in the session folder.
        path: String,
    },
    /// Its visit was sealed again; the one that is followed was kept, and is as it was.
    Kept {
        /// Where it is now.
        path: String,
    },
    /// It is not what it was.
    Changed {
        /// Its path.
        path: String,
        /// SHA-256 when it was followed.
        was: String,
        /// SHA-256 now.
        is: String,
    },
    /// It is gone, or cannot be read.
    Missing {
        /// Its path.
        path: String,
    },
}

impl Checked {
    /// Whether every file is as it was sealed, and no other one has come.
    pub fn holds(&self) -> bool {
        self.changes.is_empty()
    }

    /// Whether all of it is in order: files, chain, and what signature and time stamp there are.
    pub fn in_order(&self) -> bool {
        self.holds()
            && self.before.iter().all(|link| matches!(link, Link::Right { .. } | Link::Kept { .. }))
            && self.signature.as_ref().is_none_or(Signature::is_good)
            && self.stamp.as_ref().is_none_or(Stamp::is_good)
    }
}

/// How every visit of a session stands with its seal. Hashes of the inventory are not computed again. What is no
/// seal, and what is not as it was sealed, goes to `problems` as warnings.
pub fn check(session: &Session, items: &[Item], problems: &mut Problems) -> Vec<Standing> {
    let Ok(walls) = Walls::around(&session.root) else { return Vec::new() };
    let hashes = Hashes::new(&walls, items);
    let mut standings = Vec::new();
    for visit in &session.visits {
        let found = of(session, visit, &walls, &hashes, problems);
        if let Found::Seal(checked) = &found
            && !checked.in_order()
        {
            problems.push(super::words::warning(session, checked));
        }
        standings.push(Standing { visit: visit.id.clone(), found });
    }
    standings
}

/// How one visit stands with its seal.
pub(super) fn of(
    session: &Session,
    visit: &Visit,
    walls: &Walls,
    hashes: &Hashes<'_>,
    problems: &mut Problems,
) -> Found {
    let path = format!("visits/{}/{NAME}", visit.id);
    let bytes = match walls.bytes(&path, MOST_BYTES) {
        Ok(bytes) => bytes,
        Err(WallBreach::Missing) => {
            let Some(left) = left_behind(&visit.id, walls) else { return Found::Nothing };
            let shown = format!("{}/visits/{}", session.name, visit.id);
            problems.push(
                Problem::folder(format!("{shown} was sealed, and its {NAME} is gone: {left} is still there"))
                    .warning()
                    .help(format!("look for {NAME} in a copy of the session")),
            );
            return Found::Gone;
        }
        Err(breach) => {
            problems.push(Problem::folder(format!("{path}: {breach}")).warning());
            return Found::Unreadable;
        }
    };
    let Some(seal) = parsed(&session.name, &path, &bytes, &visit.id, walls, problems) else {
        return Found::Unreadable;
    };
    let beside = |ending: &str, most: u64| match walls.bytes(&format!("{path}{ending}"), most) {
        Err(WallBreach::Missing) => None,
        read => Some(read.map_err(|breach| breach.to_string())),
    };
    let signature = beside(SIGNATURE, signature::MOST_BYTES).map(|read| signature::check(&bytes, read));
    let stamp = beside(STAMP, stamp::MOST_BYTES).map(|read| stamp::check(&bytes, read));
    Found::Seal(Box::new(Checked {
        sha256: sha256(&bytes),
        changes: changes(&seal, visit, walls, hashes),
        before: before(&session.name, &seal, walls),
        seal,
        signature,
        stamp,
    }))
}

/// What a seal that is gone left behind in its visit's folder.
fn left_behind(visit: &str, walls: &Walls) -> Option<String> {
    let beside = [SIGNATURE, STAMP].map(|ending| format!("{NAME}{ending}"));
    let there = |name: &String| walls.resolve(&format!("visits/{visit}/{name}")).is_ok();
    beside.into_iter().find(there).or_else(|| last_kept(visit, walls).map(kept_name))
}

/// The greatest number of a seal of the visit that was kept.
pub(super) fn last_kept(visit: &str, walls: &Walls) -> Option<u32> {
    let entries = fs::read_dir(walls.root().join("visits").join(visit)).ok()?;
    let names = entries.filter_map(|entry| entry.ok()?.file_name().into_string().ok());
    names.filter_map(|name| kept_number(name.strip_suffix(".txt")?)).max()
}

fn parsed(
    session: &str,
    path: &str,
    bytes: &[u8],
    visit: &str,
    walls: &Walls,
    problems: &mut Problems,
) -> Option<Seal> {
    let name = format!("{session}/{path}");
    match std::str::from_utf8(bytes) {
        Ok(text) => parse(&Arc::new(SourceFile::whole(name, text)), visit, walls, problems),
        Err(error) => {
            let at = error.valid_up_to();
            let why = format!("{name} is no seal: it is not UTF-8 (byte {at})");
            problems.push(Problem::folder(why).warning().help("take the seal from a copy of the session"));
            None
        }
    }
}

fn changes(seal: &Seal, visit: &Visit, walls: &Walls, hashes: &Hashes<'_>) -> Vec<Change> {
    let mut changes: BTreeMap<String, What> = BTreeMap::new();
    for file in &seal.files {
        let was = file.sha256.clone();
        match hashes.of(&file.path) {
            Ok(is) if is == was => {}
            Ok(is) => {
                changes.insert(file.shown.clone(), What::Changed { was, is });
            }
            Err(why) => {
                changes.insert(file.shown.clone(), What::Missing { was, why: why.to_string() });
            }
        }
    }
    // What hinders a new seal is for 'seal' to say.
    for path in of_visit(visit, walls, &mut Problems::default()) {
        let shown = from_visit(&visit.id, &path);
        if seal.files.binary_search_by(|file| file.shown.as_str().cmp(&shown)).is_err()
            && let Ok(is) = hashes.of(&path)
        {
            changes.insert(shown, What::Added { is });
        }
    }
    changes.into_iter().map(|(path, what)| Change { path, what }).collect()
}

/// The chain from a seal to the first one of another visit.
fn before(session: &str, seal: &Seal, walls: &Walls) -> Vec<Link> {
    let mut links = Vec::new();
    let mut next = seal.before.clone();
    // A seal that was kept follows one with a smaller number, or one of another visit: this comes to an end.
    let mut above = u64::from(u32::MAX) + 1;
    while let Some(before) = next.take() {
        let link = link(&before.path, &before.sha256, walls);
        let at = match &link {
            Link::Right { path } | Link::Kept { path } => path.clone(),
            _ => String::new(),
        };
        links.push(link);
        if let Some((visit, Some(number))) = seal_path(&at)
            && visit == seal.visit
            && u64::from(number) < above
        {
            above = u64::from(number);
            let bytes = walls.bytes(&at, MOST_BYTES).unwrap_or_default();
            let kept = parsed(session, &at, &bytes, visit, walls, &mut Problems::default());
            next = kept.and_then(|kept| kept.before);
        }
    }
    links
}

fn link(path: &str, was: &str, walls: &Walls) -> Link {
    /// A visit that was sealed more often than this is none.
    const MOST_KEPT: u32 = 100;
    let hash = |path: &str| walls.bytes(path, MOST_BYTES).ok().map(|bytes| sha256(&bytes));
    let now = hash(path);
    if now.as_deref() == Some(was) {
        return Link::Right { path: path.to_owned() };
    }
    let folder = path.rsplit_once('/').map_or("", |(folder, _)| folder);
    for number in 1..=MOST_KEPT {
        let kept = format!("{folder}/{}", kept_name(number));
        if hash(&kept).as_deref() == Some(was) {
            return Link::Kept { path: kept };
        }
    }
    match now {
        Some(is) => Link::Changed { path: path.to_owned(), was: was.to_owned(), is },
        None => Link::Missing { path: path.to_owned() },
    }
}
