//! The floor of a size: what a perfect part would show 95 times in 100. Where the noise's standard deviation was found from few
//! readings, the true one may well be larger: ν·s²/σ² is chi-squared with ν degrees of freedom (JCGM 101, 6.4.9; it is what makes a
//! mean of few readings follow Student's t).

use statrs::distribution::{ChiSquared, Continuous, ContinuousCDF, FisherSnedecor};
use statrs::function::gamma::gamma;

use super::monte_carlo::point_95;
use super::student::quantile;
use super::uncertainty::Repeatability;

/// Equally likely sizes of the true standard deviation that are told apart.
const CELLS: usize = 200;
/// From so many a standard deviation is as good as known; the library's inverse would take minutes.
const KNOWN: f64 = 1e4;

/// Noise alone, drawn with the standard deviation that was found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Alone {
    /// The part of the variance that is a found standard deviation's; the rest (a display step's) is known.
    share: f64,
    dof: f64,
}

impl Alone {
    /// Of a known variance and a found one.
    pub fn of(known: f64, found: f64, spread: Option<Repeatability>) -> Self {
        let share = if found > 0.0 { found / (known + found) } else { 0.0 };
        Self { share, dof: spread.map_or(f64::INFINITY, |spread| spread.dof) }
    }

    /// What 95 draws of 100 would not exceed, were each as much larger or smaller as the true standard deviation may be. A size
    /// grows with the noise, and where two sources make it, about with the root of their variances' sum.
    pub fn floor(self, draws: Vec<f32>) -> f64 {
        if self.share <= 0.0 || self.dof >= KNOWN || self.dof.is_nan() || self.dof <= 0.0 || draws.is_empty()
        {
            return point_95(draws);
        }
        let mut sorted = draws;
        sorted.sort_unstable_by(f32::total_cmp);
        let factors: Vec<f64> = chi_squared(self.dof)
            .map(|square| (1.0 + self.share * (self.dof / square - 1.0)).sqrt())
            .collect();
        // The share of all draws, by all factors, that lies at or below a size.
        let below = |size: f64| {
            #[allow(clippy::cast_possible_truncation)]
            let of_one = |factor: &f64| sorted.partition_point(|draw| *draw <= (size / factor) as f32);
            factors.iter().map(of_one).sum::<usize>() as f64 / (factors.len() * sorted.len()) as f64
        };
        let most = sorted.last().copied().map_or(0.0, f64::from);
        let (mut low, mut high) = (0.0, most * factors.first().copied().unwrap_or(1.0));
        for _ in 0..24 {
            let middle = f64::midpoint(low, high);
            if below(middle) < 0.95 { low = middle } else { high = middle }
        }
        high
    }
}

/// The middles of [`CELLS`] equally likely parts of chi-squared, smallest first: Wilson and Hilferty's cube, and Newton's steps
/// from it.
fn chi_squared(dof: f64) -> impl Iterator<Item = f64> {
    let exact = ChiSquared::new(dof).ok();
    let part = 2.0 / (9.0 * dof);
    (0..CELLS).map(move |cell| {
        let share = (cell as f64 + 0.5) / CELLS as f64;
        let cube = dof * (1.0 - part + quantile(share, f64::INFINITY) * part.sqrt()).powi(3);
        // Below its mode the cube is too small for few degrees of freedom; there the first term of the series is near.
        let half = dof / 2.0;
        let series = 2.0 * (share * gamma(half + 1.0)).powf(1.0 / half);
        let mut square = if cube > 0.1 * dof { cube } else { series };
        if let Some(chi) = &exact {
            for _ in 0..4 {
                let slope = chi.pdf(square);
                if slope > 0.0 && slope.is_finite() {
                    square = (square - (chi.cdf(square) - share) / slope).max(square / 2.0);
                }
            }
        }
        square
    })
}

/// What the square of a standard deviation found with `dof` degrees of freedom does not exceed 95 times in 100, where the true
/// variance has a known part and one that was found itself: Fisher's F in place of chi-squared.
pub fn of_variance(dof: f64, known: f64, found: f64, spread: Option<Repeatability>) -> f64 {
    let of_known = ChiSquared::new(dof).map_or(f64::NAN, |chi| chi.inverse_cdf(0.95)) / dof;
    let other = spread.map_or(f64::INFINITY, |spread| spread.dof);
    if found <= 0.0 || other >= KNOWN {
        return (known + found) * of_known;
    }
    let of_found = FisherSnedecor::new(dof, other).map_or(f64::NAN, |f| f.inverse_cdf(0.95));
    known * of_known + found * of_found
}

#[cfg(test)]
#[allow(clippy::cast_possible_truncation)]
mod tests {
    use super::{Alone, CELLS, chi_squared, of_variance};
    use crate::analysis::monte_carlo::Draws;
    use crate::analysis::uncertainty::Repeatability;

    #[test]
    fn a_difference_of_two_readings_has_students_floor() {
        // |N(0, 1)| of an s with ν degrees of freedom: the floor is t at 97.5 %. NIST/SEMATECH e-Handbook, 1.3.6.7.2 (table of t).
        let mut source = Draws::numbered(7, 1);
        let draws: Vec<f32> = (0..100_000).map(|_| source.normal().abs() as f32).collect();
        let known = Alone::of(1.0, 0.0, None).floor(draws.clone());
        assert!((known - 1.96).abs() < 0.02, "{known}");
        for (dof, t) in [(2.0, 4.303), (5.0, 2.571), (9.0, 2.262), (40.0, 2.021)] {
            let spread = Some(Repeatability { deviation: 1.0, dof });
            let floor = Alone::of(0.0, 1.0, spread).floor(draws.clone());
            assert!((floor / t - 1.0).abs() < 0.03, "{dof}: {floor}");
        }
    }

    #[test]
    fn the_parts_of_chi_squared_are_equally_likely() {
        // NIST/SEMATECH e-Handbook, 1.3.6.7.4 (points of chi-squared): the share of the parts below each is the point's own.
        for (dof, point, share) in [
            (1.0, 3.841, 0.95),
            (2.0, 0.211, 0.10),
            (4.0, 9.488, 0.95),
            (9.0, 4.168, 0.10),
            (9.0, 16.919, 0.95),
            (50.0, 67.505, 0.95),
            (50.0, 37.689, 0.10),
        ] {
            let below = chi_squared(dof).filter(|square| *square <= point).count() as f64 / CELLS as f64;
            assert!((below - share).abs() < 0.004, "{dof}, {point}: {below}");
            let mean = chi_squared(dof).sum::<f64>() / CELLS as f64;
            assert!((mean / dof - 1.0).abs() < 0.02, "{dof}: {mean}");
        }
    }

    #[test]
    fn a_found_variance_is_exceeded_by_fishers_f() {
        // NIST/SEMATECH e-Handbook, 1.3.6.7.3: F of 5 and 10 at 5 % is 3.326; chi-squared of 5 is 11.070.
        let spread = Some(Repeatability { deviation: 1.0, dof: 10.0 });
        assert!((of_variance(5.0, 0.0, 1.0, spread) - 3.326).abs() < 1e-3);
        assert!((of_variance(5.0, 1.0, 0.0, None) - 11.070 / 5.0).abs() < 1e-3);
    }
}
