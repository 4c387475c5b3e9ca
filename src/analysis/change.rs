//! What changed between two visits, with its interval (JCGM 100; Welch 1947; Holm 1979).

use crate::findings::{Change, Component, Conclusion, Finding, LimitOn};
use crate::session::Better;

use super::statistics::{Interval, Sample, holm, interval, sample};
use super::student;
use super::uncertainty::{of_repeat_readings, welch_satterthwaite};

/// How a change is judged.
#[derive(Clone, Debug)]
pub struct Judge {
    /// The check's id.
    pub check: String,
    /// Which way is better.
    pub better: Option<Better>,
    /// The smallest change worth having, in the findings' unit.
    pub matters: Option<f64>,
    /// What "nearer" is nearer to.
    pub target: f64,
    /// Whether both visits used one instrument: its `repeat_readings` then stand behind both
    /// budgets.
    pub one_instrument: bool,
}

impl Judge {
    /// The middle of a limit's range, else zero.
    pub fn target_of(limit: Option<&LimitOn>) -> f64 {
        match limit.map(|limit| (limit.at_least, limit.at_most)) {
            Some((Some(low), Some(high))) => f64::midpoint(low, high),
            _ => 0.0,
        }
    }

    /// The judge of means that hide what was reached at one of the visits (a stalled run). Where the
    /// mean moved as what it hides did, it is better or worse all the more; else neither way of such a
    /// mean is better.
    #[must_use]
    pub fn of(&self, before: &Finding, after: &Finding) -> Self {
        let rose = after.value > before.value;
        let agrees = match (before.reached, after.reached) {
            (None, None) => true,
            (Some(_), None) => self.better == Some(Better::Lower) && !rose,
            (None, Some(_)) => self.better == Some(Better::Lower) && rose,
            (Some(_), Some(_)) => false,
        };
        Self { better: self.better.filter(|_| agrees), ..self.clone() }
    }

    /// The first conclusion that holds.
    pub fn conclude(&self, before: f64, after: f64, interval: Interval) -> Conclusion {
        let (low, high) = (interval.low, interval.high);
        let inside = |matters: f64| low >= -matters && high <= matters;
        if self.matters.is_some_and(inside) {
            return Conclusion::SameWithinWhatMatters;
        }
        if low <= 0.0 && high >= 0.0 {
            return Conclusion::NoChangeShown;
        }
        let rose = interval.difference > 0.0;
        let (far, near) = ((before - self.target).abs(), (after - self.target).abs());
        // Across the target, only what is nearer or farther by more than the interval's half counts.
        let crossed = (before - self.target) * (after - self.target) < 0.0;
        let undecided = crossed && (far - near).abs() <= (high - low) / 2.0;
        let good = match self.better {
            None => {
                return if rose { Conclusion::Higher } else { Conclusion::Lower };
            }
            Some(Better::Lower) => !rose,
            Some(Better::Higher) => rose,
            Some(Better::Nearer) if undecided => {
                return if rose { Conclusion::Higher } else { Conclusion::Lower };
            }
            Some(Better::Nearer) => near < far,
        };
        if good { Conclusion::Better } else { Conclusion::Worse }
    }

    /// The change of one finding. The instrument's errors at the two visits are taken as
    /// independent, so both budgets count whole; the degrees of freedom are
    /// Welch–Satterthwaite's.
    pub fn single(&self, before: &Finding, after: &Finding) -> Option<Change> {
        let to = after.unit;
        let factor = crate::quantity::Difference::new(1.0, before.unit).to(to).ok()?;
        let first = if after.difference {
            before.value? * factor
        } else {
            crate::quantity::Quantity::new(before.value?, before.unit).to(to).ok()?
        };
        let second = after.value?;
        let parts = self.parts(before, factor, after);
        let standard = parts.iter().map(|(u, _)| u * u).sum::<f64>().sqrt();
        // Without any known uncertainty there is no interval, and nothing to conclude; one side's alone
        // would be too narrow.
        let blind = |side: &Finding| side.expanded().is_none();
        if blind(before) || blind(after) || standard <= 1e-12 * first.abs().max(second.abs()) {
            return None;
        }
        let found = interval(second - first, standard, welch_satterthwaite(parts.into_iter()));
        let judge = self.of(before, after);
        let mut change = judge.change(before, after, first, second, found);
        change.before_expanded = before.expanded().map(|e| e.expanded * factor);
        change.p = p_of(second - first, standard, found.dof);
        if before.reached.or(after.reached).is_some() {
            let undecided = self.better.is_some() && judge.better.is_none();
            change.notes.push(if undecided {
                "The means leave out what was reached at worst, so neither better nor worse is said of them."
                    .to_owned()
            } else {
                "The means leave out what was reached at worst, which moved the same way.".to_owned()
            });
        }
        if after.at_floor() && before.at_floor() {
            change
                .notes
                .push("Neither value is distinguishable from zero with the instrument used.".to_owned());
        }
        Some(change)
    }

    /// Both budgets' contributions with their degrees of freedom, in the unit of `after`. Where one
    /// list of repeat readings stands behind both, its variance is one estimate: the two lines are one
    /// with its own degrees of freedom, or Welch–Satterthwaite would count them twice.
    fn parts(&self, before: &Finding, factor: f64, after: &Finding) -> Vec<(f64, f64)> {
        let mut parts: Vec<(f64, f64)> = Vec::new();
        let mut used = vec![false; after.budget.components.len()];
        for line in &before.budget.components {
            let mut contribution = line.contribution * factor;
            let twin = after.budget.components.iter().zip(&mut used).find(|(other, used)| {
                self.one_instrument
                    && !**used
                    && of_repeat_readings(line)
                    && of_repeat_readings(other)
                    && other.name == line.name
                    && other.dof.total_cmp(&line.dof).is_eq()
            });
            if let Some((other, used)) = twin {
                *used = true;
                contribution = contribution.hypot(other.contribution);
            }
            parts.push((contribution, line.dof));
        }
        let rest = after.budget.components.iter().zip(used).filter(|(_, used)| !used);
        parts.extend(rest.map(|(line, _)| (line.contribution, line.dof)));
        parts
    }

    fn change(&self, before: &Finding, after: &Finding, first: f64, second: f64, found: Interval) -> Change {
        let kind = after.unit.kind();
        // A share of a share would only confuse; a level and a temperature have no zero to share from.
        let ratio_scale = !matches!(kind, crate::quantity::Kind::Level | crate::quantity::Kind::Ratio)
            && (kind != crate::quantity::Kind::Temperature || after.difference);
        Change {
            check: self.check.clone(),
            at: after.at.clone(),
            over_all_places: false,
            what: after.what,
            unit: after.unit,
            aside: after.aside,
            before: first,
            before_expanded: before.expanded().map(|e| e.expanded),
            after: second,
            after_expanded: after.expanded().map(|e| e.expanded),
            change: found.difference,
            low: found.low,
            high: found.high,
            percent: (ratio_scale && first.abs() > 1e-12).then(|| 100.0 * found.difference / first.abs()),
            conclusion: self.conclude(first, second, found),
            adjusted: None,
            p: None,
            notes: Vec::new(),
        }
    }

    /// Over all places together: the mean of the paired differences with its t interval, the
    /// instrument's part (the same indicator at every place, another error at each visit) in
    /// quadrature. At least two places.
    pub fn paired(&self, at: &str, changes: &[&Change], instrument: &[Component]) -> Option<Change> {
        let first = changes.first()?;
        if changes.len() < 2 {
            return None;
        }
        let differences: Vec<f64> = changes.iter().map(|change| change.change).collect();
        let summed = sample(&differences);
        let parts = std::iter::once((summed.deviation / (summed.n as f64).sqrt(), summed.n as f64 - 1.0))
            .chain(instrument.iter().map(|part| (part.contribution, part.dof)));
        let parts: Vec<(f64, f64)> = parts.collect();
        let standard = parts.iter().map(|(u, _)| u * u).sum::<f64>().sqrt();
        let found = interval(summed.mean, standard, welch_satterthwaite(parts.into_iter()));
        let mean_of = |pick: fn(&Change) -> f64| {
            changes.iter().map(|change| pick(change)).sum::<f64>() / changes.len() as f64
        };
        let (before, after) = (mean_of(|c| c.before), mean_of(|c| c.after));
        Some(Change {
            at: at.to_owned(),
            over_all_places: true,
            before,
            before_expanded: None,
            after,
            after_expanded: None,
            change: found.difference,
            low: found.low,
            high: found.high,
            percent: (first.percent.is_some() && before.abs() > 1e-12)
                .then(|| 100.0 * found.difference / before.abs()),
            conclusion: self.conclude(before, after, found),
            adjusted: None,
            p: p_of(summed.mean, standard, found.dof),
            notes: vec![format!("Mean of {} paired differences.", changes.len())],
            ..(*first).clone()
        })
    }
}

fn p_of(difference: f64, standard: f64, dof: f64) -> Option<f64> {
    (standard > 0.0).then(|| student::two_sided(difference / standard, dof))
}

/// The interval of a difference of means, `after` less `before`, by Welch's method: the variances
/// are not taken as equal. `None` where an arm has one reading or neither scatters at all; then
/// the display step has to speak.
pub fn welch(before: Sample, after: Sample) -> Option<Interval> {
    let part = |side: Sample| (side.deviation / (side.n as f64).sqrt(), side.n as f64 - 1.0);
    if before.n < 2 || after.n < 2 || before.deviation + after.deviation <= 0.0 {
        return None;
    }
    let parts = [part(before), part(after)];
    let standard = parts.iter().map(|(u, _)| u * u).sum::<f64>().sqrt();
    let dof = welch_satterthwaite(parts.into_iter());
    Some(interval(after.mean - before.mean, standard, dof))
}

/// Gives each change the conclusion that stands when all are looked at together. A change that
/// `settled` says has been looked at already keeps what it has.
pub fn adjust(changes: &mut [&mut Change], settled: impl Fn(&Change) -> bool) {
    let known: Vec<(usize, f64)> =
        changes.iter().enumerate().filter_map(|(index, change)| change.p.map(|p| (index, p))).collect();
    if known.len() < 2 {
        return;
    }
    let adjusted = holm(&known.iter().map(|(_, p)| *p).collect::<Vec<_>>());
    for ((index, _), p) in known.iter().zip(adjusted) {
        let change = &mut *changes[*index];
        if settled(change) {
            continue;
        }
        let plain = change.conclusion;
        let keeps = p <= 0.05 || plain == Conclusion::SameWithinWhatMatters;
        change.adjusted = Some(if keeps { plain } else { Conclusion::NoChangeShown });
    }
}
