//! Student's t and the normal distribution.

use statrs::distribution::{ContinuousCDF, Normal, StudentsT};

/// From so many degrees of freedom t is taken from the normal distribution by its expansion in 1/ν;
/// the library's inverse does not end from about 1.4e7.
const MANY: f64 = 1e4;

/// The point below which Student's t lies with probability `p`; the normal point for infinitely
/// many degrees of freedom. NaN where there are none.
pub fn quantile(p: f64, dof: f64) -> f64 {
    if dof.is_nan() || dof <= 0.0 {
        return f64::NAN;
    }
    if dof > MANY {
        return expanded(Normal::standard().inverse_cdf(p), dof);
    }
    let Ok(t) = StudentsT::new(0.0, 1.0, dof) else {
        return f64::NAN;
    };
    polish(p, t.inverse_cdf(p), &t)
}

/// The first terms of the Cornish–Fisher expansion of t (Abramowitz and Stegun, 26.7.5): exact to
/// twelve digits from ten thousand degrees of freedom.
fn expanded(z: f64, dof: f64) -> f64 {
    if !dof.is_finite() {
        return z;
    }
    let first = (z.powi(3) + z) / 4.0;
    let second = (5.0 * z.powi(5) + 16.0 * z.powi(3) + 3.0 * z) / 96.0;
    z + first / dof + second / (dof * dof)
}

/// Newton's steps on the distribution function: the library's inverse alone keeps only about
/// eight digits for small degrees of freedom.
fn polish(p: f64, start: f64, t: &StudentsT) -> f64 {
    use statrs::distribution::Continuous;
    let mut x = start;
    for _ in 0..3 {
        let slope = t.pdf(x);
        if slope <= 0.0 || !x.is_finite() {
            break;
        }
        x -= (t.cdf(x) - p) / slope;
    }
    x
}

/// The probability of a value at least as far from zero, both ways.
pub fn two_sided(t: f64, dof: f64) -> f64 {
    if t.is_nan() || dof.is_nan() || dof <= 0.0 {
        return f64::NAN;
    }
    let far = -t.abs();
    if dof > 1e7 {
        return 2.0 * Normal::standard().cdf(far);
    }
    StudentsT::new(0.0, 1.0, dof).map_or(f64::NAN, |t| 2.0 * t.cdf(far))
}

/// The normal distribution function.
pub fn normal_cdf(z: f64) -> f64 {
    Normal::standard().cdf(z)
}
