//! Changes from visit to visit, and how fair it is to compare them.

use super::super::document::{ChangeGroup, ChangeRow, ChangeTable, Comparison, ConditionRow};
use super::facts::state;
use super::numbers::{at, signed};
use super::{Sources, what_words};
use crate::findings::{Change, CheckChanges, ComparisonFindings, Findings, sentences};
use crate::quantity::{Decimals, decimals_for};
use crate::session::{Check, Session};

/// The changes of a check, a table for each comparison.
pub(super) fn of_check(sources: Sources<'_>, check: &Check) -> Vec<ChangeTable> {
    let mut tables = Vec::new();
    for comparison in &sources.findings.comparisons {
        for changes in comparison.checks.iter().filter(|changes| changes.check == check.id) {
            tables.push(ChangeTable {
                title: comparison.title.clone(),
                elsewhere: comparison.before.session.clone().or_else(|| comparison.after.session.clone()),
                before_title: side(&comparison.before),
                after_title: side(&comparison.after),
                before: state(comparison.before.state),
                after: state(comparison.after.state),
                like_for_like: changes.like_for_like,
                differs: differs(changes),
                groups: change_groups(changes),
            });
        }
    }
    tables
}

fn change_groups(changes: &CheckChanges) -> Vec<ChangeGroup> {
    let mut groups: Vec<(&str, ChangeGroup)> = Vec::new();
    for change in changes.changes.iter().filter(|change| !change.aside) {
        let row = change_row(change);
        match groups.iter_mut().find(|(what, _)| *what == change.what) {
            Some((_, group)) => group.rows.push(row),
            None => groups.push((
                change.what,
                ChangeGroup {
                    what: what_words(change.what),
                    unit: change.unit.symbol().to_owned(),
                    rows: vec![row],
                },
            )),
        }
    }
    groups.into_iter().map(|(_, group)| group).collect()
}

fn change_row(change: &Change) -> ChangeRow {
    let decimals = decimals_for((change.high - change.low) / 2.0);
    ChangeRow {
        place: change.at.clone(),
        over_all: change.over_all_places,
        before: at(change.before, decimals),
        after: at(change.after, decimals),
        change: signed(change.change, decimals),
        low: at(change.low, decimals),
        high: at(change.high, decimals),
        percent: change.percent.map_or_else(String::new, |percent| signed(percent, Decimals(0))),
        conclusion: change.conclusion.words().to_owned(),
        adjusted: change
            .adjusted
            .filter(|adjusted| *adjusted != change.conclusion)
            .map_or_else(String::new, |adjusted| adjusted.words().to_owned()),
    }
}

/// What differs, without the words that the page sets in bold before it.
fn differs(changes: &CheckChanges) -> String {
    let text = sentences::fairness(changes).join(" ");
    text.strip_prefix("Not like for like: ").map_or_else(|| text.clone(), sentences::capital)
}

/// Which visits were compared, and how fair that is.
pub(super) fn comparisons(session: &Session, findings: &Findings) -> Vec<Comparison> {
    findings
        .comparisons
        .iter()
        .map(|comparison| Comparison {
            title: comparison.title.clone(),
            before: state(comparison.before.state),
            before_title: side(&comparison.before),
            after: state(comparison.after.state),
            after_title: side(&comparison.after),
            sentences: sentences::of_comparison(session, findings, comparison),
            conditions: conditions(session, comparison),
        })
        .collect()
}

fn side(side: &crate::findings::Side) -> String {
    let date = super::super::document::DateShown::from(side.date).text;
    match &side.session {
        Some(session) => format!("{}, {date} ({session})", side.title),
        None => format!("{}, {date}", side.title),
    }
}

/// What differed; conditions that every check shares stand once.
fn conditions(session: &Session, comparison: &ComparisonFindings) -> Vec<ConditionRow> {
    let mut rows: Vec<(Vec<String>, ConditionRow)> = Vec::new();
    for check in &comparison.checks {
        let title = session.check_title(&check.check);
        for differs in &check.differs {
            let recorded = differs.before != "not recorded" && differs.after != "not recorded";
            let row = ConditionRow {
                check: String::new(),
                condition: differs.condition.clone(),
                before: differs.before.clone(),
                after: differs.after.clone(),
                standing: if recorded { "differs".to_owned() } else { "not recorded".to_owned() },
                must_match: differs.decides,
            };
            let same = |known: &ConditionRow| {
                (&known.condition, &known.before, &known.after, known.must_match)
                    == (&row.condition, &row.before, &row.after, row.must_match)
            };
            match rows.iter_mut().find(|(_, known)| same(known)) {
                Some((titles, _)) => titles.push(title.to_owned()),
                None => rows.push((vec![title.to_owned()], row)),
            }
        }
    }
    let all = comparison.checks.len();
    rows.into_iter()
        .map(|(titles, row)| ConditionRow {
            check: if titles.len() == all { String::new() } else { titles.join(", ") },
            ..row
        })
        .collect()
}
