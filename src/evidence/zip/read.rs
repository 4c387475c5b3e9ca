//! Anybody's zip, read with care: no path that leaves it, no two files on the same bytes, nothing that grows without end.

use std::fs::File;
use std::io::{self, Read};
use std::path::Path;

use flate2::read::DeflateDecoder;
use rawzip::{CompressionMethod, FileReader, RECOMMENDED_BUFFER_SIZE, ZipArchive, ZipArchiveEntryWayfinder};

use crate::evidence::bag::{Fault, Held, Holder};

/// More files than this are refused.
const MOST_FILES: usize = 200_000;
/// What all files together may come to, whatever the zip's own size: much recorded sound packs into little.
const ALWAYS: u64 = 4 << 30;
/// Beyond that, how many times its own size a zip may unpack to. Deflate reaches 1032 only with nothing but zeros.
const TIMES: u64 = 200;

/// Why a file cannot be read as a zip.
#[derive(Debug, thiserror::Error)]
pub enum ZipReadError {
    /// It is none, or its directory is broken.
    #[error("this is no zip that can be read: {0}")]
    Broken(String),
    /// It would grow without end.
    #[error("it would unpack to {unpacked} bytes from {packed}: refused")]
    Bomb {
        /// What its files say they come to.
        unpacked: u64,
        /// Its own size.
        packed: u64,
    },
    /// The bag must lie in one folder (RFC 8493, 4).
    #[error("{0}")]
    Layout(String),
}

struct Found {
    way: ZipArchiveEntryWayfinder,
    deflated: bool,
    crc32: u32,
}

/// A bag that is a zip: one folder at the top, and everything in it.
pub struct Zip {
    archive: ZipArchive<FileReader>,
    top: String,
    files: Vec<Held>,
    found: Vec<Found>,
    faults: Vec<Fault>,
}

impl Zip {
    /// Reads a zip's directory and holds it against what lies in the zip.
    ///
    /// # Errors
    /// Where there is nothing to be looked at any further.
    pub fn look(path: &Path) -> Result<Self, ZipReadError> {
        let broken = |error: &dyn std::fmt::Display| ZipReadError::Broken(error.to_string());
        let file = File::open(path).map_err(|error| broken(&error))?;
        let packed = file.metadata().map_err(|error| broken(&error))?.len();
        let mut buffer = vec![0; RECOMMENDED_BUFFER_SIZE];
        let archive = ZipArchive::from_file(file, &mut buffer).map_err(|error| broken(&error))?;
        let mut listed = listed(&archive)?;
        let unpacked = listed.iter().fold(0_u64, |sum, (held, _)| sum.saturating_add(held.size));
        if unpacked > ALWAYS.max(packed.saturating_mul(TIMES)) {
            return Err(ZipReadError::Bomb { unpacked, packed });
        }
        let mut faults = Vec::new();
        overlaps(&archive, &listed, &mut faults);
        let top = top(&listed)?;
        listed.retain(|(held, _)| {
            let inside = held.path.strip_prefix(&top).is_some_and(crate::evidence::bag::may_hold);
            if !inside {
                faults.push(Fault::new(&held.path, "is a path that leaves the bag's folder"));
            }
            inside
        });
        listed.sort_by(|a, b| a.0.path.cmp(&b.0.path));
        for pair in listed.windows(2) {
            if let [(a, _), (b, _)] = pair
                && a.path == b.path
            {
                faults.push(Fault::new(&a.path, "stands in the zip twice"));
            }
        }
        listed.dedup_by(|a, b| a.0.path == b.0.path);
        let (mut files, found): (Vec<Held>, Vec<Found>) = listed.into_iter().unzip();
        for held in &mut files {
            held.path = held.path.split_off(top.len());
        }
        Ok(Self { archive, top, files, found, faults })
    }

    /// The bag's folder in the zip, with a `/` at the end.
    pub fn top(&self) -> &str {
        &self.top
    }

    /// A file's CRC-32 as the directory has it.
    pub fn crc32(&self, index: usize) -> Option<u32> {
        self.found.get(index).map(|found| found.crc32)
    }
}

fn listed(archive: &ZipArchive<FileReader>) -> Result<Vec<(Held, Found)>, ZipReadError> {
    let broken = |error: &dyn std::fmt::Display| ZipReadError::Broken(error.to_string());
    let mut buffer = vec![0; RECOMMENDED_BUFFER_SIZE];
    let mut entries = archive.entries(&mut buffer);
    let mut listed = Vec::new();
    while let Some(entry) = entries.next_entry().map_err(|error| broken(&error))? {
        let raw = entry.file_path();
        let Ok(path) = std::str::from_utf8(raw.as_ref()) else {
            return Err(ZipReadError::Layout("a name in the zip is not UTF-8".to_owned()));
        };
        if entry.is_dir() {
            continue;
        }
        let deflated = match entry.compression_method() {
            CompressionMethod::STORE => false,
            CompressionMethod::DEFLATE => true,
            _ => {
                let says =
                    format!("{path} is packed in a way that is not read here (only stored and deflated)");
                return Err(ZipReadError::Layout(says));
            }
        };
        let held = Held { path: path.to_owned(), size: entry.uncompressed_size_hint() };
        listed.push((held, Found { way: entry.wayfinder(), deflated, crc32: entry.crc32() }));
        if listed.len() > MOST_FILES {
            return Err(ZipReadError::Layout(format!("the zip holds more than {MOST_FILES} files")));
        }
    }
    Ok(listed)
}

/// Two files on the same bytes are how a small zip grows without end; no packer makes them.
fn overlaps(archive: &ZipArchive<FileReader>, listed: &[(Held, Found)], faults: &mut Vec<Fault>) {
    let mut ranges = Vec::with_capacity(listed.len());
    for (held, found) in listed {
        match archive.get_entry(found.way) {
            Ok(entry) => {
                let (begin, end) = entry.compressed_data_range();
                ranges.push((begin, end, held.path.as_str()));
            }
            Err(error) => faults.push(Fault::new(&held.path, format!("is not where the zip says: {error}"))),
        }
    }
    ranges.sort_unstable();
    for pair in ranges.windows(2) {
        if let [(_, end, one), (begin, _, other)] = pair
            && begin < end
        {
            faults.push(Fault::new(*other, format!("lies on the same bytes as {one}")));
        }
    }
}

fn top(listed: &[(Held, Found)]) -> Result<String, ZipReadError> {
    let mut tops: Vec<&str> =
        listed.iter().map(|(held, _)| held.path.split_once('/').map_or("", |(top, _)| top)).collect();
    tops.sort_unstable();
    tops.dedup();
    // A path that leaves is told as such further on, beside the folder that there is.
    tops.retain(|top| !matches!(*top, "" | "." | ".."));
    match tops[..] {
        [top] => Ok(format!("{top}/")),
        [] => Err(ZipReadError::Layout("the zip holds no folder; a bag lies in one".to_owned())),
        _ => Err(ZipReadError::Layout(format!("the zip holds {} folders; a bag lies in one", tops.len()))),
    }
}

impl Holder for Zip {
    fn files(&self) -> &[Held] {
        &self.files
    }

    fn faults(&self) -> &[Fault] {
        &self.faults
    }

    fn open(&self, index: usize) -> io::Result<Box<dyn Read + '_>> {
        let found = self.found.get(index).ok_or_else(|| io::Error::from(io::ErrorKind::NotFound))?;
        let entry = self.archive.get_entry(found.way).map_err(io::Error::other)?;
        // A stream that is longer than the zip says is read no further.
        let most = self.files.get(index).map_or(0, |held| held.size).saturating_add(1);
        Ok(if found.deflated {
            Box::new(entry.verifying_reader(DeflateDecoder::new(entry.reader()).take(most)))
        } else {
            Box::new(entry.verifying_reader(entry.reader().take(most)))
        })
    }
}
