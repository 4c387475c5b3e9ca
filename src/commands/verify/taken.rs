//! A session taken out of what carried it, into a private folder that goes away again.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use tempfile::TempDir;

use crate::evidence::bag::{Holder, may_hold};

/// A session taken out.
pub(super) struct Taken {
    room: TempDir,
    /// The session's folder.
    pub(super) root: PathBuf,
}

impl Taken {
    /// An empty place for a session of this name that names others so many folders up.
    pub(super) fn empty(name: &str, up: usize) -> io::Result<Self> {
        let room = tempfile::Builder::new().prefix("asfound-verify-").tempdir()?;
        let mut root = room.path().to_owned();
        for _ in 0..up {
            root.push("_");
        }
        root.push(name);
        fs::create_dir_all(&root)?;
        Ok(Self { room, root })
    }

    /// Puts a file to the session, by its path from there. A path that leaves the place is refused.
    pub(super) fn put(&self, path: &str, bytes: &[u8]) -> io::Result<()> {
        let mut target = self.root.clone();
        for part in path.split('/') {
            if part == ".." {
                target.pop();
            } else {
                target.push(part);
            }
        }
        let plain = path.split('/').all(|part| part == ".." || may_hold(part));
        if !plain || !target.starts_with(self.room.path()) || target == self.room.path() {
            return Err(io::Error::other("the path leaves the place that it was given"));
        }
        if let Some(above) = target.parent() {
            fs::create_dir_all(above)?;
        }
        fs::write(target, bytes)
    }
}

/// Takes everything below `from` (with a `/` at the end) out of a bag. `own` is the session's folder there.
pub(super) fn out_of(holder: &dyn Holder, from: &str, own: &str) -> io::Result<Taken> {
    let room = tempfile::Builder::new().prefix("asfound-verify-").tempdir()?;
    for (index, held) in holder.files().iter().enumerate() {
        let Some(path) = held.path.strip_prefix(from).filter(|path| may_hold(path)) else { continue };
        let target = room.path().join(path);
        if let Some(above) = target.parent() {
            fs::create_dir_all(above)?;
        }
        let mut file = fs::File::create(target)?;
        io::copy(&mut holder.open(index)?, &mut file)?;
    }
    let root = room.path().join(own.strip_prefix(from).unwrap_or(own));
    Ok(Taken { room, root })
}

/// Whether a session may have this name: it becomes a folder's.
pub(super) fn is_name(name: &str) -> bool {
    !name.contains(['/', '\\', '\0']) && may_hold(name) && Path::new(name).components().count() == 1
}
