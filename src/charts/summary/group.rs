//! Rows whose scales mean the same.

use super::super::canvas::{Anchor, Canvas, Pen, Type};
use super::super::clip::Rect;
use super::super::fit::More;
use super::super::frame::Scale;
use super::super::style::{FINE, HAIRLINE, HAIRLINE_GREY, INK, SMALL, SOFT_INK};
use super::super::text::{self, Face};
use super::super::{Bound, Measured};
use super::row::PlacedRow;
use super::{Columns, Summary, SummaryRow};

/// How the rows of a group are scaled.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    ShareOfLimit,
    BetweenLimits,
    FromLimit,
    NoLimitFromZero,
    NoLimitLowToHigh,
}

const KINDS: [Kind; 5] =
    [Kind::ShareOfLimit, Kind::BetweenLimits, Kind::FromLimit, Kind::NoLimitFromZero, Kind::NoLimitLowToHigh];

/// Shares of the limit are drawn up to this; what lies beyond is an arrow with its words.
const MOST_SHARE: f64 = 5.0;

/// Rows on one axis.
#[derive(Debug)]
pub(super) struct Group<'a> {
    kind: Kind,
    rows: Vec<PlacedRow<'a>>,
    low: f64,
    high: f64,
}

impl<'a> Group<'a> {
    /// The groups that have rows, in their fixed order.
    pub(super) fn all(summary: &'a Summary) -> Vec<Self> {
        let of_kind = |kind: Kind| {
            let rows: Vec<PlacedRow<'a>> =
                summary.rows.iter().filter(|row| kind_of(row) == kind).map(|row| placed(row, kind)).collect();
            (!rows.is_empty()).then(|| {
                let (low, high) = axis(kind, &rows);
                Self { kind, rows, low, high }
            })
        };
        KINDS.into_iter().filter_map(of_kind).collect()
    }

    /// Whether this is the group that explains itself by its axis.
    pub(super) fn is_share_of_limit(&self) -> bool {
        self.kind == Kind::ShareOfLimit
    }

    /// Whether its rows have limits.
    pub(super) fn has_limits(&self) -> bool {
        matches!(self.kind, Kind::ShareOfLimit | Kind::BetweenLimits | Kind::FromLimit)
    }

    /// Says how the rows are scaled; returns where the words end.
    pub(super) fn draw_heading(&self, canvas: &mut Canvas, columns: &Columns, top: f64) -> f64 {
        let words = match self.kind {
            Kind::ShareOfLimit => "Against one limit, as a share of it",
            Kind::BetweenLimits => "Between two limits",
            Kind::FromLimit => "Distance from the limit, each row to its own scale",
            Kind::NoLimitFromZero => "No limit; each row to the larger of its values",
            Kind::NoLimitLowToHigh => "No limit; each row from its lowest value to its highest",
        };
        let kind = Type::new(SMALL, SOFT_INK);
        let mut y = top;
        for line in text::wrap(words, SMALL, Face::Regular, columns.plot_right - columns.plot_left) {
            canvas.words(columns.plot_left, y + SMALL * text::ABOVE, &line, kind);
            y += SMALL * text::LEADING;
        }
        y + 2.0
    }

    /// Draws the rows and the axis under them; returns where they end.
    pub(super) fn draw(
        &self,
        canvas: &mut Canvas,
        summary: &Summary,
        columns: &Columns,
        top: f64,
        (compact, more): (bool, More),
    ) -> f64 {
        let visits = summary.visits.len();
        let height = |row: &PlacedRow<'_>| row.height(columns, visits, compact) + apart(more, visits);
        let heights: Vec<f64> = self.rows.iter().map(height).collect();
        let bottom = top + heights.iter().sum::<f64>();
        let area = Rect { left: columns.plot_left, top, right: columns.plot_right, bottom };
        let scale = Scale { low: self.low, high: self.high, from: area.left + 4.0, to: area.right - 4.0 };
        let ticks = self.ticks();
        for (value, label) in &ticks {
            let x = scale.at(*value);
            let is_limit = self.has_limits() && label.contains("limit") && !label.contains('×');
            if !is_limit {
                let line = [(x, area.top), (x, area.bottom)];
                canvas.line(&line, Pen::solid(HAIRLINE_GREY, HAIRLINE));
            }
        }
        let mut y = top;
        for (row, height) in self.rows.iter().zip(heights) {
            let strip = Rect { top: y, bottom: y + height, ..area };
            row.draw(canvas, &summary.visits, columns, &strip, (&scale, apart(more, visits)));
            y += height;
            let line = [(0.0, y), (area.right, y)];
            canvas.line(&line, Pen::solid(HAIRLINE_GREY, HAIRLINE));
        }
        draw_ticks(canvas, &area, &scale, &ticks)
    }

    fn ticks(&self) -> Vec<(f64, String)> {
        let words = |pairs: &[(f64, &str)]| -> Vec<(f64, String)> {
            pairs.iter().map(|(value, word)| (*value, (*word).to_owned())).collect()
        };
        match self.kind {
            Kind::ShareOfLimit => {
                let mut ticks = words(&[(0.0, "0"), (1.0, "limit")]);
                let beyond = (2..=5).map(f64::from).filter(|share| *share <= self.high);
                ticks.extend(beyond.map(|share| (share, format!("{share}× limit"))));
                ticks
            }
            Kind::BetweenLimits => words(&[(-1.0, "lower limit"), (0.0, "middle"), (1.0, "upper limit")]),
            Kind::FromLimit => words(&[(0.0, "limit")]),
            Kind::NoLimitFromZero => words(&[(0.0, "0")]),
            Kind::NoLimitLowToHigh => Vec::new(),
        }
    }
}

/// How much higher a row of so many visits is than on paper: no more than keeps its marks together.
fn apart(more: More, visits: usize) -> f64 {
    more.added().min(22.0 * visits.max(1) as f64)
}

/// The line under a group with its words; words that would touch are left out. Returns where they end.
fn draw_ticks(canvas: &mut Canvas, area: &Rect, scale: &Scale, ticks: &[(f64, String)]) -> f64 {
    let pen = Pen::solid(INK, FINE);
    canvas.line(&[(area.left, area.bottom), (area.right, area.bottom)], pen);
    if ticks.is_empty() {
        return area.bottom + 4.0;
    }
    // The limit is named whatever else has no room.
    let mut order: Vec<&(f64, String)> = ticks.iter().collect();
    order.sort_by_key(|(_, words)| (!words.ends_with("limit") || words.contains('×'), words.contains('×')));
    let mut taken: Vec<Rect> = Vec::new();
    for (value, words) in order {
        let x = scale.at(*value);
        canvas.line(&[(x, area.bottom), (x, area.bottom + 2.5)], pen);
        let kind = Type::new(SMALL, SOFT_INK).at(Anchor::Middle);
        let half = text::width(words, SMALL, Face::Regular) / 2.0;
        let middle = x.min(area.right - half).max(area.left + half);
        let baseline = area.bottom + 10.0;
        let extent = kind.extent(middle, baseline, words);
        let is_clear =
            taken.iter().all(|other| extent.left > other.right + 4.0 || extent.right < other.left - 4.0);
        if is_clear {
            taken.push(canvas.words(middle, baseline, words, kind));
        }
    }
    area.bottom + 13.0
}

fn kind_of(row: &SummaryRow) -> Kind {
    match row.limit.as_ref().map(|limit| limit.bound) {
        Some(Bound::Between(a, b)) if a < b || b < a => Kind::BetweenLimits,
        Some(Bound::AtMost(edge) | Bound::AtLeast(edge)) if row.true_zero && edge > 0.0 => Kind::ShareOfLimit,
        Some(_) => Kind::FromLimit,
        None if row.true_zero => Kind::NoLimitFromZero,
        None => Kind::NoLimitLowToHigh,
    }
}

/// Gives every value of a row its place: (value − zero)/unit.
fn placed(row: &SummaryRow, kind: Kind) -> PlacedRow<'_> {
    let found = || row.found.iter().flatten();
    let farthest = |from: f64| {
        let ends = found().map(|one: &Measured| (one.value - from).abs() + one.half());
        let far = ends.fold(0.0, f64::max);
        if far > 0.0 { far } else { 1.0 }
    };
    let edges = row.limit.as_ref().map(super::super::Limit::edges).unwrap_or_default();
    let first = edges.first().copied().unwrap_or(0.0);
    let last = edges.last().copied().unwrap_or(0.0);
    let (zero, unit) = match kind {
        Kind::ShareOfLimit => (0.0, first),
        Kind::BetweenLimits => (f64::midpoint(first, last), (last - first) / 2.0),
        Kind::FromLimit => (first, farthest(first)),
        Kind::NoLimitFromZero => (0.0, farthest(0.0)),
        Kind::NoLimitLowToHigh => {
            let ends = found().flat_map(|one| [one.value - one.half(), one.value + one.half()]);
            let (low, high) = super::super::frame::span(ends).unwrap_or((0.0, 1.0));
            let middle = f64::midpoint(low, high);
            (middle, farthest(middle))
        }
    };
    PlacedRow { row, zero, unit }
}

/// The range of places on a group's axis.
fn axis(kind: Kind, rows: &[PlacedRow<'_>]) -> (f64, f64) {
    let ends = || rows.iter().flat_map(PlacedRow::ends);
    let (low, high) = super::super::frame::span(ends()).unwrap_or((0.0, 1.0));
    match kind {
        Kind::ShareOfLimit => {
            let high = high.clamp(1.25, MOST_SHARE) + 0.1;
            (low.clamp(-0.1 * high, 0.0), high)
        }
        Kind::BetweenLimits => (low.clamp(-3.0, -1.35), high.clamp(1.35, 3.0)),
        // Room for the words beside the whisker that reaches farthest.
        Kind::FromLimit | Kind::NoLimitLowToHigh => (-1.5, 1.5),
        Kind::NoLimitFromZero => (low.clamp(-1.05, 0.0), 1.05),
    }
}
