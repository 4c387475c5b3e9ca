//! A bag laid down: payload copied and digested in one reading, then the files that tell of it.

use std::fs;
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use super::examine::AGENT;
use super::line::of_payload;
use super::tags::{OUR_DECLARATION, info_text, manifest_name, manifest_text};
use super::{DECLARATION, INFO, MANIFEST, TAG_MANIFEST};
use crate::evidence::digest::{Algorithm, Digests, ThroughError, read_through};
use crate::evidence::flushing::Flushing;

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
}

/// A bag in the making: each file is copied and digested in one reading.
pub struct Packing<'a> {
    folder: Option<PathBuf>,
    files: Vec<(Packed, Origin)>,
    tell: &'a mut dyn FnMut(&str),
}

impl<'a> Packing<'a> {
    /// Into an empty folder; without one nothing is written, and what the bag would hold is recorded. `tell` hears of
    /// each file before it is read.
    pub fn into(folder: Option<&Path>, tell: &'a mut dyn FnMut(&str)) -> Self {
        Self { folder: folder.map(Path::to_owned), files: Vec::new(), tell }
    }

    /// Adds a file: of the payload where it lies in `data/`.
    ///
    /// # Errors
    /// Where it cannot be read or written.
    pub fn add(&mut self, source: Source) -> Result<Packed, PackError> {
        (self.tell)(&source.path);
        let packed = packed(&source, self.folder.as_deref())?;
        self.files.push((packed.clone(), source.from));
        Ok(packed)
    }

    /// Writes what tells of the bag: the declaration, `bag-info.txt` with what it is given and what is counted here, and
    /// the manifests. Gives every file of the bag, by path.
    ///
    /// # Errors
    /// Where a file cannot be written.
    pub fn finish(
        mut self,
        program: &str,
        info: &[(String, String)],
    ) -> Result<Vec<(Packed, Origin)>, PackError> {
        self.files.sort_by(|a, b| a.0.path.cmp(&b.0.path));
        let payload: Vec<&Packed> =
            self.files.iter().map(|(packed, _)| packed).filter(|p| of_payload(&p.path)).collect();
        let bytes: u64 = payload.iter().map(|packed| packed.size).sum();
        let mut pairs = vec![
            (AGENT.to_owned(), program.to_owned()),
            ("Payload-Oxum".to_owned(), format!("{bytes}.{}", payload.len())),
        ];
        pairs.extend(info.iter().cloned());
        let manifests =
            OURS.map(|algorithm| (manifest_name(MANIFEST, algorithm), manifest(&payload, algorithm)));
        self.write(DECLARATION, OUR_DECLARATION.to_owned())?;
        self.write(INFO, info_text(&pairs))?;
        for (name, text) in manifests {
            self.write(&name, text)?;
        }
        self.files.sort_by(|a, b| a.0.path.cmp(&b.0.path));
        let tags: Vec<&Packed> =
            self.files.iter().map(|(packed, _)| packed).filter(|p| !of_payload(&p.path)).collect();
        // Nothing names the manifests of the tag files.
        for (name, text) in
            OURS.map(|algorithm| (manifest_name(TAG_MANIFEST, algorithm), manifest(&tags, algorithm)))
        {
            self.write(&name, text)?;
        }
        self.files.sort_by(|a, b| a.0.path.cmp(&b.0.path));
        Ok(self.files)
    }

    fn write(&mut self, path: &str, text: String) -> Result<(), PackError> {
        self.add(Source { path: path.to_owned(), from: Origin::Bytes(text.into_bytes()) }).map(|_| ())
    }
}

fn manifest(files: &[&Packed], algorithm: Algorithm) -> String {
    manifest_text(files.iter().map(|packed| {
        let digest = if algorithm == Algorithm::Sha512 { &packed.sha512 } else { &packed.sha256 };
        (digest.as_str(), packed.path.as_str())
    }))
}

fn packed(source: &Source, folder: Option<&Path>) -> Result<Packed, PackError> {
    let target = folder.map(|folder| folder.join(&source.path));
    let shown = target.clone().unwrap_or_else(|| PathBuf::from(&source.path));
    let cannot_write = |source: io::Error| PackError::Write { path: shown.clone(), source };
    let (mut from, named): (Box<dyn Read + '_>, PathBuf) = match &source.from {
        Origin::Bytes(bytes) => (Box::new(&bytes[..]), PathBuf::from(&source.path)),
        Origin::File(path) => {
            let file =
                fs::File::open(path).map_err(|source| PackError::Read { path: path.clone(), source })?;
            (Box::new(file), path.clone())
        }
    };
    let through = |error| match error {
        ThroughError::Read(source) => PackError::Read { path: named.clone(), source },
        ThroughError::Write(source) => cannot_write(source),
    };
    let digests = match &target {
        None => read_through(&mut from, &OURS, &mut io::sink()).map_err(through)?,
        Some(target) => {
            if let Some(above) = target.parent() {
                fs::create_dir_all(above).map_err(cannot_write)?;
            }
            let mut file = Flushing::to(fs::File::create(target).map_err(cannot_write)?);
            let digests = read_through(&mut from, &OURS, &mut file).map_err(through)?;
            file.finish().map_err(cannot_write)?;
            digests
        }
    };
    Ok(Packed::new(source.path.clone(), &digests))
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
