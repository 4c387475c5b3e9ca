//! The Library of Congress's conformance suite for BagIt (LibraryOfCongress/bagit-conformance-suite at 9ab4870, CC0), every
//! case of it, where the folder that ASFOUND_CHECKDATA names holds it.

use std::fs;
use std::path::{Path, PathBuf};

use super::verify;

fn cases(of: &str) -> Vec<PathBuf> {
    let folder = std::env::var_os("ASFOUND_CHECKDATA")
        .map_or_else(|| Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/checkdata"), PathBuf::from);
    let mut cases = Vec::new();
    for version in ["v0.97", "v1.0"] {
        let entries = fs::read_dir(folder.join("bagit").join(version).join(of));
        cases.extend(entries.into_iter().flatten().map(|entry| entry.unwrap().path()));
    }
    if cases.is_empty() {
        eprintln!("skipped: the suite is not in the folder that ASFOUND_CHECKDATA names");
    }
    cases.sort();
    cases
}

#[test]
fn every_valid_bag_of_the_suite_stands() {
    for case in cases("valid") {
        let (stands, said) = verify(&case);
        assert!(stands, "{said}");
    }
}

#[test]
fn no_invalid_bag_of_the_suite_stands() {
    for case in cases("invalid") {
        let (stands, said) = verify(&case);
        assert!(!stands && said.contains("differs: "), "{said}");
    }
}

#[test]
fn what_the_suite_warns_of_is_said() {
    for case in cases("warning") {
        let name = case.file_name().unwrap().to_str().unwrap().to_owned();
        let (stands, said) = verify(&case);
        let (noted, lacks) = match name.as_str() {
            "duplicate-file-with-different-case" => {
                ("only as some systems do not tell apart", Some("data/HELLO.txt"))
            }
            "same-filename-listed-twice-with-different-normalization" => {
                ("only as some systems do not tell apart", Some("data/Nu\u{301}n\u{303}ez"))
            }
            "special-system-files" => ("is a file that a system leaves behind", Some("data/.DS_Store")),
            "made-with-md5sum-tools" => ("has a '*' before the path", None),
            "relative-path" => ("has './' before the path", None),
            "same-filename-listed-twice-with-the-same-hash" => ("twice, with the same digest", None),
            other => panic!("a case that is not known: {other}"),
        };
        assert!(said.contains("note: ") && said.contains(noted), "{said}");
        // Some of these bags list a file that the suite itself could not hold: a system that tells the two names apart
        // finds it missing, as bagit 1.9.0 does.
        let there = lacks.is_none_or(|path| case.join(path).exists());
        assert_eq!(stands, there, "{said}");
        assert!(there || said.contains("is missing"), "{said}");
    }
}
