//! The measures that there are: one line each, with their charts and their template block.

use crate::analysis::{
    Measure, flatness::Flatness, load::Load, parallelism::Parallelism, quantity::RepeatedNumber,
    run_out::RunOut, sound::Sound, speed::SetSpeed, squareness::Squareness, straightness::Straightness,
    temperature::Temperature, vibration::Vibration,
};
use crate::charts::{
    exhibit::Draw, of_flatness, of_load, of_parallelism, of_quantity, of_run_out, of_sound, of_speed,
    of_squareness, of_straightness, of_temperature, of_vibration,
};

/// A measure with what shows its findings.
pub struct Registered {
    /// Reads and analyses.
    pub measure: &'static dyn Measure,
    /// Draws.
    pub draw: Draw,
    /// The block `templates/measures/NAME.typ`.
    pub template: &'static str,
    /// What the guide says of it beside its own words: how it is read, and what it cannot tell.
    pub guide: &'static str,
}

/// A measure by its name, with its block of `templates/measures` and its page of `docs/guide/measures`.
macro_rules! registered {
    ($measure:expr, $drawn:ident, $name:literal) => {
        Registered {
            measure: &$measure,
            draw: $drawn::DRAW,
            template: $name,
            guide: include_str!(concat!("../docs/guide/measures/", $name, ".md")),
        }
    };
}

/// Every measure, in the order of the session format.
pub static MEASURES: &[Registered] = &[
    registered!(RunOut, of_run_out, "run-out"),
    registered!(Temperature, of_temperature, "temperature"),
    registered!(Sound, of_sound, "sound"),
    registered!(Vibration, of_vibration, "vibration"),
    registered!(Load, of_load, "load"),
    registered!(SetSpeed, of_speed, "speed"),
    registered!(RepeatedNumber, of_quantity, "quantity"),
    registered!(Straightness, of_straightness, "straightness"),
    registered!(Flatness, of_flatness, "flatness"),
    registered!(Parallelism, of_parallelism, "parallelism"),
    registered!(Squareness, of_squareness, "squareness"),
];

/// What [`crate::analysis::analyse`] is given.
pub fn measures() -> Vec<&'static dyn Measure> {
    MEASURES.iter().map(|registered| registered.measure).collect()
}

/// The entry of a measure.
pub fn registered(name: &str) -> Option<&'static Registered> {
    MEASURES.iter().find(|registered| registered.measure.name() == name)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_that_two_measures_give_is_called_alike_in_both() {
        let whats: Vec<_> = MEASURES.iter().flat_map(|registered| registered.measure.whats()).collect();
        for a in &whats {
            for b in whats.iter().filter(|b| b.name == a.name) {
                assert_eq!(a.words, b.words, "{}", a.name);
            }
        }
    }
}
