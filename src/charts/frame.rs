//! Axes, the forbidden side, whiskers, marks that are never moved, and labels that never overlap.

use super::canvas::{Anchor, Canvas, Pen, Type};
use super::clip::{self, Point, Rect};
use super::labels;
use super::marks;
use super::sheet::{Course, Layer};
use super::style::{FINE, GREY, HAIRLINE, HAIRLINE_GREY, INK, Rgb, SMALL, SOFT_INK, State};
use super::text::{self, Face};
use super::ticks::{self, Ticks};
use super::{ChartError, Limit};

/// From values to places on the page along one axis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Scale {
    /// The value at `from`.
    pub(super) low: f64,
    /// The value at `to`; never equal to `low`.
    pub(super) high: f64,
    /// The place of `low` in points.
    pub(super) from: f64,
    /// The place of `high` in points.
    pub(super) to: f64,
}

impl Scale {
    /// Where a value stands, inside the axis or not.
    pub(super) fn at(&self, value: f64) -> f64 {
        self.from + (value - self.low) / (self.high - self.low) * (self.to - self.from)
    }
}

/// A range that holds every finite value of `values`; `None` if there is none.
pub(super) fn span(values: impl IntoIterator<Item = f64>) -> Option<(f64, f64)> {
    let finite = values.into_iter().filter(|value| value.is_finite());
    finite.fold(None, |range, value| {
        let (low, high) = range.unwrap_or((value, value));
        Some((low.min(value), high.max(value)))
    })
}

/// The axis of values: its ticks and its range.
#[derive(Debug, Clone)]
pub(super) struct Values {
    /// The ticks inside the range.
    pub(super) ticks: Ticks,
    /// The lowest value on the axis.
    pub(super) low: f64,
    /// The highest value on the axis.
    pub(super) high: f64,
}

impl Values {
    /// An axis over the data, or over exactly the `asked` range, with round numbers inside it.
    pub(super) fn new(data: (f64, f64), asked: Option<(f64, f64)>, most: usize) -> Result<Self, ChartError> {
        let (low, high) = asked.unwrap_or(data);
        super::finite(low, "the range of an axis")?;
        super::finite(high, "the range of an axis")?;
        let (low, high) = ticks::opened(low, high);
        Ok(Self { ticks: Ticks::inside(low, high, most), low, high })
    }

    /// The room that the labels take, in points.
    pub(super) fn label_width(&self) -> f64 {
        text::widest(self.ticks.labels().iter().map(String::as_str), SMALL, Face::Regular)
    }

    /// The scale of these values from the bottom to the top of a plot.
    pub(super) fn upward(&self, area: &Rect) -> Scale {
        Scale { low: self.low, high: self.high, from: area.bottom, to: area.top }
    }

    /// `Reading, 10⁻⁹ thou`: the name with the unit of the labels.
    pub(super) fn name(&self, name: &str, unit: &str) -> String {
        let unit = self.ticks.unit(unit);
        if unit.is_empty() { name.to_owned() } else { format!("{name}, {unit}") }
    }
}

/// A plot: its place on the page and its scales, and what did not fit into it.
#[derive(Debug)]
pub(super) struct Frame {
    /// The plot on the page.
    pub(super) area: Rect,
    /// From left to right.
    pub(super) x: Scale,
    /// From bottom to top.
    pub(super) y: Scale,
    beyond: Vec<Beyond>,
}

/// A mark above or below the plot.
#[derive(Debug, Clone)]
struct Beyond {
    x: f64,
    above: bool,
    value: f64,
    colour: Rgb,
}

impl Frame {
    /// A plot with nothing in it.
    pub(super) fn new(area: Rect, x: Scale, y: Scale) -> Self {
        Self { area, x, y, beyond: Vec::new() }
    }

    /// Says that the layer at hand comes to be seen from the left of the plot to the right.
    pub(super) fn comes_across(&self, canvas: &mut Canvas) {
        // Marks and whiskers at the ends reach a little over the plot.
        let Rect { left, top, right, bottom } = self.area;
        canvas.comes(Course::Across(Rect {
            left: left - 3.0,
            top: top - 3.0,
            right: right + 3.0,
            bottom: bottom + 3.0,
        }));
    }

    /// Where a pair of values stands on the page.
    pub(super) fn at(&self, x: f64, y: f64) -> Point {
        (self.x.at(x), self.y.at(y))
    }

    /// Grid lines at the ticks of the values; labels left of the plot where wanted.
    pub(super) fn grid(&self, canvas: &mut Canvas, values: &Values, labelled: bool) {
        let kind = Type::new(SMALL, SOFT_INK).at(Anchor::End);
        for (value, label) in values.ticks.values().into_iter().zip(values.ticks.labels()) {
            let y = self.y.at(value);
            let line = [(self.area.left, y), (self.area.right, y)];
            canvas.line(&line, Pen::solid(HAIRLINE_GREY, HAIRLINE));
            if labelled {
                canvas.words(self.area.left - 4.0, kind.centred_on(y), &label, kind);
            }
        }
    }

    /// The line under the plot with its ticks. Labels that would touch the one before are left out.
    pub(super) fn floor(&self, canvas: &mut Canvas, ticks: &[(f64, String)]) {
        let bottom = self.area.bottom;
        let pen = Pen::solid(INK, FINE);
        canvas.line(&[(self.area.left, bottom), (self.area.right, bottom)], pen);
        let kind = Type::new(SMALL, SOFT_INK).at(Anchor::Middle);
        let mut taken = f64::NEG_INFINITY;
        for (value, label) in ticks {
            let x = self.x.at(*value);
            canvas.line(&[(x, bottom), (x, bottom + 2.5)], pen);
            let extent = kind.extent(x, 0.0, label);
            if extent.left > taken + 3.0 {
                canvas.words(x, floor_baseline(bottom), label, kind);
                taken = extent.right;
            }
        }
    }

    /// A line through values, cut where it leaves the plot, broken where a value is not finite.
    pub(super) fn line(&self, canvas: &mut Canvas, points: &[Point], pen: Pen) {
        let points: Vec<Point> = points.iter().map(|(x, y)| self.at(*x, *y)).collect();
        canvas.line_within(&self.area, &points, pen);
    }

    /// A mark of a state at a pair of values; not drawn but remembered where it lies outside.
    pub(super) fn mark(&mut self, canvas: &mut Canvas, at: Point, state: State, size: f64) {
        if self.admits(at, state.colour()) {
            marks::mark(canvas, self.at(at.0, at.1), state, size);
        }
    }

    /// The cross of a struck reading, under the same rule.
    pub(super) fn cross(&mut self, canvas: &mut Canvas, at: Point, state: State) {
        if self.admits(at, state.colour()) {
            marks::cross(canvas, self.at(at.0, at.1), state.word_colour());
        }
    }

    /// A small dot of a colour, under the same rule.
    pub(super) fn dot(&mut self, canvas: &mut Canvas, at: Point, colour: Rgb, radius: f64) {
        if self.admits(at, colour) {
            canvas.disc(self.at(at.0, at.1), radius, colour);
        }
    }

    /// A whisker from `y - half` to `y + half`; an end beyond the plot gets a small arrow.
    pub(super) fn whisker(&self, canvas: &mut Canvas, (x, y): Point, half: f64, colour: Rgb) {
        let (low, high) = (self.at(x, y - half), self.at(x, y + half));
        whisker(canvas, &self.area, low, high, colour);
    }

    /// Whether a mark may be drawn; remembers it where it may not.
    pub(super) fn admits(&mut self, (x, y): Point, colour: Rgb) -> bool {
        let place = self.at(x, y);
        if !place.0.is_finite() || !place.1.is_finite() {
            return false;
        }
        if self.area.holds(place) {
            return true;
        }
        let above = place.1 < self.area.top;
        let x = place.0.clamp(self.area.left, self.area.right);
        self.beyond.push(Beyond { x, above, value: y, colour });
        false
    }

    /// Says with arrows, and with the farthest value on either side, what lies above and below the plot.
    pub(super) fn say_beyond(&mut self, canvas: &mut Canvas) {
        let beyond = std::mem::take(&mut self.beyond);
        for above in [true, false] {
            let side: Vec<&Beyond> = beyond.iter().filter(|one| one.above == above).collect();
            let farther = |a: &&&Beyond, b: &&&Beyond| {
                if above { a.value.total_cmp(&b.value) } else { b.value.total_cmp(&a.value) }
            };
            let Some(farthest) = side.iter().max_by(farther) else {
                continue;
            };
            let (edge, direction) =
                if above { (self.area.top + 5.0, -1.0) } else { (self.area.bottom - 5.0, 1.0) };
            for one in &side {
                marks::pointer(canvas, (one.x, edge), (0.0, direction), one.colour);
            }
            let value = labels::plain_number(farthest.value);
            let (words, inward) = match (side.len(), above) {
                (1, _) => (value, 0.0),
                (count, true) => (format!("{count} above, up to {value}"), 9.0),
                (count, false) => (format!("{count} below, down to {value}"), 9.0),
            };
            let mut lines = text::wrap(&words, SMALL, Face::Regular, self.area.width() - 3.0);
            if !above {
                // They are set from the edge inward.
                lines.reverse();
            }
            let first = if lines.len() > 1 { 9.0 } else { inward };
            for (line, words) in lines.iter().enumerate() {
                let (x, kind) = labels::beside(farthest.x, 4.0, words, Type::new(SMALL, INK), &self.area);
                let y = edge + direction * (1.0 - first - 9.0 * line as f64);
                canvas.words_on_white(x, kind.centred_on(y), words, kind);
            }
        }
    }

    /// Hatches the forbidden side of a limit and draws its edge, as far as they lie in the plot.
    pub(super) fn forbid(&self, canvas: &mut Canvas, limit: &Limit) {
        canvas.within(Layer::Limit, |canvas| self.draw_forbidden(canvas, limit));
    }

    fn draw_forbidden(&self, canvas: &mut Canvas, limit: &Limit) {
        let (above, below) = limit.above_and_below();
        let whole = self.area;
        if let Some(edge) = above {
            let bottom = self.y.at(edge);
            if let Some(region) = whole.common(&Rect { bottom, ..whole }) {
                canvas.hatch(&region);
            }
        }
        if let Some(edge) = below {
            let top = self.y.at(edge);
            if let Some(region) = whole.common(&Rect { top, ..whole }) {
                canvas.hatch(&region);
            }
        }
        for edge in limit.edges() {
            let y = self.y.at(edge);
            let line = [(whole.left, y), (whole.right, y)];
            canvas.line_within(&whole, &line, Pen::solid(GREY, FINE));
        }
    }

    /// Whether an edge of the limit lies in the plot.
    pub(super) fn shows(&self, limit: &Limit) -> bool {
        limit.edges().iter().any(|edge| {
            let y = self.y.at(*edge);
            y >= self.area.top - 1e-9 && y <= self.area.bottom + 1e-9
        })
    }
}

/// The baseline of tick labels under a plot whose floor is at `bottom`.
pub(super) fn floor_baseline(bottom: f64) -> f64 {
    bottom + 10.5
}

/// A line between two places, cut to the plot, with an arrow at an end that was cut off.
pub(super) fn whisker(canvas: &mut Canvas, area: &Rect, from: Point, to: Point, colour: Rgb) {
    let Some((start, end)) = clip::segment(area, from, to) else {
        return;
    };
    canvas.line(&[start, end], Pen::solid(colour, FINE));
    for (was, now, other) in [(from, start, end), (to, end, start)] {
        let length = (now.0 - other.0).hypot(now.1 - other.1);
        if was != now && length > 6.0 {
            let direction = ((now.0 - other.0) / length, (now.1 - other.1) / length);
            let foot = (now.0 - 4.0 * direction.0, now.1 - 4.0 * direction.1);
            let wing = 1.6;
            let sides = [
                (foot.0 - wing * direction.1, foot.1 + wing * direction.0),
                (foot.0 + wing * direction.1, foot.1 - wing * direction.0),
            ];
            canvas.line(&[sides[0], now, sides[1]], Pen::solid(colour, FINE));
        }
    }
}

/// The range of an axis: the data, a limit that is near enough not to crush them, and struck readings
/// as far as one more span on either side. `None` where nothing is finite.
pub(super) fn range(
    data: impl IntoIterator<Item = f64>,
    struck: impl IntoIterator<Item = f64>,
    limit: Option<&Limit>,
) -> Option<(f64, f64)> {
    let struck: Vec<f64> = struck.into_iter().filter(|value| value.is_finite()).collect();
    let (mut low, mut high) = span(data).or_else(|| span(struck.iter().copied()))?;
    let size = high - low;
    let near = struck.into_iter().filter(|value| *value >= low - size && *value <= high + size);
    (low, high) = span(near.chain([low, high]))?;
    // A mark should stand in the plot, not on its edge; only zero is a good edge.
    let room = 0.05 * (high - low);
    let (bottom, top) = (low - room, high + room);
    low = if low >= 0.0 { bottom.max(0.0) } else { bottom };
    high = if high <= 0.0 { top.min(0.0) } else { top };
    let edges = limit.map(Limit::edges).unwrap_or_default();
    for edge in edges {
        let near = size == 0.0 || (edge >= low - 1.5 * size && edge <= high + 1.5 * size);
        if near {
            // A little of the forbidden side is shown too.
            let room = 0.1 * (high.max(edge) - low.min(edge));
            (low, high) = (low.min(edge - room), high.max(edge + room));
        }
    }
    Some((low, high))
}

/// Plots of equal width side by side, from `left` to `right`.
pub(super) fn columns(count: usize, left: f64, right: f64, gap: f64, top: f64, height: f64) -> Vec<Rect> {
    let count = count.max(1);
    let width = (right - left - gap * (count - 1) as f64) / count as f64;
    (0..count)
        .map(|index| {
            let left = left + index as f64 * (width + gap);
            Rect { left, top, right: left + width, bottom: top + height }
        })
        .collect()
}
