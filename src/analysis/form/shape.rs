//! Whether departures have a simple form: a bow along or across, a twist.

use nalgebra::{DMatrix, DVector};

/// A simple form that explains most of the departures.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(in super::super) struct Bend {
    /// Which.
    pub kind: BendKind,
    /// Its own size from end to middle (a bow) or from corner to neighbouring corner (a twist); positive
    /// where the middle (the corners of equal sign) is high.
    pub size: f64,
    /// Its share in the sum of squares of the departures.
    pub share: f64,
}

/// The forms that are looked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in super::super) enum BendKind {
    /// A bow along x.
    Along,
    /// A bow along y.
    Across,
    /// Opposite corners one way, the other two the other way.
    Twist,
}

/// The strongest of the simple forms in heights over places (x, y): least squares on a plane with a bow
/// along x, a bow along y and a twist. `None` where the places do not carry it (along a line, five of
/// them; over a surface, nine) or there is nothing to explain.
pub(in super::super) fn bends(points: &[(f64, f64)], heights: &[f64]) -> Option<Bend> {
    let rows = Rows::of(points)?;
    if heights.len() < if rows.surface { 9 } else { 5 } {
        return None;
    }
    let plane: &[usize] = if rows.surface { &[0, 1, 2] } else { &[0, 1] };
    let (_, whole) = rows.left(plane, heights)?;
    if whole <= 0.0 {
        return None;
    }
    let kinds = [(3, BendKind::Along), (4, BendKind::Across), (5, BendKind::Twist)];
    let mut best: Option<Bend> = None;
    for (column, kind) in kinds.into_iter().take(if rows.surface { 3 } else { 1 }) {
        let with: Vec<usize> = plane.iter().copied().chain([column]).collect();
        let (last, squares) = rows.left(&with, heights)?;
        let share = 1.0 - squares / whole;
        // A bow u² is highest at its ends, so a high middle is a negative one.
        let size = if kind == BendKind::Twist { 2.0 * last } else { -last };
        if best.is_none_or(|best| share > best.share) {
            best = Some(Bend { kind, size, share });
        }
    }
    best
}

/// Places as rows (1, u, v, u², v², uv), u and v from −1 to 1.
struct Rows {
    rows: Vec<[f64; 6]>,
    surface: bool,
}

impl Rows {
    fn of(points: &[(f64, f64)]) -> Option<Self> {
        let span = |pick: fn(&(f64, f64)) -> f64| {
            let low = points.iter().map(pick).fold(f64::INFINITY, f64::min);
            let high = points.iter().map(pick).fold(f64::NEG_INFINITY, f64::max);
            (f64::midpoint(low, high), (high - low) / 2.0)
        };
        let (along, across) = (span(|p| p.0), span(|p| p.1));
        let surface = across.1 > 0.0;
        if along.1.is_nan() || along.1 <= 0.0 {
            return None;
        }
        let row = |point: &(f64, f64)| {
            let u = (point.0 - along.0) / along.1;
            let v = if surface { (point.1 - across.0) / across.1 } else { 0.0 };
            [1.0, u, v, u * u, v * v, u * v]
        };
        Some(Self { rows: points.iter().map(row).collect(), surface })
    }

    /// Least squares on some of the columns: the last one's coefficient, and the sum of squares left.
    fn left(&self, columns: &[usize], heights: &[f64]) -> Option<(f64, f64)> {
        let matrix = DMatrix::from_fn(heights.len(), columns.len(), |i, j| self.rows[i][columns[j]]);
        let right = DVector::from_column_slice(heights);
        let solved = matrix.clone().svd(true, true).solve(&right, 1e-12).ok()?;
        let last = *solved.as_slice().last()?;
        Some((last, (right - matrix * &solved).norm_squared()))
    }
}
