//! Where a link or a picture points to.

use std::fmt::Write as _;

/// Typst takes no longer address (typst-library 0.15.1, `Url::new`).
const LONGEST: usize = 8000;

/// The address to link to, in ASCII as a PDF needs it, or `None` if it is not one that a report
/// links to: only `http`, `https` and `mailto`.
pub(super) fn linkable(dest: &str) -> Option<String> {
    let scheme = scheme(dest)?;
    let rest = dest.get(scheme.len() + 1..)?;
    let known = ["http", "https", "mailto"].iter().any(|known| scheme.eq_ignore_ascii_case(known));
    let ascii = encode(dest);
    (known && !rest.is_empty() && ascii.len() <= LONGEST).then_some(ascii)
}

/// Whether a picture's target is an address and not a file: it has a scheme, or a host.
///
/// A scheme of one letter is the drive of a path.
pub(super) fn is_remote(target: &str) -> bool {
    target.starts_with("//") || scheme(target).is_some_and(|scheme| scheme.len() > 1)
}

/// The scheme of a URI (RFC 3986, 3.1).
fn scheme(dest: &str) -> Option<&str> {
    let (scheme, _) = dest.split_once(':')?;
    let mut letters = scheme.chars();
    let begins = letters.next().is_some_and(|c| c.is_ascii_alphabetic());
    let goes_on = letters.all(|c| c.is_ascii_alphanumeric() || matches!(c, '+' | '-' | '.'));
    (begins && goes_on).then_some(scheme)
}

/// Writes all but visible ASCII as `%XX` (RFC 3986, 2.1); what is written so already stays.
fn encode(dest: &str) -> String {
    let mut out = String::with_capacity(dest.len());
    for byte in dest.bytes() {
        if byte.is_ascii_graphic() {
            out.push(char::from(byte));
        } else {
            // Writing to a string cannot fail.
            let _ = write!(out, "%{byte:02X}");
        }
    }
    out
}

/// Reads `%XX` (RFC 3986, 2.1). What is not so written, or would not be UTF-8, stays as typed.
pub(super) fn decode(target: &str) -> String {
    let mut bytes = Vec::with_capacity(target.len());
    let mut rest = target.as_bytes();
    while let Some((&first, tail)) = rest.split_first() {
        let hex = tail.get(..2).filter(|_| first == b'%').and_then(hex_byte);
        bytes.push(hex.unwrap_or(first));
        rest = if hex.is_some() { tail.get(2..).unwrap_or_default() } else { tail };
    }
    String::from_utf8(bytes).unwrap_or_else(|_| target.to_owned())
}

fn hex_byte(digits: &[u8]) -> Option<u8> {
    let digits = std::str::from_utf8(digits).ok()?;
    digits.bytes().all(|b| b.is_ascii_hexdigit()).then(|| u8::from_str_radix(digits, 16).ok())?
}

#[cfg(test)]
mod tests {
    use super::{decode, is_remote, linkable};

    #[test]
    fn only_web_and_mail_are_linked() {
        assert_eq!(linkable("HTTPS://shop.example/ä b").as_deref(), Some("HTTPS://shop.example/%C3%A4%20b"));
        assert!(linkable("mailto:a@shop.example").is_some());
        for dest in [
            "javascript:alert(1)",
            "JaVaScRiPt:x",
            "data:text/html,x",
            "file:///etc/passwd",
            "photos/1.jpg",
            "#part",
            "//host/x",
            "http:",
            "",
            " https://x.example",
        ] {
            assert_eq!(linkable(dest), None, "{dest}");
        }
        assert_eq!(linkable(&format!("https://{}", "x".repeat(8000))), None);
    }

    #[test]
    fn a_file_is_not_an_address() {
        for file in ["photos/1.jpg", "a b.png", "C:\\x.png", "x/http:y", "", "2:1.png"] {
            assert!(!is_remote(file), "{file}");
        }
        for address in ["https://x/y.png", "data:image/png;base64,", "//x/y.png", "ftp:x"] {
            assert!(is_remote(address), "{address}");
        }
    }

    #[test]
    fn percent_is_read_where_it_is_written_well() {
        assert_eq!(decode("photos/a%20b%C3%A4.jpg"), "photos/a bä.jpg");
        for odd in ["100%", "%zz", "%+1", "%4", "%FF"] {
            assert_eq!(decode(odd), odd);
        }
    }
}
