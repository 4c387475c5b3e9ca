//! Which files a visit's seal names, and what they hold.

use std::collections::{BTreeMap, BTreeSet};

use walkdir::{DirEntry, WalkDir};

use super::is_seal;
use crate::evidence::Item;
use crate::evidence::digest::sha256_of;
use crate::session::{Entry, Node, Problem, Problems, ScalarKind, Value, Visit, WallBreach, Walls};

/// More files than this are no visit.
const MOST_FILES: usize = 20_000;

/// The hashes of a session's files: those that were read already, and the others when they are asked for.
#[derive(Debug)]
pub struct Hashes<'a> {
    walls: &'a Walls,
    known: BTreeMap<&'a str, &'a str>,
}

impl<'a> Hashes<'a> {
    /// Knows those of an inventory, which may be empty.
    pub fn new(walls: &'a Walls, items: &'a [Item]) -> Self {
        let known = items.iter().map(|item| (item.path.as_str(), item.sha256.as_str())).collect();
        Self { walls, known }
    }

    /// The SHA-256 of a file by its path in the session folder.
    pub fn of(&self, path: &str) -> Result<String, WallBreach> {
        if let Some(known) = self.known.get(path) {
            return Ok((*known).to_owned());
        }
        let resolved = self.walls.resolve(path)?;
        sha256_of(&resolved).map_err(WallBreach::Unreadable)
    }
}

/// Every file that the seal of a visit names, as paths in the session folder: those of its folder, hidden ones and
/// seals left out, and those that it names elsewhere. What cannot stand in a seal goes to `problems`, as errors.
pub fn of_visit(visit: &Visit, walls: &Walls, problems: &mut Problems) -> BTreeSet<String> {
    let folder = format!("visits/{}", visit.id);
    let mut files: BTreeSet<String> = visit.photos.iter().map(|photo| photo.file.clone()).collect();
    for readings in &visit.readings {
        named(readings.own.written_entries(), &folder, walls, &mut files);
    }
    let root = walls.root().join(&folder);
    let counts = |entry: &DirEntry| {
        let name = entry.file_name().to_string_lossy();
        entry.depth() == 0 || !(name.starts_with('.') || entry.depth() == 1 && is_seal(&name))
    };
    let walk = WalkDir::new(&root).sort_by_file_name().into_iter().filter_entry(counts);
    for entry in walk.take(MOST_FILES) {
        let entry = match entry {
            Ok(entry) => entry,
            Err(error) => {
                problems.push(Problem::folder(format!("a file of {folder} cannot be read: {error}")));
                continue;
            }
        };
        if entry.file_type().is_dir() {
            continue;
        }
        let below = entry.path().strip_prefix(&root).unwrap_or(entry.path());
        let parts: Option<Vec<&str>> = below.components().map(|part| part.as_os_str().to_str()).collect();
        let Some(parts) = parts else {
            let shown = below.to_string_lossy();
            problems.push(
                Problem::folder(format!("{folder}/{shown}: the file's name is not UTF-8"))
                    .help("rename the file: a seal is a text, in UTF-8"),
            );
            continue;
        };
        let path = format!("{folder}/{}", parts.join("/"));
        match walls.relative("", &path).and_then(|path| walls.resolve(&path)) {
            // A link to a folder: what lies there is counted where it stands.
            Err(WallBreach::NotAFile) => {}
            Ok(_) if parts == ["-"] => problems.push(
                Problem::folder(format!("{path}: sha256sum takes the name '-' for its own input"))
                    .help("rename the file"),
            ),
            Ok(_) => {
                files.insert(path);
            }
            Err(breach) => problems.push(unsealable(&path, &breach)),
        }
    }
    files
}

/// Whether a path of the session is that of a seal or of what lies beside one.
fn is_beside(path: &str) -> bool {
    path.strip_prefix("visits/").and_then(|rest| rest.split_once('/')).is_some_and(|(_, name)| is_seal(name))
}

fn unsealable(path: &str, breach: &WallBreach) -> Problem {
    let shown = path.replace('\n', "\\n");
    let help = match breach {
        WallBreach::Characters => {
            "rename the file: such a character would begin a line of the seal, or be taken for one"
        }
        WallBreach::LinkLeaves | WallBreach::Leaves => "copy the file itself into the session folder",
        WallBreach::Missing => "the link leads nowhere: take it away, or put the file there",
        _ => "see that the file can be read",
    };
    Problem::folder(format!("{shown}: {breach}")).help(help)
}

/// The files of the session that stand in what a visit wrote down: recordings, calibration tones.
fn named(entries: &[Entry], folder: &str, walls: &Walls, files: &mut BTreeSet<String>) {
    for entry in entries {
        node(&entry.node, true, folder, walls, files);
    }
}

fn node(node_: &Node, of_map: bool, folder: &str, walls: &Walls, files: &mut BTreeSet<String>) {
    match &node_.value {
        Value::Nothing => {}
        // A number in a list is a reading.
        Value::Scalar(scalar) => {
            if (of_map || !matches!(scalar.is, ScalarKind::Number(_)))
                && let Ok(path) = walls.relative(folder, &scalar.text)
                && walls.resolve(&path).is_ok()
                && !is_beside(&path)
            {
                files.insert(path);
            }
        }
        Value::List(nodes) => nodes.iter().for_each(|inner| node(inner, false, folder, walls, files)),
        Value::Map(entries) => named(entries, folder, walls, files),
    }
}
