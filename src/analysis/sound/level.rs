//! Levels: energy averages, what the background takes, and the uncertainty of both.

use std::f64::consts::LN_10;

use crate::analysis::statistics::sample;
use crate::analysis::uncertainty::{Repeatability, Shown, combine, repeatability_line};
use crate::findings::{Budget, Component};

/// From a relative change of an energy to decibels, to first order.
pub const PER_SHARE: f64 = 10.0 / LN_10;
/// Clause numbers of ISO 3744 and 3746 in this file are from memory; no test rests on them.
/// Under this excess over the background no level is given (ISO 3746:2010, 8.3.3, as the limit of a
/// survey), dB.
pub const LEAST_EXCESS: f64 = 3.0;
/// Under this excess the accuracy of ISO 3744 is not reached (ISO 3744:2010, 8.2.3), dB.
pub const GOOD_EXCESS: f64 = 6.0;
/// Above this excess nothing is corrected (ISO 3744:2010, 8.2.3), dB.
pub const AMPLE_EXCESS: f64 = 15.0;

fn energy(level: f64) -> f64 {
    10f64.powf(level / 10.0)
}

/// The level of the mean energy, L = 10 lg(mean 10^(Lᵢ/10)), in the unit of the levels.
pub fn mean(levels: &[f64]) -> f64 {
    total(levels) - 10.0 * (levels.len() as f64).log10()
}

/// The level of all sounds together, L = 10 lg Σ 10^(Lᵢ/10).
pub fn total(levels: &[f64]) -> f64 {
    // About the loudest, so that no level is too high or too low for its energy to be a number.
    let loudest = levels.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    loudest + 10.0 * levels.iter().map(|level| energy(level - loudest)).sum::<f64>().log10()
}

/// The mean over times: levels, each with the time it lasted, over a time at least as long.
pub fn equivalent(levels: &[(f64, f64)], over: f64) -> f64 {
    10.0 * (levels.iter().map(|(level, time)| time * energy(*level)).sum::<f64>() / over).log10()
}

/// The background correction K₁ = −10 lg(1 − 10^(−ΔL/10)) in decibels, for an excess ΔL over the
/// background (ISO 3744:2010, equation 16). `None` where there is no excess.
pub fn correction(excess: f64) -> Option<f64> {
    (excess > 0.0).then(|| -10.0 * (1.0 - energy(-excess)).log10())
}

/// A level averaged over readings, or from one recording.
#[derive(Clone, Debug, PartialEq)]
pub struct Averaged {
    /// The level.
    pub level: f64,
    /// How many readings it rests on.
    pub n: usize,
    /// What makes it uncertain by itself: scatter, display step.
    pub parts: Vec<Component>,
    /// What to say of it.
    pub notes: Vec<String>,
}

/// The energy average of readings (corrected, in the check's unit).
///
/// Its uncertainty is propagated to first order from the energies: ∂L/∂Lᵢ is the share of the
/// energy that reading i holds, so `u = (10/ln 10)·s_E/(Ē·√n)`. The display step is not divided by √n.
pub fn average(levels: &[f64], shown: &Shown) -> Averaged {
    let level = mean(levels);
    let n = levels.len();
    let shares: Vec<f64> = levels.iter().map(|one| energy(one - level)).collect();
    let own = sample(&shares).deviation * PER_SHARE;
    let own_spread = Repeatability { deviation: own, dof: n as f64 - 1.0 };
    let mut parts = Vec::new();
    let mut notes = Vec::new();
    if n == 1 {
        notes.push("One reading: it has no scatter of its own.".to_owned());
    }
    let root = (n as f64).sqrt();
    if n >= 4 {
        parts.push(repeatability_line("Scatter of the readings", own_spread, own / root));
    } else if let Some(spread) = shown.repeatability {
        let weights = shares.iter().map(|share| share * share).sum::<f64>().sqrt() / n as f64;
        parts.push(repeatability_line("Repeatability of the instrument", spread, spread.deviation * weights));
    } else if n >= 2 {
        parts.push(repeatability_line("Scatter of the readings", own_spread, own / root));
    } else {
        notes.push(
            "Nothing is known of the repeatability; the uncertainty is the instrument's alone.".to_owned(),
        );
    }
    if shown.step > 0.0 {
        parts.push(shown.step_line(shown.step_standard()));
    }
    if n >= 2 && sample(levels).deviation > 3.0 {
        notes.push(
            "The readings scatter by more than 3 dB; the energy average is that of the loudest few."
                .to_owned(),
        );
    }
    Averaged { level, n, parts, notes }
}

/// A level with the background taken off, or what can be said instead.
#[derive(Clone, Debug, PartialEq)]
pub struct Cleared {
    /// The level; none where it is not far enough above the background.
    pub value: Option<f64>,
    /// What it does not exceed, where there is no value.
    pub at_most: Option<f64>,
    /// The budget of the value; empty without one.
    pub budget: Budget,
    /// How far the reading was above the background, and the correction that was made.
    pub background: Option<(f64, f64)>,
    /// What to say, the shortest first where there is no value.
    pub notes: Vec<String>,
}

/// Takes the background off a level. `common` are the parts that a meter brings to both readings
/// alike (its accuracy, its calibration): with `L = 10 lg(10^(L'/10) − 10^(L_b/10))` the sensitivities
/// 1/(1 − q) and −q/(1 − q), q = 10^(−ΔL/10), add up to one, so they count once.
pub fn clear(level: &Averaged, background: Option<&Averaged>, common: &[Component]) -> Cleared {
    let plain = || combine(level.parts.iter().chain(common).cloned().collect());
    let as_read = |background, notes| Cleared {
        value: Some(level.level),
        at_most: None,
        budget: plain(),
        background,
        notes,
    };
    let Some(behind) = background else {
        return as_read(None, level.notes.clone());
    };
    let excess = level.level - behind.level;
    let shown = |decibels: f64| crate::quantity::fixed(decibels, crate::quantity::Decimals(1));
    if excess < LEAST_EXCESS {
        let first = if excess > 0.0 {
            format!("Only {} dB above the background.", shown(excess))
        } else {
            "Not above the background.".to_owned()
        };
        let mut notes = vec![
            first,
            "Under 3 dB above the background no level of the machine can be given (ISO 3746). It is at \
             most what was read with the machine running, the uncertainty added."
                .to_owned(),
        ];
        notes.extend(level.notes.iter().cloned());
        return Cleared {
            value: None,
            at_most: Some(level.level + plain().expanded.expanded),
            budget: combine(Vec::new()),
            background: Some((excess, 0.0)),
            notes,
        };
    }
    if excess > AMPLE_EXCESS {
        return as_read(Some((excess, 0.0)), level.notes.clone());
    }
    let taken = correction(excess).unwrap_or(0.0);
    let mut notes = Vec::new();
    if excess < GOOD_EXCESS {
        notes.push(format!(
            "{} dB above the background: good for a survey (ISO 3746), where ISO 3744 asks for 6 dB or more.",
            shown(excess)
        ));
    }
    notes.extend(level.notes.iter().cloned());
    Cleared {
        value: Some(level.level - taken),
        at_most: None,
        budget: combine(cleared_parts(level, behind, excess, common)),
        background: Some((excess, taken)),
        notes,
    }
}

/// The parts of a corrected level: the readings' and the background's, each by its sensitivity.
fn cleared_parts(level: &Averaged, behind: &Averaged, excess: f64, common: &[Component]) -> Vec<Component> {
    let ratio = energy(-excess);
    let times = |part: &Component, factor: f64, suffix: &str| Component {
        name: format!("{}{suffix}", part.name),
        contribution: part.contribution * factor,
        ..part.clone()
    };
    let own = level.parts.iter().map(|part| times(part, 1.0 / (1.0 - ratio), ""));
    let others = behind.parts.iter().map(|part| times(part, ratio / (1.0 - ratio), ", background"));
    own.chain(others).chain(common.iter().cloned()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn alone(level: f64, part: f64) -> Averaged {
        let spread = Repeatability { deviation: part, dof: f64::INFINITY };
        Averaged { level, n: 1, parts: vec![repeatability_line("s", spread, part)], notes: Vec::new() }
    }

    #[test]
    fn under_three_decibels_there_is_a_bound_and_no_level() {
        for behind in [52.0, 55.0, 80.0] {
            let found = clear(&alone(54.0, 0.1), Some(&alone(behind, 0.1)), &[]);
            assert_eq!(found.value, None);
            assert!((found.at_most.unwrap_or(0.0) - 54.196).abs() < 1e-3, "{found:?}");
            assert!(found.notes[0].contains("above the background"));
        }
    }

    #[test]
    fn above_fifteen_decibels_nothing_is_taken_off() {
        let found = clear(&alone(84.0, 0.1), Some(&alone(60.0, 0.1)), &[]);
        assert_eq!((found.value, found.notes.len()), (Some(84.0), 0));
    }

    #[test]
    fn a_survey_is_called_one() {
        let survey = |behind| {
            let found = clear(&alone(60.0, 0.1), Some(&alone(behind, 0.1)), &[]);
            found.notes.iter().any(|note| note.contains("survey"))
        };
        assert!(survey(56.0) && !survey(53.0));
    }

    /// The first-order budget against the spread of 10⁵ draws of the exact formula.
    #[test]
    fn first_order_agrees_with_monte_carlo_six_decibels_above_the_background() {
        use crate::analysis::monte_carlo::{Draws, LANES, Noise, Row, propagate, spread};
        let (level, behind) = (alone(66.0, 0.4), alone(60.0, 0.3));
        let found = clear(&level, Some(&behind), &[]);
        let (a, b) = (Noise::normal(0.4), Noise::normal(0.3));
        let mut draws = Draws::seeded(&[66.0, 60.0]);
        let [levels] = propagate(&mut draws, &[&a, &b], |rows: &[Row], out: &mut [Row; 1]| {
            for lane in 0..LANES {
                let with = 10f32.powf((66.0 + rows[0][lane]) / 10.0);
                let without = 10f32.powf((60.0 + rows[1][lane]) / 10.0);
                out[0][lane] = 10.0 * (with - without).log10();
            }
        });
        let first_order = found.budget.expanded.standard;
        assert!((spread(&levels) / first_order - 1.0).abs() < 0.03, "{} {first_order}", spread(&levels));
    }

    #[test]
    fn a_part_common_to_both_readings_counts_once() {
        let common = repeatability_line("a", Repeatability { deviation: 0.7, dof: f64::INFINITY }, 0.7);
        let found = clear(&alone(66.0, 0.0), Some(&alone(60.0, 0.0)), &[common]);
        assert!((found.budget.expanded.standard - 0.7).abs() < 1e-12);
    }

    #[test]
    fn readings_that_do_not_scatter_keep_the_display_step() {
        let shown = Shown { step: 0.1, ..Shown::nothing() };
        let found = average(&[84.1; 5], &shown);
        let budget = combine(found.parts);
        assert!((budget.expanded.standard - 0.1 / 12f64.sqrt()).abs() < 1e-12);
        assert!((found.level - 84.1).abs() < 1e-12);
    }

    #[test]
    fn averaging_keeps_to_the_readings_however_high_or_low() {
        for level in [-3000.0, 0.0, 190.0, 4000.0] {
            assert!((mean(&[level, level]) - level).abs() < 1e-9);
        }
    }
}
