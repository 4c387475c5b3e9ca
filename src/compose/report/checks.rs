//! A section for each check.

use super::super::document::{CheckSection, Exhibit, Fact, FindingGroup, FindingRow, KeyFigure, Width};
use super::facts::state;
use super::numbers::number;
use super::{Sources, changes, chart_asset, readings, short_markup, visit_name, what_words};
use crate::charts::exhibit;
use crate::findings::{CheckFindings, Finding, Verdict, VisitFindings, sentences};
use crate::quantity::{Decimals, fixed, significant};
use crate::registry::registered;
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
        .map(|pattern| format!("{}: {}", session.visit_title(&pattern.visit), pattern.says))
        .collect();
    let mut notes = notes(session, found);
    let more_notes = notes.split_off(in_margin(&notes));
    CheckSection {
        id: check.id.clone(),
        title: found.title.clone(),
        template: registered(found.measure).map_or("quantity", |known| known.template).to_owned(),
        key_figures: key_figures(found),
        procedure: check.procedure.as_ref().map(|text| short_markup(&check.id, text)),
        setup: set_up(session, check, found),
        exhibits: drawn
            .map(|list| list.iter().map(|drawn| exhibit(check, drawn)).collect())
            .unwrap_or_default(),
        sentences: sentences::of_check(session, found),
        findings: groups(session, found, false),
        finding_notes: finding_notes(found),
        readings: readings::in_section(session, found),
        changes: changes::of_check(sources, check),
        patterns,
        notes,
        more_notes,
        cautions: Vec::new(),
    }
}

fn exhibit(check: &Check, drawn: &exhibit::Exhibit) -> Exhibit {
    Exhibit {
        path: chart_asset(&check.id, drawn.name),
        alt: format!("{}: {}", check.title, drawn.alt()),
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
            (session.visit_title(&visit.visit).to_owned(), facts)
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

/// The findings that stand aside, or those that do not: a group for each kind.
pub(super) fn groups(session: &Session, found: &CheckFindings, aside: bool) -> Vec<FindingGroup> {
    let mut groups: Vec<(&str, FindingGroup)> = Vec::new();
    for visit in &found.visits {
        for finding in visit.findings.iter().filter(|finding| finding.aside == aside) {
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
    if !finding.remark.is_empty() {
        notes.push(finding.remark.clone());
    }
    notes.extend(finding.bound.map(|bound| sentences::bound_words(bound, finding.unit)));
    if finding.value.is_none() && finding.remark.is_empty() {
        notes.extend(finding.notes.first().map(|note| brief(note)));
    }
    if finding.struck > 0 {
        let with = finding
            .with_struck
            .map_or_else(String::new, |value| format!(", with it {}", significant(value, 3)));
        notes.push(format!("{} struck{with}", finding.struck));
    }
    FindingRow {
        place: finding.at.clone(),
        state: state(visit.state),
        visit: visit_name(session, &visit.visit),
        value: printed.as_ref().map(|number| number.value.clone()),
        plus_minus: printed.and_then(|number| number.plus_minus),
        k: finding.expanded().map_or_else(String::new, |e| fixed(e.k, Decimals(2))),
        floor: finding.floor.map_or_else(String::new, |floor| significant(floor, 2)),
        verdict: verdict(finding),
        note: notes.join("; "),
    }
}

/// A reason cut down to a remark: what stands before its first colon or semicolon. The whole of it is
/// in findings.json.
fn brief(note: &str) -> String {
    let end = note.find([':', ';']).filter(|end| *end >= 8).unwrap_or(note.len());
    note.get(..end).unwrap_or(note).trim_end_matches('.').to_owned()
}

/// What the table's remarks mean, each once.
fn finding_notes(found: &CheckFindings) -> Vec<String> {
    let all = || found.visits.iter().flat_map(|visit| &visit.findings).filter(|finding| !finding.aside);
    let mut notes = Vec::new();
    for finding in all() {
        let Some(limit) = &finding.limit else { continue };
        let source = limit.source.as_ref().map_or_else(String::new, |source| format!(" ({source})"));
        let note = format!(
            "Limit for {}: {}{source}.",
            sentences::lower(&what_words(finding.what)),
            sentences::limit_bound(limit, finding.unit)
        );
        if !notes.contains(&note) {
            notes.push(note);
        }
    }
    if all().any(Finding::at_floor) {
        notes.push("At the floor: not distinguishable from zero with this instrument.".to_owned());
    }
    notes.extend(found.legend.iter().cloned());
    let cut = |finding: &&Finding| {
        let why = finding.notes.first().filter(|_| finding.value.is_none() && finding.remark.is_empty());
        why.is_some_and(|why| brief(why).len() + 1 < why.len())
    };
    if all().any(|finding| cut(&finding)) {
        notes.push("Why a value is missing stands in full in findings.json, which is attached.".to_owned());
    }
    if all().any(|finding| finding.struck > 0) {
        notes.push("A struck reading is left out; beside it stands the result with it.".to_owned());
    }
    notes
}

/// How many notes the margin takes: more would run past what they stand beside.
fn in_margin(notes: &[String]) -> usize {
    const LETTERS: usize = 360;
    let mut letters = 0;
    notes
        .iter()
        .take_while(|note| {
            letters += note.chars().count();
            letters <= LETTERS
        })
        .count()
}

/// Whether a number says something of the machine, and not of one set-up alone.
fn is_of_machine(found: &CheckFindings, what: &str) -> bool {
    let whats = registered(found.measure).map(|known| known.measure.whats()).unwrap_or_default();
    whats.iter().find(|known| known.name == what).is_none_or(|known| known.compared)
}

/// Notes of the main findings and of the visits, each once.
fn notes(session: &Session, found: &CheckFindings) -> Vec<String> {
    let mut list: Vec<(String, Vec<String>)> = Vec::new();
    for visit in &found.visits {
        let title = session.visit_title(&visit.visit).to_owned();
        let telling = sentences::telling_place(found).unwrap_or("");
        let main = sentences::main_findings(found, visit).filter(|finding| finding.at == telling);
        let of_set_up = visit.findings.iter().filter(|finding| !is_of_machine(found, finding.what));
        for note in main.chain(of_set_up).flat_map(|finding| &finding.notes).chain(&visit.notes) {
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
