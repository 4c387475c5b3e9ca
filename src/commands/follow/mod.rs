//! `report --follow`: the report made again whenever something that it is made from is saved.

mod inputs;
mod tell;
mod watch;

use std::collections::BTreeSet;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::time::Instant;

use super::report::{self, Attempt, Kept, Options};
use super::{Outcome, show};
use inputs::{Changes, Inputs, Root};
use tell::Teller;
use watch::{Ended, Heard, Watch};

/// A report that cannot be made is tried again as often as this while files still change under it: an
/// editor may be half way through a save.
const TRIES: usize = 5;

/// Makes the reports, and makes each again when its session changes, until the person ends it.
pub(super) fn run(dirs: &[PathBuf], options: &Options, out: &mut dyn Write, err: &mut dyn Write) -> Outcome {
    if report::two_of_one_name(dirs, err) {
        return Outcome::CouldNotWrite;
    }
    if let Some(missing) = dirs.iter().find(|dir| !dir.is_dir()) {
        // More likely a slip of the keys than a folder that is still to come.
        return report::run(std::slice::from_ref(missing), options, out, err);
    }
    let mut rounds = Rounds {
        options,
        watch: Watch::new(),
        followed: dirs.iter().map(|dir| Followed::new(dir, options)).collect(),
        teller: Teller::new(out, err, options.quiet),
    };
    match rounds.first().and_then(|()| rounds.others()) {
        Ok(()) | Err(Stop::Ended) => Outcome::Done,
        Err(Stop::CouldNotWrite) => Outcome::CouldNotWrite,
    }
}

/// Why it does not go on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Stop {
    /// The person ended it, or whoever read what it said went away.
    Ended,
    /// The very first report could not be written.
    CouldNotWrite,
}

impl From<Ended> for Stop {
    fn from(_: Ended) -> Self {
        Self::Ended
    }
}

impl From<std::io::Error> for Stop {
    fn from(_: std::io::Error) -> Self {
        Self::Ended
    }
}

/// How it stands with a session.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum State {
    /// Its report is what the session says.
    Good,
    /// The session has errors, and its report is an older one.
    Faulty,
    /// Its folder is not there.
    Away,
}

/// One session that is followed.
struct Followed {
    dir: PathBuf,
    shown: String,
    kept: Kept,
    inputs: Inputs,
    /// What changed since the last report.
    changes: Changes,
    /// The folders that the report is made from; the session's own is the first.
    roots: Vec<Root>,
    /// The last known folders of the sessions that it is compared with.
    others: Vec<(String, PathBuf)>,
    /// Where its report goes: never an input.
    output: PathBuf,
    state: State,
    /// What was said of the last report that is no error: it is not said again.
    said: BTreeSet<String>,
}

impl Followed {
    fn new(dir: &Path, options: &Options) -> Self {
        let real = std::fs::canonicalize(dir).unwrap_or_default();
        Self {
            dir: dir.to_owned(),
            shown: show::plain(&dir.display().to_string()),
            kept: Kept::of_one_session(),
            inputs: Inputs::default(),
            changes: Changes::default(),
            roots: Vec::new(),
            others: Vec::new(),
            output: options.out.join(real.file_name().unwrap_or_default()),
            state: State::Good,
            said: BTreeSet::new(),
        }
    }

    /// Finds out what changed; whether anything did. A folder that is not there is no change of its files.
    fn look(&mut self, options: &Options, stirred: &BTreeSet<PathBuf>) -> bool {
        let real = |folder: &Path| std::fs::canonicalize(folder).ok().filter(|folder| folder.is_dir());
        let Some(own) = real(&self.dir) else {
            self.roots.clear();
            return false;
        };
        let templates = options.templates.iter().map(|folder| (folder.display().to_string(), folder));
        let others = self.others.iter().map(|(named, folder)| (named.clone(), folder));
        let beside = templates.chain(others).filter_map(|(named, folder)| {
            let named = format!("{}/", show::plain(&named));
            real(folder).map(|folder| Root { folder, named })
        });
        let own = Root { folder: own, named: String::new() };
        self.roots = std::iter::once(own).chain(beside).collect();
        let outputs: Vec<PathBuf> = std::fs::canonicalize(&self.output).into_iter().collect();
        let changes = self.inputs.look(&self.roots, &outputs, stirred);
        let changed = !changes.is_empty();
        self.changes.extend(changes);
        changed
    }

    /// Makes the report. Where it is compared with a session that was not followed before, that one is
    /// looked at and the report made once more: from here on it is known whether something changed there.
    fn attempt(&mut self, options: &Options) -> Attempt {
        let attempt = report::attempt(&self.dir, options, &mut self.kept);
        // What it could not read it may still depend on.
        let learnt = attempt.made.is_ok() || !attempt.others.is_empty();
        if !learnt || attempt.others == self.others {
            return attempt;
        }
        self.others.clone_from(&attempt.others);
        let changes = std::mem::take(&mut self.changes);
        self.look(options, &BTreeSet::new());
        self.changes = changes;
        report::attempt(&self.dir, options, &mut self.kept)
    }
}

/// The reports made again, round after round.
struct Rounds<'a> {
    options: &'a Options,
    watch: Watch,
    followed: Vec<Followed>,
    teller: Teller<'a>,
}

impl Rounds<'_> {
    /// The first report of each session.
    fn first(&mut self) -> Result<(), Stop> {
        self.listen();
        for one in &mut self.followed {
            one.look(self.options, &BTreeSet::new());
            one.changes = Changes::default();
            let attempt = one.attempt(self.options);
            self.teller.first(one, &attempt)?;
            if matches!(attempt.made, Err(Outcome::CouldNotWrite)) {
                return Err(Stop::CouldNotWrite);
            }
            one.state = if attempt.made.is_ok() { State::Good } else { State::Faulty };
        }
        let names: Vec<&str> = self.followed.iter().map(|one| one.shown.as_str()).collect();
        Ok(self.teller.following(&names)?)
    }

    /// All further ones.
    fn others(&mut self) -> Result<(), Stop> {
        let mut heard = Heard::default();
        loop {
            self.listen();
            if heard.since.is_none() {
                heard = self.watch.wait()?;
            }
            let mut later = Heard::default();
            for index in 0..self.followed.len() {
                let more = self.round(index, &heard)?;
                later.extend(more);
            }
            heard = later;
        }
    }

    /// Listens for every folder that a report is made from, before it is looked at.
    fn listen(&mut self) {
        let folders = self.followed.iter().flat_map(|one| {
            let own = one.roots.is_empty().then(|| std::fs::canonicalize(&one.dir).ok()).flatten();
            one.roots.iter().map(|root| root.folder.clone()).chain(own)
        });
        let folders: BTreeSet<PathBuf> = folders.collect();
        if let Some(why) = self.watch.over(&folders) {
            self.teller.alone(&why);
        }
    }

    /// Looks at one session and makes its report where something changed. Gives what was heard meanwhile.
    fn round(&mut self, index: usize, heard: &Heard) -> Result<Heard, Stop> {
        let Self { options, watch, followed, teller } = self;
        let one = &mut followed[index];
        let start = heard.since.unwrap_or_else(Instant::now);
        let mut later = Heard::default();
        let mut changed = one.look(options, &heard.paths);
        if one.roots.is_empty() && one.state != State::Away {
            // What puts a folder in another's place takes the old one away first.
            later.extend(watch.more()?);
            changed = one.look(options, &later.paths);
        }
        if one.roots.is_empty() {
            if one.state != State::Away {
                one.state = State::Away;
                teller.away(one);
            }
            return Ok(later);
        }
        if !changed && one.state != State::Away {
            return Ok(later);
        }
        let mut attempt = one.attempt(options);
        for _ in 1..TRIES {
            if attempt.made.is_ok() {
                break;
            }
            let more = watch.more()?;
            changed = one.look(options, &more.paths);
            later.extend(more);
            if !changed {
                break;
            }
            attempt = one.attempt(options);
        }
        if one.roots.is_empty() {
            // It went away under the report; the next round says so.
            later.since.get_or_insert(start);
            return Ok(later);
        }
        teller.again(one, &attempt, start.elapsed())?;
        one.changes = Changes::default();
        one.state = if attempt.made.is_ok() { State::Good } else { State::Faulty };
        one.kept.tidy();
        Ok(later)
    }
}
