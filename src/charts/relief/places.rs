//! Room for words on a plan: never on each other, on a mark or off the plot.

use crate::charts::clip::{self, Point, Rect};
use crate::charts::style::SMALL;
use crate::charts::text::{self, Face};

/// What lies on a plan already.
#[derive(Debug, Default)]
pub(super) struct Taken {
    /// Words and the marks of the highest and the lowest place: nothing goes on them.
    firm: Vec<Rect>,
    /// Places read: words go on them only where there is no other room.
    soft: Vec<Rect>,
}

impl Taken {
    /// Keeps words off a rectangle.
    pub(super) fn keep(&mut self, rect: Rect) {
        self.firm.push(rect);
    }

    /// Keeps words off a rectangle if that can be.
    pub(super) fn spare(&mut self, rect: Rect) {
        self.soft.push(rect);
    }

    /// Whether nothing at all lies there.
    pub(super) fn is_clear(&self, rect: &Rect) -> bool {
        self.is_free(rect) && self.soft.iter().all(|other| rect.common(other).is_none())
    }

    fn is_free(&self, rect: &Rect) -> bool {
        self.firm.iter().all(|other| rect.common(other).is_none())
    }

    /// The room for words nearest to a place, beside it first; `None` where the plot is full.
    pub(super) fn beside(&self, words: &str, (x, y): Point, area: &Rect) -> Option<Rect> {
        const GAP: f64 = 6.0;
        let (width, height) = size(words);
        let (right, above) = (GAP + width / 2.0, GAP + height / 2.0);
        let mut centres: Vec<Point> = [(1.0, 0.0), (-1.0, 0.0), (0.0, -1.0), (0.0, 1.0)]
            .map(|(dx, dy)| (x + dx * right, y + dy * above))
            .to_vec();
        centres.extend(
            [(1.0, -1.0), (-1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)]
                .map(|(dx, dy)| (x + dx * (right - 2.0), y + dy * (above - 2.0))),
        );
        let mut farther = lattice(area, (width, height));
        let distance = |(cx, cy): &Point| (cx - x).hypot(cy - y);
        farther.sort_by(|a, b| distance(a).total_cmp(&distance(b)));
        let near = centres.len();
        centres.extend(farther);
        let boxes: Vec<Rect> = centres.into_iter().map(|centre| about(centre, (width, height))).collect();
        let inside =
            |rect: &&Rect| area.holds((rect.left, rect.top)) && area.holds((rect.right, rect.bottom));
        let beside = || boxes.iter().take(near).filter(inside);
        let clear =
            beside().find(|rect| self.is_clear(rect)).or_else(|| beside().find(|rect| self.is_free(rect)));
        clear.or_else(|| boxes.iter().filter(inside).find(|rect| self.is_free(rect))).copied()
    }

    /// The room for the value of a level on its line: where the line runs level and is clear of all else,
    /// also of other lines. `allows` says whether a corner may be painted.
    pub(super) fn on_line(
        &self,
        words: &str,
        line: &[Point],
        others: &[Vec<Point>],
        allows: &dyn Fn(Point) -> bool,
    ) -> Option<Rect> {
        let (width, height) = size(words);
        let steps = walk(line, 4.0);
        let length = steps.len() as f64 * 4.0;
        if length < 3.0 * width.max(12.0) {
            return None;
        }
        let middle = steps.len() as f64 / 2.0;
        let worth = |index: usize, slope: f64| 10.0 * slope + (index as f64 - middle).abs() / middle;
        let mut ranked: Vec<(f64, Point)> =
            steps.iter().enumerate().map(|(index, (place, slope))| (worth(index, *slope), *place)).collect();
        ranked.sort_by(|a, b| a.0.total_cmp(&b.0));
        let boxes = ranked.into_iter().map(|(_, centre)| about(centre, (width, height)));
        boxes.into_iter().find(|rect| {
            let corners = [
                (rect.left, rect.top),
                (rect.right, rect.top),
                (rect.right, rect.bottom),
                (rect.left, rect.bottom),
            ];
            self.is_clear(rect) && corners.iter().all(|corner| allows(*corner)) && !is_crossed(rect, others)
        })
    }
}

/// Whether a line runs through a rectangle or close by.
fn is_crossed(rect: &Rect, lines: &[Vec<Point>]) -> bool {
    let wide = Rect {
        left: rect.left - 1.0,
        top: rect.top - 1.0,
        right: rect.right + 1.0,
        bottom: rect.bottom + 1.0,
    };
    lines.iter().flat_map(|line| line.windows(2)).any(|pair| match pair {
        &[from, to] => clip::segment(&wide, from, to).is_some(),
        _ => false,
    })
}

/// Places along a line, evenly apart, each with how steep the line is there, 0 for level to 1.
fn walk(line: &[Point], apart: f64) -> Vec<(Point, f64)> {
    let mut places = Vec::new();
    let mut until = apart / 2.0;
    for pair in line.windows(2) {
        let &[from, to] = pair else { continue };
        let length = (to.0 - from.0).hypot(to.1 - from.1);
        let slope = if length > 0.0 { (to.1 - from.1).abs() / length } else { 0.0 };
        while until <= length {
            let share = until / length.max(f64::MIN_POSITIVE);
            places.push(((from.0 + share * (to.0 - from.0), from.1 + share * (to.1 - from.1)), slope));
            until += apart;
        }
        until -= length;
    }
    places
}

/// Room for a line of small words: their box with a little air.
pub(super) fn size(words: &str) -> (f64, f64) {
    (text::width(&text::clean(words), SMALL, Face::Regular) + 3.0, SMALL + 0.6)
}

fn about((x, y): Point, (width, height): (f64, f64)) -> Rect {
    let (left, top) = (x - width / 2.0, y - height / 2.0);
    Rect { left, top, right: left + width, bottom: top + height }
}

/// Centres of boxes of a size all over a plot.
fn lattice(area: &Rect, (width, height): (f64, f64)) -> Vec<Point> {
    let along = |low: f64, high: f64| -> Vec<f64> {
        let steps = (0..1000u32).map(|step| low + 3.0 * f64::from(step));
        steps.take_while(|at| *at <= high).collect()
    };
    let across = along(area.left + width / 2.0, area.right - width / 2.0);
    let down = along(area.top + height / 2.0, area.bottom - height / 2.0);
    across.iter().flat_map(|x| down.iter().map(|y| (*x, *y))).collect()
}
