//! Which chart a picture shows, and how words and chart share the page: the first that fits of what a chart of
//! its kind likes, the other layout, fewer visits, and in the end a row of the summary.

use super::layout::{Frame, Layout, Words};
use super::number::Number;
use super::{Still, Subject};
use crate::charts::exhibit::{self, Exhibit, Measure, Room};
use crate::charts::summary::{Summary, SummaryRow};
use crate::charts::{Measured, Svg, Visit, overview};
use crate::findings::claim::words::shortened;
use crate::findings::{Change, CheckFindings, ComparisonFindings, Findings, Side, sentences};
use crate::quantity::{Kind, round_with_uncertainty, significant, with_unit};
use crate::registry::registered;
use crate::session::Session;

/// A picture's chart with its words.
#[derive(Debug)]
pub(super) struct Chosen {
    pub(super) layout: Layout,
    pub(super) svg: Option<Svg>,
    pub(super) words: Words,
}

/// Draws the charts of one check, or of the summary, and keeps them: a check's exhibits are drawn together.
pub(super) struct Drawer<'a> {
    pub(super) session: &'a Session,
    pub(super) findings: &'a Findings,
    frame: Frame,
    /// The check with all its visits, and where they are more than two, with the first and the last.
    check: Vec<CheckFindings>,
    drawn: Vec<(Layout, usize, Vec<Exhibit>)>,
}

/// What a picture shows, as far as it is pared: a chart and what its sentence adds.
type Drawn = Option<(Svg, String)>;

/// A height is kept to within this, in points: what an SVG rounds.
const SLACK: f64 = 0.05;
/// Room that words leave is worth drawing again for if it is more than this, in points.
const WORTH: f64 = 4.0;

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

    /// The chart, the layout and the words of a picture.
    pub(super) fn choose(&mut self, still: &Still, number: &Number) -> Chosen {
        let (layout, pared, drawn) = self.first_that_fits(still);
        let (svg, more) = drawn.map_or((None, String::new()), |(svg, more)| (Some(svg), more));
        let sentence = format!("{} {more}", self.sentence(still, pared));
        let words = self.frame.words(layout, number, sentence.trim());
        let room = self.frame.room_under(layout, words.bottom());
        let spare = room.height.unwrap_or(0.0) - self.frame.room(layout).height.unwrap_or(0.0);
        // Few words leave a chart more room than it was drawn for.
        let again = if spare > WORTH { self.draw(still, room, pared) } else { None };
        let larger = again.filter(|(svg, own)| fits(svg, room) && *own == more);
        let svg = larger.map(|(svg, _)| svg).or(svg);
        Chosen { layout, svg, words }
    }

    /// The layout in which a chart fits, how far it is pared (0 not at all), and the chart.
    fn first_that_fits(&mut self, still: &Still) -> (Layout, usize, Drawn) {
        let wide = self.likes_width(still);
        let layouts = self.frame.layouts(wide);
        let fallback = layouts.first().copied().unwrap_or(Layout::Above);
        if still.subject == Subject::Summary {
            return self
                .fullest(layouts)
                .map_or((fallback, 0, None), |(layout, drawn)| (layout, 0, Some(drawn)));
        }
        for pared in 0..=SUMMED {
            for layout in layouts {
                let room = self.frame.room(*layout);
                if let Some(drawn) = self.drawn(still, *layout, pared).filter(|(svg, _)| fits(svg, room)) {
                    return (*layout, pared, Some(drawn));
                }
            }
        }
        (fallback, 0, None)
    }

    /// The layout in which the summary has most rows.
    fn fullest(&self, layouts: &[Layout]) -> Option<(Layout, (Svg, String))> {
        let mut best: Option<(usize, Layout, (Svg, String))> = None;
        for layout in layouts {
            let room = self.frame.room(*layout);
            let drawn = overview::draw_with_rows(self.session, self.findings, room).ok().flatten();
            if let Some((exhibit, rows)) = drawn.filter(|(exhibit, _)| fits(&exhibit.svg, room)) {
                if best.as_ref().is_none_or(|(most, ..)| rows > *most) {
                    best = Some((rows, *layout, (exhibit.svg, exhibit.title)));
                }
            }
        }
        best.map(|(_, layout, drawn)| (layout, drawn))
    }

    /// Whether a chart takes the whole width of a page on paper.
    fn likes_width(&mut self, still: &Still) -> bool {
        match still.subject {
            Subject::Summary => true,
            Subject::Change { .. } => false,
            Subject::Exhibit { exhibit, .. } => {
                let first = self.frame.layouts(false).first().copied().unwrap_or(Layout::Above);
                self.keep(first, 0);
                let mut drawn = self.drawn.iter().flat_map(|(.., list)| list);
                drawn.any(|one| one.name == exhibit && one.measure == Measure::Full)
            }
        }
    }

    /// The sentence: with names of visits as short as the picture has them, and of no visit that it has not.
    fn sentence(&self, still: &Still, pared: usize) -> String {
        let own = match &still.subject {
            Subject::Summary => sentences::answer(self.session, self.findings).pop(),
            Subject::Exhibit { exhibit, .. } => {
                let own = self.drawn.iter().filter(|(_, by, _)| *by == pared);
                let any = own.chain(&self.drawn).flat_map(|(.., list)| list);
                any.filter(|drawn| drawn.name == *exhibit).map(|drawn| drawn.title.clone()).next()
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

    /// The chart in a layout, from what was drawn before where that is one of a check's exhibits.
    fn drawn(&mut self, still: &Still, layout: Layout, pared: usize) -> Drawn {
        match still.subject {
            Subject::Exhibit { exhibit, .. } if pared < SUMMED => {
                self.keep(layout, pared);
                let (.., list) = self.drawn.iter().find(|(own, by, _)| (*own, *by) == (layout, pared))?;
                list.iter().find(|one| one.name == exhibit).map(|one| (one.svg.clone(), String::new()))
            }
            _ => self.draw(still, self.frame.room(layout), pared),
        }
    }

    /// Draws the chart in a room.
    fn draw(&self, still: &Still, room: Room, pared: usize) -> Drawn {
        let svg = match still.subject {
            Subject::Summary => {
                let exhibit = overview::draw(self.session, self.findings, room).ok()??;
                return Some((exhibit.svg, exhibit.title));
            }
            Subject::Exhibit { exhibit, .. } if pared < SUMMED => {
                let drawn = self.exhibits(room, pared);
                drawn.into_iter().find(|one| one.name == exhibit)?.svg
            }
            Subject::Exhibit { .. } => self.as_row(room)?,
            Subject::Change { comparison, check } => self.change(room, comparison, check)?,
        };
        Some((svg, String::new()))
    }

    /// Draws the exhibits of the check in a layout, unless that was done.
    fn keep(&mut self, layout: Layout, pared: usize) {
        if !self.drawn.iter().any(|(own, by, _)| (*own, *by) == (layout, pared)) {
            let drawn = self.exhibits(self.frame.room(layout), pared);
            self.drawn.push((layout, pared, drawn));
        }
    }

    /// The exhibits of the check, with all its visits (0) or the first and the last (1).
    fn exhibits(&self, room: Room, pared: usize) -> Vec<Exhibit> {
        let drawn = self.check.get(pared).and_then(|check| {
            let measure = registered(check.measure)?;
            // What does not fit a width is refused, and then drawn otherwise.
            (measure.draw)(self.session, check, room).ok()
        });
        drawn.unwrap_or_default()
    }

    /// The row of the summary, where no chart of the check's own has room.
    fn as_row(&self, room: Room) -> Option<Svg> {
        let check = self.check.last()?;
        let at = sentences::telling_place(check)?.to_owned();
        let visits = check.visits.iter().map(|found| exhibit::visit(self.session, found)).collect();
        let found = check.visits.iter().map(|visit| exhibit::measured(visit.finding(&at, check.main)?));
        let row = row(check, &at, found.collect());
        summed(room, visits, vec![row])
    }

    /// Before and after at every place of the check that has room, the telling one first.
    fn change(&self, room: Room, comparison: usize, check: usize) -> Option<Svg> {
        let comparison = self.findings.comparisons.get(comparison)?;
        let changes = comparison.checks.get(check)?;
        let own = self.findings.check(&changes.check)?;
        let telling = sentences::telling_change(self.findings, changes)?;
        let others = changes.changes.iter().filter(|change| {
            change.what == own.main && !change.aside && !change.over_all_places && change.at != telling.at
        });
        let places: Vec<&Change> = std::iter::once(telling).chain(others).collect();
        let visits = vec![side(&comparison.before), side(&comparison.after)];
        (1..=places.len().min(MOST_PLACES)).rev().find_map(|most| {
            let rows = places.iter().take(most).map(|change| change_row(own, comparison, change)).collect();
            summed(room, visits.clone(), rows).filter(|svg| fits(svg, room))
        })
    }
}

/// How far a check's exhibits can be pared before they are no more than a row of the summary.
const SUMMED: usize = 2;
/// More places of a change than this are left to the report.
const MOST_PLACES: usize = 6;

fn fits(svg: &Svg, room: Room) -> bool {
    room.height.is_none_or(|height| svg.height_pt <= height + SLACK)
}

fn summed(room: Room, visits: Vec<Visit>, rows: Vec<SummaryRow>) -> Option<Svg> {
    Summary { width_pt: room.full, visits, rows }.draw_to(room.height).ok()
}

fn change_row(check: &CheckFindings, comparison: &ComparisonFindings, change: &Change) -> SummaryRow {
    let found = vec![
        Some(value(change, change.before, change.before_expanded)),
        Some(value(change, change.after, change.after_expanded)),
    ];
    let mut row = row(check, &change.at, found);
    let after = check.visit(&comparison.after.visit).and_then(|visit| visit.finding(&change.at, check.main));
    let limit = after.and_then(|finding| exhibit::limit(finding.limit.as_ref()?, finding.unit));
    row.limit = limit.or(row.limit);
    row
}

fn row(check: &CheckFindings, at: &str, found: Vec<Option<Measured>>) -> SummaryRow {
    let findings = || check.visits.iter().filter_map(|visit| visit.finding(at, check.main));
    let limit = findings().find_map(|finding| exhibit::limit(finding.limit.as_ref()?, finding.unit));
    let true_zero = findings()
        .all(|finding| finding.difference || !matches!(finding.unit.kind(), Kind::Level | Kind::Temperature));
    // The check itself is named by the sentence.
    SummaryRow { label: shortened(at, 40), limit, true_zero, found }
}

fn side(side: &Side) -> Visit {
    Visit { name: shortened(&side.title, 28), state: exhibit::state(side.state) }
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
