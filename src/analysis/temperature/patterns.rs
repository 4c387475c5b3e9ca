//! Reading the pattern of temperatures: what they are consistent with, always with the figure.

use super::TemperatureDetails;
use crate::findings::{CheckFindings, Finding, Pattern, VisitFindings, sentences};
use crate::quantity::{Difference, Kind, Unit};
use crate::session::Session;

/// One place is worth a word from so many times the rise of the next (common practice).
const NOTABLE_RATIO: f64 = 1.5;

/// Everything that the patterns of one check are consistent with.
pub(super) fn read(session: &Session, own: &CheckFindings) -> Vec<Pattern> {
    let mut patterns = Vec::new();
    for visit in &own.visits {
        let says = not_settled(visit)
            .into_iter()
            .chain(hottest(visit))
            .chain(fell_again(visit))
            .chain(other_ambient(session, own, visit));
        patterns.extend(says.map(|says| Pattern { visit: visit.visit.clone(), says }));
    }
    patterns
}

fn of_kind<'a>(visit: &'a VisitFindings, what: &'static str) -> impl Iterator<Item = &'a Finding> {
    visit.findings.iter().filter(move |finding| finding.what == what)
}

fn half(finding: &Finding) -> f64 {
    finding.expanded().map_or(0.0, |expanded| expanded.expanded)
}

/// Still rising at the end by more than 1 K in half an hour.
fn not_settled(visit: &VisitFindings) -> Option<String> {
    let rising: Vec<String> = of_kind(visit, "settled_at")
        .filter(|settled| settled.value.is_none())
        .filter_map(|settled| visit.finding(&settled.at, "end_rate"))
        .filter(|rate| {
            let kelvin_an_hour = Unit::known(Kind::TemperatureRate, "K/h");
            let level = kelvin_an_hour
                .and_then(|unit| Difference::new(2.0, unit).to(rate.unit).ok())
                .unwrap_or(f64::INFINITY);
            rate.value.is_some_and(|value| rate.expanded().is_some() && value - half(rate) > level)
        })
        .map(|rate| format!("'{}' by {}", rate.at, sentences::said(rate)))
        .collect();
    if rising.is_empty() {
        return None;
    }
    Some(format!(
        "At the end of the run it was still getting warmer: {}. It had not settled, so a longer run would end \
         hotter.",
        rising.join(", ")
    ))
}

/// One place much hotter than every other.
fn hottest(visit: &VisitFindings) -> Option<String> {
    let mut rises: Vec<&Finding> = of_kind(visit, "rise").filter(|rise| rise.expanded().is_some()).collect();
    rises.sort_by(|a, b| b.value.unwrap_or(0.0).total_cmp(&a.value.unwrap_or(0.0)));
    let (first, second) = (rises.first()?, rises.get(1)?);
    let (most, next) = (first.value?, second.value?);
    let apart = most - next > half(first).hypot(half(second));
    (apart && most > NOTABLE_RATIO * next.max(0.0)).then(|| {
        format!(
            "'{}' rose by {}, the next, '{}', by {}: consistent with heat that is made at or near '{}'.",
            first.at,
            sentences::said(first),
            second.at,
            sentences::said(second),
            first.at
        )
    })
}

/// Warmest in the course of a run at one speed, then cooler again at the same speed.
fn fell_again(visit: &VisitFindings) -> Option<String> {
    let details = visit.details.of::<TemperatureDetails>()?;
    details.curves.iter().find_map(|curve| {
        let kept = || curve.points.iter().filter(|point| !point.struck);
        let top = kept().max_by(|a, b| a.value.total_cmp(&b.value))?;
        let steps = &details.schedule;
        let current = steps.iter().rposition(|(from, _)| *from <= top.minutes)?;
        let (from, speed) = steps.get(current)?;
        let to = steps.get(current + 1).map_or(f64::INFINITY, |(next, _)| *next);
        // At the very beginning it is the heat of what went before.
        if speed.value() <= 0.0 || top.minutes <= *from {
            return None;
        }
        let last = kept().rfind(|point| point.minutes <= to)?;
        let step = of_kind(visit, "maximum").find(|finding| finding.at == curve.place)?;
        // Accuracy cancels in the difference of two readings; twice the rest is asked for.
        let noise: f64 = step
            .budget
            .components
            .iter()
            .filter(|part| part.name == "Display step" || part.dof.is_finite())
            .map(|part| part.contribution.powi(2))
            .sum::<f64>()
            .sqrt();
        let fall = top.value - last.value;
        let notable = Difference::new(2.0, Unit::known(Kind::Temperature, "K")?).to(step.unit).ok()?;
        (step.expanded().is_some() && fall > notable.max(4.0 * noise)).then(|| {
            format!(
                "'{}' was warmest at {:.1} min and cooler by {} at the same speed later: consistent with grease \
                 that spreads and runs in (common practice).",
                curve.place,
                top.minutes,
                super::said(fall, step.unit)
            )
        })
    })
}

/// Maxima of visits at different ambients are not alike; rises are.
fn other_ambient(session: &Session, own: &CheckFindings, visit: &VisitFindings) -> Option<String> {
    let first = own.visits.first().filter(|first| first.visit != visit.visit)?;
    let ambient = |visit: &VisitFindings| {
        let details = visit.details.of::<TemperatureDetails>()?;
        let n = details.ambient.len() as f64;
        (n > 0.0).then(|| details.ambient.iter().map(|(_, value)| value).sum::<f64>() / n)
    };
    let (before, now) = (ambient(first)?, ambient(visit)?);
    let notable = Difference::new(1.0, Unit::known(Kind::Temperature, "K")?).to(own.unit).ok()?;
    ((now - before).abs() >= notable).then(|| {
        format!(
            "The ambient was {}, and {} at '{}': compare the rises, not the maxima.",
            super::said(now, own.unit),
            super::said(before, own.unit),
            session.visit_title(&first.visit)
        )
    })
}
