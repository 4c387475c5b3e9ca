//! Stations along a spindle: the size of the run-out against distance, and the fitted offset and tilt.

use super::canvas::{Anchor, Canvas, Pen, Type};
use super::fit::{self, More};
use super::frame::{self, Frame, Scale, Values};
use super::labels::{self, EndLabel, LimitLabel};
use super::marks::{self, Keys, Sign};
use super::sheet::Layer;
use super::style::{HAIRLINE, HAIRLINE_GREY, INK, MARK, SMALL, SOFT_INK, TEXT};
use super::text::{self, Face};
use super::ticks::Ticks;
use super::{ChartError, Limit, Measured, Svg, Visit, clip::Rect};

/// The radial stations of a spindle at one visit or more.
#[derive(Debug, Clone, PartialEq)]
pub struct Spindle {
    /// The width on the page in points.
    pub width_pt: f64,
    /// What was found at each station: `Once per turn`.
    pub name: String,
    /// The unit of the values, as it is written.
    pub unit: String,
    /// What the distance is measured from: `Distance from the shoulder`.
    pub distance_name: String,
    /// The unit of the distances.
    pub distance_unit: String,
    /// The visits in the order of their dates.
    pub visits: Vec<SpindleVisit>,
    /// The limit on the values.
    pub limit: Option<Limit>,
    /// The range of values to draw instead of one that fits the data. What lies outside is said.
    pub range: Option<(f64, f64)>,
}

/// The stations at one visit.
#[derive(Debug, Clone, PartialEq)]
pub struct SpindleVisit {
    /// The visit.
    pub visit: Visit,
    /// The stations.
    pub stations: Vec<Station>,
    /// The fitted offset and tilt, drawn as a curve from the first station to the last.
    pub fit: Option<OffsetAndTilt>,
}

/// One station.
#[derive(Debug, Clone, PartialEq)]
pub struct Station {
    /// Its name.
    pub name: String,
    /// Its distance along the axis in `distance_unit`.
    pub distance: f64,
    /// What was found there.
    pub found: Measured,
}

/// The eccentricity vector along the axis, offset + tilt · distance. What is drawn is its length times
/// `times`; vectors that do not point the same way give a curve, not a line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OffsetAndTilt {
    /// The vector at distance 0, in the unit of the values.
    pub offset: [f64; 2],
    /// Its growth for each unit of distance.
    pub tilt: [f64; 2],
    /// 1 where the values are eccentricities, 2 where they are once-per-turn run-outs.
    pub times: f64,
}

impl OffsetAndTilt {
    fn at(&self, distance: f64) -> f64 {
        let x = self.offset[0] + self.tilt[0] * distance;
        let y = self.offset[1] + self.tilt[1] * distance;
        self.times * x.hypot(y)
    }
}

const PLOT_HEIGHT: f64 = 104.0;
const CURVE_POINTS: u32 = 120;

impl Spindle {
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
        let (near, far) = frame::span(self.stations().map(|station| station.distance))
            .ok_or(ChartError::Nothing("no station"))?;
        let values = Values::new(self.data_range()?, self.range, 7)?;
        let left = values.label_width() + 5.0;
        let limit_label = LimitLabel::new(self.limit.as_ref());
        let name_room = self.name_room();
        let right = self.width_pt - name_room.max(limit_label.room) - 4.0;
        if right - left < 80.0 {
            return Err(ChartError::TooNarrow { width_pt: self.width_pt });
        }
        let leading = TEXT * text::LEADING;
        let head = text::wrap(&values.name(&self.name, &self.unit), TEXT, Face::Regular, self.width_pt);
        let top = leading * head.len() as f64 + 8.0;
        let area = Rect { left, top, right, bottom: top + more.of(PLOT_HEIGHT) };
        let mut canvas = Canvas::default();
        for (index, line) in head.iter().enumerate() {
            let baseline = TEXT * text::ABOVE + leading * index as f64;
            canvas.words(0.0, baseline, line, Type::new(TEXT, INK));
        }
        let along = Scale { low: 0.0, high: 1.0, from: area.left + 12.0, to: area.right - 14.0 };
        let x = distance_scale(near, far, along, &area);
        let mut frame = Frame::new(area, x, values.upward(&area));
        self.draw_plot(&mut canvas, &mut frame, &values, (near, far));
        self.label_ends(&mut canvas, &frame, &limit_label);
        let mut under = self.name_stations(&mut canvas, &frame) + 2.0;
        let distance = self.distance_words(&frame);
        for line in text::wrap(&distance, SMALL, Face::Regular, self.width_pt - left) {
            let kind = Type::new(SMALL, SOFT_INK);
            canvas.words(area.left, under + SMALL * text::ABOVE, &line, kind);
            under += SMALL * text::LEADING;
        }
        let keys = self.keys(&frame);
        keys.draw(&mut canvas, left, under + 1.0);
        canvas.finish(self.width_pt, under + keys.height() + 3.0)
    }

    fn stations(&self) -> impl Iterator<Item = &Station> {
        self.visits.iter().flat_map(|visit| visit.stations.iter())
    }

    fn check(&self) -> Result<(), ChartError> {
        super::sane_width(self.width_pt)?;
        super::finite_limit(self.limit.as_ref())?;
        for station in self.stations() {
            super::finite(station.distance, "a station's distance")?;
            station.found.check("a station's value")?;
        }
        for fit in self.visits.iter().filter_map(|visit| visit.fit.as_ref()) {
            for number in [fit.offset[0], fit.offset[1], fit.tilt[0], fit.tilt[1], fit.times] {
                super::finite(number, "an offset or a tilt")?;
            }
        }
        Ok(())
    }

    fn data_range(&self) -> Result<(f64, f64), ChartError> {
        let ends = self.stations().flat_map(|station| {
            let found = &station.found;
            [found.value - found.half(), found.value + found.half()]
        });
        // Sizes are seen against zero.
        frame::range(ends.chain([0.0]), [], self.limit.as_ref()).ok_or(ChartError::Nothing("no station"))
    }

    fn name_room(&self) -> f64 {
        let lines = self.visits.iter().flat_map(|visit| wrapped_name(&visit.visit));
        let lines: Vec<String> = lines.collect();
        text::widest(lines.iter().map(String::as_str), TEXT, Face::Regular) + 6.0
    }

    fn draw_plot(&self, canvas: &mut Canvas, frame: &mut Frame, values: &Values, (near, far): (f64, f64)) {
        frame.grid(canvas, values, true);
        if let Some(limit) = &self.limit {
            frame.forbid(canvas, limit);
        }
        for station in self.stations() {
            let x = frame.x.at(station.distance);
            let line = [(x, frame.area.top), (x, frame.area.bottom)];
            canvas.line(&line, Pen::solid(HAIRLINE_GREY, HAIRLINE));
        }
        let ticks = distance_ticks(frame);
        let labels: Vec<(f64, String)> = ticks.values().into_iter().zip(ticks.labels()).collect();
        frame.floor(canvas, &labels);
        let count = self.visits.len() as f64;
        for (index, visit) in self.visits.iter().enumerate() {
            let state = visit.visit.state;
            canvas.on(Layer::Visit(index));
            frame.comes_across(canvas);
            if let Some(fit) = &visit.fit {
                let points: Vec<(f64, f64)> = (0..=CURVE_POINTS)
                    .map(|step| near + (far - near) * f64::from(step) / f64::from(CURVE_POINTS))
                    .map(|distance| (distance, fit.at(distance)))
                    .collect();
                frame.line(canvas, &points, marks::curve(state));
            }
            // Whiskers at the same station stand beside each other.
            let aside = (index as f64 - (count - 1.0) / 2.0) * 3.4;
            let aside = aside / (frame.x.to - frame.x.from) * (frame.x.high - frame.x.low);
            for station in &visit.stations {
                let at = (station.distance + aside, station.found.value);
                frame.whisker(canvas, at, station.found.half(), state.colour());
                frame.mark(canvas, at, state, MARK);
            }
        }
        canvas.on(Layer::Frame);
        frame.say_beyond(canvas);
    }

    /// Names each visit at the end of its line, and the limit at its edge, clear of each other.
    fn label_ends(&self, canvas: &mut Canvas, frame: &Frame, limit: &LimitLabel) {
        let mut labels = Vec::new();
        for (index, visit) in self.visits.iter().enumerate() {
            let last = visit.stations.iter().max_by(|a, b| a.distance.total_cmp(&b.distance));
            let Some(last) = last else { continue };
            let value = visit.fit.as_ref().map_or(last.found.value, |fit| fit.at(last.distance));
            let y = frame.y.at(value).clamp(frame.area.top, frame.area.bottom);
            labels.push(EndLabel {
                y,
                lines: wrapped_name(&visit.visit),
                colour: visit.visit.state.word_colour(),
                layer: Layer::Visit(index),
            });
        }
        if let Some(shown) = self.limit.as_ref().filter(|limit| frame.shows(limit)) {
            let edges = shown.edges();
            let y = edges.iter().map(|edge| frame.y.at(*edge)).sum::<f64>() / edges.len() as f64;
            labels.push(EndLabel { y, lines: limit.lines().to_vec(), colour: INK, layer: Layer::Limit });
        }
        labels::end_labels(
            canvas,
            frame.area.right + 6.0,
            &labels,
            frame.area.top - 4.0,
            frame.area.bottom + 4.0,
        );
    }

    /// Station names under the tick labels, in two lines where they would touch; returns where they end.
    fn name_stations(&self, canvas: &mut Canvas, frame: &Frame) -> f64 {
        let kind = Type::new(SMALL, INK).at(Anchor::Middle);
        let mut stations: Vec<(f64, &str)> = Vec::new();
        for station in self.stations() {
            if !stations.iter().any(|(distance, _)| distance.total_cmp(&station.distance).is_eq()) {
                stations.push((station.distance, station.name.as_str()));
            }
        }
        stations.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut taken = [f64::NEG_INFINITY; 3];
        let top = frame::floor_baseline(frame.area.bottom) + 4.0;
        let leading = SMALL * text::LEADING;
        let mut bottom = top;
        for (distance, name) in stations {
            let half = text::width(&text::clean(name), SMALL, Face::Regular) / 2.0;
            let x = frame.x.at(distance).min(self.width_pt - half).max(half);
            let row = taken.iter().position(|end| x - half > end + 5.0);
            // A name that fits nowhere is left to the table.
            let Some(row) = row.filter(|_| 2.0 * half <= self.width_pt) else {
                continue;
            };
            taken[row] = x + half;
            let baseline = top + leading * row as f64 + SMALL * text::CAP_HEIGHT + 1.0;
            canvas.words(x, baseline, name, kind);
            bottom = bottom.max(baseline + SMALL * text::BELOW);
        }
        bottom
    }

    fn distance_words(&self, frame: &Frame) -> String {
        let unit = distance_ticks(frame).unit(&self.distance_unit);
        if unit.is_empty() { self.distance_name.clone() } else { format!("{}, {unit}", self.distance_name) }
    }

    fn keys(&self, frame: &Frame) -> Keys {
        let mut keys = Vec::new();
        if let Some(state) =
            self.visits.iter().find(|visit| visit.fit.is_some()).map(|visit| visit.visit.state)
        {
            keys.push((Sign::Curve(state), "fitted offset and tilt".to_owned()));
        }
        if self.stations().any(|station| station.found.half() > 0.0) {
            keys.push((Sign::Whisker, "± U, 95 %".to_owned()));
        }
        if let Some(limit) = self.limit.as_ref().filter(|limit| !frame.shows(limit)) {
            keys.push((Sign::Limit, format!("{}: beyond this scale", limit.text)));
        }
        Keys::new(keys, frame.area.width())
    }
}

fn wrapped_name(visit: &Visit) -> Vec<String> {
    text::wrap(&visit.name, TEXT, Face::Regular, 72.0)
}

/// The scale of distances: the stations from near the left edge to near the right one.
fn distance_scale(near: f64, far: f64, along: Scale, area: &Rect) -> Scale {
    let room = if far > near { far - near } else { near.abs().max(1.0) };
    let (near, far) = if far > near { (near, far) } else { (near - room / 2.0, near + room / 2.0) };
    let per_point = (far - near) / (along.to - along.from);
    Scale {
        low: near - (along.from - area.left) * per_point,
        high: far + (area.right - along.to) * per_point,
        from: area.left,
        to: area.right,
    }
}

fn distance_ticks(frame: &Frame) -> Ticks {
    Ticks::inside(frame.x.low, frame.x.high, 8)
}
