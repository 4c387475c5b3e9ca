//! What several test targets share.
#![allow(
    dead_code,
    unreachable_pub,
    clippy::print_stderr,
    clippy::unwrap_used,
    clippy::panic,
    clippy::pedantic
)]

use std::ffi::OsString;
use std::fs;
use std::path::{Path, PathBuf};

use asfound::findings::{Finding, Findings};
use asfound::session::{Problems, Session};

/// Published data that are used from a folder beside the project and not copied into it
/// (`ASFOUND_CHECKDATA`, else `../shared/checkdata`). `None`, said on stderr, where it is absent.
pub fn checkdata(path: &str) -> Option<String> {
    let folder = std::env::var_os("ASFOUND_CHECKDATA")
        .map_or_else(|| Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/checkdata"), PathBuf::from);
    let text = fs::read_to_string(folder.join(path)).ok();
    if text.is_none() {
        eprintln!("skipped: {path} is not in the folder that ASFOUND_CHECKDATA names");
    }
    text
}

/// A file of `tests/published/data`.
pub fn published(path: &str) -> String {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/published/data");
    fs::read_to_string(folder.join(path)).unwrap()
}

/// Correct digits: −lg of the relative error (McCullough 1998), 15 at most.
pub fn log_relative_error(value: f64, certified: f64) -> f64 {
    let error = if certified == 0.0 { value.abs() } else { ((value - certified) / certified).abs() };
    if error == 0.0 { 15.0 } else { (-error.log10()).min(15.0) }
}

/// A relative tolerance, or an absolute one about zero.
pub fn close(value: f64, wanted: f64, tolerance: f64) {
    let scale = wanted.abs().max(1e-300);
    let fine = (value - wanted).abs() <= tolerance * scale || (value - wanted).abs() <= tolerance * 1e-6;
    assert!(fine, "{value} is not {wanted} within {tolerance}");
}

/// A session folder made for one test.
pub struct Made {
    /// The folder; gone when this is dropped.
    pub folder: tempfile::TempDir,
}

impl Made {
    /// Writes session.yaml and one visit.yaml for each named visit.
    pub fn new(session: &str, visits: &[(&str, &str)]) -> Self {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join("session.yaml"), session).unwrap();
        for (id, text) in visits {
            let visit = folder.path().join("visits").join(id);
            fs::create_dir_all(&visit).unwrap();
            fs::write(visit.join("visit.yaml"), text).unwrap();
        }
        Self { folder }
    }

    /// Reads and analyses it; panics with the messages where anything is wrong.
    pub fn analysed(&self) -> (Session, Findings) {
        let mut problems = Problems::default();
        let session = asfound::session::read(self.folder.path(), &mut problems).expect("a session");
        let measures = asfound::registry::measures();
        let findings = asfound::analysis::analyse(&session, &measures, &mut problems);
        assert!(!problems.any_error(), "{:#?}", problems.iter().collect::<Vec<_>>());
        (session, findings)
    }
}

/// The finding of a check at a visit.
pub fn found<'a>(findings: &'a Findings, check: &str, visit: &str, at: &str, what: &str) -> &'a Finding {
    findings
        .check(check)
        .and_then(|check| check.visit(visit))
        .and_then(|visit| visit.finding(at, what))
        .unwrap_or_else(|| panic!("no finding {check} {visit} {at} {what}"))
}

/// A session with one radial run-out check in µm, read with a step of `step`.
pub fn run_out_session(step: &str, instrument: &str, turns: &[Vec<f64>]) -> Made {
    let turns: Vec<String> = turns
        .iter()
        .map(|turn| format!("[{}]", turn.iter().map(f64::to_string).collect::<Vec<_>>().join(", ")))
        .collect();
    Made::new(
        &format!(
            "title: T\nunits: metric\nmachines: {{m: {{name: M}}}}\n\
             instruments: {{i: {{name: I, resolution: {step}{instrument}}}}}\n\
             checks: {{c: {{measure: run-out, direction: radial, instrument: i, unit: µm}}}}\n"
        ),
        &[(
            "v",
            &format!(
                "state: baseline\ndate: 2026-03-02\nreadings: {{c: {{turns: [{}]}}}}\n",
                turns.join(", ")
            ),
        )],
    )
}

/// Runs the program in-process; gives the exit code, what it printed, and what it complained of.
pub fn asfound(arguments: &[&str]) -> (u8, String, String) {
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let arguments = std::iter::once("asfound").chain(arguments.iter().copied()).map(OsString::from);
    let code = asfound::commands::run(arguments, &mut out, &mut err);
    (code, String::from_utf8(out).unwrap(), String::from_utf8(err).unwrap())
}

/// Runs a program of poppler-utils or qpdf (tests/run installs them) and gives what it prints.
pub fn tool(name: &str, arguments: &[&str]) -> String {
    let output = std::process::Command::new(name).args(arguments).output();
    let output = output.unwrap_or_else(|error| panic!("{name}: {error}; tests/run installs it"));
    let text = String::from_utf8_lossy(&output.stdout).into_owned();
    assert!(output.status.success(), "{name}: {text}{}", String::from_utf8_lossy(&output.stderr));
    text
}

/// Words with single spaces between them, wherever the lines break.
pub fn flat(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// A demo session's folder.
pub fn demo(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("sessions").join(name)
}

/// Keeps a PDF for looking at, under the test's name: ASFOUND_KEEP=/some/folder cargo test --test NAME.
pub fn keep(pdf: &Path) {
    if let Some(folder) = std::env::var_os("ASFOUND_KEEP") {
        let test = std::thread::current().name().unwrap_or("kept").replace("::", "-");
        fs::copy(pdf, Path::new(&folder).join(format!("{test}.pdf"))).unwrap();
    }
}
