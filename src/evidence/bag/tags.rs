//! The files that tell of a bag: what they say, and how they are written.

use std::fmt::Write as _;

use super::line::{Version, encoded, short};
use super::{DECLARATION, Fault, INFO};
use crate::evidence::digest::Algorithm;

/// How a bag's tag files are written down.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Encoding {
    Utf8,
    /// ISO/IEC 8859-1: a byte is a letter.
    Latin1,
    /// RFC 2781, with its mark.
    Utf16,
}

impl Encoding {
    fn named(name: &str) -> Option<Self> {
        match name.to_ascii_uppercase().as_str() {
            "UTF-8" | "UTF8" | "US-ASCII" | "ASCII" => Some(Self::Utf8),
            "ISO-8859-1" | "LATIN1" => Some(Self::Latin1),
            "UTF-16" => Some(Self::Utf16),
            _ => None,
        }
    }

    /// The text of a tag file; none where the bytes are no such text.
    pub(super) fn read(self, bytes: &[u8]) -> Option<String> {
        match self {
            Self::Utf8 => String::from_utf8(bytes.to_vec()).ok(),
            Self::Latin1 => Some(bytes.iter().copied().map(char::from).collect()),
            Self::Utf16 => {
                let (little, rest) = match bytes {
                    [0xFF, 0xFE, rest @ ..] => (true, rest),
                    [0xFE, 0xFF, rest @ ..] => (false, rest),
                    _ => (false, bytes),
                };
                let (pairs, []) = rest.as_chunks::<2>() else { return None };
                let units = pairs
                    .iter()
                    .map(|pair| if little { u16::from_le_bytes(*pair) } else { u16::from_be_bytes(*pair) });
                char::decode_utf16(units).collect::<Result<_, _>>().ok()
            }
        }
    }
}

/// What `bagit.txt` declares. It is always UTF-8, without a mark, and its two lines are exact (RFC 8493, 2.1.1);
/// earlier versions left room for spaces.
pub(super) fn declaration(bytes: &[u8], faults: &mut Vec<Fault>) -> Option<(Version, Encoding)> {
    let mut wrong = |says: String| {
        faults.push(Fault::new(DECLARATION, says));
        None
    };
    if bytes.starts_with(b"\xEF\xBB\xBF") {
        return wrong("begins with a byte-order mark, which it must not".to_owned());
    }
    let Ok(text) = std::str::from_utf8(bytes) else {
        return wrong("is not UTF-8".to_owned());
    };
    let text = text.replace("\r\n", "\n").replace('\r', "\n");
    let lines: Vec<&str> = text.split('\n').collect();
    let lines = lines.strip_suffix(&[""]).unwrap_or(&lines);
    let [first, second] = lines else {
        return wrong(format!(
            "must have two lines, 'BagIt-Version: 1.0' and 'Tag-File-Character-Encoding: UTF-8'; it has {}",
            lines.len()
        ));
    };
    let Some(version) = first.strip_prefix("BagIt-Version: ").and_then(version) else {
        return wrong(format!("line 1 must be like 'BagIt-Version: 1.0'; it is '{}'", short(first)));
    };
    let encoding = second.strip_prefix("Tag-File-Character-Encoding: ");
    let Some(encoding) = encoding.map(|name| if version < Version::RFC { name.trim() } else { name }) else {
        let said = short(second);
        return wrong(format!("line 2 must be like 'Tag-File-Character-Encoding: UTF-8'; it is '{said}'"));
    };
    let Some(encoding) = Encoding::named(encoding) else {
        return wrong(format!("names an encoding that is not read here: '{}'", short(encoding)));
    };
    Some((version, encoding))
}

/// `1.0`. Anything after it is only let pass before 1.0.
fn version(text: &str) -> Option<Version> {
    let (major, minor) = text.trim_end().split_once('.')?;
    let digits = |text: &str| -> Option<u32> {
        let plain = !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
        plain.then(|| text.parse().ok()).flatten()
    };
    let version = Version(digits(major)?, digits(minor)?);
    (version < Version::RFC || !text.ends_with([' ', '\t'])).then_some(version)
}

/// `bag-info.txt` as labels and values, in order; a line that begins with a space goes on with the last.
pub(super) fn info(text: &str, version: Version, faults: &mut Vec<Fault>) -> Vec<(String, String)> {
    let mut pairs: Vec<(String, String)> = Vec::new();
    let text = text.replace("\r\n", "\n").replace('\r', "\n");
    for (number, line) in text.split('\n').enumerate() {
        if line.trim().is_empty() {
            continue;
        }
        if line.starts_with([' ', '\t'])
            && let Some((_, value)) = pairs.last_mut()
        {
            value.push(' ');
            value.push_str(line.trim());
            continue;
        }
        match line.split_once(':') {
            Some((label, value)) if !label.trim().is_empty() => {
                if version >= Version::RFC && label.ends_with([' ', '\t']) {
                    let says = format!("line {}: no space may stand before the colon", number + 1);
                    faults.push(Fault::new(INFO, says));
                }
                pairs.push((label.trim().to_owned(), value.trim().to_owned()));
            }
            _ => {
                let says = format!("line {} is no 'Label: value': '{}'", number + 1, short(line));
                faults.push(Fault::new(INFO, says));
            }
        }
    }
    pairs
}

/// `bagit.txt` as this program writes it.
pub(super) const OUR_DECLARATION: &str = "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n";

/// `bag-info.txt` of these pairs; a value is one line.
pub(super) fn info_text(pairs: &[(String, String)]) -> String {
    let mut text = String::new();
    for (label, value) in pairs {
        let value: Vec<&str> = value.split_whitespace().collect();
        // Writing to a String cannot fail.
        let _ = writeln!(text, "{label}: {}", value.join(" "));
    }
    text
}

/// A manifest of these digests and paths, as `sha256sum` and its like read it too.
pub(super) fn manifest_text<'a>(lines: impl Iterator<Item = (&'a str, &'a str)>) -> String {
    let mut text = String::new();
    for (digest, path) in lines {
        let _ = writeln!(text, "{digest}  {}", encoded(path));
    }
    text
}

/// A manifest's file name.
pub(super) fn manifest_name(begin: &str, algorithm: Algorithm) -> String {
    format!("{begin}{}.txt", algorithm.name())
}
