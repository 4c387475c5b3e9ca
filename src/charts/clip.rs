//! Clipping in floating point, before plotters sees a coordinate.
//!
//! plotters moves a point outside the axes onto the frame and puts NaN on the origin. So a segment is
//! cut here where it crosses the frame (Liang & Barsky, ACM Trans. Graphics 3 (1984) 1–22), and a line
//! is broken at a point that is not finite.

/// A place on the page or in the plane of the axes.
pub(super) type Point = (f64, f64);

/// A rectangle on the page, in points, y down.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rect {
    /// The smaller x.
    pub left: f64,
    /// The smaller y.
    pub top: f64,
    /// The larger x.
    pub right: f64,
    /// The larger y.
    pub bottom: f64,
}

impl Rect {
    /// Distance from left to right.
    pub(super) fn width(&self) -> f64 {
        self.right - self.left
    }

    /// Distance from top to bottom.
    pub(super) fn height(&self) -> f64 {
        self.bottom - self.top
    }

    /// Whether a point lies inside or on the edge.
    pub(super) fn holds(&self, (x, y): Point) -> bool {
        x >= self.left && x <= self.right && y >= self.top && y <= self.bottom
    }

    /// The corners, from the top left clockwise.
    pub(super) fn corners(&self) -> [Point; 4] {
        let Self { left, top, right, bottom } = *self;
        [(left, top), (right, top), (right, bottom), (left, bottom)]
    }

    /// The common part, `None` where there is none.
    pub(super) fn common(&self, other: &Self) -> Option<Self> {
        let part = Self {
            left: self.left.max(other.left),
            top: self.top.max(other.top),
            right: self.right.min(other.right),
            bottom: self.bottom.min(other.bottom),
        };
        (part.width() > 0.0 && part.height() > 0.0).then_some(part)
    }
}

/// The part of a segment inside the rectangle, `None` if it misses it or an end is not finite.
pub(super) fn segment(rect: &Rect, from: Point, to: Point) -> Option<(Point, Point)> {
    let finite = [from.0, from.1, to.0, to.1].iter().all(|c| c.is_finite());
    if !finite {
        return None;
    }
    let (dx, dy) = (to.0 - from.0, to.1 - from.1);
    let edges = [
        (-dx, from.0 - rect.left),
        (dx, rect.right - from.0),
        (-dy, from.1 - rect.top),
        (dy, rect.bottom - from.1),
    ];
    let (mut enter, mut leave) = (0.0_f64, 1.0_f64);
    for (run, room) in edges {
        if run == 0.0 {
            if room < 0.0 {
                return None;
            }
        } else if run < 0.0 {
            enter = enter.max(room / run);
        } else {
            leave = leave.min(room / run);
        }
    }
    if enter > leave {
        return None;
    }
    let at = |share: f64, end: Point| {
        // The ends themselves are kept to the bit.
        if share <= 0.0 {
            from
        } else if share >= 1.0 {
            end
        } else {
            // Held to the edge against the last bit of rounding only: the point is on it.
            let x = (from.0 + share * dx).clamp(rect.left, rect.right);
            let y = (from.1 + share * dy).clamp(rect.top, rect.bottom);
            (x, y)
        }
    };
    Some((at(enter, to), at(leave, to)))
}

/// The parts of a polyline inside the rectangle, broken where it leaves and at points that are not
/// finite. A part has at least two points.
pub(super) fn polyline(rect: &Rect, points: &[Point]) -> Vec<Vec<Point>> {
    let mut parts: Vec<Vec<Point>> = Vec::new();
    let mut part: Vec<Point> = Vec::new();
    for pair in points.windows(2) {
        let &[from, to] = pair else { continue };
        let Some((start, end)) = segment(rect, from, to) else {
            parts.extend(close(&mut part));
            continue;
        };
        if part.last() != Some(&start) {
            parts.extend(close(&mut part));
            part.push(start);
        }
        part.push(end);
        if end != to {
            parts.extend(close(&mut part));
        }
    }
    parts.extend(close(&mut part));
    parts
}

/// The part of a convex polygon where `side`, a linear function of the place, is zero or more
/// (Sutherland & Hodgman, Comm. ACM 17 (1974) 32–42); empty where there is none.
pub(super) fn cut(corners: &[Point], side: impl Fn(Point) -> f64) -> Vec<Point> {
    let mut part = Vec::new();
    for (from, to) in corners.iter().zip(corners.iter().cycle().skip(1)) {
        let (before, after) = (side(*from), side(*to));
        if before >= 0.0 {
            part.push(*from);
        }
        if (before > 0.0 && after < 0.0) || (before < 0.0 && after > 0.0) {
            let share = before / (before - after);
            part.push((from.0 + share * (to.0 - from.0), from.1 + share * (to.1 - from.1)));
        }
    }
    if part.len() < 3 { Vec::new() } else { part }
}

/// The part of a convex polygon inside the rectangle; empty where there is none or a corner is not finite.
pub(super) fn polygon(rect: &Rect, corners: &[Point]) -> Vec<Point> {
    if !corners.iter().all(|(x, y)| x.is_finite() && y.is_finite()) {
        return Vec::new();
    }
    // After each cut what is just beyond the edge by rounding is put on it, so that the next cut of a far
    // corner does not see the error.
    let mut part = cut(corners, |p| p.0 - rect.left);
    for p in &mut part {
        p.0 = p.0.max(rect.left);
    }
    part = cut(&part, |p| rect.right - p.0);
    for p in &mut part {
        p.0 = p.0.min(rect.right);
    }
    part = cut(&part, |p| p.1 - rect.top);
    for p in &mut part {
        p.1 = p.1.max(rect.top);
    }
    part = cut(&part, |p| rect.bottom - p.1);
    for p in &mut part {
        p.1 = p.1.min(rect.bottom);
    }
    part
}

/// Takes a finished part, if it is one.
fn close(part: &mut Vec<Point>) -> Option<Vec<Point>> {
    let done = std::mem::take(part);
    (done.len() > 1).then_some(done)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    const UNIT: Rect = Rect { left: 0.0, top: 0.0, right: 10.0, bottom: 1.0 };

    #[test]
    fn a_line_that_leaves_is_cut_where_it_crosses_and_not_moved() {
        // The example that plotters draws wrongly: (5, 5.0) lies far above the frame.
        let parts = polyline(&UNIT, &[(0.0, 0.5), (5.0, 5.0), (10.0, 0.5)]);
        assert_eq!(parts.len(), 2);
        let (x, y) = parts[0][1];
        assert!((y - 1.0).abs() < 1e-12 && (x - 5.0 / 9.0).abs() < 1e-12);
        let (x, y) = parts[1][0];
        assert!((y - 1.0).abs() < 1e-12 && (x - (10.0 - 5.0 / 9.0)).abs() < 1e-12);
    }

    #[test]
    fn a_line_breaks_at_nan_and_infinity() {
        let parts = polyline(
            &UNIT,
            &[
                (0.0, 0.1),
                (1.0, 0.2),
                (2.0, f64::NAN),
                (3.0, 0.3),
                (4.0, 0.4),
                (5.0, f64::INFINITY),
                (6.0, 0.1),
            ],
        );
        assert_eq!(parts, [vec![(0.0, 0.1), (1.0, 0.2)], vec![(3.0, 0.3), (4.0, 0.4)]]);
    }

    #[test]
    fn a_line_that_passes_through_without_a_point_inside_is_drawn() {
        let parts = polyline(&UNIT, &[(-5.0, 0.5), (15.0, 0.5)]);
        assert_eq!(parts, [vec![(0.0, 0.5), (10.0, 0.5)]]);
    }

    #[test]
    fn a_line_outside_is_not_drawn() {
        assert!(polyline(&UNIT, &[(-5.0, 0.5), (-1.0, 0.7)]).is_empty());
        assert!(polyline(&UNIT, &[(0.0, 3.0), (10.0, 4.0)]).is_empty());
        assert!(polyline(&UNIT, &[(1.0, 0.5)]).is_empty());
    }

    #[test]
    fn a_wedge_is_cut_where_it_leaves() {
        // A wedge from the left edge's middle that opens to far above and below the frame.
        let part = polygon(&UNIT, &[(0.0, 0.5), (10.0, -9.5), (10.0, 10.5)]);
        let expected = [(0.0, 0.5), (0.5, 0.0), (10.0, 0.0), (10.0, 1.0), (0.5, 1.0)];
        assert_eq!(part.len(), expected.len(), "{part:?}");
        for (point, meant) in part.iter().zip(expected) {
            assert!((point.0 - meant.0).abs() < 1e-12 && (point.1 - meant.1).abs() < 1e-12, "{part:?}");
        }
        assert!(polygon(&UNIT, &[(0.0, 2.0), (10.0, 2.0), (5.0, 3.0)]).is_empty());
        assert!(polygon(&UNIT, &[(0.0, 0.0), (10.0, f64::NAN), (5.0, 3.0)]).is_empty());
    }

    proptest! {
        #[test]
        fn a_polygon_is_never_drawn_outside(y0 in -1e300..1e300, y1 in -1e300..1e300, x in 0.0..20.0) {
            for point in polygon(&UNIT, &[(0.0, 0.5), (x, y0), (x, y1)]) {
                prop_assert!(UNIT.holds(point), "{point:?}");
            }
        }

        #[test]
        fn what_is_drawn_lies_inside_and_on_the_line(
            x0 in -1e6..1e6, y0 in -1e6..1e6, x1 in -1e6..1e6, y1 in -1e6..1e6,
        ) {
            if let Some((a, b)) = segment(&UNIT, (x0, y0), (x1, y1)) {
                for (x, y) in [a, b] {
                    prop_assert!(UNIT.holds((x, y)));
                    let off = (x - x0) * (y1 - y0) - (y - y0) * (x1 - x0);
                    let length = (x1 - x0).hypot(y1 - y0);
                    prop_assert!(off.abs() <= 1e-6 * length.max(1.0), "{}", off / length);
                }
            }
        }
    }
}
