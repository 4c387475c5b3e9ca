//! Photographs without the place where they were taken: pixels as they were, byte for byte.
//!
//! A position stands in a photograph's Exif data (the GPS directory), in XMP, in IPTC's location fields, in makers'
//! own notes and in whatever a telephone hangs on behind the picture. What is known to hold none is kept; what holds
//! one, or cannot be looked into, is left out. Where the Exif data do not follow their own rules, nothing beside the
//! picture is kept at all.

mod jpeg;
mod png;
mod tiff;

use std::io::Cursor;

/// What else is left out with positions.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum People {
    /// Nothing.
    Kept,
    /// Names, serial numbers of cameras, and all free text.
    LeftOut,
}

/// A picture as it can be published.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Cleaned {
    /// It held nothing that had to go.
    AsItWas,
    /// Without what had to go.
    Without(Vec<u8>),
    /// Without anything beside the picture, for it could not be understood.
    Bare(Vec<u8>),
    /// It is a JPEG or PNG picture whose parts cannot be told from each other, or a kind of file that can hold a
    /// position and that is not looked into: it must not be published.
    Unsafe,
}

/// How much beside the picture is kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Keep {
    /// What is known to hold no position.
    Known(People),
    /// What the colours need.
    Colours,
}

/// A file without positions; `None` where it is of a kind that has none. The kind follows from the first bytes, whatever
/// the file is called.
pub fn cleaned(bytes: &[u8], people: People) -> Option<Cleaned> {
    let written: fn(&[u8], Keep) -> Option<Vec<u8>> = match () {
        () if bytes.starts_with(&[0xFF, 0xD8]) => jpeg::written,
        () if bytes.starts_with(png::SIGNATURE) => png::written,
        () if may_hold_one(bytes) => return Some(Cleaned::Unsafe),
        () => return None,
    };
    let known = written(bytes, Keep::Known(people)).filter(|made| position(made).is_none());
    Some(match known {
        Some(made) if made == bytes => Cleaned::AsItWas,
        Some(made) => Cleaned::Without(made),
        None => match written(bytes, Keep::Colours) {
            Some(made) if made == bytes => Cleaned::AsItWas,
            Some(made) => Cleaned::Bare(made),
            None => Cleaned::Unsafe,
        },
    })
}

/// Pictures and films of other kinds that cameras write positions into: TIFF and raw files made like it (TIFF 6.0,
/// section 2), HEIF, AVIF, MP4 and MOV (ISO/IEC 14496-12, `ftyp`), WebP (RFC 9649).
fn may_hold_one(bytes: &[u8]) -> bool {
    let at = |range: std::ops::Range<usize>| bytes.get(range).unwrap_or_default();
    bytes.starts_with(b"II*\0")
        || bytes.starts_with(b"MM\0*")
        || at(4..8) == b"ftyp"
        || at(0..4) == b"RIFF" && at(8..12) == b"WEBP"
}

/// A place on the earth, as a camera wrote it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Position {
    /// Degrees north of the equator.
    pub north: f64,
    /// Degrees east of the zero meridian.
    pub east: f64,
}

impl std::fmt::Display for Position {
    /// "12.3457° N, 45.0000° W": a ten-thousandth of a degree is 11 m of latitude, about what a telephone can tell.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let side = |value: f64, positive: char, negative: char| {
            let letter = if value < 0.0 { negative } else { positive };
            format!("{:.4}° {letter}", value.abs())
        };
        write!(f, "{}, {}", side(self.north, 'N', 'S'), side(self.east, 'E', 'W'))
    }
}

/// The position in a picture's Exif data (JPEG APP1, PNG eXIf). `None` where there is none, or no whole one.
pub fn position(bytes: &[u8]) -> Option<Position> {
    position_of(&exif_of(bytes)?)
}

/// A picture's Exif data as far as they can be read: many programs break a rule somewhere.
pub fn exif_of(bytes: &[u8]) -> Option<exif::Exif> {
    exif::Reader::new()
        .continue_on_error(true)
        .read_from_container(&mut Cursor::new(bytes))
        .or_else(|error| error.distill_partial_result(|_| {}))
        .ok()
}

/// The same from data already read. The signs stand apart, as letters (CIPA DC-008, 4.6.6: `GPSLatitudeRef` and
/// `GPSLongitudeRef`).
pub fn position_of(exif: &exif::Exif) -> Option<Position> {
    let degrees = |tag: exif::Tag, most: f64| {
        let field = exif.get_field(tag, exif::In::PRIMARY)?;
        let exif::Value::Rational(parts) = &field.value else { return None };
        let [degrees, rest @ ..] = parts.as_slice() else { return None };
        let part = |index: usize| rest.get(index).map_or(0.0, exif::Rational::to_f64);
        let value = degrees.to_f64() + part(0) / 60.0 + part(1) / 3600.0;
        (0.0..=most).contains(&value).then_some(value)
    };
    let sign = |tag: exif::Tag, positive: u8, negative: u8| {
        let exif::Value::Ascii(texts) = &exif.get_field(tag, exif::In::PRIMARY)?.value else { return None };
        match texts.first()?.first()?.to_ascii_uppercase() {
            letter if letter == positive => Some(1.0),
            letter if letter == negative => Some(-1.0),
            _ => None,
        }
    };
    Some(Position {
        north: degrees(exif::Tag::GPSLatitude, 90.0)? * sign(exif::Tag::GPSLatitudeRef, b'N', b'S')?,
        east: degrees(exif::Tag::GPSLongitude, 180.0)? * sign(exif::Tag::GPSLongitudeRef, b'E', b'W')?,
    })
}

/// Whether a text speaks of a place: the names that XMP, IPTC and image programs give to such properties (XMP
/// Specification Part 2, `exif:GPS…`; IPTC Photo Metadata Standard 2023.2, "Location…", `City`, `Country`, `State`;
/// W3C Basic Geo, `geo:lat`). Bytes that are no UTF-8 text are taken to.
fn speaks_of_a_place(text: &[u8]) -> bool {
    const WORDS: [&str; 10] =
        ["gps", "geo", "location", "latitude", "longitude", "city", "country", "state", "province", "place"];
    let Ok(text) = std::str::from_utf8(text) else { return true };
    let text = text.to_ascii_lowercase();
    text.contains('\0') || WORDS.iter().any(|word| text.contains(word))
}

#[cfg(test)]
mod tests;
