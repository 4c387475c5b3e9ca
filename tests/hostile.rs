//! What a session must not be able to do: every folder of `tests/hostile` gets its messages and its
//! exit code, and the ones that are merely strange get their report.
#![allow(
    clippy::pedantic,
    clippy::approx_constant,
    clippy::print_stderr,
    clippy::redundant_clone,
    missing_docs,
    clippy::unwrap_used,
    clippy::panic
)]

mod common;

use std::fs;
use std::path::{Path, PathBuf};

use common::asfound;

fn hostile() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/hostile")
}

fn inspect(folder: &Path) -> (u8, String) {
    let shown = folder.display().to_string();
    let (code, _, err) = asfound(&["inspect", &shown]);
    (code, err.replace(&shown, &format!("…/{}", folder.file_name().unwrap().to_string_lossy())))
}

/// The table of `tests/hostile/README.md`: folder, and `error` or `report`.
fn expectations() -> Vec<(String, String)> {
    let text = fs::read_to_string(hostile().join("README.md")).unwrap();
    text.lines()
        .filter_map(|line| {
            let cells: Vec<&str> = line.split('|').map(str::trim).collect();
            let folder = cells.get(1)?.strip_prefix('`')?.strip_suffix('`')?;
            let expected = cells.get(2)?.trim_matches('`');
            Some((folder.to_owned(), expected.to_owned()))
        })
        .collect()
}

fn names() -> Vec<String> {
    let mut names: Vec<String> = fs::read_dir(hostile())
        .unwrap()
        .map(Result::unwrap)
        .filter(|entry| entry.path().is_dir())
        .map(|entry| entry.file_name().to_string_lossy().into_owned())
        .collect();
    names.sort();
    names
}

#[test]
fn every_hostile_session_gets_the_exit_code_that_its_table_promises() {
    let expected = expectations();
    assert_eq!(expected.len(), names().len(), "the table and the folders differ");
    let mut wrong = Vec::new();
    for (name, outcome) in expected {
        if name == "link-leaves-folder" {
            continue; // made at run time, below
        }
        let (code, _) = inspect(&hostile().join(&name));
        let wanted = if outcome == "error" { 1 } else { 0 };
        if outcome != "either" && code != wanted {
            wrong.push(format!("{name}: expected {outcome}, got exit code {code}"));
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn every_message_says_what_is_wrong_where_and_how_to_mend_it() {
    for name in names() {
        if name == "link-leaves-folder" {
            continue;
        }
        let (code, err) = inspect(&hostile().join(&name));
        insta::with_settings!({ snapshot_path => "snapshots/hostile", prepend_module_to_snapshot => false, omit_expression => true }, {
            insta::assert_snapshot!(name.as_str(), format!("exit code {code}\n{err}"));
        });
    }
}

fn copy(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap().map(Result::unwrap) {
        let target = to.join(entry.file_name());
        if entry.path().is_dir() {
            copy(&entry.path(), &target);
        } else {
            fs::copy(entry.path(), target).unwrap();
        }
    }
}

#[cfg(unix)]
#[test]
fn a_link_that_leaves_the_folder_is_an_error_even_where_its_name_looks_harmless() {
    let home = tempfile::tempdir().unwrap();
    let session = home.path().join("link-leaves-folder");
    copy(&hostile().join("link-leaves-folder"), &session);
    let secret = home.path().join("secret.jpg");
    fs::write(&secret, "not yours").unwrap();
    let photos = session.join("visits/as-found/photos");
    fs::create_dir_all(&photos).unwrap();
    let named = fs::read_to_string(session.join("visits/as-found/visit.yaml")).unwrap();
    let file = named.split("file: photos/").nth(1).unwrap().split([',', '}', '\n']).next().unwrap();
    std::os::unix::fs::symlink(&secret, photos.join(file.trim())).unwrap();
    let (code, err) = inspect(&session);
    assert_eq!(code, 1, "{err}");
    assert!(err.contains("leaves the session folder through a link"), "{err}");
}

#[test]
fn nothing_in_a_session_folder_is_ever_written() {
    let home = tempfile::tempdir().unwrap();
    let session = home.path().join("a-good-one");
    copy(&hostile().join("a-good-one"), &session);
    let listing = |folder: &Path| {
        let mut list: Vec<(PathBuf, Option<Vec<u8>>)> = walkdir::WalkDir::new(folder)
            .into_iter()
            .map(Result::unwrap)
            .map(|entry| (entry.path().to_owned(), fs::read(entry.path()).ok()))
            .collect();
        list.sort();
        list
    };
    let before = listing(&session);
    let out = home.path().join("out");
    let (code, _, err) =
        asfound(&["report", &session.display().to_string(), "--out", &out.display().to_string()]);
    assert_eq!(code, 0, "{err}");
    assert_eq!(before, listing(&session));
}

#[test]
fn a_wrong_path_is_said_with_what_to_do() {
    let (code, _, err) = asfound(&["inspect", "no/such/folder"]);
    assert_eq!(code, 1);
    assert!(err.contains("there is no folder no/such/folder"), "{err}");
    let file = hostile().join("README.md").display().to_string();
    let (code, _, err) = asfound(&["inspect", &file]);
    assert_eq!(code, 1);
    assert!(err.contains("is a file, not a session folder"), "{err}");
}

#[test]
fn wrong_arguments_end_with_exit_code_2_and_help_with_0() {
    assert_eq!(asfound(&["reprot", "x"]).0, 2);
    assert_eq!(asfound(&["report"]).0, 2);
    for command in ["start", "inspect", "report"] {
        let (code, out, _) = asfound(&[command, "--help"]);
        assert_eq!(code, 0);
        assert!(out.contains("Example:"), "{out}");
    }
}
