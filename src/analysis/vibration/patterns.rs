//! Reading the pattern of vibration: what the spectra are consistent with, always with the figure that
//! says so. A pattern never names a culprit on its own.

use std::f64::consts::TAU;

use crate::findings::{CheckFindings, Pattern};
use crate::quantity::significant;

use super::VibrationDetails;
use super::bearing::SLIP;
use super::fields::hertz;
use super::levels::spoken;
use super::recorded::Shake;

/// 1× dominates from this share of the velocity's mean square in the band (common practice).
const DOMINATES: f64 = 0.5;
/// 2× is worth a word from this share of 1×, as velocities (common practice).
const NOTABLE: f64 = 0.5;
/// So many orders of the first ten, each this many times its surroundings, are a row.
const ROW: usize = 5;
const CLEAR: f64 = 4.0;
/// What an order must have of the velocity to be counted in a row.
const COUNTED: f64 = 0.05;

/// Everything that the recordings of one check are consistent with.
pub(super) fn read(own: &CheckFindings) -> Vec<Pattern> {
    let mut patterns = Vec::new();
    for visit in &own.visits {
        let Some(details) = visit.details.of::<VibrationDetails>() else { continue };
        for shake in &details.shakes {
            let says = turning(shake, details).into_iter().chain(bearing(shake, details));
            patterns.extend(says.map(|says| Pattern { visit: visit.visit.clone(), says }));
        }
    }
    patterns
}

/// The velocity (RMS) of each of the first ten orders that stands clear of its surroundings.
fn orders(shake: &Shake, details: &VibrationDetails) -> Vec<(u32, f64)> {
    let Some(spectrum) = &shake.combined.spectrum else { return Vec::new() };
    if shake.turning < 5.0 * spectrum.width {
        return Vec::new();
    }
    let Some(second) = crate::quantity::Unit::known(crate::quantity::Kind::Acceleration, "m/s²")
        .and_then(|si| crate::quantity::Difference::new(1.0, details.acceleration).to(si).ok())
    else {
        return Vec::new();
    };
    let metre = crate::quantity::Unit::known(crate::quantity::Kind::Velocity, "m/s")
        .and_then(|unit| crate::quantity::Difference::new(1.0, unit).to(details.velocity).ok());
    let Some(metre) = metre else { return Vec::new() };
    (1..=10_u32)
        .filter_map(|k| {
            let frequency = f64::from(k) * shake.turning;
            if frequency * (1.0 + SLIP) > shake.band.1 || frequency * (1.0 - SLIP) < shake.band.0 {
                return None;
            }
            let line = spectrum.line(frequency * (1.0 - SLIP), frequency * (1.0 + SLIP))?;
            let velocity = line.amplitude / (2f64.sqrt() * TAU * line.frequency) * second * metre;
            (line.ratio >= CLEAR && line.amplitude > line.floor).then_some((k, velocity))
        })
        .collect()
}

fn turning(shake: &Shake, details: &VibrationDetails) -> Vec<String> {
    let Some(whole) = shake.combined.velocity.filter(|velocity| *velocity > 0.0) else {
        return Vec::new();
    };
    let found = orders(shake, details);
    let of = |k: u32| found.iter().find(|(order, _)| *order == k).map_or(0.0, |(_, velocity)| *velocity);
    let (once, twice) = (of(1), of(2));
    let share = once * once / (whole * whole);
    let unit = details.velocity;
    let mut says = Vec::new();
    if share >= DOMINATES {
        says.push(format!(
            "At {}, 1× ({} {unit}) carries {} % of the velocity's mean square in the band, which is consistent with \
             unbalance or an eccentric seat.",
            shake.at,
            significant(once, 3),
            significant(100.0 * share.min(1.0), 2)
        ));
    }
    if twice > 0.0 && twice >= NOTABLE * once && twice >= COUNTED * whole {
        let against = if once > 0.0 {
            format!("{} times 1×", significant(twice / once, 2))
        } else {
            "with no clear 1×".to_owned()
        };
        says.push(format!(
            "At {}, 2× ({} {unit}) is {against}, which is consistent with misalignment or a loose part.",
            shake.at,
            significant(twice, 3)
        ));
    }
    let row = found.iter().filter(|(_, velocity)| *velocity >= COUNTED * whole).count();
    if row >= ROW {
        says.push(format!(
            "At {}, {row} of the first ten orders each carry {} % of the velocity or more, which is consistent with \
             looseness.",
            shake.at,
            significant(100.0 * COUNTED, 2)
        ));
    }
    says
}

fn bearing(shake: &Shake, details: &VibrationDetails) -> Option<String> {
    let envelope = shake.combined.envelope.as_ref()?;
    let strongest = envelope.strongest()?;
    let line = strongest.line?;
    Some(format!(
        "At {}, the {} stands in the envelope at {} ({} {}, {} times its surroundings; expected at {}), which is \
         consistent with a mark on that part of the bearing.",
        shake.at,
        spoken(strongest.what),
        hertz(line.frequency),
        significant(line.amplitude, 3),
        details.acceleration,
        significant(line.ratio, 2),
        hertz(strongest.expected)
    ))
}
