//! What a doubting reader can check: every file of a session with its SHA-256.
//!
//! ```
//! use std::path::Path;
//!
//! use asfound::evidence::{self, seal};
//! use asfound::session::{self, Problems};
//!
//! let mut problems = Problems::default();
//! let saw = session::read(Path::new("sessions/arbor-bearings"), &mut problems).expect("a session");
//!
//! // Every file with its digest, and the number that follows from them all: it changes when any file does.
//! let files = evidence::inventory(&saw, &mut problems);
//! let yaml = files.iter().find(|file| file.path == "session.yaml").expect("listed");
//! assert_eq!(yaml.sha256, evidence::sha256(&std::fs::read("sessions/arbor-bearings/session.yaml")?));
//! assert!(evidence::document_number(&files).starts_with("AF-"));
//!
//! // Whether what was sealed is still as it was.
//! let standings = seal::check(&saw, &files, &mut problems);
//! let first = standings.into_iter().find(|standing| standing.visit == "as-found").expect("a visit");
//! let seal::Found::Seal(sealed) = first.found else { panic!("it is not sealed") };
//! assert!(sealed.holds());
//! # Ok::<(), std::io::Error>(())
//! ```

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::Path;
use std::{fs, io};

use sha2::{Digest, Sha256};

use self::digest::sha256_of;
use crate::session::withheld::Masks;
use crate::session::{Problem, Problems, Session};

pub mod bag;
pub mod digest;
pub mod flushing;
pub mod layout;
pub mod licences;
pub mod list;
pub mod pdf;
pub mod position;
mod publication;
pub mod seal;
pub mod zip;

pub use list::{Listed, document_number, document_number_of_list};
pub use publication::{Positions, Publication, listed_as, made_json, without_positions};

/// Files above this are listed with their hash but do not travel inside the PDF.
pub const MOST_ATTACHED: u64 = 32 << 20;
/// All that travels inside one PDF.
const MOST_ATTACHED_TOGETHER: u64 = 96 << 20;
/// More files than this are no session.
const MOST_FILES: usize = 20_000;

/// A file of the session as it was when it was read.
#[derive(Clone, Debug)]
pub struct Item {
    /// The path in the session folder, `/`-separated.
    pub path: String,
    /// Its size in bytes.
    pub size: u64,
    /// SHA-256, 64 hexadecimal digits.
    pub sha256: String,
    /// The MIME type that its name stands for.
    pub mime: &'static str,
    /// Whether its bytes are not those that size and hash belong to: changed for publication.
    pub altered: bool,
    /// The bytes that travel; none where it is too large.
    pub bytes: Option<Vec<u8>>,
}

/// The SHA-256 of some bytes (FIPS 180-4), in hexadecimal.
pub fn sha256(bytes: &[u8]) -> String {
    hex(&Sha256::digest(bytes))
}

pub(crate) fn hex(bytes: &[u8]) -> String {
    let mut text = String::with_capacity(bytes.len() * 2);
    for byte in bytes {
        // Writing to a String cannot fail.
        let _ = write!(text, "{byte:02x}");
    }
    text
}

/// The narration, which is made from what was found and is no part of it: a word changed in it makes no
/// other report.
pub const NARRATION: &str = "script.md";

/// What is known of a session's files before they are read.
#[derive(Clone, Copy, Debug, Default)]
pub enum Known<'a> {
    /// Nothing: every file is read and digested.
    #[default]
    Nothing,
    /// The session's own list, where the folder that is read holds other bytes: a masked copy, or what a report carries.
    /// Number and list of files are then its.
    List(&'a [Listed]),
    /// The SHA-256 of these very files by path, taken a moment ago: those too large to travel are not read again.
    Digests(&'a BTreeMap<String, String>),
}

/// Every file of the session by path, then those of the sessions that it is compared with, by their paths from its folder
/// (`../old-saw/session.yaml`). Hidden files are no part of it, nor is the narration. A link that leaves the folder is an
/// error; a link inside it counts as the file it leads to.
pub fn inventory(session: &Session, problems: &mut Problems) -> Vec<Item> {
    inventory_knowing(session, Known::Nothing, problems)
}

/// The same where something is known already.
pub fn inventory_knowing(session: &Session, known: Known<'_>, problems: &mut Problems) -> Vec<Item> {
    let mut items = Vec::new();
    let mut room = MOST_ATTACHED_TOGETHER;
    files_in((session, ""), known, &mut room, &mut items, problems);
    for (named, other) in &session.others {
        if let Some(path) = layout::from_session(&session.name, named) {
            files_in((other, &format!("{path}/")), known, &mut room, &mut items, problems);
        }
    }
    items
}

fn files_in(
    (session, before): (&Session, &str),
    known: Known<'_>,
    room: &mut u64,
    items: &mut Vec<Item>,
    problems: &mut Problems,
) {
    let Ok(walls) = session.walls() else {
        problems.push(Problem::folder(format!("the folder {} went away", session.name)));
        return;
    };
    for (path, behind) in layout::files_of(&walls, MOST_FILES, problems) {
        if path == NARRATION {
            continue;
        }
        match item(format!("{before}{path}"), &behind, known, *room) {
            Ok(item) => {
                match &item.bytes {
                    Some(bytes) => *room = room.saturating_sub(bytes.len() as u64),
                    None => problems.push(too_large(&item)),
                }
                items.push(item);
            }
            Err(error) => problems.push(Problem::folder(format!("{path} cannot be read: {error}"))),
        }
    }
}

/// The list of a session's files as they stand, whatever masked copies it was read from.
pub fn list_of(session: &Session, problems: &mut Problems) -> Vec<Listed> {
    let mut as_it_stands = session.clone();
    as_it_stands.masks = Masks::default();
    for (_, other) in &mut as_it_stands.others {
        other.masks = Masks::default();
    }
    inventory(&as_it_stands, problems).iter().map(Listed::from).collect()
}

/// The document number of a session as it stands.
pub fn number_of(session: &Session, problems: &mut Problems) -> String {
    document_number_of_list(&list_of(session, problems))
}

fn too_large(item: &Item) -> Problem {
    let said = format!("{} is too large to travel inside the PDF; its SHA-256 is listed", item.path);
    Problem::folder(said).warning().help("keep it beside the report, so that the two can be held together")
}

fn item(path: String, behind: &Path, known: Known<'_>, room: u64) -> io::Result<Item> {
    let size = fs::metadata(behind)?.len();
    let bytes = if size <= MOST_ATTACHED.min(room) { Some(fs::read(behind)?) } else { None };
    let sha256 = match (&bytes, known) {
        (Some(bytes), _) => sha256(bytes),
        (None, Known::Digests(digests)) => {
            digests.get(&path).map_or_else(|| sha256_of(behind), |known| Ok(known.clone()))?
        }
        (None, _) => sha256_of(behind)?,
    };
    Ok(Item { size, sha256, mime: mime_of(&path), path, altered: false, bytes })
}

/// The MIME type by the name's ending (IANA media types; RFC 9512 for YAML, RFC 7763 for
/// Markdown).
pub fn mime_of(path: &str) -> &'static str {
    let ending = path.rsplit_once('.').map_or("", |(_, ending)| ending).to_ascii_lowercase();
    match ending.as_str() {
        "yaml" | "yml" => "application/yaml",
        "md" => "text/markdown",
        "csv" => "text/csv",
        "txt" => "text/plain",
        "json" => "application/json",
        "wav" => "audio/wav",
        "jpg" | "jpeg" => "image/jpeg",
        "png" => "image/png",
        "pdf" => "application/pdf",
        _ => "application/octet-stream",
    }
}

#[cfg(test)]
mod tests {
    use super::sha256;

    #[test]
    fn sha256_gives_the_published_digests() {
        // FIPS 180-4 examples, as in CPython 3.11.7, Lib/test/test_hashlib.py.
        for (text, digest) in [
            ("", "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"),
            ("abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"),
            (
                "abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
                "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1",
            ),
        ] {
            assert_eq!(sha256(text.as_bytes()), digest);
        }
    }
}
