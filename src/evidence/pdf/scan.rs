//! Before a parser sees a PDF: whether what is packed in it stays within bounds, however it is named.

use std::io::Read;

use flate2::read::ZlibDecoder;
use memchr::memmem;

use super::PdfReadError;

/// What all streams together may unpack to. A report of a hundred pages with its recordings is a tenth of it.
const MOST_UNPACKED: u64 = 1 << 30;
/// Streams packed within streams.
const DEEPEST: usize = 3;
/// Filters that multiply and that no report has (ISO 32000-1, 7.4): their bombs cannot be measured beforehand.
const REFUSED: [&[u8]; 5] =
    [b"LZWDecode", b"RunLengthDecode", b"JBIG2Decode", b"JPXDecode", b"CCITTFaxDecode"];

/// Refuses what would grow without end.
pub(super) fn harmless(bytes: &[u8]) -> Result<(), PdfReadError> {
    let mut left = MOST_UNPACKED;
    names(bytes)?;
    for at in memmem::find_iter(bytes, b"stream") {
        let after = &bytes[at + b"stream".len()..];
        let data = after
            .strip_prefix(b"\r\n")
            .or_else(|| after.strip_prefix(b"\n"))
            .or_else(|| after.strip_prefix(b"\r"));
        if let Some(data) = data {
            unpacks(data, DEEPEST, &mut left)?;
        }
    }
    Ok(())
}

/// Unpacks what may be a zlib stream (RFC 1950) as far as there is room left.
fn unpacks(data: &[u8], deeper: usize, left: &mut u64) -> Result<(), PdfReadError> {
    let is_zlib = matches!(data, [cmf, flags, ..] if cmf & 0x0f == 8 && (u16::from(*cmf) << 8 | u16::from(*flags)) % 31 == 0);
    if !is_zlib {
        return Ok(());
    }
    let mut unpacked = Vec::new();
    // A broken stream gives what it has.
    let _ = ZlibDecoder::new(data).take(*left + 1).read_to_end(&mut unpacked);
    let size = unpacked.len() as u64;
    if size > *left {
        return Err(PdfReadError::Bomb { most: MOST_UNPACKED });
    }
    *left -= size;
    names(&unpacked)?;
    if deeper > 0 { unpacks(&unpacked, deeper - 1, left) } else { Ok(()) }
}

/// Whether a filter that is refused is named anywhere, also with some of its letters in hexadecimal.
fn names(bytes: &[u8]) -> Result<(), PdfReadError> {
    for at in memchr::memchr_iter(b'/', bytes) {
        let mut rest = &bytes[at + 1..];
        let mut name = Vec::new();
        while name.len() < 20 {
            let (letter, used) = match *rest {
                [b'#', high, low, ..] => {
                    let digit = |byte: u8| char::from(byte).to_digit(16);
                    let byte = digit(high).zip(digit(low)).and_then(|(h, l)| u8::try_from(h << 4 | l).ok());
                    (byte.unwrap_or(b'#'), if byte.is_some() { 3 } else { 1 })
                }
                [letter, ..] if letter.is_ascii_alphanumeric() => (letter, 1),
                _ => break,
            };
            name.push(letter);
            rest = &rest[used..];
        }
        if REFUSED.contains(&name.as_slice()) {
            return Err(PdfReadError::Packing(String::from_utf8_lossy(&name).into_owned()));
        }
    }
    Ok(())
}

#[cfg(test)]
#[allow(clippy::unwrap_used, clippy::cast_possible_truncation)]
mod tests {
    use std::io::Write;

    use flate2::Compression;
    use flate2::write::ZlibEncoder;

    use super::{PdfReadError, harmless};

    fn packed(bytes: &[u8]) -> Vec<u8> {
        let mut encoder = ZlibEncoder::new(Vec::new(), Compression::best());
        encoder.write_all(bytes).unwrap();
        encoder.finish().unwrap()
    }

    #[test]
    fn zeros_packed_twice_over_are_a_bomb_and_a_page_is_none() {
        let mut bomb = b"1 0 obj <</Length 9>> stream\n".to_vec();
        // 1.5 GiB of zeros, a thousand to one and again.
        let once = packed(&vec![0; 1 << 20]);
        let block: Vec<u8> = once.iter().copied().cycle().take(once.len()).collect();
        bomb.extend(packed(&block));
        assert_eq!(harmless(&bomb), Ok(()), "a mebibyte is no bomb");
        let mut many = Vec::new();
        for _ in 0..1100 {
            many.extend(b"stream\n");
            many.extend(&once);
        }
        assert_eq!(harmless(&many), Err(PdfReadError::Bomb { most: 1 << 30 }));
    }

    #[test]
    fn a_filter_that_multiplies_is_refused_however_it_is_spelt() {
        for named in ["/LZWDecode ", "/LZW#44ecode>>", "/#52unLengthDecode]"] {
            assert!(matches!(harmless(named.as_bytes()), Err(PdfReadError::Packing(_))), "{named}");
        }
        assert_eq!(harmless(b"/FlateDecode /text#2Fcsv /#"), Ok(()));
    }
}
