//! Harmonics of a turn by least squares, at any angles, with holes, over several turns.
//!
//! The model is a constant for each turn (the indicator may creep between turns) plus
//! Σ aₖ cos kθ + bₖ sin kθ. At equal angles the coefficients are the classical
//! 2/N Σ r cos kθ of the least-squares circle (ISO 4291, annex; CHECKVALUES 4.1).

use nalgebra::{DMatrix, DVector};

/// Harmonics fitted, at most.
pub const MOST_HARMONICS: usize = 3;

/// One reading's place: its turn, from 0, and its angle in degrees from the index mark.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct At {
    /// The turn.
    pub turn: usize,
    /// Degrees.
    pub angle: f64,
}

/// A fitted profile.
#[derive(Clone, Debug)]
pub struct Fit {
    /// The constant of each turn.
    pub constants: Vec<f64>,
    /// (a, b) of the first, second … harmonic.
    pub harmonics: Vec<(f64, f64)>,
    /// The sum of squares left.
    pub left: f64,
    /// Readings less parameters.
    pub dof: usize,
    /// Row by row, what each reading adds to a₁, b₁, a₂, b₂ …: the fit is linear in them.
    pub operator: DMatrix<f64>,
}

impl Fit {
    /// The peak-to-peak size of a harmonic, counted from 1: 2√(a² + b²).
    pub fn peak_to_peak(&self, harmonic: usize) -> Option<f64> {
        let (a, b) = self.harmonics.get(harmonic - 1)?;
        Some(2.0 * a.hypot(*b))
    }

    /// The angle of a harmonic's first high spot, in degrees from the index mark.
    pub fn high_spot(&self, harmonic: usize) -> Option<f64> {
        let (a, b) = self.harmonics.get(harmonic - 1)?;
        let period = 360.0 / harmonic as f64;
        Some((b.atan2(*a).to_degrees() / harmonic as f64).rem_euclid(period))
    }

    /// √(sum of squares left / degrees of freedom), where any are left.
    pub fn residual(&self) -> Option<f64> {
        (self.dof > 0).then(|| (self.left / self.dof as f64).sqrt())
    }
}

/// How many harmonics the distinct angles carry: 2k + 1 unknowns need as many angles.
pub fn harmonics_for(places: &[At]) -> usize {
    let mut angles: Vec<f64> = places.iter().map(|at| at.angle.rem_euclid(360.0)).collect();
    angles.sort_by(f64::total_cmp);
    angles.dedup_by(|a, b| (*a - *b).abs() < 1e-6);
    (angles.len().saturating_sub(1) / 2).min(MOST_HARMONICS)
}

/// Fits the profile. Fewer harmonics are taken where the angles carry no more; `None` where not
/// even one is carried.
pub fn fit(places: &[At], values: &[f64]) -> Option<Fit> {
    let turns = places.iter().map(|at| at.turn + 1).max()?;
    for count in (1..=harmonics_for(places)).rev() {
        if let Some(fit) = fit_so_many(places, values, turns, count) {
            return Some(fit);
        }
    }
    None
}

fn fit_so_many(places: &[At], values: &[f64], turns: usize, count: usize) -> Option<Fit> {
    let rows = places.len();
    let columns = turns + 2 * count;
    if rows < columns {
        return None;
    }
    let design = DMatrix::from_fn(rows, columns, |row, column| {
        let at = places[row];
        if column < turns {
            return f64::from(u8::from(at.turn == column));
        }
        let harmonic = (column - turns) / 2 + 1;
        let angle = (at.angle * harmonic as f64).to_radians();
        if (column - turns).is_multiple_of(2) { angle.cos() } else { angle.sin() }
    });
    let svd = design.clone().svd(true, true);
    let (largest, smallest) = (svd.singular_values.max(), svd.singular_values.min());
    // Angles bunched together cannot tell the harmonics apart: ask for less.
    if smallest.is_nan() || smallest < largest * 1e-3 {
        return None;
    }
    let inverse = svd.pseudo_inverse(0.0).ok()?;
    // The mean is taken off first, so that a large offset costs no digits.
    let offset = super::statistics::mean(values);
    let shifted = DVector::from_iterator(rows, values.iter().map(|value| value - offset));
    let solution = &inverse * &shifted;
    let residual = &shifted - &design * &solution;
    Some(Fit {
        constants: (0..turns).map(|turn| solution[turn] + offset).collect(),
        harmonics: (0..count).map(|k| (solution[turns + 2 * k], solution[turns + 2 * k + 1])).collect(),
        left: residual.norm_squared(),
        dof: rows - columns,
        operator: inverse.rows(turns, 2 * count).into_owned(),
    })
}

/// The pooled standard deviation about the mean profile, each turn's own constant taken off, and
/// its degrees of freedom: what does not repeat from turn to turn (asynchronous error motion,
/// ISO 230-7). `None` of one turn, or where nothing is left to judge by.
pub fn non_repeating(places: &[At], values: &[f64]) -> Option<(f64, usize)> {
    let turns = places.iter().map(|at| at.turn + 1).max()?;
    let mut angles: Vec<f64> = places.iter().map(|at| at.angle).collect();
    angles.sort_by(f64::total_cmp);
    angles.dedup();
    let rows = places.len();
    // One column less than turns and angles: a constant can belong to either.
    let columns = turns - 1 + angles.len();
    if turns < 2 || rows <= columns {
        return None;
    }
    let design = DMatrix::from_fn(rows, columns, |row, column| {
        let at = places[row];
        let holds = if column < angles.len() {
            angles[column].total_cmp(&at.angle).is_eq()
        } else {
            at.turn == column - angles.len() + 1
        };
        f64::from(u8::from(holds))
    });
    let offset = super::statistics::mean(values);
    let shifted = DVector::from_iterator(rows, values.iter().map(|value| value - offset));
    let svd = design.clone().svd(true, true);
    let rank = svd.rank(1e-9);
    let solution = svd.solve(&shifted, 1e-9).ok()?;
    let left = (&shifted - &design * solution).norm_squared();
    let dof = rows - rank;
    (dof > 0).then(|| ((left / dof as f64).sqrt(), dof))
}

/// The most that the range of `n` equally spaced readings can miss of a pure once-per-turn error
/// of total size `once` (2e): 2e(1 − cos π/n) for even n, 2e sin²(π/2n) for odd n.
pub fn range_can_miss(once: f64, n: usize) -> f64 {
    let step = std::f64::consts::PI / n as f64;
    if n.is_multiple_of(2) { once * (1.0 - step.cos()) } else { once * (step / 2.0).sin().powi(2) }
}
