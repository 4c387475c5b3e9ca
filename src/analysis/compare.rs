//! Comparisons between visits of one session, and with a visit of another.

use crate::findings::{
    Change, CheckChanges, CheckFindings, ComparisonFindings, Component, Finding, Side, VisitFindings,
};
use crate::quantity::{Quantity, parse_quantity};
use crate::session::{Check, Comparison, Problems, Session, Visit, VisitRef};

use super::change::{Judge, adjust};
use super::fairness::{Sitting, compare as fairness};
use super::{Measure, What, examine, matters_in};

/// Works out every comparison of a session.
pub(super) fn compare(
    session: &Session,
    checks: &[CheckFindings],
    measures: &[&dyn Measure],
    problems: &mut Problems,
) -> Vec<ComparisonFindings> {
    let compared = |comparison| one(session, comparison, checks, measures, problems);
    session.compare.iter().filter_map(compared).collect()
}

/// The session and the visit that a side names.
fn side<'a>(session: &'a Session, side: &VisitRef) -> Option<(&'a Session, &'a Visit)> {
    let there = match &side.session {
        None => session,
        Some(path) => session.other(path)?,
    };
    Some((there, there.visit(&side.visit)?))
}

fn words(session: &Session, side: &VisitRef, visit: &Visit) -> Side {
    Side {
        visit: visit.id.clone(),
        title: visit.title.clone(),
        state: visit.state,
        date: visit.date,
        session: side.session.as_ref().map(|_| session.title.clone()),
    }
}

fn one(
    session: &Session,
    comparison: &Comparison,
    checks: &[CheckFindings],
    measures: &[&dyn Measure],
    problems: &mut Problems,
) -> Option<ComparisonFindings> {
    let (before_session, before) = side(session, &comparison.before)?;
    let (after_session, after) = side(session, &comparison.after)?;
    let mut found = ComparisonFindings {
        id: comparison.id.clone(),
        title: comparison.title.clone(),
        before: words(before_session, &comparison.before, before),
        after: words(after_session, &comparison.after, after),
        checks: Vec::new(),
        left_out: Vec::new(),
    };
    for check in &session.checks {
        let wanted =
            comparison.checks.as_ref().is_none_or(|names| names.iter().any(|named| named.id == check.id));
        if !wanted {
            continue;
        }
        let mut task = Task { session, check, checks, measures, problems };
        let left = task.sitting(before_session, before);
        let right = task.sitting(after_session, after);
        match (left, right) {
            (Ok(left), Ok(right)) => match task.changes(left, right) {
                Ok(changes) => found.checks.push(changes),
                Err(why) => found.left_out.push(why),
            },
            (Err(why), Ok(_)) if comparison.checks.is_some() || comparison.before.session.is_none() => {
                found.left_out.push(why);
            }
            (Ok(_), Err(why)) => found.left_out.push(why),
            _ => {}
        }
    }
    let mut family: Vec<&mut Change> = found
        .checks
        .iter_mut()
        .flat_map(|changes| changes.changes.iter_mut())
        .filter(|change| is_main(checks, change) && !change.over_all_places && !change.aside)
        .collect();
    adjust(&mut family, |_| false);
    // The means over all places are looked at together with the checks that have one place alone.
    let mut telling: Vec<&mut Change> = Vec::new();
    for changes in &mut found.checks {
        let mut mains: Vec<&mut Change> =
            changes.changes.iter_mut().filter(|change| is_main(checks, change) && !change.aside).collect();
        telling.extend(mains.pop());
    }
    adjust(&mut telling, |change| !change.over_all_places);
    Some(found)
}

/// The changes that are looked at together: the main finding of each check at each place (the mean
/// over all places says the same once more, so it is not counted again).
fn is_main(checks: &[CheckFindings], change: &Change) -> bool {
    checks.iter().any(|check| check.check == change.check && check.main == change.what)
}

/// One side's check and what was found there.
type Found<'a> = (&'a Session, &'a Check, &'a Visit, VisitFindings);

struct Task<'a, 'p> {
    session: &'a Session,
    check: &'a Check,
    checks: &'a [CheckFindings],
    measures: &'a [&'a dyn Measure],
    problems: &'p mut Problems,
}

impl<'a> Task<'a, '_> {
    /// The check as one side has it: by the same id.
    fn sitting(&mut self, session: &'a Session, visit: &'a Visit) -> Result<Found<'a>, String> {
        let missing = || format!("{}: not measured at '{}'.", self.check.title, visit.title);
        let here = std::ptr::eq(session, self.session);
        let check = session.check(&self.check.id).ok_or_else(missing)?;
        visit.readings_of(&check.id).ok_or_else(missing)?;
        if check.measure != self.check.measure {
            return Err(format!(
                "{}: the other session measures it as '{}', this one as '{}'.",
                self.check.title, check.measure, self.check.measure
            ));
        }
        let found = if here {
            self.checks
                .iter()
                .find(|found| found.check == check.id)
                .and_then(|found| found.visit(&visit.id))
                .cloned()
        } else {
            examine(session, check, self.measures, self.problems)
                .and_then(|found| found.visit(&visit.id).cloned())
        };
        found.map(|found| (session, check, visit, found)).ok_or_else(missing)
    }

    fn changes(&mut self, before: Found<'a>, after: Found<'a>) -> Result<CheckChanges, String> {
        let own = self
            .checks
            .iter()
            .find(|found| found.check == self.check.id)
            .ok_or_else(|| format!("{}: not analysed.", self.check.title))?;
        let measure = self
            .measures
            .iter()
            .find(|measure| measure.name() == own.measure)
            .ok_or_else(|| format!("{}: not analysed.", self.check.title))?;
        let (differs, like_for_like) = fairness(
            Sitting { session: before.0, check: before.1, visit: before.2, found: &before.3 },
            Sitting { session: after.0, check: after.1, visit: after.2, found: &after.3 },
            measure.deciding(),
        );
        let mut changes = Vec::new();
        for what in measure.whats().iter().filter(|what| what.compared) {
            let judge = self.judge(own, *measure, what, (&before.3, &after.3));
            changes.extend(of_one_kind(
                &judge,
                what.name,
                measure.all_places().filter(|_| what.name == own.main),
                &before.3,
                &after.3,
            ));
        }
        changes.sort_by_key(|change| change.what != own.main);
        if changes.is_empty() {
            return Err(format!("{}: the two visits share no place to compare.", self.check.title));
        }
        Ok(CheckChanges {
            check: self.check.id.clone(),
            changes,
            differs,
            like_for_like,
            elsewhere: (!std::ptr::eq(before.0, self.session)).then_some(before.3),
        })
    }

    /// What the check says of `better` and `matters` is said of its main number.
    fn judge(
        &mut self,
        own: &CheckFindings,
        measure: &dyn Measure,
        what: &What,
        (before, after): (&VisitFindings, &VisitFindings),
    ) -> Judge {
        let instrument = |found: &VisitFindings| {
            found.set_up.iter().find(|(name, _)| name == "instrument").map(|(_, name)| name.clone())
        };
        let main = what.name == own.main;
        let first = after.findings.iter().find(|finding| finding.what == what.name);
        let limit = first.and_then(|finding| finding.limit.as_ref());
        let unit = first.map(|finding| finding.unit);
        Judge {
            check: self.check.id.clone(),
            better: if main { own.better } else { what.better(measure.better()) },
            matters: match unit.filter(|_| main) {
                Some(unit) => matters_in(self.check, unit, self.problems),
                None => None,
            },
            target: Judge::target_of(limit),
            one_instrument: instrument(before) == instrument(after),
        }
    }
}

/// The changes of one number at every place that both sides have, and, where a name for it is
/// given, over all places.
fn of_one_kind(
    judge: &Judge,
    what: &str,
    all_places: Option<&str>,
    before: &VisitFindings,
    after: &VisitFindings,
) -> Vec<Change> {
    let mut changes = Vec::new();
    let mut over_all = judge.clone();
    let mut instrument: Vec<Component> = Vec::new();
    for finding in after.findings.iter().filter(|finding| finding.what == what) {
        let Some(other) = partner(before, finding) else {
            continue;
        };
        let Some(change) = judge.single(other, finding) else {
            continue;
        };
        if instrument.is_empty() {
            // Bounds do not average out from place to place; scatter is in the differences.
            // What was found elsewhere may be in another unit.
            let one = crate::quantity::Difference::new(1.0, other.unit);
            let factor = one.to(finding.unit).unwrap_or(1.0);
            let before = other
                .budget
                .components
                .iter()
                .map(|part| Component { contribution: part.contribution * factor, ..part.clone() });
            let sides = before.chain(finding.budget.components.iter().cloned());
            instrument.extend(sides.filter(|part| part.dof.is_infinite()));
        }
        if !change.aside {
            over_all = over_all.of(other, finding);
        }
        changes.push(change);
    }
    let singles: Vec<&Change> = changes.iter().filter(|change| !change.aside).collect();
    let paired = all_places.and_then(|all| over_all.paired(all, &singles, &instrument));
    if let Some(paired) = paired {
        changes.push(paired);
    }
    changes
}

/// The finding of another visit at the same place, or at the nearest setting within 1 %.
fn partner<'a>(before: &'a VisitFindings, finding: &Finding) -> Option<&'a Finding> {
    if let Some(same) = before.finding(&finding.at, finding.what) {
        return Some(same);
    }
    let (wanted, rest) = setting(&finding.at)?;
    before
        .findings
        .iter()
        .filter(|other| other.what == finding.what)
        .filter_map(|other| {
            let (found, other_rest) = setting(&other.at)?;
            let off = (found.to(wanted.unit()).ok()? / wanted.value() - 1.0).abs();
            (other_rest == rest && off < 0.01).then_some((off, other))
        })
        .min_by(|(a, _), (b, _)| a.total_cmp(b))
        .map(|(_, other)| other)
}

/// A place that begins with a setting: the setting, and what stands after it (`x` of "3450 rpm, x").
fn setting(at: &str) -> Option<(Quantity, &str)> {
    let (first, rest) = at.split_once(", ").unwrap_or((at, ""));
    let quantity = parse_quantity(first, &[], None).ok()?;
    (quantity.value() != 0.0).then_some((quantity, rest))
}
