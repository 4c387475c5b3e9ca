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

/// Puts files into `target`, replacing the whole folder that an earlier run made, but for what other
/// commands put there. What stands there is only replaced if an earlier run made it, and stays until
/// the new one is complete.
pub(super) fn replace(target: &Path, files: &[File]) -> Result<(), WriteError> {
    let parent = parent_of(target)?;
    spare_others(target)?;
    let fresh = complete(target, files)?;
    for name in BESIDE {
        let kept = target.join(name);
        if kept.is_file() {
            fs::copy(&kept, fresh.path().join(name)).map_err(at(&kept))?;
        }
    }
    for name in FOLDERS {
        let kept = target.join(name);
        if kept.is_dir() {
            carry(&kept, &fresh.path().join(name)).map_err(at(&kept))?;
        }
    }
    swap(fresh, target, parent).map_err(at(target))
}

/// Puts a folder of files into `target` beside what other commands put there: `stills`, `buildups/NAME`. One of
/// that name is only replaced if this program made all that is in it, and stays until the new one is complete.
/// The files must hold [`CONTENTS`], which names them.
pub(super) fn put_folder(target: &Path, name: &str, files: &[File]) -> Result<(), WriteError> {
    let parent = parent_of(target)?;
    let folder = target.join(name);
    if fs::symlink_metadata(&folder).is_ok() && !is_our_folder(&folder) {
        let why = "the folder there holds something that this program did not make; move it or choose another --out";
        return refused(folder, why);
    }
    spare_others(target)?;
    let fresh = complete(target, files)?;
    let above = folder.parent().unwrap_or(target);
    fs::create_dir_all(above).map_err(at(above))?;
    swap(fresh, &folder, parent).map_err(at(&folder))
}

/// Puts one file into `target` beside what other commands put there.
pub(super) fn put(target: &Path, name: &str, bytes: &[u8]) -> Result<(), WriteError> {
    put_all(target, &[(name.to_owned(), bytes.to_vec())])
}

/// Puts files into `target` beside what other commands put there. A file of such a name is only
/// replaced if this program made it, and stays until all the new ones are complete.
pub(super) fn put_all(target: &Path, files: &[File]) -> Result<(), WriteError> {
    for (name, _) in files {
        spare_file(&target.join(name), ours)?;
    }
    spare_others(target)?;
    put_in_place(target, files)
}

/// Puts files into a folder that holds what others made. A file of such a name is only replaced if its bytes are `ours`.
pub(super) fn put_among(target: &Path, files: &[File], ours: fn(&[u8]) -> bool) -> Result<(), WriteError> {
    let plain = |path: &Path| fs::symlink_metadata(path).is_ok_and(|data| data.is_file());
    for (name, _) in files {
        spare_file(&target.join(name), |path| plain(path) && fs::read(path).is_ok_and(|bytes| ours(&bytes)))?;
    }
    put_in_place(target, files)
}

/// All files are complete before the first takes its name.
fn put_in_place(target: &Path, files: &[File]) -> Result<(), WriteError> {
    let mut complete = Vec::with_capacity(files.len());
    for (name, bytes) in files {
        let path = target.join(name);
        let fresh = whole_file(target, &path, bytes)?;
        complete.push((path, fresh));
    }
    let made = !target.exists();
    fs::create_dir_all(target).map_err(at(target))?;
    for (path, fresh) in complete {
        if let Err(error) = fresh.persist(&path) {
            if made {
                // Only an empty folder goes.
                let _ = fs::remove_dir(target);
            }
            return Err(WriteError { path, source: error.error });
        }
    }
    Ok(())
}

/// Puts one file in a place of its own, beside the folders of outputs. One of that name is only replaced if this program made
/// it, and stays until the new one is complete.
pub(super) fn put_alone(path: &Path, bytes: &[u8]) -> Result<(), WriteError> {
    spare_file(path, ours)?;
    let fresh = whole_file(path, path, bytes)?;
    fresh.persist(path).map_err(|error| WriteError { path: path.to_owned(), source: error.error })?;
    Ok(())
}

/// Refuses to replace a file that is not ours. Also a link that leads nowhere is somebody's.
fn spare_file(path: &Path, ours: impl Fn(&Path) -> bool) -> Result<(), WriteError> {
    if fs::symlink_metadata(path).is_ok() && !ours(path) {
        let why = "the file there was not made by this program; move it or choose another --out";
        return refused(path.to_owned(), why);
    }
    Ok(())
}

/// A file with its bytes, complete beside a target, to be put at `path`.
fn whole_file(target: &Path, path: &Path, bytes: &[u8]) -> Result<tempfile::NamedTempFile, WriteError> {
    let mut fresh = file_beside(target)?;
    io::Write::write_all(&mut fresh, bytes).and_then(|()| fresh.as_file().sync_data()).map_err(at(path))?;
    set_file_readable(fresh.path()).map_err(at(path))?;
    Ok(fresh)
}

/// An empty folder beside a target, for what is to be put into it. What it holds at the end is put in place by [`settle`].
pub(super) fn room_beside(target: &Path) -> Result<tempfile::TempDir, WriteError> {
    let parent = parent_of(target)?;
    tempfile::Builder::new().prefix(".asfound-").tempdir_in(parent).map_err(at(parent))
}

/// The same for one file; [`settle_file`] puts it in place.
pub(super) fn file_beside(target: &Path) -> Result<tempfile::NamedTempFile, WriteError> {
    let parent = parent_of(target)?;
    tempfile::Builder::new().prefix(".asfound-").tempfile_in(parent).map_err(at(parent))
}

/// Puts a folder in a place where nothing stands.
pub(super) fn settle(fresh: tempfile::TempDir, place: &Path) -> Result<(), WriteError> {
    let above = parent_of(place)?;
    set_readable(fresh.path()).map_err(at(place))?;
    fs::rename(fresh.path(), place).map_err(at(place))?;
    // What it was is no longer there to be removed.
    let _ = fresh.keep();
    sync_folder(above).map_err(at(above))
}

/// Puts a file in a place where nothing stands.
pub(super) fn settle_file(fresh: tempfile::NamedTempFile, place: &Path) -> Result<(), WriteError> {
    let above = parent_of(place)?;
    fresh.as_file().sync_data().map_err(at(place))?;
    set_file_readable(fresh.path()).map_err(at(place))?;
    fresh
        .persist_noclobber(place)
        .map_err(|error| WriteError { path: place.to_owned(), source: error.error })?;
    sync_folder(above).map_err(at(above))
}

/// A name in a folder is only safe once the folder is.
#[cfg(unix)]
fn sync_folder(folder: &Path) -> io::Result<()> {
    fs::File::open(folder)?.sync_all()
}

#[cfg(not(unix))]
fn sync_folder(_: &Path) -> io::Result<()> {
    Ok(())
}

/// The folder that a target stands in, made where it is not there.
fn parent_of(target: &Path) -> Result<&Path, WriteError> {
    let parent = target.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    fs::create_dir_all(parent).map_err(at(parent))?;
    Ok(parent)
}

/// Refuses a target that holds what this program did not make.
fn spare_others(target: &Path) -> Result<(), WriteError> {
    if target.exists() && !made_here(target).map_err(at(target))? {
        let why = "the folder holds something that this program did not make; choose another --out";
        return refused(target.to_owned(), why);
    }
    Ok(())
}

fn refused<T>(path: PathBuf, why: &str) -> Result<T, WriteError> {
    Err(WriteError { path, source: io::Error::other(why) })
}

/// The files, written in a temporary folder beside the target.
fn complete(target: &Path, files: &[File]) -> Result<tempfile::TempDir, WriteError> {
    let fresh = room_beside(target)?;
    for (name, bytes) in files {
        let path = fresh.path().join(name);
        if let Some(folder) = path.parent() {
            fs::create_dir_all(folder).map_err(at(folder))?;
        }
        write_synced(&path, bytes).map_err(at(&path))?;
    }
    Ok(fresh)
}

/// What stands in the metadata of every PDF that this program made, as it is.
pub(super) const CREATOR: &[u8] = b"<xmp:CreatorTool>asfound ";

/// Whether a file was made by this program. A PDF's metadata, which stand in the file as they are, say
/// so (XMP, `CreatorTool`); a text says so in its first lines.
pub(super) fn ours(file: &Path) -> bool {
    const MADE_BY: &str = super::script::MADE_BY;
    let plain = fs::symlink_metadata(file).is_ok_and(|data| data.is_file());
    let end = file.extension().and_then(|end| end.to_str()).unwrap_or_default();
    plain
        && fs::read(file).is_ok_and(|bytes| match end {
            "md" => bytes.starts_with(format!("<!-- {MADE_BY}").as_bytes()),
            "vtt" => bytes.starts_with(format!("WEBVTT\n\nNOTE {MADE_BY}").as_bytes()),
            "txt" => bytes.starts_with(MADE_BY.as_bytes()),
            _ => holds(&bytes, CREATOR),
        })
}

/// Whether some bytes stand in others.
pub(super) fn holds(bytes: &[u8], wanted: &[u8]) -> bool {
    memchr::memmem::find(bytes, wanted).is_some()
}

/// Whether a file can be read and a text stands in it as it is.
pub(super) fn file_holds(path: &Path, text: &str) -> bool {
    fs::read(path).is_ok_and(|bytes| holds(&bytes, text.as_bytes()))
}

fn write_synced(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let mut file = fs::File::create(path)?;
    io::Write::write_all(&mut file, bytes)?;
    file.sync_data()
}

/// Puts the new folder in place of the old. On Linux the two change places in one step, so that a run that is killed leaves the
/// one or the other; elsewhere the old one steps aside for a moment. It is removed last.
fn swap(fresh: tempfile::TempDir, target: &Path, parent: &Path) -> io::Result<()> {
    set_readable(fresh.path())?;
    if !target.exists() {
        fs::rename(fresh.path(), target)?;
        let _ = fresh.keep();
        return Ok(());
    }
    if exchanged(fresh.path(), target) {
        return fresh.close();
    }
    let fresh = fresh.keep();
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

/// Whether two folders could be made to change places (`renameat2`, Linux; not every file system can).
#[cfg(target_os = "linux")]
fn exchanged(one: &Path, other: &Path) -> bool {
    use rustix::fs::{CWD, RenameFlags, renameat_with};
    renameat_with(CWD, one, CWD, other, RenameFlags::EXCHANGE).is_ok()
}

#[cfg(not(target_os = "linux"))]
fn exchanged(_: &Path, _: &Path) -> bool {
    false
}

/// How old what a killed run left behind must be before it is removed: no run takes a day.
const LEFT_BEHIND: std::time::Duration = std::time::Duration::from_hours(24);

/// Removes what runs that were killed left in a folder of outputs: once a command, for there may be thousands. What cannot be
/// removed stays.
pub(super) fn sweep(out: &Path) {
    for entry in fs::read_dir(out).into_iter().flatten().flatten() {
        if !entry.file_name().to_string_lossy().starts_with(".asfound-") {
            continue;
        }
        let Ok(data) = entry.metadata() else { continue };
        if data.modified().is_ok_and(|then| then.elapsed().is_ok_and(|age| age > LEFT_BEHIND)) {
            let _ =
                if data.is_dir() { fs::remove_dir_all(entry.path()) } else { fs::remove_file(entry.path()) };
        }
    }
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

/// A temporary file is private to its maker too.
#[cfg(unix)]
pub(super) fn set_file_readable(path: &Path) -> io::Result<()> {
    use std::os::unix::fs::PermissionsExt;
    fs::set_permissions(path, fs::Permissions::from_mode(0o644))
}

#[cfg(not(unix))]
pub(super) fn set_file_readable(_: &Path) -> io::Result<()> {
    Ok(())
}

/// Carries a folder over. Pictures are many and large, so their files are linked where that can be.
fn carry(from: &Path, to: &Path) -> io::Result<()> {
    for entry in walkdir::WalkDir::new(from) {
        let entry = entry?;
        let Ok(below) = entry.path().strip_prefix(from) else { continue };
        let (kept, path) = (entry.path(), to.join(below));
        if entry.file_type().is_dir() {
            fs::create_dir_all(&path)?;
        } else if entry.file_type().is_file() && fs::hard_link(kept, &path).is_err() {
            fs::copy(kept, &path)?;
        }
    }
    Ok(())
}

/// In a folder of pictures: what it holds and who made it.
pub(super) const CONTENTS: &str = "contents.json";

/// Whether a folder is one that this program made, with nothing in it that it does not name.
fn is_our_folder(folder: &Path) -> bool {
    if !fs::symlink_metadata(folder).is_ok_and(|data| data.is_dir()) {
        return false;
    }
    let text = fs::read_to_string(folder.join(CONTENTS)).unwrap_or_default();
    let value: serde_json::Value = serde_json::from_str(&text).unwrap_or_default();
    let ours = value["program"].as_str().is_some_and(|program| program.starts_with("asfound "));
    let named: Vec<&str> =
        value["files"].as_array().into_iter().flatten().filter_map(serde_json::Value::as_str).collect();
    ours && walkdir::WalkDir::new(folder).into_iter().all(|entry| {
        entry.is_ok_and(|entry| {
            let below =
                entry.path().strip_prefix(folder).map(|path| path.to_string_lossy().replace('\\', "/"));
            let known = |below: String| below == CONTENTS || named.contains(&below.as_str());
            entry.file_type().is_dir() || (entry.file_type().is_file() && below.is_ok_and(known))
        })
    })
}

/// Folders that other commands put beside a report: a new report leaves them as they are. `buildups` holds a
/// folder for each of its pictures.
const FOLDERS: [&str; 3] = ["stills", BUILDUPS, super::bag::FOLDER];
/// The folder of pictures that build themselves up.
pub(super) const BUILDUPS: &str = "buildups";

/// Whether a folder or a zip is a bag that this program made: `bag-info.txt`, which comes first in a zip and stands in it as it
/// is, says so.
fn is_our_bag(path: &Path) -> bool {
    const AGENT: &[u8] = b"Bag-Software-Agent: asfound ";
    let info = if path.is_dir() { path.join("bag-info.txt") } else { path.to_owned() };
    let mut begin = Vec::new();
    let read = fs::File::open(info)
        .and_then(|file| io::Read::read_to_end(&mut io::Read::take(file, 4096), &mut begin));
    read.is_ok() && holds(&begin, AGENT)
}

/// Whether what stands there under the name of a folder of other commands was made by this program.
fn is_ours_beside(folder: &Path) -> bool {
    let is_folder = fs::symlink_metadata(folder).is_ok_and(|data| data.is_dir());
    if is_folder && folder.ends_with(super::bag::FOLDER) {
        let mut entries = fs::read_dir(folder).into_iter().flatten();
        return entries.all(|entry| entry.is_ok_and(|entry| is_our_bag(&entry.path())));
    }
    if !is_folder || !folder.ends_with(BUILDUPS) {
        return is_our_folder(folder);
    }
    let entries = fs::read_dir(folder).into_iter().flatten();
    entries.into_iter().all(|entry| entry.is_ok_and(|entry| is_our_folder(&entry.path())))
}

/// What other commands put beside a report: a new report leaves it as it is.
const BESIDE: [&str; 6] = ["letter.pdf", "sheet.pdf", "script.md", "script.pdf", "script.vtt", "stills.txt"];

/// What a report puts at the top of its folder.
const MADE: [&str; 6] = ["report.pdf", "page.html", "findings.json", "findings.csv", "charts", "source"];

/// Whether a folder is empty, or holds what a run made and nothing of anybody else's. Beside a report
/// that a run made, anybody's letter or sheet may lie (one that was signed or filled in, and scanned): no run touches it.
fn made_here(folder: &Path) -> io::Result<bool> {
    if !folder.is_dir() {
        return Ok(false);
    }
    let (mut reported, mut beside) = (false, true);
    for entry in fs::read_dir(folder)? {
        let name = entry?.file_name();
        if MADE.iter().any(|made| name == *made) {
            reported = true;
        } else if BESIDE.iter().any(|made| name == *made) {
            beside &= ours(&folder.join(name));
        } else if FOLDERS.iter().any(|made| name == *made)
            && fs::symlink_metadata(folder.join(&name))?.is_dir()
        {
            beside &= is_ours_beside(&folder.join(name));
        } else {
            return Ok(false);
        }
    }
    if !reported {
        return Ok(beside);
    }
    let findings = fs::read_to_string(folder.join("findings.json")).unwrap_or_default();
    Ok(findings.contains("\"program\": \"asfound "))
}
