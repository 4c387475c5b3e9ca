//! A number against the settings it was found at: speeds along an axis, or stocks side by side.

mod under;

use super::canvas::{Canvas, Pen, Type};
use super::clip::Rect;
use super::fit::{self, More};
use super::frame::{self, Frame, Scale, Values};
use super::labels::{self, EndLabel, LimitLabel};
use super::marks::{self, Keys, Sign};
use super::sheet::Layer;
use super::style::{DATA, FINE, HAIRLINE, HAIRLINE_GREY, INK, MARK, Rgb, SMALL, TEXT};
use super::text::{self, Face};
use super::{ChartError, Limit, Measured, Reading, Svg, Visit};

/// A value with its whisker at each setting, for one visit or more.
#[derive(Debug, Clone, PartialEq)]
pub struct Settings {
    /// The width on the page in points.
    pub width_pt: f64,
    /// What was found: `Level`.
    pub name: String,
    /// The unit of the values, as it is written.
    pub unit: String,
    /// What lies along the bottom.
    pub along: Along,
    /// The visits in the order of their dates.
    pub visits: Vec<SettingsVisit>,
    /// The limit on the values.
    pub limit: Option<Limit>,
    /// Whether the axis of values begins at zero (or ends there), as sizes are seen.
    pub from_zero: bool,
    /// The range of values to draw instead of one that fits the data. What lies outside is said.
    pub range: Option<(f64, f64)>,
}

/// What lies along the bottom.
#[derive(Debug, Clone, PartialEq)]
pub enum Along {
    /// Numbers on an axis with round ticks; what was found at each visit is joined by a line.
    Numbers {
        /// What is set: `Set speed`.
        name: String,
        /// The unit of [`SettingPoint::at`].
        unit: String,
    },
    /// Names side by side, joined by nothing.
    Names(Vec<String>),
}

/// What was found at one visit.
#[derive(Debug, Clone, PartialEq)]
pub struct SettingsVisit {
    /// The visit.
    pub visit: Visit,
    /// The settings of this visit, in any order; another visit may have others.
    pub points: Vec<SettingPoint>,
}

/// What was found at one setting.
#[derive(Debug, Clone, PartialEq)]
pub struct SettingPoint {
    /// The setting in the unit of the axis; along names, the place in their list, from 0.
    pub at: f64,
    /// What was found; `None` where the single readings are all there is.
    pub found: Option<Found>,
    /// The single readings, drawn as small dots; struck ones as crosses. May be empty.
    pub readings: Vec<Reading>,
    /// Words that belong under the name of this place: `As found: 1 of 3 stalled`. Drawn along
    /// names only.
    pub remark: Option<String>,
}

/// A value, or what can be said where no value can be given.
#[derive(Debug, Clone, PartialEq)]
pub enum Found {
    /// A value with its whisker.
    Value(Measured),
    /// Not more than this, with its words: `at most 49.1 dBA`.
    AtMost(f64, String),
    /// Not less than this, with its words.
    AtLeast(f64, String),
}

const PLOT_HEIGHT: f64 = 110.0;
/// Visits at one setting stand this far from each other where there is room, in points.
const ASIDE: f64 = 3.4;
const NAME_ROOM: f64 = 72.0;

impl Settings {
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
        let (near, far) = self.ends()?;
        let values = Values::new(self.data_range()?, self.range, 7)?;
        let left = values.label_width() + 5.0;
        let limit_label = LimitLabel::new(self.limit.as_ref());
        let right = self.width_pt - self.end_room(&limit_label) - 4.0;
        if right - left < 80.0 {
            return Err(ChartError::TooNarrow { width_pt: self.width_pt });
        }
        let leading = TEXT * text::LEADING;
        let head = text::wrap(&values.name(&self.name, &self.unit), TEXT, Face::Regular, self.width_pt);
        let top = leading * head.len() as f64 + 8.0;
        let bottom = top + more.of(PLOT_HEIGHT).max(self.labels_height(&limit_label));
        let area = Rect { left, top, right, bottom };
        let mut canvas = Canvas::default();
        for (index, line) in head.iter().enumerate() {
            let baseline = TEXT * text::ABOVE + leading * index as f64;
            canvas.words(0.0, baseline, line, Type::new(TEXT, INK));
        }
        let mut frame = Frame::new(area, self.across(near, far, &area), values.upward(&area));
        self.draw_plot(&mut canvas, &mut frame, &values);
        self.label_ends(&mut canvas, &frame, &limit_label);
        let under = self.draw_under(&mut canvas, &frame);
        let keys = self.keys(&frame);
        keys.draw(&mut canvas, left, under + 2.0);
        canvas.finish(self.width_pt, under + keys.height() + 4.0)
    }

    fn points(&self) -> impl Iterator<Item = &SettingPoint> {
        self.visits.iter().flat_map(|visit| visit.points.iter())
    }

    fn names(&self) -> Option<&[String]> {
        match &self.along {
            Along::Names(names) => Some(names),
            Along::Numbers { .. } => None,
        }
    }

    /// The first and the last setting.
    fn ends(&self) -> Result<(f64, f64), ChartError> {
        if let Some(names) = self.names() {
            let most = names.len() as f64 - 0.5;
            let outside = self.points().any(|point| point.at < -0.5 || point.at > most);
            return if names.is_empty() || outside {
                Err(ChartError::Nothing("a place has no name"))
            } else {
                Ok((0.0, names.len() as f64 - 1.0))
            };
        }
        frame::span(self.points().map(|point| point.at)).ok_or(ChartError::Nothing("no setting"))
    }

    fn check(&self) -> Result<(), ChartError> {
        super::sane_width(self.width_pt)?;
        super::finite_limit(self.limit.as_ref())?;
        for point in self.points() {
            super::finite(point.at, "a setting")?;
            match &point.found {
                Some(Found::Value(measured)) => measured.check("a value")?,
                Some(Found::AtMost(bound, _) | Found::AtLeast(bound, _)) => {
                    super::finite(*bound, "a bound")?;
                }
                None => {}
            }
            for reading in point.readings.iter().filter(|reading| reading.value.is_finite()) {
                super::finite(reading.value, "a reading")?;
            }
        }
        Ok(())
    }

    fn data_range(&self) -> Result<(f64, f64), ChartError> {
        let found = self.points().filter_map(|point| point.found.as_ref()).flat_map(|found| match found {
            Found::Value(measured) => [measured.value - measured.half(), measured.value + measured.half()],
            Found::AtMost(bound, _) | Found::AtLeast(bound, _) => [*bound, *bound],
        });
        let readings = |struck: bool| {
            let all = self.points().flat_map(|point| point.readings.iter());
            all.filter(move |reading| reading.struck == struck).map(|reading| reading.value)
        };
        let zero = self.from_zero.then_some(0.0);
        frame::range(found.chain(readings(false)).chain(zero), readings(true), self.limit.as_ref())
            .ok_or(ChartError::Nothing("no setting has a value"))
    }

    /// The scale of the settings: a little room beside the first and the last, half a place along
    /// names.
    fn across(&self, near: f64, far: f64, area: &Rect) -> Scale {
        if self.names().is_some() {
            return Scale { low: near - 0.5, high: far + 0.5, from: area.left, to: area.right };
        }
        let single = far - near <= 1e-9 * far.abs().max(near.abs());
        let room = if single { near.abs().max(1.0) / 2.0 } else { 0.0 };
        let (near, far) = (near - room, far + room);
        let per_point = (far - near) / (area.width() - 24.0);
        Scale { low: near - 12.0 * per_point, high: far + 12.0 * per_point, from: area.left, to: area.right }
    }

    /// The smallest distance of two settings of one visit on the page, in points. Those of two visits
    /// may all but coincide and are one setting.
    fn pitch(&self, frame: &Frame) -> f64 {
        let smallest = |visit: &SettingsVisit| {
            let mut places: Vec<f64> = visit.points.iter().map(|point| frame.x.at(point.at)).collect();
            places.sort_by(f64::total_cmp);
            let gaps = places.windows(2).map(|pair| pair[1] - pair[0]).filter(|gap| *gap > 0.2);
            gaps.fold(frame.area.width(), f64::min)
        };
        self.visits.iter().map(smallest).fold(frame.area.width(), f64::min)
    }

    fn draw_plot(&self, canvas: &mut Canvas, frame: &mut Frame, values: &Values) {
        frame.grid(canvas, values, true);
        if let Some(limit) = &self.limit {
            frame.forbid(canvas, limit);
        }
        let count = self.visits.len().max(1) as f64;
        let pitch = self.pitch(frame);
        let widest = if self.names().is_some() { 16.0 } else { ASIDE };
        let step = (0.7 * pitch / count).min(widest);
        let size = (0.42 * pitch / count.min(3.0)).clamp(1.1, MARK);
        let per_point = (frame.x.high - frame.x.low) / frame.area.width();
        // The single readings stand a little left of their mark, which would hide them.
        let left = (0.3 * pitch / count).min(4.6) * per_point;
        let mut words = Vec::new();
        for (index, visit) in self.visits.iter().enumerate() {
            let aside = (index as f64 - (count - 1.0) / 2.0) * step * per_point;
            canvas.on(Layer::Visit(index));
            frame.comes_across(canvas);
            self.join(canvas, frame, visit, aside);
            for point in &visit.points {
                let x = point.at + aside;
                draw_readings(canvas, frame, visit, point, x - left);
                let said = draw_found(canvas, frame, visit, point, (x, size));
                words.extend(said.map(|(x, y, words)| (x, y, words, index)));
            }
        }
        canvas.on(Layer::Frame);
        frame.say_beyond(canvas);
        self.say_bounds(canvas, frame, words);
    }

    /// The line through a visit's values, broken where a setting has only a bound.
    fn join(&self, canvas: &mut Canvas, frame: &Frame, visit: &SettingsVisit, aside: f64) {
        if self.names().is_some() {
            return;
        }
        let mut points: Vec<&SettingPoint> = visit.points.iter().collect();
        points.sort_by(|a, b| a.at.total_cmp(&b.at));
        let line: Vec<(f64, f64)> = points
            .iter()
            .map(|point| match &point.found {
                Some(Found::Value(measured)) => (point.at + aside, measured.value),
                _ => (point.at + aside, f64::NAN),
            })
            .collect();
        let state = visit.visit.state;
        let pen = Pen { dashed: state.is_dashed(), ..Pen::solid(state.colour(), DATA * 0.7) };
        frame.line(canvas, &line, pen);
    }

    /// Writes each bound beside its arrow, where that does not lie on another's words.
    fn say_bounds(&self, canvas: &mut Canvas, frame: &Frame, words: Vec<(f64, f64, String, usize)>) {
        // Words about what lies beyond the plot stand along its upper and lower edge.
        let edge = if self.range.is_some() { 30.0 } else { 0.0 };
        let room = Rect { top: frame.area.top + edge, bottom: frame.area.bottom - edge, ..frame.area };
        let mut taken: Vec<Rect> = Vec::new();
        for (x, y, words, visit) in words {
            let (x, kind) = labels::beside(x, 4.0, &words, Type::new(SMALL, INK), &frame.area);
            let extent = kind.extent(x, kind.centred_on(y), &words);
            let inside = extent.top >= room.top
                && extent.bottom <= room.bottom
                && extent.left >= room.left
                && extent.right <= room.right;
            if inside && !taken.iter().any(|other| other.common(&extent).is_some()) {
                canvas.within(Layer::Visit(visit), |canvas| {
                    canvas.words_on_white(x, kind.centred_on(y), &words, kind)
                });
                taken.push(extent);
            }
        }
    }

    /// Where a visit's name stands: level with the last of its settings that has anything.
    fn last(visit: &SettingsVisit) -> Option<(f64, f64)> {
        let level = |point: &SettingPoint| match &point.found {
            Some(Found::Value(measured)) => Some(measured.value),
            Some(Found::AtMost(bound, _) | Found::AtLeast(bound, _)) => Some(*bound),
            None => point.readings.iter().map(|reading| reading.value).find(|value| value.is_finite()),
        };
        let places = visit.points.iter().filter_map(|point| Some((point.at, level(point)?)));
        places.max_by(|a, b| a.0.total_cmp(&b.0))
    }

    /// Names each visit at the end of its line, and the limit at its edge, clear of each other.
    fn label_ends(&self, canvas: &mut Canvas, frame: &Frame, limit: &LimitLabel) {
        let mut labels = Vec::new();
        for (index, visit) in self.visits.iter().enumerate() {
            let layer = Layer::Visit(index);
            let Some((at, value)) = Self::last(visit) else { continue };
            let y = frame.y.at(value).clamp(frame.area.top, frame.area.bottom);
            let state = visit.visit.state;
            let from = frame.x.at(at) + 8.0;
            if self.names().is_none() && from + 10.0 < frame.area.right {
                let leader = [(from, y), (frame.area.right, y)];
                let pen = Pen::solid(state.colour().tint(110), HAIRLINE);
                canvas.within(layer, |canvas| canvas.line(&leader, pen));
            }
            let lines = wrapped_name(&visit.visit);
            labels.push(EndLabel { y, lines, colour: state.word_colour(), layer });
        }
        if let Some(shown) = self.limit.as_ref().filter(|limit| frame.shows(limit)) {
            let edges = shown.edges();
            let y = edges.iter().map(|edge| frame.y.at(*edge)).sum::<f64>() / edges.len() as f64;
            labels.push(EndLabel { y, lines: limit.lines().to_vec(), colour: INK, layer: Layer::Limit });
        }
        let (top, bottom) = (frame.area.top - 4.0, frame.area.bottom + 4.0);
        labels::end_labels(canvas, frame.area.right + 6.0, &labels, top, bottom);
    }

    /// The room right of the plot for the names of the visits and the limit's words.
    fn end_room(&self, limit: &LimitLabel) -> f64 {
        let names: Vec<String> = self.visits.iter().flat_map(|visit| wrapped_name(&visit.visit)).collect();
        let lines = names.iter().chain(limit.lines()).map(String::as_str);
        text::widest(lines, TEXT, Face::Regular) + 6.0
    }

    /// The height that the names at the ends of the lines need.
    fn labels_height(&self, limit: &LimitLabel) -> f64 {
        let names: usize = self.visits.iter().map(|visit| wrapped_name(&visit.visit).len().max(1)).sum();
        (names + limit.lines().len()) as f64 * TEXT * text::LEADING
    }

    fn keys(&self, frame: &Frame) -> Keys {
        let mut keys = Vec::new();
        let half = |found: &Found| matches!(found, Found::Value(measured) if measured.half() > 0.0);
        if self.points().filter_map(|point| point.found.as_ref()).any(half) {
            keys.push((Sign::Whisker, "± U, 95 %".to_owned()));
        }
        if self.points().any(|point| point.readings.iter().any(|reading| !reading.struck)) {
            keys.push((Sign::None, "small dots: single readings".to_owned()));
        }
        if self.points().any(|point| point.readings.iter().any(|reading| reading.struck)) {
            keys.push((Sign::Cross, "struck".to_owned()));
        }
        if self.points().any(|point| matches!(point.found, Some(Found::AtMost(..) | Found::AtLeast(..)))) {
            keys.push((Sign::None, "an arrow: no value, only a bound".to_owned()));
        }
        if let Some(limit) = self.limit.as_ref().filter(|limit| !frame.shows(limit)) {
            keys.push((Sign::Limit, format!("{}: beyond this scale", limit.text)));
        }
        Keys::new(keys, frame.area.width())
    }
}

/// The single readings of one setting.
fn draw_readings(
    canvas: &mut Canvas,
    frame: &mut Frame,
    visit: &SettingsVisit,
    point: &SettingPoint,
    x: f64,
) {
    let state = visit.visit.state;
    for reading in point.readings.iter().filter(|reading| reading.value.is_finite()) {
        if reading.struck {
            frame.cross(canvas, (x, reading.value), state);
        } else {
            frame.dot(canvas, (x, reading.value), state.colour().tint(190), 0.9);
        }
    }
}

/// The whisker and the mark of one setting, or the arrow of its bound, whose words are for later.
fn draw_found(
    canvas: &mut Canvas,
    frame: &mut Frame,
    visit: &SettingsVisit,
    point: &SettingPoint,
    (x, size): (f64, f64),
) -> Option<(f64, f64, String)> {
    let state = visit.visit.state;
    match point.found.as_ref()? {
        Found::Value(measured) => {
            frame.whisker(canvas, (x, measured.value), measured.half(), state.colour());
            frame.mark(canvas, (x, measured.value), state, size);
            None
        }
        Found::AtMost(bound, said) => arrow(canvas, frame, (x, *bound), 1.0, state.colour(), said),
        Found::AtLeast(bound, said) => arrow(canvas, frame, (x, *bound), -1.0, state.colour(), said),
    }
}

/// A short bar at a bound and an arrow to the side where the value must lie (1 is down); nothing, but
/// remembered, where the bound lies outside the plot. Gives the place of its words.
fn arrow(
    canvas: &mut Canvas,
    frame: &mut Frame,
    (x, bound): (f64, f64),
    down: f64,
    colour: Rgb,
    said: &str,
) -> Option<(f64, f64, String)> {
    if !frame.admits((x, bound), colour) {
        return None;
    }
    let (x, y) = frame.at(x, bound);
    let room = if down > 0.0 { frame.area.bottom - y } else { y - frame.area.top };
    let shaft = room.clamp(0.0, 9.0);
    canvas.line(&[(x - 2.6, y), (x + 2.6, y)], Pen::solid(colour, DATA));
    canvas.line(&[(x, y), (x, y + down * (shaft - 5.0).max(0.0))], Pen::solid(colour, FINE));
    if shaft >= 5.0 {
        marks::pointer(canvas, (x, y + down * (shaft - 5.0)), (0.0, down), colour);
    }
    Some((x, y, said.to_owned()))
}

fn wrapped_name(visit: &Visit) -> Vec<String> {
    text::wrap(&visit.name, TEXT, Face::Regular, NAME_ROOM)
}

/// Grey lines that part the places of a list of names.
fn part(canvas: &mut Canvas, frame: &Frame, places: usize) {
    for place in 1..places {
        let x = frame.x.at(place as f64 - 0.5);
        let line = [(x, frame.area.top), (x, frame.area.bottom)];
        canvas.line(&line, Pen::solid(HAIRLINE_GREY, HAIRLINE));
    }
}
