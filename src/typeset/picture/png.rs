//! Pictures written as PNG (ISO/IEC 15948): still, and animated (PNG third edition, 2025).

use png::{BitDepth, BlendOp, ColorType, Compression, DisposeOp, Encoder, EncodingError, Filter, Writer};

use super::Picture;
use crate::typeset::CREATOR;

/// What a picture says of itself to whoever reads its file.
#[derive(Clone, Copy, Debug)]
pub struct Said<'a> {
    /// What it shows, in a sentence.
    pub title: &'a str,
    /// The number of the readings that it was made from.
    pub number: &'a str,
}

/// A picture that could not be written as a file's bytes.
#[derive(Debug, thiserror::Error)]
#[error("a picture could not be written: {0}")]
pub struct PictureError(#[from] EncodingError);

impl Picture {
    /// The bytes of a PNG file: three bytes a pixel where nothing shines through, else four.
    pub fn png(&self, said: Said<'_>) -> Result<Vec<u8>, PictureError> {
        let opaque = self.is_opaque();
        let mut bytes = Vec::new();
        let mut writer = encoder(&mut bytes, self, opaque, said)?.write_header()?;
        writer.write_image_data(&self.straight(opaque))?;
        writer.finish()?;
        Ok(bytes)
    }

    /// The pixels as a PNG holds them: their colours as they are, whatever they cover; three bytes a pixel
    /// where nothing shines through.
    fn straight(&self, opaque: bool) -> Vec<u8> {
        if opaque {
            let mut bytes = vec![0; self.pixels.len() / 4 * 3];
            for (to, from) in bytes.chunks_exact_mut(3).zip(self.pixels.chunks_exact(4)) {
                (to[0], to[1], to[2]) = (from[0], from[1], from[2]);
            }
            return bytes;
        }
        let mut bytes = self.pixels.clone();
        for pixel in bytes.chunks_exact_mut(4) {
            let cover = u32::from(pixel[3]);
            if cover == 0 || cover == 255 {
                continue;
            }
            for colour in &mut pixel[..3] {
                let whole = (u32::from(*colour) * 255 + cover / 2) / cover;
                *colour = u8::try_from(whole).unwrap_or(u8::MAX);
            }
        }
        bytes
    }

    /// The part of the picture that differs from another: columns and rows, the ends not among them.
    fn changed(&self, before: &Self) -> Option<Part> {
        let width = usize::try_from(self.width).unwrap_or(0).max(1);
        let rows =
            || self.pixels.chunks_exact(4 * width).zip(before.pixels.chunks_exact(4 * width)).enumerate();
        let top = rows().find(|(_, (now, then))| now != then)?.0;
        let bottom = rows().rfind(|(_, (now, then))| now != then)?.0 + 1;
        let (mut left, mut right) = (width, 0);
        for (_, (now, then)) in rows().skip(top).take(bottom - top) {
            let differs =
                |column: &usize| now[4 * column..4 * column + 4] != then[4 * column..4 * column + 4];
            if let Some(first) = (0..left).find(differs) {
                left = first;
            }
            if let Some(last) = (right..width).rev().find(differs) {
                right = last + 1;
            }
        }
        Some(Part { left, top, right, bottom })
    }

    /// A part of the picture.
    fn part(&self, part: &Part) -> Self {
        let width = usize::try_from(self.width).unwrap_or(0).max(1);
        let rows = self.pixels.chunks_exact(4 * width).skip(part.top).take(part.bottom - part.top);
        let pixels = rows.flat_map(|row| row[4 * part.left..4 * part.right].iter().copied()).collect();
        let count = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
        Self { width: count(part.right - part.left), height: count(part.bottom - part.top), pixels }
    }
}

/// Columns and rows of a picture, the ends not among them.
struct Part {
    left: usize,
    top: usize,
    right: usize,
    bottom: usize,
}

fn encoder<'a>(
    bytes: &'a mut Vec<u8>,
    picture: &Picture,
    opaque: bool,
    said: Said<'_>,
) -> Result<Encoder<'a, &'a mut Vec<u8>>, EncodingError> {
    let mut encoder = Encoder::new(bytes, picture.width, picture.height);
    encoder.set_color(if opaque { ColorType::Rgb } else { ColorType::Rgba });
    encoder.set_depth(BitDepth::Eight);
    encoder.set_compression(Compression::Fast);
    // Most rows are like the one above them; to try every filter on each would take longer than all the rest.
    encoder.set_filter(Filter::Up);
    encoder.set_source_srgb(png::SrgbRenderingIntent::Perceptual);
    encoder.add_text_chunk("Software".to_owned(), CREATOR.to_owned())?;
    encoder.add_text_chunk("Source".to_owned(), said.number.to_owned())?;
    encoder.add_itxt_chunk("Title".to_owned(), said.title.to_owned())?;
    Ok(encoder)
}

/// An animated PNG in the making, played once: frames are added one by one, and of each only the part that has
/// changed is written.
pub struct Animation<'w> {
    writer: Writer<&'w mut Vec<u8>>,
    opaque: bool,
    per_second: u16,
    last: Option<Picture>,
}

impl<'w> Animation<'w> {
    /// Begins a file of so many frames, all as large as the first one and as opaque.
    pub fn new(
        bytes: &'w mut Vec<u8>,
        first: &Picture,
        count: u32,
        per_second: u16,
        said: Said<'_>,
    ) -> Result<Self, PictureError> {
        let opaque = first.is_opaque();
        let mut encoder = encoder(bytes, first, opaque, said)?;
        encoder.set_animated(count, 1)?;
        encoder.set_blend_op(BlendOp::Source)?;
        encoder.set_dispose_op(DisposeOp::None)?;
        Ok(Self { writer: encoder.write_header()?, opaque, per_second, last: None })
    }

    /// Adds the next frame.
    pub fn add(&mut self, frame: &Picture) -> Result<(), PictureError> {
        let whole = Part {
            left: 0,
            top: 0,
            right: usize::try_from(frame.width).unwrap_or(0),
            bottom: usize::try_from(frame.height).unwrap_or(0),
        };
        let part = match &self.last {
            None => whole,
            // A frame like the one before is told by a single pixel of it.
            Some(last) => frame.changed(last).unwrap_or(Part { left: 0, top: 0, right: 1, bottom: 1 }),
        };
        let changed = frame.part(&part);
        let at = |n: usize| u32::try_from(n).unwrap_or(0);
        // A place has room for a size only once that is known, and the other way round.
        self.writer.reset_frame_position()?;
        self.writer.set_frame_dimension(changed.width, changed.height)?;
        self.writer.set_frame_position(at(part.left), at(part.top))?;
        self.writer.set_frame_delay(1, self.per_second)?;
        self.writer.write_image_data(&changed.straight(self.opaque))?;
        self.last = Some(frame.clone());
        Ok(())
    }

    /// Ends the file.
    pub fn finish(self) -> Result<(), PictureError> {
        Ok(self.writer.finish()?)
    }
}
