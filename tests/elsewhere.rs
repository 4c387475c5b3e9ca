//! What can be told on one system about the others: line ends, names of files, paths in what is written.
#![allow(clippy::pedantic, clippy::print_stderr, missing_docs, clippy::unwrap_used, clippy::panic)]

mod common;

use std::fs;
use std::path::Path;

use asfound::evidence::bag::names;
use asfound::findings::to_json;
use asfound::notes::{HtmlRules, Picture, Rules, to_html, to_typst};
use asfound::session::Problems;
use common::{Made, asfound};

/// Copies a folder, each file through `change`.
fn copy(from: &Path, to: &Path, change: &dyn Fn(&Path, Vec<u8>) -> Vec<u8>) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap() {
        let entry = entry.unwrap();
        let target = to.join(entry.file_name());
        if entry.file_type().unwrap().is_dir() {
            copy(&entry.path(), &target, change);
        } else {
            fs::write(&target, change(&entry.path(), fs::read(entry.path()).unwrap())).unwrap();
        }
    }
}

/// With a carriage return before each line feed, whatever stood there.
fn crlf(text: &[u8]) -> Vec<u8> {
    let mut out = Vec::with_capacity(text.len() + text.len() / 20);
    for byte in text.iter().filter(|byte| **byte != b'\r') {
        if *byte == b'\n' {
            out.push(b'\r');
        }
        out.push(*byte);
    }
    out
}

fn findings(folder: &Path) -> String {
    let mut problems = Problems::default();
    let session = asfound::session::read(folder, &mut problems).unwrap();
    let findings = asfound::analysis::analyse(&session, &asfound::registry::measures(), &mut problems);
    let wrong: Vec<String> = problems.iter().map(|problem| problem.message.clone()).collect();
    assert!(!problems.any_error(), "{wrong:?}");
    to_json(&findings, "any", "any")
}

/// Whether two lines of findings are the same, but for the last digits of what is summed over a recording: it is summed
/// block by block, and blocks end where so many bytes were read.
fn alike(one: &str, other: &str) -> bool {
    let number = |line: &str| {
        let (name, value) = line.trim().trim_end_matches(',').split_once(": ")?;
        Some((name.to_owned(), value.parse::<f64>().ok()?))
    };
    let room = |name: &str, value: f64| if name == "\"dof\"" { 1.0 } else { 1e-6 * value.abs() };
    one == other
        || number(one)
            .zip(number(other))
            .is_some_and(|((name, a), (same, b))| name == same && (a - b).abs() <= room(&name, a))
}

#[test]
fn carriage_returns_in_every_text_change_no_finding() {
    let here = tempfile::tempdir().unwrap();
    let mut changed = std::cell::Cell::new(0);
    copy(Path::new("sessions"), here.path(), &|path, bytes| {
        let text = path.extension().is_some_and(|end| end == "yaml" || end == "md" || end == "csv");
        let made = if text { crlf(&bytes) } else { bytes.clone() };
        changed.set(changed.get() + usize::from(made != bytes));
        made
    });
    assert!(*changed.get_mut() > 15);
    for session in ["arbor-bearings", "table-and-fence"] {
        let (there, here) =
            (findings(&here.path().join(session)), findings(&Path::new("sessions").join(session)));
        assert_eq!(there.lines().count(), here.lines().count());
        let differs: Vec<_> =
            there.lines().zip(here.lines()).filter(|(there, here)| !alike(there, here)).collect();
        assert!(differs.is_empty(), "{session}: {differs:?}");
    }
}

#[test]
fn carriage_returns_in_notes_are_not_seen() {
    let notes = fs::read("sessions/arbor-bearings/notes.md").unwrap();
    let read = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).unwrap();
    let (plain, other) = (read(&notes), read(&crlf(&notes)));
    assert_ne!(plain, other);
    let rules = Rules { name: "notes", heading_level: 2, image: &|_| None, covers: &|_| true };
    assert_eq!(to_typst(&plain, &rules).typst, to_typst(&other, &rules).typst);
    let rules = HtmlRules { name: "notes", heading_level: 2, picture: &|_| Picture::Unknown };
    assert_eq!(to_html(&plain, &rules), to_html(&other, &rules));
}

fn told(paths: &[&str]) -> Vec<String> {
    names(paths.iter().copied()).into_iter().map(|fault| format!("{} {}", fault.path, fault.says)).collect()
}

#[test]
fn names_that_another_system_cannot_have_are_told() {
    for bad in [
        "data/aux",
        "data/CON.csv",
        "data/nul.tar.gz",
        "data/com1",
        "visits/lpt9/visit.yaml",
        "a./b",
        "a /b",
        "a:b",
        "a?b",
        "a\\b",
        "a\u{7}b",
    ] {
        assert_eq!(told(&[bad]).len(), 1, "{bad}");
    }
    for good in [
        "data/auxiliary.csv",
        "com0",
        "com10",
        "console",
        "b.con",
        ".hidden",
        "a b/c.d",
        "visits/as-found/é.csv",
    ] {
        assert_eq!(told(&[good]), Vec::<String>::new(), "{good}");
    }
    // A folder is told once, not with each file in it.
    assert_eq!(told(&["aux/a", "aux/b"]).len(), 1);
    // One name to a system that does not tell capitals apart, or composed letters from others.
    assert_eq!(told(&["Dial.jpg", "dial.jpg"]).len(), 1);
    assert_eq!(told(&["caf\u{e9}.csv", "cafe\u{301}.csv"]).len(), 1);
}

const SESSION: &str = "title: 'Saw: a \"new\" <arbor> / CON | 100 % ?'
units: metric
machines:
  saw: {name: Ferrow 12, serial: 'F/12:77'}
instruments:
  rule: {name: Rule, resolution: 0.1 mm, accuracy: 0.1 mm}
checks:
  con: {measure: quantity, instrument: rule, unit: mm, limit: {at_most: 1 mm, source: guide}}
";
const VISIT: &str = "state: as-found
machine: saw
date: 2026-03-02
readings: {con: {readings: [1.5, 1.6, 1.4]}}
";

#[test]
fn whatever_a_session_s_title_and_ids_are_every_file_that_is_written_can_lie_anywhere() {
    let made = Made::new(SESSION, &[("as-found", VISIT)]);
    let session = made.folder.path().to_str().unwrap();
    let out = tempfile::tempdir().unwrap();
    let folder = out.path().to_str().unwrap();
    for arguments in [
        vec!["report", session, "--out", folder, "--source"],
        vec!["letter", session, "--out", folder],
        vec!["sheet", session, "--out", folder],
        vec!["stills", session, "--out", folder],
        vec!["shelf", session, "--out", folder, "--history", "F/12:77", "--as", "pdf"],
    ] {
        let (code, _, err) = asfound(&arguments);
        assert_eq!(code, 0, "{arguments:?}: {err}");
    }
    // The session's own folder is the person's to name.
    let below = out.path();
    let mut paths = Vec::new();
    for entry in walkdir::WalkDir::new(below).min_depth(1) {
        let entry = entry.unwrap();
        let path: Vec<String> = entry
            .path()
            .strip_prefix(below)
            .unwrap()
            .components()
            .map(|part| part.as_os_str().to_str().unwrap().to_owned())
            .collect();
        paths.push(path.join("/"));
    }
    assert!(paths.iter().any(|path| path.contains("history-f-12-77")), "{paths:?}");
    let paths: Vec<&str> = paths.iter().map(String::as_str).collect();
    assert_eq!(told(&paths), Vec::<String>::new());
    let name = made.folder.path().file_name().unwrap().to_str().unwrap();
    let json = fs::read_to_string(below.join(name).join("findings.json")).unwrap();
    assert!(!json.contains('\\') || !json.contains("\\\\"), "a path with a backslash");
}

#[test]
fn a_bag_tells_of_names_that_would_not_lie_on_every_system() {
    let made = Made::new(SESSION, &[("aux", VISIT)]);
    fs::write(made.folder.path().join("visits/aux/Dial.txt"), "a").unwrap();
    fs::write(made.folder.path().join("visits/aux/dial.txt"), "b").unwrap();
    let out = tempfile::tempdir().unwrap();
    let arguments =
        ["bag", made.folder.path().to_str().unwrap(), "--out", out.path().to_str().unwrap(), "--quiet"];
    let (code, _, err) = asfound(&arguments);
    assert_eq!(code, 0, "{err}");
    assert!(err.contains("'aux' is the name of a device on Windows; rename it"), "{err}");
    assert!(
        err.contains("dial.txt differs from ")
            && err.contains("Dial.txt only as some systems do not tell apart"),
        "{err}"
    );
}
