//! From a folder to a [`Session`], with everything that is wrong on the way.

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::check::{Check, Comparison, VisitRef};
use super::fields::{Fields, key_place, place, text_of};
use super::instrument::Instrument;
use super::machine::{Machine, events};
use super::near;
use super::photo::{PhotoProblem, Said, Taken, examine, said};
use super::problem::{Place, Problem, Problems, SourceFile, did_you_mean};
use super::tree::{self, Entry, Node};
use super::visit::{State, Visit};
use super::walls::{WallBreach, Walls};
use super::withheld::Masks;
use super::{Letter, Notes, Paper, Party, Session};
use crate::quantity::UnitSystem;

/// A YAML file larger than this is no hand-written session.
const MOST_YAML: u64 = 8 << 20;
/// Notes larger than this are refused.
const MOST_NOTES: u64 = 8 << 20;
/// A photo larger than this is refused.
const MOST_PHOTO: u64 = 100 << 20;
/// More visits than this are no session.
const MOST_VISITS: usize = 1_000;

/// Reads a session folder. What is wrong goes to `problems`; the session is given as far as it
/// could be understood, and is whole where no error was found.
pub fn read(folder: &Path, problems: &mut Problems) -> Option<Session> {
    Reader::new(folder, false, problems)?.session(problems)
}

/// The same with masked copies in the place of some files, those of other sessions among them.
pub fn read_masked(folder: &Path, masks: &Masks, problems: &mut Problems) -> Option<Session> {
    let reader = Reader::new(folder, false, problems)?;
    Reader { walls: reader.walls.clone().masked(masks), masks: masks.clone(), ..reader }.session(problems)
}

/// The same for a session whose first visit is still to come: it need not have any.
pub fn read_planned(folder: &Path, problems: &mut Problems) -> Option<Session> {
    let reader = Reader::new(folder, false, problems)?;
    Reader { planned: true, ..reader }.session(problems)
}

/// An id made readable: `arbor-runout` becomes "Arbor runout".
pub fn title_of_id(id: &str) -> String {
    let spaced = id.replace('-', " ");
    let mut chars = spaced.chars();
    chars.next().map_or_else(String::new, |first| first.to_uppercase().chain(chars).collect())
}

/// A session folder being read.
pub(super) struct Reader {
    walls: Walls,
    name: String,
    /// Whether a comparison of another session led here: then no further one is followed.
    nested: bool,
    /// Whether the first visit may be still to come.
    planned: bool,
    others: Vec<(String, Session)>,
    beside: Vec<PathBuf>,
    masks: Masks,
}

impl Reader {
    fn new(folder: &Path, nested: bool, problems: &mut Problems) -> Option<Self> {
        let shown = folder.display();
        if folder.is_file() {
            problems.push(Problem::folder(format!("{shown} is a file, not a session folder")).help(
                match near::above(folder) {
                    Some(session) => format!("name its folder: {}", session.display()),
                    None => "name the folder that holds session.yaml".to_owned(),
                },
            ));
            return None;
        }
        let walls = match Walls::around(folder) {
            Ok(walls) => walls,
            Err(error) => {
                let why = if error.kind() == std::io::ErrorKind::NotFound {
                    format!("there is no folder {shown}")
                } else {
                    format!("the folder {shown} cannot be opened: {error}")
                };
                problems.push(Problem::folder(why).help(match near::of_like_name(folder) {
                    Some(session) => format!("did you mean {}?", session.display()),
                    None => "check the path; 'asfound start DIR' lays out a new session folder".to_owned(),
                }));
                return None;
            }
        };
        let name = walls
            .root()
            .file_name()
            .map_or_else(|| "session".to_owned(), |name| name.to_string_lossy().into_owned());
        Some(Self {
            walls,
            name,
            nested,
            planned: false,
            others: Vec::new(),
            beside: Vec::new(),
            masks: Masks::default(),
        })
    }

    /// The text of a file, as a source for messages. `None` where it is not there or unreadable;
    /// only the second is a problem here.
    fn source(&self, relative: &str, most: u64, problems: &mut Problems) -> Result<Arc<SourceFile>, Missing> {
        let name = format!("{}/{relative}", self.name);
        let bytes = match self.walls.bytes(relative, most) {
            Ok(bytes) => bytes,
            Err(WallBreach::Missing) => return Err(Missing),
            Err(breach) => {
                problems.push(Problem::folder(format!("{name}: {breach}")));
                return Err(Missing);
            }
        };
        let text = match String::from_utf8(bytes) {
            Ok(text) => text,
            Err(error) => {
                let at = error.utf8_error().valid_up_to();
                let bytes = error.into_bytes();
                let byte = bytes.get(at).copied().unwrap_or(0);
                let text = String::from_utf8_lossy(&bytes).into_owned();
                let source = Arc::new(SourceFile::whole(name, text));
                problems.push(
                    Problem::error(
                        format!("the file is not UTF-8 (byte 0x{byte:02X})"),
                        Place { source: Arc::clone(&source), span: at..at + 3 },
                    )
                    .expected("no character in UTF-8")
                    .help("save the file with the encoding UTF-8; ° and µ are the usual culprits"),
                );
                return Ok(source);
            }
        };
        let text = text.strip_prefix('\u{feff}').map(str::to_owned).unwrap_or(text);
        Ok(Arc::new(SourceFile::whole(name, text)))
    }

    fn top(&self, relative: &str, what: &str, problems: &mut Problems) -> Option<Fields> {
        let before = problems.errors();
        let source = self.source(relative, MOST_YAML, problems).ok();
        if source.is_none() && problems.errors() == before {
            problems.push(missing(&self.walls, &self.name, relative));
        }
        let source = source?;
        if problems.errors() > before {
            return None;
        }
        let node = tree::read(&source, problems);
        if let Some(node) = node {
            return Fields::of(&node, &source, what, problems);
        }
        if problems.errors() == before {
            problems.push(
                Problem::error("the file is empty", Place { source, span: 0..0 })
                    .expected("expected 'name: value' lines")
                    .help("'asfound start DIR' lays out a commented example in a new folder"),
            );
        }
        None
    }

    fn session(mut self, problems: &mut Problems) -> Option<Session> {
        let mut fields = self.top("session.yaml", "the session", problems)?;
        let mut session = self.head(&mut fields, problems);
        self.parts(&mut session, &mut fields, problems);
        let names = Names {
            machines: keys(&mut fields, "machines"),
            checks: keys(&mut fields, "checks"),
            instruments: keys(&mut fields, "instruments"),
        };
        if names.machines.is_empty() {
            fields.need("machines", "\n  saw: {name: Marlstone CS-10}", problems);
        }
        if names.checks.is_empty() {
            fields.need("checks", "\n  arbor-runout: {measure: run-out}", problems);
        }
        fields.finish(problems);
        session.visits = self.visits(&names.machines, problems);
        session.notes = self.source("notes.md", MOST_NOTES, problems).ok().map(|source| Notes { source });
        session.script = self.source("script.md", MOST_NOTES, problems).ok().map(|source| Notes { source });
        session.others = self.others;
        session.beside = self.beside;
        if self.planned && session.visits.is_empty() {
            session.compare.clear();
        }
        super::cross::check(&session, &names.checks, &names.instruments, problems);
        if session.compare.is_empty() {
            session.compare.extend(default_comparison(&session));
        }
        Some(session)
    }

    /// What the session says of itself.
    fn head(&self, fields: &mut Fields, problems: &mut Problems) -> Session {
        let title = fields.need_text("title", "Arbor bearings on a 10-inch cabinet saw", problems);
        fields.need("units", "inch", problems);
        let units = [("inch", UnitSystem::Inch), ("metric", UnitSystem::Metric)];
        let units = fields.one_of("units", &units, problems).unwrap_or(UnitSystem::Metric);
        let usual = if units == UnitSystem::Inch { Paper::UsLetter } else { Paper::A4 };
        let papers = [("us-letter", Paper::UsLetter), ("a4", Paper::A4)];
        Session {
            root: self.walls.root().to_path_buf(),
            name: self.name.clone(),
            title: title.unwrap_or_default(),
            question: fields.text("question", problems),
            ask: fields.text("ask", problems),
            prepared_by: fields.text("prepared_by", problems),
            units,
            paper: fields.one_of("paper", &papers, problems).unwrap_or(usual),
            machines: Vec::new(),
            instruments: Vec::new(),
            letter: letter(fields, problems),
            events: Vec::new(),
            checks: Vec::new(),
            compare: Vec::new(),
            visits: Vec::new(),
            notes: None,
            script: None,
            others: Vec::new(),
            beside: Vec::new(),
            masks: self.masks.clone(),
        }
    }

    /// Machines, instruments, checks, the diary, and what is compared.
    fn parts(&mut self, session: &mut Session, fields: &mut Fields, problems: &mut Problems) {
        session.machines = ids(fields, "machines", "a machine", problems, Machine::read);
        session.instruments = ids(fields, "instruments", "an instrument", problems, Instrument::read);
        session.events = events(fields, self, problems);
        session.checks = ids(fields, "checks", "a check", problems, Check::read);
        session.compare = self.comparisons(fields, problems).unwrap_or_default();
    }

    fn comparisons(&mut self, fields: &mut Fields, problems: &mut Problems) -> Option<Vec<Comparison>> {
        let source = Arc::clone(fields.source());
        let entries = fields.map("compare", problems)?;
        let mut list = Vec::new();
        for entry in entries {
            if valid_id(&entry, &source, problems)
                && let Some(inner) = Fields::of(&entry.node, &source, "a comparison", problems)
            {
                list.extend(Comparison::read(entry.key.clone(), inner, self, problems));
            }
        }
        Some(list)
    }

    /// Reads another session that a comparison names; gives the path as it was written.
    pub(super) fn other_session(
        &mut self,
        node: &Node,
        source: &Arc<SourceFile>,
        problems: &mut Problems,
    ) -> Option<String> {
        let path = text_of(node, source, "'session'", problems)?;
        let known = self.others.iter().any(|(name, _)| *name == path);
        if self.nested || known {
            return Some(path);
        }
        let folder = self.walls.root().join(&path);
        self.beside.push(folder.clone());
        let same = fs::canonicalize(&folder).is_ok_and(|folder| folder == self.walls.root());
        let session_there = folder.join("session.yaml").is_file();
        if same || !session_there || path.chars().any(char::is_control) {
            let why = if same {
                "a comparison with another session names this session"
            } else {
                "there is no session folder there"
            };
            problems.push(
                Problem::error(why, place(source, node))
                    .expected("expected the folder of another session")
                    .help("write its path from this session's folder: session: ../old-saw"),
            );
            return None;
        }
        let other = Self::new(&folder, true, problems)?;
        let walls = other.walls.clone().masked(&self.masks);
        let other = Self { walls, masks: self.masks.clone(), ..other }.session(problems)?;
        self.others.push((path.clone(), other));
        Some(path)
    }

    fn visits(&self, machines: &[String], problems: &mut Problems) -> Vec<Visit> {
        let machines: Vec<&str> = machines.iter().map(String::as_str).collect();
        let mut visits: Vec<Visit> = Vec::new();
        let folders = self.visit_folders(problems);
        for id in folders.iter().take(MOST_VISITS) {
            let relative = format!("visits/{id}/visit.yaml");
            if !is_id(id) {
                problems.push(
                    Problem::folder(format!("{}/visits/{id}: the folder's name is no id", self.name)).help(
                        format!(
                            "lower-case letters, digits and '-' make one: rename the folder to {}",
                            mended_id(id)
                        ),
                    ),
                );
                continue;
            }
            if let Some(fields) = self.top(&relative, "a visit", problems) {
                visits.extend(Visit::read(id.clone(), fields, self, &machines, problems));
            }
        }
        visits.sort_by(|a, b| (a.date, a.time, a.state, &a.id).cmp(&(b.date, b.time, b.state, &b.id)));
        visits
    }

    fn visit_folders(&self, problems: &mut Problems) -> Vec<String> {
        let folder = self.walls.root().join("visits");
        let inside = fs::canonicalize(&folder).is_ok_and(|path| path.starts_with(self.walls.root()));
        let mut names: Vec<String> = Vec::new();
        if inside && let Ok(entries) = fs::read_dir(&folder) {
            for entry in entries.flatten() {
                let name = entry.file_name().to_string_lossy().into_owned();
                if entry.path().is_dir() && !name.starts_with('.') {
                    names.push(name);
                }
            }
        }
        names.sort();
        if names.is_empty() && !self.planned {
            problems.push(
                Problem::folder(format!("{} has no visits", self.name))
                    .help("write the first one to visits/as-found/visit.yaml"),
            );
        }
        names
    }

    /// A file that a node names, relative to `folder`, as its path in the session.
    pub(super) fn named_file(
        &self,
        node: &Node,
        source: &Arc<SourceFile>,
        folder: &str,
        problems: &mut Problems,
    ) -> Option<String> {
        named_file(&self.walls, node, source, folder, problems)
    }

    /// When a file of the session was taken, where it is a photograph that says so.
    pub(super) fn taken(&self, file: &str) -> Option<Taken> {
        self.walls.bytes(file, MOST_PHOTO).ok().and_then(|bytes| said(&bytes).taken)
    }

    /// Looks at a photo. `None` where it cannot be shown (which is said); else what its own data say.
    pub(super) fn photo(&self, file: &str, at: &Place, problems: &mut Problems) -> Option<Said> {
        let (why, help) = match self.walls.bytes(file, MOST_PHOTO) {
            Err(breach) => (breach.to_string(), "check the file"),
            Ok(bytes) => match examine(&bytes) {
                Ok(said) => return Some(said),
                Err(PhotoProblem::Format) => (
                    "this is neither a JPEG nor a PNG picture".to_owned(),
                    "export the picture as .jpg or .png",
                ),
                Err(PhotoProblem::Broken(error)) => (
                    format!("the picture is broken: {error}"),
                    "copy it from the camera again, or take the line out",
                ),
            },
        };
        problems.push(
            Problem::error(format!("'{file}': {why}"), at.clone())
                .expected("expected a whole picture")
                .help(help),
        );
        None
    }
}

/// A file that a node names, relative to `folder`, as its path in the session.
pub fn named_file(
    walls: &Walls,
    node: &Node,
    source: &Arc<SourceFile>,
    folder: &str,
    problems: &mut Problems,
) -> Option<String> {
    let text = text_of(node, source, "a file name", problems)?;
    let found = walls.relative(folder, &text).and_then(|relative| walls.resolve(&relative).map(|_| relative));
    match found {
        Ok(relative) => Some(relative),
        Err(breach) => {
            let help = match breach {
                WallBreach::Missing => {
                    let base = if folder.is_empty() { "session.yaml" } else { "visit.yaml" };
                    format!("the name is taken from the folder of this {base}; check its spelling and case")
                }
                WallBreach::Leaves | WallBreach::LinkLeaves => {
                    "copy the file into the session folder and name it from there".to_owned()
                }
                _ => "name a file inside the session folder, with '/' between folders".to_owned(),
            };
            problems.push(
                Problem::error(format!("'{text}': {breach}"), place(source, node))
                    .expected("expected a file of this session")
                    .help(help),
            );
            None
        }
    }
}

/// The ids that were written, well-formed or not.
struct Names {
    machines: Vec<String>,
    checks: Vec<String>,
    instruments: Vec<String>,
}

/// That a file is not there (or was said to be unreadable).
struct Missing;

fn missing(walls: &Walls, name: &str, relative: &str) -> Problem {
    let problem = Problem::folder(format!("{name} holds no {relative}"));
    let path = walls.root().join(relative);
    let (folder, file) = (path.parent().unwrap_or(&path), relative.rsplit('/').next().unwrap_or(relative));
    if let Some(other) = near::misspelt(folder, file) {
        return problem.help(format!("rename {other} to {file}"));
    }
    if relative != "session.yaml" {
        return problem.help("every folder under visits/ holds one visit.yaml");
    }
    let named = |folder: PathBuf| folder.file_name().map(|name| name.to_string_lossy().into_owned());
    if let Some(session) = near::above(walls.root()).and_then(named) {
        return problem.help(format!("the session is the folder above it, {session}: name that one"));
    }
    match near::below(walls.root()).and_then(named) {
        Some(session) => problem.help(format!("the folder {session} in it is a session: name that one")),
        None => problem.help("is it the right folder? 'asfound start DIR' lays out a new session"),
    }
}

/// Whether a text is an id: lower-case letters, digits and `-`, 80 at most.
pub fn is_id(text: &str) -> bool {
    !text.is_empty()
        && text.len() <= 80
        && text.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-')
}

/// The id that is nearest to a text.
fn mended_id(text: &str) -> String {
    let plain = |c: char| if c.is_ascii_lowercase() || c.is_ascii_digit() { c } else { '-' };
    text.to_lowercase().chars().map(plain).collect()
}

fn valid_id(entry: &Entry, source: &Arc<SourceFile>, problems: &mut Problems) -> bool {
    if is_id(&entry.key) {
        return true;
    }
    let mended = mended_id(&entry.key);
    problems.push(
        Problem::error(format!("'{}' is no id", entry.key), key_place(source, entry))
            .expected("expected lower-case letters, digits and '-'")
            .help(format!("write it as: {mended}")),
    );
    false
}

/// The keys written under a map field, well-formed or not.
fn keys(fields: &mut Fields, name: &'static str) -> Vec<String> {
    let mut silent = Problems::default();
    fields.map(name, &mut silent).unwrap_or_default().into_iter().map(|entry| entry.key).collect()
}

fn ids<T>(
    fields: &mut Fields,
    name: &'static str,
    what: &str,
    problems: &mut Problems,
    read: impl Fn(String, Fields, &mut Problems) -> Option<T>,
) -> Vec<T> {
    let source = Arc::clone(fields.source());
    let mut list = Vec::new();
    for entry in fields.map(name, problems).unwrap_or_default() {
        let named = format!("{what} ('{}')", entry.key);
        if valid_id(&entry, &source, problems)
            && let Some(inner) = Fields::of(&entry.node, &source, &named, problems)
        {
            list.extend(read(entry.key.clone(), inner, problems));
        }
    }
    list
}

fn letter(fields: &mut Fields, problems: &mut Problems) -> Letter {
    let Some(node) = fields.get("letter") else {
        return Letter::default();
    };
    let Some(mut inner) = Fields::of(&node, fields.source(), "'letter'", problems) else {
        return Letter::default();
    };
    let letter = Letter { from: party(&mut inner, "from", problems), to: party(&mut inner, "to", problems) };
    inner.finish(problems);
    letter
}

fn party(fields: &mut Fields, name: &'static str, problems: &mut Problems) -> Option<Party> {
    let node = fields.get(name)?;
    let mut inner = Fields::of(&node, fields.source(), "a party of the letter", problems)?;
    let party = Party {
        name: inner.need_text("name", "R. Adeyemi", problems)?,
        address: super::check::names(&mut inner, "address", problems).unwrap_or_default(),
        email: inner.text("email", problems),
    };
    inner.finish(problems);
    Some(party)
}

/// Without `compare`, the as-found and as-left visits of the same machine are compared: the first
/// as-found with the last as-left after it.
fn default_comparison(session: &Session) -> Option<Comparison> {
    let mut lefts = session.visits.iter().rev().filter(|visit| visit.state == State::AsLeft);
    let (before, after) = lefts.find_map(|after| {
        let before = session.visits.iter().find(|visit| {
            let earlier = (visit.date, visit.time) <= (after.date, after.time);
            visit.state == State::AsFound && visit.machine == after.machine && earlier
        })?;
        Some((before, after))
    })?;
    Some(Comparison {
        id: "as-found to as-left".to_owned(),
        title: "As found to as left".to_owned(),
        before: VisitRef { session: None, visit: before.id.clone(), place: None },
        after: VisitRef { session: None, visit: after.id.clone(), place: None },
        checks: None,
        place: None,
    })
}

/// "there is no x 'y'" with the nearest known one.
pub(super) fn unknown_name(what: &str, name: &str, known: &[&str], at: Place) -> Problem {
    let article = if what.starts_with('i') { "an" } else { "a" };
    Problem::error(format!("there is no {what} '{name}'"), at)
        .expected(format!("expected the id of {article} {what}"))
        .help(did_you_mean(name, known))
}
