//! From a [`Session`] to [`Findings`].
//!
//! [`analyse`] lets every check's measure read its own fields and compute its findings, then
//! compares visits and holds days against coverage. A measure is one file that implements
//! [`Measure`]; nothing here knows which measures there are.
//!
//! ```
//! use std::path::Path;
//!
//! use asfound::session::Problems;
//! use asfound::{analysis, registry, session};
//!
//! let mut problems = Problems::default();
//! let saw = session::read(Path::new("sessions/old-saw"), &mut problems).expect("a session");
//! // The measures are handed in: a program may leave some out, or bring its own.
//! let findings = analysis::analyse(&saw, &registry::measures(), &mut problems);
//! assert!(!problems.any_error());
//!
//! // Two turns at the shoulder, 0.03 mm and 0.04 mm from lowest to highest: their mean.
//! let arbor = findings.check("arbor-runout").and_then(|check| check.visit("baseline")).expect("readings");
//! let tir = arbor.finding("shoulder", "tir").expect("a finding");
//! assert!((tir.value.expect("a value") - 0.035).abs() < 1e-12);
//! assert_eq!((tir.unit.symbol(), tir.n), ("mm", 16));
//! ```

pub mod blank;
pub mod change;
mod compare;
mod coverage;
pub mod fairness;
pub mod first_order;
pub mod flatness;
pub mod floor;
mod form;
pub mod harmonics;
mod held;
pub mod lean;
pub mod load;
pub mod monte_carlo;
pub mod parallelism;
pub mod quantity;
pub mod range;
pub mod readings_needed;
pub mod remembered;
pub mod repeated;
pub mod run_out;
pub mod signal;
pub mod size;
pub mod sound;
pub mod speed;
pub mod spindle;
pub mod squareness;
pub mod statistics;
pub mod straight_line;
pub mod straightness;
pub mod student;
pub mod temperature;
pub mod trend;
pub mod uncertainty;
pub mod verdict;
pub mod vibration;
mod what;
pub mod zone;

use rayon::prelude::*;

use crate::findings::{Budget, CheckFindings, Finding, Findings, Pattern, Verdict, VisitFindings};
use crate::quantity::{Difference, Kind, Quantity, Unit};
use crate::schema::Own;
use crate::session::{
    Better, Check, Instrument, Place, Problem, Problems, Readings, Session, Visit, did_you_mean, written_out,
};

use blank::Blank;
use held::{hold, limit_in, of_size};
use readings_needed::Repeated;
use uncertainty::Shown;
pub use what::{Direction, What};

/// A measure: its fields in YAML, its findings, its change rule, its cautions.
pub trait Measure: Send + Sync {
    /// As a check names it.
    fn name(&self) -> &'static str;

    /// The numbers it gives; the first is the one that a limit applies to by default.
    fn whats(&self) -> &'static [What];

    /// Which way its numbers are better; one of them may have its own way ([`What::directed`]). What
    /// a check says itself applies to its main number.
    fn better(&self) -> Option<Better>;

    /// What `where` says for all places together; none where they are unlike, so that a mean over them
    /// would say nothing.
    fn all_places(&self) -> Option<&'static str> {
        None
    }

    /// Conditions of its set-up that must match whatever a check says: numbers that were taken over
    /// another band are no like for like.
    fn deciding(&self) -> &'static [&'static str] {
        &[]
    }

    /// What it reads, for the schemas that editors use: said beside the code that reads it.
    fn schema(&self) -> Own;

    /// Reads a check's own fields; every mistake in them goes to `problems`.
    fn prepare(&self, session: &Session, check: &Check, problems: &mut Problems)
    -> Option<Box<dyn Prepared>>;

    /// What the findings of this check, beside those of all others, are consistent with.
    fn patterns(&self, session: &Session, own: &CheckFindings, all: &[CheckFindings]) -> Vec<Pattern>;

    /// What the remarks beside its numbers mean, each once: said under the table.
    fn legend(&self, _own: &CheckFindings) -> Vec<String> {
        Vec::new()
    }

    /// In which order its places are read.
    fn order(&self) -> blank::Order {
        blank::Order::AlongRows
    }

    /// The blank tables of a sheet for it, laid out as an earlier visit was. What is recorded needs none.
    fn blanks(&self, visit: &VisitFindings) -> Vec<Blank> {
        blank::like(&visit.raw, self.order())
    }

    /// The blank tables where no visit shows a layout: the one that is usual.
    fn usual(&self, _session: &Session, check: &Check) -> Vec<Blank> {
        blank::like(&[blank::one_row(check.unit, 10)], self.order())
    }

    /// What more of would make a finding's scatter smaller; none where its readings follow the time.
    fn repeated(&self, _visit: &VisitFindings, finding: &Finding) -> Option<Repeated> {
        Some(Repeated::readings(finding.n))
    }

    /// The budget of one reading of its main number by this instrument, where no visit shows a better one.
    fn expected(&self, _shown: &Shown, _unit: Unit) -> Option<Budget> {
        None
    }

    /// What can hurt whoever takes these readings.
    fn cautions(&self) -> &'static [&'static str];

    /// How it is computed, with the source.
    fn methods(&self) -> &'static [&'static str];
}

/// A check whose own fields were read, ready for its readings.
pub trait Prepared: Send + Sync {
    /// The unit of its main findings.
    fn unit(&self) -> Unit;

    /// Reads the readings of one visit and computes their findings. `None` where they are faulty
    /// (which is said) or where there are none.
    fn examine(&self, sitting: &Sitting<'_>, problems: &mut Problems) -> Option<Examined>;
}

/// One check at one visit.
#[derive(Clone, Copy, Debug)]
pub struct Sitting<'a> {
    /// The session, for its folder (recordings), units and visits.
    pub session: &'a Session,
    /// The check.
    pub check: &'a Check,
    /// The visit.
    pub visit: &'a Visit,
    /// The readings.
    pub readings: &'a Readings,
    /// The instrument used, where one is named.
    pub instrument: Option<&'a Instrument>,
}

impl Sitting<'_> {
    /// The instrument's part in each reading, in `unit`.
    pub fn shown(&self, unit: Unit, problems: &mut Problems) -> Option<Shown> {
        match self.instrument {
            None => Some(Shown::nothing()),
            Some(instrument) => {
                let named = self.readings.instrument.as_ref().or(self.check.instrument.as_ref());
                let at = named.map_or(&self.check.place, |named| &named.place);
                Shown::of(instrument, unit, at, problems)
            }
        }
    }

    /// The same of an indicator that reads travel: what a lever-type one shows is larger than the
    /// surface's travel where its tip stands at an angle.
    pub fn travel(&self, unit: Unit, problems: &mut Problems) -> Option<Shown> {
        let shown = self.shown(unit, problems)?;
        let angle = self.instrument.and_then(|instrument| instrument.tip_angle);
        let degrees = angle.zip(Unit::known(Kind::Angle, "deg")).and_then(|(a, deg)| a.to(deg).ok());
        Some(shown.with_tip_angle(degrees.unwrap_or(0.0)))
    }
}

/// What a measure makes of one visit.
#[derive(Clone, Debug)]
pub struct Examined {
    /// The numbers; limits and verdicts are added afterwards.
    pub findings: Vec<Finding>,
    /// The readings.
    pub raw: Vec<crate::findings::RawTable>,
    /// How they were taken.
    pub set_up: Vec<(String, String)>,
    /// For the measure's charts.
    pub details: crate::findings::Details,
    /// Whatever else a reader must know.
    pub notes: Vec<String>,
}

/// A finding without a limit yet.
pub fn finding(at: &str, what: &'static str, unit: Unit, value: Option<f64>, budget: Budget) -> Finding {
    Finding {
        at: at.to_owned(),
        what,
        value,
        unit,
        difference: false,
        aside: false,
        budget,
        n: 0,
        struck: 0,
        with_struck: None,
        limit: None,
        verdict: Verdict::NoLimit,
        floor: None,
        bound: None,
        remark: String::new(),
        counted: false,
        reached: None,
        notes: Vec::new(),
    }
}

/// Analyses a session with these measures. What the measures find wrong goes to `problems`; the
/// findings are whole where no error was found.
pub fn analyse(session: &Session, measures: &[&dyn Measure], problems: &mut Problems) -> Findings {
    let mut checks = examine_all(session, measures, problems);
    let mut used: Vec<&dyn Measure> = Vec::new();
    for measure in measures {
        if checks.iter().any(|check| check.measure == measure.name()) {
            used.push(*measure);
        }
    }
    for index in 0..checks.len() {
        let measure = used.iter().find(|measure| measure.name() == checks[index].measure);
        if let Some(measure) = measure {
            checks[index].patterns = measure.patterns(session, &checks[index], &checks);
            checks[index].legend = measure.legend(&checks[index]);
        }
    }
    let comparisons = compare::compare(session, &checks, measures, problems);
    Findings {
        repeats: session.instruments.iter().filter_map(uncertainty::repeats).collect(),
        coverage: coverage::windows(session),
        cautions: each_once(&used, |measure| measure.cautions()),
        methods: each_once(&used, |measure| measure.methods()),
        warnings: warnings(session, &checks),
        checks,
        comparisons,
    }
}

fn each_once(
    measures: &[&dyn Measure],
    pick: impl Fn(&dyn Measure) -> &'static [&'static str],
) -> Vec<&'static str> {
    let mut list = Vec::new();
    for text in measures.iter().flat_map(|measure| pick(*measure)) {
        if !list.contains(text) {
            list.push(*text);
        }
    }
    list
}

/// Every check of a session, in its order; checks and visits are worked on side by side.
fn examine_all(session: &Session, measures: &[&dyn Measure], problems: &mut Problems) -> Vec<CheckFindings> {
    let worked: Vec<(Option<CheckFindings>, Problems)> = session
        .checks
        .par_iter()
        .map(|check| {
            let mut own = Problems::default();
            let found = examine(session, check, measures, &mut own);
            (found, own)
        })
        .collect();
    let mut checks = Vec::new();
    for (found, own) in worked {
        problems.extend(own);
        checks.extend(found);
    }
    checks
}

fn examine(
    session: &Session,
    check: &Check,
    measures: &[&dyn Measure],
    problems: &mut Problems,
) -> Option<CheckFindings> {
    let Some(measure) = measures.iter().find(|measure| measure.name() == check.measure) else {
        let known: Vec<&str> = measures.iter().map(|measure| measure.name()).collect();
        problems.push(
            Problem::error(format!("there is no measure '{}'", check.measure), check.measure_place.clone())
                .expected(format!("expected one of: {}", known.join(", ")))
                .help(did_you_mean(&check.measure, &known)),
        );
        return None;
    };
    let main = main_what(*measure, check, problems)?;
    let better = check.better.or(main.better(measure.better()));
    let prepared = measure.prepare(session, check, problems)?;
    let sittings: Vec<Sitting<'_>> = session
        .visits
        .iter()
        .filter_map(|visit| {
            let readings = visit.readings_of(&check.id)?;
            let instrument = session.instrument_used(check, readings);
            Some(Sitting { session, check, visit, readings, instrument })
        })
        .collect();
    let worked: Vec<(Option<VisitFindings>, Problems)> = sittings
        .par_iter()
        .map(|sitting| {
            let mut own = Problems::default();
            let examined = prepared.examine(sitting, &mut own);
            let found = examined.and_then(|examined| judged(sitting, examined, main.name, better, &mut own));
            (found, own)
        })
        .collect();
    let mut visits = Vec::new();
    for (found, own) in worked {
        problems.extend(own);
        visits.extend(found);
    }
    let main = if check.limit.is_none() { main_found(*measure, main, &visits) } else { main };
    Some(CheckFindings {
        check: check.id.clone(),
        title: check.title.clone(),
        measure: measure.name(),
        main: main.name,
        better,
        unit: unit_of(main.name, &visits).unwrap_or(prepared.unit()),
        visits,
        patterns: Vec::new(),
        legend: Vec::new(),
    })
}

/// The main finding, or, where no visit has it (a meter gave other figures), the measure's first that one has.
fn main_found(measure: &dyn Measure, main: What, visits: &[VisitFindings]) -> What {
    let has = |what: &What| visits.iter().flat_map(|visit| &visit.findings).any(|f| f.what == what.name);
    if has(&main) {
        return main;
    }
    let tells = |what: &&What| has(what) && what.direction != Direction::Neither;
    let whats = measure.whats();
    whats.iter().find(tells).or(whats.iter().find(|what| has(what))).copied().unwrap_or(main)
}

/// The unit of the main finding: a limit may have made another than the measure's first the main one.
fn unit_of(main: &str, visits: &[VisitFindings]) -> Option<Unit> {
    let mut all = visits.iter().flat_map(|visit| &visit.findings);
    all.find(|finding| finding.what == main).map(|finding| finding.unit)
}

/// The finding that the check's limit and the summary speak of.
fn main_what(measure: &dyn Measure, check: &Check, problems: &mut Problems) -> Option<What> {
    let whats = measure.whats();
    let first = *whats.first()?;
    let Some(limit) = &check.limit else {
        return Some(first);
    };
    let Some(of) = &limit.of else {
        return Some(first);
    };
    let known: Vec<&str> = whats.iter().map(|what| what.name).collect();
    let found = whats.iter().find(|what| what.name == of);
    if found.is_none() {
        problems.push(
            Problem::error(
                format!("{} gives no finding '{of}' for a limit to apply to", measure.name()),
                limit.place.clone(),
            )
            .expected("'of' names one of the measure's findings")
            .help(did_you_mean(of, &known)),
        );
    }
    found.copied()
}

/// Holds the main findings against the limit.
fn judged(
    sitting: &Sitting<'_>,
    examined: Examined,
    main: &'static str,
    better: Option<Better>,
    problems: &mut Problems,
) -> Option<VisitFindings> {
    let mut findings = examined.findings;
    if let Some(limit) = &sitting.check.limit {
        for finding in findings.iter_mut().filter(|finding| finding.what == main) {
            let on = limit_in(limit, finding.unit, finding.difference, problems)?;
            let on = of_size(on, better, finding);
            hold(finding, on);
        }
    }
    let mut set_up = examined.set_up;
    if let Some(instrument) = sitting.instrument {
        set_up.insert(0, ("instrument".to_owned(), instrument.name.clone()));
    }
    Some(VisitFindings {
        visit: sitting.visit.id.clone(),
        state: sitting.visit.state,
        date: sitting.visit.date,
        findings,
        raw: examined.raw,
        set_up,
        details: examined.details,
        notes: examined.notes,
    })
}

/// A quantity's number in a unit, or a problem that names both kinds.
pub(crate) fn in_unit(
    quantity: Quantity,
    unit: Unit,
    at: &Place,
    what: &str,
    problems: &mut Problems,
) -> Option<f64> {
    match quantity.to(unit) {
        Ok(value) => Some(value),
        Err(mismatch) => {
            problems.push(
                Problem::error(format!("{what} does not fit: {mismatch}"), at.clone())
                    .expected(format!("expected a quantity in {unit} or alike"))
                    .help(format!("write it in {unit}")),
            );
            None
        }
    }
}

/// What matters, as a difference in the unit of the findings.
pub(crate) fn matters_in(check: &Check, unit: Unit, problems: &mut Problems) -> Option<f64> {
    let matters = check.matters?;
    match Difference::new(matters.value(), matters.unit()).to(unit) {
        Ok(value) => Some(value.abs()),
        Err(mismatch) => {
            problems.push(
                Problem::error(format!("'matters' does not fit: {mismatch}"), check.place.clone())
                    .expected(format!("expected a quantity in {unit} or alike")),
            );
            None
        }
    }
}

fn warnings(session: &Session, checks: &[CheckFindings]) -> Vec<String> {
    let mut list = Vec::new();
    for check in checks {
        let limited = session.check(&check.check).is_some_and(|check| check.limit.is_some());
        if check.visits.is_empty() {
            list.push(format!("{}: no visit has readings of it.", check.title));
        } else if !limited {
            list.push(format!("{}: no limit is given, so there is no verdict.", check.title));
        }
    }
    for instrument in &session.instruments {
        let used = session.checks.iter().any(|check| {
            check.instrument.as_ref().is_some_and(|named| named.id == instrument.id)
                || session.visits.iter().any(|visit| {
                    visit.readings_of(&check.id).is_some_and(|readings| {
                        readings.instrument.as_ref().is_some_and(|named| named.id == instrument.id)
                    })
                })
        });
        let stated = !instrument.accuracy.is_empty() || instrument.certificate.is_some();
        if used && !stated {
            list.push(format!(
                "{}: neither accuracy nor certificate is given, so its own error is in no uncertainty.",
                instrument.name
            ));
        }
        list.extend(after_its_calibration(session, instrument));
    }
    list
}

/// That readings were taken after an instrument's calibration had run out: with a calibration that nobody vouches for any
/// more, the accuracy that is stated of it is a hope.
fn after_its_calibration(session: &Session, instrument: &Instrument) -> Option<String> {
    let due = instrument.calibration_due?;
    let after: Vec<String> = session
        .uses_of(&instrument.id)
        .into_iter()
        .filter(|(visit, _)| visit.date > due)
        .map(|(visit, _)| format!("{} ({})", visit.title, written_out(visit.date)))
        .collect();
    (!after.is_empty()).then(|| {
        format!(
            "{}: its calibration ran out on {}; readings were taken with it after that: {}.",
            instrument.name,
            written_out(due),
            after.join(", ")
        )
    })
}
