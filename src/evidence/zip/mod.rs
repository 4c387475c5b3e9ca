//! Zip files (PKWARE, APPNOTE.TXT 6.3.10): ours written always the same, anybody's read with care.

mod read;
mod write;

pub use read::{Zip, ZipReadError};
pub use write::{Entry, ZipError, same_as_written, write};
