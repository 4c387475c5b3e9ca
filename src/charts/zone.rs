//! Straightness: heights along a line between the two parallel lines of its zone, a panel a visit.

mod panel;

use super::canvas::{Anchor, Canvas, Type};
use super::clip::Rect;
use super::fit::{self, More};
use super::frame::{self, Frame, Scale, Values};
use super::marks::{Keys, Sign};
use super::sheet::Layer;
use super::style::{INK, SMALL, SOFT_INK, TEXT};
use super::text::{self, Face};
use super::ticks::{self, Ticks};
use super::trace;
use super::{Bound, ChartError, Limit, Measured, Svg, Visit};

/// Heights along one line at one visit or more, each about the middle of its own zone: the two parallel
/// lines as close together as can be that hold the heights (the minimum zone; ISO 1101 and ISO 12780-1,
/// from memory). All panels share one scale of heights and one along the line.
#[derive(Debug, Clone, PartialEq)]
pub struct Zone {
    /// The width on the page in points.
    pub width_pt: f64,
    /// What was found: `Height above the middle of its zone`.
    pub name: String,
    /// The unit of all heights, as it is written.
    pub unit: String,
    /// What stands along the line: `Along the fence`.
    pub along_name: String,
    /// The unit along the line.
    pub along_unit: String,
    /// The visits in the order of their dates, a panel each.
    pub visits: Vec<ZoneVisit>,
    /// A limit on the zone's width, `AtMost` so much: two lines so far apart about zero, hatched beyond.
    /// Heights are about the zone's own middle, so the zone is within its limit exactly where it lies
    /// between them. Other bounds say nothing about a width and are not drawn.
    pub limit: Option<Limit>,
    /// The range of heights to draw instead of one that fits the data. What lies outside is said.
    pub range: Option<(f64, f64)>,
}

/// The heights of one visit.
#[derive(Debug, Clone, PartialEq)]
pub struct ZoneVisit {
    /// The visit.
    pub visit: Visit,
    /// The mean height at each position, (along, height), in ascending order; joined by a line. A
    /// position with no reading that counts is left out. Empty draws a panel that says `not read`.
    pub profile: Vec<(f64, f64)>,
    /// The single readings of all passes: (along, height, struck). A height that is not finite is not
    /// drawn; a struck one is a cross.
    pub readings: Vec<(f64, f64, bool)>,
    /// The heights of the zone's two lines, as far above zero as below.
    pub zone: (f64, f64),
    /// The positions that touch the zone, (along, height): they decide it.
    pub touching: Vec<(f64, f64)>,
    /// The zone's width, written beside the dimension line between its two lines.
    pub width: Option<Measured>,
}

const LEADING: f64 = TEXT * text::LEADING;
/// Between the floor of a panel and the head of the next, in points.
const BETWEEN: f64 = 8.0;
/// From the plot to the dimension line, and from there to its words, in points.
const DIMENSION: f64 = 9.0;
const DIMENSION_GAP: f64 = 5.0;
/// A plot narrower than this gives up the words beside it, in points.
const BESIDE_FROM: f64 = 140.0;

/// What all panels have in common.
struct Sheet {
    values: Values,
    left: f64,
    right: f64,
    /// Along the line, wider than the data by a little.
    along: (f64, f64),
    along_ticks: Ticks,
    /// Whether the words of the dimension line stand beside it; else in the panel's head.
    beside: bool,
    height: f64,
}

impl Zone {
    /// Draws the chart.
    pub fn draw(&self) -> Result<Svg, ChartError> {
        self.draw_to(None)
    }

    /// Draws the chart with plots as high as it takes to fill a height.
    pub fn draw_to(&self, height: Option<f64>) -> Result<Svg, ChartError> {
        fit::to(height, self.visits.len(), |more| self.drawn(more))
    }

    fn drawn(&self, more: More) -> Result<Svg, ChartError> {
        self.check()?;
        let sheet = self.sheet(more)?;
        let mut canvas = Canvas::default();
        let mut y = 0.0;
        let name = sheet.values.name(&self.name, &self.unit);
        for line in text::wrap(&name, TEXT, Face::Regular, self.width_pt) {
            canvas.words(0.0, y + TEXT * text::ABOVE, &line, Type::new(TEXT, INK));
            y += LEADING;
        }
        y += 3.0;
        for (index, visit) in self.visits.iter().enumerate() {
            let labelled = index + 1 == self.visits.len();
            y = self.draw_panel(&mut canvas, &sheet, (visit, Layer::Visit(index)), y, labelled);
        }
        y += frame::floor_baseline(0.0) - BETWEEN + 1.5;
        let kind = Type::new(SMALL, SOFT_INK).at(Anchor::Middle);
        let middle = f64::midpoint(sheet.left, sheet.right);
        for line in text::wrap(&self.along_words(&sheet), SMALL, Face::Regular, sheet.right - sheet.left) {
            y += SMALL * text::LEADING;
            canvas.words(middle, y, &line, kind);
        }
        y += 6.0;
        let keys = self.keys(&sheet);
        keys.draw(&mut canvas, sheet.left, y);
        canvas.finish(self.width_pt, y + keys.height() + 2.0)
    }

    fn check(&self) -> Result<(), ChartError> {
        super::sane_width(self.width_pt)?;
        super::finite_limit(self.limit.as_ref())?;
        for visit in &self.visits {
            for (along, height) in visit.profile.iter().chain(&visit.touching) {
                super::finite(*along, "a position along the line")?;
                super::finite(*height, "a height")?;
            }
            for (along, height, _) in &visit.readings {
                super::finite(*along, "a position along the line")?;
                if height.is_finite() {
                    super::finite(*height, "a reading")?;
                }
            }
            super::finite(visit.zone.0, "a line of a zone")?;
            super::finite(visit.zone.1, "a line of a zone")?;
            if let Some(width) = &visit.width {
                width.check("the width of a zone")?;
            }
        }
        Ok(())
    }

    /// The limit as heights, where it limits a width.
    fn heights_allowed(&self) -> Option<Limit> {
        let limit = self.limit.as_ref()?;
        match limit.bound {
            Bound::AtMost(width) if width > 0.0 => {
                let bound = Bound::Between(-width / 2.0, width / 2.0);
                Some(Limit { bound, text: limit.text.clone() })
            }
            _ => None,
        }
    }

    fn data_range(&self) -> Result<(f64, f64), ChartError> {
        let readings = |struck: bool| {
            let all = self.visits.iter().flat_map(|visit| &visit.readings);
            all.filter(move |reading| reading.2 == struck).map(|reading| reading.1)
        };
        let read = self.visits.iter().filter(|visit| visit.is_read());
        let lines = read.flat_map(|visit| [visit.zone.0, visit.zone.1]);
        let points = self.visits.iter().flat_map(|visit| visit.profile.iter().chain(&visit.touching));
        let kept = readings(false).chain(lines).chain(points.map(|point| point.1));
        frame::range(kept, readings(true), self.heights_allowed().as_ref())
            .ok_or(ChartError::Nothing("no height is finite"))
    }

    fn sheet(&self, more: More) -> Result<Sheet, ChartError> {
        let height: f64 = more.of(match self.visits.len() {
            0 | 1 => 104.0,
            2 => 80.0,
            3 => 68.0,
            _ => 56.0,
        });
        let values = Values::new(self.data_range()?, self.range, if height > 60.0 { 7 } else { 5 })?;
        let places = self.visits.iter().flat_map(|visit| {
            let points = visit.profile.iter().chain(&visit.touching).map(|point| point.0);
            points.chain(visit.readings.iter().map(|reading| reading.0))
        });
        let (first, last) = frame::span(places).ok_or(ChartError::Nothing("no height is finite"))?;
        let (first, last) = ticks::opened(first, last);
        let widths: Vec<Vec<String>> = self.visits.iter().filter_map(panel::width_lines).collect();
        let words = widths.iter().flatten().map(String::as_str);
        let words_room = text::widest(words, SMALL, Face::Regular) + DIMENSION + DIMENSION_GAP + 1.0;
        let room = self.width_pt - values.label_width() - 5.0;
        let beside = room - words_room >= BESIDE_FROM;
        let gutter = match (widths.is_empty(), beside) {
            (true, _) => 0.0,
            (false, true) => words_room,
            (false, false) => DIMENSION + 3.0,
        };
        let along_ticks = Ticks::inside(first, last, most_ticks(room - gutter));
        let half = text::widest(along_ticks.labels().iter().map(String::as_str), SMALL, Face::Regular) / 2.0;
        let left = (values.label_width() + 5.0).max(half);
        let right = self.width_pt - gutter.max(half) - 1.0;
        if right - left < 60.0 {
            return Err(ChartError::TooNarrow { width_pt: self.width_pt });
        }
        let lines = if beside { widths.iter().map(Vec::len).max().unwrap_or(0) } else { 0 };
        let height = height.max(lines as f64 * SMALL * text::LEADING);
        let aside = 0.015 * (last - first);
        let along = (first - aside, last + aside);
        Ok(Sheet { values, left, right, along, along_ticks, beside, height })
    }

    fn along_words(&self, sheet: &Sheet) -> String {
        let unit = sheet.along_ticks.unit(&self.along_unit);
        if unit.is_empty() { self.along_name.clone() } else { format!("{}, {unit}", self.along_name) }
    }

    /// One visit under its name; returns where the next begins.
    fn draw_panel(
        &self,
        canvas: &mut Canvas,
        sheet: &Sheet,
        (visit, layer): (&ZoneVisit, Layer),
        top: f64,
        labelled: bool,
    ) -> f64 {
        let words = visit.width.as_ref().filter(|_| !sheet.beside).map_or("", |width| &width.text);
        canvas.on(layer);
        let top = trace::head(canvas, &visit.visit, words, (sheet.left, sheet.right), top);
        let area = Rect { left: sheet.left, top, right: sheet.right, bottom: top + sheet.height };
        let x = Scale { low: sheet.along.0, high: sheet.along.1, from: area.left, to: area.right };
        let mut frame = Frame::new(area, x, sheet.values.upward(&area));
        frame.comes_across(canvas);
        if visit.is_read() {
            panel::draw_ground(canvas, &frame, visit);
        }
        canvas.within(Layer::Frame, |canvas| frame.grid(canvas, &sheet.values, true));
        if let Some(limit) = self.heights_allowed() {
            frame.forbid(canvas, &limit);
        }
        if visit.is_read() {
            panel::draw(canvas, &mut frame, visit);
            panel::draw_dimension(canvas, &frame, visit, sheet.beside);
        } else {
            panel::say_not_read(canvas, &frame);
        }
        canvas.on(Layer::Frame);
        let ticks = sheet.along_ticks.values().into_iter().zip(sheet.along_ticks.labels());
        let ticks: Vec<(f64, String)> =
            ticks.map(|(value, label)| (value, if labelled { label } else { String::new() })).collect();
        frame.floor(canvas, &ticks);
        area.bottom + BETWEEN
    }

    fn keys(&self, sheet: &Sheet) -> Keys {
        let mut keys = Vec::new();
        if let Some(visit) = self.visits.iter().find(|visit| visit.is_read()) {
            let state = visit.visit.state;
            keys.push((Sign::Curve(state), "mean at each position".to_owned()));
            let width = sheet.right - sheet.left;
            let read = || self.visits.iter().filter(|visit| visit.readings.iter().any(|one| !one.2));
            if read().any(|visit| panel::are_dots(visit, width)) {
                keys.push((Sign::Dots(state), "readings".to_owned()));
            }
            if read().any(|visit| !panel::are_dots(visit, width)) {
                keys.push((Sign::None, "behind the line: readings, lowest to highest".to_owned()));
            }
            if self.visits.iter().any(|visit| !visit.touching.is_empty()) {
                keys.push((Sign::Mark(state), "touches its zone".to_owned()));
            }
            keys.push((Sign::Tint(state), "the zone".to_owned()));
        }
        if self.visits.iter().any(|visit| visit.readings.iter().any(|reading| reading.2)) {
            keys.push((Sign::Cross, "struck".to_owned()));
        }
        if let Some(limit) = self.heights_allowed() {
            let edges = limit.edges();
            let hatched = |edge: &f64| {
                if *edge > 0.0 { *edge < sheet.values.high } else { *edge > sheet.values.low }
            };
            keys.push(if edges.iter().any(hatched) {
                (Sign::Hatch, format!("beyond the limit, {}", limit.text))
            } else {
                (Sign::Limit, format!("{}: beyond this scale", limit.text))
            });
        }
        Keys::new(keys, self.width_pt - sheet.left)
    }
}

impl ZoneVisit {
    fn is_read(&self) -> bool {
        !self.profile.is_empty()
    }
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped before")]
fn most_ticks(width: f64) -> usize {
    (width / 34.0).clamp(2.0, 12.0) as usize
}
