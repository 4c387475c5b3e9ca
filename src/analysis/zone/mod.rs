//! Heights along a line or over a surface against a reference: the minimum zone (ISO 1101), the
//! least-squares line or plane, the line through the end points.
//!
//! A departure is measured the way the heights were, which is at right angles to the reference to
//! within the square of its slope: 1 part in 20 000 for a reference that leans 10 mm in a metre.

mod draws;
mod exchange;
mod passes;
mod tail;

use nalgebra::{DMatrix, DVector};

use exchange::{Basis, height_at};

pub use draws::draw;
pub use passes::{Combined, Observed, combine};

/// Places along a line (`B` = 3) or over a surface (`B` = 4), as the rows (1, x) or (1, x, y) of a fit,
/// brought to −1 to 1.
#[derive(Clone, Debug)]
pub struct Places<const B: usize> {
    rows: Vec<[f64; B]>,
    half_spans: [f64; B],
}

/// What heights are held against.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Against {
    /// The narrowest pair of parallel lines (planes) that holds them.
    MinimumZone,
    /// The least-squares line (plane).
    LeastSquares,
    /// The line through the first and the last place.
    EndPoints,
}

/// Heights against a reference.
#[derive(Clone, Debug)]
pub struct Held {
    /// Highest less lowest departure.
    pub width: f64,
    /// Departures from the middle between highest and lowest, place by place.
    pub heights: Vec<f64>,
    /// The places that touch the zone's edges.
    pub touching: Vec<usize>,
    /// The reference's slope along x and along y, in heights' units per unit of length.
    pub slopes: [f64; 2],
    /// The middle between the zone's edges: its coefficients in the rows' terms.
    middle: Vec<f64>,
}

impl Held {
    /// The height of the zone's middle at a place, of the same set of places or of a larger one.
    pub fn middle_at<const B: usize>(&self, places: &Places<B>, index: usize) -> f64 {
        places.rows.get(index).map_or(0.0, |row| row.iter().zip(&self.middle).map(|(a, b)| a * b).sum())
    }
}

/// How far a value lies from a middle, and back.
fn centred(values: impl Iterator<Item = f64> + Clone) -> (f64, f64) {
    let low = values.clone().fold(f64::INFINITY, f64::min);
    let high = values.fold(f64::NEG_INFINITY, f64::max);
    (f64::midpoint(low, high), (high - low) / 2.0)
}

fn scaled(value: f64, (middle, half): (f64, f64)) -> f64 {
    if half > 0.0 { (value - middle) / half } else { 0.0 }
}

impl Places<3> {
    /// Places along a line.
    pub fn line(x: &[f64]) -> Self {
        let along = centred(x.iter().copied());
        let rows = x.iter().map(|x| [1.0, scaled(*x, along), 0.0]).collect();
        Self { rows, half_spans: [1.0, along.1, 1.0] }
    }
}

impl Places<4> {
    /// Places over a surface. Both ways are brought to the same scale, so that nearly collinear ones
    /// stay nearly collinear.
    pub fn surface(points: &[(f64, f64)]) -> Self {
        let x = centred(points.iter().map(|(x, _)| *x));
        let y = centred(points.iter().map(|(_, y)| *y));
        let half = x.1.max(y.1);
        let rows =
            points.iter().map(|p| [1.0, scaled(p.0, (x.0, half)), scaled(p.1, (y.0, half)), 0.0]).collect();
        Self { rows, half_spans: [1.0, half, half, 1.0] }
    }
}

impl<const B: usize> Places<B> {
    /// How many there are.
    pub fn len(&self) -> usize {
        self.rows.len()
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }

    /// Whether there are enough of them, spread enough, for a zone to say anything: one more than the
    /// line or plane has numbers, not all at one place or along one line.
    pub fn span(&self) -> bool {
        Basis::of(&self.rows).is_some()
    }

    /// Only those with these indices.
    #[must_use]
    pub fn only(&self, indices: &[usize]) -> Self {
        Self {
            rows: indices.iter().filter_map(|index| self.rows.get(*index)).copied().collect(),
            half_spans: self.half_spans,
        }
    }

    /// Holds heights, one a place, against a reference. `None` where the places do not span it.
    pub fn held(&self, heights: &[f64], against: Against) -> Option<Held> {
        if heights.len() != self.len() {
            return None;
        }
        let coefficients = match against {
            Against::MinimumZone => {
                let tolerance = 1e-12 * size_of(heights);
                Basis::of(&self.rows)?.settle(&self.rows, heights, tolerance).coefficients
            }
            Against::LeastSquares => self.least_squares(heights)?,
            Against::EndPoints => self.through_ends(heights)?,
        };
        let mut departures: Vec<f64> = self
            .rows
            .iter()
            .zip(heights)
            .map(|(row, height)| height - height_at(row, &coefficients))
            .collect();
        let (middle, half) = centred(departures.iter().copied());
        for departure in &mut departures {
            *departure -= middle;
        }
        let near = |height: &f64| half - height.abs() <= 1e-9 * size_of(heights);
        let touching = (0..departures.len()).filter(|index| near(&departures[*index])).collect();
        let slope = |k: usize| {
            let per = coefficients.get(k).filter(|_| k < B - 1).copied().unwrap_or(0.0);
            let half = self.half_spans.get(k).copied().unwrap_or(1.0);
            if half > 0.0 { per / half } else { 0.0 }
        };
        let slopes = [slope(1), slope(2)];
        let mut about = coefficients[..B - 1].to_vec();
        about[0] += middle;
        Some(Held { width: 2.0 * half, heights: departures, touching, slopes, middle: about })
    }

    /// The operator of the least-squares fit: what each height adds to each coefficient.
    fn operator(&self) -> Option<Vec<[f64; B]>> {
        let rows = DMatrix::from_fn(self.len(), B - 1, |i, k| self.rows[i][k]);
        let inverse = (rows.transpose() * &rows).try_inverse()?;
        let weights = &rows * inverse;
        let one = |i: usize| std::array::from_fn(|k| if k < B - 1 { weights[(i, k)] } else { 0.0 });
        Some((0..self.len()).map(one).collect())
    }

    fn least_squares(&self, heights: &[f64]) -> Option<[f64; B]> {
        // About the mean, so that a large common height costs no digits.
        let level = super::statistics::mean(heights);
        let mut coefficients = self.times_operator(heights, level)?;
        coefficients[0] += level;
        Some(coefficients)
    }

    fn times_operator(&self, heights: &[f64], level: f64) -> Option<[f64; B]> {
        if !self.span() {
            return None;
        }
        let rows = DMatrix::from_fn(self.len(), B - 1, |i, k| self.rows[i][k]);
        let above = DVector::from_iterator(self.len(), heights.iter().map(|height| height - level));
        // Through the singular values and not the normal equations: rows along a slender table are
        // nearly dependent.
        let solved = rows.svd(true, true).solve(&above, 1e-13).ok()?;
        Some(std::array::from_fn(|k| if k < B - 1 { solved[k] } else { 0.0 }))
    }

    /// The first and the last place along a line.
    fn ends(&self) -> Option<[usize; 2]> {
        let along = |index: &usize| self.rows[*index][1];
        let first = (0..self.len()).min_by(|a, b| along(a).total_cmp(&along(b)))?;
        let last = (0..self.len()).max_by(|a, b| along(a).total_cmp(&along(b)))?;
        (along(&last) > along(&first)).then_some([first, last])
    }

    fn through_ends(&self, heights: &[f64]) -> Option<[f64; B]> {
        let [first, last] = self.ends()?;
        let run = self.rows[last][1] - self.rows[first][1];
        let slope = (heights[last] - heights[first]) / run;
        let mut coefficients = [0.0; B];
        coefficients[0] = heights[first] - slope * self.rows[first][1];
        coefficients[1] = slope;
        Some(coefficients)
    }
}

/// The largest size among some heights' distances from the first, for a tolerance; never zero.
fn size_of(heights: &[f64]) -> f64 {
    let first = heights.first().copied().unwrap_or(0.0);
    heights.iter().map(|height| (height - first).abs()).fold(f64::MIN_POSITIVE, f64::max)
}

#[cfg(test)]
mod tests;
