//! `load`: how much speed a cut costs.
//!
//! Everything is worked out for each run and then averaged: droop = (unloaded − loaded)/unloaded,
//! feed = length/time, removal = kerf × depth × feed. A run that stalled is counted by itself and is in
//! no mean; but no limit on the droop is kept by a stock in which a run stalled, for that run lost all
//! of its speed.

mod numbers;
mod runs;
mod schema;

use std::sync::Arc;

use crate::findings::{CheckFindings, Details, Finding, Pattern, VisitFindings};
use crate::quantity::{Kind, Quantity, Unit, UnitSystem};
use crate::schema::Own;
use crate::session::{Better, Check, Problems, Session};

use super::blank::{self, Blank, Grows};
use super::readings_needed::Repeated;
use super::speed::speed_unit;
use super::{Examined, Measure, Prepared, Sitting, What};
use numbers::Work;
use runs::{Cut, cuts_of, raw_tables, size};

/// What `where` says for all stocks together.
const ALL_CUTS: &str = "all cuts";

/// The measure.
#[derive(Debug)]
pub struct Load;

/// For the chart.
#[derive(Clone, Debug, PartialEq)]
pub struct LoadDetails {
    /// The stocks in the order written.
    pub stocks: Vec<LoadStock>,
}

/// One stock.
#[derive(Clone, Debug, PartialEq)]
pub struct LoadStock {
    /// Its name.
    pub stock: String,
    /// Each run's droop in percent, and whether it was struck; stalled runs have none.
    pub droops: Vec<(f64, bool)>,
    /// How many runs stalled.
    pub stalled: usize,
    /// How many runs were made and not struck.
    pub made: usize,
}

impl Measure for Load {
    fn name(&self) -> &'static str {
        "load"
    }

    fn whats(&self) -> &'static [What] {
        const {
            &[
                What::new("droop", "droop"),
                What::of_set_up("stalled_runs", "stalled runs"),
                What::new("loaded_speed", "speed under load").directed(Better::Higher),
                What::new("feed_rate", "feed rate").directed(Better::Higher),
                What::new("removal_rate", "removal rate").directed(Better::Higher),
                What::new("droop_per_removal", "droop per removal rate"),
            ]
        }
    }

    fn better(&self) -> Option<Better> {
        Some(Better::Lower)
    }

    fn all_places(&self) -> Option<&'static str> {
        Some(ALL_CUTS)
    }

    fn schema(&self) -> Own {
        schema::own()
    }

    fn prepare(
        &self,
        session: &Session,
        check: &Check,
        problems: &mut Problems,
    ) -> Option<Box<dyn Prepared>> {
        check.own.clone().finish(problems);
        let bare = speed_unit(check, problems)?;
        let units = Units::of(session.units, bare)?;
        Some(Box::new(Ready { bare, units }))
    }

    fn patterns(&self, _: &Session, _: &CheckFindings, _: &[CheckFindings]) -> Vec<Pattern> {
        Vec::new()
    }

    fn usual(&self, _: &Session, check: &Check) -> Vec<Blank> {
        let unit = check.unit.or(Unit::known(Kind::RotationalSpeed, "rpm"));
        let columns = ["Stock, run", "Unloaded", "Loaded", "Length", "Time"].map(str::to_owned).to_vec();
        let table = unit.map(|unit| blank::empty("", columns, &vec![String::new(); 8], unit));
        blank::like(table.as_slice(), self.order())
    }

    fn repeated(&self, _: &VisitFindings, finding: &Finding) -> Option<Repeated> {
        Some(Repeated { words: ("run", "runs"), n: finding.n, grows: Grows::Rows })
    }

    fn cautions(&self) -> &'static [&'static str] {
        &[
            "Sawing tests: guard and riving knife fitted, push sticks at hand, eye and ear protection on, \
             nobody behind the blade. Never reach over a turning blade.",
            "Feed steadily and no harder than the saw takes; never force a cut into a stall. A blade that \
             binds can throw the work: let it stop, switch off, then clear it.",
        ]
    }

    fn methods(&self) -> &'static [&'static str] {
        &[
            "Load: droop = (unloaded − loaded)/unloaded for each run, then the mean of the runs with \
             Student's t interval from two runs on. One tachometer reads both \
             speeds, so an error that is a share of the number shown cancels in the droop and a fixed \
             error nearly does; the display steps do not, and are not divided by the root of the number \
             of runs (JCGM 100:2008, 4.2, G.3).",
            "Speed regulation: the same loss over the loaded speed; the two are different numbers, so a \
             maker's figure is held against the one that it means (common practice).",
            "Feed and removal: feed = length/time and removal = kerf × depth × feed for each run. A stalled run is \
             counted by itself and is in no mean; since it lost all its speed, it is over any limit on \
             the droop below 100 %. Droop per removal rate lets two blades be compared a little more \
             fairly; it does not make them like for like (common practice).",
        ]
    }
}

/// The units of the results.
#[derive(Clone, Copy, Debug)]
struct Units {
    speed: Unit,
    percent: Unit,
    count: Unit,
    feed: Unit,
    removal: Unit,
    per_removal: Unit,
    metre: Unit,
    second: Unit,
    metre_per_second: Unit,
    /// One percent lost for each unit of the removal rate.
    removal_per_si: f64,
}

impl Units {
    fn of(system: UnitSystem, speed: Option<Unit>) -> Option<Self> {
        let (feed, removal, per_removal, edge) = match system {
            UnitSystem::Inch => ("ft/min", "in³/min", "%/(in³/min)", 0.0254),
            UnitSystem::Metric => ("m/min", "cm³/min", "%/(cm³/min)", 0.01),
        };
        let edge: f64 = edge;
        Some(Self {
            speed: speed.or(Unit::known(Kind::RotationalSpeed, "rpm"))?,
            percent: Unit::known(Kind::Ratio, "%")?,
            count: Unit::known(Kind::Count, "count")?,
            feed: Unit::known(Kind::Velocity, feed)?,
            removal: Unit::known(Kind::VolumeRate, removal)?,
            per_removal: Unit::known(Kind::DroopPerRemoval, per_removal)?,
            metre: Unit::known(Kind::Length, "m")?,
            second: Unit::known(Kind::Time, "s")?,
            metre_per_second: Unit::known(Kind::Velocity, "m/s")?,
            removal_per_si: 60.0 / edge.powi(3),
        })
    }

    /// A feed in metres a second in the feed's unit.
    fn feed(&self, metres_per_second: f64) -> f64 {
        let feed = Quantity::new(metres_per_second, self.metre_per_second);
        feed.to(self.feed).unwrap_or(f64::NAN)
    }
}

struct Ready {
    bare: Option<Unit>,
    units: Units,
}

impl Prepared for Ready {
    fn unit(&self) -> Unit {
        self.units.percent
    }

    fn examine(&self, sitting: &Sitting<'_>, problems: &mut Problems) -> Option<Examined> {
        let mut own = sitting.readings.own.clone();
        let source = Arc::clone(own.source());
        let shown = sitting.shown(self.units.speed, problems);
        let kerf = size(&mut own, "kerf", problems);
        let node =
            own.need("cuts", "{red oak: {depth: 50 mm, runs: [{unloaded: 3455, loaded: 3010}]}}", problems);
        let cuts = node.and_then(|node| cuts_of(&node, &source, self.bare, problems));
        own.finish(problems);
        let (shown, cuts, kerf) = (shown?, cuts?, kerf.ok()?);
        let mut findings: Vec<Finding> = Vec::new();
        let mut stocks = Vec::new();
        for cut in &cuts {
            let work = Work::of(cut, kerf, &shown, self.units);
            findings.extend(work.findings());
            stocks.push(work.details());
        }
        Some(Examined {
            findings,
            raw: raw_tables(&cuts, self.units.speed),
            set_up: set_up(kerf, &cuts),
            details: Details::new(LoadDetails { stocks }),
            notes: Vec::new(),
        })
    }
}

/// What must be the same for two visits to be compared fairly: kerf, depth, and that no run stalled
/// at one of them alone, since the means are of those that did not.
fn set_up(kerf: Option<Quantity>, cuts: &[Cut]) -> Vec<(String, String)> {
    let mut list = Vec::new();
    if let Some(kerf) = kerf {
        list.push(("kerf".to_owned(), kerf.to_string()));
    }
    let depths: Vec<(&str, String)> =
        cuts.iter().filter_map(|cut| Some((cut.stock.as_str(), cut.depth?.to_string()))).collect();
    if let Some((_, first)) = depths.first() {
        let same = depths.iter().all(|(_, depth)| depth == first);
        let each = depths.iter().map(|(stock, depth)| format!("{stock} {depth}"));
        let words = if same { first.clone() } else { each.collect::<Vec<_>>().join(", ") };
        list.push(("depth of cut".to_owned(), words));
    }
    let stalled: Vec<String> = cuts
        .iter()
        .map(|cut| (cut, numbers::counts(cut)))
        .filter(|(_, (stalled, _))| *stalled > 0)
        .map(|(cut, (stalled, made))| format!("{}, {stalled} of {made}", cut.stock))
        .collect();
    let words = if stalled.is_empty() { "none".to_owned() } else { stalled.join("; ") };
    list.push(("stalled runs".to_owned(), words));
    list
}
