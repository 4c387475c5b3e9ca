//! Digests of streams: several at once, in one reading, side by side where the stream is long.

use std::fs::File;
use std::io::{self, Read, Write};
use std::path::Path;
use std::sync::Arc;
use std::sync::mpsc::sync_channel;

use md5::Md5;
use sha1::Sha1;
use sha2::digest::DynDigest;
use sha2::{Sha224, Sha256, Sha384, Sha512};

/// A digest that a manifest may be written in. SHA-2 is FIPS 180-4; bags of others may still have MD5
/// (RFC 1321) and SHA-1, which find damage but no forger.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Algorithm {
    /// RFC 1321.
    Md5,
    /// FIPS 180-4.
    Sha1,
    /// FIPS 180-4.
    Sha224,
    /// FIPS 180-4.
    Sha256,
    /// FIPS 180-4.
    Sha384,
    /// FIPS 180-4.
    Sha512,
}

impl Algorithm {
    const ALL: [Self; 6] = [Self::Md5, Self::Sha1, Self::Sha224, Self::Sha256, Self::Sha384, Self::Sha512];

    /// As a manifest's file name has it (RFC 8493, 2.4: lower case, no punctuation).
    pub fn name(self) -> &'static str {
        match self {
            Self::Md5 => "md5",
            Self::Sha1 => "sha1",
            Self::Sha224 => "sha224",
            Self::Sha256 => "sha256",
            Self::Sha384 => "sha384",
            Self::Sha512 => "sha512",
        }
    }

    /// The digest of that name.
    pub fn named(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|algorithm| algorithm.name() == name)
    }

    fn begin(self) -> Box<dyn DynDigest + Send> {
        match self {
            Self::Md5 => Box::new(Md5::default()),
            Self::Sha1 => Box::new(Sha1::default()),
            Self::Sha224 => Box::new(Sha224::default()),
            Self::Sha256 => Box::new(Sha256::default()),
            Self::Sha384 => Box::new(Sha384::default()),
            Self::Sha512 => Box::new(Sha512::default()),
        }
    }
}

/// What came of reading a stream through.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Digests {
    /// How many bytes there were.
    pub size: u64,
    /// CRC-32 of ISO 3309, as a zip has it.
    pub crc32: u32,
    of: Vec<(Algorithm, String)>,
}

impl Digests {
    /// One of the digests that were asked for, in lower-case hexadecimal.
    pub fn of(&self, algorithm: Algorithm) -> Option<&str> {
        self.of.iter().find(|(known, _)| *known == algorithm).map(|(_, hex)| hex.as_str())
    }
}

/// The SHA-256 of a file, 64 hexadecimal digits; it is never whole in memory.
///
/// # Errors
/// Where it cannot be read.
pub fn sha256_of(path: &Path) -> io::Result<String> {
    let through = read_through(&mut File::open(path)?, &[Algorithm::Sha256], &mut io::sink());
    let digests = through.map_err(|error| match error {
        ThroughError::Read(error) | ThroughError::Write(error) => error,
    })?;
    Ok(digests.of(Algorithm::Sha256).unwrap_or_default().to_owned())
}

/// Which side failed.
#[derive(Debug, thiserror::Error)]
pub enum ThroughError {
    /// The stream could not be read.
    #[error("{0}")]
    Read(io::Error),
    /// The copy could not be written.
    #[error("{0}")]
    Write(io::Error),
}

/// Bytes that are read at a time.
const BLOCK: usize = 1 << 20;
/// Blocks that wait for a digest at most.
const WAITING: usize = 4;

/// Reads a stream to its end and gives its digests; every byte is also written to `copy`. A long stream
/// has a thread for each digest.
///
/// # Errors
/// Where the stream cannot be read or the copy not be written.
pub fn read_through(
    from: &mut dyn Read,
    algorithms: &[Algorithm],
    copy: &mut dyn Write,
) -> Result<Digests, ThroughError> {
    let first = block(from)?;
    copy.write_all(&first).map_err(ThroughError::Write)?;
    if first.len() < BLOCK {
        let mut crc = crc32fast::Hasher::new();
        crc.update(&first);
        let of = algorithms.iter().map(|algorithm| {
            let mut running = algorithm.begin();
            running.update(&first);
            (*algorithm, super::hex(&running.finalize()))
        });
        return Ok(Digests { size: first.len() as u64, crc32: crc.finalize(), of: of.collect() });
    }
    side_by_side(first, from, algorithms, copy)
}

fn side_by_side(
    first: Vec<u8>,
    from: &mut dyn Read,
    algorithms: &[Algorithm],
    copy: &mut dyn Write,
) -> Result<Digests, ThroughError> {
    std::thread::scope(|scope| {
        let mut hands = Vec::with_capacity(algorithms.len());
        for algorithm in algorithms {
            let (hand, blocks) = sync_channel::<Arc<Vec<u8>>>(WAITING);
            let mut running = algorithm.begin();
            let worker = scope.spawn(move || {
                for block in blocks {
                    running.update(&block);
                }
                super::hex(&running.finalize())
            });
            hands.push((*algorithm, hand, worker));
        }
        let (mut size, mut crc) = (0, crc32fast::Hasher::new());
        let mut spare = Vec::new();
        let mut block_at_hand = Arc::new(first);
        loop {
            for (_, hand, _) in &hands {
                // A worker ends only when its hand is let go.
                let _ = hand.send(Arc::clone(&block_at_hand));
            }
            size += block_at_hand.len() as u64;
            crc.update(&block_at_hand);
            let mut next = reusable(&mut spare);
            spare.push(block_at_hand);
            fill(&mut next, from)?;
            if next.is_empty() {
                break;
            }
            copy.write_all(&next).map_err(ThroughError::Write)?;
            block_at_hand = Arc::new(next);
        }
        let mut of = Vec::with_capacity(algorithms.len());
        for (algorithm, hand, worker) in hands {
            drop(hand);
            let lost = |_| ThroughError::Read(io::Error::other("a digest was not finished"));
            of.push((algorithm, worker.join().map_err(lost)?));
        }
        Ok(Digests { size, crc32: crc.finalize(), of })
    })
}

/// A block that every digest is done with, or a new one: a fresh megabyte costs the system more than reading into it.
fn reusable(spare: &mut Vec<Arc<Vec<u8>>>) -> Vec<u8> {
    let done = spare.iter().position(|block| Arc::strong_count(block) == 1);
    let block = done.and_then(|index| Arc::into_inner(spare.swap_remove(index)));
    block.unwrap_or_else(|| Vec::with_capacity(BLOCK))
}

/// The first block: as long as a block is, unless the stream ends in it.
fn block(from: &mut dyn Read) -> Result<Vec<u8>, ThroughError> {
    let mut block = Vec::with_capacity(BLOCK);
    fill(&mut block, from)?;
    Ok(block)
}

fn fill(block: &mut Vec<u8>, from: &mut dyn Read) -> Result<(), ThroughError> {
    block.clear();
    from.take(BLOCK as u64).read_to_end(block).map_err(ThroughError::Read)?;
    Ok(())
}

#[cfg(test)]
#[allow(clippy::unwrap_used, clippy::cast_possible_truncation)]
mod tests {
    use super::{Algorithm, BLOCK, read_through};

    fn digest(bytes: &[u8], algorithm: Algorithm) -> String {
        let mut copy = Vec::new();
        let digests = read_through(&mut &bytes[..], &[Algorithm::Sha256, algorithm], &mut copy).unwrap();
        assert_eq!(copy, bytes);
        assert_eq!(digests.size, bytes.len() as u64);
        digests.of(algorithm).unwrap().to_owned()
    }

    #[test]
    fn a_million_letters_a_have_the_published_digests_however_they_are_cut() {
        // FIPS 180-4's long example, as in CPython 3.11.7, Lib/test/test_hashlib.py; it is a little shorter than a block.
        let million = vec![b'a'; 1_000_000];
        assert_eq!(
            digest(&million, Algorithm::Sha256),
            "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0"
        );
        // Several blocks side by side give what one thread gives.
        for length in [BLOCK - 1, BLOCK, BLOCK + 1, 3 * BLOCK + 17] {
            let bytes: Vec<u8> = (0..length).map(|index| (index % 251) as u8).collect();
            assert_eq!(digest(&bytes, Algorithm::Sha256), super::super::sha256(&bytes));
        }
    }

    #[test]
    fn the_older_digests_are_those_of_their_standards() {
        // RFC 1321, A.5; FIPS 180-4 examples ("abc"), as in CPython 3.11.7, Lib/test/test_hashlib.py.
        for (algorithm, abc) in [
            (Algorithm::Md5, "900150983cd24fb0d6963f7d28e17f72"),
            (Algorithm::Sha1, "a9993e364706816aba3e25717850c26c9cd0d89d"),
            (Algorithm::Sha224, "23097d223405d8228642a477bda255b32aadbce4bda0b3f7e36c9da7"),
        ] {
            assert_eq!(digest(b"abc", algorithm), abc);
        }
    }
}
