//! Zips of our own, and zips made to do harm.

use std::fs;
use std::io::Read;
use std::path::Path;

use asfound::evidence::zip::{Entry, write};
use proptest::prelude::*;

use super::{Job, verify};

/// A stored zip of these files, whatever their paths.
fn zip(files: &[(&str, &[u8])]) -> Vec<u8> {
    let crc = |bytes: &[u8]| {
        let mut hasher = crc32fast::Hasher::new();
        hasher.update(bytes);
        hasher.finalize()
    };
    let entries: Vec<Entry> = files
        .iter()
        .map(|(path, bytes)| Entry { path: (*path).to_owned(), size: bytes.len() as u64, crc32: crc(bytes) })
        .collect();
    let mut out = Vec::new();
    let mut open = |index: usize| Ok(Box::new(files[index].1) as Box<dyn Read>);
    write(&entries, &mut open, &mut out).unwrap();
    out
}

/// RFC 8493's smallest bag: one file, one manifest. The digest is that of the suite's basicBag ("hello\n").
fn bag(more: &[(&'static str, &'static [u8])]) -> Vec<(&'static str, &'static [u8])> {
    let mut files: Vec<(&str, &[u8])> = vec![
        ("b/bagit.txt", b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"),
        ("b/data/hello.txt", b"hello\n"),
        (
            "b/manifest-sha256.txt",
            b"5891b5b522d5df086d0ff0b110fbd9d21bb4fc7163af34d08286a2e846f6be03  data/hello.txt\n",
        ),
    ];
    files.extend(more);
    files
}

fn verdict(bytes: &[u8]) -> (bool, String) {
    let home = tempfile::tempdir().unwrap();
    let path = home.path().join("b.zip");
    fs::write(&path, bytes).unwrap();
    let answer = verify(&path);
    // Nothing was written beside it.
    assert_eq!(fs::read_dir(home.path()).unwrap().count(), 1);
    answer
}

#[test]
fn a_bag_of_another_hand_stands_in_its_zip() {
    let (stands, said) = verdict(&zip(&bag(&[])));
    assert!(stands, "{said}");
}

#[test]
fn no_path_in_a_zip_leaves_the_bag() {
    for path in ["../evil", "b/../../evil", "/etc/evil", "b/data/../../../evil", "b//evil", "c:/evil"] {
        let mut files = bag(&[]);
        files.push((path, b"x"));
        let (stands, said) = verdict(&zip(&files));
        assert!(!stands, "{path}: {said}");
    }
}

#[test]
fn a_file_that_stands_in_a_zip_twice_is_a_fault() {
    // Which of the two a program reads depends on the program.
    let (stands, said) = verdict(&zip(&bag(&[("b/data/hello.txt", b"hallo\n")])));
    assert!(!stands && said.contains("data/hello.txt stands in the zip twice"), "{said}");
}

#[test]
fn two_files_on_the_same_bytes_are_a_fault() {
    let mut bytes = zip(&bag(&[("b/data/x", b"hello\n")]));
    // The directory's last entry is led to the local header of data/hello.txt.
    let header = |bytes: &[u8], path: &[u8], mark: &[u8]| {
        (0..bytes.len()).find(|at| {
            let long = if mark == b"PK\x01\x02" { 46 } else { 30 };
            bytes[*at..].starts_with(mark) && bytes.get(at + long..at + long + path.len()) == Some(path)
        })
    };
    let central = header(&bytes, b"b/data/x", b"PK\x01\x02").unwrap();
    let local = header(&bytes, b"b/data/hello.txt", b"PK\x03\x04").unwrap() as u32;
    bytes[central + 42..central + 46].copy_from_slice(&local.to_le_bytes());
    let (stands, said) = verdict(&bytes);
    assert!(!stands && said.contains("lies on the same bytes as"), "{said}");
}

#[test]
fn a_zip_that_would_grow_without_end_is_refused_before_it_grows() {
    use flate2::Compression;
    use flate2::write::DeflateEncoder;
    use std::io::Write;
    // 5 GiB of zeros are claimed; the directory alone says so.
    let mut encoder = DeflateEncoder::new(Vec::new(), Compression::best());
    encoder.write_all(&vec![0; 1 << 20]).unwrap();
    let packed = encoder.finish().unwrap();
    let mut out = Vec::new();
    let mut archive = rawzip::ZipArchiveWriter::new(&mut out);
    for index in 0..2 {
        let (entry, _) = archive
            .new_file(format!("b/data/{index}"))
            .compression_method(rawzip::CompressionMethod::DEFLATE)
            .start()
            .unwrap();
        let mut entry = entry;
        entry.write_all(&packed).unwrap();
        let claimed = rawzip::DataDescriptorOutput::new(0, 3 << 30);
        entry.finish(claimed).unwrap();
    }
    archive.finish().unwrap();
    let (stands, said) = verdict(&out);
    assert!(!stands && said.contains("it would unpack to 6442450944 bytes"), "{said}");
}

#[test]
fn every_byte_of_our_zip_counts() {
    let job = Job::new();
    let path = job.bagged().join("bag/door.zip");
    let bytes = fs::read(&path).unwrap();
    assert!(verify(&path).0);
    // The fields that no reader looks at: dates, versions, attributes, and the space after the end.
    let local = 10;
    let central = bytes.windows(4).rposition(|window| window == b"PK\x01\x02").unwrap();
    for at in [local, central + 4, central + 12, central + 38, bytes.len() - 1] {
        let mut changed = bytes.clone();
        changed[at] ^= 0x01;
        let (stands, said) = verdict(&changed);
        assert!(!stands, "byte {at}: {said}");
    }
    let mut longer = bytes;
    longer.push(b'\n');
    assert!(!verdict(&longer).0);
}

#[test]
fn other_programs_read_our_zip() {
    let job = Job::new();
    let path = job.bagged().join("bag/door.zip");
    // Python's zipfile (CPython, with every fresh machine) reads each file and its CRC-32.
    let script = "import sys, zipfile; z = zipfile.ZipFile(sys.argv[1]); assert z.testzip() is None; print(len(z.namelist()))";
    let output = std::process::Command::new("python3").args(["-c", script]).arg(&path).output().unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let files = walkdir::WalkDir::new(path.with_extension(""))
        .into_iter()
        .filter(|entry| entry.as_ref().unwrap().file_type().is_file());
    assert_eq!(String::from_utf8_lossy(&output.stdout).trim(), files.count().to_string());
}

#[test]
fn a_zip_beyond_four_gigabytes_has_its_numbers_in_zip64() {
    // 5 GB of zeros, counted and not kept: APPNOTE.TXT 6.3.10, 4.5.3.
    struct Zeros(u64);
    impl Read for Zeros {
        fn read(&mut self, into: &mut [u8]) -> std::io::Result<usize> {
            let read = (into.len() as u64).min(self.0) as usize;
            into[..read].fill(0);
            self.0 -= read as u64;
            Ok(read)
        }
    }
    #[derive(Default)]
    struct Ends(Vec<u8>, u64);
    impl std::io::Write for Ends {
        fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
            if bytes.len() < 1000 {
                self.0.extend(bytes);
            }
            self.1 += bytes.len() as u64;
            Ok(bytes.len())
        }
        fn flush(&mut self) -> std::io::Result<()> {
            Ok(())
        }
    }
    const LARGE: u64 = (1 << 32) + 1000;
    let mut crc = crc32fast::Hasher::new();
    let block = vec![0; 1 << 20];
    for _ in 0..4096 {
        crc.update(&block);
    }
    crc.update(&block[..1000]);
    let entries = [
        Entry { path: "b/large".to_owned(), size: LARGE, crc32: crc.finalize() },
        Entry { path: "b/small".to_owned(), size: 0, crc32: 0 },
    ];
    let mut ends = Ends::default();
    write(&entries, &mut |index| Ok(Box::new(Zeros(entries[index].size)) as Box<dyn Read>), &mut ends)
        .unwrap();
    let headers = ends.0;
    assert_eq!(ends.1, LARGE + headers.len() as u64);
    // Both sizes in the local header's extra field; the second file's place in the directory's.
    assert_eq!(headers[4..6], [45, 0]);
    assert_eq!(
        headers[30 + 7..30 + 7 + 20],
        [&[1, 0, 16, 0][..], &LARGE.to_le_bytes(), &LARGE.to_le_bytes()].concat()
    );
    let place = LARGE + 30 + 7 + 20;
    assert!(headers.windows(12).any(|window| window == [&[1, 0, 8, 0][..], &place.to_le_bytes()].concat()));
    assert!(headers.windows(4).any(|window| window == b"PK\x06\x06"));
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, ..ProptestConfig::default() })]

    #[test]
    fn a_damaged_zip_never_brings_the_program_down(cuts in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..8), end in any::<prop::sample::Index>()) {
        let mut bytes = zip(&bag(&[]));
        for (at, byte) in cuts {
            let at = at.index(bytes.len());
            bytes[at] = byte;
        }
        let end = end.index(bytes.len() * 4).min(bytes.len());
        verdict(&bytes[..end]);
    }
}

#[test]
fn a_zip_beside_a_folder_holds_the_same_files() {
    let job = Job::new();
    let out = job.bagged();
    let home = tempfile::tempdir().unwrap();
    let script = "import sys, zipfile; zipfile.ZipFile(sys.argv[1]).extractall(sys.argv[2])";
    let status = std::process::Command::new("python3")
        .args(["-c", script])
        .arg(out.join("bag/door.zip"))
        .arg(home.path())
        .status()
        .unwrap();
    assert!(status.success());
    let files = |root: &Path| -> Vec<(String, Vec<u8>)> {
        walkdir::WalkDir::new(root)
            .sort_by_file_name()
            .into_iter()
            .map(|entry| entry.unwrap())
            .filter(|entry| entry.file_type().is_file())
            .map(|entry| {
                (
                    entry.path().strip_prefix(root).unwrap().display().to_string(),
                    fs::read(entry.path()).unwrap(),
                )
            })
            .collect()
    };
    assert_eq!(files(&home.path().join("door")), files(&out.join("bag/door")));
}
