//! Output that is written whole or not at all: made in a temporary folder beside the target and
//! renamed into place.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

/// What could not be written, and why.
#[derive(Debug, thiserror::Error)]
#[error("cannot write {}: {source}", path.display())]
pub(super) struct WriteError {
    /// The path at hand.
    pub path: PathBuf,
    /// What the system said.
    pub source: io::Error,
}

fn at(path: &Path) -> impl FnOnce(io::Error) -> WriteError + '_ {
    move |source| WriteError { path: path.to_owned(), source }
}

/// A file to write: its `/`-separated path below the target folder, and its bytes.
pub(super) type File = (String, Vec<u8>);

/// Puts files into `target`, replacing the whole folder that an earlier run made. What stands
/// there is only replaced if an earlier run made it, and stays until the new one is complete.
pub(super) fn replace(target: &Path, files: &[File]) -> Result<(), WriteError> {
    let parent = target.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    fs::create_dir_all(parent).map_err(at(parent))?;
    if target.exists() && !made_here(target).map_err(at(target))? {
        let source = io::Error::other(
            "the folder holds something that this program did not make; choose another --out",
        );
        return Err(WriteError { path: target.to_owned(), source });
    }
    let fresh = tempfile::Builder::new().prefix(".asfound-").tempdir_in(parent).map_err(at(parent))?;
    for (name, bytes) in files {
        let path = fresh.path().join(name);
        if let Some(folder) = path.parent() {
            fs::create_dir_all(folder).map_err(at(folder))?;
        }
        write_synced(&path, bytes).map_err(at(&path))?;
    }
    swap(fresh, target, parent).map_err(at(target))
}

fn write_synced(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let mut file = fs::File::create(path)?;
    io::Write::write_all(&mut file, bytes)?;
    file.sync_data()
}

/// Renames the new folder into place; the old one steps aside first and is removed last.
fn swap(fresh: tempfile::TempDir, target: &Path, parent: &Path) -> io::Result<()> {
    set_readable(fresh.path())?;
    let fresh = fresh.keep();
    if !target.exists() {
        return fs::rename(&fresh, target);
    }
    let aside = tempfile::Builder::new().prefix(".asfound-old-").tempdir_in(parent)?;
    let old = aside.path().join("old");
    fs::rename(target, &old)?;
    if let Err(error) = fs::rename(&fresh, target) {
        fs::rename(&old, target)?;
        let _ = fs::remove_dir_all(&fresh);
        return Err(error);
    }
    Ok(())
}

/// A temporary folder is private to its maker; what it becomes is an ordinary one.
#[cfg(unix)]
pub(super) fn set_readable(path: &Path) -> io::Result<()> {
    use std::os::unix::fs::PermissionsExt;
    fs::set_permissions(path, fs::Permissions::from_mode(0o755))
}

#[cfg(not(unix))]
pub(super) fn set_readable(_: &Path) -> io::Result<()> {
    Ok(())
}

/// What a run puts at the top of its folder.
const MADE: [&str; 5] = ["report.pdf", "findings.json", "findings.csv", "charts", "source"];

/// Whether a folder is empty, or holds what a run made and nothing of anybody else's.
fn made_here(folder: &Path) -> io::Result<bool> {
    if !folder.is_dir() {
        return Ok(false);
    }
    let mut empty = true;
    for entry in fs::read_dir(folder)? {
        let name = entry?.file_name();
        if !MADE.iter().any(|made| name == *made) {
            return Ok(false);
        }
        empty = false;
    }
    if empty {
        return Ok(true);
    }
    let findings = fs::read_to_string(folder.join("findings.json")).unwrap_or_default();
    Ok(findings.contains("\"program\": \"asfound "))
}
