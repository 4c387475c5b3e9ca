//! A zip as `verify` meets it: looked at, every file in it read, and the bag in it examined. Nothing is put on disk.

use super::in_folder;
use asfound::evidence::bag::{Holder, examine, may_hold};
use asfound::evidence::zip::Zip;

/// Tries what a fuzzer wrote.
pub fn run(bytes: &[u8]) {
    in_folder(&[("b.zip", bytes)], |folder| {
        let Ok(zip) = Zip::look(&folder.join("b.zip")) else { return };
        let found = examine(&zip, &mut ());
        if found.faults.is_empty() {
            // What would be taken out stays inside, and is as large as it said.
            for (index, held) in zip.files().iter().enumerate() {
                assert!(may_hold(&held.path), "{held:?}");
                let read = zip.bytes(index, 1 << 20).map(|bytes| bytes.len() as u64);
                assert!(read.is_err() || read.is_ok_and(|read| read == held.size), "{held:?}");
            }
        }
    });
}
