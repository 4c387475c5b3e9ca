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
    let n = heights.len();
    let half = |values: &dyn Fn(&(f64, f64)) -> f64| {
        let low = points.iter().map(values).fold(f64::INFINITY, f64::min);
        let high = points.iter().map(values).fold(f64::NEG_INFINITY, f64::max);
        (f64::midpoint(low, high), (high - low) / 2.0)
    };
    let (x, y) = (half(&|p| p.0), half(&|p| p.1));
    let surface = y.1 > 0.0;
    if n < if surface { 9 } else { 5 } || x.1 <= 0.0 {
        return None;
    }
    let row = |p: &(f64, f64)| {
        let u = (p.0 - x.0) / x.1;
        let v = if surface { (p.1 - y.0) / y.1 } else { 0.0 };
        [1.0, u, v, u * u, v * v, u * v]
    };
    let columns: &[usize] = if surface { &[0, 1, 2, 3, 4, 5] } else { &[0, 1, 3] };
    let rows: Vec<[f64; 6]> = points.iter().map(row).collect();
    let left = |columns: &[usize]| -> Option<(DVector<f64>, f64)> {
        let matrix = DMatrix::from_fn(n, columns.len(), |i, j| rows[i][columns[j]]);
        let right = DVector::from_column_slice(heights);
        let solved = matrix.clone().svd(true, true).solve(&right, 1e-12).ok()?;
        let squares = (right - matrix * &solved).norm_squared();
        Some((solved, squares))
    };
    let plane: Vec<usize> = columns.iter().copied().filter(|column| *column < 3).collect();
    let (_, whole) = left(&plane)?;
    if whole <= 0.0 {
        return None;
    }
    let kinds = [(3, BendKind::Along), (4, BendKind::Across), (5, BendKind::Twist)];
    let mut best: Option<Bend> = None;
    for (column, kind) in kinds.into_iter().filter(|(column, _)| columns.contains(column)) {
        let with: Vec<usize> = plane.iter().copied().chain([column]).collect();
        let (solved, squares) = left(&with)?;
        let share = 1.0 - squares / whole;
        // A bow u² is highest at its ends, so a high middle is a negative one.
        let last = solved[with.len() - 1];
        let size = if kind == BendKind::Twist { 2.0 * last } else { -last };
        if best.is_none_or(|best| share > best.share) {
            best = Some(Bend { kind, size, share });
        }
    }
    best
}
