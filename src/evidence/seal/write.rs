//! Makes seals: what is to be written is worked out for all visits, and then written.

use std::collections::BTreeMap;
use std::fs;
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

use super::check::{self, Checked, Found};
use super::files::{Hashes, of_visit};
use super::signature::{Key, Signature, SigningKey};
use super::{
    BESIDE, Before, MOST_BYTES, Moment, NAME, SIGNATURE, STAMP, Seal, SealedFile, from_visit, kept_name,
    text, words,
};
use crate::evidence::sha256;
use crate::session::{Problem, Problems, Session, Visit, Walls, did_you_mean};

/// What is asked for.
#[derive(Debug)]
pub struct Order<'a> {
    /// The ids of the visits.
    pub visits: &'a [String],
    /// When they are sealed.
    pub at: &'a Moment,
    /// Whether a seal that does not hold any more is replaced, and kept beside the new one.
    pub again: bool,
    /// What the seals are signed with.
    pub key: Option<&'a SigningKey>,
}

/// What is to be done for a visit.
#[derive(Debug)]
pub struct Planned {
    /// The visit's id.
    pub visit: String,
    /// Its folder.
    folder: PathBuf,
    /// The seal that holds and stays as it is.
    pub holds: Option<Box<Checked>>,
    /// The new seal, and how many files it names.
    new: Option<(String, usize)>,
    /// The seal that steps aside: under which number, and its bytes.
    kept: Option<(u32, Vec<u8>)>,
    /// The signature to write, and the key that made it.
    signature: Option<(String, Key)>,
}

impl Planned {
    /// How many files the new seal names; none where there is no new one.
    pub fn files(&self) -> Option<usize> {
        self.new.as_ref().map(|(_, files)| *files)
    }

    /// Under which name the old seal is kept.
    pub fn kept(&self) -> Option<String> {
        self.kept.as_ref().map(|(number, _)| kept_name(*number))
    }

    /// The key that signs.
    pub fn signed(&self) -> Option<&Key> {
        self.signature.as_ref().map(|(_, key)| key)
    }
}

/// What could not be written.
#[derive(Debug, thiserror::Error)]
#[error("cannot write {}: {source}", path.display())]
pub struct PutError {
    /// The path at hand.
    pub path: PathBuf,
    /// What the system said.
    pub source: io::Error,
}

/// Works out what is to be done, and writes nothing. What stands in the way goes to `problems`, as errors.
pub fn plan(session: &Session, order: &Order<'_>, problems: &mut Problems) -> Vec<Planned> {
    let known: Vec<&str> = session.visits.iter().map(|visit| visit.id.as_str()).collect();
    for id in order.visits.iter().filter(|id| !known.contains(&id.as_str())) {
        problems.push(
            Problem::folder(format!("{} has no visit '{id}'", session.name)).help(did_you_mean(id, &known)),
        );
    }
    let Ok(walls) = Walls::around(&session.root) else {
        problems.push(Problem::folder(format!("the folder {} went away", session.name)));
        return Vec::new();
    };
    let mut planner =
        Planner { session, order, hashes: Hashes::new(&walls, &[]), walls: &walls, new: BTreeMap::new() };
    let mut visits: Vec<&Visit> = session.visits.iter().collect();
    visits.sort_by(|a, b| (a.date, a.time, &a.id).cmp(&(b.date, b.time, &b.id)));
    let mut list = Vec::new();
    for (index, visit) in visits.iter().enumerate() {
        if order.visits.contains(&visit.id) {
            list.extend(planner.visit(visit, &visits[..index], problems));
        }
    }
    list
}

struct Planner<'a> {
    session: &'a Session,
    order: &'a Order<'a>,
    walls: &'a Walls,
    hashes: Hashes<'a>,
    /// The new seals' hashes by their visits.
    new: BTreeMap<String, String>,
}

impl Planner<'_> {
    fn visit(&mut self, visit: &Visit, earlier: &[&Visit], problems: &mut Problems) -> Option<Planned> {
        let mut wrong = Problems::default();
        let found = check::of(self.session, visit, self.walls, &self.hashes, &mut wrong);
        let shown = format!("{}/visits/{}", self.session.name, visit.id);
        let kept = self.kept(visit);
        match &found {
            Found::Seal(checked) if checked.holds() => {
                return self.standing(visit, checked.clone(), problems);
            }
            // A new seal must not be taken for the one that a signature or a time stamp is of.
            Found::Gone if self.left_alone(visit, &shown, problems) => return None,
            Found::Nothing => {}
            Found::Unreadable if kept.is_none() => {
                problems.push(
                    Problem::folder(format!("{shown}/{NAME} is no file that can be read"))
                        .help("move it out of the visit's folder"),
                );
                return None;
            }
            _ if self.order.again => {}
            Found::Seal(checked) => {
                problems.push(changed(&shown, checked));
                return None;
            }
            Found::Unreadable => {
                problems.extend(wrong);
                problems.push(
                    Problem::folder(format!("{shown}/{NAME} is there, and is no seal that can be read"))
                        .help("bring back the seal from a copy, or seal the visit again with --again, which keeps it"),
                );
                return None;
            }
            Found::Gone => {
                problems.push(
                    Problem::folder(format!("{shown} was sealed, and its {NAME} is gone"))
                        .help("bring it back from a copy, or seal the visit again with --again"),
                );
                return None;
            }
        }
        self.fresh(visit, earlier, kept, problems)
    }

    /// A seal that holds: it may still be signed.
    fn standing(&self, visit: &Visit, checked: Box<Checked>, problems: &mut Problems) -> Option<Planned> {
        let path = format!("visits/{}/{NAME}", visit.id);
        let mut signature = None;
        if let Some(key) = self.order.key {
            let own = key.key();
            match &checked.signature {
                None => {
                    let bytes = self.walls.bytes(&path, MOST_BYTES).unwrap_or_default();
                    signature = Some(sign(key, &bytes, problems)?);
                }
                Some(Signature::Good(other)) if *other == own => {}
                Some(_) => {
                    problems.push(
                        Problem::folder(format!(
                            "{}/{path}{SIGNATURE} is there, and is not of this key",
                            self.session.name
                        ))
                        .help("move it away first, under another name and out of the visit's folder"),
                    );
                    return None;
                }
            }
        }
        let folder = self.folder(visit, problems)?;
        Some(Planned {
            visit: visit.id.clone(),
            folder,
            holds: Some(checked),
            new: None,
            kept: None,
            signature,
        })
    }

    fn fresh(
        &mut self,
        visit: &Visit,
        earlier: &[&Visit],
        kept: Option<(u32, Vec<u8>)>,
        problems: &mut Problems,
    ) -> Option<Planned> {
        let before = match &kept {
            Some((number, bytes)) => {
                let path = format!("visits/{}/{}", visit.id, kept_name(*number));
                Some(Before { sha256: sha256(bytes), path })
            }
            None => self.previous(earlier),
        };
        if self.order.at.date() < visit.date {
            problems.push(
                Problem::folder(format!("{} is sealed before the day of the visit", visit.id))
                    .warning()
                    .help("see that the clock is right, or give the moment with --at"),
            );
        }
        let errors = problems.errors();
        let mut files = Vec::new();
        for path in of_visit(visit, self.walls, problems) {
            match self.hashes.of(&path) {
                Ok(sha256) => files.push(SealedFile { shown: from_visit(&visit.id, &path), path, sha256 }),
                Err(why) => problems.push(Problem::folder(format!("{path}: {why}"))),
            }
        }
        files.sort_by(|a, b| a.shown.cmp(&b.shown));
        let count = files.len();
        let seal = Seal { visit: visit.id.clone(), sealed: self.order.at.clone(), before, files };
        let text = text::of(&seal);
        if text.len() as u64 > MOST_BYTES {
            problems.push(Problem::folder(format!("visits/{}: too many files for one seal", visit.id)));
        }
        if problems.errors() > errors {
            return None;
        }
        let signature = match self.order.key {
            Some(key) => Some(sign(key, text.as_bytes(), problems)?),
            None => None,
        };
        self.new.insert(visit.id.clone(), sha256(text.as_bytes()));
        let folder = self.folder(visit, problems)?;
        Some(Planned {
            visit: visit.id.clone(),
            folder,
            holds: None,
            new: Some((text, count)),
            kept,
            signature,
        })
    }

    /// The last sealed visit before one.
    fn previous(&self, earlier: &[&Visit]) -> Option<Before> {
        earlier.iter().rev().find_map(|visit| {
            let path = format!("visits/{}/{NAME}", visit.id);
            let sha256 = match self.new.get(&visit.id) {
                Some(new) => new.clone(),
                None => sha256(&self.walls.bytes(&path, MOST_BYTES).ok()?),
            };
            Some(Before { sha256, path })
        })
    }

    /// The seal that a new one follows in its own visit's folder: the number that it has or will have, and its
    /// bytes. A run that was broken off may have kept it already.
    fn kept(&self, visit: &Visit) -> Option<(u32, Vec<u8>)> {
        let read = |name: &str| self.walls.bytes(&format!("visits/{}/{name}", visit.id), MOST_BYTES).ok();
        let last = check::last_kept(&visit.id, self.walls);
        let kept = last.and_then(|number| Some((number, read(&kept_name(number))?)));
        match (read(NAME), kept) {
            (Some(bytes), Some((number, kept))) if kept == bytes => Some((number, kept)),
            (Some(bytes), _) => Some((last.unwrap_or(0).checked_add(1)?, bytes)),
            (None, kept) => kept,
        }
    }

    /// Whether a signature or a time stamp lies there without its seal: a new seal must not be taken for theirs.
    fn left_alone(&self, visit: &Visit, shown: &str, problems: &mut Problems) -> bool {
        let mut any = false;
        for ending in [SIGNATURE, STAMP] {
            if self.walls.resolve(&format!("visits/{}/{NAME}{ending}", visit.id)).is_ok() {
                any = true;
                problems.push(
                    Problem::folder(format!("{shown}/{NAME}{ending} lies there without its seal"))
                        .help(format!("bring back {NAME} from a copy, or move it out of the visit's folder")),
                );
            }
        }
        any
    }

    /// The visit's folder, where it lies in the session.
    fn folder(&self, visit: &Visit, problems: &mut Problems) -> Option<PathBuf> {
        let folder = fs::canonicalize(self.walls.root().join("visits").join(&visit.id)).ok();
        let folder = folder.filter(|folder| folder.starts_with(self.walls.root()));
        if folder.is_none() {
            problems.push(Problem::folder(format!("visits/{} leads out of the session folder", visit.id)));
        }
        folder
    }
}

fn sign(key: &SigningKey, bytes: &[u8], problems: &mut Problems) -> Option<(String, Key)> {
    match key.sign(bytes) {
        Ok(text) => Some((text, key.key())),
        Err(why) => {
            problems.push(Problem::folder(format!("the seal could not be signed: {why}")));
            None
        }
    }
}

fn changed(shown: &str, checked: &Checked) -> Problem {
    let sealed = &checked.seal.sealed;
    let message =
        format!("{shown} was sealed {sealed} and is not as it was: {}", words::files_changed(checked));
    Problem::folder(message).help(
        "put back what was sealed; or, if the new state is to stand, seal it with --again: the old seal is kept, \
         and the new one names it",
    )
}

/// Writes what was planned for a visit: each file is complete before it has its name. An old seal is kept, with
/// what lies beside it, before the new one takes its place.
pub fn put(planned: &Planned) -> Result<(), PutError> {
    let folder = planned.folder.as_path();
    if let Some((text, _)) = &planned.new {
        let seal = folder.join(NAME);
        if let Some((number, bytes)) = &planned.kept {
            step_aside(folder, *number, bytes)?;
        }
        whole(&seal, text.as_bytes(), planned.kept.is_some())?;
    }
    if let Some((text, _)) = &planned.signature {
        whole(&folder.join(format!("{NAME}{SIGNATURE}")), text.as_bytes(), false)?;
    }
    // The names, too, are to outlast a loss of power. Not every system can be asked.
    if let Ok(folder) = fs::File::open(folder) {
        let _ = folder.sync_all();
    }
    Ok(())
}

/// Keeps the old seal under its number, with what lies beside it.
fn step_aside(folder: &Path, number: u32, bytes: &[u8]) -> Result<(), PutError> {
    let name = kept_name(number);
    let kept = folder.join(&name);
    if fs::symlink_metadata(&kept).is_err() {
        whole(&kept, bytes, false)?;
    }
    for ending in BESIDE.into_iter().filter(|ending| !ending.is_empty()) {
        let (from, to) = (folder.join(format!("{NAME}{ending}")), folder.join(format!("{name}{ending}")));
        if fs::symlink_metadata(&from).is_err() {
            continue;
        }
        let free = fs::symlink_metadata(&to).is_err();
        let moved = if free { fs::rename(&from, &to) } else { Err(io::ErrorKind::AlreadyExists.into()) };
        moved.map_err(|source| PutError { path: to, source })?;
    }
    Ok(())
}

/// Writes a file whole: complete under a hidden name in its folder, then renamed. Unless it may `replace`, what has
/// its name already stays.
fn whole(path: &Path, bytes: &[u8], replace: bool) -> Result<(), PutError> {
    let at = |source: io::Error| PutError { path: path.to_owned(), source };
    let mut builder = tempfile::Builder::new();
    builder.prefix(".asfound-");
    #[cfg(unix)]
    let readable: fs::Permissions = std::os::unix::fs::PermissionsExt::from_mode(0o644);
    #[cfg(unix)]
    builder.permissions(readable);
    let mut fresh = builder.tempfile_in(path.parent().unwrap_or(Path::new("."))).map_err(at)?;
    fresh.write_all(bytes).and_then(|()| fresh.as_file().sync_all()).map_err(at)?;
    let named = if replace { fresh.persist(path) } else { fresh.persist_noclobber(path) };
    named.map(|_| ()).map_err(|error| at(error.error))
}
