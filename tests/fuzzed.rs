//! What the fuzz targets hold the program to, on the files that fuzzing begins from and on whatever it has found: so the targets
//! keep up with the program, and a find stays mended.

#![allow(clippy::expect_used, clippy::panic)]

// A package's own library here: what is public there is seen by this file alone.
#[allow(unreachable_pub, missing_docs, dead_code)]
#[path = "../fuzz/src/lib.rs"]
mod targets;

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::LazyLock;

/// What fuzzing begins from, a folder a target: made once for all of them.
static CORPORA: LazyLock<PathBuf> = LazyLock::new(|| {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("corpora");
    let _ = fs::remove_dir_all(&folder);
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("fuzz/make_corpus.py");
    let made = Command::new("python3").arg(script).arg(&folder).output().expect("Python 3");
    assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stderr));
    folder
});

/// Tries every file in a folder; gives how many there were.
fn tried(folder: &Path, run: fn(&[u8])) -> usize {
    let Ok(entries) = fs::read_dir(folder) else { return 0 };
    let mut files: Vec<PathBuf> = entries.map(|entry| entry.expect("an entry").path()).collect();
    files.sort();
    for file in &files {
        let bytes = fs::read(file).expect("a file");
        // What is held is told by the target's own message; which file it was, by this.
        let held = std::panic::catch_unwind(|| run(&bytes));
        assert!(held.is_ok(), "{} is a find", file.display());
    }
    files.len()
}

/// Tries what fuzzing begins from, and what it has found (`tests/fuzzed/TARGET`).
fn holds(target: &str, run: fn(&[u8])) {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    assert!(tried(&CORPORA.join(target), run) > 0, "'{target}' has no corpus");
    tried(&root.join("tests/fuzzed").join(target), run);
}

macro_rules! targets {
    ($($claim:ident: $target:ident),* $(,)?) => {$(
        #[test]
        fn $claim() {
            holds(stringify!($target), targets::$target::run);
        }
    )*};
}

targets! {
    a_bag_without_a_fault_has_a_manifest: bag,
    a_table_of_numbers_gives_finite_findings_or_a_refusal: csv,
    notes_call_nothing_that_they_wrote: notes,
    a_pdf_that_carries_nothing_does_not_stand: pdf,
    a_quantity_is_read_again_as_it_was_printed: quantity,
    a_seal_is_good_for_no_other_bytes: seal,
    a_session_gives_finite_findings_or_says_what_is_wrong: session,
    no_text_of_a_session_becomes_code: templates,
    a_sound_gives_finite_findings_or_a_refusal: wav,
    what_is_in_a_zip_stays_inside_and_is_as_large_as_it_says: zip,
}
