//! The hinge: every number that anybody will see, with the budget it came from.
//!
//! Analysis ends here. Charts, pages and files are made from [`Findings`] alone and compute no
//! statistic.
//!
//! ```
//! use std::path::Path;
//!
//! use asfound::session::Problems;
//! use asfound::{analysis, findings, registry, session};
//!
//! let mut problems = Problems::default();
//! let saw = session::read(Path::new("sessions/old-saw"), &mut problems).expect("a session");
//! let found = analysis::analyse(&saw, &registry::measures(), &mut problems);
//!
//! // Every number has its expanded uncertainty, and the lines that it was made of.
//! let visit = found.check("coast-down").and_then(|check| check.visit("baseline")).expect("readings");
//! let mean = visit.finding("", "mean").expect("a finding");
//! let expanded = mean.expanded().expect("an uncertainty");
//! let squares: f64 = mean.budget.components.iter().map(|line| line.contribution.powi(2)).sum();
//! assert!((expanded.standard - squares.sqrt()).abs() < 1e-12);
//!
//! // As rows, for a spreadsheet or a table of many sessions.
//! let rows = findings::to_csv(&found);
//! assert!(rows.lines().any(|row| row.starts_with("coast-down,quantity,baseline,")));
//! let json: serde_json::Value = serde_json::from_str(&findings::to_json(&found, &saw.name, "mine 1.0"))?;
//! assert_eq!(json["session"], "old-saw");
//! # Ok::<(), serde_json::Error>(())
//! ```

mod budget;
pub mod claim;
pub mod sentences;
mod table;

use std::any::Any;
use std::sync::Arc;

use serde::{Deserialize, Serialize};

pub use budget::{Budget, Component, Distribution, Expanded};
pub use table::{readings_to_csv, to_csv, to_json};

use crate::quantity::Unit;
use crate::session::{Better, Date, State};

/// Whether a value keeps a limit, its uncertainty considered (JCGM 106:2012; ISO 14253-1:2017).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Verdict {
    /// The value with its uncertainty is on the good side.
    #[serde(rename = "within")]
    Within,
    /// The value less its uncertainty is beyond an upper limit.
    #[serde(rename = "over")]
    Over,
    /// The value with its uncertainty is below a lower limit.
    #[serde(rename = "under")]
    Under,
    /// The uncertainty reaches across the limit.
    #[serde(rename = "too close to call")]
    TooCloseToCall,
    /// Nothing to hold it against.
    #[serde(rename = "no limit")]
    NoLimit,
}

impl Verdict {
    /// In the words of the session format.
    pub fn words(self) -> &'static str {
        match self {
            Self::Within => "within",
            Self::Over => "over",
            Self::Under => "under",
            Self::TooCloseToCall => "too close to call",
            Self::NoLimit => "no limit",
        }
    }

    /// How bad it is, for finding the worst.
    pub fn weight(self) -> u8 {
        match self {
            Self::NoLimit => 0,
            Self::Within => 1,
            Self::TooCloseToCall => 2,
            Self::Over | Self::Under => 3,
        }
    }
}

/// A limit in the unit of the finding that it applies to.
#[derive(Clone, Debug, PartialEq)]
pub struct LimitOn {
    /// The smallest value allowed.
    pub at_least: Option<f64>,
    /// The largest value allowed.
    pub at_most: Option<f64>,
    /// Where the limit is written.
    pub source: Option<String>,
    /// As it was typed, where the finding's unit hides what was meant: `0.05 mm over 90 mm`.
    pub typed: Option<String>,
}

impl LimitOn {
    /// How many digits its numbers are printed with: a third of a millimetre is no better known for six.
    pub fn digits(&self) -> i32 {
        if self.typed.is_some() { 3 } else { 6 }
    }

    /// `at_most`, `at_least` or `between`.
    pub fn kind(&self) -> &'static str {
        match (self.at_least, self.at_most) {
            (Some(_), Some(_)) => "between",
            (Some(_), None) => "at_least",
            _ => "at_most",
        }
    }
}

/// What can be said where no value can: at most, or at least, so much.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum BoundOn {
    /// Not more than this.
    AtMost(f64),
    /// Not less than this.
    AtLeast(f64),
}

/// One number found, in [`Finding::unit`] throughout.
#[derive(Clone, Debug)]
pub struct Finding {
    /// The station, place or setting; empty for a check read in one spot.
    pub at: String,
    /// Which of the measure's numbers, as the session format names it.
    pub what: &'static str,
    /// The value; none where it cannot be given honestly.
    pub value: Option<f64>,
    /// The unit of all its numbers.
    pub unit: Unit,
    /// Whether the value is a distance on the unit's scale, such as a rise in °F, and not a place.
    pub difference: bool,
    /// Whether it stands in the appendix alone (one axis of three): the check's section does
    /// without it, and no mean over all places counts it.
    pub aside: bool,
    /// What its uncertainty is made of; empty where there is no value.
    pub budget: Budget,
    /// How many readings it rests on.
    pub n: usize,
    /// How many were struck.
    pub struck: usize,
    /// What the value would be with the struck readings.
    pub with_struck: Option<f64>,
    /// What it is held against.
    pub limit: Option<LimitOn>,
    /// How it stands to the limit.
    pub verdict: Verdict,
    /// What this instrument would show on a perfect part 95 times in 100; for sizes only.
    pub floor: Option<f64>,
    /// What can be said without a value.
    pub bound: Option<BoundOn>,
    /// What stands beside the number in a table, in a few words: a direction, a moment; may be empty.
    pub remark: String,
    /// Whether it was counted and not measured: it is exact, and a limit is held against it as it
    /// stands.
    pub counted: bool,
    /// What was reached for certain and must not be hidden by a mean: the whole speed that a stalled
    /// run lost. A limit is held against it too.
    pub reached: Option<f64>,
    /// Whatever else a reader must know.
    pub notes: Vec<String>,
}

impl Finding {
    /// The expanded uncertainty, where there is a value and anything is known of its uncertainty.
    pub fn expanded(&self) -> Option<Expanded> {
        let value = self.value?;
        // Readings all alike without a display step leave nothing, or a rounding error of nothing.
        let standard = self.budget.expanded.standard;
        (standard > 1e-12 * value.abs()).then_some(self.budget.expanded)
    }

    /// At or below the floor: not distinguishable from zero with this instrument.
    pub fn at_floor(&self) -> bool {
        match (self.value, self.floor) {
            (Some(value), Some(floor)) => value.abs() <= floor,
            _ => false,
        }
    }
}

/// A reading as the report prints it.
#[derive(Clone, Debug, PartialEq)]
pub struct Cell {
    /// As it was typed.
    pub text: String,
    /// Why it was struck, where it was.
    pub struck: Option<String>,
}

/// Readings as they were taken.
#[derive(Clone, Debug, PartialEq)]
pub struct RawTable {
    /// The station, place or setting.
    pub at: String,
    /// What stands above each column; the first heads the rows' names.
    pub columns: Vec<String>,
    /// A name and its readings.
    pub rows: Vec<(String, Vec<Cell>)>,
    /// The unit of bare numbers.
    pub unit: Unit,
}

/// What a measure hands to its own charts, and to nobody else.
#[derive(Clone)]
pub struct Details(Arc<dyn Any + Send + Sync>);

impl Details {
    /// Wraps a measure's own data.
    pub fn new<T: Any + Send + Sync>(data: T) -> Self {
        Self(Arc::new(data))
    }

    /// Whether these are the very same data, not only equal ones.
    pub fn is(&self, other: &Self) -> bool {
        Arc::ptr_eq(&self.0, &other.0)
    }

    /// The data, if they are of that type.
    pub fn of<T: Any + Send + Sync>(&self) -> Option<&T> {
        self.0.downcast_ref()
    }
}

impl std::fmt::Debug for Details {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Details")
    }
}

/// What a pattern in the readings is consistent with. It never names a culprit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Pattern {
    /// The visit it was seen at.
    pub visit: String,
    /// The sentence, with the figure that says so.
    pub says: String,
}

/// What one check found at one visit.
#[derive(Clone, Debug)]
pub struct VisitFindings {
    /// The visit's id.
    pub visit: String,
    /// What the visit stands for.
    pub state: State,
    /// The day.
    pub date: Date,
    /// The numbers, in the measure's order.
    pub findings: Vec<Finding>,
    /// The readings they rest on.
    pub raw: Vec<RawTable>,
    /// How the readings were taken, as conditions to compare: instrument, readings a turn.
    pub set_up: Vec<(String, String)>,
    /// For the measure's charts.
    pub details: Details,
    /// Whatever else a reader must know.
    pub notes: Vec<String>,
}

impl VisitFindings {
    /// The finding of that name at that place.
    pub fn finding(&self, at: &str, what: &str) -> Option<&Finding> {
        self.findings.iter().find(|finding| finding.at == at && finding.what == what)
    }
}

/// What one check found.
#[derive(Clone, Debug)]
pub struct CheckFindings {
    /// The check's id.
    pub check: String,
    /// Its heading.
    pub title: String,
    /// The measure's name.
    pub measure: &'static str,
    /// The finding that limits and summaries speak of.
    pub main: &'static str,
    /// Which way is better.
    pub better: Option<Better>,
    /// The unit of the main findings.
    pub unit: Unit,
    /// What was found at each visit, by date.
    pub visits: Vec<VisitFindings>,
    /// What the patterns are consistent with.
    pub patterns: Vec<Pattern>,
    /// What the remarks beside the numbers mean.
    pub legend: Vec<String>,
}

impl CheckFindings {
    /// What was found at a visit.
    pub fn visit(&self, id: &str) -> Option<&VisitFindings> {
        self.visits.iter().find(|visit| visit.visit == id)
    }
}

/// What a comparison shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Conclusion {
    /// The interval lies inside ± what matters.
    SameWithinWhatMatters,
    /// The interval holds zero.
    NoChangeShown,
    /// It moved the good way.
    Better,
    /// It moved the bad way.
    Worse,
    /// It rose, and neither way is better.
    Higher,
    /// It fell, and neither way is better.
    Lower,
}

impl Conclusion {
    /// In the words of the session format.
    pub fn words(self) -> &'static str {
        match self {
            Self::SameWithinWhatMatters => "same within what matters",
            Self::NoChangeShown => "no change shown",
            Self::Better => "better",
            Self::Worse => "worse",
            Self::Higher => "higher",
            Self::Lower => "lower",
        }
    }
}

/// A condition that was not the same.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Differs {
    /// What it is called.
    pub condition: String,
    /// What it was before; "not recorded" where nobody wrote it down.
    pub before: String,
    /// What it was after.
    pub after: String,
    /// Whether the check says that it must match.
    pub decides: bool,
}

/// One number's change, in [`Change::unit`] throughout.
#[derive(Clone, Debug)]
pub struct Change {
    /// The check's id.
    pub check: String,
    /// The station, place or setting.
    pub at: String,
    /// Whether it is the mean over all places.
    pub over_all_places: bool,
    /// Which of the measure's numbers.
    pub what: &'static str,
    /// The unit.
    pub unit: Unit,
    /// Whether it is of a finding that stands in the appendix alone.
    pub aside: bool,
    /// The value before.
    pub before: f64,
    /// Its expanded uncertainty.
    pub before_expanded: Option<f64>,
    /// The value after.
    pub after: f64,
    /// Its expanded uncertainty.
    pub after_expanded: Option<f64>,
    /// After less before.
    pub change: f64,
    /// The 95 % interval of the change.
    pub low: f64,
    /// Its other end.
    pub high: f64,
    /// The change as a share of the value before, where that is a ratio scale and not zero.
    pub percent: Option<f64>,
    /// What it shows.
    pub conclusion: Conclusion,
    /// What it shows when all of the comparison's changes are looked at together (Holm 1979).
    pub adjusted: Option<Conclusion>,
    /// The two-sided probability that the adjustment used.
    pub p: Option<f64>,
    /// Whatever else a reader must know.
    pub notes: Vec<String>,
}

/// One check within a comparison.
#[derive(Clone, Debug)]
pub struct CheckChanges {
    /// The check's id.
    pub check: String,
    /// The changes, the main one first.
    pub changes: Vec<Change>,
    /// What was not the same.
    pub differs: Vec<Differs>,
    /// Whether everything that must match did.
    pub like_for_like: bool,
    /// What was found before, where that was in another session.
    pub elsewhere: Option<VisitFindings>,
}

/// One comparison.
#[derive(Clone, Debug)]
pub struct ComparisonFindings {
    /// Its id.
    pub id: String,
    /// Its heading.
    pub title: String,
    /// The earlier or reference side, in words: the visit's title, and the session's where it is
    /// another.
    pub before: Side,
    /// The later side.
    pub after: Side,
    /// The checks that both sides have.
    pub checks: Vec<CheckChanges>,
    /// Checks that one side lacks or that cannot be compared, each with the reason.
    pub left_out: Vec<String>,
}

/// One side of a comparison.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Side {
    /// The visit's id.
    pub visit: String,
    /// The visit's title.
    pub title: String,
    /// What it stands for.
    pub state: State,
    /// The day.
    pub date: Date,
    /// The other session's title, where it is another.
    pub session: Option<String>,
}

/// A day held against a coverage window.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CoverageDay {
    /// The day.
    pub on: Date,
    /// What happened on it.
    pub what: String,
    /// Whole days left; negative when the window was over.
    pub days_left: i64,
}

/// A coverage window with every visit and event held against it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CoverageWindow {
    /// The machine's id.
    pub machine: String,
    /// What it is called.
    pub name: String,
    /// How long it lasts, in words.
    pub lasts: String,
    /// Where that is written.
    pub reference: Option<String>,
    /// The first day.
    pub from: Date,
    /// The last day inside.
    pub until: Date,
    /// The days held against it.
    pub days: Vec<CoverageDay>,
}

/// How well an instrument repeats, from its `repeat_readings`.
#[derive(Clone, Debug, PartialEq)]
pub struct Repeats {
    /// The instrument's id.
    pub instrument: String,
    /// The standard deviation (n − 1), in `unit`.
    pub deviation: f64,
    /// Its unit.
    pub unit: Unit,
    /// How many readings it rests on.
    pub n: usize,
}

/// Everything found.
#[derive(Clone, Debug)]
pub struct Findings {
    /// Check by check, in the session's order.
    pub checks: Vec<CheckFindings>,
    /// Comparison by comparison.
    pub comparisons: Vec<ComparisonFindings>,
    /// How well the instruments repeat, those with readings of it.
    pub repeats: Vec<Repeats>,
    /// Coverage, machine by machine.
    pub coverage: Vec<CoverageWindow>,
    /// Cautions that the measures call for, each once.
    pub cautions: Vec<&'static str>,
    /// Methods used, with their sources, each once.
    pub methods: Vec<&'static str>,
    /// What the reader of the session should know: no error, but no praise either.
    pub warnings: Vec<String>,
}

impl Findings {
    /// What a check found.
    pub fn check(&self, id: &str) -> Option<&CheckFindings> {
        self.checks.iter().find(|check| check.check == id)
    }
}
