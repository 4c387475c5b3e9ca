//! JPEG (ISO/IEC 10918-1, annex B): segments between the picture's data, and what may hang behind its end.

use super::{Keep, People, speaks_of_a_place, tiff};

const EXIF: &[u8] = b"Exif\0\0";
const XMP: &[u8] = b"http://ns.adobe.com/xap/1.0/\0";
const XMP_MORE: &[u8] = b"http://ns.adobe.com/xmp/extension/\0";

/// The picture again with what may be kept. `None` where its parts cannot be told from each other, or where its Exif
/// data are not understood and more than the colours was to be kept.
pub(super) fn written(bytes: &[u8], keep: Keep) -> Option<Vec<u8>> {
    // An extended packet is cut into pieces that say nothing alone: then no XMP is kept.
    let mut in_pieces = false;
    walk(bytes, |segment| in_pieces |= segment.marker == 0xE1 && segment.data.starts_with(XMP_MORE))?;
    let mut out = Vec::with_capacity(bytes.len());
    let mut understood = true;
    let end = walk(bytes, |segment| match kept(segment, keep, in_pieces) {
        Some(Part::Same) => out.extend_from_slice(segment.whole),
        Some(Part::Data(data)) => {
            out.extend_from_slice(&segment.whole[..segment.whole.len() - segment.data.len()]);
            out.extend_from_slice(&data);
        }
        Some(Part::Gone) => {}
        None => understood = false,
    })?;
    // What hangs behind the end (previews, films, a maker's own) is not of the picture.
    debug_assert!(end <= bytes.len());
    understood.then_some(out)
}

/// A stretch of the file: a segment with its marker, or data of the picture (marker 0).
struct Segment<'a> {
    marker: u8,
    whole: &'a [u8],
    /// What stands behind the length; empty for data of the picture and for markers that stand alone.
    data: &'a [u8],
}

enum Part {
    Same,
    Data(Vec<u8>),
    Gone,
}

/// What becomes of a segment; `None` where it is not understood.
fn kept(segment: &Segment<'_>, keep: Keep, in_pieces: bool) -> Option<Part> {
    let Segment { marker, data, .. } = segment;
    let colours = match marker {
        0xE0 => data.starts_with(b"JFIF\0"),
        0xE2 => data.starts_with(b"ICC_PROFILE\0"),
        0xEE => data.starts_with(b"Adobe"),
        0xE1..=0xEF | 0xFE => false,
        _ => true,
    };
    let Keep::Known(people) = keep else {
        return Some(if colours { Part::Same } else { Part::Gone });
    };
    let free_text = people == People::Kept;
    Some(match marker {
        _ if colours => Part::Same,
        0xFE if free_text && !speaks_of_a_place(data) => Part::Same,
        0xE1 if data.starts_with(EXIF) => {
            let mut data = data.to_vec();
            tiff::clean(data.get_mut(EXIF.len()..)?, people)?;
            Part::Data(data)
        }
        0xE1 if data.starts_with(XMP) && free_text && !in_pieces => {
            if speaks_of_a_place(&data[XMP.len()..]) {
                Part::Gone
            } else {
                Part::Same
            }
        }
        _ => Part::Gone,
    })
}

/// Goes through a file from its start to the end of its picture and gives the place of that. `None` where the file does
/// not follow the rules.
fn walk<'a>(bytes: &'a [u8], mut each: impl FnMut(&Segment<'a>)) -> Option<usize> {
    let mut at = 0;
    loop {
        // Any number of fill bytes may stand before a marker (B.1.1.2).
        let fill = bytes.get(at..)?.iter().take_while(|byte| **byte == 0xFF).count();
        let marker = *bytes.get(at + fill).filter(|_| fill > 0)?;
        let head = at + fill + 1;
        let length = match marker {
            0x01 | 0xD0..=0xD9 => 0,
            0x00 | 0xFF => return None,
            _ => usize::from(u16::from_be_bytes([*bytes.get(head)?, *bytes.get(head + 1)?])),
        };
        let end = head + length;
        let whole = bytes.get(at..end)?;
        let data = if length == 0 { &[][..] } else { bytes.get(head + 2..end)? };
        each(&Segment { marker, whole, data });
        at = end;
        match marker {
            0xD9 => return Some(at),
            // Coded data follow a scan's head and a restart; they end at a marker that is neither stuffing nor a restart.
            0xDA => {
                let start = at;
                loop {
                    let next = at + bytes.get(at..)?.iter().position(|byte| *byte == 0xFF)?;
                    match bytes.get(next + 1)? {
                        0x00 | 0xD0..=0xD7 => at = next + 2,
                        0xFF => at = next + 1,
                        _ => {
                            at = next;
                            break;
                        }
                    }
                }
                each(&Segment { marker: 0, whole: &bytes[start..at], data: &[] });
            }
            _ => {}
        }
    }
}

/// Whether a picture inside another (a thumbnail) holds nothing beside its picture.
pub(super) fn is_bare(bytes: &[u8]) -> bool {
    let mut bare = true;
    let walked = walk(bytes, |segment| {
        bare &= matches!(kept(segment, Keep::Colours, false), Some(Part::Same));
    });
    // Padding may follow.
    walked.is_some_and(|end| bytes[end..].iter().all(|byte| *byte == 0)) && bare
}
