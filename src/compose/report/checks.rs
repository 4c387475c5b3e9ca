//! A section each: checks, and how fair the comparisons are.

use super::super::document::{
    ChangeGroup, ChangeRow, ChangeTable, CheckSection, Comparison, ConditionRow, Exhibit, Fact, FindingGroup,
    FindingRow, KeyFigure, Reading, ReadingRow, ReadingTable, Width,
};
use super::facts::state;
use super::numbers::{at, number, signed};
use super::{Sources, chart_asset, short_markup, visit_title, what_words};
use crate::charts::exhibit;
use crate::findings::{
    Change, CheckChanges, CheckFindings, ComparisonFindings, Finding, Findings, RawTable, Verdict,
    VisitFindings, sentences,
};
use crate::quantity::{Decimals, decimals_for, fixed, significant};
use crate::session::{Check, Session};

pub(super) fn sections(sources: Sources<'_>) -> Vec<CheckSection> {
    let mut list = Vec::new();
    for found in &sources.findings.checks {
        if let Some(check) = sources.session.check(&found.check).filter(|_| !found.visits.is_empty()) {
            list.push(section(sources, check, found));
        }
    }
    list
}

fn section(sources: Sources<'_>, check: &Check, found: &CheckFindings) -> CheckSection {
    let session = sources.session;
    let drawn = sources.drawings.checks.get(&check.id);
    let patterns = found
        .patterns
        .iter()
        .map(|pattern| format!("{}: {}", visit_title(session, &pattern.visit), pattern.says))
        .collect();
    CheckSection {
        id: check.id.clone(),
        title: found.title.clone(),
        template: (sources.template)(found.measure).to_owned(),
        key_figures: key_figures(found),
        procedure: check.procedure.as_ref().map(|text| short_markup(&check.id, text)),
        setup: set_up(session, check, found),
        exhibits: drawn
            .map(|list| list.iter().map(|drawn| exhibit(check, drawn)).collect())
            .unwrap_or_default(),
        sentences: sentences::of_check(session, found),
        findings: groups(session, found),
        readings: readings(session, found),
        changes: changes(sources, check),
        patterns,
        notes: notes(session, found),
        cautions: Vec::new(),
    }
}

fn exhibit(check: &Check, drawn: &exhibit::Exhibit) -> Exhibit {
    Exhibit {
        path: chart_asset(&check.id, drawn.name),
        alt: drawn.alt(),
        title: drawn.title.clone(),
        caption: drawn.caption.clone(),
        width: match drawn.measure {
            exhibit::Measure::Text => Width::Text,
            exhibit::Measure::Full => Width::Full,
        },
    }
}

/// The telling place's main finding at each visit.
fn key_figures(found: &CheckFindings) -> Vec<KeyFigure> {
    let Some(place) = sentences::telling_place(found) else {
        return Vec::new();
    };
    let what = what_words(found.main);
    let caption = if place.is_empty() { what } else { format!("{what}, {place}") };
    let figure = |visit: &VisitFindings| {
        let finding = visit.finding(place, found.main)?;
        Some(KeyFigure {
            state: Some(state(visit.state)),
            number: number(finding)?,
            caption: caption.clone(),
            verdict: verdict(finding),
        })
    };
    found.visits.iter().filter_map(figure).collect()
}

fn verdict(finding: &Finding) -> String {
    if finding.verdict == Verdict::NoLimit { String::new() } else { finding.verdict.words().to_owned() }
}

/// Instrument, set-up and conditions; what differs between visits is said for each.
fn set_up(session: &Session, check: &Check, found: &CheckFindings) -> Vec<Fact> {
    let mut names: Vec<&str> = Vec::new();
    let each: Vec<(String, Vec<(String, String)>)> = found
        .visits
        .iter()
        .map(|visit| {
            let mut facts = visit.set_up.clone();
            if let Some(visit) = session.visit(&visit.visit) {
                let own = visit.readings_of(&check.id).map(|r| r.conditions.as_slice()).unwrap_or_default();
                facts.extend(own.iter().map(|c| (c.name.clone(), c.text.clone())));
            }
            (visit_title(session, &visit.visit), facts)
        })
        .collect();
    for (name, _) in each.iter().flat_map(|(_, facts)| facts) {
        if !names.contains(&name.as_str()) {
            names.push(name);
        }
    }
    let facts: Vec<Fact> = names
        .iter()
        .map(|name| {
            let values: Vec<(&str, &str)> = each
                .iter()
                .filter_map(|(title, facts)| {
                    let (_, value) = facts.iter().find(|(known, _)| known == name)?;
                    Some((title.as_str(), value.as_str()))
                })
                .collect();
            let same = values.windows(2).all(|pair| pair[0].1 == pair[1].1) && values.len() == each.len();
            let value = match values.first() {
                Some((_, value)) if same => (*value).to_owned(),
                _ => values
                    .iter()
                    .map(|(title, value)| format!("{value} ({title})"))
                    .collect::<Vec<_>>()
                    .join("; "),
            };
            Fact { label: sentences::capital(name), value }
        })
        .collect();
    facts
}

/// All findings, a group for each kind.
fn groups(session: &Session, found: &CheckFindings) -> Vec<FindingGroup> {
    let mut groups: Vec<(&str, FindingGroup)> = Vec::new();
    for visit in &found.visits {
        for finding in &visit.findings {
            let row = finding_row(session, visit, finding);
            match groups.iter_mut().find(|(what, _)| *what == finding.what) {
                Some((_, group)) => group.rows.push(row),
                None => groups.push((
                    finding.what,
                    FindingGroup {
                        what: what_words(finding.what),
                        unit: finding.unit.symbol().to_owned(),
                        limit: finding.limit.as_ref().map_or_else(String::new, |limit| {
                            let source =
                                limit.source.as_ref().map_or_else(String::new, |s| format!(" ({s})"));
                            format!("{}{source}", sentences::limit_bound(limit, finding.unit))
                        }),
                        rows: vec![row],
                    },
                )),
            }
        }
    }
    // Place by place, before and after beneath each other.
    let mut groups: Vec<FindingGroup> = groups.into_iter().map(|(_, group)| group).collect();
    for group in &mut groups {
        let order: Vec<String> = group.rows.iter().map(|row| row.place.clone()).collect();
        let first = |place: &str| order.iter().position(|known| known == place);
        group.rows.sort_by_key(|row| first(&row.place));
    }
    groups
}

fn finding_row(session: &Session, visit: &VisitFindings, finding: &Finding) -> FindingRow {
    let printed = number(finding);
    let mut notes = Vec::new();
    if finding.at_floor() {
        notes.push("at the floor".to_owned());
    }
    if finding.struck > 0 {
        let with = finding
            .with_struck
            .map_or_else(String::new, |value| format!("; with it {}", significant(value, 3)));
        notes.push(format!("{} struck{with}", finding.struck));
    }
    if finding.value.is_none() {
        notes.extend(finding.notes.first().cloned());
    } else if matches!(finding.what, "once_per_turn" | "twice_per_turn" | "tilt") && !finding.at_floor() {
        notes.extend(finding.notes.first().map(|note| note.trim_end_matches('.').to_owned()));
    }
    FindingRow {
        place: finding.at.clone(),
        state: state(visit.state),
        visit: visit_title(session, &visit.visit),
        value: printed.as_ref().map(|number| number.value.clone()),
        plus_minus: printed.and_then(|number| number.plus_minus),
        k: finding.expanded().map_or_else(String::new, |e| fixed(e.k, Decimals(2))),
        floor: finding.floor.map_or_else(String::new, |floor| significant(floor, 2)),
        verdict: verdict(finding),
        note: notes.join("; "),
    }
}

/// Readings as they were written, a table for each visit.
pub(super) fn readings(session: &Session, found: &CheckFindings) -> Vec<ReadingTable> {
    found
        .visits
        .iter()
        .flat_map(|visit| visit.raw.iter().map(move |raw| reading_table(session, found, visit, raw)))
        .collect()
}

fn reading_table(
    session: &Session,
    found: &CheckFindings,
    visit: &VisitFindings,
    raw: &RawTable,
) -> ReadingTable {
    let mut columns = raw.columns.iter();
    let label = columns.next().cloned().unwrap_or_default();
    let place = if raw.at.is_empty() { String::new() } else { format!(", {}", raw.at) };
    ReadingTable {
        title: format!("{}{place}, {}", found.title, visit_title(session, &visit.visit)),
        state: Some(state(visit.state)),
        unit: raw.unit.symbol().to_owned(),
        label_heads: vec![label],
        value_heads: columns.cloned().collect(),
        rows: raw
            .rows
            .iter()
            .map(|(name, cells)| ReadingRow {
                labels: vec![name.clone()],
                cells: cells
                    .iter()
                    .map(|cell| Reading { shown: cell.text.clone(), struck_because: cell.struck.clone() })
                    .collect(),
            })
            .collect(),
        note: String::new(),
    }
}

fn changes(sources: Sources<'_>, check: &Check) -> Vec<ChangeTable> {
    let mut tables = Vec::new();
    for comparison in &sources.findings.comparisons {
        for changes in comparison.checks.iter().filter(|changes| changes.check == check.id) {
            tables.push(ChangeTable {
                title: comparison.title.clone(),
                before: state(comparison.before.state),
                after: state(comparison.after.state),
                like_for_like: changes.like_for_like,
                differs: sentences::fairness(changes).join(" "),
                groups: change_groups(changes),
            });
        }
    }
    tables
}

fn change_groups(changes: &CheckChanges) -> Vec<ChangeGroup> {
    let mut groups: Vec<(&str, ChangeGroup)> = Vec::new();
    for change in &changes.changes {
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

/// Notes of the main findings and of the visits, each once.
fn notes(session: &Session, found: &CheckFindings) -> Vec<String> {
    let mut list: Vec<(String, Vec<String>)> = Vec::new();
    for visit in &found.visits {
        let title = visit_title(session, &visit.visit);
        let telling = sentences::telling_place(found).unwrap_or("");
        let main = sentences::main_findings(found, visit).filter(|finding| finding.at == telling);
        let closing = visit.findings.iter().filter(|finding| finding.what == "closing_error");
        for note in main.chain(closing).flat_map(|finding| &finding.notes).chain(&visit.notes) {
            match list.iter_mut().find(|(known, _)| known == note) {
                Some((_, titles)) if !titles.contains(&title) => titles.push(title.clone()),
                Some(_) => {}
                None => list.push((note.clone(), vec![title.clone()])),
            }
        }
    }
    let all = found.visits.len();
    list.into_iter()
        .map(
            |(note, titles)| {
                if titles.len() == all { note } else { format!("{}: {note}", titles.join(", ")) }
            },
        )
        .collect()
}

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
        let title = session.check(&check.check).map_or("", |check| check.title.as_str());
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
