//! Clipping in floating point, before plotters sees a coordinate.
//!
//! plotters moves a point outside the axes onto the frame and puts NaN on the origin. So a segment is
//! cut here where it crosses the frame (Liang & Barsky, ACM Trans. Graphics 3 (1984) 1–22), and a line
//! is broken at a point that is not finite.

/// A place on the page or in the plane of the axes.
pub(super) type Point = (f64, f64);

/// A rectangle on the page, in points, y down.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Rect {
    /// The smaller x.
    pub(super) left: f64,
    /// The smaller y.
    pub(super) top: f64,
    /// The larger x.
    pub(super) right: f64,
    /// The larger y.
    pub(super) bottom: f64,
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

    proptest! {
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
