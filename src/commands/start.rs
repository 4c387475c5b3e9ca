//! `start`: a new session folder with a commented session.yaml and a first visit.

use std::fs;
use std::io::Write;
use std::path::Path;

use super::{Outcome, show};

const FILES: [(&str, &str); 4] = [
    ("session.yaml", include_str!("../../templates/start/session.yaml")),
    ("visits/as-found/visit.yaml", include_str!("../../templates/start/visit.yaml")),
    ("notes.md", include_str!("../../templates/start/notes.md")),
    ("script.md", include_str!("../../templates/start/script.md")),
];

pub(super) fn run(dir: &Path, quiet: bool, out: &mut dyn Write, err: &mut dyn Write) -> Outcome {
    let shown = show::plain(&dir.display().to_string());
    let there = match fs::read_dir(dir) {
        Ok(mut entries) => entries.next().is_some(),
        Err(_) => dir.exists(),
    };
    if there {
        let _ = writeln!(
            err,
            "{shown} exists and is not an empty folder; nothing was written.\n\
             Name a new folder: asfound start {shown}-2"
        );
        return Outcome::CouldNotWrite;
    }
    if let Err((path, error)) = lay_out(dir) {
        let _ = writeln!(err, "cannot write {}: {error}", show::plain(&path));
        return Outcome::CouldNotWrite;
    }
    if !quiet {
        let _ = writeln!(out, "Laid out a session in {shown}:");
        for (name, _) in FILES {
            let _ = writeln!(out, "  {shown}/{name}");
        }
        let _ = writeln!(
            out,
            "\nIt holds made-up readings so that it works at once. Say in session.yaml what you measure, put your readings\n\
             into visit.yaml in the place of these, then:\n  \
             asfound inspect {shown}    # what was found, and what is wrong, at the terminal\n  \
             asfound report {shown}     # the report, in out/\n\n\
             How a claim goes, and how each measure is read: asfound guide\n\n\
             Pull the plug and turn the spindle by hand for a dial indicator. The maker's\n\
             instructions, local codes and licensed practice come first."
        );
    }
    Outcome::Done
}

/// Made beside the target and renamed into place, so that a folder is never half laid out.
fn lay_out(dir: &Path) -> Result<(), (String, std::io::Error)> {
    let parent = dir.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let say = |path: &Path| {
        let path = path.display().to_string();
        move |error| (path, error)
    };
    fs::create_dir_all(parent).map_err(say(parent))?;
    let fresh = tempfile::Builder::new().prefix(".asfound-").tempdir_in(parent).map_err(say(parent))?;
    for (name, text) in FILES {
        let path = fresh.path().join(name);
        if let Some(folder) = path.parent() {
            fs::create_dir_all(folder).map_err(say(folder))?;
        }
        fs::write(&path, text).map_err(say(&path))?;
    }
    super::written::set_readable(fresh.path()).map_err(say(dir))?;
    if dir.exists() {
        // Empty, as was seen above: a rename onto it needs it gone on some systems.
        fs::remove_dir(dir).map_err(say(dir))?;
    }
    fs::rename(fresh.keep(), dir).map_err(say(dir))
}
