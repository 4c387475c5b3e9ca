//! One number read again and again: every reading in its order, the mean with its uncertainty.

use super::canvas::{Anchor, Canvas, Pen, Type};
use super::fit::{self, More};
use super::frame::{self, Frame, Scale, Values};
use super::labels::LimitLabel;
use super::marks::{self, Keys, Sign};
use super::sheet::{Course, Layer};
use super::style::{DATA, INK, MARK, SMALL, SOFT_INK, TEXT};
use super::text::{self, Face};
use super::{ChartError, Limit, Measured, Reading, Svg, Visit, clip::Rect};

/// The readings of one quantity at one visit or more, side by side on one scale.
#[derive(Debug, Clone, PartialEq)]
pub struct Repeats {
    /// The width on the page in points.
    pub width_pt: f64,
    /// What was read: `Coast-down time`.
    pub name: String,
    /// The unit of all values, as it is written.
    pub unit: String,
    /// The visits in the order of their dates.
    pub visits: Vec<RepeatedVisit>,
    /// The limit on the mean.
    pub limit: Option<Limit>,
    /// The range of values to draw instead of one that fits the data. What lies outside is said.
    pub range: Option<(f64, f64)>,
}

/// The readings of one visit.
#[derive(Debug, Clone, PartialEq)]
pub struct RepeatedVisit {
    /// The visit.
    pub visit: Visit,
    /// The readings in the order in which they were taken.
    pub readings: Vec<Reading>,
    /// The mean of the readings that count, with its uncertainty.
    pub mean: Option<Measured>,
}

const PLOT_HEIGHT: f64 = 104.0;
const GAP: f64 = 14.0;

impl Repeats {
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
        let limit_label = LimitLabel::new(self.limit.as_ref());
        let values = Values::new(self.data_range()?, self.range, 7)?;
        let left = values.label_width() + 5.0;
        // The last order number may reach half its width beyond the last plot.
        let most = self.visits.iter().map(|visit| visit.readings.len()).max().unwrap_or(0).to_string();
        let right =
            self.width_pt - limit_label.room.max(text::width(&most, SMALL, Face::Regular) / 2.0) - 2.0;
        let count = self.visits.len();
        let room = (right - left - GAP * (count - 1) as f64) / count as f64;
        if room < 30.0 {
            return Err(ChartError::TooNarrow { width_pt: self.width_pt });
        }
        let heads: Vec<Head> = self.visits.iter().map(|visit| Head::new(visit, room)).collect();
        let head_lines = heads.iter().map(Head::lines).max().unwrap_or(0);
        let leading = TEXT * text::LEADING;
        let name_lines = text::wrap(&values.name(&self.name, &self.unit), TEXT, Face::Regular, self.width_pt);
        let heads_top = leading * name_lines.len() as f64 + 4.0;
        let top = heads_top + leading * head_lines as f64 + 7.0;

        let mut canvas = Canvas::default();
        for (index, line) in name_lines.iter().enumerate() {
            let baseline = TEXT * text::ABOVE + leading * index as f64;
            canvas.words(0.0, baseline, line, Type::new(TEXT, INK));
        }
        let height = more.of(PLOT_HEIGHT);
        let areas = frame::columns(count, left, right, GAP, top, height);
        for (index, ((visit, head), area)) in self.visits.iter().zip(&heads).zip(&areas).enumerate() {
            let layer = Layer::Visit(index);
            canvas.within(layer, |canvas| head.draw(canvas, area, heads_top, visit.visit.state));
            let frame = self.draw_visit(&mut canvas, (visit, layer), *area, &values, index == 0);
            if index + 1 == count {
                self.label_limit(&mut canvas, &frame, &limit_label);
            }
        }
        let under = top + height + 14.0;
        let keys = self.keys(&values);
        keys.draw(&mut canvas, left, under);
        canvas.finish(self.width_pt, under + keys.height() + 2.0)
    }

    /// The words of the limit right of the last plot, level with it.
    fn label_limit(&self, canvas: &mut Canvas, frame: &Frame, label: &LimitLabel) {
        let Some(limit) = self.limit.as_ref().filter(|limit| frame.shows(limit)) else {
            return;
        };
        let edges = limit.edges();
        let heights = edges.iter().map(|edge| frame.y.at(*edge));
        label.draw(canvas, frame, heights.sum::<f64>() / edges.len() as f64);
    }

    fn check(&self) -> Result<(), ChartError> {
        super::sane_width(self.width_pt)?;
        super::finite_limit(self.limit.as_ref())?;
        for visit in &self.visits {
            if let Some(mean) = &visit.mean {
                mean.check("a mean")?;
            }
            for reading in visit.readings.iter().filter(|reading| reading.value.is_finite()) {
                super::finite(reading.value, "a reading")?;
            }
        }
        Ok(())
    }

    fn data_range(&self) -> Result<(f64, f64), ChartError> {
        let readings = || self.visits.iter().flat_map(|visit| visit.readings.iter());
        let means = self.visits.iter().filter_map(|visit| visit.mean.as_ref());
        let ends = means.flat_map(|mean| [mean.value - mean.half(), mean.value + mean.half()]);
        let kept = readings().filter(|reading| !reading.struck).map(|reading| reading.value);
        let struck = readings().filter(|reading| reading.struck).map(|reading| reading.value);
        frame::range(kept.chain(ends), struck, self.limit.as_ref())
            .ok_or(ChartError::Nothing("no reading is finite"))
    }

    fn draw_visit(
        &self,
        canvas: &mut Canvas,
        (visit, layer): (&RepeatedVisit, Layer),
        area: Rect,
        values: &Values,
        labelled: bool,
    ) -> Frame {
        let count = visit.readings.len().max(1);
        // The mean stands one place after the last reading, a little apart.
        let mean_at = count as f64 + 1.3;
        let high = if visit.mean.is_some() { mean_at + 0.7 } else { count as f64 + 0.6 };
        let x = Scale { low: 0.4, high, from: area.left, to: area.right };
        let mut frame = Frame::new(area, x, values.upward(&area));
        let state = visit.visit.state;
        frame.grid(canvas, values, labelled);
        if let Some(limit) = &self.limit {
            frame.forbid(canvas, limit);
        }
        frame.floor(canvas, &order_ticks(count, area.width()));
        let before = canvas.on(layer);
        frame.comes_across(canvas);
        if let Some(mean) = &visit.mean {
            let line = [(0.4, mean.value), (mean_at, mean.value)];
            frame.line(
                canvas,
                &line,
                Pen { dashed: state.is_dashed(), ..Pen::solid(state.colour(), DATA * 0.7) },
            );
            frame.whisker(canvas, (mean_at, mean.value), mean.half(), state.colour());
        }
        let size = (area.width() / count as f64 * 0.4).clamp(1.0, MARK * 0.85);
        for (order, reading) in (1..).map(f64::from).zip(&visit.readings) {
            if reading.struck {
                frame.cross(canvas, (order, reading.value), state);
            } else {
                frame.mark(canvas, (order, reading.value), state, size);
            }
        }
        if let Some(mean) = &visit.mean {
            frame.mark(canvas, (mean_at, mean.value), state, MARK * 1.25);
            let kind = Type::new(SMALL, SOFT_INK).at(Anchor::Middle);
            let place = frame.x.at(mean_at);
            if kind.extent(place, 0.0, "mean").right <= area.right + GAP / 2.0 {
                canvas.words(place, frame::floor_baseline(area.bottom), "mean", kind);
            }
        }
        frame.say_beyond(canvas);
        canvas.on(before);
        frame
    }

    fn keys(&self, values: &Values) -> Keys {
        let mut keys = vec![(Sign::None, "readings in the order taken".to_owned())];
        if self.visits.iter().any(|visit| visit.readings.iter().any(|reading| reading.struck)) {
            keys.push((Sign::Cross, "struck".to_owned()));
        }
        if self.visits.iter().any(|visit| visit.mean.as_ref().is_some_and(|mean| mean.half() > 0.0)) {
            keys.push((Sign::Whisker, "mean ± U, 95 %".to_owned()));
        }
        if let Some(limit) = &self.limit {
            let seen = limit.edges().iter().any(|edge| *edge >= values.low && *edge <= values.high);
            if !seen {
                keys.push((Sign::Limit, format!("{}: beyond this scale", limit.text)));
            }
        }
        Keys::new(keys, self.width_pt - values.label_width() - 6.0)
    }
}

/// The words over a visit's plot: its name with its mark, and the mean.
#[derive(Debug)]
struct Head {
    name: Vec<String>,
    mean: Vec<String>,
}

const MARK_ROOM: f64 = 8.0;

impl Head {
    fn new(visit: &RepeatedVisit, room: f64) -> Self {
        let mean = visit.mean.as_ref().map_or("", |mean| mean.text.as_str());
        Self {
            name: text::wrap(&visit.visit.name, TEXT, Face::Strong, room - MARK_ROOM),
            mean: text::wrap(mean, TEXT, Face::Regular, room - MARK_ROOM),
        }
    }

    fn lines(&self) -> usize {
        self.name.len() + self.mean.len()
    }

    fn draw(&self, canvas: &mut Canvas, area: &Rect, top: f64, state: super::style::State) {
        let (left, leading) = (area.left, TEXT * text::LEADING);
        let bottom = top + leading * self.name.len() as f64;
        canvas.comes(Course::First(Rect { top, bottom, ..*area }));
        let name = Type::new(TEXT, state.word_colour()).strong();
        let mean = Type::new(TEXT, INK);
        marks::mark(canvas, (left + MARK, top + leading / 2.0), state, MARK);
        let lines =
            self.name.iter().map(|line| (line, name)).chain(self.mean.iter().map(|line| (line, mean)));
        for (index, (line, kind)) in lines.enumerate() {
            let y = top + leading * (index as f64 + 0.5);
            canvas.words(left + MARK_ROOM, kind.centred_on(y), line, kind);
        }
    }
}

/// Whole numbers under the readings, as many as there is room for.
fn order_ticks(count: usize, width: f64) -> Vec<(f64, String)> {
    let most = (width / 16.0).max(2.0);
    let step = [1, 2, 5, 10, 20, 50, 100, 200, 500]
        .into_iter()
        .find(|step| (count / step) as f64 <= most)
        .unwrap_or(1000);
    (1..=count)
        .filter(|order| step == 1 || order % step == 0)
        .map(|order| (order as f64, order.to_string()))
        .collect()
}
