//! The numbers that a measure gives, by name.

use crate::session::Better;

/// One of the numbers that a measure gives.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct What {
    /// As the session format names it.
    pub name: &'static str,
    /// As a sentence names it.
    pub words: &'static str,
    /// Whether it says something of the machine that can change from visit to visit; a closing
    /// error speaks of one set-up alone.
    pub compared: bool,
    /// Which way it is better.
    pub direction: Direction,
}

/// Which way one of a measure's numbers is better.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Direction {
    /// As the measure says for all its numbers.
    OfTheMeasure,
    /// This way.
    Own(Better),
    /// Neither: a change of it is `higher` or `lower`.
    Neither,
}

impl What {
    /// A number of the machine.
    pub const fn new(name: &'static str, words: &'static str) -> Self {
        Self { name, words, compared: true, direction: Direction::OfTheMeasure }
    }

    /// A number of one set-up, which is not compared.
    pub const fn of_set_up(name: &'static str, words: &'static str) -> Self {
        Self { compared: false, ..Self::new(name, words) }
    }

    /// The same, better this way whatever the measure says of its other numbers.
    #[must_use]
    pub const fn directed(self, better: Better) -> Self {
        Self { direction: Direction::Own(better), ..self }
    }

    /// The same, better neither way.
    #[must_use]
    pub const fn undirected(self) -> Self {
        Self { direction: Direction::Neither, ..self }
    }

    /// Which way it is better, where the measure as a whole says `measure`.
    pub fn better(&self, measure: Option<Better>) -> Option<Better> {
        match self.direction {
            Direction::OfTheMeasure => measure,
            Direction::Own(better) => Some(better),
            Direction::Neither => None,
        }
    }
}
