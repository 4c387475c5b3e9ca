//! What a session is in a list of many.

use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use crate::analysis::{Measure, analyse};
use crate::evidence::seal::{self, Found, Standing};
use crate::findings::{CheckFindings, CoverageWindow, Findings, Verdict, sentences};
use crate::session::{self, Date, Paper, Problems, Session, State};

/// A session as a list shows it: a few words and numbers, whatever the session weighs. Nothing in it depends on the day that
/// it is looked at.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Row {
    /// The folder, as it was come by.
    pub path: String,
    /// The folder's own name: what outputs are filed under.
    pub name: String,
    /// What the session is about; empty where that cannot be read.
    pub title: String,
    /// Its machines, in the order written.
    pub machines: Vec<MachineOn>,
    /// The measures of its checks, each once, in the order written.
    pub measures: Vec<String>,
    /// How many visits there are.
    pub visits: usize,
    /// The day of the first visit.
    pub first: Option<Date>,
    /// The day of the last visit.
    pub last: Option<Date>,
    /// What the last visit stands for.
    pub state: Option<State>,
    /// The worst verdict of all visits; none where the session cannot be analysed.
    pub worst: Option<Verdict>,
    /// The worst verdict of each check at its last visit to each machine; none where the session cannot be analysed.
    pub worst_last: Option<Verdict>,
    /// How many errors stand in the way of an analysis.
    pub errors: usize,
    /// What covers the machines, as far as it could be read.
    pub coverage: Vec<Window>,
    /// Its instruments, in the order written.
    pub instruments: Vec<InstrumentOn>,
    /// How the visits stand with their seals.
    pub seals: Seals,
    /// The paper of its report.
    pub paper: Paper,
}

/// A row that was made from the session itself.
#[derive(Clone, Debug)]
pub struct RowRead {
    /// The row.
    pub row: Row,
    /// The other folders in which sessions were looked for, found or not.
    pub beside: Vec<PathBuf>,
    /// Whether its errors all stand in files, so that it is the same as long as these are.
    pub all_in_files: bool,
}

/// A machine.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct MachineOn {
    /// Maker and model.
    pub name: String,
    /// The serial number.
    pub serial: Option<String>,
}

/// What covers a machine, and until when.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Window {
    /// The machine's name.
    pub machine: String,
    /// What it is called.
    pub name: String,
    /// The first day.
    pub from: Date,
    /// The last day inside.
    pub until: Date,
}

/// An instrument, and where it was used.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct InstrumentOn {
    /// Its id in the session.
    pub id: String,
    /// What it is.
    pub name: String,
    /// The serial number.
    pub serial: Option<String>,
    /// Its calibration, as the session states it.
    pub calibration: Calibration,
    /// The visits at which it was used, by date.
    pub uses: Vec<Use>,
}

impl InstrumentOn {
    /// What it is called by: its serial number, else its id in the session.
    pub fn called(&self) -> &str {
        self.serial.as_deref().unwrap_or(&self.id)
    }
}

/// A calibration, as far as it is stated.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Calibration {
    /// The day on the certificate.
    pub made: Option<Date>,
    /// The last day that it is good for.
    pub due: Option<Date>,
}

impl Calibration {
    /// Whether it had run out by a day.
    pub fn ran_out(&self, on: Date) -> bool {
        self.due.is_some_and(|due| due < on)
    }

    /// Whether it was good on a day; only one that says until when is good on any.
    pub fn covers(&self, on: Date) -> bool {
        self.due.is_some_and(|due| on <= due) && self.made.is_none_or(|made| made <= on)
    }
}

/// What an instrument was used for at a visit.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Use {
    /// The visit's id.
    pub visit: String,
    /// The visit's day.
    pub date: Date,
    /// The machine's name.
    pub machine: String,
    /// The machine's serial number.
    pub machine_serial: Option<String>,
    /// The titles of the checks.
    pub checks: Vec<String>,
}

/// How many visits have a seal, and how they stand with it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Seals {
    /// Visits with a seal, those that are not as they were sealed among them.
    pub sealed: usize,
    /// Visits that are not as they were sealed, in their files, their chain, their signature or their time stamp.
    pub changed: usize,
    /// Visits whose seal is gone, or is no seal any more.
    pub lost: usize,
}

impl Row {
    /// Reads and analyses the session in a folder. One that cannot be read is a row too, as far as is known.
    pub fn of(dir: &Path, measures: &[&dyn Measure]) -> Self {
        Self::read(dir, measures).row
    }

    /// The same, with what else it rests on.
    pub fn read(dir: &Path, measures: &[&dyn Measure]) -> RowRead {
        let mut problems = Problems::default();
        // A session that has no visit yet is no mistake here.
        let read = session::read_planned(dir, &mut problems);
        let mut row = Self::nothing_known(dir);
        if let Some(session) = &read {
            let findings = analyse(session, measures, &mut problems);
            row.fill(session, &findings, &seal::check(session, &[], &mut Problems::default()));
            if !problems.any_error() {
                row.judge(session, &findings);
            }
        }
        row.errors = problems.errors();
        let beside = read.map(|session| session.beside).unwrap_or_default();
        RowRead { row, beside, all_in_files: problems.all_in_files() }
    }

    /// The row of a session without errors that was read and analysed already.
    pub fn of_analysed(dir: &Path, session: &Session, findings: &Findings, seals: &[Standing]) -> Self {
        let mut row = Self::nothing_known(dir);
        row.fill(session, findings, seals);
        row.judge(session, findings);
        row
    }

    fn nothing_known(dir: &Path) -> Self {
        let real = super::real(dir);
        Self {
            path: dir.display().to_string(),
            name: real.file_name().unwrap_or_default().to_string_lossy().into_owned(),
            title: String::new(),
            machines: Vec::new(),
            measures: Vec::new(),
            visits: 0,
            first: None,
            last: None,
            state: None,
            worst: None,
            worst_last: None,
            errors: 0,
            coverage: Vec::new(),
            instruments: Vec::new(),
            seals: Seals::default(),
            paper: Paper::A4,
        }
    }

    /// What the session says of itself, which holds whatever else is wrong with it.
    fn fill(&mut self, session: &Session, findings: &Findings, seals: &[Standing]) {
        self.name.clone_from(&session.name);
        self.title.clone_from(&session.title);
        self.paper = session.paper;
        let machine = |machine: &session::Machine| MachineOn {
            name: machine.name.clone(),
            serial: machine.serial.clone(),
        };
        self.machines = session.machines.iter().map(machine).collect();
        for check in &session.checks {
            if !self.measures.contains(&check.measure) {
                self.measures.push(check.measure.clone());
            }
        }
        self.visits = session.visits.len();
        // Visits stand by date.
        self.first = session.visits.first().map(|visit| visit.date);
        self.last = session.visits.last().map(|visit| visit.date);
        self.state = session.visits.last().map(|visit| visit.state);
        self.coverage = findings.coverage.iter().map(|window| covered(session, window)).collect();
        self.instruments = session.instruments.iter().map(|one| instrument(session, one)).collect();
        self.seals = Seals::of(seals);
    }

    fn judge(&mut self, session: &Session, findings: &Findings) {
        self.worst = Some(worst(findings));
        self.worst_last = Some(worst_last(session, findings));
    }

    /// The instruments that were used after their calibration had run out, as far as this session knows.
    pub fn ran_out(&self) -> impl Iterator<Item = &InstrumentOn> {
        self.instruments.iter().filter(|one| one.uses.iter().any(|used| one.calibration.ran_out(used.date)))
    }
}

fn covered(session: &Session, window: &CoverageWindow) -> Window {
    let machine = session.machine(&window.machine).map_or(&window.machine, |machine| &machine.name);
    Window { machine: machine.clone(), name: window.name.clone(), from: window.from, until: window.until }
}

fn instrument(session: &Session, instrument: &session::Instrument) -> InstrumentOn {
    let used = |(visit, checks): (&session::Visit, Vec<&session::Check>)| {
        let machine = session.machine(&visit.machine);
        Use {
            visit: visit.id.clone(),
            date: visit.date,
            machine: machine.map_or_else(|| visit.machine.clone(), |machine| machine.name.clone()),
            machine_serial: machine.and_then(|machine| machine.serial.clone()),
            checks: checks.into_iter().map(|check| check.title.clone()).collect(),
        }
    };
    InstrumentOn {
        id: instrument.id.clone(),
        name: instrument.name.clone(),
        serial: instrument.serial.clone(),
        calibration: Calibration { made: instrument.calibrated, due: instrument.calibration_due },
        uses: session.uses_of(&instrument.id).into_iter().map(used).collect(),
    }
}

impl Seals {
    fn of(standings: &[Standing]) -> Self {
        let mut seals = Self::default();
        for standing in standings {
            match &standing.found {
                Found::Nothing => {}
                Found::Gone | Found::Unreadable => seals.lost += 1,
                Found::Seal(checked) => {
                    seals.sealed += 1;
                    seals.changed += usize::from(!checked.in_order());
                }
            }
        }
        seals
    }
}

/// The first of the worst: over and under are alike.
fn worst_of(verdicts: impl Iterator<Item = Verdict>) -> Verdict {
    verdicts.fold(Verdict::NoLimit, |worst, next| if next.weight() > worst.weight() { next } else { worst })
}

fn worst(findings: &Findings) -> Verdict {
    let of_check =
        |check: &CheckFindings| worst_of(check.visits.iter().map(|visit| sentences::worst(check, visit)));
    worst_of(findings.checks.iter().map(of_check))
}

fn worst_last(session: &Session, findings: &Findings) -> Verdict {
    let at_last = |check: &CheckFindings| {
        worst_of(session.machines.iter().filter_map(|machine| {
            let own = |id: &str| session.visit(id).is_some_and(|visit| visit.machine == machine.id);
            let last = check.visits.iter().rfind(|visit| own(&visit.visit))?;
            Some(sentences::worst(check, last))
        }))
    };
    worst_of(findings.checks.iter().map(at_last))
}
