//! The licences of this program and of everything that it is made of.

use crate::packed;

/// This program's own.
pub const OWN: &str = include_str!("../../LICENSE");

/// A line a package: name, version, licence expression (SPDX). `tests/licences.py` writes and checks it.
pub const LIST: &str = include_str!("licences.txt");

/// The licence texts and notices that come with the packages and the fonts, each once: what their licences ask to be
/// passed on with a copy of the program. `tests/licences.py` writes and checks them.
pub fn texts() -> String {
    const PACKED: &[u8] = include_bytes!("licence-texts.zz");
    // What was packed when the program was made unpacks, which a test shows.
    String::from_utf8(packed::whole(PACKED)).unwrap_or_default()
}
