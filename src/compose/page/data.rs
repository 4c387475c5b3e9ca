//! What a viewer may take away: findings, readings and the smaller recordings, each as an address that
//! holds its own bytes (RFC 2397).

use std::fmt::Write as _;

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use serde::Serialize;

use super::super::document::Markup;
use super::super::report::attached_name;
use super::Data;
use crate::evidence::Item;
use crate::quantity::grouped;

/// All tables of the session that stand in the page together.
const TABLES_TOGETHER: u64 = 512 << 10;

/// A browser refuses a longer address (Chromium's `kMaxURLChars` is 2 MiB; common practice elsewhere is no
/// less).
const LONGEST_ADDRESS: usize = 2_000_000;

/// A file that stands in the page.
#[derive(Debug, Clone, Serialize)]
pub struct Download {
    /// The name under which it is saved.
    pub name: String,
    /// What it is.
    pub what: String,
    /// Its size, as printed: `118 kB`.
    pub size: String,
    /// The address that holds it.
    pub address: Markup,
}

/// A file that does not.
#[derive(Debug, Clone, Serialize)]
pub struct LeftOut {
    /// Its path in the session, or its name.
    pub name: String,
    /// Its size, as printed.
    pub size: String,
    /// Where it is.
    pub place: String,
}

/// What the page offers, and what it leaves to other places.
pub(super) fn offered(data: Data<'_>, readings: &str, files: &[Item]) -> (Vec<Download>, Vec<LeftOut>) {
    let (mut here, mut elsewhere) = (Vec::new(), Vec::new());
    for (name, mime, text, what, place) in [
        ("findings.csv", "text/csv", data.csv, "every finding as a table", "beside this page"),
        (
            "findings.json",
            "application/json",
            data.json,
            "every finding and change, unrounded, with the notes",
            "beside this page",
        ),
        (
            "readings.csv",
            "text/csv",
            readings,
            "every reading that was typed, struck ones with the reason",
            "in the visits' files, which report.pdf carries",
        ),
    ] {
        let size = size(text.len() as u64);
        match address(mime, text.as_bytes()) {
            Some(address) => {
                here.push(Download { name: name.to_owned(), what: what.to_owned(), size, address });
            }
            None => elsewhere.push(LeftOut { name: name.to_owned(), size, place: place.to_owned() }),
        }
    }
    recordings(files, &mut here, &mut elsewhere);
    (here, elsewhere)
}

/// Tables and sounds that instruments wrote: the smallest tables until the room is used.
fn recordings(files: &[Item], here: &mut Vec<Download>, elsewhere: &mut Vec<LeftOut>) {
    let mut tables: Vec<&Item> = files.iter().filter(|item| item.mime == "text/csv").collect();
    tables.sort_by_key(|item| (item.size, item.path.as_str()));
    let mut room = TABLES_TOGETHER;
    let mut taken = Vec::new();
    for item in tables {
        let Some(left) = room.checked_sub(item.size) else { break };
        let Some(address) = item.bytes.as_ref().and_then(|bytes| address(item.mime, bytes)) else { continue };
        room = left;
        taken.push((item.path.as_str(), address));
    }
    for item in files.iter().filter(|item| matches!(item.mime, "text/csv" | "audio/wav")) {
        match taken.iter().position(|(path, _)| *path == item.path) {
            Some(index) => here.push(Download {
                name: attached_name(&item.path),
                what: format!("recording, {} in the session", item.path),
                size: size(item.size),
                address: taken.swap_remove(index).1,
            }),
            None => elsewhere.push(LeftOut {
                name: item.path.clone(),
                size: size(item.size),
                place: if item.bytes.is_some() {
                    format!("in report.pdf, as {}", attached_name(&item.path))
                } else {
                    "in the session folder".to_owned()
                },
            }),
        }
    }
}

/// The bytes as an address, in whichever way is shorter; `None` where a browser would refuse it.
fn address(mime: &str, bytes: &[u8]) -> Option<Markup> {
    let mime = if mime.starts_with("text/") { format!("{mime};charset=utf-8") } else { mime.to_owned() };
    let percent = percent_address(&mime, bytes);
    let short = if percent.len() <= bytes.len() / 3 * 4 { percent } else { base64_address(&mime, bytes) };
    (short.len() <= LONGEST_ADDRESS).then_some(Markup(short))
}

/// The bytes in base64 (RFC 4648, 4).
pub(super) fn base64_address(mime: &str, bytes: &[u8]) -> String {
    format!("data:{mime};base64,{}", STANDARD.encode(bytes))
}

/// The bytes as they are, but for those that an address or an attribute of HTML cannot hold, which are
/// written `%XX` (RFC 3986, 2.1).
fn percent_address(mime: &str, bytes: &[u8]) -> String {
    let mut out = format!("data:{mime},");
    for byte in bytes {
        match byte {
            b'a'..=b'z'
            | b'A'..=b'Z'
            | b'0'..=b'9'
            | b'-'
            | b'.'
            | b'_'
            | b'~'
            | b','
            | b';'
            | b':'
            | b'/'
            | b'@'
            | b'!'
            | b'$'
            | b'*'
            | b'+'
            | b'='
            | b'('
            | b')'
            | b'?' => out.push(char::from(*byte)),
            other => {
                // Writing to a string cannot fail.
                let _ = write!(out, "%{other:02X}");
            }
        }
    }
    out
}

fn size(bytes: u64) -> String {
    if bytes < 1000 {
        return format!("{bytes} bytes");
    }
    format!("{}\u{a0}kB", grouped((bytes + 500) / 1000, '\u{202f}'))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn item(path: &str, bytes: usize) -> Item {
        Item {
            path: path.to_owned(),
            size: bytes as u64,
            sha256: String::new(),
            mime: crate::evidence::mime_of(path),
            altered: false,
            bytes: Some(vec![b'1'; bytes]),
        }
    }

    #[test]
    fn an_address_holds_nothing_that_html_would_read() {
        let all: Vec<u8> = (0..=255).collect();
        for made in [percent_address("text/csv", &all), base64_address("text/csv", &all)] {
            assert!(!made.contains(['"', '\'', '<', '>', '&', '#', ' ', '\n']), "{made}");
        }
        assert!(percent_address("text/csv", b"a,b\r\n1%").ends_with(",a,b%0D%0A1%25"));
    }

    #[test]
    fn the_smallest_tables_come_along_and_the_others_are_named_with_their_place() {
        let files = [
            item("visits/a/large.csv", 400_000),
            item("visits/a/small.csv", 200_000),
            item("visits/a/t.wav", 9),
        ];
        let data = Data { json: "{}", csv: "a" };
        let (here, elsewhere) = offered(data, "b", &files);
        let names: Vec<&str> = here.iter().map(|file| file.name.as_str()).collect();
        assert_eq!(names, ["findings.csv", "findings.json", "readings.csv", "visits~a~small.csv"]);
        let left: Vec<(&str, &str)> =
            elsewhere.iter().map(|file| (file.name.as_str(), file.place.as_str())).collect();
        assert_eq!(
            left,
            [
                ("visits/a/large.csv", "in report.pdf, as visits~a~large.csv"),
                ("visits/a/t.wav", "in report.pdf, as visits~a~t.wav")
            ]
        );
    }

    #[test]
    fn what_a_browser_would_refuse_is_left_out() {
        let json = "\u{e4}".repeat(1 << 20);
        let (here, elsewhere) = offered(Data { json: &json, csv: "a" }, "b", &[]);
        assert_eq!(here.len(), 2);
        assert_eq!(
            (elsewhere[0].name.as_str(), elsewhere[0].place.as_str()),
            ("findings.json", "beside this page")
        );
    }
}
