//! Zip files (PKWARE, APPNOTE.TXT 6.3.10): ours written always the same, anybody's read with care.

mod fill;
mod read;
mod write;

pub use fill::Filling;
pub use read::{Zip, ZipReadError};
pub use write::{Entry, ZipError, packed_as_written, same_as_written, write};
