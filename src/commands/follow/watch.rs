//! Hears of saved files: from the system where it tells, and by looking from time to time where it does
//! not (too many folders, a network drive, an event that was lost).

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::time::{Duration, Instant};

use notify::event::{AccessKind, AccessMode, ModifyKind};
use notify::{Event, EventKind, RecommendedWatcher, RecursiveMode, Watcher};
use signal_hook::consts::TERM_SIGNALS;

/// How long nothing must happen after a sign that a file may be half written.
const SETTLE: Duration = Duration::from_millis(40);
/// The same after a sign that a file is whole: it was closed, or renamed into place.
const SETTLE_WHOLE: Duration = Duration::from_millis(8);
/// Longer than this no stream of events holds up a report.
const LONGEST: Duration = Duration::from_secs(1);
/// How often the folders are looked at although the system said nothing.
const GLANCE: Duration = Duration::from_millis(700);
/// The same where the system cannot say anything.
const GLANCE_ALONE: Duration = Duration::from_millis(200);
/// How soon a wish to end is heard.
const PROMPT: Duration = Duration::from_millis(100);

/// What was heard.
#[derive(Debug, Default)]
pub(super) struct Heard {
    /// The files that something was said of.
    pub paths: BTreeSet<PathBuf>,
    /// When the first word came; none where nothing was said.
    pub since: Option<Instant>,
}

impl Heard {
    /// Takes over what was heard later.
    pub(super) fn extend(&mut self, later: Self) {
        self.paths.extend(later.paths);
        self.since = self.since.or(later.since);
    }
}

/// A word from the system about files.
struct Word {
    files: Vec<PathBuf>,
    /// Whether it is a sign that they are whole.
    whole: bool,
}

/// That the person wishes to end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Ended;

pub(super) struct Watch {
    watcher: Option<RecommendedWatcher>,
    words: Receiver<Word>,
    // Kept so that the channel stays open although nobody speaks.
    _speaker: Sender<Word>,
    /// Whether the person wishes to end: Ctrl-C, or the terminal is closed.
    end: Arc<AtomicBool>,
    /// The folders watched, each with what tells it from another of its name.
    folders: BTreeMap<PathBuf, Option<(u64, u64)>>,
    alone: Option<String>,
}

impl Watch {
    /// Begins to listen, also for Ctrl-C.
    pub(super) fn new() -> Self {
        let (speaker, words) = channel();
        let end = Arc::new(AtomicBool::new(false));
        for signal in TERM_SIGNALS {
            // The first wish lets a report that is being written be written whole; a second one does not
            // wait. Where the system refuses, its own way of ending stays.
            let _ = signal_hook::flag::register_conditional_default(*signal, Arc::clone(&end));
            let _ = signal_hook::flag::register(*signal, Arc::clone(&end));
        }
        let tell = speaker.clone();
        let watcher = notify::recommended_watcher(move |event: notify::Result<Event>| {
            if let Some(word) = word(event) {
                let _ = tell.send(word);
            }
        });
        let (watcher, alone) = match watcher {
            Ok(watcher) => (Some(watcher), None),
            Err(error) => (None, Some(why(&error))),
        };
        Self { watcher, words, _speaker: speaker, end, folders: BTreeMap::new(), alone }
    }

    /// Watches these folders and no others. A folder that went away and came back is watched anew. Gives
    /// the reason, once, where the system will not tell and the folders are looked at instead.
    pub(super) fn over(&mut self, folders: &BTreeSet<PathBuf>) -> Option<String> {
        let wanted: BTreeMap<PathBuf, Option<(u64, u64)>> = folders
            .iter()
            .filter(|folder| folder.is_dir())
            .map(|folder| (folder.to_owned(), identity(folder)))
            .collect();
        if let Some(watcher) = &mut self.watcher {
            for (folder, was) in &self.folders {
                if wanted.get(folder) != Some(was) {
                    // It may be gone already.
                    let _ = watcher.unwatch(folder);
                }
            }
            for (folder, is) in &wanted {
                if self.folders.get(folder) != Some(is)
                    && let Err(error) = watcher.watch(folder, RecursiveMode::Recursive)
                    && folder.is_dir()
                {
                    self.alone = Some(why(&error));
                }
            }
        }
        self.folders = wanted;
        if self.alone.is_some() {
            self.watcher = None;
        }
        self.alone.take()
    }

    /// Waits until something was said and then nothing more for a while, or until it is time to look.
    pub(super) fn wait(&self) -> Result<Heard, Ended> {
        let glance = if self.watcher.is_some() { GLANCE } else { GLANCE_ALONE };
        self.heard_within(glance)
    }

    /// Whether something more is said within the time in which an editor puts a file back.
    pub(super) fn more(&self) -> Result<Heard, Ended> {
        self.heard_within(SETTLE + SETTLE)
    }

    fn heard_within(&self, patience: Duration) -> Result<Heard, Ended> {
        let mut heard = Heard::default();
        let mut until = Instant::now() + patience;
        loop {
            if self.end.load(Ordering::Relaxed) {
                return Err(Ended);
            }
            let left = until.saturating_duration_since(Instant::now());
            match self.words.recv_timeout(left.min(PROMPT)) {
                Ok(Word { files, whole }) => {
                    let now = Instant::now();
                    let since = *heard.since.get_or_insert(now);
                    heard.paths.extend(files);
                    let settle = if whole { SETTLE_WHOLE } else { SETTLE };
                    until = (now + settle).min(since + LONGEST);
                }
                Err(RecvTimeoutError::Timeout | RecvTimeoutError::Disconnected) if left <= PROMPT => {
                    return Ok(heard);
                }
                Err(_) => {}
            }
        }
    }
}

/// What an event says of files; none where they were only looked at, as this program does itself.
fn word(event: notify::Result<Event>) -> Option<Word> {
    let Ok(event) = event else {
        return Some(Word { files: Vec::new(), whole: false });
    };
    let whole = match event.kind {
        EventKind::Access(AccessKind::Close(AccessMode::Write)) | EventKind::Modify(ModifyKind::Name(_)) => {
            true
        }
        EventKind::Access(_) => return None,
        _ => false,
    };
    Some(Word { files: event.paths, whole })
}

fn why(error: &notify::Error) -> String {
    match error.kind {
        notify::ErrorKind::MaxFilesWatch => "the system watches no more folders".to_owned(),
        _ => format!("the system does not tell of saved files ({error})"),
    }
}

/// Tells a folder from another that took its name.
#[cfg(unix)]
fn identity(folder: &Path) -> Option<(u64, u64)> {
    use std::os::unix::fs::MetadataExt;
    std::fs::metadata(folder).ok().map(|meta| (meta.dev(), meta.ino()))
}

#[cfg(not(unix))]
fn identity(_: &Path) -> Option<(u64, u64)> {
    None
}
