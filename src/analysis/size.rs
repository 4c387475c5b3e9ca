//! A size (a range, an amplitude, the width of a zone) with its budget and its floor, and what noise
//! does to it: what run-out and the alignments share.

use super::finding;
use super::floor::Alone;
use super::uncertainty::{Repeatability, Shown, combine, repeatability_line};
use crate::findings::{Component, Finding};
use crate::quantity::{Unit, significant};

/// A scatter from fewer degrees of freedom than this is left to the instrument's `repeat_readings`
/// (four readings of one thing have three).
const FEWEST_FOR_SCATTER: usize = 3;

/// The noise of a reading: the display step, and a scatter where one is known.
#[derive(Clone, Debug)]
pub struct ReadingNoise {
    /// The display step.
    pub step: f64,
    /// The scatter of one reading.
    pub spread: Option<Repeatability>,
    /// Where the scatter comes from, for the budget.
    pub spread_name: &'static str,
}

impl ReadingNoise {
    /// What the instrument does by itself: its step and its `repeat_readings`, named for the budget.
    pub fn idle(shown: &Shown, name: &'static str) -> Self {
        Self { step: shown.step, spread: shown.repeatability, spread_name: name }
    }

    /// The readings' own scatter (a standard deviation and its degrees of freedom) where there is enough
    /// of it, else what the instrument does by itself; never both.
    #[must_use]
    pub fn with_scatter(&self, scatter: Option<(f64, usize)>, name: &'static str) -> Self {
        match scatter.filter(|(_, dof)| *dof >= FEWEST_FOR_SCATTER) {
            Some((deviation, dof)) => Self {
                step: self.step,
                spread: Some(Repeatability { deviation, dof: dof as f64 }),
                spread_name: name,
            },
            None => self.clone(),
        }
    }

    /// It alone, where so many readings stand behind each place.
    pub fn alone(&self, averaged: f64) -> Alone {
        let (step, spread) = self.variances();
        Alone::of(step, spread / averaged.max(1.0), self.spread)
    }

    /// The variances of step and scatter.
    pub fn variances(&self) -> (f64, f64) {
        let spread = self.spread.map_or(0.0, |spread| spread.deviation.powi(2));
        (self.step.powi(2) / 12.0, spread)
    }
}

/// What the draws give for one size.
#[derive(Clone, Copy, Debug)]
pub struct Drawn {
    /// The standard uncertainty from step and scatter.
    pub spread: f64,
    /// How far the mean of the draws lies above the value without any noise added: noise pushes a
    /// range up.
    pub lift: f64,
    /// What a perfect part would show 95 times in 100.
    pub floor: f64,
}

/// A size with its budget and floor. `averaged` is how many readings stand behind each place: their
/// scatter is smaller by its root, the display step is not. `further` lines of the budget are what the
/// draws leave out: the instrument's accuracy, the reference it was read against.
pub fn size(
    (at, what): (&str, &'static str),
    unit: Unit,
    value: f64,
    drawn: Drawn,
    (noise, averaged): (&ReadingNoise, f64),
    (shown, further): (&Shown, Vec<Component>),
) -> Finding {
    let (step, spread) = noise.variances();
    let spread = spread / averaged.max(1.0);
    let total = step + spread;
    let share = |part: f64| if total > 0.0 { drawn.spread * (part / total).sqrt() } else { 0.0 };
    let mut components = Vec::new();
    if step > 0.0 {
        components.push(shown.step_line(share(step)));
    }
    if let Some(known) = noise.spread {
        components.push(repeatability_line(noise.spread_name, known, share(spread)));
    }
    components.extend(further);
    let mut made = finding(at, what, unit, Some(value), combine(components).by_draws().lifted(drawn.lift));
    made.floor = Some(drawn.floor);
    made
}

/// Said where it is more than half of the standard uncertainty: the value stays the one observed.
pub fn lift_note(size: &str, drawn: Drawn, unit: Unit) -> Option<String> {
    (drawn.lift > 0.5 * drawn.spread).then(|| {
        format!(
            "Noise pushes a range up: with its own scatter added once more this {size} comes out {} {unit} larger \
             on average, so the true one is likely smaller by about as much, and only beyond that is it called over a limit.",
            significant(drawn.lift, 2)
        )
    })
}
