//! What a grey surface has, from what an infrared thermometer set to another emissivity showed:
//! `ε·T⁴ = ε₀·T_shown⁴ − (ε₀ − ε)·T_surroundings⁴`, all in kelvin (Stefan–Boltzmann law for the emitted
//! part, the rest reflected from surroundings of one temperature).
//!
//! It is a broad-band approximation: a thermometer that looks at 8 µm to 14 µm follows about T^4.4 near
//! room temperature (Planck's law at 11 µm), not T⁴.

/// Half-width of the band in which a surface's emissivity is known when it is looked up in a table and
/// not measured (common practice).
pub const HALF_WIDTH: f64 = 0.05;

/// The surface's temperature in kelvin. `None` where no temperature satisfies the law: the surroundings
/// alone would send more than was seen.
pub fn corrected(shown: f64, surroundings: f64, set: f64, surface: f64) -> Option<f64> {
    let fourth = (set * shown.powi(4) - (set - surface) * surroundings.powi(4)) / surface;
    (fourth.is_finite() && fourth >= 0.0).then(|| fourth.sqrt().sqrt())
}

/// How the corrected temperature follows what goes into it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Slopes {
    /// Kelvin for each kelvin shown.
    pub shown: f64,
    /// Kelvin for each kelvin of the surroundings.
    pub surroundings: f64,
    /// Kelvin for a whole unit of emissivity.
    pub surface: f64,
}

impl Slopes {
    /// Of a reading that is not corrected.
    pub const NONE: Self = Self { shown: 1.0, surroundings: 0.0, surface: 0.0 };

    /// Of a corrected reading, all in kelvin. `None` as for [`corrected`], and at absolute zero.
    pub fn of(shown: f64, surroundings: f64, set: f64, surface: f64) -> Option<Self> {
        let has = corrected(shown, surroundings, set, surface).filter(|has| *has > 0.0)?;
        let per = surface * has.powi(3);
        Some(Self {
            shown: set * shown.powi(3) / per,
            surroundings: (surface - set) * surroundings.powi(3) / per,
            surface: (surroundings.powi(4) - has.powi(4)) / (4.0 * per),
        })
    }
}

/// The half-width for a surface of this emissivity: never so wide that it reaches zero.
pub fn half_width(surface: f64) -> f64 {
    HALF_WIDTH.min(surface / 2.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_slopes_are_those_of_small_steps() {
        let (shown, around, set, surface) = (333.15, 295.15, 0.95, 0.3);
        let slopes = Slopes::of(shown, around, set, surface).expect("slopes");
        let step = 1e-4;
        let by = |s: f64, a: f64, e: f64| {
            corrected(shown + s, around + a, set, surface + e).expect("a temperature")
        };
        let slope = |s, a, e| (by(s, a, e) - by(-s, -a, -e)) / (2.0 * step);
        assert!((slope(step, 0.0, 0.0) - slopes.shown).abs() < 1e-6);
        assert!((slope(0.0, step, 0.0) - slopes.surroundings).abs() < 1e-6);
        assert!((slope(0.0, 0.0, step) / slopes.surface - 1.0).abs() < 1e-6);
    }

    #[test]
    fn a_surface_that_seems_colder_than_its_reflection_allows_has_no_temperature() {
        assert_eq!(corrected(250.0, 330.0, 1.0, 0.3), None);
        assert!(Slopes::of(250.0, 330.0, 1.0, 0.3).is_none());
    }
}
