//! The claimed findings as numbered exhibits, each with its section of the report.

use super::super::document::{DateShown, Report};
use super::super::report::facts::state;
use super::super::report::numbers::number;
use super::page::{ExhibitCell, ExhibitRow, Exhibits, Occasion};
use super::{Fit, Sources};
use crate::findings::claim::{Seen, Stand, words};
use crate::findings::sentences::{limit_bound, listed};
use crate::quantity::{significant, with_unit};

/// The number of a check's section: `report.typ` numbers the machine first, then the instruments
/// where there are any, then the checks.
pub(super) fn section_of(report: &Report, check: &str) -> Option<usize> {
    let place = report.checks.iter().position(|section| section.id == check)?;
    Some(place + 2 + usize::from(!report.instruments.is_empty()))
}

/// The table of exhibits; none where nothing is claimed.
pub(super) fn exhibits(sources: Sources<'_>, fit: Fit) -> Option<Exhibits> {
    let stands = &sources.claims.beyond;
    if stands.is_empty() {
        return None;
    }
    let (shown, rest) = stands.split_at(fit.rows.min(stands.len()));
    let found = shared(shown.iter().map(|stand| Some(stand.found)));
    let after = shared(shown.iter().filter(|stand| stand.after.is_some()).map(|stand| stand.after));
    let rows: Vec<ExhibitRow> = shown
        .iter()
        .enumerate()
        .map(|(index, stand)| row(sources, stand, index + 1, (found.is_none(), after.is_none()), fit))
        .collect();
    let mut notes = Vec::new();
    if !rest.is_empty() {
        notes.push(more(sources, rest, rows.is_empty()));
    }
    if !rows.is_empty() {
        notes.push("±: expanded uncertainty, 95 %. Sections are those of the test report.".to_owned());
    }
    if rows.iter().any(|row| row.unlike) {
        notes.push("†: not like for like.".to_owned());
    }
    let has_after = shown.iter().any(|stand| stand.after.is_some());
    Some(Exhibits { found, after, has_after, rows, notes })
}

/// The visit, where it is the same for all.
fn shared<'a>(seen: impl Iterator<Item = Option<Seen<'a>>>) -> Option<Occasion> {
    let mut visits = seen.map(|seen| seen.map(|seen| seen.visit));
    let first = visits.next().flatten()?;
    visits
        .all(|visit| visit.is_some_and(|visit| visit.visit == first.visit))
        .then(|| Occasion { state: state(first.state), date: DateShown::from(first.date).text })
}

fn row(
    sources: Sources<'_>,
    stand: &Stand<'_>,
    number: usize,
    (dated, after_dated): (bool, bool),
    fit: Fit,
) -> ExhibitRow {
    let finding = stand.found.finding;
    let letters = fit.letters.min(90);
    let limit = finding.limit.as_ref();
    ExhibitRow {
        number,
        title: words::shortened(&stand.check.title, letters),
        place: words::shortened(stand.at, letters),
        also: also(stand),
        section: section_of(sources.report, &stand.check.check),
        limit: limit.map_or_else(String::new, |limit| {
            let text = limit_bound(limit, finding.unit);
            let upper = text.strip_prefix("at most ").map(|rest| format!("≤ {rest}"));
            let lower = text.strip_prefix("at least ").map(|rest| format!("≥ {rest}"));
            upper.or(lower).unwrap_or(text)
        }),
        source: words::shortened(
            limit.and_then(|limit| limit.source.as_deref()).unwrap_or_default(),
            letters.min(60),
        ),
        found: cell(stand.found, dated),
        after: stand.after.map(|seen| cell(seen, after_dated)),
        unlike: stand.unlike(),
    }
}

fn cell(seen: Seen<'_>, dated: bool) -> ExhibitCell {
    ExhibitCell {
        number: number(seen.finding),
        verdict: seen.finding.verdict.words().to_owned(),
        on: if dated { DateShown::from(seen.visit.date).text } else { String::new() },
    }
}

/// What a mean hides, and how many places of the check are beyond the limit too.
fn also(stand: &Stand<'_>) -> String {
    let finding = stand.found.finding;
    let worst = finding.reached.map(|reached| {
        let reached = with_unit(&significant(reached, 4), finding.unit);
        format!("at worst {reached}").replace(' ', "\u{a0}")
    });
    let more = match stand.also {
        0 => None,
        1 => Some("and 1\u{a0}place more".to_owned()),
        more => Some(format!("and {more}\u{a0}places more")),
    };
    worst.into_iter().chain(more).collect::<Vec<_>>().join("; ")
}

/// "And 3 more in the report, sections 4 to 6."
fn more(sources: Sources<'_>, rest: &[Stand<'_>], all: bool) -> String {
    let mut sections: Vec<usize> =
        rest.iter().filter_map(|stand| section_of(sources.report, &stand.check.check)).collect();
    sections.sort_unstable();
    let word = if sections.len() == 1 { "section" } else { "sections" };
    let many = rest.len();
    let head = if all { format!("All {many}") } else { format!("And {many} more") };
    format!("{head} in the report, {word} {}.", ranges(&sections))
}

/// Sorted numbers with their runs: "3 to 5, 7 and 9".
fn ranges(numbers: &[usize]) -> String {
    let mut runs: Vec<(usize, usize)> = Vec::new();
    for number in numbers {
        match runs.last_mut() {
            Some((_, end)) if *end + 1 == *number => *end = *number,
            _ => runs.push((*number, *number)),
        }
    }
    let parts: Vec<String> = runs
        .into_iter()
        .flat_map(|(start, end)| match end - start {
            0 => vec![start.to_string()],
            1 => vec![start.to_string(), end.to_string()],
            _ => vec![format!("{start} to {end}")],
        })
        .collect();
    listed(&parts)
}

#[cfg(test)]
mod tests {
    use super::ranges;

    #[test]
    fn sections_that_follow_each_other_are_told_as_a_run() {
        assert_eq!(ranges(&[3, 4, 5, 7, 9, 10]), "3 to 5, 7, 9 and 10");
        assert_eq!(ranges(&[12]), "12");
    }
}
