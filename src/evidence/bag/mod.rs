//! Bags: a folder that says what it holds, so that it can be found whole in four years (RFC 8493, `BagIt` 1.0).

mod examine;
mod holder;
mod line;
mod pack;
mod tags;

pub use examine::{Along, Examined, Fault, examine, names, value_of};
pub use holder::{Folder, Held, Holder};
pub use line::stays as may_hold;
pub use pack::{Origin, PackError, Packed, Packing, Source, Zipped, order_in_zip};

/// The declaration.
const DECLARATION: &str = "bagit.txt";
/// What is told of the whole bag.
const INFO: &str = "bag-info.txt";
/// Where everything that is kept lies.
const PAYLOAD: &str = "data/";
/// Where the sessions lie in it.
pub const SESSIONS: &str = "data/sessions/";
/// What tells a manifest's name.
const MANIFEST: &str = "manifest-";
/// What tells the name of a manifest of tag files.
const TAG_MANIFEST: &str = "tagmanifest-";
