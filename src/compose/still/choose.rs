//! Which chart a picture shows, and how words and chart share the page: the first that fits of what a chart of
//! its kind likes, the other layout, fewer visits, and in the end a row of the summary.

use super::page::{Frame, Layout};
use super::{Still, Subject};
use crate::charts::exhibit::{self, Exhibit, Measure, Room};
use crate::charts::summary::{Summary, SummaryRow};
use crate::charts::{ChartError, Measured, Svg, Visit, overview};
use crate::findings::{Change, CheckFindings, ComparisonFindings, Findings, Side, sentences};
use crate::quantity::{Kind, round_with_uncertainty, significant, with_unit};
use crate::registry::registered;
use crate::session::Session;

/// A picture's chart with its sentence.
#[derive(Debug)]
pub(super) struct Chosen {
    pub(super) layout: Layout,
    pub(super) svg: Option<Svg>,
    pub(super) sentence: String,
}

/// Draws the charts of one check, or of the summary, and keeps them: a check's exhibits are drawn together.
pub(super) struct Drawer<'a> {
    pub(super) session: &'a Session,
    pub(super) findings: &'a Findings,
    frame: Frame,
    /// The check with all its visits, and where they are more than two, with the first and the last.
    check: Vec<CheckFindings>,
    drawn: Vec<((Layout, usize), Vec<Exhibit>)>,
}

/// A height is kept to within this, in points: what an SVG rounds.
const SLACK: f64 = 0.05;

impl<'a> Drawer<'a> {
    pub(super) fn new(
        session: &'a Session,
        findings: &'a Findings,
        check: Option<usize>,
        frame: Frame,
    ) -> Self {
        let whole = check.and_then(|check| findings.checks.get(check));
        let mut check: Vec<CheckFindings> = whole.into_iter().cloned().collect();
        if let Some(whole) = whole.filter(|check| check.visits.len() > 2) {
            let mut pared = whole.clone();
            let last = pared.visits.len() - 1;
            let mut index = 0;
            pared.visits.retain(|_| {
                index += 1;
                index == 1 || index == last + 1
            });
            check.push(pared);
        }
        Self { session, findings, frame, check, drawn: Vec::new() }
    }

    /// The chart and the layout of a picture.
    pub(super) fn choose(&mut self, still: &Still) -> Chosen {
        let found = match &still.subject {
            Subject::Summary => self.summary(),
            Subject::Exhibit { exhibit, .. } => self.exhibit(exhibit),
            Subject::Change { comparison, check } => self.change(*comparison, *check),
        };
        let layout = self.frame.layouts(false).first().copied().unwrap_or(Layout::Above);
        let (layout, svg) = found.map_or((layout, None), |(layout, svg)| (layout, Some(svg)));
        Chosen { layout, svg, sentence: self.sentence(still) }
    }

    /// The sentence: with names of visits as short as the picture has them.
    fn sentence(&self, still: &Still) -> String {
        let own = match &still.subject {
            Subject::Summary => sentences::answer(self.session, self.findings).pop(),
            Subject::Exhibit { exhibit, .. } => {
                let drawn = self.drawn.iter().flat_map(|(_, list)| list);
                drawn.filter(|drawn| drawn.name == *exhibit).map(|drawn| drawn.title.clone()).next()
            }
            Subject::Change { comparison, check } => {
                let comparison = self.findings.comparisons.get(*comparison);
                comparison
                    .and_then(|comparison| comparison.checks.get(*check))
                    .and_then(|changes| sentences::of_check_in(self.session, self.findings, changes))
            }
        };
        own.filter(|own| !own.is_empty()).unwrap_or_else(|| still.title.clone())
    }

    fn exhibit(&mut self, name: &str) -> Option<(Layout, Svg)> {
        let first = self.frame.layouts(false).first().copied()?;
        let wide = self.drawn(first, 0).iter().any(|one| one.name == name && one.measure == Measure::Full);
        for visits in 0..self.check.len() {
            for layout in self.frame.layouts(wide) {
                let height = self.frame.room(*layout).height.unwrap_or(f64::INFINITY);
                let drawn = self.drawn(*layout, visits);
                let fits = |one: &&Exhibit| one.name == name && one.svg.height_pt <= height + SLACK;
                if let Some(one) = drawn.iter().find(fits) {
                    return Some((*layout, one.svg.clone()));
                }
            }
        }
        // No chart of its kind has room: what is left is the row of the summary.
        let check = self.check.first()?;
        let at = sentences::telling_place(check)?.to_owned();
        let visits = check.visits.iter().map(|found| exhibit::visit(self.session, found)).collect();
        let found = check.visits.iter().map(|visit| exhibit::measured(visit.finding(&at, check.main)?));
        let row = self.row(check, &at, found.collect());
        self.summed(visits, vec![row])
    }

    /// The exhibits of the check in a layout, with all its visits (0) or the first and the last (1).
    fn drawn(&mut self, layout: Layout, visits: usize) -> &[Exhibit] {
        let key = (layout, visits);
        if let Some(index) = self.drawn.iter().position(|(own, _)| *own == key) {
            return &self.drawn[index].1;
        }
        let room = self.frame.room(layout);
        let check = self.check.get(visits);
        let drawn = check.and_then(|check| {
            let measure = registered(check.measure)?;
            // What does not fit a width is refused, and then drawn otherwise.
            (measure.draw)(self.session, check, room).ok()
        });
        self.drawn.push((key, drawn.unwrap_or_default()));
        self.drawn.last().map_or(&[], |(_, drawn)| drawn)
    }

    fn summary(&self) -> Option<(Layout, Svg)> {
        self.first_that_fits(true, |room| {
            let drawn = overview::draw(self.session, self.findings, room)?;
            drawn.map(|exhibit| exhibit.svg).ok_or(ChartError::Nothing("no check has a value"))
        })
    }

    /// Before and after at every place of the check that has room, the telling one first.
    fn change(&self, comparison: usize, check: usize) -> Option<(Layout, Svg)> {
        let comparison = self.findings.comparisons.get(comparison)?;
        let changes = comparison.checks.get(check)?;
        let own = self.findings.check(&changes.check)?;
        let telling = sentences::telling_change(self.findings, changes)?;
        let others = changes.changes.iter().filter(|change| {
            change.what == own.main && !change.aside && !change.over_all_places && change.at != telling.at
        });
        let places: Vec<&Change> = std::iter::once(telling).chain(others).collect();
        let visits = vec![side(&comparison.before), side(&comparison.after)];
        (1..=places.len().min(6)).rev().find_map(|most| {
            let rows = places.iter().take(most).map(|change| {
                let found = vec![
                    Some(value(change, change.before, change.before_expanded)),
                    Some(value(change, change.after, change.after_expanded)),
                ];
                self.change_row(own, comparison, change, found)
            });
            self.summed(visits.clone(), rows.collect())
        })
    }

    fn change_row(
        &self,
        check: &CheckFindings,
        comparison: &ComparisonFindings,
        change: &Change,
        found: Vec<Option<Measured>>,
    ) -> SummaryRow {
        let mut row = self.row(check, &change.at, found);
        let after =
            check.visit(&comparison.after.visit).and_then(|visit| visit.finding(&change.at, check.main));
        let limit = after.and_then(|finding| exhibit::limit(finding.limit.as_ref()?, finding.unit));
        row.limit = limit.or(row.limit);
        row
    }

    fn row(&self, check: &CheckFindings, at: &str, found: Vec<Option<Measured>>) -> SummaryRow {
        let findings = || check.visits.iter().filter_map(|visit| visit.finding(at, check.main));
        let limit = findings().find_map(|finding| exhibit::limit(finding.limit.as_ref()?, finding.unit));
        let true_zero = findings().all(|finding| {
            finding.difference || !matches!(finding.unit.kind(), Kind::Level | Kind::Temperature)
        });
        let label = if at.is_empty() { check.title.clone() } else { at.to_owned() };
        SummaryRow { label, limit, true_zero, found }
    }

    fn summed(&self, visits: Vec<Visit>, rows: Vec<SummaryRow>) -> Option<(Layout, Svg)> {
        self.first_that_fits(false, |room| {
            let chart = Summary { width_pt: room.full, visits: visits.clone(), rows: rows.clone() };
            chart.draw_to(room.height)
        })
    }

    fn first_that_fits(
        &self,
        wide: bool,
        draw: impl Fn(Room) -> Result<Svg, ChartError>,
    ) -> Option<(Layout, Svg)> {
        self.frame.layouts(wide).iter().find_map(|layout| {
            let room = self.frame.room(*layout);
            let svg = draw(room).ok()?;
            room.height.is_none_or(|height| svg.height_pt <= height + SLACK).then_some((*layout, svg))
        })
    }
}

fn side(side: &Side) -> Visit {
    let title = crate::findings::claim::words::shortened(&side.title, 28);
    Visit { name: title, state: exhibit::state(side.state) }
}

/// One side of a change as charts draw it.
fn value(change: &Change, value: f64, expanded: Option<f64>) -> Measured {
    let text = expanded.map_or_else(
        || with_unit(&significant(value, 4), change.unit),
        |expanded| {
            let rounded = round_with_uncertainty(value, expanded);
            with_unit(&format!("{} ± {}", rounded.value, rounded.uncertainty), change.unit)
        },
    );
    Measured { value, uncertainty: expanded, text }
}
