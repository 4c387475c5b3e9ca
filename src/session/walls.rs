//! The session's walls: no path leaves the folder, links followed.

use std::fs;
use std::io;
use std::path::{Component, Path, PathBuf};

use super::withheld::Masks;

/// Why a path may not be read.
#[derive(Debug, thiserror::Error)]
pub enum WallBreach {
    /// It is absolute, or climbs out with `..`.
    #[error("the path leaves the session folder")]
    Leaves,
    /// A link on the way points out of the folder.
    #[error("the path leaves the session folder through a link")]
    LinkLeaves,
    /// Nothing is there.
    #[error("there is no such file")]
    Missing,
    /// It is a folder or a device.
    #[error("this is not a file")]
    NotAFile,
    /// It holds characters that no path of a session may hold.
    #[error("the path holds a backslash or a control character")]
    Characters,
    /// The system would not give it.
    #[error("the file cannot be read: {0}")]
    Unreadable(io::Error),
}

/// The resolved folder that nothing leaves.
#[derive(Clone, Debug)]
pub struct Walls {
    root: PathBuf,
    masks: Masks,
}

impl Walls {
    /// Walls round a folder that exists.
    pub fn around(folder: &Path) -> io::Result<Self> {
        Ok(Self { root: fs::canonicalize(folder)?, masks: Masks::default() })
    }

    /// The same, with masked copies in the place of some files.
    #[must_use]
    pub fn masked(self, masks: &Masks) -> Self {
        Self { masks: masks.clone(), ..self }
    }

    /// The resolved folder.
    pub fn root(&self) -> &Path {
        &self.root
    }

    /// A `/`-separated path, relative to `folder` inside the session, as the path relative to the
    /// session: with `.` and `..` resolved, and still inside.
    pub fn relative(&self, folder: &str, path: &str) -> Result<String, WallBreach> {
        if path.contains(|c: char| c == '\\' || c.is_control()) {
            return Err(WallBreach::Characters);
        }
        let drive = path.as_bytes().get(1) == Some(&b':');
        if path.starts_with('/') || path.starts_with('~') || drive {
            return Err(WallBreach::Leaves);
        }
        let mut parts: Vec<&str> = Vec::new();
        for part in folder.split('/').chain(path.split('/')) {
            match part {
                "" | "." => {}
                ".." => {
                    parts.pop().ok_or(WallBreach::Leaves)?;
                }
                name => parts.push(name),
            }
        }
        Ok(parts.join("/"))
    }

    /// The file behind a path relative to the session, links followed.
    pub fn resolve(&self, relative: &str) -> Result<PathBuf, WallBreach> {
        let joined = self.root.join(relative);
        let plain = Path::new(relative).components().all(|part| matches!(part, Component::Normal(_)));
        if !plain {
            return Err(WallBreach::Leaves);
        }
        let resolved = fs::canonicalize(&joined).map_err(|error| match error.kind() {
            io::ErrorKind::NotFound | io::ErrorKind::NotADirectory => WallBreach::Missing,
            _ => WallBreach::Unreadable(error),
        })?;
        if !resolved.starts_with(&self.root) {
            return Err(WallBreach::LinkLeaves);
        }
        if !resolved.is_file() {
            return Err(WallBreach::NotAFile);
        }
        Ok(self.masks.copy_of(&resolved).map_or(resolved, Path::to_owned))
    }

    /// The bytes of a file of the session, up to `most` of them.
    pub fn bytes(&self, relative: &str, most: u64) -> Result<Vec<u8>, WallBreach> {
        let path = self.resolve(relative)?;
        let size = fs::metadata(&path).map_err(WallBreach::Unreadable)?.len();
        if size > most {
            return Err(WallBreach::Unreadable(io::Error::other(format!(
                "it has {size} bytes, more than the {most} that are read of such a file"
            ))));
        }
        fs::read(&path).map_err(WallBreach::Unreadable)
    }
}
