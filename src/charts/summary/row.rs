//! One row: a lane for each visit with its mark, whisker and words, and the forbidden side behind.

use super::super::canvas::{Anchor, Canvas, Pen, Type};
use super::super::clip::Rect;
use super::super::frame::{self, Scale};
use super::super::marks;
use super::super::sheet::Layer;
use super::super::style::{FINE, INK, MARK, SMALL, SOFT_INK, State, TEXT};
use super::super::text::{self, Face};
use super::super::{Measured, Visit};
use super::{Columns, SummaryRow};

/// A row with the scale that gives its values their places.
#[derive(Debug)]
pub(super) struct PlacedRow<'a> {
    /// The row.
    pub(super) row: &'a SummaryRow,
    /// The value at place 0.
    pub(super) zero: f64,
    /// The value of one place.
    pub(super) unit: f64,
}

/// The height of a lane in points.
const LANE: f64 = 9.4;
const COMPACT_LANE: f64 = 8.4;
/// Between the lanes of one row and those of the next.
const BETWEEN: f64 = 5.0;

impl PlacedRow<'_> {
    fn place(&self, value: f64) -> f64 {
        (value - self.zero) / self.unit
    }

    /// The places of the ends of all whiskers.
    pub(super) fn ends(&self) -> Vec<f64> {
        let found = self.row.found.iter().flatten();
        let ends = found.flat_map(|one| [one.value - one.half(), one.value + one.half()]);
        ends.map(|value| self.place(value)).collect()
    }

    /// The height that the lanes, the label and the limit need.
    pub(super) fn height(&self, columns: &Columns, visits: usize, compact: bool) -> f64 {
        let lane = if compact { COMPACT_LANE } else { LANE };
        let between = if compact { 2.4 } else { BETWEEN };
        let label = self.label(columns).len() as f64 * TEXT * text::LEADING;
        let limit = self.limit(columns).len() as f64 * SMALL * text::LEADING;
        (lane * visits.max(1) as f64).max(label).max(limit) + between
    }

    fn label(&self, columns: &Columns) -> Vec<String> {
        text::wrap(&self.row.label, TEXT, Face::Regular, columns.label_room + 0.01)
    }

    fn limit(&self, columns: &Columns) -> Vec<String> {
        let words = self.row.limit.as_ref().map_or("", |limit| limit.text.as_str());
        text::wrap(words, SMALL, Face::Regular, columns.limit_room + 0.01)
    }

    /// Draws the row into its strip of the plot, with its label and its limit on either side.
    pub(super) fn draw(
        &self,
        canvas: &mut Canvas,
        visits: &[Visit],
        columns: &Columns,
        strip: &Rect,
        (scale, apart): (&Scale, f64),
    ) {
        let middle = f64::midpoint(strip.top, strip.bottom);
        draw_lines(canvas, 0.0, middle, &self.label(columns), Type::new(TEXT, INK));
        canvas.on(Layer::Limit);
        draw_lines(canvas, columns.limit_left, middle, &self.limit(columns), Type::new(SMALL, INK));
        self.forbid(canvas, strip, scale);
        canvas.on(Layer::Frame);
        let widest = LANE + 0.6 * apart / visits.len().max(1) as f64;
        let lane = ((strip.height() - 1.5) / visits.len().max(1) as f64).min(widest);
        let first = middle - lane * (visits.len().max(1) - 1) as f64 / 2.0;
        let lanes: Vec<(Layer, State, f64, &Measured)> = visits
            .iter()
            .zip(&self.row.found)
            .enumerate()
            .filter_map(|(index, (visit, found))| {
                Some((Layer::Visit(index), visit.state, first + lane * index as f64, found.as_ref()?))
            })
            .collect();
        let places: Vec<(f64, f64)> =
            lanes.iter().map(|(_, _, y, found)| (scale.at(self.place(found.value)), *y)).collect();
        // The line between two visits is seen with the later one.
        let joined = lanes.last().map_or(Layer::Frame, |(layer, ..)| *layer);
        canvas.within(joined, |canvas| canvas.line_within(strip, &places, Pen::solid(SOFT_INK, FINE)));
        for (index, (layer, state, y, found)) in lanes.iter().enumerate() {
            canvas.on(*layer);
            let other = if index == 0 { places.get(1) } else { places.get(index - 1) };
            let prefers_left = other.is_some_and(|other| other.0 > places[index].0);
            // Free above: up to the visit before that has a value, or to the row's edge.
            let above = y - if index == 0 { strip.top } else { places[index - 1].1 };
            self.draw_found(canvas, (strip, above), scale, (*state, *y, found), prefers_left);
        }
        canvas.on(Layer::Frame);
    }

    /// Hatches the forbidden side and draws the limit.
    fn forbid(&self, canvas: &mut Canvas, strip: &Rect, scale: &Scale) {
        let Some(limit) = &self.row.limit else { return };
        let (above, below) = limit.above_and_below();
        let above = above.map(|edge| scale.at(self.place(edge)));
        let below = below.map(|edge| scale.at(self.place(edge)));
        for region in [above.map(|left| Rect { left, ..*strip }), below.map(|right| Rect { right, ..*strip })]
        {
            if let Some(region) = region.and_then(|region| region.common(strip)) {
                canvas.hatch(&region);
            }
        }
        for x in [above, below].into_iter().flatten() {
            canvas.line_within(strip, &[(x, strip.top), (x, strip.bottom)], Pen::solid(SOFT_INK, FINE));
        }
    }

    /// Whisker, mark and words of one visit; an arrow at the edge for a value beyond it.
    fn draw_found(
        &self,
        canvas: &mut Canvas,
        (strip, above): (&Rect, f64),
        scale: &Scale,
        (state, y, found): (State, f64, &Measured),
        prefers_left: bool,
    ) {
        let kind = Type::new(SMALL, INK);
        let x = scale.at(self.place(found.value));
        if !strip.holds((x, y)) {
            let (edge, direction, anchor) = if x > strip.right {
                (strip.right, 1.0, Anchor::End)
            } else {
                (strip.left, -1.0, Anchor::Start)
            };
            let foot = edge - 6.0 * direction;
            marks::pointer(canvas, (foot, y), (direction, 0.0), state.colour());
            canvas.words_on_white(foot - 3.0 * direction, kind.centred_on(y), &found.text, kind.at(anchor));
            return;
        }
        let ends = [found.value - found.half(), found.value + found.half()];
        let [low, high] = ends.map(|end| scale.at(self.place(end)));
        let (low, high) = (low.min(high).max(strip.left), low.max(high).min(strip.right));
        let width = text::width(&text::clean(&found.text), kind.size, kind.face);
        let gap = MARK + 3.0;
        // Beside the whisker, away from the other mark; if there is no room, on the other side; if there
        // is none either, above it, and where not even that is free, over the whisker.
        let left = [low.min(x - gap + 3.0) - 4.0 - width, x - gap - width];
        let right = [high.max(x + gap - 3.0) + 4.0, x + gap];
        let fits = |start: &f64| *start >= strip.left + 1.0 && *start + width <= strip.right - 1.0;
        let order = if prefers_left {
            [left[0], right[0], left[1], right[1]]
        } else {
            [right[0], left[0], right[1], left[1]]
        };
        let most = (strip.right - width - 1.0).max(strip.left);
        let rise = if above > 2.0 * kind.size { MARK + 0.6 * kind.size } else { 0.0 };
        let (start, line) = match order.into_iter().find(fits) {
            Some(start) => (start, y),
            // No room beside the mark: the words end where the plot does.
            None => (most, y - rise),
        };
        let from = (scale.at(self.place(ends[0])), y);
        let to = (scale.at(self.place(ends[1])), y);
        frame::whisker(canvas, strip, from, to, state.colour());
        canvas.words_on_white(start, kind.centred_on(line), &found.text, kind);
        marks::mark(canvas, (x, y), state, MARK);
    }
}

/// Lines centred on a height.
fn draw_lines(canvas: &mut Canvas, x: f64, middle: f64, lines: &[String], kind: Type) {
    let leading = kind.size * text::LEADING;
    let top = middle - leading * lines.len() as f64 / 2.0;
    for (index, line) in lines.iter().enumerate() {
        canvas.words(x, kind.centred_on(top + leading * (index as f64 + 0.5)), line, kind);
    }
}
