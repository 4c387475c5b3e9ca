//! A zip that depends on nothing but what it holds: stored, not compressed (what is damaged in one file stays in it,
//! and pictures, sound and PDF do not shrink), with one fixed date and no owner. How it is written must never change:
//! years later the same files must give the same bytes, so no library writes it.
//!
//! APPNOTE.TXT 6.3.10, 4.3.7 (local header), 4.3.12 (central directory), 4.3.14 to 4.3.16 (ends), 4.5.3 (zip64).

use std::io::{self, Read, Seek, SeekFrom, Write};

/// A file to be stored. Its size and CRC-32 are known before: a header tells them, and nothing is written twice.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Entry {
    /// Its `/`-separated path.
    pub path: String,
    /// Its size in bytes.
    pub size: u64,
    /// Its CRC-32.
    pub crc32: u32,
}

/// Why a zip could not be written.
#[derive(Debug, thiserror::Error)]
pub enum ZipError {
    /// A file could not be read.
    #[error("{path} cannot be read: {source}")]
    Read {
        /// Which.
        path: String,
        /// Why.
        source: io::Error,
    },
    /// A file is not what it was when its size and CRC-32 were taken.
    #[error("{path} changed while it was packed")]
    Changed {
        /// Which.
        path: String,
    },
    /// A path is longer than a zip can hold.
    #[error("{path} is longer than a zip's 65535 bytes")]
    Name {
        /// Which.
        path: String,
    },
    /// The zip could not be written.
    #[error("{0}")]
    Write(io::Error),
}

const LOCAL: u32 = 0x0403_4b50;
const CENTRAL: u32 = 0x0201_4b50;
const END: u32 = 0x0605_4b50;
const END64: u32 = 0x0606_4b50;
const LOCATOR64: u32 = 0x0706_4b50;
/// Names are UTF-8 (general purpose bit 11).
const UTF8: u16 = 1 << 11;
/// 1 January 1980, the first day that a zip can tell.
const DAY: u16 = 0x21;
/// Version 2.0 of the format, or 4.5 where zip64 is needed.
const PLAIN: u16 = 20;
const LARGE: u16 = 45;
/// Made on Unix: the attributes are a file's mode.
const UNIX: u16 = 3 << 8;
/// An ordinary file that everybody may read.
const MODE: u32 = 0o100_644 << 16;
const FULL32: u32 = u32::MAX;
const FULL16: u16 = u16::MAX;

/// Writes a zip of these files in this order. `open` gives each one's bytes.
///
/// # Errors
/// Where a file cannot be read or is not what its entry says, and where the zip cannot be written.
pub fn write<'a>(
    entries: &[Entry],
    open: &mut dyn FnMut(usize) -> io::Result<Box<dyn Read + 'a>>,
    out: &mut dyn Write,
) -> Result<(), ZipError> {
    let mut out = Counted { out, at: 0 };
    let mut starts = Vec::with_capacity(entries.len());
    for (index, entry) in entries.iter().enumerate() {
        starts.push(out.at);
        out.put(&local(entry)?)?;
        content(entry, &mut || open(index), &mut out)?;
    }
    let directory = out.at;
    for (entry, start) in entries.iter().zip(&starts) {
        out.put(&central(entry, *start)?)?;
    }
    let length = out.at - directory;
    out.put(&ends(entries.len() as u64, directory, length))?;
    out.out.flush().map_err(ZipError::Write)
}

struct Counted<'a> {
    out: &'a mut dyn Write,
    at: u64,
}

impl Counted<'_> {
    fn put(&mut self, bytes: &[u8]) -> Result<(), ZipError> {
        self.out.write_all(bytes).map_err(ZipError::Write)?;
        self.at += bytes.len() as u64;
        Ok(())
    }
}

fn content<'a>(
    entry: &Entry,
    open: &mut dyn FnMut() -> io::Result<Box<dyn Read + 'a>>,
    out: &mut Counted<'_>,
) -> Result<(), ZipError> {
    let at = |source| ZipError::Read { path: entry.path.clone(), source };
    let mut from = open().map_err(at)?;
    let mut block = vec![0; 1 << 18];
    let (mut size, mut crc) = (0, crc32fast::Hasher::new());
    loop {
        let read = match from.read(&mut block) {
            Ok(0) => break,
            Ok(read) => read,
            Err(error) if error.kind() == io::ErrorKind::Interrupted => continue,
            Err(error) => return Err(at(error)),
        };
        size += read as u64;
        if size > entry.size {
            break;
        }
        crc.update(&block[..read]);
        out.put(&block[..read])?;
    }
    if size != entry.size || crc.finalize() != entry.crc32 {
        return Err(ZipError::Changed { path: entry.path.clone() });
    }
    Ok(())
}

/// Bytes of a header, least first.
#[derive(Default)]
struct Header(Vec<u8>);

impl Header {
    fn two(mut self, value: u16) -> Self {
        self.0.extend(value.to_le_bytes());
        self
    }

    fn four(mut self, value: u32) -> Self {
        self.0.extend(value.to_le_bytes());
        self
    }

    fn eight(mut self, value: u64) -> Self {
        self.0.extend(value.to_le_bytes());
        self
    }

    fn bytes(mut self, bytes: &[u8]) -> Self {
        self.0.extend(bytes);
        self
    }
}

fn is_large(size: u64) -> bool {
    size >= u64::from(FULL32)
}

/// The low half of a number, or all ones where it stands in zip64.
#[expect(clippy::cast_possible_truncation, reason = "a number that does not fit stands in zip64")]
fn half(value: u64) -> u32 {
    if is_large(value) { FULL32 } else { value as u32 }
}

fn name_length(entry: &Entry) -> Result<u16, ZipError> {
    u16::try_from(entry.path.len()).map_err(|_| ZipError::Name { path: entry.path.clone() })
}

/// The extra field of zip64 (4.5.3) with those numbers that do not fit into the header.
fn extra(numbers: &[u64]) -> Vec<u8> {
    if numbers.is_empty() {
        return Vec::new();
    }
    let length = u16::try_from(numbers.len() * 8).unwrap_or(FULL16);
    numbers.iter().fold(Header::default().two(1).two(length), |header, number| header.eight(*number)).0
}

/// Version needed, flags, method, time and day, CRC-32 and both sizes: what both headers share.
fn shared(header: Header, entry: &Entry, version: u16) -> Header {
    header
        .two(version)
        .two(UTF8)
        .two(0)
        .two(0)
        .two(DAY)
        .four(entry.crc32)
        .four(half(entry.size))
        .four(half(entry.size))
}

pub(super) fn local(entry: &Entry) -> Result<Vec<u8>, ZipError> {
    let large = is_large(entry.size);
    let extra = if large { extra(&[entry.size, entry.size]) } else { Vec::new() };
    let version = if large { LARGE } else { PLAIN };
    let header = shared(Header::default().four(LOCAL), entry, version)
        .two(name_length(entry)?)
        .two(u16::try_from(extra.len()).unwrap_or(FULL16))
        .bytes(entry.path.as_bytes())
        .bytes(&extra);
    Ok(header.0)
}

pub(super) fn central(entry: &Entry, start: u64) -> Result<Vec<u8>, ZipError> {
    let mut numbers = Vec::new();
    if is_large(entry.size) {
        numbers.extend([entry.size, entry.size]);
    }
    if is_large(start) {
        numbers.push(start);
    }
    let version = if numbers.is_empty() { PLAIN } else { LARGE };
    let extra = extra(&numbers);
    let header = shared(Header::default().four(CENTRAL).two(UNIX | version), entry, version)
        .two(name_length(entry)?)
        .two(u16::try_from(extra.len()).unwrap_or(FULL16))
        .two(0)
        .two(0)
        .two(0)
        .four(MODE)
        .four(half(start))
        .bytes(entry.path.as_bytes())
        .bytes(&extra);
    Ok(header.0)
}

/// The end of the directory, behind that of zip64 where a number does not fit.
pub(super) fn ends(count: u64, directory: u64, length: u64) -> Vec<u8> {
    let few = u16::try_from(count).ok().filter(|count| *count < FULL16);
    let mut header = Header::default();
    if few.is_none() || is_large(directory) || is_large(length) {
        header = header
            .four(END64)
            .eight(44)
            .two(UNIX | LARGE)
            .two(LARGE)
            .four(0)
            .four(0)
            .eight(count)
            .eight(count)
            .eight(length)
            .eight(directory)
            .four(LOCATOR64)
            .four(0)
            .eight(directory + length)
            .four(1);
    }
    let count = few.unwrap_or(FULL16);
    header.four(END).two(0).two(0).two(count).two(count).four(half(length)).four(half(directory)).two(0).0
}

/// Where a stream first differs from the zip that [`write()`] would write; none where it is that zip.
///
/// # Errors
/// As [`write()`], but for the writing.
pub fn same_as_written<'a>(
    entries: &[Entry],
    open: &mut dyn FnMut(usize) -> io::Result<Box<dyn Read + 'a>>,
    is: &mut dyn Read,
) -> Result<Option<u64>, ZipError> {
    let mut against = Against { is, at: 0, differs: None };
    match write(entries, open, &mut against) {
        Ok(()) => {}
        Err(ZipError::Write(_)) if against.differs.is_some() => return Ok(against.differs),
        Err(error) => return Err(error),
    }
    let mut more = [0];
    let longer = against.is.read(&mut more).map_err(ZipError::Write)? > 0;
    Ok(longer.then_some(against.at))
}

/// Where the packing of a zip (all that is no file's content) first differs from that which [`write()`] would write; none
/// where it is that packing. Contents are not read: where the directory is right they lie where they must, and whoever
/// knows their digests has read them.
///
/// # Errors
/// Where the zip cannot be read, or a path is longer than one can hold.
pub fn packed_as_written<R: Read + Seek>(entries: &[Entry], is: &mut R) -> Result<Option<u64>, ZipError> {
    let length = is.seek(SeekFrom::End(0)).map_err(ZipError::Write)?;
    let mut differs = |at: u64, wanted: &[u8]| -> Result<Option<u64>, ZipError> {
        let mut stands = Vec::with_capacity(wanted.len());
        is.seek(SeekFrom::Start(at)).map_err(ZipError::Write)?;
        is.by_ref().take(wanted.len() as u64).read_to_end(&mut stands).map_err(ZipError::Write)?;
        let same = wanted.iter().zip(&stands).take_while(|(a, b)| a == b).count();
        Ok((same < wanted.len()).then_some(at + same as u64))
    };
    let mut at = 0;
    let mut directory = Vec::new();
    for entry in entries {
        let header = local(entry)?;
        if let Some(place) = differs(at, &header)? {
            return Ok(Some(place));
        }
        directory.extend(central(entry, at)?);
        at = at.saturating_add(header.len() as u64).saturating_add(entry.size);
    }
    let begin = at;
    let central_length = directory.len() as u64;
    directory.extend(ends(entries.len() as u64, begin, central_length));
    if let Some(place) = differs(begin, &directory)? {
        return Ok(Some(place));
    }
    let end = begin + directory.len() as u64;
    Ok((length != end).then_some(end.min(length)))
}

struct Against<'a> {
    is: &'a mut dyn Read,
    at: u64,
    differs: Option<u64>,
}

impl Write for Against<'_> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let mut is = vec![0; bytes.len()];
        let mut filled = 0;
        while filled < is.len() {
            match self.is.read(&mut is[filled..]) {
                Ok(0) => break,
                Ok(read) => filled += read,
                Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
                Err(error) => return Err(error),
            }
        }
        let same = bytes.iter().zip(&is[..filled]).take_while(|(a, b)| a == b).count();
        if same < bytes.len() {
            self.differs = Some(self.at + same as u64);
            return Err(io::Error::other("it differs"));
        }
        self.at += bytes.len() as u64;
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}
