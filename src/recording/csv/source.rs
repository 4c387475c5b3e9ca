//! A file as UTF-8 text that comes in pieces, whatever its encoding.

use std::fs::File;
use std::io::{self, Read};
use std::path::Path;

/// How the bytes of a file stand for characters.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Encoding {
    Utf8,
    Latin1,
    Utf16 { big: bool },
}

/// A file being read.
#[derive(Debug)]
pub(super) struct Text<R> {
    file: R,
    encoding: Encoding,
    /// Bytes read and not yet turned into text.
    raw: Vec<u8>,
    ended: bool,
}

impl Text<File> {
    /// Opens a file; its byte order mark, if there is one, says the encoding.
    pub(super) fn open(path: &Path, latin1: bool) -> io::Result<Self> {
        Self::of(File::open(path)?, latin1)
    }
}

impl<R: Read> Text<R> {
    /// The same of any bytes.
    pub(super) fn of(mut file: R, latin1: bool) -> io::Result<Self> {
        let mut raw = Vec::new();
        file.by_ref().take(3).read_to_end(&mut raw)?;
        let (encoding, mark) = match raw.as_slice() {
            [0xef, 0xbb, 0xbf, ..] => (Encoding::Utf8, 3),
            [0xff, 0xfe, ..] => (Encoding::Utf16 { big: false }, 2),
            [0xfe, 0xff, ..] => (Encoding::Utf16 { big: true }, 2),
            _ if latin1 => (Encoding::Latin1, 0),
            _ => (Encoding::Utf8, 0),
        };
        raw.drain(..mark);
        Ok(Self { file, encoding, raw, ended: false })
    }

    /// Whether all has been given.
    pub(super) fn ended(&self) -> bool {
        self.ended
    }

    /// Appends about `most` bytes of text, fewer at the end.
    pub(super) fn more(&mut self, into: &mut Vec<u8>, most: usize) -> io::Result<()> {
        if self.ended {
            return Ok(());
        }
        if self.encoding == Encoding::Utf8 {
            into.append(&mut self.raw);
            let read = self.file.by_ref().take(most as u64).read_to_end(into)?;
            self.ended = read < most;
            return Ok(());
        }
        let read = self.file.by_ref().take(most as u64).read_to_end(&mut self.raw)?;
        self.ended = read < most;
        match self.encoding {
            Encoding::Utf8 => {}
            Encoding::Latin1 => {
                // Latin-1 is the first 256 characters of Unicode.
                for byte in self.raw.drain(..) {
                    let mut room = [0; 2];
                    into.extend_from_slice(char::from(byte).encode_utf8(&mut room).as_bytes());
                }
            }
            Encoding::Utf16 { big } => self.sixteen(into, big),
        }
        Ok(())
    }

    /// UTF-16 to UTF-8; half a character waits for its other half.
    fn sixteen(&mut self, into: &mut Vec<u8>, big: bool) {
        let unit = |pair: &[u8]| match pair {
            [a, b] if big => u16::from_be_bytes([*a, *b]),
            [a, b] => u16::from_le_bytes([*a, *b]),
            _ => 0xfffd,
        };
        let mut whole = self.raw.len() / 2 * 2;
        let is_first_half =
            |raw: &[u8], end: usize| end >= 2 && (0xd800..0xdc00).contains(&unit(&raw[end - 2..end]));
        if !self.ended && is_first_half(&self.raw, whole) {
            whole -= 2;
        }
        let units = self.raw[..whole].chunks_exact(2).map(unit);
        for found in char::decode_utf16(units) {
            let mut room = [0; 4];
            into.extend_from_slice(found.unwrap_or('\u{fffd}').encode_utf8(&mut room).as_bytes());
        }
        self.raw.drain(..whole);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn all(bytes: &[u8], latin1: bool, most: usize) -> String {
        let mut text = Text::of(bytes, latin1).expect("it opens");
        let mut into = Vec::new();
        while !text.ended() {
            text.more(&mut into, most).expect("it reads");
        }
        String::from_utf8(into).expect("UTF-8")
    }

    #[test]
    fn marks_are_taken_off_and_other_encodings_become_utf_8_whatever_the_pieces() {
        let meant = "t;°C;µ;𝄞\n";
        let wide = |big: bool| -> Vec<u8> {
            let mark = std::iter::once(0xfeff_u16).chain(meant.encode_utf16());
            mark.flat_map(|unit| if big { unit.to_be_bytes() } else { unit.to_le_bytes() }).collect()
        };
        for most in [1, 2, 3, 5, 100] {
            assert_eq!(all(&wide(true), false, most), meant);
            assert_eq!(all(&wide(false), false, most), meant);
            assert_eq!(all(format!("\u{feff}{meant}").as_bytes(), true, most), meant);
            assert_eq!(all(b"\xb0C;\xb5\n", true, most), "°C;µ\n");
        }
    }
}
