//! What Typst may see: the bundle, the session's date, and nothing else.

use std::collections::HashMap;

use typst::diag::{FileError, FileResult};
use typst::foundations::{Bytes, Datetime, Duration};
use typst::syntax::{FileId, RootedPath, Source, VirtualPath, VirtualRoot};
use typst::text::{Font, FontBook};
use typst::utils::LazyHash;
use typst::{Library, World};
use typst_as_lib::TypstWorld;

use super::revise::revise;
use super::{Bundle, TypesetError, drawing};

/// The path of the main source.
pub(super) const MAIN: &str = "main.typ";

/// The id of a path inside the bundle.
pub(super) fn file_id(path: &str) -> Result<FileId, TypesetError> {
    let virtual_path = VirtualPath::new(path).map_err(|_| TypesetError::Path(path.to_owned()))?;
    Ok(RootedPath::new(VirtualRoot::Project, virtual_path).intern())
}

/// The bundle's files, found by id. Only looked into, never walked, so a hash map's order is never seen.
#[derive(Default)]
pub(super) struct Files {
    sources: HashMap<FileId, Source>,
    assets: HashMap<FileId, Bytes>,
}

impl Files {
    /// Takes over a bundle. What is in it as before stays the very same thing, with what Typst knows of it.
    pub(super) fn hold(&mut self, bundle: &Bundle) -> Result<(), TypesetError> {
        let mut assets = HashMap::with_capacity(bundle.assets.len());
        let mut foreign = None;
        for (path, bytes) in &bundle.assets {
            let id = file_id(path)?;
            let same = self.assets.get(&id).filter(|kept| kept.as_slice() == bytes.as_slice());
            if same.is_none() && foreign.is_none() {
                foreign = drawing::check(path, bytes).err();
            }
            assets.insert(id, same.unwrap_or(bytes).clone());
        }
        if let Some(foreign) = foreign {
            return Err(foreign);
        }
        let main = (file_id(MAIN)?, bundle.main.text.as_str());
        let mut sources = HashMap::with_capacity(bundle.sources.len() + 1);
        for (path, text) in &bundle.sources {
            self.hold_source(&mut sources, (file_id(path)?, text));
        }
        self.hold_source(&mut sources, main);
        *self = Self { sources, assets };
        Ok(())
    }

    fn hold_source(&mut self, sources: &mut HashMap<FileId, Source>, (id, text): (FileId, &str)) {
        let source = match self.sources.remove(&id) {
            Some(mut kept) => {
                if kept.text() != text {
                    revise(&mut kept, text);
                }
                kept
            }
            None => Source::new(id, text.to_owned()),
        };
        sources.insert(id, source);
    }

    fn source(&self, id: FileId) -> FileResult<Source> {
        self.sources.get(&id).cloned().ok_or_else(|| not_found(id))
    }

    fn file(&self, id: FileId) -> FileResult<Bytes> {
        if let Some(bytes) = self.assets.get(&id) {
            return Ok(bytes.clone());
        }
        let source = self.sources.get(&id).ok_or_else(|| not_found(id))?;
        Ok(Bytes::from_string(source.text().to_owned()))
    }
}

fn not_found(id: FileId) -> FileError {
    FileError::NotFound(id.get().vpath().get_without_slash().into())
}

/// The library's world, but with the bundle's files, and the session's date: its own reads the clock.
pub(super) struct DatedWorld<'a> {
    pub(super) inner: TypstWorld<'a>,
    pub(super) files: &'a Files,
    pub(super) date: Datetime,
}

impl World for DatedWorld<'_> {
    fn library(&self) -> &LazyHash<Library> {
        self.inner.library()
    }

    fn book(&self) -> &LazyHash<FontBook> {
        self.inner.book()
    }

    fn main(&self) -> FileId {
        self.inner.main()
    }

    fn source(&self, id: FileId) -> FileResult<Source> {
        self.files.source(id)
    }

    fn file(&self, id: FileId) -> FileResult<Bytes> {
        self.files.file(id)
    }

    fn font(&self, index: usize) -> Option<Font> {
        self.inner.font(index)
    }

    fn today(&self, _offset: Option<Duration>) -> Option<Datetime> {
        Datetime::from_ymd(self.date.year()?, self.date.month()?, self.date.day()?)
    }
}
