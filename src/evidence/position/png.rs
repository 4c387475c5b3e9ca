//! PNG (W3C, third edition, 2025): chunks, of which a decoder needs few.

use super::{Keep, People, speaks_of_a_place, tiff};

/// What a PNG file begins with (5.2).
pub(super) const SIGNATURE: &[u8] = b"\x89PNG\r\n\x1a\n";

/// Chunks that the picture, its colours, its size and its frames need (11.2, 11.3).
const PICTURE: [&[u8; 4]; 22] = [
    b"IHDR", b"PLTE", b"IDAT", b"IEND", b"tRNS", b"cHRM", b"gAMA", b"iCCP", b"sBIT", b"sRGB", b"cICP",
    b"mDCV", b"cLLI", b"bKGD", b"hIST", b"pHYs", b"sPLT", b"acTL", b"fcTL", b"fdAT", b"vpAg", b"oFFs",
];

/// The keywords of texts that the standard names (11.3.3.1), but for `XML:com.adobe.xmp`.
const KEYWORDS: [&str; 10] = [
    "Title",
    "Author",
    "Description",
    "Copyright",
    "Creation Time",
    "Software",
    "Disclaimer",
    "Warning",
    "Source",
    "Comment",
];

/// The picture again with what may be kept, as [`super::jpeg::written`].
pub(super) fn written(bytes: &[u8], keep: Keep) -> Option<Vec<u8>> {
    let mut out = bytes.get(..SIGNATURE.len())?.to_vec();
    let mut at = SIGNATURE.len();
    loop {
        let length = u32::from_be_bytes(bytes.get(at..at + 4)?.try_into().ok()?);
        let end = at.checked_add(usize::try_from(length).ok()?)?.checked_add(12)?;
        let whole = bytes.get(at..end)?;
        let name: &[u8; 4] = whole[4..8].try_into().ok()?;
        let data = &whole[8..whole.len() - 4];
        if PICTURE.contains(&name) {
            out.extend_from_slice(whole);
        } else if name[0].is_ascii_uppercase() || !name.iter().all(u8::is_ascii_alphabetic) {
            // A part without which the picture cannot be read, and that nobody knows.
            return None;
        } else if let Keep::Known(people) = keep {
            match name {
                b"eXIf" => {
                    let mut data = data.to_vec();
                    tiff::clean(&mut data, people)?;
                    out.extend_from_slice(&whole[..8]);
                    out.extend_from_slice(&data);
                    let mut sum = crc32fast::Hasher::new();
                    sum.update(name);
                    sum.update(&data);
                    out.extend_from_slice(&sum.finalize().to_be_bytes());
                }
                b"tIME" => out.extend_from_slice(whole),
                b"tEXt" | b"zTXt" | b"iTXt" if people == People::Kept && plain(*name, data) => {
                    out.extend_from_slice(whole);
                }
                _ => {}
            }
        }
        at = end;
        if name == b"IEND" {
            // What hangs behind the end is not of the picture.
            return Some(out);
        }
    }
}

/// Whether a text speaks of no place, as far as that can be seen: a compressed one only by its keyword, and XMP only
/// where it is not compressed.
fn plain(name: [u8; 4], data: &[u8]) -> bool {
    let Some(split) = data.iter().position(|byte| *byte == 0) else { return false };
    let (keyword, rest) = (&data[..split], &data[split + 1..]);
    let known = KEYWORDS.iter().any(|known| known.as_bytes() == keyword);
    match &name {
        // Latin-1 (11.3.3.2).
        b"tEXt" => {
            let text: String = rest.iter().map(|byte| char::from(*byte)).collect();
            known && !speaks_of_a_place(text.as_bytes())
        }
        b"zTXt" => false,
        // Keyword, whether compressed, how, language, keyword in that language, text (11.3.3.4).
        _ => {
            let compressed = rest.first() != Some(&0);
            let texts: Vec<&[u8]> = rest.get(2..).unwrap_or_default().splitn(3, |byte| *byte == 0).collect();
            let [_, _, text] = texts.as_slice() else { return false };
            !compressed && (known || keyword == b"XML:com.adobe.xmp") && !speaks_of_a_place(text)
        }
    }
}
