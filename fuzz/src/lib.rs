//! What the targets share: a session folder to write into, and what must hold of whatever comes of it.

pub mod bag;
pub mod csv;
pub mod notes;
pub mod pdf;
pub mod quantity;
pub mod seal;
pub mod session;
pub mod templates;
pub mod wav;
pub mod zip;

use std::cell::RefCell;
use std::fs;
use std::path::Path;

use asfound::findings::{BoundOn, Findings};
use asfound::session::{Problems, Session};
use asfound::{analysis, registry};

thread_local! {
    static FOLDER: RefCell<Option<tempfile::TempDir>> = const { RefCell::new(None) };
}

/// Calls with a folder that holds these files and nothing else.
pub fn in_folder<T>(files: &[(&str, &[u8])], work: impl FnOnce(&Path) -> T) -> T {
    FOLDER.with_borrow_mut(|kept| {
        // One folder a process: a new one each time would be most of the work.
        let folder = kept.get_or_insert_with(|| tempfile::tempdir().expect("a folder for temporary files"));
        for (name, bytes) in files {
            let path = folder.path().join(name);
            fs::create_dir_all(path.parent().expect("a parent")).expect("a folder");
            fs::write(path, bytes).expect("a file");
        }
        work(folder.path())
    })
}

/// Reads and analyses these files as a session, and holds what comes of it to its promises.
pub fn analysed(files: &[(&str, &[u8])]) {
    in_folder(files, |folder| {
        let _ = read(folder);
    });
}

/// The session in a folder with its findings, where it has no errors.
pub fn read(folder: &Path) -> Option<(Session, Findings, Problems)> {
    let mut problems = Problems::default();
    let session = asfound::session::read(folder, &mut problems);
    if session.is_none() {
        assert!(problems.any_error(), "no session, and nothing is said to be wrong");
    }
    let session = session?;
    let findings = analysis::analyse(&session, &registry::measures(), &mut problems);
    for problem in &problems {
        assert!(!problem.message.is_empty());
        if let Some(place) = &problem.place {
            // Finding the line must not go past the text's end.
            let _ = place.line();
        }
    }
    if problems.any_error() {
        return None;
    }
    sound(&findings);
    Some((session, findings, problems))
}

/// Every number is one, or there is none and a note or a bound says so.
fn sound(findings: &Findings) {
    for check in &findings.checks {
        for finding in check.visits.iter().flat_map(|visit| &visit.findings) {
            let told = format!("{} {} {}", check.check, finding.at, finding.what);
            match finding.value {
                Some(value) => assert!(value.is_finite(), "{told}: {value}"),
                None => assert!(
                    finding.bound.is_some() || !finding.notes.is_empty(),
                    "{told}: no value, and nothing says why"
                ),
            }
            let expanded = finding.budget.expanded;
            for number in [expanded.standard, expanded.expanded, expanded.k] {
                assert!(number.is_finite() && number >= 0.0, "{told}: {expanded:?}");
            }
            assert!(finding.floor.is_none_or(|floor| floor.is_finite() && floor >= 0.0), "{told}");
            match finding.bound {
                Some(BoundOn::AtMost(bound) | BoundOn::AtLeast(bound)) => {
                    assert!(bound.is_finite(), "{told}");
                }
                None => {}
            }
        }
    }
    let changes = findings.comparisons.iter().flat_map(|one| &one.checks).flat_map(|check| &check.changes);
    for change in changes {
        let numbers = [change.before, change.after, change.change, change.low, change.high];
        assert!(numbers.iter().all(|number| number.is_finite()), "{change:?}");
        assert!(change.low <= change.change && change.change <= change.high, "{change:?}");
    }
}

/// A text as a YAML string: JSON's is one.
pub fn quoted(text: &str) -> String {
    serde_json::to_string(text).expect("a text")
}

/// Texts that a fuzzer wrote one after the other, parted by a byte that no text has.
pub fn texts(bytes: &[u8]) -> Vec<String> {
    bytes.split(|byte| *byte == 0xff).map(|part| String::from_utf8_lossy(part).into_owned()).collect()
}
