//! From the runs of one stock to its findings.

use super::runs::{Cut, Number, Run};
use super::{LoadStock, Units};
use crate::analysis::finding;
use crate::analysis::statistics::sample;
use crate::analysis::uncertainty::{Repeatability, Shown, combine, repeatability_line};
use crate::findings::{Budget, Component, Distribution, Finding};
use crate::quantity::{Quantity, Unit, significant};

/// The runs of one stock, ready to be averaged.
pub(super) struct Work<'a> {
    cut: &'a Cut,
    kerf: Option<Quantity>,
    shown: &'a Shown,
    units: Units,
}

/// How many runs stalled, and how many were made; struck runs are in neither.
pub(super) fn counts(cut: &Cut) -> (usize, usize) {
    let made = cut.runs.iter().filter(|run| run.struck.is_none()).count();
    (cut.runs.iter().filter(|run| run.stall_counts()).count(), made)
}

impl<'a> Work<'a> {
    pub(super) fn of(cut: &'a Cut, kerf: Option<Quantity>, shown: &'a Shown, units: Units) -> Self {
        Self { cut, kerf, shown, units }
    }

    /// For the chart.
    pub(super) fn details(&self) -> LoadStock {
        let (stalled, made) = counts(self.cut);
        let droops = self.cut.runs.iter().filter_map(|run| self.droop_of(run)).collect();
        LoadStock { stock: self.cut.stock.clone(), droops, stalled, made }
    }

    /// In the order of the session format.
    pub(super) fn findings(&self) -> Vec<Finding> {
        vec![
            self.droop(),
            self.stalled_runs(),
            self.loaded_speed(),
            self.feed_rate(),
            self.removal_rate(),
            self.droop_per_removal(),
        ]
    }

    /// The speeds of a run, corrected, and whether either was struck.
    fn speeds(&self, run: &Run) -> Option<(f64, f64, bool)> {
        let (unloaded, a) = run.number(run.unloaded.as_ref(), self.units.speed)?;
        let (loaded, b) = run.number(run.loaded.as_ref(), self.units.speed)?;
        Some((unloaded + self.shown.correction, loaded + self.shown.correction, a || b))
    }

    /// A run's droop in percent.
    fn droop_of(&self, run: &Run) -> Option<Number> {
        let (unloaded, loaded, struck) = self.speeds(run)?;
        Some((100.0 * (unloaded - loaded) / unloaded, struck))
    }

    /// A run's feed in metres a second; a stalled run did not go the length.
    fn feed_of(&self, run: &Run) -> Option<Number> {
        if run.stalled {
            return None;
        }
        let (length, a) = run.number(run.length.as_ref(), self.units.metre)?;
        let (time, b) = run.number(run.time.as_ref(), self.units.second)?;
        Some((length / time, a || b))
    }

    /// A run's removal rate in the unit of the results.
    fn removal_of(&self, run: &Run) -> Option<Number> {
        let kerf = self.kerf?.to(self.units.metre).ok()?;
        let depth = self.cut.depth?.to(self.units.metre).ok()?;
        let (feed, struck) = self.feed_of(run)?;
        Some((kerf * depth * feed * self.units.removal_per_si, struck))
    }

    fn droop_per_removal_of(&self, run: &Run) -> Option<Number> {
        let (droop, a) = self.droop_of(run)?;
        let (removal, b) = self.removal_of(run)?;
        Some((droop / removal, a || b))
    }

    fn each(&self, of: impl Fn(&Run) -> Option<Number>) -> Vec<Number> {
        self.cut.runs.iter().filter_map(of).collect()
    }

    fn droop(&self) -> Finding {
        let droops = self.each(|run| self.droop_of(run));
        let mut own = self.mean("droop", self.units.percent, &droops);
        own.lines.extend(self.tachometer(1.0));
        let (stalled, made) = counts(self.cut);
        if let Some(kept) = own.kept() {
            let regulation = self.each(|run| {
                let (unloaded, loaded, struck) = self.speeds(run)?;
                Some((100.0 * (unloaded - loaded) / loaded, struck))
            });
            let regulation: Vec<f64> = regulation.iter().filter(|(_, s)| !s).map(|(v, _)| *v).collect();
            own.notes.push(format!(
                "Over the loaded speed instead, as makers quote speed regulation (common practice): {} %.",
                significant(sample(&regulation).mean, 3)
            ));
            if stalled > 0 {
                own.notes.push(format!(
                    "{stalled} of {made} runs stalled and lost all their speed; the mean is of the {kept} \
                     that did not, and no limit below 100 % is kept by it."
                ));
            }
        } else {
            own.notes.push(no_run(stalled));
        }
        let mut found = own.finding();
        found.reached = (stalled > 0).then_some(100.0);
        found
    }

    fn stalled_runs(&self) -> Finding {
        let (stalled, made) = counts(self.cut);
        let mut found = finding(
            &self.cut.stock,
            "stalled_runs",
            self.units.count,
            Some(stalled as f64),
            combine(Vec::new()),
        );
        found.counted = true;
        found.n = made;
        found.struck = self.cut.runs.len() - made;
        found
    }

    fn loaded_speed(&self) -> Finding {
        let speeds = self.each(|run| {
            let (value, struck) = run.number(run.loaded.as_ref(), self.units.speed)?;
            Some((value + self.shown.correction, struck))
        });
        let mut own = self.mean("loaded_speed", self.units.speed, &speeds);
        if let Some(mean) = own.value() {
            if self.shown.step > 0.0 {
                own.lines.push(self.shown.step_line(self.shown.step_standard()));
            }
            own.lines.extend(self.shown.accuracy_line(mean - self.shown.correction, 1.0));
        } else {
            own.notes.push(no_run(counts(self.cut).0));
        }
        let mut found = own.finding();
        found.reached = (counts(self.cut).0 > 0).then_some(0.0);
        found
    }

    fn feed_rate(&self) -> Finding {
        let feeds = self.each(|run| {
            let (feed, struck) = self.feed_of(run)?;
            Some((self.units.feed(feed), struck))
        });
        let mut own = self.mean("feed_rate", self.units.feed, &feeds);
        own.notes.push(match own.value() {
            Some(_) => "Length and time are taken as written: no instrument is named for them.".to_owned(),
            None => format!("No feed: {}.", self.without_feed()),
        });
        own.finding()
    }

    fn removal_rate(&self) -> Finding {
        let removals = self.each(|run| self.removal_of(run));
        let mut own = self.mean("removal_rate", self.units.removal, &removals);
        own.notes.push(match own.value() {
            Some(_) => "Kerf, depth, length and time are taken as written: no instrument is named for \
                        them."
                .to_owned(),
            None => format!("No removal rate: {}.", self.without_removal()),
        });
        own.finding()
    }

    fn droop_per_removal(&self) -> Finding {
        let rates = self.each(|run| self.droop_per_removal_of(run));
        let mut own = self.mean("droop_per_removal", self.units.per_removal, &rates);
        if own.value().is_some() {
            let removals = self.each(|run| self.removal_of(run));
            let removals: Vec<f64> = removals.iter().filter(|(_, s)| !s).map(|(value, _)| *value).collect();
            own.lines.extend(self.tachometer(1.0 / sample(&removals).mean));
            own.notes.push(
                "Lets two blades be compared a little more fairly; it does not make them like for like."
                    .to_owned(),
            );
        } else {
            let why = if self.each(|run| self.droop_of(run)).iter().all(|(_, struck)| *struck) {
                "no run that counts gives a droop".to_owned()
            } else {
                self.without_removal()
            };
            own.notes.push(format!("No droop per removal rate: {why}."));
        }
        own.finding()
    }

    fn without_feed(&self) -> String {
        let has = |of: fn(&Run) -> bool| self.cut.runs.iter().any(|run| !run.stalled && of(run));
        match (has(|run| run.length.is_some()), has(|run| run.time.is_some())) {
            (false, false) => "no run has a length and a time",
            (false, true) => "no run has a length",
            (true, false) => "no run has a time",
            (true, true) => "no run that counts has both a length and a time",
        }
        .to_owned()
    }

    fn without_removal(&self) -> String {
        match (self.kerf.is_some(), self.cut.depth.is_some()) {
            (false, false) => "neither kerf nor depth is given".to_owned(),
            (false, true) => "no kerf is given".to_owned(),
            (true, false) => "no depth is given".to_owned(),
            (true, true) => self.without_feed(),
        }
    }

    /// The tachometer's part in the droop (percent), times `factor`. It reads both speeds, so its own
    /// error is one and the same: of 1 − L/U an error e·h(x) at the speed x leaves
    /// e·(L·h(U)/U² − h(L)/U), nothing where h is a share of x. The display steps are two.
    fn tachometer(&self, factor: f64) -> Vec<Component> {
        let speeds: Vec<(f64, f64)> = self
            .cut
            .runs
            .iter()
            .filter_map(|run| self.speeds(run))
            .filter(|(.., struck)| !struck)
            .map(|(unloaded, loaded, _)| (unloaded, loaded))
            .collect();
        if speeds.is_empty() {
            return Vec::new();
        }
        let unloaded = sample(&speeds.iter().map(|(u, _)| *u).collect::<Vec<_>>()).mean;
        let loaded = sample(&speeds.iter().map(|(_, l)| *l).collect::<Vec<_>>()).mean;
        let share = 100.0 * factor.abs();
        let mut lines = Vec::new();
        // Of both readings, as one run has it.
        let of_two = (1.0 + (loaded / unloaded).powi(2)).sqrt() / unloaded * share;
        if speeds.len() == 1
            && let Some(one) = self.shown.repeatability
        {
            let line = repeatability_line("Repeatability of the instrument", one, one.deviation * of_two);
            lines.push(Component { estimate: line.contribution, ..line });
        }
        if self.shown.step > 0.0 {
            let contribution = self.shown.step_standard() * of_two;
            lines.push(part(
                "Display step, at both speeds",
                contribution,
                Distribution::Rectangular,
                12f64.sqrt(),
            ));
        }
        let half = |speed: f64| self.shown.accuracy_line(speed - self.shown.correction, 1.0);
        if let (Some(at_unloaded), Some(at_loaded)) = (half(unloaded), half(loaded)) {
            let left = loaded * at_unloaded.estimate / unloaded.powi(2) - at_loaded.estimate / unloaded;
            // What cancels leaves a rounding error of the last bit.
            let left = if left.abs() < 1e-12 { 0.0 } else { left.abs() * share };
            lines.push(part(
                "Accuracy of the tachometer, common to both speeds",
                left / at_unloaded.divisor,
                at_unloaded.distribution,
                at_unloaded.divisor,
            ));
        }
        lines
    }

    /// The mean of the runs that count, with their scatter.
    fn mean(&self, what: &'static str, unit: Unit, each: &[Number]) -> Mean<'a> {
        let kept: Vec<f64> = each.iter().filter(|(_, struck)| !struck).map(|(value, _)| *value).collect();
        let all: Vec<f64> = each.iter().map(|(value, _)| *value).collect();
        let mut own =
            Mean { stock: &self.cut.stock, what, unit, kept, all, lines: Vec::new(), notes: Vec::new() };
        match own.kept.len() {
            0 => {}
            1 => own.notes.push("One run: nothing is known of how runs differ.".to_owned()),
            n => {
                let scatter = sample(&own.kept).deviation;
                let spread = Repeatability { deviation: scatter, dof: n as f64 - 1.0 };
                own.lines.push(repeatability_line(
                    "Scatter of the runs",
                    spread,
                    scatter / (n as f64).sqrt(),
                ));
            }
        }
        if !own.kept.is_empty() && !self.shown.named {
            own.notes.push(crate::analysis::uncertainty::UNNAMED.to_owned());
        }
        own
    }
}

fn no_run(stalled: usize) -> String {
    if stalled > 0 {
        "Every run that counts stalled, so there is no mean; a stalled run lost all its speed.".to_owned()
    } else {
        "No run counts: all are struck.".to_owned()
    }
}

fn part(name: &str, contribution: f64, distribution: Distribution, divisor: f64) -> Component {
    Component {
        name: name.to_owned(),
        estimate: contribution * divisor,
        distribution,
        divisor,
        contribution,
        dof: f64::INFINITY,
    }
}

/// A mean on its way to a finding.
struct Mean<'a> {
    stock: &'a str,
    what: &'static str,
    unit: Unit,
    kept: Vec<f64>,
    all: Vec<f64>,
    lines: Vec<Component>,
    notes: Vec<String>,
}

impl Mean<'_> {
    fn kept(&self) -> Option<usize> {
        (!self.kept.is_empty()).then_some(self.kept.len())
    }

    fn value(&self) -> Option<f64> {
        self.kept().map(|_| sample(&self.kept).mean)
    }

    fn finding(self) -> Finding {
        let value = self.value();
        let budget: Budget = combine(if value.is_some() { self.lines } else { Vec::new() });
        let mut found = finding(self.stock, self.what, self.unit, value, budget);
        found.n = self.kept.len();
        found.struck = self.all.len() - self.kept.len();
        if found.struck > 0 && value.is_some() {
            found.with_struck = Some(sample(&self.all).mean);
        }
        found.notes = self.notes;
        found
    }
}
