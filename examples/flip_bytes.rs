//! One byte changed at each of so many places in a bag, its zip and a report: how many are noticed. `benches/ordeal` calls it.
//!
//!     cargo run --release --example flip_bytes -- PLACES OUT/NAME
#![allow(clippy::print_stdout, clippy::unwrap_used, missing_docs)]

use std::fs;
use std::io::{Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};

use asfound::commands::Prover;
use asfound::evidence::bag::{Folder, examine};
use rand_pcg::Pcg64Mcg;
use rand_pcg::rand_core::{Rng, SeedableRng};

/// Each on a copy of its own.
const THREADS: usize = 2;

fn main() {
    let mut arguments = std::env::args().skip(1);
    let places: usize = arguments.next().and_then(|count| count.parse().ok()).unwrap_or(10_000);
    let out = PathBuf::from(arguments.next().unwrap_or_else(|| "out/arbor-bearings".to_owned()));
    let name = out.file_name().unwrap().to_owned();
    let bag = out.join("bag").join(&name);
    let zip = bag.with_extension("zip");
    for (what, path) in [("a report", out.join("report.pdf")), ("a zip", zip), ("a bag", bag)] {
        let noticed = flipped(&path, places);
        println!("{what}: {noticed} of {places} changed bytes noticed");
    }
}

/// Every file of it, with its size.
fn files(path: &Path) -> Vec<(PathBuf, u64)> {
    let walk = walkdir::WalkDir::new(path).sort_by_file_name().into_iter().map(Result::unwrap);
    walk.filter(|entry| entry.file_type().is_file())
        .map(|entry| (entry.path().strip_prefix(path).unwrap().to_owned(), entry.metadata().unwrap().len()))
        .filter(|(_, size)| *size > 0)
        .collect()
}

fn flipped(path: &Path, places: usize) -> usize {
    let noticed = AtomicUsize::new(0);
    std::thread::scope(|scope| {
        for thread in 0..THREADS {
            let noticed = &noticed;
            scope.spawn(move || {
                let home = tempfile::tempdir().unwrap();
                let copy = home.path().join(path.file_name().unwrap());
                let all = files(path);
                for (file, _) in &all {
                    let target = at_or_in(&copy, file);
                    fs::create_dir_all(target.parent().unwrap()).unwrap();
                    fs::copy(at_or_in(path, file), target).unwrap();
                }
                let total: u64 = all.iter().map(|(_, size)| size).sum();
                let mut random = Pcg64Mcg::seed_from_u64(thread as u64);
                let mut prover = Prover::default();
                for _ in (thread..places).step_by(THREADS) {
                    let mut at = random.next_u64() % total;
                    let (file, _) = all
                        .iter()
                        .find(|(_, size)| {
                            at < *size || {
                                at -= size;
                                false
                            }
                        })
                        .unwrap();
                    let target = at_or_in(&copy, file);
                    let bit = 1_u8 << (random.next_u64() % 8);
                    flip(&target, at, bit);
                    // A folder whose digests tell is not also proved from its readings, which finds nothing more.
                    let told = copy.is_dir() && !examine(&Folder::look(&copy), &mut ()).faults.is_empty();
                    if !told && prover.prove_path(&copy, None, &mut |_| {}).is_whole() {
                        println!("not noticed: {} byte {at}, bit {bit:#04x}", target.display());
                    } else {
                        noticed.fetch_add(1, Ordering::Relaxed);
                    }
                    flip(&target, at, bit);
                }
            });
        }
    });
    noticed.into_inner()
}

/// A file in a folder, or the path itself where it is a file: joined to nothing it would be a folder.
fn at_or_in(path: &Path, file: &Path) -> PathBuf {
    if file.as_os_str().is_empty() { path.to_owned() } else { path.join(file) }
}

fn flip(path: &Path, at: u64, bit: u8) {
    let mut file = fs::OpenOptions::new().read(true).write(true).open(path).unwrap();
    let mut byte = [0];
    file.seek(SeekFrom::Start(at)).unwrap();
    file.read_exact(&mut byte).unwrap();
    file.seek(SeekFrom::Start(at)).unwrap();
    file.write_all(&[byte[0] ^ bit]).unwrap();
}
