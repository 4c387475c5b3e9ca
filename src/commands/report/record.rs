//! What a report was made from, kept beside the outputs, so that the next run need not make it again. It is never trusted over the
//! inputs: a file whose size or time is another, or whose time is too near to tell, is read and its digest compared. Without
//! the record, or with one that cannot be read, everything is made anew.

use std::collections::BTreeMap;
use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::time::{SystemTime, UNIX_EPOCH};

use serde::{Deserialize, Serialize};
use walkdir::WalkDir;

use super::{Made, Options};
use crate::commands::PROGRAM;
use crate::evidence::digest::sha256_of;

/// Where records lie in the folder of outputs. It may be removed at any time.
const FOLDER: &str = ".built";
/// Two saves within so many nanoseconds can leave one time (FAT keeps two seconds).
const GRAIN: u64 = 2_000_000_000;
/// More files than this are not recorded: the report is then made every time.
const MOST_FILES: usize = 20_000;

/// A file as the system tells of it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
struct Mark {
    size: u64,
    /// Nanoseconds since 1970.
    modified: u64,
    /// When anything about it last changed, where the system tells: a time that was set back does not hide a change.
    touched: i64,
}

#[derive(Debug, Serialize, Deserialize)]
struct Input {
    #[serde(flatten)]
    mark: Mark,
    /// SHA-256; none of a file that was not read.
    sha256: Option<String>,
}

/// A record as it is kept.
#[derive(Debug, Serialize, Deserialize)]
pub(super) struct Record {
    how: String,
    /// When the run began, in nanoseconds since 1970: what was saved later may not be what was read.
    at: u64,
    /// The session's folder, and those of sessions that it names, with their files.
    folders: Vec<PathBuf>,
    inputs: BTreeMap<String, Input>,
    outputs: BTreeMap<String, Mark>,
    /// What the run warned of.
    pub(super) warnings: usize,
}

/// The session as it lay there before it was read.
pub(super) struct Seen {
    at: u64,
    root: PathBuf,
    inputs: BTreeMap<String, Mark>,
}

impl Seen {
    /// Looks at every file of the session; none where it cannot be.
    pub(super) fn now(dir: &Path, options: &Options) -> Option<Self> {
        let at = nanoseconds(SystemTime::now())?;
        let root = fs::canonicalize(dir).ok()?;
        let mut inputs = BTreeMap::new();
        look(&root, &mut inputs)?;
        if let Some(templates) = &options.templates {
            look(&fs::canonicalize(templates).ok()?, &mut inputs)?;
        }
        Some(Self { at, root, inputs })
    }

    fn name(&self) -> String {
        self.root.file_name().unwrap_or_default().to_string_lossy().into_owned()
    }
}

/// Every file below a folder, hidden ones left out. None where there are too many, or one has no time.
fn look(folder: &Path, inputs: &mut BTreeMap<String, Mark>) -> Option<()> {
    let visible = |entry: &walkdir::DirEntry| {
        entry.depth() == 0 || !entry.file_name().to_string_lossy().starts_with('.')
    };
    for entry in WalkDir::new(folder).into_iter().filter_entry(visible) {
        let entry = entry.ok()?;
        if entry.file_type().is_dir() {
            continue;
        }
        inputs.insert(entry.path().to_str()?.to_owned(), mark(entry.path())?);
        if inputs.len() > MOST_FILES {
            return None;
        }
    }
    Some(())
}

/// A link counts as what it leads to.
fn mark(path: &Path) -> Option<Mark> {
    let data = fs::metadata(path).ok()?;
    Some(Mark { size: data.len(), modified: nanoseconds(data.modified().ok()?)?, touched: touched(&data) })
}

#[cfg(unix)]
fn touched(data: &fs::Metadata) -> i64 {
    use std::os::unix::fs::MetadataExt;
    data.ctime().saturating_mul(1_000_000_000).saturating_add(data.ctime_nsec())
}

#[cfg(not(unix))]
fn touched(_: &fs::Metadata) -> i64 {
    0
}

/// Nanoseconds since 1970; 64 bits hold them until 2554.
fn nanoseconds(moment: SystemTime) -> Option<u64> {
    u64::try_from(moment.duration_since(UNIX_EPOCH).ok()?.as_nanos()).ok()
}

/// Everything beside the files that a report depends on: the program to the byte, and what was asked.
fn how(options: &Options) -> String {
    let program = std::env::current_exe().ok().and_then(|path| mark(&path));
    format!("{PROGRAM} {program:?} {:?} {:?} {}", options.publication, options.templates, options.source)
}

fn place(name: &str, options: &Options) -> PathBuf {
    options.out.join(FOLDER).join(format!("{name}.json"))
}

/// The record of the last run, where nothing has changed since: neither what was read nor what was made.
pub(super) fn still_holds(seen: &Seen, options: &Options) -> Option<Record> {
    let text = fs::read(place(&seen.name(), options)).ok()?;
    let record: Record = serde_json::from_slice(&text).ok()?;
    let made = record.outputs.iter().all(|(path, known)| mark(Path::new(path)).as_ref() == Some(known));
    if record.how != how(options) || !made || record.folders.first() != Some(&seen.root) {
        return None;
    }
    let mut inputs = seen.inputs.clone();
    for folder in record.folders.iter().skip(1) {
        look(folder, &mut inputs)?;
    }
    let same = |(path, now): (&String, &Mark)| {
        let Some(known) = record.inputs.get(path) else { return false };
        let last = known.mark.modified.max(u64::try_from(known.mark.touched).unwrap_or(0));
        let vouched = last.saturating_add(GRAIN) < record.at;
        if known.mark == *now && vouched {
            return true;
        }
        known.mark.size == now.size
            && known.sha256.is_some()
            && sha256_of(Path::new(path)).ok() == known.sha256
    };
    (inputs.len() == record.inputs.len() && inputs.iter().all(same)).then_some(record)
}

/// Keeps what a report was made from. What hinders is nobody's trouble: the next run makes it again.
pub(super) fn keep(seen: Option<Seen>, made: &Made, warnings: usize, options: &Options) {
    let Some(seen) = seen else { return };
    let _ = kept(seen, made, warnings, options);
}

fn kept(seen: Seen, made: &Made, warnings: usize, options: &Options) -> Option<()> {
    let name = seen.name();
    let mut folders = vec![seen.root.clone()];
    let mut inputs = seen.inputs;
    for (_, other) in &made.session.others {
        look(&other.root, &mut inputs)?;
        folders.push(other.root.clone());
    }
    // The report's own digests are of what was read; what it does not list (the narration, templates) has few bytes.
    let own: BTreeMap<String, &str> = made
        .listed
        .iter()
        .filter_map(|file| {
            let path = fs::canonicalize(seen.root.join(&file.path)).ok()?;
            Some((path.to_str()?.to_owned(), file.sha256.as_str()))
        })
        .collect();
    let inputs = inputs.into_iter().map(|(path, mark)| {
        let sha256 = own.get(&path).map(|known| (*known).to_owned());
        let sha256 = sha256.or_else(|| sha256_of(Path::new(&path)).ok());
        (path, Input { mark, sha256 })
    });
    let target = options.out.join(&name);
    let mut outputs = BTreeMap::new();
    for path in made.files.iter().map(|file| target.join(file)) {
        outputs.insert(path.to_str()?.to_owned(), mark(&path)?);
    }
    let record =
        Record { how: how(options), at: seen.at, folders, inputs: inputs.collect(), outputs, warnings };
    let folder = options.out.join(FOLDER);
    fs::create_dir_all(&folder).ok()?;
    let mut fresh = tempfile::NamedTempFile::new_in(&folder).ok()?;
    fresh.write_all(&serde_json::to_vec(&record).ok()?).ok()?;
    fresh.persist(place(&name, options)).ok()?;
    Some(())
}
