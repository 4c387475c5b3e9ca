//! The first ten minutes: what a person types who has read nothing, and what is said to that.
#![allow(clippy::pedantic, clippy::print_stderr, missing_docs, clippy::unwrap_used, clippy::panic)]

mod common;

use std::fs;
use std::path::{Path, PathBuf};

use common::asfound;

/// A folder with a session that `start` laid out in it.
fn started() -> (tempfile::TempDir, PathBuf) {
    let home = tempfile::tempdir().unwrap();
    let saw = home.path().join("saw");
    assert_eq!(asfound(&["start", saw.to_str().unwrap(), "--quiet"]).0, 0);
    (home, saw)
}

/// What is said to a command that cannot be done, on one line.
fn said(arguments: &[&str], code: u8) -> String {
    let (ended, _, err) = asfound(arguments);
    assert_eq!(ended, code, "{arguments:?}: {err}");
    err.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The same of `inspect`, after one thing in a file was changed.
fn said_of(file: &str, change: &dyn Fn(String) -> String, code: u8) -> String {
    let (_home, saw) = started();
    let path = saw.join(file);
    let before = fs::read_to_string(&path).unwrap();
    let after = change(before.clone());
    assert_ne!(before, after, "nothing was changed");
    fs::write(&path, after).unwrap();
    let (ended, out, err) = asfound(&["inspect", saw.to_str().unwrap()]);
    assert_eq!(ended, code, "{out}{err}");
    format!("{out}{err}").split_whitespace().collect::<Vec<_>>().join(" ")
}

const VISIT: &str = "visits/as-found/visit.yaml";

#[test]
fn help_is_given_however_it_is_asked_for() {
    let (code, whole, _) = asfound(&["--help"]);
    assert_eq!(code, 0);
    assert_eq!(asfound(&["help"]).1, whole);
    assert_eq!(asfound(&["help", "report"]), asfound(&["report", "--help"]));
    assert!(whole.contains("First steps:") && whole.contains("asfound start my-saw"), "{whole}");
    // Without a word it is said too, as an error.
    let (code, _, err) = asfound(&[]);
    assert!(code == 2 && err.contains("First steps:"), "{err}");
}

#[test]
fn a_command_without_what_it_needs_shows_its_example() {
    let text = said(&["report"], 2);
    assert!(text.contains("Example: asfound report sessions/arbor-bearings"), "{text}");
    let text = said(&["seal", "saw"], 2);
    assert!(text.contains("asfound seal my-saw as-found"), "{text}");
}

#[test]
fn where_the_wrong_path_is_named_the_right_one_is_told() {
    let (home, saw) = started();
    let at = |path: &str| said(&["inspect", home.path().join(path).to_str().unwrap()], 1);
    let shown = saw.display().to_string();
    assert!(
        at("saw/session.yaml").contains(&format!("name its folder: {shown}")),
        "{}",
        at("saw/session.yaml")
    );
    assert!(
        at("saw/visits/as-found").contains("the session is the folder above it, saw"),
        "{}",
        at("saw/visits/as-found")
    );
    assert!(at("").contains("the folder saw in it is a session"), "{}", at(""));
    assert!(at("swa").contains(&format!("did you mean {shown}?")), "{}", at("swa"));
    assert!(at("jointer").contains("'asfound start DIR' lays out a new session folder"), "{}", at("jointer"));
}

#[test]
fn a_file_that_is_nearly_called_right_is_named() {
    for wrong in ["visit.yml", "Visit.yaml", "visit.yaml.txt"] {
        let (_home, saw) = started();
        fs::rename(saw.join(VISIT), saw.join("visits/as-found").join(wrong)).unwrap();
        let text = said(&["inspect", saw.to_str().unwrap()], 1);
        assert!(text.contains(&format!("rename {wrong} to visit.yaml")), "{text}");
    }
    let (_home, saw) = started();
    fs::rename(saw.join("visits/as-found"), saw.join("visits/As Found")).unwrap();
    let text = said(&["inspect", saw.to_str().unwrap()], 1);
    assert!(text.contains("rename the folder to as-found"), "{text}");
}

#[test]
fn slips_of_the_first_minutes_are_told_how_to_mend() {
    let text = said_of("session.yaml", &|text| text.replace("0.0005 in ", "0.0005\" "), 1);
    assert!(text.contains("inches are written as in: 0.5 in"), "{text}");
    let text =
        said_of(VISIT, &|text| text.replacen("[0.0, 0.5, 1.0, 1.5, 1.5", "[0,0, 0,5, 1,0, 1,5, 1,5", 1), 1);
    assert!(text.contains("A comma parts two readings: write 0.5 and not 0,5"), "{text}");
    let text = said_of(
        VISIT,
        &|text| format!("{}  arbor-runout:\n", text.split("  arbor-runout:").next().unwrap()),
        1,
    );
    assert!(text.contains("write each field on a line of its own, as 'name: value'"), "{text}");
    let text = said_of("session.yaml", &|text| text.replace("measure: run-out", "measure: runout"), 1);
    assert!(text.contains("did you mean 'run-out'?"), "{text}");
}

#[test]
fn a_session_whose_readings_are_still_to_come_is_told_so_and_not_that_it_has_no_limit() {
    let text = said_of(VISIT, &|text| text.split("readings:").next().unwrap().to_owned(), 0);
    assert!(text.contains("No visit has readings yet: they are written into its visit.yaml"), "{text}");
    assert!(!text.contains("No check has a limit"), "{text}");
    // The narration asks for numbers that nobody has read: that is said, and no list without an entry.
    assert!(text.contains("nothing was read that gives this number"), "{text}");
    assert!(!text.contains("name one after 'at':"), "{text}");
}

#[test]
fn from_nothing_to_a_report_it_takes_three_commands_and_each_names_the_next() {
    let home = tempfile::tempdir().unwrap();
    let saw = home.path().join("saw").display().to_string();
    let (code, out, _) = asfound(&["start", &saw]);
    assert_eq!(code, 0);
    for next in ["session.yaml", "visit.yaml", "asfound inspect", "asfound report", "asfound guide"] {
        assert!(out.contains(next), "{next}: {out}");
    }
    let (code, out, err) = asfound(&["inspect", &saw]);
    assert!(code == 0 && err.is_empty() && out.contains("too close to call"), "{out}{err}");
    let to = home.path().join("out").display().to_string();
    let (code, out, err) = asfound(&["report", &saw, "--out", &to]);
    assert!(
        code == 0 && out.contains("report.pdf") && Path::new(&to).join("saw/report.pdf").is_file(),
        "{out}{err}"
    );
}
