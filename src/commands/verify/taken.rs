//! A session taken out of what carried it, into a private folder that goes away again.

use std::cell::RefCell;
use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::rc::Rc;

use tempfile::TempDir;

use crate::evidence::bag::{Along, SESSIONS, may_hold, value_of};

/// A session taken out.
pub(super) struct Taken {
    room: TempDir,
    /// The session's folder.
    pub(super) root: PathBuf,
}

impl Taken {
    /// An empty place for a session of this name that names others so many folders up.
    pub(super) fn empty(name: &str, up: usize) -> io::Result<Self> {
        let room = room()?;
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

/// Goes along while a zip is looked through and takes what lies below [`SESSIONS`] out of one of ours: nothing is read twice.
pub(super) struct TakingOut<'a> {
    tell: &'a mut dyn FnMut(&str),
    room: Option<TempDir>,
    failed: Rc<RefCell<Option<io::Error>>>,
}

impl<'a> TakingOut<'a> {
    /// `tell` hears of each file before it is read.
    pub(super) fn new(tell: &'a mut dyn FnMut(&str)) -> Self {
        Self { tell, room: None, failed: Rc::default() }
    }

    /// The session that lies at `own` in the bag.
    pub(super) fn taken(self, own: &str) -> io::Result<Taken> {
        if let Some(error) = self.failed.take() {
            return Err(error);
        }
        let room = self.room.ok_or_else(|| io::Error::from(io::ErrorKind::NotFound))?;
        let root = room.path().join(own.strip_prefix(SESSIONS).unwrap_or(own));
        Ok(Taken { room, root })
    }

    fn place(&self, path: &str) -> io::Result<Option<fs::File>> {
        let below = path.strip_prefix(SESSIONS).filter(|path| may_hold(path));
        let (Some(room), Some(below)) = (&self.room, below) else { return Ok(None) };
        let target = room.path().join(below);
        if let Some(above) = target.parent() {
            fs::create_dir_all(above)?;
        }
        fs::File::create(target).map(Some)
    }

    fn note<T>(&self, result: io::Result<T>) -> Option<T> {
        result.map_err(|error| *self.failed.borrow_mut() = Some(error)).ok()
    }
}

impl Along for TakingOut<'_> {
    fn told(&mut self, info: &[(String, String)]) {
        if name_of_ours(info).is_some() {
            self.room = self.note(room());
        }
    }

    fn reads(&mut self, path: &str) -> io::Result<Box<dyn Write>> {
        (self.tell)(path);
        let file = self.note(self.place(path)).flatten();
        Ok(Box::new(Copy { file, failed: Rc::clone(&self.failed) }))
    }
}

/// A copy in the making. Where it fails that is no fault of the bag: it is noted, and the bag is looked at further.
struct Copy {
    file: Option<fs::File>,
    failed: Rc<RefCell<Option<io::Error>>>,
}

impl Write for Copy {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        if let Some(file) = &mut self.file
            && let Err(error) = file.write_all(bytes)
        {
            *self.failed.borrow_mut() = Some(error);
            self.file = None;
        }
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

fn room() -> io::Result<TempDir> {
    tempfile::Builder::new().prefix("asfound-verify-").tempdir()
}

/// The session's name in a bag that this program made.
pub(super) fn name_of_ours(info: &[(String, String)]) -> Option<String> {
    let made = value_of(info, "Bag-Software-Agent").is_some_and(|agent| agent.starts_with("asfound "));
    let name = value_of(info, "Internal-Sender-Identifier").filter(|name| made && is_name(name))?;
    Some(name.to_owned())
}

/// Whether a session may have this name: it becomes a folder's.
pub(super) fn is_name(name: &str) -> bool {
    !name.contains(['/', '\\', '\0']) && may_hold(name) && Path::new(name).components().count() == 1
}
