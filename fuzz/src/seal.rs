//! A seal, its signature and its time stamp, written by anybody.

use std::sync::Arc;

use asfound::evidence::seal::{parse, signature, stamp, text};
use asfound::session::{Problems, SourceFile, Walls};

/// Tries what a fuzzer wrote.
pub fn run(bytes: &[u8]) {
    let Some((first, rest)) = bytes.split_first() else { return };
    match first % 4 {
        0 => {
            let Ok(written) = std::str::from_utf8(rest) else { return };
            let walls = Walls::around(&std::env::temp_dir()).expect("a folder");
            let mut problems = Problems::default();
            let source = Arc::new(SourceFile::whole("job/visits/as-found/seal.txt", written));
            match parse(&source, "as-found", &walls, &mut problems) {
                // A seal has one form: what is read is written again to the byte.
                Some(seal) => assert_eq!(text::of(&seal), written),
                None => assert!(!problems.is_empty(), "refused, and nothing is said"),
            }
        }
        1 => assert!(!signature::check(b"other bytes", Ok(rest.to_vec())).is_good()),
        2 => assert!(!stamp::check(b"other bytes", Ok(rest.to_vec())).is_good()),
        _ => drop(signature::SigningKey::read(rest)),
    }
}
