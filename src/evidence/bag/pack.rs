//! A bag laid down: payload copied and digested in one reading, then the files that tell of it.

use std::fs;
use std::io::{self, BufWriter, Read, Write};
use std::path::{Path, PathBuf};

use super::examine::AGENT;
use super::line::of_payload;
use super::tags::{OUR_DECLARATION, info_text, manifest_name, manifest_text};
use super::{DECLARATION, INFO, MANIFEST, SESSIONS, TAG_MANIFEST};
use crate::evidence::digest::{Algorithm, Digests, ThroughError, read_through};
use crate::evidence::flushing::Flushing;
use crate::evidence::zip::{Filling, ZipError};

/// The digests of our manifests; RFC 8493, 2.4, wants every tool to know both.
const OURS: [Algorithm; 2] = [Algorithm::Sha512, Algorithm::Sha256];

/// Where a file of a bag comes from.
#[derive(Clone, Debug)]
pub enum Origin {
    /// A file to be copied.
    File(PathBuf),
    /// These bytes.
    Bytes(Vec<u8>),
}

/// A file to go into a bag.
#[derive(Clone, Debug)]
pub struct Source {
    /// Its `/`-separated path below the bag.
    pub path: String,
    /// Where it comes from.
    pub from: Origin,
}

/// A file of a bag as it was laid down.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Packed {
    /// Its `/`-separated path below the bag.
    pub path: String,
    /// Its size in bytes.
    pub size: u64,
    /// Its CRC-32.
    pub crc32: u32,
    sha256: String,
    sha512: String,
}

/// Why a bag could not be laid down.
#[derive(Debug, thiserror::Error)]
pub enum PackError {
    /// A file could not be read.
    #[error("cannot read {}: {source}", path.display())]
    Read {
        /// Which.
        path: PathBuf,
        /// Why.
        source: io::Error,
    },
    /// A file could not be written.
    #[error("cannot write {}: {source}", path.display())]
    Write {
        /// Which.
        path: PathBuf,
        /// Why.
        source: io::Error,
    },
    /// A file does not go into the zip.
    #[error("{0}")]
    Zip(ZipError),
}

impl PackError {
    /// What went wrong with the zip that lies there.
    pub fn of_zip(error: ZipError, zip: &Path) -> Self {
        match error {
            ZipError::Write(source) => Self::Write { path: zip.to_owned(), source },
            ZipError::Read { path, source } => Self::Read { path: path.into(), source },
            error => Self::Zip(error),
        }
    }
}

/// A zip that a bag is laid down in.
pub struct Zipped {
    /// Where it is written, for messages.
    path: PathBuf,
    /// The bag's folder in it, with a `/` at the end.
    top: String,
    filling: Filling<BufWriter<Flushing>>,
}

impl Zipped {
    /// Into an empty file.
    pub fn into(file: fs::File, path: &Path, top: String) -> Self {
        let filling = Filling::new(BufWriter::with_capacity(1 << 20, Flushing::to(file)));
        Self { path: path.to_owned(), top, filling }
    }
}

/// A bag in the making: each file is copied and digested in one reading.
pub struct Packing<'a> {
    folder: Option<PathBuf>,
    zip: Option<Zipped>,
    files: Vec<(Packed, Origin)>,
    tell: &'a mut dyn FnMut(&str),
}

impl<'a> Packing<'a> {
    /// Into an empty folder, a zip, or both; without either nothing is written, and what the bag would hold is recorded.
    /// `tell` hears of each file before it is read.
    pub fn into(folder: Option<&Path>, zip: Option<Zipped>, tell: &'a mut dyn FnMut(&str)) -> Self {
        Self { folder: folder.map(Path::to_owned), zip, files: Vec::new(), tell }
    }

    /// Adds files in the order of [`order_in_zip`]: sessions before all that is made from them.
    ///
    /// # Errors
    /// Where one cannot be read or written.
    pub fn add(&mut self, mut sources: Vec<Source>) -> Result<Vec<Packed>, PackError> {
        sources.sort_by(|a, b| order_in_zip(&a.path).cmp(&order_in_zip(&b.path)));
        let mut added = Vec::with_capacity(sources.len());
        for source in sources {
            (self.tell)(&source.path);
            let packed = self.packed(&source)?;
            added.push(packed.clone());
            self.files.push((packed, source.from));
        }
        Ok(added)
    }

    /// Writes what tells of the bag: these tag files, the declaration, `bag-info.txt` with what it is given and what is
    /// counted here, and the manifests. Gives every file of the bag, in the order of [`order_in_zip`].
    ///
    /// # Errors
    /// Where a file cannot be written.
    pub fn finish(
        mut self,
        program: &str,
        info: &[(String, String)],
        more: Vec<(String, String)>,
    ) -> Result<Vec<(Packed, Origin)>, PackError> {
        let payload: Vec<&Packed> = self.files.iter().map(|(packed, _)| packed).collect();
        let bytes: u64 = payload.iter().map(|packed| packed.size).sum();
        let mut pairs = vec![
            (AGENT.to_owned(), program.to_owned()),
            ("Payload-Oxum".to_owned(), format!("{bytes}.{}", payload.len())),
        ];
        pairs.extend(info.iter().cloned());
        let mut tags = more;
        tags.push((DECLARATION.to_owned(), OUR_DECLARATION.to_owned()));
        tags.push((INFO.to_owned(), info_text(&pairs)));
        tags.extend(
            OURS.map(|algorithm| (manifest_name(MANIFEST, algorithm), manifest(&payload, algorithm))),
        );
        let told = self.add(tags.into_iter().map(text).collect())?;
        let told: Vec<&Packed> = told.iter().collect();
        // Nothing names the manifests of the tag files.
        let last = OURS.map(|algorithm| (manifest_name(TAG_MANIFEST, algorithm), manifest(&told, algorithm)));
        self.add(last.into_iter().map(text).collect())?;
        if let Some(zip) = self.zip.take() {
            let cannot = |source| PackError::Write { path: zip.path.clone(), source };
            let whole = zip.filling.finish().map_err(|error| PackError::of_zip(error, &zip.path))?;
            whole.into_inner().map_err(|error| cannot(error.into_error()))?.finish().map_err(cannot)?;
        }
        Ok(self.files)
    }

    fn packed(&mut self, source: &Source) -> Result<Packed, PackError> {
        let (mut from, size, named): (Box<dyn Read + '_>, u64, PathBuf) = match &source.from {
            Origin::Bytes(bytes) => (Box::new(&bytes[..]), bytes.len() as u64, PathBuf::from(&source.path)),
            Origin::File(path) => {
                let cannot = |source| PackError::Read { path: path.clone(), source };
                let file = fs::File::open(path).map_err(cannot)?;
                let size = file.metadata().map_err(cannot)?.len();
                (Box::new(file), size, path.clone())
            }
        };
        let target = self.folder.as_ref().map(|folder| folder.join(&source.path));
        let digests = match &mut self.zip {
            None => copied(&mut from, &named, target.as_deref(), &mut io::sink(), Path::new(&source.path))?,
            Some(Zipped { path, top, filling }) => {
                let of_zip = |error| PackError::of_zip(error, path);
                filling.begin(format!("{top}{}", source.path), size).map_err(of_zip)?;
                let digests = copied(&mut from, &named, target.as_deref(), filling, path)?;
                filling.end(digests.crc32).map_err(of_zip)?;
                digests
            }
        };
        Ok(Packed::new(source.path.clone(), &digests))
    }
}

/// Where a file of the bag lies in its zip: the sessions first, for all else is made from them; what tells of the bag last.
pub fn order_in_zip(path: &str) -> (u8, &str) {
    let place = match of_payload(path) {
        true if path.starts_with(SESSIONS) => 0,
        true => 1,
        false if !path.starts_with(TAG_MANIFEST) => 2,
        false => 3,
    };
    (place, path)
}

fn text((path, text): (String, String)) -> Source {
    Source { path, from: Origin::Bytes(text.into_bytes()) }
}

/// A manifest is by path, whatever the order of its files.
fn manifest(files: &[&Packed], algorithm: Algorithm) -> String {
    let mut files = files.to_vec();
    files.sort_by(|a, b| a.path.cmp(&b.path));
    manifest_text(files.iter().map(|packed| {
        let digest = if algorithm == Algorithm::Sha512 { &packed.sha512 } else { &packed.sha256 };
        (digest.as_str(), packed.path.as_str())
    }))
}

/// Reads a file to its end, into a zip and, where there is a `target`, there too.
fn copied(
    from: &mut dyn Read,
    named: &Path,
    target: Option<&Path>,
    zip: &mut dyn Write,
    zip_path: &Path,
) -> Result<Digests, PackError> {
    let through = |error, shown: &Path| match error {
        ThroughError::Read(source) => PackError::Read { path: named.to_owned(), source },
        ThroughError::Write(source) => PackError::Write { path: shown.to_owned(), source },
    };
    let Some(target) = target else {
        return read_through(from, &OURS, zip).map_err(|error| through(error, zip_path));
    };
    let cannot_write = |source| PackError::Write { path: target.to_owned(), source };
    if let Some(above) = target.parent() {
        fs::create_dir_all(above).map_err(cannot_write)?;
    }
    let mut both =
        Both { file: Flushing::to(fs::File::create(target).map_err(cannot_write)?), zip, of_zip: false };
    let digests = read_through(from, &OURS, &mut both);
    let shown = if both.of_zip { zip_path } else { target };
    let digests = digests.map_err(|error| through(error, shown))?;
    both.file.finish().map_err(cannot_write)?;
    Ok(digests)
}

/// A file of the folder and its place in the zip.
struct Both<'a> {
    file: Flushing,
    zip: &'a mut dyn Write,
    /// Whether it was the zip that could not be written.
    of_zip: bool,
}

impl Write for Both<'_> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let written = self.file.write(bytes)?;
        if let Err(error) = self.zip.write_all(&bytes[..written]) {
            self.of_zip = true;
            return Err(error);
        }
        Ok(written)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.file.flush()
    }
}

impl Packed {
    fn new(path: String, digests: &Digests) -> Self {
        let of = |algorithm| digests.of(algorithm).unwrap_or_default().to_owned();
        Self {
            path,
            size: digests.size,
            crc32: digests.crc32,
            sha256: of(Algorithm::Sha256),
            sha512: of(Algorithm::Sha512),
        }
    }

    /// Its SHA-256, 64 hexadecimal digits.
    pub fn sha256(&self) -> &str {
        &self.sha256
    }
}
