//! Templates of one's own: folders whose files replace the program's by name.
//!
//! Nothing outside the folders is ever read, links followed. What is no template in them (a logo, a
//! table) stands ready for their templates under its path in the folder.

use std::path::{Component, Path, PathBuf};

use minijinja::{Error, ErrorKind};

use super::ComposeError;
use super::environment::names;

/// A template of one's own larger than this is refused.
const LARGEST: u64 = 1 << 20;
/// A picture larger than this is left out.
const LARGEST_ASSET: u64 = 16 << 20;
/// More files than this are not looked at: a templates folder is no archive.
const MOST: usize = 500;

/// Folders of templates, the first before the second.
#[derive(Clone, Debug, Default)]
pub(super) struct Own {
    folders: Vec<PathBuf>,
}

/// What the folders hold beside replacements.
#[derive(Debug, Default)]
pub(super) struct Beside {
    /// Further Typst sources, for `#import`.
    pub sources: Vec<(String, String)>,
    /// Pictures and data.
    pub assets: Vec<(String, Vec<u8>)>,
}

impl Own {
    /// Of folders that must be there.
    pub(super) fn of(folders: &[&Path]) -> Result<Self, ComposeError> {
        let real = |folder: &&Path| {
            folder
                .canonicalize()
                .and_then(|real| std::fs::read_dir(&real).map(|_| real))
                .map_err(|cause| ComposeError::Folder { folder: folder.display().to_string(), cause })
        };
        Ok(Self { folders: folders.iter().map(real).collect::<Result<_, _>>()? })
    }

    /// The text of a template of this name, if a folder has one.
    pub(super) fn source(&self, name: &str) -> Result<Option<String>, Error> {
        for folder in &self.folders {
            if let Some(text) = source_in(folder, name)? {
                return Ok(Some(text));
            }
        }
        Ok(None)
    }

    /// Files that replace no template.
    pub(super) fn beside(&self) -> Beside {
        let mut beside = Beside::default();
        for folder in self.folders.iter().rev() {
            for (name, path) in files(folder).into_iter().filter(|(name, _)| !is_embedded(name)) {
                let size = std::fs::metadata(&path).map_or(u64::MAX, |meta| meta.len());
                if has_extension(&name, "typ") {
                    if let Some(text) = std::fs::read_to_string(&path).ok().filter(|_| size <= LARGEST) {
                        beside.sources.push((name, text));
                    }
                } else if let Some(bytes) = std::fs::read(&path).ok().filter(|_| size <= LARGEST_ASSET) {
                    beside.assets.push((name, bytes));
                }
            }
        }
        beside
    }

    /// Every file of those folders that lie outside of `root`, with its SHA-256: what a document made with them
    /// depends on beside the session.
    pub(super) fn outside(&self, root: &Path) -> Vec<(String, String)> {
        let outside = self.folders.iter().filter(|folder| !folder.starts_with(root));
        let known = outside.flat_map(|folder| files(folder)).filter_map(|(name, path)| {
            let size = std::fs::metadata(&path).ok()?.len();
            let bytes = (size <= LARGEST_ASSET).then(|| std::fs::read(&path).ok()).flatten()?;
            Some((name, crate::evidence::sha256(&bytes)))
        });
        known.collect()
    }

    /// Templates that replace nothing, though they are called nearly like one that could be replaced.
    pub(super) fn misnamed(&self) -> Vec<String> {
        let known: Vec<&str> = names().collect();
        let mut said = Vec::new();
        for folder in &self.folders {
            for (name, _) in files(folder) {
                let is_template =
                    ["typ", "html", "css", "js"].iter().any(|ending| has_extension(&name, ending));
                if !is_template || is_embedded(&name) {
                    continue;
                }
                if let Some(meant) = crate::session::nearest(&name, known.iter().copied()) {
                    said.push(format!("{name} replaces no template; did you mean {meant}?"));
                }
            }
        }
        said
    }
}

fn is_embedded(name: &str) -> bool {
    names().any(|known| known == name)
}

fn has_extension(name: &str, extension: &str) -> bool {
    Path::new(name).extension().is_some_and(|found| found.eq_ignore_ascii_case(extension))
}

/// The plain files of a folder by their paths in it, links left out, in the order of their names.
fn files(folder: &Path) -> Vec<(String, PathBuf)> {
    walkdir::WalkDir::new(folder)
        .sort_by_file_name()
        .into_iter()
        .take(MOST)
        .filter_map(Result::ok)
        .filter(|entry| entry.file_type().is_file())
        .filter_map(|entry| {
            let within = entry.path().strip_prefix(folder).ok()?;
            let parts: Option<Vec<&str>> =
                within.components().map(|part| part.as_os_str().to_str()).collect();
            Some((parts?.join("/"), entry.path().to_owned()))
        })
        .collect()
}

/// A template, if there is one of this name within the folder's walls.
fn source_in(folder: &Path, name: &str) -> Result<Option<String>, Error> {
    let refused = |why: &str| Error::new(ErrorKind::InvalidOperation, format!("template \"{name}\" {why}"));
    let plain = Path::new(name).components().all(|part| matches!(part, Component::Normal(_)));
    if !plain || name.contains('\\') {
        return Err(refused("is not a plain name inside the templates folder"));
    }
    let Ok(path) = folder.join(name).canonicalize() else {
        return Ok(None);
    };
    if !path.starts_with(folder) {
        return Err(refused("leads out of the templates folder"));
    }
    let size = std::fs::metadata(&path).map_err(|cause| refused("cannot be read").with_source(cause))?.len();
    if size > LARGEST {
        return Err(refused("is larger than a template may be (1 MiB)"));
    }
    std::fs::read_to_string(&path).map(Some).map_err(|cause| refused("cannot be read").with_source(cause))
}
