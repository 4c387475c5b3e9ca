//! What one session tells of a machine.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::analysis::fairness::{Circumstances, Sitting};
use crate::analysis::{Measure, analyse};
use crate::findings::{CheckFindings, Finding, Findings, sentences};
use crate::session::{self, Check, Date, Paper, Problems, Session, State, Time};
use crate::shelf::{Row, folded};

/// What one session tells.
#[derive(Clone, Debug)]
pub struct Gathered {
    /// The session's folder.
    pub dir: PathBuf,
    /// Name and serial number of its machines that have the serial number asked for.
    pub machines: Vec<(String, String)>,
    /// The serial numbers of all its machines.
    pub serials: Vec<String>,
    /// The last visit's day.
    pub last: Option<Date>,
    /// The paper of its report.
    pub paper: Paper,
    /// How many errors stand in the way of an analysis.
    pub errors: usize,
    /// What was found, a visit and a place each.
    pub(super) seen: Vec<Seen>,
}

/// One number at one visit, kept without its session.
#[derive(Clone, Debug)]
pub(super) struct Seen {
    pub(super) session: PathBuf,
    pub(super) check: Arc<Check>,
    pub(super) measure: &'static str,
    pub(super) visit: String,
    pub(super) title: String,
    pub(super) state: State,
    pub(super) date: Date,
    pub(super) time: Option<Time>,
    pub(super) finding: Finding,
    pub(super) circumstances: Arc<Circumstances>,
    /// Conditions of the measure's set-up that must match whatever the check says.
    pub(super) deciding: &'static [&'static str],
}

impl Seen {
    /// Whether both are of one course: the same check, number, unit and place.
    pub(super) fn goes_with(&self, other: &Self) -> bool {
        self.check.id == other.check.id
            && self.measure == other.measure
            && self.finding.what == other.finding.what
            && self.finding.unit == other.finding.unit
            && self.finding.at == other.finding.at
    }

    /// Whether both are the same reading in two folders.
    pub(super) fn is_copy_of(&self, other: &Self) -> bool {
        self.session != other.session
            && self.goes_with(other)
            && (&self.visit, &self.title, self.date, self.time, self.state)
                == (&other.visit, &other.title, other.date, other.time, other.state)
            && self.finding.value == other.finding.value
            && self.finding.n == other.finding.n
    }
}

/// Whether a machine of a session has a serial number. Letter case does not count, nor does space around it.
pub fn has(row: &Row, serial: &str) -> bool {
    let wanted = folded(serial);
    row.machines.iter().filter_map(|machine| machine.serial.as_ref()).any(|known| folded(known) == wanted)
}

impl Gathered {
    /// What is gathered of a session by its row alone, where that tells of other machines or cannot be read.
    pub fn aside(dir: &Path, row: &Row) -> Self {
        Self {
            dir: dir.to_owned(),
            machines: Vec::new(),
            serials: row.machines.iter().filter_map(|machine| machine.serial.clone()).collect(),
            last: row.last,
            paper: row.paper,
            // Where its machines are known, its errors are not in this history's way.
            errors: if row.machines.is_empty() { row.errors } else { 0 },
            seen: Vec::new(),
        }
    }
}

/// Reads a session, and analyses it where a machine of it has the serial number. Letter case does not count, nor does space
/// around it.
pub fn gather(dir: &Path, serial: &str, measures: &[&'static dyn Measure]) -> Gathered {
    let mut problems = Problems::default();
    let read = session::read_planned(dir, &mut problems);
    let mut gathered = Gathered {
        dir: dir.to_owned(),
        machines: Vec::new(),
        serials: Vec::new(),
        last: None,
        paper: Paper::A4,
        errors: problems.errors(),
        seen: Vec::new(),
    };
    let Some(session) = read else { return gathered };
    let wanted = folded(serial);
    gathered.paper = session.paper;
    gathered.last = session.visits.last().map(|visit| visit.date);
    gathered.serials = session.machines.iter().filter_map(|machine| machine.serial.clone()).collect();
    let own: Vec<&session::Machine> = session
        .machines
        .iter()
        .filter(|machine| machine.serial.as_ref().is_some_and(|known| folded(known) == wanted))
        .collect();
    let named = |machine: &&session::Machine| Some((machine.name.clone(), machine.serial.clone()?));
    gathered.machines = own.iter().filter_map(named).collect();
    if own.is_empty() {
        return gathered;
    }
    let findings = analyse(&session, measures, &mut problems);
    gathered.errors = problems.errors();
    if gathered.errors == 0 {
        let ids: Vec<&str> = own.iter().map(|machine| machine.id.as_str()).collect();
        gathered.seen = seen(dir, &session, &findings, &ids, measures);
    }
    gathered
}

fn seen(
    dir: &Path,
    session: &Session,
    findings: &Findings,
    machines: &[&str],
    measures: &[&'static dyn Measure],
) -> Vec<Seen> {
    let mut all = Vec::new();
    for found in &findings.checks {
        let Some(check) = session.check(&found.check) else { continue };
        let measure = measures.iter().find(|measure| measure.name() == found.measure);
        let deciding = measure.map_or(&[][..], |measure| measure.deciding());
        of_check(dir, session, (check, found), machines, deciding, &mut all);
    }
    all
}

fn of_check(
    dir: &Path,
    session: &Session,
    (check, found): (&Check, &CheckFindings),
    machines: &[&str],
    deciding: &'static [&'static str],
    all: &mut Vec<Seen>,
) {
    let kept = Arc::new(check.clone());
    for at_visit in &found.visits {
        let Some(visit) = session.visit(&at_visit.visit) else { continue };
        if !machines.contains(&visit.machine.as_str()) {
            continue;
        }
        let sitting = Sitting { session, check, visit, found: at_visit };
        let circumstances = Arc::new(Circumstances::of(sitting));
        for finding in sentences::main_findings(found, at_visit) {
            all.push(Seen {
                session: dir.to_owned(),
                check: Arc::clone(&kept),
                measure: found.measure,
                visit: visit.id.clone(),
                title: visit.title.clone(),
                state: visit.state,
                date: visit.date,
                time: visit.time,
                finding: finding.clone(),
                circumstances: Arc::clone(&circumstances),
                deciding,
            });
        }
    }
}
