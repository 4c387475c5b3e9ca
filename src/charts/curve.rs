//! Courses over time: a plot a place, one above the other on shared scales, and beneath them the speed
//! that was set, as steps.

use super::canvas::{Anchor, Canvas, Pen, Type};
use super::fit::{self, More};
use super::frame::{self, Frame, Scale, Values};
use super::labels::{EndLabel, end_labels};
use super::marks::{self, Keys, Sign};
use super::sheet::Layer;
use super::style::{DATA, FINE, HAIRLINE, INK, MARK, SMALL, SOFT_INK, TEXT};
use super::text::{self, Face};
use super::ticks::Ticks;
use super::{ChartError, Limit, Svg, Visit, clip::Rect};

/// Courses at one place or several.
#[derive(Debug, Clone, PartialEq)]
pub struct Curves {
    /// The width on the page in points.
    pub width_pt: f64,
    /// What was read: `Temperature`.
    pub name: String,
    /// The unit of all values, as it is written.
    pub unit: String,
    /// What stands along the axis: `Time, min`.
    pub time_name: String,
    /// A plot each.
    pub panels: Vec<Panel>,
    /// The speeds that were set, a visit each; none draws no plot of them.
    pub speeds: Vec<Speeds>,
    /// The name of the speeds with their unit: `Speed, rpm`.
    pub speed_name: String,
    /// The limit on the values.
    pub limit: Option<Limit>,
    /// The range of values to draw instead of one that fits the data. What lies outside is said.
    pub range: Option<(f64, f64)>,
    /// The range of time to draw instead of one that fits the data.
    pub time_range: Option<(f64, f64)>,
}

/// The courses at one place.
#[derive(Debug, Clone, PartialEq)]
pub struct Panel {
    /// The place.
    pub name: String,
    /// A course a visit.
    pub courses: Vec<Course>,
}

/// The course at one place at one visit.
#[derive(Debug, Clone, PartialEq)]
pub struct Course {
    /// The visit.
    pub visit: Visit,
    /// In the order of time.
    pub readings: Vec<TimedReading>,
    /// Fitted curves, each as points.
    pub fits: Vec<Vec<(f64, f64)>>,
    /// What the values are held against, as points: the ambient.
    pub ambient: Vec<(f64, f64)>,
}

/// A reading, or the mean of some in a row.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TimedReading {
    /// The time.
    pub time: f64,
    /// The value; one that is not finite is not drawn and breaks the line.
    pub value: f64,
    /// The lowest of those it is the mean of.
    pub low: f64,
    /// The highest.
    pub high: f64,
    /// Whether it was struck: then it is drawn as a cross and joined to nothing.
    pub struck: bool,
    /// Whether the line is broken before it.
    pub fresh: bool,
}

/// The speeds set at one visit.
#[derive(Debug, Clone, PartialEq)]
pub struct Speeds {
    /// The visit.
    pub visit: Visit,
    /// The time from which a speed was set, and the speed.
    pub steps: Vec<(f64, f64)>,
    /// When the last ended.
    pub until: f64,
}

/// From more readings on a course is a line without marks.
const MANY: usize = 60;
const SPEED_HEIGHT: f64 = 38.0;
const LABEL_ROOM: f64 = 78.0;
const LEADING: f64 = TEXT * text::LEADING;

/// Everything that the drawing needs to know before it begins.
struct Sheet {
    values: Values,
    speed_values: Option<Values>,
    left: f64,
    right: f64,
    time: (f64, f64),
    ticks: Vec<(f64, String)>,
    height: f64,
}

impl Curves {
    /// Draws the chart.
    pub fn draw(&self) -> Result<Svg, ChartError> {
        self.draw_to(None)
    }

    /// Draws the chart with plots as high as it takes to fill a height.
    pub fn draw_to(&self, height: Option<f64>) -> Result<Svg, ChartError> {
        fit::to(height, self.panels.len(), |more| self.drawn(more))
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
        let count = self.panels.len();
        for (index, panel) in self.panels.iter().enumerate() {
            let labelled = index + 1 == count && sheet.speed_values.is_none();
            y = self.draw_panel(&mut canvas, &sheet, panel, y, labelled);
        }
        if let Some(values) = &sheet.speed_values {
            y = self.draw_speeds(&mut canvas, &sheet, (values, more.of_strip(SPEED_HEIGHT)), y);
        }
        let kind = Type::new(SMALL, SOFT_INK).at(Anchor::Middle);
        let middle = f64::midpoint(sheet.left, sheet.right);
        canvas.words(middle, y + 9.0, &self.time_name, kind);
        y += 14.0;
        let keys = self.keys(&sheet);
        keys.draw(&mut canvas, sheet.left, y);
        canvas.finish(self.width_pt, y + keys.height() + 2.0)
    }

    /// The range of values and of time that fits the data, for charts that share them.
    pub fn ranges(&self) -> Option<((f64, f64), (f64, f64))> {
        Some((self.data_range()?, self.time_span()?))
    }

    fn courses(&self) -> impl Iterator<Item = &Course> {
        self.panels.iter().flat_map(|panel| &panel.courses)
    }

    fn readings(&self) -> impl Iterator<Item = &TimedReading> {
        self.courses().flat_map(|course| &course.readings)
    }

    fn check(&self) -> Result<(), ChartError> {
        super::sane_width(self.width_pt)?;
        super::finite_limit(self.limit.as_ref())?;
        for reading in self.readings() {
            super::finite(reading.time, "a time")?;
            for value in [reading.value, reading.low, reading.high].into_iter().filter(|v| v.is_finite()) {
                super::finite(value, "a reading")?;
            }
        }
        for (time, speed) in self.speeds.iter().flat_map(|speeds| &speeds.steps) {
            super::finite(*time, "a time")?;
            super::finite(*speed, "a speed")?;
        }
        for speeds in &self.speeds {
            super::finite(speeds.until, "a time")?;
        }
        Ok(())
    }

    fn data_range(&self) -> Option<(f64, f64)> {
        let kept = self.readings().filter(|reading| !reading.struck);
        let kept = kept.flat_map(|reading| [reading.value, reading.low, reading.high]);
        let lines = self.courses().flat_map(|course| course.fits.iter().flatten().chain(&course.ambient));
        let struck = self.readings().filter(|reading| reading.struck).map(|reading| reading.value);
        frame::range(kept.chain(lines.map(|(_, value)| *value)), struck, self.limit.as_ref())
    }

    fn time_span(&self) -> Option<(f64, f64)> {
        let ends = self.speeds.iter().map(|speeds| speeds.until);
        let starts = self.speeds.iter().flat_map(|speeds| speeds.steps.iter().map(|(time, _)| *time));
        frame::span(self.readings().map(|reading| reading.time).chain(ends).chain(starts))
    }

    fn sheet(&self, more: More) -> Result<Sheet, ChartError> {
        let nothing = ChartError::Nothing("no reading is finite");
        let most = if self.panels.len() > 2 { 5 } else { 6 };
        let values = Values::new(self.data_range().ok_or(nothing.clone())?, self.range, most)?;
        let (first, last) = self.time_range.or_else(|| self.time_span()).ok_or(nothing)?;
        super::finite(first, "a time")?;
        super::finite(last, "a time")?;
        let (first, last) = super::ticks::opened(first, last);
        let room = 0.012 * (last - first);
        let speed_values = self.speed_values()?;
        let labels = [Some(&values), speed_values.as_ref()].into_iter().flatten().map(Values::label_width);
        let left = labels.fold(0.0, f64::max) + 5.0;
        let names: Vec<String> = self
            .courses()
            .map(|course| &course.visit)
            .chain(self.distinct_speeds().iter().map(|speeds| &speeds.visit))
            .flat_map(|visit| text::wrap(&visit.name, TEXT, Face::Regular, LABEL_ROOM))
            .collect();
        let right =
            self.width_pt - text::widest(names.iter().map(String::as_str), TEXT, Face::Regular) - 10.0;
        if right - left < 40.0 {
            return Err(ChartError::TooNarrow { width_pt: self.width_pt });
        }
        let along = Ticks::inside(first, last, whole(((right - left) / 34.0).clamp(2.0, 12.0)));
        let ticks = along.values().into_iter().zip(along.labels()).collect();
        let height = more.of(match self.panels.len() {
            0 | 1 => 132.0,
            2 => 104.0,
            _ => 84.0,
        });
        Ok(Sheet { values, speed_values, left, right, time: (first - room, last + room), ticks, height })
    }

    fn speed_values(&self) -> Result<Option<Values>, ChartError> {
        let speeds = self.speeds.iter().flat_map(|speeds| speeds.steps.iter().map(|(_, speed)| *speed));
        let Some((low, high)) = frame::span(speeds) else { return Ok(None) };
        let (low, high) = (low.min(0.0), high.max(0.0));
        let high = if high > low { high + 0.12 * (high - low) } else { 1.0 };
        Values::new((low, high), None, 3).map(Some)
    }

    /// The schedules that are not those of a visit before.
    fn distinct_speeds(&self) -> Vec<&Speeds> {
        let mut distinct: Vec<&Speeds> = Vec::new();
        for speeds in self.speeds.iter().filter(|speeds| !speeds.steps.is_empty()) {
            if !distinct.iter().any(|other| other.steps == speeds.steps) {
                distinct.push(speeds);
            }
        }
        distinct
    }

    /// What belongs to a visit: its number among the visits of all places and schedules.
    fn layer(&self, visit: &Visit) -> Layer {
        let mut known: Vec<&Visit> = Vec::new();
        for one in self.courses().map(|course| &course.visit).chain(self.speeds.iter().map(|one| &one.visit))
        {
            if !known.contains(&one) {
                known.push(one);
            }
        }
        Layer::Visit(known.iter().position(|one| *one == visit).unwrap_or(0))
    }

    /// The names of a place's courses at their ends; `y` is a value still.
    fn end_labels(&self, panel: &Panel) -> Vec<EndLabel> {
        let end = |course: &Course| {
            let last =
                course.readings.iter().rfind(|reading| !reading.struck && reading.value.is_finite())?;
            Some(EndLabel {
                y: last.value,
                lines: text::wrap(&course.visit.name, TEXT, Face::Regular, LABEL_ROOM),
                colour: course.visit.state.word_colour(),
                layer: self.layer(&course.visit),
            })
        };
        panel.courses.iter().filter_map(end).collect()
    }

    /// One place under its name; returns where it ends.
    fn draw_panel(&self, canvas: &mut Canvas, sheet: &Sheet, panel: &Panel, top: f64, labelled: bool) -> f64 {
        let mut y = top;
        let kind = Type::new(TEXT, INK).strong();
        for line in text::wrap(&panel.name, TEXT, Face::Strong, sheet.right - sheet.left) {
            canvas.words(sheet.left, kind.centred_on(y + LEADING / 2.0), &line, kind);
            y += LEADING;
        }
        y += 2.0;
        let labels: Vec<EndLabel> = self.end_labels(panel);
        let lines: usize = labels.iter().map(|label| label.lines.len()).sum();
        let height = sheet.height.max(lines as f64 * LEADING);
        let area = Rect { left: sheet.left, top: y, right: sheet.right, bottom: y + height };
        let mut frame = sheet.frame(area, &sheet.values);
        frame.grid(canvas, &sheet.values, true);
        if let Some(limit) = &self.limit {
            frame.forbid(canvas, limit);
        }
        for course in &panel.courses {
            canvas.on(self.layer(&course.visit));
            frame.comes_across(canvas);
            draw_course(canvas, &mut frame, course);
        }
        canvas.on(Layer::Frame);
        let at = |label: EndLabel| {
            let y = frame.y.at(label.y).clamp(area.top, area.bottom);
            EndLabel { y, ..label }
        };
        for course in &panel.courses {
            canvas.within(self.layer(&course.visit), |canvas| lead(canvas, &frame, course));
        }
        let labels: Vec<EndLabel> = labels.into_iter().map(at).collect();
        end_labels(canvas, area.right + 8.0, &labels, area.top, area.bottom);
        frame.say_beyond(canvas);
        frame.floor(canvas, &sheet.ticks_or_marks(labelled));
        area.bottom + if labelled { 13.0 } else { 6.0 }
    }

    /// The speeds as steps; returns where they end.
    fn draw_speeds(
        &self,
        canvas: &mut Canvas,
        sheet: &Sheet,
        (values, height): (&Values, f64),
        top: f64,
    ) -> f64 {
        let kind = Type::new(TEXT, INK);
        canvas.words(0.0, kind.centred_on(top + LEADING / 2.0), &self.speed_name, kind);
        let y = top + LEADING + 3.0;
        let distinct = self.distinct_speeds();
        let name = |speeds: &Speeds| text::wrap(&speeds.visit.name, TEXT, Face::Regular, LABEL_ROOM);
        let lines: usize = distinct.iter().map(|speeds| name(speeds).len()).sum();
        let height = height.max(lines as f64 * LEADING);
        let area = Rect { left: sheet.left, top: y, right: sheet.right, bottom: y + height };
        let frame = sheet.frame(area, values);
        frame.grid(canvas, values, true);
        let mut labels = Vec::new();
        for speeds in &distinct {
            let state = speeds.visit.state;
            let colour = if distinct.len() > 1 { state.colour() } else { INK };
            let pen = Pen { colour, weight: DATA * 0.8, dashed: distinct.len() > 1 && state.is_dashed() };
            let layer = self.layer(&speeds.visit);
            canvas.on(layer);
            frame.comes_across(canvas);
            frame.line(canvas, &stairs(speeds), pen);
            canvas.on(Layer::Frame);
            if let Some((_, last)) = speeds.steps.last().filter(|_| distinct.len() > 1) {
                let y = frame.y.at(*last).clamp(area.top, area.bottom);
                labels.push(EndLabel { y, lines: name(speeds), colour: state.word_colour(), layer });
            }
        }
        end_labels(canvas, area.right + 8.0, &labels, area.top, area.bottom);
        frame.floor(canvas, &sheet.ticks_or_marks(true));
        area.bottom + 13.0
    }

    fn keys(&self, sheet: &Sheet) -> Keys {
        let mut keys = Vec::new();
        for course in self.courses() {
            let marked = course.readings.len() <= MANY;
            let state = course.visit.state;
            let key = if marked {
                (Sign::Joined(state), "readings".to_owned())
            } else {
                (Sign::Curve(state), "recorded".to_owned())
            };
            if !keys.iter().any(|(_, words)| *words == key.1) {
                keys.push(key);
            }
        }
        if self.courses().any(|course| !course.fits.is_empty()) {
            keys.push((Sign::Whisker, "fitted curve".to_owned()));
        }
        if self.courses().any(|course| !course.ambient.is_empty()) {
            keys.push((Sign::None, "dashed: ambient".to_owned()));
        }
        if self.readings().any(|reading| reading.struck) {
            keys.push((Sign::Cross, "struck".to_owned()));
        }
        if let Some(limit) = &self.limit {
            let seen =
                limit.edges().iter().any(|edge| *edge >= sheet.values.low && *edge <= sheet.values.high);
            keys.push(if seen {
                (Sign::Hatch, format!("beyond the limit, {}", limit.text))
            } else {
                (Sign::Limit, format!("{}: beyond this scale", limit.text))
            });
        }
        Keys::new(keys, self.width_pt - sheet.left)
    }
}

impl Sheet {
    fn frame(&self, area: Rect, values: &Values) -> Frame {
        let x = Scale { low: self.time.0, high: self.time.1, from: area.left, to: area.right };
        Frame::new(area, x, values.upward(&area))
    }

    /// The ticks along the time, with their labels or without.
    fn ticks_or_marks(&self, labelled: bool) -> Vec<(f64, String)> {
        let words = |label: &String| if labelled { label.clone() } else { String::new() };
        self.ticks.iter().map(|(value, label)| (*value, words(label))).collect()
    }
}

/// Leads the end of a course that ends early to its name.
fn lead(canvas: &mut Canvas, frame: &Frame, course: &Course) {
    let kept = |reading: &&TimedReading| !reading.struck && reading.value.is_finite();
    let Some(last) = course.readings.iter().rfind(kept) else { return };
    let (x, y) = frame.at(last.time, last.value);
    let right = frame.area.right;
    if right - x > 16.0 && frame.area.holds((x, y)) {
        let pen = Pen::solid(course.visit.state.colour().tint(120), HAIRLINE);
        canvas.line(&[(x + 4.0, y), (right + 1.0, y)], pen);
    }
}

fn draw_course(canvas: &mut Canvas, frame: &mut Frame, course: &Course) {
    let state = course.visit.state;
    let ambient = Pen { colour: state.colour().tint(200), weight: FINE, dashed: true };
    frame.line(canvas, &course.ambient, ambient);
    let kept: Vec<&TimedReading> = course.readings.iter().filter(|reading| !reading.struck).collect();
    let marked = course.readings.len() <= MANY;
    if !marked {
        for (x, low, high) in outline(frame, &kept) {
            let pen = Pen::solid(state.colour().tint(110), 1.0);
            canvas.line_within(&frame.area, &[(x, frame.y.at(low)), (x, frame.y.at(high))], pen);
        }
    }
    let pen = if marked { marks::joining(state) } else { marks::curve(state) };
    let mut line: Vec<(f64, f64)> = Vec::new();
    for reading in &kept {
        if reading.fresh && !line.is_empty() {
            frame.line(canvas, &std::mem::take(&mut line), pen);
        }
        line.push((reading.time, reading.value));
    }
    frame.line(canvas, &line, pen);
    for fit in &course.fits {
        // Over a recorded course it must leave the course's colour to be seen on both sides.
        frame.line(canvas, fit, Pen::solid(INK, if marked { FINE } else { HAIRLINE }));
    }
    let size = (frame.area.width() / kept.len().max(1) as f64 * 0.36).clamp(1.0, MARK * 0.8);
    for reading in &course.readings {
        if reading.struck {
            frame.cross(canvas, (reading.time, reading.value), state);
        } else if marked {
            frame.mark(canvas, (reading.time, reading.value), state, size);
        }
    }
}

/// The lowest and the highest sample of every column of the page a point wide, so that no spike is
/// lost. Columns without any spread are left out.
fn outline(frame: &Frame, readings: &[&TimedReading]) -> Vec<(f64, f64, f64)> {
    let mut columns: Vec<(f64, f64, f64)> = Vec::new();
    for reading in readings.iter().filter(|reading| reading.low.is_finite() && reading.high.is_finite()) {
        let x = frame.x.at(reading.time).floor() + 0.5;
        match columns.last_mut() {
            Some((column, low, high)) if (*column - x).abs() < 0.5 => {
                (*low, *high) = (low.min(reading.low), high.max(reading.high));
            }
            _ => columns.push((x, reading.low, reading.high)),
        }
    }
    columns.retain(|(_, low, high)| high > low);
    columns
}

/// The corners of a schedule.
fn stairs(speeds: &Speeds) -> Vec<(f64, f64)> {
    let mut corners = Vec::new();
    for (index, (from, speed)) in speeds.steps.iter().enumerate() {
        let to = speeds.steps.get(index + 1).map_or(speeds.until.max(*from), |(next, _)| *next);
        corners.extend([(*from, *speed), (to, *speed)]);
    }
    corners
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped before")]
fn whole(value: f64) -> usize {
    value as usize
}
