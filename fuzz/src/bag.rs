//! The tag files and manifests of a bag that somebody else made, held in memory.

use std::io::{self, Read};

use asfound::evidence::bag::{Fault, Held, Holder, examine};

struct Memory {
    held: Vec<Held>,
    bytes: Vec<Vec<u8>>,
}

impl Holder for Memory {
    fn files(&self) -> &[Held] {
        &self.held
    }

    fn faults(&self) -> &[Fault] {
        &[]
    }

    fn open(&self, index: usize) -> io::Result<Box<dyn Read + '_>> {
        let bytes = self.bytes.get(index).ok_or_else(|| io::Error::from(io::ErrorKind::NotFound))?;
        Ok(Box::new(bytes.as_slice()))
    }
}

/// The files of a bag whose contents are the fuzzer's; the last one's name is too.
const NAMES: [&str; 8] = [
    "bag-info.txt",
    "bagit.txt",
    "data/a",
    "data/b c",
    "fetch.txt",
    "manifest-md5.txt",
    "manifest-sha256.txt",
    "tagmanifest-sha256.txt",
];

/// Tries what a fuzzer wrote.
pub fn run(bytes: &[u8]) {
    let mut parts = bytes.split(|byte| *byte == 0xff);
    let mut files: Vec<(String, Vec<u8>)> = Vec::new();
    for name in NAMES {
        let Some(part) = parts.next() else { break };
        if part != b"-" {
            files.push((name.to_owned(), part.to_vec()));
        }
    }
    if let Some(name) = parts.next().and_then(|name| std::str::from_utf8(name).ok()) {
        if !name.is_empty() && !NAMES.contains(&name) {
            files.push((name.to_owned(), b"x".to_vec()));
        }
    }
    files.sort();
    let held =
        files.iter().map(|(path, bytes)| Held { path: path.clone(), size: bytes.len() as u64 }).collect();
    let memory = Memory { held, bytes: files.into_iter().map(|(_, bytes)| bytes).collect() };
    let found = examine(&memory, &mut ());
    // A bag without one fault has a manifest with every file in it.
    if found.faults.is_empty() {
        assert!(!found.algorithms.is_empty(), "{found:?}");
    }
}
