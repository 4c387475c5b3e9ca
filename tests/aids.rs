//! What helps whoever types: the schemas of the files, what a shell completes, the manual pages.
#![allow(clippy::pedantic, clippy::print_stderr, missing_docs, clippy::unwrap_used, clippy::panic)]

mod common;

use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};

use asfound::session::Problems;
use common::{Made, asfound};

fn printed(arguments: &[&str]) -> String {
    let (code, out, err) = asfound(arguments);
    assert_eq!((code, err.as_str()), (0, ""), "{arguments:?}");
    out
}

/// Every command, as the help lists them.
fn commands() -> Vec<String> {
    let help = printed(&["--help"]);
    let list = help.split("Commands:\n").nth(1).unwrap().split("\n\n").next().unwrap();
    let entry = |line: &str| {
        let line = line.strip_prefix("  ").filter(|line| !line.starts_with(' '))?;
        line.split_whitespace().next().map(str::to_owned)
    };
    list.lines().filter_map(entry).collect()
}

#[test]
fn the_schemas_in_the_repository_are_those_that_the_program_prints() {
    for file in ["session", "visit"] {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("schemas/{file}.schema.json"));
        let kept = fs::read_to_string(&path).unwrap_or_default();
        assert!(
            kept == printed(&["schema", file]),
            "renew it: cargo run -- schema {file} > schemas/{file}.schema.json, and look at the difference"
        );
    }
}

#[test]
fn every_field_of_a_schema_is_described_in_words() {
    fn look(value: &serde_json::Value, at: &str, found: &mut usize) {
        if let Some(fields) = value["properties"].as_object().filter(|_| value["type"] == "object") {
            for (name, field) in fields {
                *found += 1;
                let says = field["description"].as_str().unwrap_or_default();
                assert!(says.len() > 2 && says.ends_with(['.', '}', ')']), "{at}/{name}: {says:?}");
            }
        }
        match value {
            serde_json::Value::Object(map) => {
                map.iter().for_each(|(key, below)| look(below, &format!("{at}/{key}"), found))
            }
            serde_json::Value::Array(list) => list.iter().for_each(|below| look(below, at, found)),
            _ => {}
        }
    }
    for file in ["session", "visit"] {
        let schema: serde_json::Value = serde_json::from_str(&printed(&["schema", file])).unwrap();
        let mut found = 0;
        look(&schema, file, &mut found);
        assert!(found > 50, "{file}: {found}");
    }
}

#[test]
fn every_measure_says_what_its_checks_and_readings_hold() {
    let schemas = ["session", "visit"].map(|file| printed(&["schema", file]));
    for measure in asfound::registry::measures() {
        for (schema, name) in schemas.iter().zip(["check-of", "readings-of"]) {
            assert!(
                schema.contains(&format!("\"{name}-{}\": {{", measure.name())),
                "{name}-{}",
                measure.name()
            );
        }
    }
}

#[test]
fn bash_completes_every_command_and_its_options() {
    let home = tempfile::tempdir().unwrap();
    let script = home.path().join("asfound.bash");
    fs::write(&script, printed(&["completions", "bash"])).unwrap();
    // As bash itself would ask: the words before, and what is typed of the next one.
    let ask = |before: &[&str], typed: &str| {
        let asked = format!(
            "source '{}'; complete -p asfound; COMP_WORDS=({} '{typed}'); COMP_CWORD={}; \
             _asfound asfound '{typed}' '{}'; printf '%s\\n' \"${{COMPREPLY[@]}}\"",
            script.display(),
            before.join(" "),
            before.len(),
            before.last().unwrap()
        );
        match Command::new("bash").args(["--norc", "-c", &asked]).output() {
            Ok(output) => {
                assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
                Some(String::from_utf8(output.stdout).unwrap())
            }
            Err(error) => {
                eprintln!("skipped: bash cannot be run here: {error}");
                None
            }
        }
    };
    let Some(offered) = ask(&["asfound"], "") else { return };
    let mut lines = offered.lines();
    let loaded = lines.next().unwrap();
    assert!(loaded.starts_with("complete ") && loaded.ends_with(" -F _asfound asfound"), "{offered}");
    let words: Vec<&str> = lines.collect();
    for command in commands() {
        assert!(words.contains(&command.as_str()), "{command} is not offered: {words:?}");
    }
    let Some(offered) = ask(&["asfound", "report"], "--fol") else { return };
    assert_eq!(offered.lines().skip(1).collect::<Vec<_>>(), ["--follow"]);
    let Some(offered) = ask(&["asfound", "schema"], "v") else { return };
    assert_eq!(offered.lines().skip(1).collect::<Vec<_>>(), ["visit"]);
}

#[test]
fn every_shell_gets_its_completions() {
    for shell in ["bash", "elvish", "fish", "powershell", "zsh"] {
        let script = printed(&["completions", shell]);
        for command in commands() {
            assert!(script.contains(&command), "{shell}: {command}");
        }
    }
    assert_eq!(asfound(&["completions", "tcsh"]).0, 2);
}

/// The manual in a folder, with the names of its pages.
fn manual(folder: &Path) -> Vec<String> {
    let out = printed(&["manual", "--out", &folder.display().to_string()]);
    let name = |line: &str| Path::new(line).file_name().unwrap().to_string_lossy().into_owned();
    out.lines().map(name).collect()
}

#[test]
fn there_is_a_manual_page_for_the_program_and_for_each_command() {
    let home = tempfile::tempdir().unwrap();
    let folder = home.path().join("man1");
    let pages = manual(&folder);
    let mut wanted = vec!["asfound.1".to_owned()];
    wanted.extend(commands().iter().map(|command| format!("asfound-{command}.1")));
    assert_eq!(pages, wanted);
    let report = fs::read_to_string(folder.join("asfound-report.1")).unwrap();
    insta::assert_snapshot!("manual_report", report);
    // The same again, byte for byte, in the place of the first.
    assert_eq!(manual(&folder), wanted);
    assert_eq!(fs::read_to_string(folder.join("asfound-report.1")).unwrap(), report);
}

#[test]
fn the_manual_pages_are_set_without_a_complaint() {
    let home = tempfile::tempdir().unwrap();
    let pages = manual(home.path());
    let groff = Command::new("groff").arg("--version").stdout(Stdio::null()).status();
    if groff.is_err() {
        eprintln!("skipped: there is no groff here (Debian: groff-base) to set the manual pages");
        return;
    }
    for page in pages {
        let path = home.path().join(&page);
        let output = Command::new("groff")
            .args(["-man", "-ww", "-Tutf8", "-Kutf8", "-P-cbou"])
            .arg(&path)
            .output()
            .unwrap();
        let complaints = String::from_utf8_lossy(&output.stderr);
        assert!(output.status.success() && complaints.is_empty(), "{page}: {complaints}");
        let text = String::from_utf8_lossy(&output.stdout);
        assert!(text.contains("SYNOPSIS"), "{page}: {text}");
    }
}

#[test]
fn a_page_that_somebody_else_wrote_is_never_replaced_and_none_is_then_written() {
    let home = tempfile::tempdir().unwrap();
    fs::write(home.path().join("asfound-seal.1"), ".TH SEAL 1\n").unwrap();
    fs::write(home.path().join("other.1"), ".TH OTHER 1\n").unwrap();
    let folder = home.path().display().to_string();
    let (code, out, err) = asfound(&["manual", "--out", &folder]);
    assert_eq!((code, out.as_str()), (3, ""));
    assert!(err.contains("asfound-seal.1") && err.contains("not made by this program"), "{err}");
    assert_eq!(fs::read_dir(home.path()).unwrap().count(), 2);
    // Beside pages of others it is at home.
    fs::remove_file(home.path().join("asfound-seal.1")).unwrap();
    assert_eq!(asfound(&["manual", "--out", &folder]).0, 0);
    assert_eq!(fs::read_to_string(home.path().join("other.1")).unwrap(), ".TH OTHER 1\n");
}

/// The messages for a check and its readings, and what was found.
fn told(check: &str, visit: &str, readings: &str) -> (Vec<String>, usize) {
    let made = Made::new(
        &format!("title: T\nunits: metric\nmachines: {{m: {{name: M}}}}\nchecks: {{c: {check}}}\n"),
        &[("v", &format!("state: baseline\ndate: 2026-03-02\n{visit}readings: {{c: {readings}}}\n"))],
    );
    let mut problems = Problems::default();
    let session = asfound::session::read(made.folder.path(), &mut problems).unwrap();
    let findings = asfound::analysis::analyse(&session, &asfound::registry::measures(), &mut problems);
    let found =
        findings.checks.iter().flat_map(|check| &check.visits).map(|visit| visit.findings.len()).sum();
    (problems.iter().map(|problem| problem.message.clone()).collect(), found)
}

#[test]
fn a_field_left_empty_is_as_left_out_and_takes_no_readings_with_it() {
    let (said, found) =
        told("{measure: run-out, direction: radial, unit: mm}", "", "{angles: , turns: [[0, 1, 2, 1]]}");
    assert!(said.is_empty() && found > 0, "{said:?}, {found}");
    let (said, found) =
        told("{measure: vibration, unit: g, band: }", "", "{at: {1000 rpm: {mean: 0.1, max: 0.2}}}");
    assert!(said.is_empty() && found > 0, "{said:?}, {found}");
}

#[test]
fn nothing_that_is_written_is_passed_over_in_silence() {
    let cuts = "five_cuts: [{near: 31.0, far: 31.4, strip: 380 mm}]";
    let check = "{measure: squareness, unit: mm}";
    assert_eq!(told(check, "", &format!("{{{cuts}}}")).0, [""; 0]);
    let (said, _) = told(check, "", &format!("{{{cuts}, over: 300 mm}}"));
    assert_eq!(said, ["the readings of 'c' has no field 'over'"]);
    let (said, _) = told(check, "time: \"14:+5\"\n", &format!("{{{cuts}}}"));
    assert_eq!(said, ["'14:+5' is not a time of day"]);
}
