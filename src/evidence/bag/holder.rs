//! What a bag lies in: a folder, or a zip.

use std::fs;
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use walkdir::WalkDir;

use super::Fault;

/// More files than this are refused: a list of them is kept in memory.
const MOST_FILES: usize = 200_000;

/// A file that a bag holds.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Held {
    /// Its `/`-separated path below the bag.
    pub path: String,
    /// Its size in bytes.
    pub size: u64,
}

/// What a bag lies in.
pub trait Holder {
    /// Its files, by path.
    fn files(&self) -> &[Held];

    /// What is wrong with it before any file is read.
    fn faults(&self) -> &[Fault];

    /// Opens one of the files by its place in the list.
    ///
    /// # Errors
    /// Where it cannot be read.
    fn open(&self, index: usize) -> io::Result<Box<dyn Read + '_>>;

    /// A file's place in the list.
    fn place_of(&self, path: &str) -> Option<usize> {
        self.files().binary_search_by(|held| held.path.as_str().cmp(path)).ok()
    }

    /// The bytes of a file by its place.
    ///
    /// # Errors
    /// Where it cannot be read, or has more than `most` bytes.
    fn bytes(&self, index: usize, most: u64) -> io::Result<Vec<u8>> {
        let mut bytes = Vec::new();
        self.open(index)?.take(most + 1).read_to_end(&mut bytes)?;
        if bytes.len() as u64 > most {
            return Err(io::Error::other("it is far too large for what it is"));
        }
        Ok(bytes)
    }
}

/// A bag that is a folder. No link in it is followed.
pub struct Folder {
    root: PathBuf,
    files: Vec<Held>,
    faults: Vec<Fault>,
}

impl Folder {
    /// Looks through a folder.
    pub fn look(root: &Path) -> Self {
        let (mut files, mut faults) = (Vec::new(), Vec::new());
        for entry in WalkDir::new(root).sort_by_file_name() {
            let entry = match entry {
                Ok(entry) => entry,
                Err(error) => {
                    faults.push(Fault::new("", format!("something in the bag cannot be read: {error}")));
                    continue;
                }
            };
            if entry.file_type().is_dir() {
                continue;
            }
            let below = entry.path().strip_prefix(root).unwrap_or(entry.path());
            let parts: Vec<_> = below.components().map(|part| part.as_os_str().to_str()).collect();
            let shown = below.to_string_lossy().into_owned();
            let Some(parts) = parts.into_iter().collect::<Option<Vec<&str>>>() else {
                faults.push(Fault::new(shown, "the name is not UTF-8"));
                continue;
            };
            if !entry.file_type().is_file() {
                faults.push(Fault::new(shown, "this is a link or a device, and was not followed"));
                continue;
            }
            let size = entry.metadata().map_or(0, |data| data.len());
            files.push(Held { path: parts.join("/"), size });
            if files.len() > MOST_FILES {
                faults.push(Fault::new("", format!("there are more than {MOST_FILES} files")));
                break;
            }
        }
        files.sort_by(|a, b| a.path.cmp(&b.path));
        Self { root: root.to_owned(), files, faults }
    }
}

impl Holder for Folder {
    fn files(&self) -> &[Held] {
        &self.files
    }

    fn faults(&self) -> &[Fault] {
        &self.faults
    }

    fn open(&self, index: usize) -> io::Result<Box<dyn Read + '_>> {
        let held = self.files.get(index).ok_or_else(|| io::Error::from(io::ErrorKind::NotFound))?;
        Ok(Box::new(fs::File::open(self.root.join(&held.path))?))
    }
}
