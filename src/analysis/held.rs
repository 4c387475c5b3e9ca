//! Findings held against the check's limit.

use super::{in_unit, verdict};
use crate::findings::{Finding, LimitOn, Verdict};
use crate::quantity::{Difference, Quantity, Unit};
use crate::session::{Better, Limit, LimitKind, Problems};

/// A limit's numbers in the unit of the finding it applies to; the limit of a rise is a difference.
pub(super) fn limit_in(
    limit: &Limit,
    unit: Unit,
    difference: bool,
    problems: &mut Problems,
) -> Option<LimitOn> {
    let mut to_unit = |quantity: Quantity| {
        let as_difference = Difference::new(quantity.value(), quantity.unit()).to(unit);
        match as_difference {
            Ok(value) if difference => Some(value),
            _ => in_unit(quantity, unit, &limit.place, "the limit", problems),
        }
    };
    let (at_least, at_most) = match limit.kind {
        LimitKind::AtMost(most) => (None, Some(to_unit(most)?)),
        LimitKind::AtLeast(least) => (Some(to_unit(least)?), None),
        LimitKind::Between(low, high) => (Some(to_unit(low)?), Some(to_unit(high)?)),
    };
    Some(LimitOn { at_least, at_most, source: limit.source.clone(), typed: limit.typed.clone() })
}

/// Where nearer to zero is better, a limit of at most 2 % means 2 % either way: held against the
/// signed number alone, −10 % would keep it.
pub(super) fn of_size(limit: LimitOn, better: Option<Better>, finding: &mut Finding) -> LimitOn {
    match (better, limit.at_least, limit.at_most) {
        (Some(Better::Nearer), None, Some(most)) if most >= 0.0 => {
            finding.notes.push(
                "The limit gives a largest size; it is held against the number either way from zero."
                    .to_owned(),
            );
            LimitOn { at_least: Some(-most), ..limit }
        }
        _ => limit,
    }
}

/// Gives a finding its limit, its verdict and what goes with them.
pub(super) fn hold(finding: &mut Finding, limit: LimitOn) {
    if finding.counted {
        finding.verdict =
            finding.value.map_or(Verdict::NoLimit, |value| verdict::verdict(value, 0.0, &limit));
        finding.limit = Some(limit);
        return;
    }
    let reached = finding.reached.map(|reached| verdict::verdict(reached, 0.0, &limit));
    match reached.filter(|reached| *reached != Verdict::Within) {
        Some(beyond) => finding.verdict = beyond,
        None => hold_measured(finding, &limit),
    }
    finding.limit = Some(limit);
}

fn hold_measured(finding: &mut Finding, limit: &LimitOn) {
    if let (Some(value), Some(expanded)) = (finding.value, finding.expanded()) {
        // What noise pushed the value up by is in it, so the true one may lie lower by that too; it cannot lie higher for it
        // (a bias that is not corrected, on its own side: JCGM 100, F.2.4.5).
        let lift = finding.budget.lift;
        let low = value - expanded.expanded - lift;
        finding.verdict = verdict::of_interval(low, value + expanded.expanded, limit);
        if let Some(ratio) = verdict::test_uncertainty_ratio(expanded.expanded, limit)
            && ratio < 4.0
        {
            finding.notes.push(format!(
                "The instrument is coarse for this limit: limit to uncertainty is {ratio:.1} to 1, \
                 where 4 to 1 is common practice."
            ));
        }
        if finding.verdict == Verdict::TooCloseToCall {
            let odds = verdict::keeps(value - lift, expanded, limit);
            finding.notes.push(format!(
                "The probability that the true value keeps the limit is {:.0} % (JCGM 106).",
                odds * 100.0
            ));
        }
    }
    if finding.value.is_some() && finding.expanded().is_none() {
        finding.verdict = Verdict::TooCloseToCall;
        finding.notes.push("Nothing is known of the uncertainty, so nothing can be called.".to_owned());
    }
}
