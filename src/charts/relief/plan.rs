//! Where the plans stand on the sheet and how large they are: all alike, to scale where that can be.

use super::Relief;
use crate::charts::ChartError;
use crate::charts::canvas::{Anchor, Canvas, Pen, Type};
use crate::charts::clip::Rect;
use crate::charts::frame::{self, Frame, Scale};
use crate::charts::style::{FINE, INK, SMALL, SOFT_INK};
use crate::charts::text::{self, Face};
use crate::charts::ticks::Ticks;

/// Air between the outermost places and the plot's edge: their marks stand in the plot.
const AIR: f64 = 6.0;
/// Between two columns.
const GAP: f64 = 14.0;
/// A plan is not drawn higher than this, and no side of it shorter than that, without its air.
pub(super) const HIGHEST: f64 = 210.0;
const SHORTEST: f64 = 44.0;
/// A plan in a row of two or three is not narrower than this.
pub(super) const NARROWEST: f64 = 96.0;
/// In a picture, which is not as long as it must be, than that.
pub(super) const IN_PICTURE: f64 = 62.0;
/// A table longer than this many times its depth is drawn one visit under the other, which shows more
/// of it than two thin strips side by side.
const LONG: f64 = 4.0;

/// The plans' common size and place.
#[derive(Debug)]
pub(super) struct Plan {
    x: (f64, f64),
    y: (f64, f64),
    across: Ticks,
    up: Ticks,
    /// The room for the labels left of the first column.
    pub(super) left: f64,
    /// The number of plans in a row.
    pub(super) columns: usize,
    /// The width of a column.
    pub(super) cell: f64,
    gap: f64,
    /// The plot with its air.
    width: f64,
    pub(super) height: f64,
    /// By how much y is drawn larger than x; 1 where the plan is to scale.
    pub(super) stretch: f64,
}

impl Plan {
    /// Measures the places of all visits and finds room for them.
    pub(super) fn new(chart: &Relief, highest: f64, narrowest: f64) -> Result<Self, ChartError> {
        let points = || chart.visits.iter().flat_map(|visit| &visit.points);
        let nothing = ChartError::Nothing("no place");
        let x = frame::span(points().map(|point| point.x)).ok_or(nothing.clone())?;
        let y = frame::span(points().map(|point| point.y)).ok_or(nothing)?;
        let (x, y) = sides(x, y);
        let up = Ticks::inside(y.0, y.1, 4);
        let labels = text::widest(up.labels().iter().map(String::as_str), SMALL, Face::Regular);
        let left = labels.max(text::width(&axis("y", &up, chart), SMALL, Face::Regular)) + 5.0;
        let (across, long) = (x.1 - x.0, (x.1 - x.0) / (y.1 - y.0));
        let most = match chart.visits.len() {
            _ if long > LONG && narrowest >= NARROWEST => 1,
            count @ 0..=2 => count.max(1),
            4 => 2,
            _ => 3,
        };
        let ends = Ticks::inside(x.0, x.1, 4);
        let end = text::widest(ends.labels().iter().map(String::as_str), SMALL, Face::Regular) / 2.0;
        let gap = GAP.max(2.0 * (end - AIR) + 6.0);
        let inner = chart.width_pt - left - (end - AIR).max(1.0);
        let column = |count: usize| (inner - gap * (count - 1) as f64) / count as f64;
        let columns = (1..=most).rev().find(|count| column(*count) >= narrowest).unwrap_or(1);
        let cell = column(columns);
        if cell < SHORTEST + 2.0 * AIR {
            return Err(ChartError::TooNarrow { width_pt: chart.width_pt });
        }
        let scale = ((cell - 2.0 * AIR) / across).min((highest - 2.0 * AIR).max(1.0) / (y.1 - y.0));
        let width = (scale * across).max(SHORTEST);
        let height = (scale * (y.1 - y.0)).max(SHORTEST);
        let stretch = (height / (y.1 - y.0)) / (width / across);
        let most_across = if width < 90.0 { 2 } else { 4 + usize::from(width > 250.0) * 2 };
        let across = Ticks::inside(x.0, x.1, most_across);
        let (width, height) = (width + 2.0 * AIR, height + 2.0 * AIR);
        Ok(Self { x, y, across, up, left, columns, cell, gap, width, height, stretch })
    }

    /// The left edge of a column.
    pub(super) fn column(&self, index: usize) -> f64 {
        self.left + (self.cell + self.gap) * index as f64
    }

    /// A plot whose top left corner is there.
    pub(super) fn frame(&self, left: f64, top: f64) -> Frame {
        let area = Rect { left, top, right: left + self.width, bottom: top + self.height };
        let x = Scale { low: self.x.0, high: self.x.1, from: area.left + AIR, to: area.right - AIR };
        let y = Scale { low: self.y.0, high: self.y.1, from: area.bottom - AIR, to: area.top + AIR };
        Frame::new(area, x, y)
    }

    /// Draws both axes, the labels of y only where asked; returns where they end.
    pub(super) fn draw_axes(
        &self,
        canvas: &mut Canvas,
        frame: &Frame,
        chart: &Relief,
        is_first: bool,
    ) -> f64 {
        let area = frame.area;
        let pen = Pen::solid(INK, FINE);
        canvas.line(&[(area.left, area.top), (area.left, area.bottom)], pen);
        let kind = Type::new(SMALL, SOFT_INK).at(Anchor::End);
        for (value, label) in self.up.values().into_iter().zip(self.up.labels()) {
            let y = frame.y.at(value);
            if y < area.top || y > area.bottom {
                continue;
            }
            canvas.line(&[(area.left - 2.5, y), (area.left, y)], pen);
            if is_first {
                canvas.words(area.left - 4.0, kind.centred_on(y), &label, kind);
            }
        }
        if is_first {
            let words = axis("y", &self.up, chart);
            // Level with the visit's name.
            canvas.words(area.left - 4.0, kind.centred_on(area.top - 3.0 - super::HEAD / 2.0), &words, kind);
        }
        self.draw_floor(canvas, frame, chart)
    }

    /// The floor with its labels; the axis's name stands between two of them, or else below.
    fn draw_floor(&self, canvas: &mut Canvas, frame: &Frame, chart: &Relief) -> f64 {
        let area = frame.area;
        let kind = Type::new(SMALL, SOFT_INK).at(Anchor::Middle);
        let inside = |(value, _): &(f64, String)| {
            let x = frame.x.at(*value);
            x >= area.left && x <= area.right
        };
        let labels: Vec<(f64, String)> =
            self.across.values().into_iter().zip(self.across.labels()).filter(inside).collect();
        frame.floor(canvas, &labels);
        let words = axis("x", &self.across, chart);
        let need = text::width(&words, SMALL, Face::Regular) + 6.0;
        let extents: Vec<Rect> =
            labels.iter().map(|(value, label)| kind.extent(frame.x.at(*value), 0.0, label)).collect();
        let baseline = frame::floor_baseline(area.bottom);
        let mut room = extents.windows(2).rev().filter_map(|pair| match pair {
            [a, b] if b.left - a.right >= need => Some(f64::midpoint(a.right, b.left)),
            _ => None,
        });
        if let Some(middle) = room.next() {
            canvas.words(middle, baseline, &words, kind);
            return baseline + 3.5;
        }
        let below = baseline + SMALL * text::LEADING;
        for (index, line) in text::wrap(&words, SMALL, Face::Regular, self.cell).iter().enumerate() {
            let y = below + SMALL * text::LEADING * index as f64;
            canvas.words(area.left, y, line, kind.at(Anchor::Start));
        }
        let lines = text::wrap(&words, SMALL, Face::Regular, self.cell).len() as f64;
        baseline + SMALL * text::LEADING * lines + 3.0
    }

    /// How the plan is drawn, in words.
    pub(super) fn words(&self) -> String {
        if (self.stretch - 1.0).abs() < 0.01 {
            "drawn to scale".to_owned()
        } else if self.stretch > 1.0 {
            format!("not to scale: y drawn {} times as large as x", times(self.stretch))
        } else {
            format!("not to scale: x drawn {} times as large as y", times(1.0 / self.stretch))
        }
    }
}

/// `x, mm`; the unit goes with the numbers.
fn axis(name: &str, ticks: &Ticks, chart: &Relief) -> String {
    let unit = ticks.unit(&chart.length_unit);
    if unit.is_empty() { name.to_owned() } else { format!("{name}, {unit}") }
}

fn times(ratio: f64) -> String {
    match ratio {
        ratio if ratio < 10.0 => format!("{ratio:.1}"),
        ratio if ratio < 1e6 => format!("{ratio:.0}"),
        _ => "over a million".to_owned(),
    }
}

/// Both sides of a plan, opened where one is nothing beside the other, as for places on one line.
fn sides(x: (f64, f64), y: (f64, f64)) -> ((f64, f64), (f64, f64)) {
    let (wide, deep) = (x.1 - x.0, y.1 - y.0);
    let open = |side: (f64, f64), by: f64| (side.0 - by, side.1 + by);
    let size = x.0.abs().max(x.1.abs()).max(y.0.abs()).max(y.1.abs());
    if wide.max(deep) <= size * 1e-9 || size < 1e-140 {
        let by = if size < 1e-140 { 1.0 } else { size / 10.0 };
        return (open(x, by), open(y, by / 3.0));
    }
    if deep < 1e-6 * wide {
        (x, open(y, wide / 6.0))
    } else if wide < 1e-6 * deep {
        (open(x, deep / 6.0), y)
    } else {
        (x, y)
    }
}
