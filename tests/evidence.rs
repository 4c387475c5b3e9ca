//! Bags, zips and reports as evidence: that they are what the standards say, that they are the same each time, and that what
//! was tampered with is named. Hostile ones are refused.
#![allow(clippy::pedantic, clippy::print_stderr, missing_docs, clippy::unwrap_used, clippy::panic)]

mod common;

#[path = "evidence/bags.rs"]
mod bags;
#[path = "evidence/reports.rs"]
mod reports;
#[path = "evidence/suite.rs"]
mod suite;
#[path = "evidence/zips.rs"]
mod zips;

use std::fs;
use std::path::{Path, PathBuf};

use common::asfound;

/// A small session and what was made of it.
pub struct Job {
    pub home: tempfile::TempDir,
    pub session: PathBuf,
}

const SESSION: &str = "title: Gap of a door\nunits: metric\nprepared_by: N. Okoro\n\
machines:\n  press: {name: Ferrow 12, kind: drill press, serial: F12-77, bought: 2026-01-20, coverage: [{name: Parts, lasts: 2 years}]}\n\
instruments: {i: {name: Gauge, resolution: 0.01 mm, accuracy: 0.02 mm}}\n\
events: [{on: 2026-03-05, what: Wrote to the maker}]\n\
checks: {gap: {measure: quantity, instrument: i, unit: mm, better: lower, limit: {at_most: 0.3 mm, source: common practice}}}\n";

impl Job {
    #[allow(clippy::new_without_default)]
    pub fn new() -> Self {
        let home = tempfile::tempdir().unwrap();
        let session = home.path().join("door");
        for (id, state, date, readings) in [
            ("as-found", "as-found", "2026-03-02", "[0.52, 0.55, 0.51]"),
            ("as-left", "as-left", "2026-03-20", "[0.12, 0.14, 0.11]"),
        ] {
            let visit = session.join("visits").join(id);
            fs::create_dir_all(&visit).unwrap();
            let text = format!("state: {state}\ndate: {date}\nreadings: {{gap: {{readings: {readings}}}}}\n");
            fs::write(visit.join("visit.yaml"), text).unwrap();
        }
        fs::write(session.join("session.yaml"), SESSION).unwrap();
        Self { home, session }
    }

    pub fn out(&self) -> PathBuf {
        self.home.path().join("out")
    }

    pub fn run(&self, command: &str, out: &Path, more: &[&str]) -> (u8, String, String) {
        let (session, out) = (self.session.display().to_string(), out.display().to_string());
        let mut arguments = vec![command, &session, "--out", &out];
        arguments.extend(more);
        asfound(&arguments)
    }

    /// A report and a bag of it; gives the folder of outputs.
    pub fn bagged(&self) -> PathBuf {
        let (code, _, err) = self.run("bag", &self.out(), &[]);
        assert_eq!(code, 0, "{err}");
        self.out().join("door")
    }
}

/// Verifies something: whether it stands, and all that was said.
pub fn verify(path: &Path) -> (bool, String) {
    let (code, out, err) = asfound(&["verify", path.to_str().unwrap()]);
    assert!(code <= 1, "{err}");
    (code == 0, out + &err)
}

/// Copies a folder.
pub fn copy(from: &Path, to: &Path) {
    for entry in walkdir::WalkDir::new(from) {
        let entry = entry.unwrap();
        let target = to.join(entry.path().strip_prefix(from).unwrap());
        if entry.file_type().is_dir() {
            fs::create_dir_all(target).unwrap();
        } else {
            fs::copy(entry.path(), target).unwrap();
        }
    }
}
