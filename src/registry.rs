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

/// A measure's page of `docs/guide/measures`.
macro_rules! page {
    ($name:literal) => {
        include_str!(concat!("../docs/guide/measures/", $name, ".md"))
    };
}

/// Every measure, in the order of the session format.
pub static MEASURES: &[Registered] = &[
    Registered { measure: &RunOut, draw: of_run_out::DRAW, template: "run-out", guide: page!("run-out") },
    Registered {
        measure: &Temperature,
        draw: of_temperature::DRAW,
        template: "temperature",
        guide: page!("temperature"),
    },
    Registered { measure: &Sound, draw: of_sound::DRAW, template: "sound", guide: page!("sound") },
    Registered {
        measure: &Vibration,
        draw: of_vibration::DRAW,
        template: "vibration",
        guide: page!("vibration"),
    },
    Registered { measure: &Load, draw: of_load::DRAW, template: "load", guide: page!("load") },
    Registered { measure: &SetSpeed, draw: of_speed::DRAW, template: "speed", guide: page!("speed") },
    Registered {
        measure: &RepeatedNumber,
        draw: of_quantity::DRAW,
        template: "quantity",
        guide: page!("quantity"),
    },
    Registered {
        measure: &Straightness,
        draw: of_straightness::DRAW,
        template: "straightness",
        guide: page!("straightness"),
    },
    Registered {
        measure: &Flatness,
        draw: of_flatness::DRAW,
        template: "flatness",
        guide: page!("flatness"),
    },
    Registered {
        measure: &Parallelism,
        draw: of_parallelism::DRAW,
        template: "parallelism",
        guide: page!("parallelism"),
    },
    Registered {
        measure: &Squareness,
        draw: of_squareness::DRAW,
        template: "squareness",
        guide: page!("squareness"),
    },
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
