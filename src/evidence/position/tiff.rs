//! Exif data (CIPA DC-008, 4.5 and 4.6; TIFF 6.0, section 2): directories of entries, rewritten in place.
//!
//! Every offset stays what it was: a directory loses its entries and its tail becomes zeros, and so does every byte
//! that no entry kept refers to, among them what an earlier program left behind.

use std::ops::Range;

use super::{People, jpeg};

/// Directories that are followed; more are no camera's.
const MOST_DIRECTORIES: usize = 32;
/// Strips of a thumbnail that are followed.
const MOST_STRIPS: u32 = 4096;

const EXIF_DIRECTORY: u16 = 0x8769;
const INTEROPERABILITY: u16 = 0xA005;
const FURTHER: u16 = 0x014A;

/// Entries that hold a position or that nobody can look into: XMP, IPTC and Photoshop's resources inside TIFF; the GPS
/// directory; makers' notes, which hold places too (`ExifTool`'s tables of Nikon's, Panasonic's and Sony's); places on a
/// map (OGC `GeoTIFF` 1.1, annex B).
const POSITIONS: [u16; 11] =
    [0x02BC, 0x83BB, 0x8649, 0x8825, 0x927C, 0x830E, 0x8482, 0x85D8, 0x87AF, 0x87B0, 0x87B1];

/// Entries that name people and their cameras, and free texts: `ImageDescription`, Artist, Copyright, `UserComment`, the
/// texts of Windows (`XPTitle` to `XPSubject`), `CameraOwnerName`, `BodySerialNumber`, `LensSerialNumber`, `ImageUniqueID`; and the
/// title, photographer and editor of Exif 3.0.
const PEOPLE: [u16; 17] = [
    0x010E, 0x013B, 0x8298, 0x9286, 0x9C9B, 0x9C9C, 0x9C9D, 0x9C9E, 0x9C9F, 0xA430, 0xA431, 0xA435, 0xA420,
    0xA436, 0xA437, 0xA438, 0x010D,
];

/// Leaves out of a block of Exif data what must not be published. `None` where it does not follow the rules; the block
/// is then as it was.
pub(super) fn clean(block: &mut [u8], people: People) -> Option<()> {
    let little = match block.get(..4)? {
        b"II*\0" => true,
        b"MM\0*" => false,
        _ => return None,
    };
    let mut reading = Reading { block, little, people, values: Vec::new(), tables: Vec::new() };
    let mut next = reading.long(4)?;
    while next != 0 {
        next = reading.directory(usize::try_from(next).ok()?, true)?;
    }
    let made = reading.made()?;
    block.copy_from_slice(&made);
    Some(())
}

/// A block being gone through.
struct Reading<'a> {
    block: &'a [u8],
    little: bool,
    people: People,
    /// Bytes that entries refer to.
    values: Vec<Range<usize>>,
    /// Where each directory stands, and what it becomes.
    tables: Vec<(Range<usize>, Vec<u8>)>,
}

/// An entry: its tag, its type, how many values, and where they stand.
struct Entry {
    tag: u16,
    kind: u16,
    count: u32,
    at: usize,
}

impl Reading<'_> {
    fn short(&self, at: usize) -> Option<u16> {
        let bytes = self.block.get(at..at.checked_add(2)?)?.try_into().ok()?;
        Some(if self.little { u16::from_le_bytes(bytes) } else { u16::from_be_bytes(bytes) })
    }

    fn long(&self, at: usize) -> Option<u32> {
        let bytes = self.block.get(at..at.checked_add(4)?)?.try_into().ok()?;
        Some(if self.little { u32::from_le_bytes(bytes) } else { u32::from_be_bytes(bytes) })
    }

    /// Reads a directory and what it leads to; gives the offset of the next one, 0 where there is none. One that is not
    /// `chained` has none, and many programs do not even write that.
    fn directory(&mut self, at: usize, chained: bool) -> Option<u32> {
        if self.tables.len() >= MOST_DIRECTORIES || self.tables.iter().any(|(table, _)| table.start == at) {
            return None;
        }
        let count = self.short(at)?;
        let end = at + 2 + 12 * usize::from(count);
        self.block.get(at..end)?;
        let next = if chained { self.long(end)? } else { 0 };
        let length = if chained { end + 4 - at } else { end - at };
        // A place for it, so that none that leads back is followed.
        let index = self.tables.len();
        self.tables.push((at..at + length, Vec::new()));
        let mut kept: Vec<&[u8]> = Vec::new();
        let block = self.block;
        let mut pictures = Pictures::default();
        for start in (at + 2..end).step_by(12) {
            if let Some(entry) = self.entry(start)? {
                self.follow(&entry, &mut pictures)?;
                kept.push(&block[start..start + 12]);
            }
        }
        self.picture(&pictures)?;
        let count = u16::try_from(kept.len()).ok()?;
        let mut table = if self.little { count.to_le_bytes() } else { count.to_be_bytes() }.to_vec();
        table.extend(kept.concat());
        if chained {
            table.extend_from_slice(&block[end..end + 4]);
        }
        table.resize(length, 0);
        self.tables[index].1 = table;
        Some(next)
    }

    /// An entry that is kept, its values looked after; `Some(None)` where it is one that goes.
    #[allow(clippy::option_option)]
    fn entry(&mut self, start: usize) -> Option<Option<Entry>> {
        let (tag, kind, count) = (self.short(start)?, self.short(start + 2)?, self.long(start + 4)?);
        if POSITIONS.contains(&tag) || self.people == People::LeftOut && PEOPLE.contains(&tag) {
            return Some(None);
        }
        // Bytes of each type (TIFF 6.0, section 2; IFD of TIFF Technical Note 1; UTF-8 of Exif 3.0).
        let each: usize = match kind {
            1 | 2 | 6 | 7 | 129 => 1,
            3 | 8 => 2,
            4 | 9 | 11 | 13 => 4,
            5 | 10 | 12 => 8,
            _ => return None,
        };
        let length = usize::try_from(count).ok()?.checked_mul(each)?;
        let mut at = start + 8;
        if length > 4 {
            at = usize::try_from(self.long(at)?).ok()?;
            let values = at..at.checked_add(length)?;
            self.block.get(values.clone())?;
            self.values.push(values);
        }
        Some(Some(Entry { tag, kind, count, at }))
    }

    /// Goes where an entry leads.
    fn follow(&mut self, entry: &Entry, pictures: &mut Pictures) -> Option<()> {
        match entry.tag {
            EXIF_DIRECTORY | INTEROPERABILITY | FURTHER => {
                for at in self.numbers(entry)? {
                    self.directory(at, false)?;
                }
            }
            0x0201 => pictures.jpeg = self.numbers(entry)?.first().copied(),
            0x0202 => pictures.jpeg_length = self.numbers(entry)?.first().copied(),
            0x0111 | 0x0144 => pictures.strips = self.numbers(entry)?,
            0x0117 | 0x0145 => pictures.strip_lengths = self.numbers(entry)?,
            _ => {}
        }
        Some(())
    }

    fn numbers(&self, entry: &Entry) -> Option<Vec<usize>> {
        if entry.count > MOST_STRIPS {
            return None;
        }
        let count = usize::try_from(entry.count).ok()?;
        (0..count)
            .map(|index| match entry.kind {
                3 => self.short(entry.at + 2 * index).map(usize::from),
                4 | 13 => self.long(entry.at + 4 * index).and_then(|value| usize::try_from(value).ok()),
                _ => None,
            })
            .collect()
    }

    /// Keeps a directory's own small picture. One that holds more than a picture is not understood.
    fn picture(&mut self, pictures: &Pictures) -> Option<()> {
        if let (Some(at), Some(length)) = (pictures.jpeg, pictures.jpeg_length) {
            let place = at..at.checked_add(length)?;
            let bytes = self.block.get(place.clone())?;
            if !bytes.is_empty() && !jpeg::is_bare(bytes) {
                return None;
            }
            self.values.push(place);
        }
        if pictures.strips.len() != pictures.strip_lengths.len() {
            return None;
        }
        for (at, length) in pictures.strips.iter().zip(&pictures.strip_lengths) {
            let place = *at..at.checked_add(*length)?;
            self.block.get(place.clone())?;
            self.values.push(place);
        }
        Some(())
    }

    /// The block with what is kept and zeros. Directories may overlap nothing.
    fn made(mut self) -> Option<Vec<u8>> {
        let mut made = vec![0; self.block.len()];
        made[..8].copy_from_slice(&self.block[..8]);
        for place in &self.values {
            made[place.clone()].copy_from_slice(&self.block[place.clone()]);
        }
        self.tables.sort_by_key(|(table, _)| table.start);
        let mut free = 8;
        for (place, table) in &self.tables {
            let clash = self.values.iter().any(|value| value.start < place.end && place.start < value.end);
            if place.start < free || clash {
                return None;
            }
            free = place.end;
            made[place.clone()].copy_from_slice(table);
        }
        Some(made)
    }
}

/// Where a directory says that a picture stands.
#[derive(Default)]
struct Pictures {
    jpeg: Option<usize>,
    jpeg_length: Option<usize>,
    strips: Vec<usize>,
    strip_lengths: Vec<usize>,
}
