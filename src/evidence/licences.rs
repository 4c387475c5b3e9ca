//! The licences of everything that this program is made of.

/// A line a package: name, version, licence expression (SPDX). `tests/licences.py` writes and checks it.
pub const LIST: &str = include_str!("licences.txt");
