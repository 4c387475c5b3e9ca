//! Seals: what a visit held when it was done, in one file that other programs can check.
//!
//! `visits/VISIT/seal.txt` is a list as `sha256sum -c` reads it, with the moment and the hash of the seal
//! before it, so that seals make a chain. Beside it may lie a signature (`seal.txt.sig`, the format of
//! OpenSSH's PROTOCOL.sshsig) and a time stamp (`seal.txt.tsr`, RFC 3161). An edit after sealing is shown and
//! never refused: a seal is no finding and judges nobody.

mod check;
pub mod files;
mod moment;
mod parse;
pub mod signature;
pub mod stamp;
pub mod text;
pub mod words;
pub mod write;

pub use check::{Change, Checked, Found, Link, Standing, What, check};
pub use moment::Moment;
pub use parse::parse;

/// The seal's file in its visit's folder.
pub const NAME: &str = "seal.txt";
/// What stands behind it in the name of its signature.
pub const SIGNATURE: &str = ".sig";
/// What stands behind it in the name of its time stamp.
pub const STAMP: &str = ".tsr";
/// A larger file is no seal.
pub const MOST_BYTES: u64 = 4 << 20;

/// A seal as it is written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Seal {
    /// The visit's id.
    pub visit: String,
    /// When it was sealed.
    pub sealed: Moment,
    /// The seal before it; none where it is the first.
    pub before: Option<Before>,
    /// The files, by path.
    pub files: Vec<SealedFile>,
}

/// The seal that another one follows.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Before {
    /// SHA-256 of the seal's file, 64 hexadecimal digits.
    pub sha256: String,
    /// Its path in the session folder.
    pub path: String,
}

/// A file as it was sealed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SealedFile {
    /// The path as the seal writes it, from the visit's folder.
    pub shown: String,
    /// The path in the session folder.
    pub path: String,
    /// SHA-256, 64 hexadecimal digits.
    pub sha256: String,
}

/// A path in the session folder as a seal of the visit writes it: from the visit's folder.
pub fn from_visit(visit: &str, path: &str) -> String {
    match path.strip_prefix("visits/").and_then(|rest| rest.strip_prefix(visit)?.strip_prefix('/')) {
        Some(inside) => inside.to_owned(),
        None => format!("../../{path}"),
    }
}

/// What may lie beside a seal: signature, time stamp, and the query that the stamp answered.
const BESIDE: [&str; 4] = ["", SIGNATURE, STAMP, ".tsq"];

/// Whether a name in a visit's folder is that of a seal, of one that was kept when a new one was made, or of
/// what lies beside one. No seal names it.
pub fn is_seal(name: &str) -> bool {
    name.split_once(".txt")
        .is_some_and(|(stem, rest)| (stem == "seal" || kept_number(stem).is_some()) && BESIDE.contains(&rest))
}

/// The name of a seal that was kept when a new one was made.
pub fn kept_name(number: u32) -> String {
    format!("seal-{number}.txt")
}

/// The number in `seal-3`.
fn kept_number(stem: &str) -> Option<u32> {
    let digits = stem.strip_prefix("seal-")?;
    let number: u32 = digits.parse().ok()?;
    (number > 0 && number.to_string() == digits).then_some(number)
}

/// The visit and the number of a seal's path in the session folder: no number for the one that stands.
fn seal_path(path: &str) -> Option<(&str, Option<u32>)> {
    let (visit, name) = path.strip_prefix("visits/")?.split_once('/')?;
    if !crate::session::is_id(visit) {
        return None;
    }
    let stem = name.strip_suffix(".txt")?;
    if stem == "seal" { Some((visit, None)) } else { Some((visit, Some(kept_number(stem)?))) }
}
