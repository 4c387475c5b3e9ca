//! A report's PDF read back: the files attached to it, and what its pages say. The file may be anybody's: it is read in a
//! thread of its own, with a limit on time, on what it unpacks to, and on its size.

mod attached;
mod scan;
mod words;

use std::sync::Arc;
use std::sync::mpsc::{RecvTimeoutError, channel};
use std::time::Duration;

use hayro_syntax::Pdf;

/// A larger file is no report.
pub const MOST: u64 = 512 << 20;
/// A report's own reading takes a second.
const PATIENCE: Duration = Duration::from_mins(1);
/// Deep nesting is met by the parser's own limits; this is room for them.
const STACK: usize = 256 << 20;

/// A file that is attached to a PDF.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Attached {
    /// Its name in the PDF.
    pub name: String,
    /// Its bytes.
    pub bytes: Vec<u8>,
}

/// A page of a PDF.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Page {
    /// What draws it, unpacked: two pages that look different have different ones.
    pub drawn: String,
    /// Its words, in the order in which they are drawn.
    pub words: Vec<String>,
}

/// A PDF as far as it is of interest.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Read {
    /// What its metadata name as the program that made it.
    pub creator: Option<String>,
    /// What is attached, by name.
    pub attached: Vec<Attached>,
    /// Its pages.
    pub pages: Vec<Page>,
}

/// Why a PDF cannot be looked at.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum PdfReadError {
    /// It is none, or broken.
    #[error("this is no PDF that can be read")]
    Broken,
    /// It would grow without end.
    #[error("what is packed in it unpacks to more than {most} bytes: refused")]
    Bomb {
        /// What is allowed.
        most: u64,
    },
    /// It is packed in a way that no report is.
    #[error("it is packed in a way that asfound does not write ({0}): refused")]
    Packing(String),
    /// It takes too long.
    #[error("it could not be read in {0} seconds: refused")]
    Endless(u64),
    /// Two files have one name.
    #[error("two attached files are called '{0}'")]
    Twice(String),
    /// An attached file is broken.
    #[error("the attached file '{0}' is broken")]
    Attached(String),
}

/// What is wanted of a PDF.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Wanted {
    /// The attached files.
    Attached,
    /// The pages too.
    Pages,
}

/// Reads a PDF.
///
/// # Errors
/// Where it is broken, or made to do harm.
pub fn read(bytes: Arc<Vec<u8>>, wanted: Wanted) -> Result<Read, PdfReadError> {
    let (done, wait) = channel();
    let work = move || {
        // Nobody may be waiting any more.
        let _ = done.send(read_here(bytes, wanted));
    };
    let thread = std::thread::Builder::new().name("pdf".to_owned()).stack_size(STACK).spawn(work);
    if thread.is_err() {
        return Err(PdfReadError::Broken);
    }
    match wait.recv_timeout(PATIENCE) {
        Ok(read) => read,
        Err(RecvTimeoutError::Timeout) => Err(PdfReadError::Endless(PATIENCE.as_secs())),
        // The parser gave up in a way of its own.
        Err(RecvTimeoutError::Disconnected) => Err(PdfReadError::Broken),
    }
}

fn read_here(bytes: Arc<Vec<u8>>, wanted: Wanted) -> Result<Read, PdfReadError> {
    scan::harmless(&bytes)?;
    let pdf = Pdf::new(bytes).map_err(|_| PdfReadError::Broken)?;
    let creator = pdf.metadata().creator.as_deref().map(attached::text);
    let attached = attached::attached(&pdf)?;
    let pages = if wanted == Wanted::Pages { words::pages(&pdf) } else { Vec::new() };
    Ok(Read { creator, attached, pages })
}
