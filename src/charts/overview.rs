//! One chart of every check before and after against its limit.

use super::exhibit::{Exhibit, Measure, Room, limit, measured, visit};
use super::summary::{Summary, SummaryRow};
use super::{ChartError, Visit};
use crate::findings::claim::words::shortened;
use crate::findings::{CheckFindings, Findings, sentences};
use crate::quantity::Kind;
use crate::session::Session;

/// More rows than this do not fit a first page; each check then shows its telling place alone.
const MOST_ROWS: usize = 8;

/// More rows of two visits than this would not leave the chart on the first page; a row grows with its
/// visits.
const MOST_DRAWN: usize = 11;

/// A check's and a place's name take no more letters than that in a picture.
const TITLE: usize = 40;
const PLACE: usize = 24;

/// How many rows of so many visits the first page holds.
fn most_drawn(visits: usize) -> usize {
    (4 * MOST_DRAWN / (visits + 2)).clamp(3, MOST_DRAWN)
}

/// The places of each check that the first page speaks of: all where they fit, else the
/// telling one and one that stands worse in the end.
pub fn rows(findings: &Findings) -> Vec<(&CheckFindings, String)> {
    let mut all = Vec::new();
    for check in findings.checks.iter().filter(|check| !check.visits.is_empty()) {
        let mut places: Vec<String> = Vec::new();
        for finding in check.visits.iter().flat_map(|visit| sentences::main_findings(check, visit)) {
            if !places.contains(&finding.at) {
                places.push(finding.at.clone());
            }
        }
        all.extend(places.into_iter().map(|at| (check, at)));
    }
    if all.len() > MOST_ROWS {
        all.retain(|(check, at)| sentences::speaks_for(check, at));
    }
    all
}

/// The rows that are drawn, and how many were left out: where there are too many, those that stand
/// worst stay.
fn drawn_rows(findings: &Findings, most: usize) -> (Vec<(&CheckFindings, String)>, usize) {
    let mut rows = rows(findings);
    let mut order: Vec<usize> = (0..rows.len()).collect();
    order.sort_by(|a, b| {
        let stands = |index: &usize| sentences::stands(rows[*index].0, &rows[*index].1);
        stands(b).partial_cmp(&stands(a)).unwrap_or(std::cmp::Ordering::Equal)
    });
    let left_out = order.split_off(order.len().min(most));
    let mut index = 0;
    rows.retain(|_| {
        index += 1;
        !left_out.contains(&(index - 1))
    });
    (rows, left_out.len())
}

/// Draws it; none where nothing was found. A picture has as many rows as it is high enough for.
pub fn draw(session: &Session, findings: &Findings, room: Room) -> Result<Option<Exhibit>, ChartError> {
    Ok(draw_with_rows(session, findings, room)?.map(|(exhibit, _)| exhibit))
}

/// Draws it; gives also how many rows it has.
pub(crate) fn draw_with_rows(
    session: &Session,
    findings: &Findings,
    room: Room,
) -> Result<Option<(Exhibit, usize)>, ChartError> {
    let mut most = most_drawn(session.visits.len());
    loop {
        let drawn = draw_rows(session, findings, room, most)?;
        let height = drawn.as_ref().map_or(0.0, |exhibit| exhibit.svg.height_pt);
        if most <= 1 || room.height.is_none_or(|room| height <= room) {
            return Ok(drawn.map(|exhibit| (exhibit, most)));
        }
        most -= 1;
    }
}

/// Draws no more rows than so many.
fn draw_rows(
    session: &Session,
    findings: &Findings,
    room: Room,
    most: usize,
) -> Result<Option<Exhibit>, ChartError> {
    let visits: Vec<&str> = session.visits.iter().map(|visit| visit.id.as_str()).collect();
    let mut columns: Vec<Option<Visit>> = vec![None; visits.len()];
    let mut drawn = Vec::new();
    let (rows, left_out) = drawn_rows(findings, most);
    for (check, at) in rows {
        let mut found = vec![None; visits.len()];
        let mut bound = None;
        let mut has_zero = true;
        for visit_found in &check.visits {
            let column = visits.iter().position(|id| *id == visit_found.visit);
            let finding = visit_found.finding(&at, check.main);
            if let (Some(column), Some(finding)) = (column, finding) {
                columns[column] = Some(visit(session, visit_found));
                found[column] = measured(finding);
                // A rise has a zero of its own, a temperature or a level has not.
                let kind = finding.unit.kind();
                has_zero &= finding.difference || !matches!(kind, Kind::Level | Kind::Temperature);
                bound = bound.or_else(|| limit(finding.limit.as_ref()?, finding.unit));
            }
        }
        if found.iter().all(Option::is_none) {
            continue;
        }
        let (title, at) = match room.height {
            // A picture has no room for a long name, and a report beside it that has it whole.
            Some(_) => (shortened(&check.title, TITLE), shortened(&at, PLACE)),
            None => (check.title.clone(), at),
        };
        let label = if at.is_empty() { title } else { format!("{title}, {at}") };
        drawn.push((label, bound, has_zero, found));
    }
    if drawn.is_empty() {
        return Ok(None);
    }
    let limited = drawn.iter().any(|(_, limit, ..)| limit.is_some());
    // A visit at which nothing on the page was measured has no column.
    let kept: Vec<usize> = (0..visits.len()).filter(|column| columns[*column].is_some()).collect();
    let shown = drawn.len();
    let chart = Summary {
        width_pt: room.full,
        visits: kept.iter().filter_map(|column| columns[*column].clone()).collect(),
        rows: drawn
            .into_iter()
            .map(|(label, limit, true_zero, found)| SummaryRow {
                label,
                limit,
                true_zero,
                found: kept.iter().map(|column| found[*column].clone()).collect(),
            })
            .collect(),
    };
    Ok(Some(Exhibit {
        name: "summary",
        svg: chart.draw_to(room.height)?,
        title: if room.height.is_some() { pared(shown, left_out) } else { String::new() },
        caption: caption(limited, shown, left_out),
        measure: Measure::Full,
    }))
}

/// On paper the caption and the table tell of what is not drawn; a picture says it with its sentence.
fn pared(shown: usize, left_out: usize) -> String {
    match (shown, left_out) {
        (_, 0) => String::new(),
        (1, more) => format!("Drawn is the one of {} that stands worst.", more + 1),
        (shown, more) => format!("Drawn are the {shown} of {} that stand worst.", shown + more),
    }
}

fn caption(limited: bool, shown: usize, left_out: usize) -> String {
    let against = if limited { " against its limit" } else { "" };
    let whiskers = "whiskers are the expanded uncertainty (95 %)";
    if left_out == 0 {
        return format!("Every check{against}; {whiskers}.");
    }
    let all = shown + left_out;
    format!("The {shown} of {all} rows that stand worst, each{against}; {whiskers}. The table has all {all}.")
}
