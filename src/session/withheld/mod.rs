//! A session without what is private, for publication: read from masked copies, so that nothing private is there to be
//! printed.
//!
//! The private values are gathered from the fields that hold them (`values`). Each file that is text is then searched
//! for them and, where one stands, a copy is made in a private temporary folder in which it reads `withheld`. The session
//! is read again through these copies ([`super::read_masked`]), and everything after that is the ordinary work.

mod files;
mod text;
mod values;
mod yaml;

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::problem::{Problem, Problems};
use super::walls::Walls;
pub use values::Private;

/// What stands in the place of a private value.
pub const WITHHELD: &str = "withheld";

/// Masked copies that are read in the place of files. They are gone when the last clone is dropped.
#[derive(Clone, Debug, Default)]
pub struct Masks {
    kept: Option<Arc<Kept>>,
}

#[derive(Debug)]
struct Kept {
    /// Holds the copies, and is never looked at again.
    _folder: tempfile::TempDir,
    /// By the resolved path of the file itself.
    copies: BTreeMap<PathBuf, PathBuf>,
    templates: Option<PathBuf>,
    values: Vec<Private>,
}

impl Masks {
    /// Whether this is a session as it stands.
    pub fn none(&self) -> bool {
        self.kept.is_none()
    }

    /// The copy to be read in the place of a file.
    pub fn copy_of(&self, resolved: &Path) -> Option<&Path> {
        self.kept.as_ref()?.copies.get(resolved).map(PathBuf::as_path)
    }

    /// The session's own templates, masked; `None` where it has none.
    pub fn templates(&self) -> Option<&Path> {
        self.kept.as_ref()?.templates.as_deref()
    }

    /// How many files have a copy.
    pub fn count(&self) -> usize {
        self.kept.as_ref().map_or(0, |kept| kept.copies.len())
    }

    /// The private values.
    pub fn values(&self) -> &[Private] {
        self.kept.as_ref().map_or(&[], |kept| &kept.values)
    }

    /// The first private value that stands in a text and cannot be there by chance: one of several words, or with a
    /// digit or an `@`.
    pub fn still_in(&self, text: &str) -> Option<&Private> {
        let of_its_own = |value: &&Private| {
            let words = value.text.split_whitespace().count();
            words > 1 || value.text.contains(|c: char| c.is_ascii_digit() || c == '@')
        };
        let mut searched =
            self.values().iter().filter(|value| value.is_searched()).filter(of_its_own).peekable();
        // A page takes its time to fold, and most sessions are not masked.
        searched.peek()?;
        let text = text::Folded::of(text);
        searched.find(|value| !text::found(&text, &[*value]).is_empty())
    }
}

/// Makes the masked copies of a session, and of the sessions that it is compared with. What cannot be masked goes to
/// `problems` as an error, what a person should know as a warning. `None` where there is no folder to read.
pub fn withhold(folder: &Path, problems: &mut Problems) -> Option<Masks> {
    let walls = Walls::around(folder).ok()?;
    let others = values::others(&walls);
    let mut list = Vec::new();
    for walls in std::iter::once(&walls).chain(&others) {
        values::gather(walls, &mut list);
    }
    let name = walls.root().file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    too_short(&list, problems);
    in_a_name(&name, "the session's folder", &list, problems);
    let temporary = match tempfile::Builder::new().prefix("asfound-").tempdir() {
        Ok(folder) => folder,
        Err(error) => {
            problems
                .push(Problem::folder(format!("no temporary folder can be made for masked copies: {error}")));
            return None;
        }
    };
    let mut copies = BTreeMap::new();
    for walls in std::iter::once(&walls).chain(&others) {
        files::mask(walls, &list, temporary.path(), &mut copies, problems);
    }
    let templates = files::templates(&walls, temporary.path(), &copies, problems);
    let kept = Kept { _folder: temporary, copies, templates, values: list };
    Some(Masks { kept: Some(Arc::new(kept)) })
}

/// Says which values are withheld in their own places only.
fn too_short(list: &[Private], problems: &mut Problems) {
    for value in list.iter().filter(|value| !value.is_searched()) {
        problems.push(
            Problem::folder(format!(
                "'{}' ({}) is too short to be looked for in other texts; it is withheld in its own place only",
                value.text, value.what
            ))
            .warning()
            .help("read notes.md and the captions before you publish"),
        );
    }
}

/// Refuses a private value in the name of a file or folder, which a copy cannot change.
fn in_a_name(name: &str, what: &str, list: &[Private], problems: &mut Problems) {
    let searched: Vec<&Private> = list.iter().filter(|value| value.is_searched()).collect();
    let spaced = name.replace(['_', '-'], " ");
    for text in [name, &spaced] {
        if let Some(found) = text::found(&text::Folded::of(text), &searched).first() {
            problems.push(
                Problem::folder(format!(
                    "{what} '{name}' has a private value in its name: {}",
                    searched[found.value].what
                ))
                .help("give it another name (and name it so where it is named), or publish without --public"),
            );
            return;
        }
    }
}

#[cfg(test)]
mod tests;
