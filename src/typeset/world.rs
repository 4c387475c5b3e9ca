//! What Typst may see: the bundle, the session's date, and nothing else.

use std::borrow::Cow;
use std::collections::HashMap;

use typst::diag::{FileError, FileResult};
use typst::foundations::{Bytes, Datetime, Duration};
use typst::syntax::{FileId, RootedPath, Source, VirtualPath, VirtualRoot};
use typst::text::{Font, FontBook};
use typst::utils::LazyHash;
use typst::{Library, World};
use typst_as_lib::TypstWorld;
use typst_as_lib::file_resolver::FileResolver;

use super::{Bundle, TypesetError};

/// The path of the main source.
pub(super) const MAIN: &str = "main.typ";

/// The id of a path inside the bundle.
pub(super) fn file_id(path: &str) -> Result<FileId, TypesetError> {
    let virtual_path = VirtualPath::new(path).map_err(|_| TypesetError::Path(path.to_owned()))?;
    Ok(RootedPath::new(VirtualRoot::Project, virtual_path).intern())
}

/// The bundle's files, found by id. Only looked into, never walked, so a hash map's order is never seen.
pub(super) struct Walls {
    sources: HashMap<FileId, Source>,
    assets: HashMap<FileId, Bytes>,
}

impl Walls {
    pub(super) fn new(bundle: &Bundle) -> Result<Self, TypesetError> {
        let mut sources = HashMap::new();
        for (path, text) in &bundle.sources {
            let id = file_id(path)?;
            sources.insert(id, Source::new(id, text.clone().into_owned()));
        }
        let main = file_id(MAIN)?;
        sources.insert(main, Source::new(main, bundle.main.text.clone()));
        let mut assets = HashMap::new();
        for (path, bytes) in &bundle.assets {
            assets.insert(file_id(path)?, bytes.clone());
        }
        Ok(Self { sources, assets })
    }
}

impl FileResolver for Walls {
    fn resolve_binary(&self, id: FileId) -> FileResult<Cow<'_, Bytes>> {
        if let Some(bytes) = self.assets.get(&id) {
            return Ok(Cow::Borrowed(bytes));
        }
        let source = self.sources.get(&id).ok_or_else(|| not_found(id))?;
        Ok(Cow::Owned(Bytes::from_string(source.text().to_owned())))
    }

    fn resolve_source(&self, id: FileId) -> FileResult<Cow<'_, Source>> {
        self.sources.get(&id).map(Cow::Borrowed).ok_or_else(|| not_found(id))
    }
}

fn not_found(id: FileId) -> FileError {
    FileError::NotFound(id.get().vpath().get_without_slash().into())
}

/// The library's world, but with the session's date: its own reads the clock.
pub(super) struct DatedWorld<'a> {
    pub(super) inner: TypstWorld<'a>,
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
        self.inner.source(id)
    }

    fn file(&self, id: FileId) -> FileResult<Bytes> {
        self.inner.file(id)
    }

    fn font(&self, index: usize) -> Option<Font> {
        self.inner.font(index)
    }

    fn today(&self, _offset: Option<Duration>) -> Option<Datetime> {
        Datetime::from_ymd(self.date.year()?, self.date.month()?, self.date.day()?)
    }
}
