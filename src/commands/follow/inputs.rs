//! What a report is made from, as it lies in its folders, and what of it has changed.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::PathBuf;

use walkdir::{DirEntry, WalkDir};

use crate::analysis::remembered::bytes_of;

/// More files than this are not looked at in one folder.
const MOST_FILES: usize = 20_000;

/// A folder that is looked at, and how messages name what lies in it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Root {
    /// The folder, resolved.
    pub folder: PathBuf,
    /// Stands before a file's path in messages; empty for the session's own folder.
    pub named: String,
}

/// Every file that counts, with its content's fingerprint.
#[derive(Debug, Default)]
pub(super) struct Inputs {
    files: BTreeMap<PathBuf, Known>,
}

/// A file as it was.
#[derive(Debug)]
struct Known {
    name: String,
    mark: Mark,
    content: Option<[u8; 32]>,
}

/// What the system says of a file without reading it. Where this is another, the file is read again.
#[derive(Debug, PartialEq, Eq)]
struct Mark {
    size: u64,
    modified: Option<std::time::SystemTime>,
    place: (u64, u64, i64, i64),
}

/// What has changed since the last look, by the names that messages use.
#[derive(Debug, Default, PartialEq, Eq)]
pub(super) struct Changes {
    changed: Vec<String>,
    added: Vec<String>,
    gone: Vec<String>,
}

impl Changes {
    pub(super) fn is_empty(&self) -> bool {
        self.changed.is_empty() && self.added.is_empty() && self.gone.is_empty()
    }

    /// Takes over what changed after this.
    pub(super) fn extend(&mut self, later: Self) {
        for (list, more) in
            [(&mut self.changed, later.changed), (&mut self.added, later.added), (&mut self.gone, later.gone)]
        {
            list.extend(more);
            list.sort();
            list.dedup();
        }
        // A file that an editor took away and put back has changed and no more.
        for name in self.gone.extract_if(.., |name| self.added.contains(name)) {
            self.changed.push(name);
        }
        self.added.retain(|name| !self.changed.contains(name));
        self.changed.sort();
        self.changed.dedup();
    }

    /// In words: "notes.md changed, shake.csv added".
    pub(super) fn said(&self) -> String {
        let groups = [(&self.changed, "changed"), (&self.added, "added"), (&self.gone, "gone")];
        let parts: Vec<String> = groups
            .iter()
            .filter(|(names, _)| !names.is_empty())
            .map(|(names, verb)| format!("{} {verb}", listed(names)))
            .collect();
        parts.join(", ")
    }
}

/// Up to three names, and how many more there are.
fn listed(names: &[String]) -> String {
    const MOST: usize = 3;
    match names {
        [only] => only.clone(),
        [most @ .., last] if names.len() <= MOST => format!("{} and {last}", most.join(", ")),
        _ => format!("{} and {} more", names[..MOST].join(", "), names.len() - MOST),
    }
}

impl Inputs {
    /// Looks again and says what is not as it was. A file is read where the system says that it was
    /// touched, or where it is among those `stirred`: two saves within a moment can leave one mark.
    pub(super) fn look(
        &mut self,
        roots: &[Root],
        outputs: &[PathBuf],
        stirred: &BTreeSet<PathBuf>,
    ) -> Changes {
        let mut changes = Changes::default();
        let mut files = BTreeMap::new();
        for (path, name, mark) in roots.iter().flat_map(|root| found(root, outputs)) {
            if files.contains_key(&path) {
                continue;
            }
            let known = self.files.remove(&path);
            let same = known.as_ref().is_some_and(|known| known.mark == mark && !stirred.contains(&path));
            let content = match &known {
                Some(known) if same => known.content,
                _ => bytes_of(&path).ok(),
            };
            match known {
                None => changes.added.push(name.clone()),
                Some(known) if known.content != content => changes.changed.push(name.clone()),
                Some(_) => {}
            }
            files.insert(path, Known { name, mark, content });
        }
        changes.gone.extend(self.files.values().map(|known| known.name.clone()));
        self.files = files;
        changes
    }
}

/// The plain files of a folder, those hidden and those of `outputs` left out.
fn found<'a>(
    root: &'a Root,
    outputs: &'a [PathBuf],
) -> impl Iterator<Item = (PathBuf, String, Mark)> + use<'a> {
    let counts = |entry: &DirEntry| {
        let hidden = entry.depth() > 0 && entry.file_name().to_string_lossy().starts_with('.');
        !hidden && !outputs.iter().any(|output| entry.path() == output)
    };
    WalkDir::new(&root.folder)
        .sort_by_file_name()
        .into_iter()
        .filter_entry(counts)
        .take(MOST_FILES)
        .filter_map(Result::ok)
        .filter(|entry| !entry.file_type().is_dir())
        .filter_map(|entry| {
            // A link counts as what it leads to.
            let meta = fs::metadata(entry.path()).ok().filter(fs::Metadata::is_file)?;
            let within = entry.path().strip_prefix(&root.folder).ok()?;
            let parts: Vec<_> = within.components().map(|part| part.as_os_str().to_string_lossy()).collect();
            let name = format!("{}{}", root.named, parts.join("/"));
            Some((entry.into_path(), name, mark(&meta)))
        })
}

fn mark(meta: &fs::Metadata) -> Mark {
    Mark { size: meta.len(), modified: meta.modified().ok(), place: place(meta) }
}

/// Tells a file from another that took its name.
#[cfg(unix)]
fn place(meta: &fs::Metadata) -> (u64, u64, i64, i64) {
    use std::os::unix::fs::MetadataExt;
    (meta.dev(), meta.ino(), meta.ctime(), meta.ctime_nsec())
}

#[cfg(not(unix))]
fn place(_: &fs::Metadata) -> (u64, u64, i64, i64) {
    (0, 0, 0, 0)
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use std::path::Path;

    use super::*;

    fn look(inputs: &mut Inputs, folder: &Path) -> String {
        let root = Root { folder: folder.to_owned(), named: String::new() };
        inputs.look(&[root], &[folder.join("out")], &BTreeSet::new()).said()
    }

    #[test]
    fn what_changed_came_and_went_is_said_and_nothing_else_is() {
        let folder = tempfile::tempdir().unwrap();
        let write = |name: &str, text: &str| fs::write(folder.path().join(name), text).unwrap();
        fs::create_dir(folder.path().join("out")).unwrap();
        write("a.yaml", "1");
        write("b.md", "1");
        let mut inputs = Inputs::default();
        assert_eq!(look(&mut inputs, folder.path()), "a.yaml and b.md added");
        assert_eq!(look(&mut inputs, folder.path()), "");

        write("b.md", "22");
        write("c.csv", "1");
        fs::remove_file(folder.path().join("a.yaml")).unwrap();
        write("out/report.pdf", "1");
        write(".b.md.swp", "1");
        assert_eq!(look(&mut inputs, folder.path()), "b.md changed, c.csv added, a.yaml gone");
    }

    #[test]
    fn a_file_saved_as_it_was_has_not_changed() {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join("a.yaml"), "1").unwrap();
        let mut inputs = Inputs::default();
        look(&mut inputs, folder.path());
        fs::write(folder.path().join("new"), "1").unwrap();
        fs::rename(folder.path().join("new"), folder.path().join("a.yaml")).unwrap();
        assert_eq!(look(&mut inputs, folder.path()), "");
    }

    #[test]
    fn taken_away_and_put_back_is_a_change_and_many_are_counted() {
        let names = |names: &[&str]| names.iter().map(|name| (*name).to_owned()).collect();
        let mut changes = Changes { gone: names(&["a"]), ..Changes::default() };
        changes.extend(Changes { added: names(&["a"]), ..Changes::default() });
        assert_eq!(changes.said(), "a changed");
        let many = Changes { changed: names(&["a", "b", "c", "d", "e"]), ..Changes::default() };
        assert_eq!(many.said(), "a, b, c and 2 more changed");
    }
}
