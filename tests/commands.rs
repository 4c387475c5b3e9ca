//! What a person sees at the terminal and finds in the output folder.
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

fn demo(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("sessions").join(name)
}

fn files_below(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> = walkdir::WalkDir::new(folder)
        .into_iter()
        .map(Result::unwrap)
        .filter(|entry| entry.file_type().is_file())
        .map(|entry| entry.path().strip_prefix(folder).unwrap().display().to_string())
        .collect();
    names.sort();
    names
}

#[test]
fn inspect_tells_what_was_found_and_writes_nothing() {
    let before = files_below(&demo("arbor-bearings"));
    let (code, out, err) = asfound(&["inspect", &demo("arbor-bearings").display().to_string()]);
    assert_eq!((code, err.as_str()), (0, ""));
    insta::assert_snapshot!("inspect_arbor_bearings", out);
    assert_eq!(before, files_below(&demo("arbor-bearings")));
}

#[test]
fn report_writes_the_pdf_the_findings_and_the_charts_and_nothing_else() {
    let home = tempfile::tempdir().unwrap();
    let out = home.path().join("out").display().to_string();
    let (code, said, err) =
        asfound(&["report", &demo("arbor-bearings").display().to_string(), "--out", &out]);
    assert_eq!(code, 0, "{err}");
    assert!(said.contains("report.pdf"), "{said}");
    let folder = home.path().join("out/arbor-bearings");
    insta::assert_snapshot!("files_of_a_report", files_below(&folder).join("\n"));
    assert!(fs::read(folder.join("report.pdf")).unwrap().starts_with(b"%PDF-1.7"));
    // Nothing is left beside the folder, no half-made one, no lock: only the record of what it was made from.
    let beside: Vec<_> =
        fs::read_dir(home.path().join("out")).unwrap().map(|entry| entry.unwrap().file_name()).collect();
    assert_eq!(beside.len(), 2, "{beside:?}");
    assert_eq!(files_below(&home.path().join("out/.built")), ["lock", "reports", "rows"]);
}

#[test]
fn findings_json_has_a_row_for_every_finding_and_change_in_the_documented_columns() {
    let home = tempfile::tempdir().unwrap();
    let out = home.path().display().to_string();
    let (code, _, err) =
        asfound(&["report", &demo("old-saw").display().to_string(), "--out", &out, "--quiet"]);
    assert_eq!(code, 0, "{err}");
    let text = fs::read_to_string(home.path().join("old-saw/findings.json")).unwrap();
    let json: serde_json::Value = serde_json::from_str(&text).unwrap();
    assert_eq!(json["schema"], 1);
    let findings = json["findings"].as_array().unwrap().len();
    insta::assert_json_snapshot!("findings_json_old_saw", to_six_digits(json));
    let csv = fs::read_to_string(home.path().join("old-saw/findings.csv")).unwrap();
    let lines: Vec<&str> = csv.split("\r\n").collect();
    assert_eq!(lines.len(), findings + 2, "a head, every finding, an end");
    insta::assert_snapshot!(lines[0], @"check,measure,visit,where,what,value,unit,uncertainty,k,dof,n,struck,limit,limit_kind,verdict,floor,bound,notes");
}

/// Another platform's sine may differ in the last digit; six say what was found.
fn to_six_digits(value: serde_json::Value) -> serde_json::Value {
    use serde_json::Value;
    match value {
        Value::Number(number) if number.is_f64() => {
            let rounded: f64 = format!("{:.5e}", number.as_f64().unwrap()).parse().unwrap();
            serde_json::json!(rounded)
        }
        Value::Array(list) => Value::Array(list.into_iter().map(to_six_digits).collect()),
        Value::Object(map) => map.into_iter().map(|(key, value)| (key, to_six_digits(value))).collect(),
        other => other,
    }
}

#[test]
fn the_same_session_gives_the_same_bytes_on_every_run() {
    let home = tempfile::tempdir().unwrap();
    let session = demo("arbor-bearings").display().to_string();
    let mut runs = Vec::new();
    for run in ["one", "two"] {
        let out = home.path().join(run);
        assert_eq!(asfound(&["report", &session, "--quiet", "--out", &out.display().to_string()]).0, 0);
        let folder = out.join("arbor-bearings");
        let bytes: Vec<(String, Vec<u8>)> = files_below(&folder)
            .into_iter()
            .map(|name| (name.clone(), fs::read(folder.join(name)).unwrap()))
            .collect();
        runs.push(bytes);
    }
    assert_eq!(runs[0], runs[1]);
}

#[test]
fn a_second_run_replaces_the_first_and_a_folder_of_other_things_is_left_alone() {
    let home = tempfile::tempdir().unwrap();
    let out = home.path().display().to_string();
    let session = demo("old-saw").display().to_string();
    let run = || asfound(&["report", &session, "--out", &out, "--quiet"]);
    assert_eq!(run().0, 0);
    let folder = home.path().join("old-saw");
    fs::write(folder.join("charts/stale.svg"), "old").unwrap();
    assert_eq!(run().0, 0);
    assert!(!folder.join("charts/stale.svg").exists(), "the new output is the whole output");
    fs::remove_dir_all(&folder).unwrap();
    fs::create_dir(&folder).unwrap();
    fs::write(folder.join("my-thesis.txt"), "mine").unwrap();
    let (code, _, err) = run();
    assert_eq!(code, 3, "{err}");
    assert!(err.contains("did not make"), "{err}");
    assert_eq!(files_below(&folder), ["my-thesis.txt"]);
}

#[test]
fn a_session_with_errors_leaves_the_last_good_report_where_it_was() {
    let home = tempfile::tempdir().unwrap();
    let session = home.path().join("job");
    assert_eq!(asfound(&["start", &session.display().to_string(), "--quiet"]).0, 0);
    let out = home.path().join("out").display().to_string();
    let run = || asfound(&["report", &session.display().to_string(), "--out", &out, "--quiet"]);
    let (code, _, err) = run();
    assert_eq!(code, 0, "{err}");
    let report = home.path().join("out/job/report.pdf");
    let good = fs::read(&report).unwrap();
    let visit = session.join("visits/as-found/visit.yaml");
    let text = fs::read_to_string(&visit).unwrap().replace("state: as-found", "state: as-fuond");
    fs::write(&visit, text).unwrap();
    let (code, _, err) = run();
    assert_eq!(code, 1);
    assert!(err.contains("did you mean 'as-found'?"), "{err}");
    assert_eq!(good, fs::read(&report).unwrap());
}

#[test]
fn what_start_lays_out_is_a_session_that_reports() {
    let home = tempfile::tempdir().unwrap();
    let dir = home.path().join("jointer");
    let shown = dir.display().to_string();
    let (code, out, _) = asfound(&["start", &shown]);
    assert_eq!(code, 0);
    insta::assert_snapshot!("start", out.replace(&shown, "DIR"));
    let (code, _, err) = asfound(&["inspect", &shown]);
    assert_eq!((code, err.as_str()), (0, ""));
    // A second start changes nothing.
    let before = files_below(&dir);
    assert_eq!(asfound(&["start", &shown]).0, 3);
    assert_eq!(before, files_below(&dir));
}

#[test]
fn output_that_cannot_be_written_ends_with_exit_code_3_and_names_the_path() {
    let home = tempfile::tempdir().unwrap();
    let file = home.path().join("a-file");
    fs::write(&file, "in the way").unwrap();
    let (code, _, err) =
        asfound(&["report", &demo("old-saw").display().to_string(), "--out", &file.display().to_string()]);
    assert_eq!(code, 3);
    assert!(err.contains("a-file"), "{err}");
    assert_eq!(fs::read_to_string(&file).unwrap(), "in the way");
}

#[test]
fn a_session_is_never_replaced_by_its_own_output() {
    let home = tempfile::tempdir().unwrap();
    let session = home.path().join("job");
    assert_eq!(asfound(&["start", &session.display().to_string(), "--quiet"]).0, 0);
    fs::write(session.join("findings.json"), "{}").unwrap();
    let before = files_below(&session);
    let out = home.path().display().to_string();
    let (code, _, err) = asfound(&["report", &session.display().to_string(), "--out", &out]);
    assert_eq!(code, 3, "{err}");
    assert!(err.contains("replace the session itself"), "{err}");
    assert_eq!(before, files_below(&session));
}

#[test]
fn help_names_every_command_with_an_example() {
    let (code, out, _) = asfound(&["--help"]);
    assert_eq!(code, 0);
    insta::assert_snapshot!("help", out);
}

#[test]
fn the_checks_that_start_offers_in_comments_work_when_the_marks_are_taken_off() {
    let home = tempfile::tempdir().unwrap();
    let folder = home.path().join("my-saw");
    assert_eq!(asfound(&["start", &folder.display().to_string()]).0, 0);
    for (file, from) in [("session.yaml", "  # warm-up:"), ("visits/as-found/visit.yaml", "  # warm-up:")] {
        let path = folder.join(file);
        let text = fs::read_to_string(&path).unwrap();
        let at = text.find(from).unwrap();
        let (head, offered) = text.split_at(at);
        let bare: Vec<String> = offered
            .lines()
            .map(|line| line.strip_prefix("  # ").map_or_else(|| line.to_owned(), |rest| format!("  {rest}")))
            .collect();
        fs::write(&path, format!("{head}{}\n", bare.join("\n"))).unwrap();
    }
    let (code, out, err) = asfound(&["inspect", &folder.display().to_string()]);
    assert_eq!(code, 0, "{err}");
    for what in ["rise", "level", "acceleration_max", "error", "droop"] {
        assert!(out.contains(what), "{what} is not in {out}");
    }
}
