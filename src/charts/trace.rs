//! A long recording: its smallest and largest value in every column of the page, so that no spike is
//! lost. A panel for each visit, all on one scale.

#![expect(clippy::float_cmp, reason = "places of one column are the same number")]

use super::canvas::{Canvas, Pen, Type};
use super::clip::{Point, Rect};
use super::fit::{self, More};
use super::frame::{self, Frame, Scale, Values};
use super::marks::{self, Keys, Sign};
use super::sheet::{Course, Layer};
use super::style::{INK, MARK, SMALL, TEXT};
use super::text::{self, Face};
use super::ticks::Ticks;
use super::{ChartError, Svg, Visit};

/// Recordings of one thing at one visit or more, above each other.
#[derive(Debug, Clone, PartialEq)]
pub struct Trace {
    /// The width on the page in points.
    pub width_pt: f64,
    /// What was recorded: `Acceleration, x`.
    pub name: String,
    /// The unit of all values, as it is written.
    pub unit: String,
    /// The recordings in the order of their visits' dates.
    pub visits: Vec<TracedVisit>,
    /// The range of values to draw instead of one that fits the data. What lies outside is said.
    pub range: Option<(f64, f64)>,
}

/// The recording of one visit.
#[derive(Debug, Clone, PartialEq)]
pub struct TracedVisit {
    /// The visit.
    pub visit: Visit,
    /// What stands beside its name: `peak 0.41 g`; empty for nothing.
    pub text: String,
    /// Smallest and largest value in equal stretches of time, those without a sample left out: (seconds
    /// at the middle, smallest, largest), as `recording::ChannelAccount::outline` gives it.
    pub outline: Vec<(f64, f64, f64)>,
    /// Struck stretches: from and to, seconds.
    pub struck: Vec<(f64, f64)>,
}

const PANEL: f64 = 62.0;
/// Between the floor of a panel and the head of the next, in points.
const BETWEEN: f64 = 7.0;
/// The width of a column and the weight of its line, in points.
const COLUMN: f64 = 0.6;
const MARK_ROOM: f64 = 8.0;

impl Trace {
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
        let values = Values::new(self.data_range()?, self.range, 5)?;
        let left = values.label_width() + 5.0;
        let clock = Clock::new(self.end());
        let right = self.width_pt - clock.last_label() / 2.0 - 2.0;
        if right - left < 60.0 {
            return Err(ChartError::TooNarrow { width_pt: self.width_pt });
        }
        let leading = TEXT * text::LEADING;
        let mut canvas = Canvas::default();
        let name = text::wrap(&values.name(&self.name, &self.unit), TEXT, Face::Regular, self.width_pt);
        for (index, line) in name.iter().enumerate() {
            let baseline = TEXT * text::ABOVE + leading * index as f64;
            canvas.words(0.0, baseline, line, Type::new(TEXT, INK));
        }
        let mut top = leading * name.len() as f64 + 3.0;
        for (index, visit) in self.visits.iter().enumerate() {
            let layer = Layer::Visit(index);
            top = canvas.within(layer, |canvas| head(canvas, &visit.visit, &visit.text, (left, right), top));
            let area = Rect { left, top, right, bottom: top + more.of(PANEL) };
            let is_last = index + 1 == self.visits.len();
            panel(&mut canvas, (visit, layer), area, &values, &clock, is_last);
            top = area.bottom + BETWEEN;
        }
        let under = top - BETWEEN + 14.0;
        let keys = self.keys(&clock, right - left);
        keys.draw(&mut canvas, left, under);
        canvas.finish(self.width_pt, under + keys.height() + 2.0)
    }

    fn check(&self) -> Result<(), ChartError> {
        super::sane_width(self.width_pt)?;
        for visit in &self.visits {
            let times = visit.outline.iter().map(|cell| cell.0);
            let ends = visit.struck.iter().flat_map(|(from, to)| [*from, *to]);
            for time in times.chain(ends) {
                super::finite(time, "a time")?;
            }
            for value in
                visit.outline.iter().flat_map(|cell| [cell.1, cell.2]).filter(|value| value.is_finite())
            {
                super::finite(value, "a value")?;
            }
        }
        Ok(())
    }

    fn data_range(&self) -> Result<(f64, f64), ChartError> {
        let all = self.visits.iter().flat_map(|visit| visit.outline.iter());
        frame::range(all.flat_map(|cell| [cell.1, cell.2]), [], None)
            .ok_or(ChartError::Nothing("no value of the recording is finite"))
    }

    /// The end of the longest recording, seconds.
    fn end(&self) -> f64 {
        let ends = self.visits.iter().map(|visit| {
            let half = visit.half_width();
            let last = visit.outline.iter().map(|cell| cell.0 + half);
            last.chain(visit.struck.iter().map(|(_, to)| *to)).fold(0.0, f64::max)
        });
        let end = ends.fold(0.0, f64::max);
        if end > 0.0 { end } else { 1.0 }
    }

    fn keys(&self, clock: &Clock, room: f64) -> Keys {
        let mut keys = vec![(Sign::None, format!("time, {}", clock.unit))];
        keys.push((Sign::None, "from the smallest to the largest value in each column".to_owned()));
        if self.visits.iter().any(|visit| !visit.struck.is_empty()) {
            keys.push((Sign::Hatch, "struck".to_owned()));
        }
        Keys::new(keys, room)
    }
}

fn panel(
    canvas: &mut Canvas,
    (visit, layer): (&TracedVisit, Layer),
    area: Rect,
    values: &Values,
    clock: &Clock,
    labelled: bool,
) {
    let x = Scale { low: 0.0, high: clock.end, from: area.left, to: area.right };
    let mut frame = Frame::new(area, x, values.upward(&area));
    frame.grid(canvas, values, true);
    canvas.on(layer);
    frame.comes_across(canvas);
    for (from, to) in &visit.struck {
        let region = Rect { left: x.at(*from), right: x.at(*to), ..area };
        if let Some(region) = region.common(&area) {
            canvas.hatch(&region);
        }
    }
    let pen = Pen::solid(visit.visit.state.colour(), COLUMN);
    for part in visit.columns(&x) {
        let points: Vec<Point> = part.iter().map(|(x, value)| (*x, frame.y.at(*value))).collect();
        canvas.line_within(&area, &points, pen);
    }
    canvas.within(Layer::Frame, |canvas| frame.floor(canvas, &clock.ticks(labelled)));
    say_beyond(canvas, &mut frame, visit, values);
    canvas.on(Layer::Frame);
}

/// The farthest value above and below the panel, with its arrow.
fn say_beyond(canvas: &mut Canvas, frame: &mut Frame, visit: &TracedVisit, values: &Values) {
    let state = visit.visit.state;
    let highest = visit.outline.iter().filter(|cell| cell.2 > values.high).max_by(|a, b| a.2.total_cmp(&b.2));
    let lowest = visit.outline.iter().filter(|cell| cell.1 < values.low).min_by(|a, b| a.1.total_cmp(&b.1));
    if let Some((time, _, value)) = highest {
        frame.mark(canvas, (*time, *value), state, MARK);
    }
    if let Some((time, value, _)) = lowest {
        frame.mark(canvas, (*time, *value), state, MARK);
    }
    frame.say_beyond(canvas);
}

/// The visit's name with its mark, and words beside or under it, from `left` to `right`; gives where the
/// panel begins.
pub(super) fn head(
    canvas: &mut Canvas,
    visit: &Visit,
    words: &str,
    (left, right): (f64, f64),
    top: f64,
) -> f64 {
    let leading = TEXT * text::LEADING;
    let state = visit.state;
    let room = right - left - MARK_ROOM;
    let name = text::wrap(&visit.name, TEXT, Face::Strong, room);
    let name_width = text::widest(name.iter().map(String::as_str), TEXT, Face::Strong);
    let words = text::wrap(words, TEXT, Face::Regular, room);
    let words_width = text::widest(words.iter().map(String::as_str), TEXT, Face::Regular);
    marks::mark(canvas, (left + MARK, top + leading / 2.0), state, MARK);
    // On one line where both fit.
    let beside = name.len() == 1 && words.len() <= 1 && name_width + 8.0 + words_width <= room;
    let mut line = 0;
    let set = |canvas: &mut Canvas, x: f64, line: usize, text: &str, kind: Type| {
        let y = top + leading * (line as f64 + 0.5);
        canvas.words(x, kind.centred_on(y), text, kind);
    };
    for text in &name {
        set(canvas, left + MARK_ROOM, line, text, Type::new(TEXT, state.word_colour()).strong());
        line += 1;
    }
    for text in words.iter().filter(|text| !text.is_empty()) {
        if beside {
            set(canvas, left + MARK_ROOM + name_width + 8.0, 0, text, Type::new(TEXT, INK));
        } else {
            set(canvas, left + MARK_ROOM, line, text, Type::new(TEXT, INK));
            line += 1;
        }
    }
    let bottom = top + leading * line.max(1) as f64;
    canvas.comes(Course::First(Rect { left, top, right, bottom }));
    bottom + 3.0
}

impl TracedVisit {
    /// Half of a stretch of the outline, seconds.
    fn half_width(&self) -> f64 {
        let steps = self.outline.windows(2).map(|pair| pair[1].0 - pair[0].0).filter(|step| *step > 0.0);
        steps
            .fold(f64::INFINITY, f64::min)
            .min(2.0 * self.outline.first().map_or(0.0, |cell| cell.0))
            .max(0.0)
            / 2.0
    }

    /// The outline as lines over the columns of the page, broken where no sample is: down and up in each
    /// column, and on to the next. Places across, values upward.
    fn columns(&self, x: &Scale) -> Vec<Vec<(f64, f64)>> {
        let width = 2.0 * self.half_width();
        let mut parts: Vec<Vec<(f64, f64)>> = Vec::new();
        let mut before: Option<(f64, f64)> = None;
        let mut column: Option<(f64, f64, f64)> = None;
        let finite = self.outline.iter().filter(|(_, low, high)| low.is_finite() && high.is_finite());
        for (time, low, high) in finite {
            let place = (x.at(*time) / COLUMN).floor() * COLUMN + COLUMN / 2.0;
            let gap = before.is_some_and(|(last, _)| width > 0.0 && time - last > 1.5 * width);
            before = Some((*time, place));
            match &mut column {
                Some((at, lowest, highest)) if *at == place && !gap => {
                    *lowest = lowest.min(*low);
                    *highest = highest.max(*high);
                }
                _ => {
                    flush(&mut parts, column.take());
                    if gap || parts.is_empty() {
                        parts.push(Vec::new());
                    }
                    column = Some((place, *low, *high));
                }
            }
        }
        flush(&mut parts, column);
        for part in &mut parts {
            // A part of one column and one value would have no length.
            if let [first, .., last] = part.as_slice()
                && first.0 == last.0
                && first.1 == last.1
            {
                let (at, value) = *first;
                *part = vec![(at - COLUMN / 2.0, value), (at + COLUMN / 2.0, value)];
            }
        }
        parts
    }
}

/// Adds a column to the last line: its nearer end first, so that the way from column to column is short.
fn flush(parts: &mut [Vec<(f64, f64)>], column: Option<(f64, f64, f64)>) {
    let (Some(part), Some((at, low, high))) = (parts.last_mut(), column) else {
        return;
    };
    let last = part.last().map_or(low, |last| last.1);
    let ends = if (last - low).abs() <= (last - high).abs() { [low, high] } else { [high, low] };
    part.extend(ends.map(|value| (at, value)));
}

/// The axis of time, in the unit that suits the longest recording.
struct Clock {
    /// Seconds.
    end: f64,
    unit: &'static str,
    seconds: f64,
    ticks: Ticks,
}

impl Clock {
    fn new(end: f64) -> Self {
        let (unit, seconds) = match end {
            long if long >= 3.0 * 3600.0 => ("h", 3600.0),
            long if long >= 180.0 => ("min", 60.0),
            _ => ("s", 1.0),
        };
        Self { end, unit, seconds, ticks: Ticks::inside(0.0, end / seconds, 8) }
    }

    fn labels(&self) -> Vec<String> {
        self.ticks.labels()
    }

    /// The width of the widest label: the last may stand at the end.
    fn last_label(&self) -> f64 {
        text::widest(self.labels().iter().map(String::as_str), SMALL, Face::Regular)
    }

    fn ticks(&self, labelled: bool) -> Vec<(f64, String)> {
        let places = self.ticks.values().into_iter().map(|value| value * self.seconds);
        let labels = self.labels().into_iter().map(|label| if labelled { label } else { String::new() });
        places.zip(labels).collect()
    }
}
