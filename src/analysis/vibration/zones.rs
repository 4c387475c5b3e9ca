//! The zones of ISO 10816-1 (now ISO 20816-1), as orientation and only where a check names its class.

/// A class of machines (ISO 10816-1:1995, annex B).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Class {
    /// Small machines, electric motors up to 15 kW.
    One,
    /// Medium machines, 15 kW to 75 kW.
    Two,
    /// Large machines on rigid foundations.
    Three,
    /// Large machines on soft foundations.
    Four,
}

impl Class {
    /// As a check writes it.
    pub(super) const WORDS: [(&'static str, Self); 4] =
        [("I", Self::One), ("II", Self::Two), ("III", Self::Three), ("IV", Self::Four)];

    fn word(self) -> &'static str {
        Self::WORDS.iter().find(|(_, class)| *class == self).map_or("I", |(word, _)| word)
    }

    /// The upper edges of zones A, B and C, mm/s RMS (ISO 10816-1:1995, annex B, table B.1). The
    /// standard itself was not at hand: five public programs agree on all twelve numbers.
    pub(super) fn edges(self) -> [f64; 3] {
        match self {
            Self::One => [0.71, 1.8, 4.5],
            Self::Two => [1.12, 2.8, 7.1],
            Self::Three => [1.8, 4.5, 11.2],
            Self::Four => [2.8, 7.1, 18.0],
        }
    }

    /// The zone of a velocity in mm/s; an edge belongs to the better zone.
    pub(super) fn zone(self, velocity: f64) -> char {
        let [a, b, c] = self.edges();
        match velocity {
            v if v <= a => 'A',
            v if v <= b => 'B',
            v if v <= c => 'C',
            _ => 'D',
        }
    }
}

/// The band that the zones are for, hertz.
const BAND: (f64, f64) = (10.0, 1000.0);
/// They are not for machines that turn slower than 600 rpm (from memory).
const SLOWEST: f64 = 10.0;

/// What the zones say of the largest axis's velocity, mm/s, or why they say nothing.
pub(super) fn note(class: Class, velocity: f64, band: (f64, f64), turning: f64) -> String {
    if band != BAND {
        return "No zone of ISO 10816-1 is given: its zones are for velocities from 10 Hz to 1000 Hz."
            .to_owned();
    }
    if turning < SLOWEST {
        return "No zone of ISO 10816-1 is given: they are for machines of 600 rpm and more (from memory)."
            .to_owned();
    }
    let [a, b, c] = class.edges();
    format!(
        "For orientation: the largest axis would lie in zone {} of class {} (ISO 10816-1:1995, annex B: A up to \
         {a}, B up to {b}, C up to {c} mm/s). The zones are for machines that the standard covers; a light \
         woodworking machine is not one of them.",
        class.zone(velocity),
        class.word()
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_edge_belongs_to_the_better_zone() {
        assert_eq!(
            [0.5, 0.71, 0.72, 1.8, 4.5, 4.6].map(|v| Class::One.zone(v)),
            ['A', 'A', 'B', 'B', 'C', 'D']
        );
    }
}
