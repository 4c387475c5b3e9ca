//! The first page.

use super::super::document::{
    Answer, Exhibit, Fact, Number, SummaryGroup, SummaryRow, SummaryTable, Unfair, Width,
};
use super::facts::state;
use super::numbers::{number, signed};
use super::{Sources, chart_asset, what_words};
use crate::charts::overview;
use crate::evidence::seal::words;
use crate::findings::{Change, CheckChanges, CheckFindings, ComparisonFindings, VisitFindings, sentences};
use crate::quantity::{decimals_for, fixed, significant};

pub(super) fn answer(sources: Sources<'_>) -> Answer {
    let (session, findings) = (sources.session, sources.findings);
    let sentences = sentences::answer(session, findings);
    let chart = sources.drawings.summary.as_ref().map(|exhibit| Exhibit {
        path: chart_asset("", exhibit.name),
        alt: format!("{} {}", exhibit.caption, sentences.join(" ")),
        title: exhibit.title.clone(),
        caption: exhibit.caption.clone(),
        width: Width::Full,
    });
    let not_as_sealed = words::not_as_sealed(session, sources.seals)
        .into_iter()
        .map(|(label, value)| Fact { label, value })
        .collect();
    Answer { sentences, chart, table: table(sources), unfair: unfair(sources), not_as_sealed }
}

/// The comparison that a check's row on the first page speaks of: the main one, or, where a session holds
/// several machines, the first of the same states that has the check.
fn comparison_of<'a>(sources: Sources<'a>, check: &CheckFindings) -> Option<&'a ComparisonFindings> {
    let main = main_comparison(sources)?;
    let has = |comparison: &&ComparisonFindings| {
        comparison.checks.iter().any(|changes| changes.check == check.check)
    };
    let sides = |comparison: &ComparisonFindings| (comparison.before.state, comparison.after.state);
    let alike = |comparison: &&ComparisonFindings| {
        comparison.before.session.is_none() && sides(comparison) == sides(main) && has(comparison)
    };
    Some(main).filter(has).or_else(|| sources.findings.comparisons.iter().find(alike)).or(Some(main))
}

/// The comparison that the first page speaks of: the first within this session.
fn main_comparison(sources: Sources<'_>) -> Option<&ComparisonFindings> {
    let comparisons = &sources.findings.comparisons;
    comparisons.iter().find(|c| c.before.session.is_none()).or(comparisons.first())
}

fn table(sources: Sources<'_>) -> Option<SummaryTable> {
    let comparison = main_comparison(sources);
    let rows = overview::rows(sources.findings);
    let mut groups: Vec<(String, SummaryGroup)> = Vec::new();
    for (check, at) in rows {
        let row = row(check, &at, comparison_of(sources, check));
        match groups.iter_mut().find(|(id, _)| *id == check.check) {
            Some((_, group)) => group.rows.push(row),
            None => groups.push((
                check.check.clone(),
                SummaryGroup {
                    title: check.title.clone(),
                    unit: check.unit.symbol().to_owned(),
                    rows: vec![row],
                },
            )),
        }
    }
    let sides = comparison.map(|comparison| (comparison.before.state, comparison.after.state));
    let only = sources.session.visits.last().map(|visit| state(visit.state));
    let note = note(sources, groups.iter().map(|(id, _)| id.as_str()));
    (!groups.is_empty()).then(|| SummaryTable {
        before: sides.map(|(before, _)| state(before)).or(only),
        after: sides.map(|(_, after)| state(after)),
        groups: groups.into_iter().map(|(_, group)| group).collect(),
        note,
    })
}

/// What the numbers are: those of each check's main finding.
fn note<'a>(sources: Sources<'_>, ids: impl Iterator<Item = &'a str>) -> String {
    let mut kinds: Vec<(String, Vec<String>)> = Vec::new();
    for check in ids.filter_map(|id| sources.findings.check(id)) {
        let what = sentences::lower(&what_words(check.main));
        match kinds.iter_mut().find(|(known, _)| *known == what) {
            Some((_, titles)) => titles.push(check.title.clone()),
            None => kinds.push((what, vec![check.title.clone()])),
        }
    }
    let values = match kinds.as_slice() {
        [] => return String::new(),
        [(what, _)] => format!("Each value is the {what}"),
        [first @ .., (what, _)] => {
            let parts: Vec<String> =
                first.iter().map(|(what, titles)| format!("the {what} for {}", titles.join(", "))).collect();
            format!("Values are {}, and the {what} for all else", parts.join("; "))
        }
    };
    format!("{values}; ± is the expanded uncertainty, 95 %.")
}

fn row(check: &CheckFindings, at: &str, comparison: Option<&ComparisonFindings>) -> SummaryRow {
    let changes = comparison.and_then(|c| c.checks.iter().find(|changes| changes.check == check.check));
    let before = match (comparison, changes) {
        (Some(comparison), changes) => changes.and_then(|changes| changes.elsewhere.as_ref()).or_else(|| {
            check.visit(&comparison.before.visit).filter(|_| comparison.before.session.is_none())
        }),
        (None, _) => check.visits.last(),
    };
    let after = comparison.and_then(|comparison| check.visit(&comparison.after.visit));
    let change = changes.and_then(|changes| {
        changes.changes.iter().find(|change| change.at == at && change.what == check.main)
    });
    let verdict = |visit: Option<&VisitFindings>| {
        let finding = visit.and_then(|visit| visit.finding(at, check.main));
        finding
            .map(|finding| finding.verdict.words())
            .filter(|words| *words != "no limit")
            .unwrap_or_default()
            .to_owned()
    };
    let value = |visit: Option<&VisitFindings>| -> Option<Number> {
        visit.and_then(|visit| visit.finding(at, check.main)).and_then(number)
    };
    SummaryRow {
        place: at.to_owned(),
        before: value(before),
        before_verdict: verdict(before),
        after: value(after),
        after_verdict: verdict(after),
        change: change.map(change_number),
        limit: limit(check, at),
        conclusion: change.map(sentences::short_conclusion).unwrap_or_default(),
        like_for_like: changes.is_none_or(|changes| changes.like_for_like),
    }
}

/// A change and half its interval.
fn change_number(change: &Change) -> Number {
    let half = (change.high - change.low) / 2.0;
    let decimals = decimals_for(half);
    Number {
        value: signed(change.change, decimals),
        plus_minus: Some(fixed(half, decimals)),
        unit: change.unit.symbol().to_owned(),
    }
}

/// The limit without its unit: `≤ 1`.
fn limit(check: &CheckFindings, at: &str) -> String {
    let finding = check.visits.iter().filter_map(|visit| visit.finding(at, check.main)).next_back();
    let Some(limit) = finding.and_then(|finding| finding.limit.as_ref()) else { return String::new() };
    let number = |value: f64| significant(value, limit.digits());
    match (limit.at_least, limit.at_most) {
        (Some(low), Some(high)) if limit.typed.is_some() && (low + high).abs() < 1e-9 * high.abs() => {
            format!("±{}", number(high))
        }
        (Some(low), Some(high)) => format!("{} to {}", number(low), number(high)),
        (Some(low), None) => format!("≥ {}", number(low)),
        (None, Some(high)) => format!("≤ {}", number(high)),
        (None, None) => String::new(),
    }
}

/// Every comparison that is not like for like, with what differs.
fn unfair(sources: Sources<'_>) -> Vec<Unfair> {
    let mut list = Vec::new();
    for comparison in &sources.findings.comparisons {
        for check in comparison.checks.iter().filter(|check| !check.like_for_like) {
            let title = sources.session.check_title(&check.check);
            let shown = sources.findings.check(&check.check).and_then(|found| comparison_of(sources, found));
            let in_table = shown.is_some_and(|shown| shown.id == comparison.id);
            let what = format!("{title}, {}", comparison.title);
            list.push(Unfair { what, differs: deciding(check), in_table });
        }
    }
    list
}

fn deciding(check: &CheckChanges) -> String {
    let parts: Vec<String> = check
        .differs
        .iter()
        .filter(|difference| difference.decides)
        .map(|d| format!("{}: {} before, {} after", d.condition, d.before, d.after))
        .collect();
    format!("{}.", parts.join("; "))
}
