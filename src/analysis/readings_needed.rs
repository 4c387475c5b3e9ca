//! How many readings could show a change that matters.
//!
//! A visit's scatter shrinks as its readings grow in number; the display step, the instrument's accuracy and
//! the reference it was read against do not. So the half-width of the 95 % interval of a change,
//! t(0.975, ν)·√(u₁² + u₂²) as [`super::change`] works it out, has an end that no number of readings
//! passes. Two visits alike and independent, by one instrument, are taken; the smallest n whose half-width
//! is no wider than what matters is sought (JCGM 100:2008, G.4; for a scatter that is known,
//! n = 2(z·σ/E)²: NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.2.2, for two samples).

use crate::findings::{Budget, CheckFindings, Component, Finding, VisitFindings};
use crate::quantity::Unit;
use crate::session::{Check, Problems, Session};

use super::blank::Grows;
use super::uncertainty::{Shown, of_repeat_readings, welch_satterthwaite};
use super::{Measure, matters_in, student};

/// What more of makes a scatter smaller.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Repeated {
    /// One, and several: turn, turns.
    pub words: (&'static str, &'static str),
    /// How many a finding rests on.
    pub n: usize,
    /// Which way a table grows with them.
    pub grows: Grows,
}

impl Repeated {
    /// So many readings beside each other.
    pub fn readings(n: usize) -> Self {
        Self { words: ("reading", "readings"), n, grows: Grows::Columns }
    }
}

/// Beyond so many nobody reads.
const MOST: usize = 1_000_000;

/// What can be said of the number.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Answer {
    /// So many at each visit leave no more than what matters; as many as there were leave `now`.
    Enough {
        /// The smallest number.
        n: usize,
        /// The half-width that it leaves.
        half: f64,
        /// The half-width with as many as there were; none before the first visit, and where one alone
        /// has no scatter of its own.
        now: Option<f64>,
    },
    /// Not even infinitely many: step, accuracy and reference alone leave this half-width.
    Never {
        /// The half-width.
        least: f64,
    },
    /// The readings follow the time, so their number is not free; two visits like the last leave this.
    Fixed {
        /// The half-width.
        half: f64,
    },
    /// Nothing is known of the scatter.
    Unknown,
}

/// The answer for a check's main finding, at the place that needs the most.
#[derive(Clone, Debug, PartialEq)]
pub struct Needed {
    /// The place; empty where the check is read in one spot.
    pub at: String,
    /// Which of the measure's numbers.
    pub what: &'static str,
    /// The change that matters.
    pub matters: f64,
    /// The unit of it and of the half-widths.
    pub unit: Unit,
    /// What is counted; none where the number is not free.
    pub repeated: Option<Repeated>,
    /// Whether a visit shows the scatter; else the instrument's `repeat_readings` do.
    pub seen: bool,
    /// The lines of its budget that do not shrink, as the budget names them.
    pub lasting: Vec<String>,
    /// The answer.
    pub answer: Answer,
}

/// The half-width of the 95 % interval of a change between two visits alike, each with `n` readings, where
/// a visit with `had` has this budget. None where so few have no scatter of their own.
///
/// A line with degrees of freedom is scatter: its contribution goes with 1/√n. That of the readings
/// themselves has degrees of freedom that grow with n, two visits' worth; that of the instrument's
/// `repeat_readings` is one estimate behind both visits. A line without an end of them is a bound and stays.
pub fn half_width(budget: &Budget, had: usize, n: usize) -> Option<f64> {
    let (had, n) = (had.max(1) as f64, n as f64);
    let root = 2f64.sqrt();
    let mut parts: Vec<(f64, f64)> = Vec::new();
    for (line, contribution) in split(budget, had) {
        if line.dof.is_infinite() {
            parts.push((root * contribution, f64::INFINITY));
            continue;
        }
        let shrunk = contribution * (had / n).sqrt();
        if of_repeat_readings(line) {
            parts.push((root * shrunk, line.dof));
            continue;
        }
        let dof = if had > 1.0 { line.dof * (n - 1.0) / (had - 1.0) } else { line.dof * n };
        if dof <= 0.0 {
            return None;
        }
        parts.extend([(shrunk, dof); 2]);
    }
    let standard = parts.iter().map(|(u, _)| u * u).sum::<f64>().sqrt();
    Some(student::quantile(0.975, welch_satterthwaite(parts.into_iter())) * standard)
}

/// The half-width that no number of readings passes.
pub fn least_half_width(budget: &Budget, had: usize) -> f64 {
    let lasting = split(budget, had.max(1) as f64).into_iter().filter(|(line, _)| line.dof.is_infinite());
    let standard = (2.0 * lasting.map(|(_, u)| u * u).sum::<f64>()).sqrt();
    student::quantile(0.975, f64::INFINITY) * standard
}

/// The lines with what each adds. Where step and scatter went through the Monte Carlo together, what came
/// out is shared anew: the scatter of a mean of `had` is less than that of one.
fn split(budget: &Budget, had: f64) -> Vec<(&Component, f64)> {
    let plain = || budget.components.iter().map(|line| (line, line.contribution));
    let drawn = |line: &Component| line.dof.is_finite() || line.name == "Display step";
    if !budget.drawn {
        return plain().collect();
    }
    let weight = |line: &Component| {
        let variance = (line.estimate / line.divisor).powi(2);
        if line.dof.is_finite() { variance / had } else { variance }
    };
    let both = || budget.components.iter().filter(|line| drawn(line));
    let variance: f64 = both().map(|line| line.contribution.powi(2)).sum();
    let whole: f64 = both().map(weight).sum();
    plain()
        .map(|(line, contribution)| {
            let share = if drawn(line) && whole > 0.0 {
                (variance * weight(line) / whole).sqrt()
            } else {
                contribution
            };
            (line, share)
        })
        .collect()
}

/// The smallest number of readings at each of two visits that leaves a half-width of no more than `matters`.
pub fn readings_needed(budget: &Budget, had: usize, matters: f64) -> Answer {
    if !budget.components.iter().any(|line| line.dof.is_finite()) {
        return Answer::Unknown;
    }
    let least = least_half_width(budget, had);
    let half = |n: usize| half_width(budget, had, n).filter(|half| *half <= matters);
    // Close above its end the half-width needs more readings than there are.
    let mut enough = 1;
    while half(enough).is_none() {
        enough *= 2;
        if enough > MOST {
            let half = half_width(budget, had, MOST).filter(|_| least <= matters);
            let now = half_width(budget, had, had);
            return half.map_or(Answer::Never { least }, |half| Answer::Enough { n: MOST, half, now });
        }
    }
    let mut short = enough / 2;
    while short + 1 < enough {
        let middle = usize::midpoint(short, enough);
        if half(middle).is_some() { enough = middle } else { short = middle }
    }
    let now = half_width(budget, had, had);
    Answer::Enough { n: enough, half: half(enough).unwrap_or(matters), now }
}

/// What a check's next visit needs, from its last visit with a value; before any, from what its instrument
/// does by itself. None where nothing is said to matter, or where what matters does not fit (which is said
/// elsewhere).
pub fn of_check(
    session: &Session,
    check: &Check,
    found: &CheckFindings,
    measure: &dyn Measure,
) -> Option<Needed> {
    let mut silent = Problems::default();
    let last = found.visits.iter().rev().find(|visit| main(found, visit).next().is_some());
    let Some(visit) = last else {
        let matters = matters_in(check, found.unit, &mut silent)?;
        return Some(before_any(session, check, found, measure, matters));
    };
    let mut worst: Option<Needed> = None;
    for finding in main(found, visit) {
        let matters = matters_in(check, finding.unit, &mut silent)?;
        let repeated = measure.repeated(visit, finding);
        let answer = match repeated {
            _ if finding.expanded().is_none() => Answer::Unknown,
            Some(repeated) => readings_needed(&finding.budget, repeated.n, matters),
            None => half_width(&finding.budget, 2, 2).map_or(Answer::Unknown, |half| Answer::Fixed { half }),
        };
        if worst.as_ref().is_none_or(|known| weight(answer) > weight(known.answer)) {
            worst = Some(Needed {
                at: finding.at.clone(),
                what: finding.what,
                matters,
                unit: finding.unit,
                repeated,
                seen: true,
                lasting: lasting(&finding.budget),
                answer,
            });
        }
    }
    worst
}

fn lasting(budget: &Budget) -> Vec<String> {
    let lasts = |line: &&Component| line.dof.is_infinite() && line.contribution > 0.0;
    budget.components.iter().filter(lasts).map(|line| line.name.clone()).collect()
}

fn main<'a>(found: &'a CheckFindings, visit: &'a VisitFindings) -> impl Iterator<Item = &'a Finding> {
    let main = |finding: &&Finding| finding.what == found.main && finding.value.is_some() && !finding.aside;
    visit.findings.iter().filter(main)
}

/// Which answer tells most of a check: what is not known hides what is, and what cannot be shown at all
/// goes before what takes many readings.
fn weight(answer: Answer) -> (u8, f64) {
    match answer {
        Answer::Enough { n, .. } => (0, n as f64),
        Answer::Fixed { half } => (1, half),
        Answer::Never { least } => (2, least),
        Answer::Unknown => (3, 0.0),
    }
}

fn before_any(
    session: &Session,
    check: &Check,
    found: &CheckFindings,
    measure: &dyn Measure,
    matters: f64,
) -> Needed {
    let instrument = check.instrument.as_ref().and_then(|named| session.instrument(&named.id));
    let shown = instrument
        .and_then(|one| Shown::of(one, found.unit, &check.place, &mut Problems::default()))
        .filter(|shown| shown.repeatability.is_some());
    let expected = shown.and_then(|shown| measure.expected(&shown, found.unit));
    let repeated = expected.is_some().then(|| Repeated::readings(1));
    Needed {
        at: String::new(),
        what: found.main,
        matters,
        unit: found.unit,
        repeated,
        seen: false,
        lasting: expected.as_ref().map(lasting).unwrap_or_default(),
        answer: expected.map_or(Answer::Unknown, |budget| match readings_needed(&budget, 1, matters) {
            Answer::Enough { n, half, .. } => Answer::Enough { n, half, now: None },
            other => other,
        }),
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::analysis::uncertainty::combine;

    fn line(name: &str, contribution: f64, dof: f64) -> Component {
        Component::standard(name, contribution, dof)
    }

    proptest! {
        #[test]
        fn more_readings_never_widen_what_a_change_leaves_open(
            own in 0.0..10.0f64,
            own_dof in 1usize..60,
            repeat in 0.0..10.0f64,
            repeat_dof in 1usize..20,
            step in 0.0..10.0f64,
            had in 1usize..12,
            n in 1usize..200,
            drawn: bool,
        ) {
            let budget = combine(vec![
                line("Scatter of the readings", own, own_dof as f64),
                line("Repeatability of the instrument", repeat, repeat_dof as f64),
                line("Display step", step, f64::INFINITY),
            ]);
            let budget = if drawn { budget.by_draws() } else { budget };
            let least = least_half_width(&budget, had);
            if let Some(fewer) = half_width(&budget, had, n) {
                let more = half_width(&budget, had, n + 1).expect("fewer have a scatter");
                prop_assert!(more <= fewer * (1.0 + 1e-9), "{n}: {fewer}, then {more}");
                prop_assert!(least <= more * (1.0 + 1e-9));
            }
        }

        #[test]
        fn the_number_given_is_enough_and_one_fewer_is_not(
            own in 0.01..10.0f64,
            step in 0.0..1.0f64,
            had in 2usize..12,
            matters in 0.1..20.0f64,
        ) {
            let budget = combine(vec![
                line("Scatter of the readings", own, had as f64 - 1.0),
                line("Display step", step, f64::INFINITY),
            ]);
            match readings_needed(&budget, had, matters) {
                Answer::Enough { n, half, .. } if n < MOST => {
                    prop_assert!(half <= matters);
                    prop_assert!(n == 1 || half_width(&budget, had, n - 1).is_none_or(|half| half > matters));
                }
                Answer::Never { least } => prop_assert!(least > matters),
                Answer::Enough { .. } => {}
                other => prop_assert!(false, "{other:?}"),
            }
        }
    }

    #[test]
    fn where_nothing_is_known_of_the_scatter_no_number_is_given() {
        let budget = combine(vec![line("Display step", 1.0, f64::INFINITY)]);
        assert_eq!(readings_needed(&budget, 1, 0.5), Answer::Unknown);
    }
}
