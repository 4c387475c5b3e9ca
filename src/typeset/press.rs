//! The press: what is set up once and serves one document after another.
//!
//! Typst keeps in memory what it has set and finds it again where nothing that it came from has changed.
//! For that the fonts, the library, the sources and the assets have to stay the same things from one
//! document to the next, as far as their content does.

use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

use jiff::civil::Date;
use typst::diag::SourceResult;
use typst_as_lib::TypstEngine;
use typst_layout::PagedDocument;

use super::world::{DatedWorld, Files, MAIN, file_id};
use super::{Bundle, Meta, Pdf, Trouble, TypesetError, datetime, fonts, options, trouble};

/// Documents for which something that was set is kept although none of them needed it.
const GENERATIONS: usize = 10;
/// The same where documents share little but fonts and templates: once in so many, all presses together, what was not
/// needed since the last time goes. Looking through everything after each would be a twentieth of its time, and
/// halts the other presses.
const TURNS: usize = 8;

/// Sets documents that are much alike, each faster than from scratch.
#[derive(Default)]
pub struct Press {
    engine: Option<(fonts::Set, TypstEngine)>,
    files: Files,
}

impl std::fmt::Debug for Press {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let set = self.engine.as_ref().map(|(set, _)| set);
        f.debug_struct("Press").field("fonts", &set).finish_non_exhaustive()
    }
}

impl Press {
    /// Compiles a bundle and exports it: the same bytes as [`super::pdf`].
    pub fn print(&mut self, bundle: &Bundle, meta: &Meta) -> Result<Pdf, TypesetError> {
        let date = datetime(meta.date)?;
        let export = |document: PagedDocument| {
            let options = options(meta, date);
            typst_pdf::pdf(&document, &options).map(|bytes| (bytes, document.pages().len()))
        };
        let ((bytes, pages), warnings) = self.set(bundle, meta.date, export)?;
        Ok(Pdf { bytes, pages, warnings })
    }

    /// Compiles a bundle on a day and hands the document on; what Typst warned of stands beside what comes of it.
    pub(super) fn set<T>(
        &mut self,
        bundle: &Bundle,
        day: Date,
        export: impl FnOnce(PagedDocument) -> SourceResult<T>,
    ) -> Result<(T, Vec<Trouble>), TypesetError> {
        self.files.hold(bundle)?;
        let engine = Self::engine_for(&mut self.engine, fonts::Set::showing(bundle.texts()))?;
        let main = file_id(MAIN)?;
        let inner =
            engine.world_builder(main).build().map_err(|error| TypesetError::Engine(error.to_string()))?;
        let world = DatedWorld { inner, files: &self.files, date: datetime(day)? };

        let typst::diag::Warned { output, warnings } = typst::compile::<PagedDocument>(&world);
        let exported = output.and_then(export);

        let warnings = trouble::explain(&warnings, &world, &bundle.main.origins);
        match exported {
            Ok(made) => Ok((made, warnings)),
            Err(errors) => Err(TypesetError::Source(trouble::explain(&errors, &world, &bundle.main.origins))),
        }
    }

    /// Forgets what the last documents had no use for. It takes its time, so it is for when nobody waits.
    pub fn tidy(&self) {
        typst::comemo::evict(GENERATIONS);
    }

    /// The same between documents that share little but fonts and templates.
    pub fn turn(&self) {
        if TURNED.fetch_add(1, Ordering::Relaxed) % TURNS == TURNS - 1 {
            typst::comemo::evict(1);
        }
    }

    fn engine_for(
        kept: &mut Option<(fonts::Set, TypstEngine)>,
        wanted: fonts::Set,
    ) -> Result<&TypstEngine, TypesetError> {
        let fit = kept.take().filter(|(set, _)| *set == wanted);
        let fit = match fit {
            Some(fit) => fit,
            None => (wanted, TypstEngine::builder().fonts(wanted.fonts()?).build()),
        };
        Ok(&kept.insert(fit).1)
    }
}

/// How many documents have been turned from.
static TURNED: AtomicUsize = AtomicUsize::new(0);

/// Whether this process has set a document before.
static USED: AtomicBool = AtomicBool::new(false);

/// Forgets what earlier documents left in memory, for one that is unlike them. The last document of a
/// run leaves its own: forgetting takes time that the end of the process does not.
pub(super) fn clear() {
    if USED.swap(true, Ordering::Relaxed) {
        typst::comemo::evict(0);
    }
}
