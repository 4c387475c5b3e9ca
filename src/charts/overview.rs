//! One chart of every check before and after against its limit.

use super::exhibit::{Exhibit, Measure, Widths, limit, measured, visit};
use super::summary::{Summary, SummaryRow};
use super::{ChartError, Visit};
use crate::findings::{CheckFindings, Findings, sentences};
use crate::quantity::Kind;
use crate::session::Session;

/// More rows than this do not fit a first page; each check then shows its telling place alone.
const MOST_ROWS: usize = 8;

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

/// Draws it; none where nothing was found.
pub fn draw(session: &Session, findings: &Findings, widths: Widths) -> Result<Option<Exhibit>, ChartError> {
    let visits: Vec<&str> = session.visits.iter().map(|visit| visit.id.as_str()).collect();
    let mut columns: Vec<Option<Visit>> = vec![None; visits.len()];
    let mut drawn = Vec::new();
    for (check, at) in rows(findings) {
        let mut found = vec![None; visits.len()];
        let mut bound = None;
        for visit_found in &check.visits {
            let column = visits.iter().position(|id| *id == visit_found.visit);
            let finding = visit_found.finding(&at, check.main);
            if let (Some(column), Some(finding)) = (column, finding) {
                columns[column] = Some(visit(session, visit_found));
                found[column] = measured(finding);
                bound = bound.or_else(|| limit(finding.limit.as_ref()?, finding.unit));
            }
        }
        if found.iter().all(Option::is_none) {
            continue;
        }
        let kind = check.unit.kind();
        let label = if at.is_empty() { check.title.clone() } else { format!("{}, {at}", check.title) };
        drawn.push((label, bound, !matches!(kind, Kind::Level | Kind::Temperature), found));
    }
    if drawn.is_empty() {
        return Ok(None);
    }
    let limited = drawn.iter().any(|(_, limit, ..)| limit.is_some());
    // A visit at which nothing on the page was measured has no column.
    let kept: Vec<usize> = (0..visits.len()).filter(|column| columns[*column].is_some()).collect();
    let chart = Summary {
        width_pt: widths.full,
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
        svg: chart.draw()?,
        title: String::new(),
        caption: if limited {
            "Every check against its limit; whiskers are the expanded uncertainty (95 %).".to_owned()
        } else {
            "Every check; whiskers are the expanded uncertainty (95 %).".to_owned()
        },
        measure: Measure::Full,
    }))
}
