//! What a claim may say of one machine: only what the verdicts carry.
//!
//! A check that is over or under its limit is claimed; one that is too close to call is called that
//! and not claimed. The words for it are in [`words`].

pub mod words;

#[cfg(test)]
mod tests;

use super::sentences::{main_findings, share_of_limit};
use super::{
    Change, CheckChanges, CheckFindings, ComparisonFindings, Conclusion, CoverageWindow, Finding, Findings,
    Verdict, VisitFindings,
};
use crate::session::{Date, Machine, Session};

/// A finding and the visit that it was made at.
#[derive(Clone, Copy, Debug)]
pub struct Seen<'a> {
    /// The visit.
    pub visit: &'a VisitFindings,
    /// The finding.
    pub finding: &'a Finding,
}

/// How one place of a check stands to its limit.
#[derive(Clone, Debug)]
pub struct Stand<'a> {
    /// The check.
    pub check: &'a CheckFindings,
    /// The place that stands worst; empty for a check read in one spot.
    pub at: &'a str,
    /// The first visit at which it stood that way.
    pub found: Seen<'a>,
    /// The last visit, where it is a later one.
    pub after: Option<Seen<'a>>,
    /// How many other places of the check stand the same way.
    pub also: usize,
    /// The comparison of the two visits, where the session makes one.
    pub changes: Option<&'a CheckChanges>,
}

/// What the verdicts on one machine carry.
#[derive(Clone, Debug)]
pub struct Claims<'a> {
    /// The session.
    pub session: &'a Session,
    /// The machine.
    pub machine: &'a Machine,
    /// Checks that are over or under their limit at some visit, at their worst place: claimed. Those
    /// furthest beyond their limit come first.
    pub beyond: Vec<Stand<'a>>,
    /// Places that are too close to call at some visit and beyond their limit at none: not claimed.
    pub too_close: Vec<Stand<'a>>,
    /// How many checks of the machine were held against a limit.
    pub limited: usize,
    /// How many of them are neither beyond their limit nor too close to call anywhere.
    pub within: usize,
    /// The machine's coverage.
    pub coverage: Vec<&'a CoverageWindow>,
    /// The days that coverage is held against: those of the claimed findings, else the visits'.
    pub days: Vec<Date>,
}

/// The machines that the session tells readings of.
pub fn tested(session: &Session) -> Vec<&Machine> {
    let visited = |machine: &&Machine| session.visits.iter().any(|visit| visit.machine == machine.id);
    session.machines.iter().filter(visited).collect()
}

/// The machines that have a finding beyond its limit.
pub fn beyond_their_limits<'a>(session: &'a Session, findings: &'a Findings) -> Vec<&'a Machine> {
    let beyond = |machine: &&Machine| !Claims::of(session, findings, machine).beyond.is_empty();
    tested(session).into_iter().filter(beyond).collect()
}

fn is_beyond(verdict: Verdict) -> bool {
    matches!(verdict, Verdict::Over | Verdict::Under)
}

impl<'a> Claims<'a> {
    /// What may be claimed of a machine.
    pub fn of(session: &'a Session, findings: &'a Findings, machine: &'a Machine) -> Self {
        let (mut beyond, mut too_close) = (Vec::new(), Vec::new());
        let (mut limited, mut within) = (0, 0);
        for check in &findings.checks {
            let seen = on_machine(session, check, &machine.id);
            let over = standing(findings, check, &seen, is_beyond);
            let close: Vec<Stand<'a>> =
                standing(findings, check, &seen, |verdict| verdict == Verdict::TooCloseToCall)
                    .into_iter()
                    .filter(|stand| !over.iter().any(|other| other.at == stand.at))
                    .collect();
            if seen.iter().any(|seen| seen.finding.verdict != Verdict::NoLimit) {
                limited += 1;
                within += usize::from(over.is_empty() && close.is_empty());
            }
            too_close.extend(close);
            let also = over.len().saturating_sub(1);
            let worst = over.into_iter().max_by(|a, b| a.share().total_cmp(&b.share()));
            beyond.extend(worst.map(|stand| Stand { also, ..stand }));
        }
        // The sort is stable: what stands alike keeps the session's order.
        beyond.sort_by(|a, b| b.share().total_cmp(&a.share()));
        too_close.sort_by(|a, b| b.share().total_cmp(&a.share()));
        let days = days(session, machine, &beyond);
        let coverage = findings.coverage.iter().filter(|window| window.machine == machine.id).collect();
        Self { session, machine, beyond, too_close, limited, within, coverage, days }
    }

    /// Whether there is coverage, and all of it was over at the first finding.
    pub fn all_run_out(&self) -> bool {
        let Some(first) = self.days.first() else { return false };
        !self.coverage.is_empty() && self.coverage.iter().all(|window| window.until < *first)
    }
}

impl<'a> Stand<'a> {
    /// How far the finding reaches to its limit or beyond it, as a share of the limit.
    pub fn share(&self) -> f64 {
        share_of_limit(self.found.finding)
    }

    /// Whether the comparison of the two visits is not like for like.
    pub fn unlike(&self) -> bool {
        self.after.is_some() && self.changes.is_some_and(|changes| !changes.like_for_like)
    }

    /// The change at this place, where the comparison has one.
    pub fn change(&self) -> Option<&'a Change> {
        let main = |change: &&Change| change.at == self.at && change.what == self.check.main;
        self.changes?.changes.iter().find(main)
    }

    /// What a comparison like for like shows, looked at together with its other changes.
    pub fn fair_conclusion(&self) -> Option<Conclusion> {
        let change = self.change().filter(|_| !self.unlike())?;
        Some(change.adjusted.unwrap_or(change.conclusion))
    }
}

/// The main findings of a check on one machine, by date.
fn on_machine<'a>(session: &Session, check: &'a CheckFindings, machine: &str) -> Vec<Seen<'a>> {
    let own = |visit: &&VisitFindings| session.visit(&visit.visit).is_some_and(|v| v.machine == machine);
    let visits = check.visits.iter().filter(own);
    visits.flat_map(|visit| main_findings(check, visit).map(move |finding| Seen { visit, finding })).collect()
}

/// The places of a check that stand so at some visit, each at the first one that it does.
fn standing<'a>(
    findings: &'a Findings,
    check: &'a CheckFindings,
    seen: &[Seen<'a>],
    wanted: fn(Verdict) -> bool,
) -> Vec<Stand<'a>> {
    let mut stands: Vec<Stand<'a>> = Vec::new();
    for found in seen.iter().filter(|seen| wanted(seen.finding.verdict)) {
        let at = found.finding.at.as_str();
        if stands.iter().any(|stand| stand.at == at) {
            continue;
        }
        let last = seen.iter().rfind(|seen| seen.finding.at == at);
        let after = last.filter(|last| last.visit.visit != found.visit.visit).copied();
        let changes = after.and_then(|after| compared(findings, check, found.visit, after.visit));
        stands.push(Stand { check, at, found: *found, after, also: 0, changes });
    }
    stands
}

/// What the session's comparison of two visits says of a check.
fn compared<'a>(
    findings: &'a Findings,
    check: &CheckFindings,
    before: &VisitFindings,
    after: &VisitFindings,
) -> Option<&'a CheckChanges> {
    let of_both = |comparison: &&ComparisonFindings| {
        comparison.before.session.is_none()
            && comparison.before.visit == before.visit
            && comparison.after.visit == after.visit
    };
    let mut checks = findings.comparisons.iter().filter(of_both).flat_map(|comparison| &comparison.checks);
    checks.find(|changes| changes.check == check.check)
}

/// The days of the claimed findings, or of every visit where nothing is claimed.
fn days(session: &Session, machine: &Machine, beyond: &[Stand<'_>]) -> Vec<Date> {
    let mut days: Vec<Date> = beyond.iter().map(|stand| stand.found.visit.date).collect();
    if days.is_empty() {
        let visits = session.visits.iter().filter(|visit| visit.machine == machine.id);
        days.extend(visits.map(|visit| visit.date));
    }
    days.sort_unstable();
    days.dedup();
    days
}
