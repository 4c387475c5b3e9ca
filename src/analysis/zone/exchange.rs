//! The line or plane that lies nearest to points in the sense of Chebyshev: the largest departure is as
//! small as it can be, and twice that departure is the width of the minimum zone (ISO 1101).
//!
//! It is a linear programme with two constraints a point, solved by exchange (the dual simplex): B points
//! carry the zone, B being one more than the numbers of the line or plane; the point that departs most
//! comes in, and one goes out, until none departs more than those that carry it. The dual of a basis does
//! not depend on the heights, so a basis that was best for some heights starts well for others: a draw of
//! a Monte Carlo takes a few exchanges.

use nalgebra::DMatrix;

/// Points nearer to a line (or a place) than this share of their spread do not span a plane (a line).
const FLATTEST: f64 = 1e-9;

/// After so many exchanges the lowest index goes first (Bland's rule), which cannot run in circles.
const PATIENCE: usize = 60;

/// No set of points that a person could measure needs as many.
const MOST: usize = 100_000;

/// B points that carry a zone. A place is a row (1, x) or (1, x, y) with one entry to spare.
#[derive(Clone, Copy, Debug)]
pub(super) struct Basis<const B: usize> {
    /// Which points, by index.
    pub at: [usize; B],
    sign: [f64; B],
    inverse: [[f64; B]; B],
}

/// The best line or plane: its coefficients in the rows' terms, and half the zone's width.
#[derive(Clone, Copy, Debug)]
pub(super) struct Best<const B: usize> {
    /// Coefficients; the last entry is not used.
    pub coefficients: [f64; B],
    /// Half the width of the zone.
    pub half: f64,
}

/// A line's or plane's height at a place.
#[inline]
pub(super) fn height_at<const B: usize>(row: &[f64; B], coefficients: &[f64; B]) -> f64 {
    (0..B - 1).map(|k| row[k] * coefficients[k]).sum()
}

impl<const B: usize> Basis<B> {
    /// Some basis of these places; `None` where there are too few of them or they do not span a line (a
    /// plane).
    pub(super) fn of(rows: &[[f64; B]]) -> Option<Self> {
        let mut at = spanning(rows)?;
        let last = (0..rows.len()).find(|index| !at[..B - 1].contains(index))?;
        at[B - 1] = last;
        // The last as a sum of the others: the signs of that sum make the dual feasible (Radon).
        let square = DMatrix::from_fn(B - 1, B - 1, |k, j| rows[at[j]][k]);
        let target = DMatrix::from_fn(B - 1, 1, |k, _| rows[last][k]);
        let shares = square.lu().solve(&target)?;
        let mut sign = [-1.0; B];
        for (sign, share) in sign.iter_mut().zip(shares.iter()) {
            *sign = if *share < 0.0 { -1.0 } else { 1.0 };
        }
        let whole = DMatrix::from_fn(B, B, |j, k| if k == B - 1 { sign[j] } else { rows[at[j]][k] });
        let inverse = whole.try_inverse()?;
        let mut made = Self { at, sign, inverse: [[0.0; B]; B] };
        for k in 0..B {
            for j in 0..B {
                made.inverse[k][j] = inverse[(k, j)];
            }
        }
        Some(made)
    }

    /// The same basis where its points are the first of a list.
    pub(super) fn first_of_a_list(mut self) -> Self {
        self.at = std::array::from_fn(|index| index);
        self
    }

    /// Exchanges points until the zone holds all of them to within `tolerance`.
    pub(super) fn settle(&mut self, rows: &[[f64; B]], heights: &[f64], tolerance: f64) -> Best<B> {
        let mut exchanges = 0;
        loop {
            let best = self.solve(heights);
            let limit = best.half + tolerance;
            let entering = if exchanges < PATIENCE {
                farthest(rows, heights, &best.coefficients, limit)
            } else {
                first_beyond(rows, heights, &best.coefficients, limit)
            };
            let Some((entering, sign)) = entering else { return best };
            if exchanges == MOST || !self.exchange(entering, sign, &rows[entering], exchanges >= PATIENCE) {
                return best;
            }
            exchanges += 1;
        }
    }

    /// The line or plane from which the basis' points depart equally; departures are made positive.
    fn solve(&mut self, heights: &[f64]) -> Best<B> {
        let mut solution = [0.0; B];
        for (value, row) in solution.iter_mut().zip(&self.inverse) {
            *value = row.iter().zip(&self.at).map(|(weight, at)| weight * heights[*at]).sum();
        }
        let mut half = solution[B - 1];
        if half < 0.0 {
            half = -half;
            for (sign, weight) in self.sign.iter_mut().zip(&mut self.inverse[B - 1]) {
                *sign = -*sign;
                *weight = -*weight;
            }
        }
        Best { coefficients: solution, half }
    }

    #[expect(clippy::needless_range_loop, reason = "rows and columns of one small matrix, by their numbers")]
    /// Lets a point in and another out. False where none can go, which rounding alone can bring about.
    fn exchange(&mut self, entering: usize, sign: f64, place: &[f64; B], lowest_first: bool) -> bool {
        let mut row = *place;
        row[B - 1] = sign;
        let mut weights = [0.0; B];
        for (j, weight) in weights.iter_mut().enumerate() {
            *weight = (0..B).map(|k| row[k] * self.inverse[k][j]).sum();
        }
        let mut leaving: Option<(f64, usize)> = None;
        for j in 0..B {
            let falls = sign * self.sign[j] * weights[j];
            if falls <= 1e-12 {
                continue;
            }
            let ratio = (self.sign[j] * self.inverse[B - 1][j]).max(0.0) / falls;
            let better = match leaving {
                None => true,
                Some((least, _)) if ratio < least - 1e-14 => true,
                Some((least, at)) => lowest_first && ratio <= least + 1e-14 && self.at[j] < self.at[at],
            };
            if better {
                leaving = Some((ratio, j));
            }
        }
        let Some((_, out)) = leaving else { return false };
        for k in 0..B {
            let scaled = self.inverse[k][out] / weights[out];
            for j in 0..B {
                if j != out {
                    self.inverse[k][j] -= weights[j] * scaled;
                }
            }
            self.inverse[k][out] = scaled;
        }
        self.at[out] = entering;
        self.sign[out] = sign;
        true
    }
}

/// The point that departs most, where it departs more than `limit`, and which way.
fn farthest<const B: usize>(
    rows: &[[f64; B]],
    heights: &[f64],
    coefficients: &[f64; B],
    limit: f64,
) -> Option<(usize, f64)> {
    let (mut most, mut found) = (limit, None);
    for (index, (row, height)) in rows.iter().zip(heights).enumerate() {
        let departure = height - height_at(row, coefficients);
        if departure.abs() > most {
            most = departure.abs();
            found = Some((index, departure.signum()));
        }
    }
    found
}

/// The first point that departs more than `limit`.
fn first_beyond<const B: usize>(
    rows: &[[f64; B]],
    heights: &[f64],
    coefficients: &[f64; B],
    limit: f64,
) -> Option<(usize, f64)> {
    rows.iter().zip(heights).enumerate().find_map(|(index, (row, height))| {
        let departure = height - height_at(row, coefficients);
        (departure.abs() > limit).then(|| (index, departure.signum()))
    })
}

/// B − 1 places that span a line (a plane), each the one that lies farthest from what the ones before it
/// span; the last entry is not used.
fn spanning<const B: usize>(rows: &[[f64; B]]) -> Option<[usize; B]> {
    let mut left: Vec<[f64; B]> = rows.to_vec();
    let mut at = [0; B];
    for place in at.iter_mut().take(B - 1) {
        let length = |row: &[f64; B]| row[..B - 1].iter().map(|v| v * v).sum::<f64>();
        let (index, most) = left
            .iter()
            .map(length)
            .enumerate()
            .fold((0, 0.0), |best, (index, size)| if size > best.1 { (index, size) } else { best });
        if most.is_nan() || most <= FLATTEST * FLATTEST {
            return None;
        }
        *place = index;
        let along = left[index].map(|value| value / most.sqrt());
        for row in &mut left {
            let share: f64 = (0..B - 1).map(|k| row[k] * along[k]).sum();
            for k in 0..B - 1 {
                row[k] -= share * along[k];
            }
        }
    }
    Some(at)
}
