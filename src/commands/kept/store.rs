//! One file of records, a line a session. It is read whole and its lines taken apart where they are asked for; it is replaced
//! whole, so that no reader ever finds half of one. Two runs at once each put in what they made.

use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io::Write;
use std::marker::PhantomData;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

use serde::Serialize;
use serde::de::DeserializeOwned;

use super::{Inputs, Record, Seen};
use crate::commands::{report, written};

/// Where records lie in a folder of outputs.
const FOLDER: &str = ".built";
/// The first line: a file of another form is none of ours.
const HEAD: &str = "asfound kept 1";
/// Larger than any that this program should have to read.
const MOST_BYTES: u64 = 1 << 30;
/// A run that is killed loses no more work than this.
const OFTEN: Duration = Duration::from_secs(5);
/// How long another run that writes is waited for.
const PATIENCE: Duration = Duration::from_secs(2);

/// Records of one kind in one folder of outputs.
pub(in super::super) struct Store<T> {
    /// None where nothing is to be kept.
    folder: Option<PathBuf>,
    kind: &'static str,
    lines: Lines,
    fresh: Mutex<Fresh>,
    of: PhantomData<fn() -> T>,
}

struct Fresh {
    lines: BTreeMap<String, String>,
    saved: Instant,
}

/// A file's lines by the session's folder, as JSON writes it.
#[derive(Default)]
struct Lines {
    text: String,
    /// Where the record of a folder stands in the text.
    places: BTreeMap<String, std::ops::Range<usize>>,
}

impl Lines {
    fn read(path: &Path) -> Self {
        let small = fs::metadata(path).is_ok_and(|data| data.len() <= MOST_BYTES);
        let text = if small { fs::read_to_string(path).unwrap_or_default() } else { String::new() };
        let mut places = BTreeMap::new();
        let mut at = HEAD.len() + 1;
        if text.strip_prefix(HEAD).is_some_and(|rest| rest.starts_with('\n')) {
            for line in text[at..].split_inclusive('\n') {
                if let Some((folder, record)) = line.split_once('\t') {
                    let begin = at + folder.len() + 1;
                    places.insert(folder.to_owned(), begin..begin + record.trim_end().len());
                }
                at += line.len();
            }
        }
        Self { text, places }
    }

    fn of(&self, folder: &str) -> Option<&str> {
        self.places.get(folder).and_then(|place| self.text.get(place.clone()))
    }
}

impl<T: Serialize + DeserializeOwned> Store<T> {
    /// The records of that kind in a folder of outputs. Where that folder lies in a session, nothing is kept: it would count as
    /// evidence there.
    pub(in super::super) fn open(out: &Path, kind: &'static str) -> Self {
        let mut store = Self::to_add(out, kind);
        if let Some(folder) = &store.folder {
            store.lines = Lines::read(&folder.join(kind));
        }
        store
    }

    /// The same for who has nothing to ask.
    pub(in super::super) fn to_add(out: &Path, kind: &'static str) -> Self {
        let folder = (!report::lies_in_a_session(out)).then(|| out.join(FOLDER));
        let fresh = Mutex::new(Fresh { lines: BTreeMap::new(), saved: Instant::now() });
        Self { folder, kind, lines: Lines::default(), fresh, of: PhantomData }
    }

    /// What was made of a session, where it `holds` by itself and nothing that it was made from has changed.
    pub(in super::super) fn of(&self, seen: &Seen, holds: impl FnOnce(&T) -> bool) -> Option<T> {
        let record: Record<T> = serde_json::from_str(self.lines.of(&key(seen.root())?)?).ok()?;
        if !holds(&record.made) {
            return None;
        }
        let (inputs, read) = record.inputs.still(seen)?;
        if read {
            // From now on the times vouch for what was read.
            self.put(inputs, &record.made);
        }
        Some(record.made)
    }

    /// Keeps what was made. What hinders is nobody's trouble: the next run makes it again.
    pub(in super::super) fn put(&self, inputs: Inputs, made: &T) {
        let root = inputs.folders.first().and_then(|folder| key(&folder.path));
        let record = serde_json::to_string(&Record { inputs, made });
        let (Some(_), Some(root), Ok(record)) = (&self.folder, root, record) else { return };
        let mut fresh = self.fresh.lock().unwrap_or_else(PoisonError::into_inner);
        fresh.lines.insert(root, record);
        if fresh.saved.elapsed() > OFTEN {
            self.write(&mut fresh);
        }
    }

    /// Writes what was kept since the last time.
    pub(in super::super) fn save(&self) {
        let mut fresh = self.fresh.lock().unwrap_or_else(PoisonError::into_inner);
        self.write(&mut fresh);
    }

    fn write(&self, fresh: &mut Fresh) {
        if let Some(folder) = self.folder.as_ref().filter(|_| !fresh.lines.is_empty()) {
            // Where it cannot be written, it is not kept.
            let _ = self.merged(folder, &fresh.lines);
            fresh.lines.clear();
            fresh.saved = Instant::now();
        }
    }

    /// Puts lines among those that stand there now. Sessions that are gone are forgotten.
    fn merged(&self, folder: &Path, fresh: &BTreeMap<String, String>) -> Option<()> {
        fs::create_dir_all(folder).ok()?;
        let _alone = alone(folder);
        written::sweep(folder);
        let known = Lines::read(&folder.join(self.kind));
        let there = |folder: &&String| {
            serde_json::from_str(folder).is_ok_and(|path: PathBuf| fs::symlink_metadata(path).is_ok())
        };
        let old = known.places.keys().filter(|folder| !fresh.contains_key(*folder)).filter(there);
        let old = old.filter_map(|folder| Some((folder.as_str(), known.of(folder)?)));
        let new = fresh.iter().map(|(folder, record)| (folder.as_str(), record.as_str()));
        let mut lines: Vec<(&str, &str)> = old.chain(new).collect();
        lines.sort_unstable();
        let file = written::file_beside(&folder.join(self.kind)).ok()?;
        let mut to = std::io::BufWriter::new(file);
        writeln!(to, "{HEAD}").ok()?;
        for (folder, record) in lines {
            writeln!(to, "{folder}\t{record}").ok()?;
        }
        let file = to.into_inner().ok()?;
        written::set_file_readable(file.path()).ok()?;
        file.persist(folder.join(self.kind)).ok()?;
        Some(())
    }
}

/// A folder as a line begins with it: JSON has no tabulators.
fn key(folder: &Path) -> Option<String> {
    serde_json::to_string(folder.to_str()?).ok()
}

/// Keeps other runs from writing until it is dropped. Where the system cannot, or another run does not come to an end, it goes
/// on without: what may then be lost is made again.
fn alone(folder: &Path) -> Option<File> {
    let file = File::create(folder.join("lock")).ok()?;
    let until = Instant::now() + PATIENCE;
    loop {
        match file.try_lock() {
            Ok(()) => return Some(file),
            Err(fs::TryLockError::WouldBlock) if Instant::now() < until => {
                std::thread::sleep(Duration::from_millis(10));
            }
            Err(_) => return None,
        }
    }
}
