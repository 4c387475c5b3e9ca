//! Out of parallel, out of square: how far one line leans away from another over a distance.

mod plot;

use super::canvas::{Anchor, Canvas, Type};
use super::clip::Rect;
use super::fit::{self, More};
use super::frame::{self, Frame, Scale, Values};
use super::labels::{self, EndLabel};
use super::marks::{Keys, Sign};
use super::sheet::Layer;
use super::style::{INK, SMALL, SOFT_INK, TEXT};
use super::text::{self, Face};
use super::ticks::Ticks;
use super::{Bound, ChartError, Limit, Measured, Reading, Svg, Visit};

/// Lines that lean away from one reference, all from one point on it. The reference lies level; how steep
/// the lines are drawn is a matter of the two scales, which is said where the units allow it.
#[derive(Debug, Clone, PartialEq)]
pub struct Lean {
    /// The width on the page in points.
    pub width_pt: f64,
    /// What was found: `Rear less front`.
    pub name: String,
    /// The unit of the departures, as it is written.
    pub unit: String,
    /// What stands along the reference: `From front to rear`.
    pub along_name: String,
    /// The unit along the reference.
    pub along_unit: String,
    /// The words at the reference: `the slot`, `true square`.
    pub reference: String,
    /// The visits in the order of their dates.
    pub visits: Vec<LeanVisit>,
    /// A limit on the slope, as the departure in `unit` at a distance over zero in `along_unit`. `AtMost`
    /// (zero or more) holds for leaning either way; below zero it is not drawn. `AtLeast` and `Between`
    /// are heights with their signs.
    pub limit: Option<(Limit, f64)>,
    /// The range of departures to draw instead of one that fits the data. What lies outside is said.
    pub range: Option<(f64, f64)>,
    /// How many of `unit` make one of `along_unit` (over zero): 39.37 thou make 1 mm. `None` where they
    /// are not of one kind; then it is not said how much too steep the lines are drawn.
    pub unit_per_along: Option<f64>,
}

/// What was found at one visit.
#[derive(Debug, Clone, PartialEq)]
pub struct LeanVisit {
    /// The visit.
    pub visit: Visit,
    /// The distance over which it was measured, over zero, in `along_unit`: there the line ends.
    pub over: f64,
    /// The departure at that distance: `3.0 ± 0.6 thou over 180 mm`.
    pub found: Measured,
    /// The departures by single readings at that distance.
    pub readings: Vec<Reading>,
}

const PLOT_HEIGHT: f64 = 118.0;
const LEADING: f64 = TEXT * text::LEADING;
const LABEL_ROOM: f64 = 84.0;
/// From the plot to the labels, in points.
const LABEL_GAP: f64 = 8.0;
/// From a line's end to its first lane of dots, and from lane to lane, in points.
const LANE_FROM: f64 = 6.0;
const LANE: f64 = 5.0;

/// Where everything goes.
struct Sheet {
    values: Values,
    area: Rect,
    x: Scale,
    along: Ticks,
    /// The limit in departures at the right edge of the plot: above which and below which nothing may be.
    limit: (Option<f64>, Option<f64>),
}

impl Lean {
    /// Draws the chart.
    pub fn draw(&self) -> Result<Svg, ChartError> {
        self.draw_to(None)
    }

    /// Draws the chart with plots as high as it takes to fill a height.
    pub fn draw_to(&self, height: Option<f64>) -> Result<Svg, ChartError> {
        fit::to(height, 1, |more| self.drawn(more))
    }

    fn drawn(&self, more: More) -> Result<Svg, ChartError> {
        self.check()?;
        let head = self.head();
        let sheet = self.sheet(LEADING * head.len() as f64 + 6.0, more)?;
        let mut canvas = Canvas::default();
        for (index, line) in head.iter().enumerate() {
            let baseline = TEXT * text::ABOVE + LEADING * index as f64;
            canvas.words(0.0, baseline, line, Type::new(TEXT, INK));
        }
        let mut frame = Frame::new(sheet.area, sheet.x, sheet.values.upward(&sheet.area));
        plot::draw(&mut canvas, &mut frame, self, &sheet);
        let limit_label = self.limit_label(&frame, &sheet);
        let mut labels = self.end_labels(&frame);
        labels.extend(limit_label.clone());
        let (top, bottom) = (sheet.area.top - 4.0, sheet.area.bottom + 4.0);
        labels::end_labels(&mut canvas, sheet.area.right + LABEL_GAP, &labels, top, bottom);
        let mut y = frame::floor_baseline(sheet.area.bottom) + 1.5;
        let kind = Type::new(SMALL, SOFT_INK).at(Anchor::Middle);
        let middle = f64::midpoint(sheet.area.left, sheet.area.right);
        for line in text::wrap(&self.along_words(&sheet), SMALL, Face::Regular, sheet.area.width()) {
            y += SMALL * text::LEADING;
            canvas.words(middle, y, &line, kind);
        }
        y += 6.0;
        let keys = self.keys(&frame, &sheet, limit_label.is_some());
        keys.draw(&mut canvas, sheet.area.left, y);
        canvas.finish(self.width_pt, y + keys.height() + 2.0)
    }

    fn check(&self) -> Result<(), ChartError> {
        super::sane_width(self.width_pt)?;
        let limit = self.limit.iter().map(|(_, over)| (*over, "the distance of a limit"));
        let visits = self.visits.iter().map(|visit| (visit.over, "a distance"));
        let factor = self.unit_per_along.iter().map(|factor| (*factor, "a factor of units"));
        for (value, what) in limit.chain(visits).chain(factor) {
            super::finite(value, what)?;
            // Below this, quotients overflow.
            if value < 1e-150 {
                return Err(ChartError::Nothing("a distance or a factor of units is not above zero"));
            }
        }
        super::finite_limit(self.limit.as_ref().map(|(limit, _)| limit))?;
        for visit in &self.visits {
            visit.found.check("a departure")?;
            for reading in visit.readings.iter().filter(|reading| reading.value.is_finite()) {
                super::finite(reading.value, "a reading")?;
            }
        }
        Ok(())
    }

    /// The limit in departures at a distance: above which and below which nothing may be.
    fn limit_at(&self, along: f64) -> Result<(Option<f64>, Option<f64>), ChartError> {
        let Some((limit, over)) = &self.limit else { return Ok((None, None)) };
        let (above, below) = match limit.bound {
            Bound::AtMost(edge) if edge >= 0.0 => (Some(edge), Some(-edge)),
            Bound::AtMost(_) => (None, None),
            Bound::AtLeast(_) | Bound::Between(..) => limit.above_and_below(),
        };
        let there = |edge: Option<f64>| edge.map(|edge| edge * (along / over));
        let (above, below) = (there(above), there(below));
        for edge in [above, below].into_iter().flatten() {
            super::finite(edge, "a limit")?;
        }
        Ok((above, below))
    }

    fn data_range(&self, far: f64) -> Result<(f64, f64), ChartError> {
        let found = self.visits.iter().map(|visit| &visit.found);
        let ends = found.flat_map(|found| [found.value - found.half(), found.value + found.half()]);
        let readings = |struck: bool| {
            let all = self.visits.iter().flat_map(|visit| &visit.readings);
            all.filter(move |reading| reading.struck == struck).map(|reading| reading.value)
        };
        let bound = match self.limit_at(far)? {
            (Some(above), Some(below)) => Some(Bound::Between(below, above)),
            (Some(above), None) => Some(Bound::AtMost(above)),
            (None, below) => below.map(Bound::AtLeast),
        };
        let limit = bound.map(|bound| Limit { bound, text: String::new() });
        // Leaning is seen against the reference.
        frame::range(ends.chain(readings(false)).chain([0.0]), readings(true), limit.as_ref())
            .ok_or(ChartError::Nothing("no departure"))
    }

    fn sheet(&self, top: f64, more: More) -> Result<Sheet, ChartError> {
        let far = self.visits.iter().map(|visit| visit.over).fold(0.0, f64::max);
        if self.visits.is_empty() {
            return Err(ChartError::Nothing("no visit"));
        }
        let values = Values::new(self.data_range(far)?, self.range, 7)?;
        let labels = self.all_label_lines();
        let width = text::widest(labels.iter().map(String::as_str), TEXT, Face::Regular);
        let left = (values.label_width() + 5.0).max(8.0);
        let right = self.width_pt - width - LABEL_GAP - 2.0;
        if right - left < 80.0 {
            return Err(ChartError::TooNarrow { width_pt: self.width_pt });
        }
        let height = more.of(PLOT_HEIGHT).max(labels.len() as f64 * LEADING);
        let area = Rect { left, top, right, bottom: top + height };
        // Right of the farthest end stand its dots, and no less than a mark's room.
        let room = LANE_FROM + LANE * self.visits.len() as f64;
        let per_point = far / (area.width() - room);
        let high = area.width() * per_point;
        super::finite(high, "a distance")?;
        let x = Scale { low: 0.0, high, from: left, to: right };
        let along = Ticks::inside(0.0, high, most_ticks(area.width()));
        Ok(Sheet { values, area, x, along, limit: self.limit_at(high)? })
    }

    fn head(&self) -> Vec<String> {
        // The unit of the labels is known only with the axis; where that fails the chart does too.
        let far = self.visits.iter().map(|visit| visit.over).fold(0.0, f64::max);
        let values = self.data_range(far).and_then(|range| Values::new(range, self.range, 7));
        let name = values.map_or_else(|_| self.name.clone(), |values| values.name(&self.name, &self.unit));
        text::wrap(&name, TEXT, Face::Regular, self.width_pt)
    }

    fn along_words(&self, sheet: &Sheet) -> String {
        let unit = sheet.along.unit(&self.along_unit);
        if unit.is_empty() { self.along_name.clone() } else { format!("{}, {unit}", self.along_name) }
    }

    /// Every line that may stand right of the plot.
    fn all_label_lines(&self) -> Vec<String> {
        let visits = self.visits.iter().flat_map(visit_lines);
        visits.chain(wrapped(&self.reference)).chain(self.limit_lines()).collect()
    }

    fn limit_lines(&self) -> Vec<String> {
        self.limit.as_ref().map(|(limit, _)| over_lines(&limit.text)).unwrap_or_default()
    }

    /// The name and the value of each visit at the end of its line, and the words of the reference.
    fn end_labels(&self, frame: &Frame) -> Vec<EndLabel> {
        let held = |value: f64| frame.y.at(value).clamp(frame.area.top, frame.area.bottom);
        let visit = |(index, visit): (usize, &LeanVisit)| EndLabel {
            y: held(visit.found.value),
            lines: visit_lines(visit),
            colour: visit.visit.state.word_colour(),
            layer: Layer::Visit(index),
        };
        let mut labels: Vec<EndLabel> = self.visits.iter().enumerate().map(visit).collect();
        let lines = wrapped(&self.reference);
        if !lines.is_empty() && frame.area.holds((frame.area.left, frame.y.at(0.0))) {
            labels.push(EndLabel { y: frame.y.at(0.0), lines, colour: SOFT_INK, layer: Layer::Frame });
        }
        labels
    }

    /// The words of the limit at the end of its edge, where an edge ends at the right of the plot.
    fn limit_label(&self, frame: &Frame, sheet: &Sheet) -> Option<EndLabel> {
        let edges = [sheet.limit.0, sheet.limit.1].into_iter().flatten().map(|edge| frame.y.at(edge));
        let y = edges.into_iter().find(|y| *y >= frame.area.top && *y <= frame.area.bottom)?;
        Some(EndLabel { y, lines: self.limit_lines(), colour: INK, layer: Layer::Limit })
    }

    fn keys(&self, frame: &Frame, sheet: &Sheet, limit_is_named: bool) -> Keys {
        let mut keys = Vec::new();
        let readings = || self.visits.iter().flat_map(|visit| &visit.readings);
        let dotted = self.visits.iter().find(|visit| visit.readings.iter().any(|one| !one.struck));
        if let Some(visit) = dotted {
            keys.push((Sign::Dots(visit.visit.state), "readings, beside the line's end".to_owned()));
        }
        if readings().any(|reading| reading.struck) {
            keys.push((Sign::Cross, "struck".to_owned()));
        }
        if self.visits.iter().any(|visit| visit.found.half() > 0.0) {
            keys.push((Sign::Whisker, "± U, 95 %".to_owned()));
        }
        if let Some((limit, _)) = &self.limit
            && !limit_is_named
            && sheet.limit != (None, None)
        {
            keys.push(if plot::is_hatched(frame, sheet) {
                (Sign::Hatch, format!("beyond the limit, {}", limit.text))
            } else {
                (Sign::Limit, format!("{}: beyond this scale", limit.text))
            });
        }
        if let Some(times) = self.steepness(frame) {
            keys.push((Sign::None, format!("the lean is drawn about {times} times as steep as it is")));
        }
        Keys::new(keys, self.width_pt - frame.area.left)
    }

    /// How many times as steep as they are the lines are drawn, to two digits.
    fn steepness(&self, frame: &Frame) -> Option<String> {
        let up = frame.area.height() / (frame.y.high - frame.y.low);
        let along = frame.area.width() / (frame.x.high - frame.x.low);
        let times = up * self.unit_per_along? / along;
        if !times.is_finite() || times <= 0.0 {
            return None;
        }
        // Through its digits, so that 350 is not 350.00000000000006.
        let rounded: f64 = format!("{times:.1e}").parse().ok()?;
        Some(labels::plain_number(rounded))
    }
}

fn wrapped(words: &str) -> Vec<String> {
    text::wrap(words, TEXT, Face::Regular, LABEL_ROOM)
}

/// The name of a visit and what was found.
fn visit_lines(visit: &LeanVisit) -> Vec<String> {
    wrapped(&visit.visit.name).into_iter().chain(over_lines(&visit.found.text)).collect()
}

/// `3.0 ± 0.6 thou over 180 mm`, broken before the distance where it does not fit on one line.
fn over_lines(words: &str) -> Vec<String> {
    match words.split_once(" over ") {
        Some((value, over)) if text::width(words, TEXT, Face::Regular) > LABEL_ROOM => {
            wrapped(value).into_iter().chain(wrapped(&format!("over {over}"))).collect()
        }
        _ => wrapped(words),
    }
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped before")]
fn most_ticks(width: f64) -> usize {
    (width / 34.0).clamp(2.0, 12.0) as usize
}
