//! What a user wrote, read and placed: the session folder as types.
//!
//! [`read`] gives the [`Session`] as far as it could be understood, together with every problem
//! found. What belongs to one measure alone stays a tree of YAML ([`Check::own`],
//! [`Readings::own`]); the measure reads it itself, with the same [`Fields`].
//!
//! ```
//! use std::path::Path;
//!
//! use asfound::session::{self, Problems, Severity};
//!
//! let mut problems = Problems::default();
//! let saw = session::read(Path::new("sessions/old-saw"), &mut problems).expect("a session");
//! assert!(problems.is_empty());
//! assert_eq!(saw.machines[0].serial.as_deref(), Some("T9-1188"));
//! assert_eq!(saw.visits[0].date.to_string(), "2025-11-08");
//!
//! // Whatever is wrong is said all at once, each with its place and how to mend it.
//! session::read(Path::new("tests/hostile/unknown-unit"), &mut problems);
//! let first = problems.iter().find(|problem| problem.severity == Severity::Error).expect("an error");
//! let place = first.place.as_ref().expect("a place");
//! assert_eq!((place.source.name.as_str(), place.line()), ("unknown-unit/session.yaml", 23));
//! assert!(!first.help.is_empty());
//! ```

mod check;
mod cross;
mod date;
mod fields;
mod instrument;
mod machine;
mod near;
mod photo;
mod problem;
mod read;
mod reading;
mod setting;
mod tree;
mod visit;
mod walls;
pub mod withheld;

use std::path::PathBuf;
use std::sync::Arc;

pub use check::{Better, Check, Comparison, Limit, LimitKind, VisitRef};
pub use date::{Lasts, days_between, written_out};
pub use fields::{Fields, Named, difference_of, key_place, list_of, place as place_of, quantity_of, text_of};
pub use instrument::{Bound, Certificate, Instrument};
pub use jiff::civil::{Date, Time};
pub use machine::{Coverage, Event, Machine};
pub use photo::Taken;
pub use problem::{Place, Problem, Problems, Severity, SourceFile, did_you_mean, nearest};
pub use read::{is_id, named_file, read, read_masked, read_planned, title_of_id};
pub use reading::{Reading, reading_of, readings_of};
pub use setting::{Setting, settings_of};
pub use tree::{Entry, Node, ScalarKind, Value};
pub use visit::{Condition, ConditionValue, Photo, Readings, State, Visit};
pub use walls::{WallBreach, Walls};

use serde::{Deserialize, Serialize};

use crate::quantity::UnitSystem;

/// The paper a report is set on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Paper {
    /// 8.5 × 11 in.
    UsLetter,
    /// 210 × 297 mm (ISO 216).
    A4,
}

/// One side of a letter.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Party {
    /// Who.
    pub name: String,
    /// The lines of the postal address.
    pub address: Vec<String>,
    /// Where an answer can go.
    pub email: Option<String>,
}

/// Who writes to whom, for the claim's letter.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Letter {
    /// The sender.
    pub from: Option<Party>,
    /// The addressee.
    pub to: Option<Party>,
}

/// notes.md or script.md as it was written.
#[derive(Clone, Debug)]
pub struct Notes {
    /// The file and its text.
    pub source: Arc<SourceFile>,
}

/// A whole session folder.
#[derive(Clone, Debug)]
pub struct Session {
    /// The folder, resolved.
    pub root: PathBuf,
    /// The folder's own name: what outputs are filed under.
    pub name: String,
    /// What the session is about.
    pub title: String,
    /// What is to be found out.
    pub question: Option<String>,
    /// What a claim asks for.
    pub ask: Option<String>,
    /// Who prepared the report.
    pub prepared_by: Option<String>,
    /// How results are shown.
    pub units: UnitSystem,
    /// The paper of the report.
    pub paper: Paper,
    /// The machines, in the order written.
    pub machines: Vec<Machine>,
    /// The instruments, in the order written.
    pub instruments: Vec<Instrument>,
    /// The claim's letter.
    pub letter: Letter,
    /// The claim's diary, by date.
    pub events: Vec<Event>,
    /// What was checked, in the order written.
    pub checks: Vec<Check>,
    /// What is compared with what.
    pub compare: Vec<Comparison>,
    /// The occasions, by date and time.
    pub visits: Vec<Visit>,
    /// The story.
    pub notes: Option<Notes>,
    /// The narration for a video.
    pub script: Option<Notes>,
    /// Other session folders that comparisons name, each with the path it was named by.
    pub others: Vec<(String, Session)>,
    /// The folders in which other sessions were looked for, found or not.
    pub beside: Vec<PathBuf>,
    /// The masked copies that were read in the place of files; none but for publication.
    pub masks: withheld::Masks,
}

impl Session {
    /// The walls round its folder, as it was read.
    pub fn walls(&self) -> std::io::Result<Walls> {
        Ok(Walls::around(&self.root)?.masked(&self.masks))
    }

    /// The check of that id.
    pub fn check(&self, id: &str) -> Option<&Check> {
        self.checks.iter().find(|check| check.id == id)
    }

    /// The visit of that id.
    pub fn visit(&self, id: &str) -> Option<&Visit> {
        self.visits.iter().find(|visit| visit.id == id)
    }

    /// A visit's title; its id where there is no such visit.
    pub fn visit_title<'a>(&'a self, id: &'a str) -> &'a str {
        self.visit(id).map_or(id, |visit| &visit.title)
    }

    /// A check's title; its id where there is no such check.
    pub fn check_title<'a>(&'a self, id: &'a str) -> &'a str {
        self.check(id).map_or(id, |check| &check.title)
    }

    /// The instrument of that id.
    pub fn instrument(&self, id: &str) -> Option<&Instrument> {
        self.instruments.iter().find(|instrument| instrument.id == id)
    }

    /// The machine of that id.
    pub fn machine(&self, id: &str) -> Option<&Machine> {
        self.machines.iter().find(|machine| machine.id == id)
    }

    /// The other session that a comparison named by that path.
    pub fn other(&self, path: &str) -> Option<&Session> {
        self.others.iter().find(|(name, _)| name == path).map(|(_, session)| session)
    }

    /// The instrument used for a check at a visit: the visit's word before the check's.
    pub fn instrument_used(&self, check: &Check, readings: &Readings) -> Option<&Instrument> {
        let named = readings.instrument.as_ref().or(check.instrument.as_ref())?;
        self.instrument(&named.id)
    }

    /// The visits at which an instrument was used, by date, with the checks that it was used for.
    pub fn uses_of(&self, instrument: &str) -> Vec<(&Visit, Vec<&Check>)> {
        let used_for = |visit: &Visit, check: &Check| {
            let readings = visit.readings_of(&check.id);
            let used = readings.and_then(|readings| self.instrument_used(check, readings));
            used.is_some_and(|used| used.id == instrument)
        };
        self.visits
            .iter()
            .map(|visit| (visit, self.checks.iter().filter(|check| used_for(visit, check)).collect()))
            .filter(|(_, checks): &(&Visit, Vec<&Check>)| !checks.is_empty())
            .collect()
    }
}
