//! Every number that a session holds, with its unit: what was found, read, written down, allowed and agreed.

use std::collections::BTreeSet;

use super::find::numbers;
use crate::findings::{
    BoundOn, Change, CheckFindings, ComparisonFindings, Finding, Findings, VisitFindings, sentences,
};
use crate::quantity::{Difference, Kind, Quantity, Unit, parse_clock, parse_number, parse_quantity};
use crate::session::{Date, Session, days_between};

/// Where a number comes from, as far as it may be suggested.
#[derive(Clone, Copy, Debug)]
pub(super) enum Origin<'a> {
    /// A finding at a visit.
    Found(&'a CheckFindings, &'a VisitFindings, &'a Finding),
    /// A change in a comparison.
    Changed(&'a CheckFindings, &'a ComparisonFindings, &'a Change),
    /// Anything else that the session holds.
    Held,
}

/// A number that the session holds.
#[derive(Clone, Copy, Debug)]
pub(super) struct Known<'a> {
    value: f64,
    unit: Unit,
    /// Whether it is a distance on the unit's scale.
    difference: bool,
    pub(super) origin: Origin<'a>,
}

impl Known<'_> {
    /// The number in another unit of its kind. A level in plain decibels is held against one of any weighting, since
    /// that is how people write it.
    pub(super) fn to(&self, unit: Unit) -> Option<f64> {
        if self.unit.kind() == Kind::Level && unit.kind() == Kind::Level {
            let same =
                self.unit == unit || self.difference || unit.symbol() == "dB" || self.unit.symbol() == "dB";
            return same.then_some(self.value);
        }
        if self.difference {
            Difference::new(self.value, self.unit).to(unit).ok()
        } else {
            Quantity::new(self.value, self.unit).to(unit).ok()
        }
    }
}

/// Collects them.
pub(super) struct Gathered<'a> {
    pub(super) list: Vec<Known<'a>>,
    seen: BTreeSet<(u64, &'static str, bool)>,
}

impl<'a> Gathered<'a> {
    /// All numbers of a session and its findings.
    pub(super) fn of(session: &'a Session, findings: &'a Findings) -> Self {
        let mut all = Self { list: Vec::new(), seen: BTreeSet::new() };
        for check in &findings.checks {
            for visit in &check.visits {
                all.visit(check, visit);
            }
            for text in check.patterns.iter().map(|pattern| &pattern.says).chain(&check.legend) {
                all.text(text);
            }
        }
        for comparison in &findings.comparisons {
            for changes in &comparison.checks {
                let check = findings.check(&changes.check);
                for change in &changes.changes {
                    all.change(check, comparison, change);
                }
                if let Some(elsewhere) = &changes.elsewhere {
                    for finding in &elsewhere.findings {
                        all.numbers_of(finding);
                    }
                    all.raw(elsewhere);
                }
            }
        }
        for text in &findings.warnings {
            all.text(text);
        }
        all.days(session, findings);
        all.files(session);
        for repeats in &findings.repeats {
            all.held(repeats.deviation, repeats.unit, true);
        }
        all
    }

    fn put(&mut self, value: f64, unit: Unit, difference: bool, origin: Origin<'a>) {
        self.list.push(Known { value, unit, difference, origin });
    }

    /// A number that nothing is suggested from; each is kept once.
    fn held(&mut self, value: f64, unit: Unit, difference: bool) {
        if value.is_finite() && self.seen.insert((value.to_bits(), unit.symbol(), difference)) {
            self.put(value, unit, difference, Origin::Held);
        }
    }

    fn visit(&mut self, check: &'a CheckFindings, visit: &'a VisitFindings) {
        for finding in &visit.findings {
            if let Some(value) = finding.value {
                self.put(value, finding.unit, finding.difference, Origin::Found(check, visit, finding));
            }
            self.numbers_of(finding);
        }
        self.raw(visit);
        for text in &visit.notes {
            self.text(text);
        }
        for (_, value) in &visit.set_up {
            self.text(value);
        }
    }

    /// What stands about a finding: its uncertainty, its limit, its bound, its floor, its place.
    fn numbers_of(&mut self, finding: &Finding) {
        let Finding { unit, difference, .. } = *finding;
        let bound = finding.bound.map(|bound| match bound {
            BoundOn::AtMost(value) | BoundOn::AtLeast(value) => value,
        });
        let limit = finding.limit.iter().flat_map(|limit| limit.at_least.into_iter().chain(limit.at_most));
        let near = [finding.value, finding.with_struck, finding.reached, bound];
        for value in near.into_iter().flatten().chain(limit) {
            self.held(value, unit, difference);
        }
        for value in finding.floor.into_iter().chain(finding.expanded().map(|expanded| expanded.expanded)) {
            self.held(value, unit, true);
        }
        for text in std::iter::once(&finding.at).chain([&finding.remark]).chain(&finding.notes) {
            self.text(text);
        }
    }

    fn raw(&mut self, visit: &VisitFindings) {
        for table in &visit.raw {
            self.text(&table.at);
            for name in table.columns.iter().chain(table.rows.iter().map(|(name, _)| name)) {
                self.text(name);
            }
            for cell in table.rows.iter().flat_map(|(_, cells)| cells) {
                match parse_number(&cell.text) {
                    Ok(value) => self.held(value, table.unit, false),
                    Err(_) => {
                        if let Ok(quantity) = parse_quantity(&cell.text, &[], None) {
                            self.held(quantity.value(), quantity.unit(), false);
                        }
                    }
                }
            }
        }
    }

    fn change(
        &mut self,
        check: Option<&'a CheckFindings>,
        comparison: &'a ComparisonFindings,
        change: &'a Change,
    ) {
        let origin = check.map_or(Origin::Held, |check| Origin::Changed(check, comparison, change));
        self.put(change.change, change.unit, true, origin);
        for value in [change.low, change.high] {
            self.held(value, change.unit, true);
        }
        for value in [change.before, change.after] {
            self.held(value, change.unit, false);
        }
        if let (Some(percent), Some(unit)) = (change.percent, Unit::known(Kind::Ratio, "%")) {
            self.put(percent, unit, true, origin);
        }
    }

    /// The days of the session, each held against each: "three weeks later".
    fn days(&mut self, session: &Session, findings: &Findings) {
        let mut days: Vec<Date> = session.visits.iter().map(|visit| visit.date).collect();
        days.extend(session.events.iter().map(|event| event.on));
        days.extend(session.machines.iter().filter_map(|machine| machine.bought));
        days.extend(
            session
                .instruments
                .iter()
                .flat_map(|instrument| [instrument.calibrated, instrument.calibration_due])
                .flatten(),
        );
        days.extend(findings.coverage.iter().flat_map(|window| [window.from, window.until]));
        days.sort_unstable();
        days.dedup();
        let Some(unit) = Unit::known(Kind::Time, "days") else { return };
        for (index, from) in days.iter().enumerate() {
            for to in &days[index + 1..] {
                self.held(days_between(*from, *to) as f64, unit, true);
            }
        }
    }

    /// What stands in the YAML files: limits, conditions, instruments, set-up, procedures.
    fn files(&mut self, session: &Session) {
        let of_checks = session.checks.first().map(|check| &check.place.source);
        let sources = of_checks.into_iter().chain(session.visits.iter().map(|visit| &visit.place.source));
        for source in sources {
            for line in source.text.lines() {
                self.text(line);
            }
        }
        for (_, other) in &session.others {
            self.files(other);
        }
    }

    /// The numbers with a unit that stand in a text, and its times of the clock.
    fn text(&mut self, text: &str) {
        if !text.contains(|c: char| c.is_ascii_digit()) {
            return;
        }
        for typed in numbers(text) {
            for unit in typed.units {
                self.held(typed.low, unit, false);
                self.held(typed.high, unit, false);
                self.held(typed.low, unit, true);
            }
        }
        let Some(seconds) = Unit::known(Kind::Time, "s") else { return };
        for word in text.split(|c: char| !(c.is_ascii_digit() || c == ':')).filter(|word| word.contains(':'))
        {
            if let Ok(value) = parse_clock(word) {
                self.held(value, seconds, true);
            }
        }
    }
}

/// What an origin is called: figure, description, the placeholder that stands for it, and the words that name it.
pub(super) fn described(session: &Session, origin: Origin<'_>) -> Option<(String, String, String)> {
    let what_words = |check: &CheckFindings, what: &str| {
        let measure = crate::registry::registered(check.measure)?.measure;
        measure.whats().iter().find(|known| known.name == what).map(|known| known.words)
    };
    let named = |check: &CheckFindings, at: &str, what: &str, last: &str| {
        let what = Some(what).filter(|what| *what != check.main).and_then(|what| what_words(check, what));
        let parts = [Some(check.title.as_str()), what, Some(at).filter(|at| !at.is_empty()), Some(last)];
        parts.into_iter().flatten().collect::<Vec<_>>().join(", ")
    };
    let asked = |check: &CheckFindings, at: &str, what: &str, before: &str, which: &str| {
        let of = if what == check.main { String::new() } else { format!("{what} of ") };
        let telling = sentences::telling_place(check) == Some(at);
        let place = if at.is_empty() || telling { String::new() } else { format!(" at {at}") };
        format!("{{{before}{of}{}{place}, {which}}}", check.check)
    };
    match origin {
        Origin::Found(check, visit, finding) => Some((
            sentences::said(finding),
            named(check, &finding.at, finding.what, &sentences::when(session, visit)),
            asked(check, &finding.at, finding.what, "", &visit.visit),
        )),
        Origin::Changed(check, comparison, change) => Some((
            sentences::of_change(change),
            format!("the change of {}", named(check, &change.at, change.what, &comparison.title)),
            asked(check, &change.at, change.what, "change of ", &comparison.id),
        )),
        Origin::Held => None,
    }
}
