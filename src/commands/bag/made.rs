//! What was made from a session and lies in its folder of outputs: what belongs to the readings as they are goes into the
//! bag, what belongs to others does not.

use std::fs;
use std::path::{Path, PathBuf};

use walkdir::WalkDir;

use super::super::written::{self, CONTENTS};

/// Where bags lie in the folder of outputs.
pub(in super::super) const FOLDER: &str = "bag";
/// The Typst source can be made again and is no output.
const LEFT: [&str; 2] = [FOLDER, "source"];
/// What is filled from the narration; script.md, the first, carries the number.
const NARRATION: [&str; 4] = ["script.md", "script.pdf", "script.vtt", "stills.txt"];

/// The outputs that go into a bag, and those that do not.
#[derive(Debug, Default)]
pub(super) struct Made {
    /// Path below the folder of outputs, and where it is.
    pub(super) files: Vec<(String, PathBuf)>,
    /// What was made from other readings, by its path below the folder.
    pub(super) stale: Vec<String>,
}

/// Whether the report that lies there was made from the session that has this number.
pub(super) fn report_is_of(target: &Path, number: &str) -> bool {
    written::file_holds(&target.join("report.pdf"), number) && target.join("findings.json").is_file()
}

/// Looks the folder of outputs through.
///
/// # Errors
/// Where it cannot be read.
pub(super) fn made(target: &Path, number: &str) -> std::io::Result<Made> {
    let mut made = Made::default();
    for entry in fs::read_dir(target)? {
        let entry = entry?;
        let name = entry.file_name().to_string_lossy().into_owned();
        if LEFT.contains(&name.as_str()) || name.starts_with('.') {
            continue;
        }
        for part in parts(target, &name)? {
            if is_of(target, &part, number) {
                made.files.extend(files(target, &part)?);
            } else {
                made.stale.push(part);
            }
        }
    }
    made.files.sort();
    made.stale.sort();
    Ok(made)
}

/// An output as it belongs together: each picture that builds itself up is one by itself.
fn parts(target: &Path, name: &str) -> std::io::Result<Vec<String>> {
    if name != written::BUILDUPS {
        return Ok(vec![name.to_owned()]);
    }
    let mut parts = Vec::new();
    for entry in fs::read_dir(target.join(name))? {
        parts.push(format!("{name}/{}", entry?.file_name().to_string_lossy()));
    }
    Ok(parts)
}

/// Whether an output was made from these readings. What this program did not make (a letter that was signed and
/// scanned) is nobody's to judge and goes along.
fn is_of(target: &Path, part: &str, number: &str) -> bool {
    let of = |file: &Path| written::file_holds(file, number);
    let contents = target.join(part).join(CONTENTS);
    if contents.is_file() {
        return of(&contents);
    }
    let file = target.join(part);
    if NARRATION.contains(&part) {
        return of(&target.join(NARRATION[0]));
    }
    let sheet = matches!(part, "letter.pdf" | "sheet.pdf");
    !sheet || !written::ours(&file) || of(&file)
}

fn files(target: &Path, part: &str) -> std::io::Result<Vec<(String, PathBuf)>> {
    let mut files = Vec::new();
    for entry in WalkDir::new(target.join(part)).sort_by_file_name() {
        let entry = entry?;
        if entry.file_type().is_file() {
            let below = entry.path().strip_prefix(target).unwrap_or(entry.path());
            let path = below.to_string_lossy().replace('\\', "/");
            files.push((path, entry.path().to_owned()));
        }
    }
    Ok(files)
}
