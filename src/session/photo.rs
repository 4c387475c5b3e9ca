//! Photographs: whole or broken, and when they were taken.

use std::io::Cursor;

use image::{ImageFormat, ImageReader, Limits};

/// Why a photo cannot be shown.
pub(super) enum PhotoProblem {
    /// Not JPEG or PNG.
    Format,
    /// It says it is a picture but cannot be decoded to its end.
    Broken(String),
}

/// Decodes the whole picture (a cut-off file would only show on paper) and gives the date its
/// EXIF data carry.
pub(super) fn examine(bytes: &[u8]) -> Result<Option<String>, PhotoProblem> {
    let mut reader = ImageReader::new(Cursor::new(bytes))
        .with_guessed_format()
        .map_err(|error| PhotoProblem::Broken(error.to_string()))?;
    if !matches!(reader.format(), Some(ImageFormat::Jpeg | ImageFormat::Png)) {
        return Err(PhotoProblem::Format);
    }
    let mut limits = Limits::default();
    limits.max_image_width = Some(20_000);
    limits.max_image_height = Some(20_000);
    limits.max_alloc = Some(400 << 20);
    reader.limits(limits);
    reader.decode().map_err(|error| PhotoProblem::Broken(error.to_string()))?;
    if !ended(bytes) {
        return Err(PhotoProblem::Broken("it is cut short".to_owned()));
    }
    Ok(taken(bytes))
}

/// Decoders fill up a cut-off JPEG with grey; its end-of-image marker (ISO/IEC 10918-1, B.1.1.3)
/// is then missing.
fn ended(bytes: &[u8]) -> bool {
    if !bytes.starts_with(&[0xFF, 0xD8]) {
        return true;
    }
    bytes.windows(2).rev().any(|pair| pair == [0xFF, 0xD9])
}

/// `DateTimeOriginal` as "2026-03-02 14:41".
fn taken(bytes: &[u8]) -> Option<String> {
    let exif = exif::Reader::new().read_from_container(&mut Cursor::new(bytes)).ok()?;
    let field = exif.get_field(exif::Tag::DateTimeOriginal, exif::In::PRIMARY)?;
    let exif::Value::Ascii(texts) = &field.value else {
        return None;
    };
    let moment = exif::DateTime::from_ascii(texts.first()?).ok()?;
    Some(format!(
        "{:04}-{:02}-{:02} {:02}:{:02}",
        moment.year, moment.month, moment.day, moment.hour, moment.minute
    ))
}
