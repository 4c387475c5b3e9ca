//! The session that a person most likely meant, where what was named is none. Only names of files are looked at.

use std::fs;
use std::path::{Path, PathBuf};

use super::problem::nearest;

/// What makes a folder a session.
const SESSION: &str = "session.yaml";
/// No more names than this are looked at in a folder.
const MOST: usize = 1000;

/// The nearest folder above a file or a folder, at most three up, that is a session.
pub(super) fn above(place: &Path) -> Option<PathBuf> {
    let mut folders = place.ancestors().skip(1).take(3);
    let found = folders.find(|folder| folder.join(SESSION).is_file())?;
    Some(if found.as_os_str().is_empty() { PathBuf::from(".") } else { found.to_owned() })
}

/// The only session in a folder.
pub(super) fn below(folder: &Path) -> Option<PathBuf> {
    let mut sessions = sessions_in(folder);
    let only = sessions.next()?;
    sessions.next().is_none().then_some(only)
}

/// A session beside where the one that was named would be, of nearly that name.
pub(super) fn of_like_name(named: &Path) -> Option<PathBuf> {
    let name = named.file_name()?.to_str()?;
    let beside = named.parent()?;
    let looked = if beside.as_os_str().is_empty() { Path::new(".") } else { beside };
    let sessions: Vec<String> =
        sessions_in(looked).filter_map(|folder| Some(folder.file_name()?.to_str()?.to_owned())).collect();
    nearest(name, sessions.iter().map(String::as_str)).map(|found| beside.join(found))
}

/// A file that is there in the place of one of this name: `visit.yml`, `Visit.yaml`, `visit.yaml.txt`.
pub(super) fn misspelt(folder: &Path, file: &str) -> Option<String> {
    let stem = file.split('.').next()?;
    let like = |name: &str| {
        let name = name.to_lowercase();
        [format!("{stem}.yml"), file.to_owned(), format!("{file}.txt"), format!("{stem}.txt")].contains(&name)
    };
    let mut names: Vec<String> = fs::read_dir(folder)
        .ok()?
        .take(MOST)
        .filter_map(|entry| entry.ok()?.file_name().into_string().ok())
        .filter(|name| name != file && like(name))
        .collect();
    names.sort();
    names.into_iter().next()
}

fn sessions_in(folder: &Path) -> impl Iterator<Item = PathBuf> {
    let mut sessions: Vec<PathBuf> = fs::read_dir(folder)
        .into_iter()
        .flatten()
        .take(MOST)
        .filter_map(|entry| Some(entry.ok()?.path()))
        .filter(|path| path.join(SESSION).is_file())
        .collect();
    sessions.sort();
    sessions.into_iter()
}
