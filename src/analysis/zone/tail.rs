//! The noise of one height as a distribution that can be drawn from in its tails alone.
//!
//! A rounding error, equally likely within half a step, and a normal scatter add up. Its distribution
//! function is known in closed form: with H(z) = φ(z) − z·Q(z), the integral of the normal tail Q, the
//! chance to exceed x is (s/d)·[H((x − d/2)/s) − H((x + d/2)/s)].

use statrs::distribution::{Continuous, ContinuousCDF, Normal};

use super::super::monte_carlo::Draws;

/// Nodes of the table between zero and the reach.
const NODES: usize = 4_096;
/// Standard deviations of the scatter that the table reaches: beyond lies one draw in 10¹⁰.
const REACH: f64 = 6.5;
/// The smallest chance that is told apart, 2⁻⁴⁰.
const LEAST: f64 = 1.0 / (1u64 << 40) as f64;
/// Bits of a chance below those that its table tells apart: 256 places an octave.
const BELOW: u32 = 52 - 8;
/// Equally likely values of a whole draw.
const CELLS: usize = 1 << 13;

/// A symmetric noise.
#[derive(Debug)]
pub(super) struct Tail {
    /// The chance to exceed each node, from zero outward.
    above: Vec<f64>,
    /// The distance of two nodes; zero where there is no noise.
    step: f64,
    /// The value exceeded with each chance from [`LEAST`] to a half.
    by_chance: Vec<f64>,
    /// Equally likely values, with the variance exact.
    cells: Vec<f32>,
}

impl Tail {
    /// Of a display step and a scatter's standard deviation.
    pub(super) fn new(step: f64, deviation: f64) -> Self {
        let reach = step / 2.0 + REACH * deviation;
        let node = reach / (NODES - 1) as f64;
        let above = (0..NODES).map(|index| exceeds(index as f64 * node, step, deviation)).collect();
        let mut made = Self { above, step: node, by_chance: Vec::new(), cells: Vec::new() };
        let last = (0.5f64.to_bits() - LEAST.to_bits()) >> BELOW;
        made.by_chance =
            (0..=last).map(|place| made.sought(f64::from_bits(LEAST.to_bits() + (place << BELOW)))).collect();
        let cells: Vec<f64> =
            (0..CELLS).map(|index| made.exceeded_by((index as f64 + 0.5) / CELLS as f64)).collect();
        let mean_square = cells.iter().map(|cell| cell * cell).sum::<f64>() / CELLS as f64;
        let wanted = step * step / 12.0 + deviation * deviation;
        let scale = if mean_square > 0.0 { (wanted / mean_square).sqrt() } else { 0.0 };
        #[allow(clippy::cast_possible_truncation)]
        let exact = cells.iter().map(|cell| (cell * scale) as f32).collect();
        made.cells = exact;
        made
    }

    /// How far it reaches.
    pub(super) fn reach(&self) -> f64 {
        (NODES - 1) as f64 * self.step
    }

    /// The chance to exceed a value.
    pub(super) fn chance_above(&self, value: f64) -> f64 {
        if value < 0.0 {
            return 1.0 - self.chance_above(-value);
        }
        if self.step <= 0.0 {
            return 0.0;
        }
        let place = value / self.step;
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let index = place.min(NODES as f64) as usize;
        match (self.above.get(index), self.above.get(index + 1)) {
            (Some(near), Some(far)) => near + (far - near) * (place - index as f64),
            _ => 0.0,
        }
    }

    /// The value that is exceeded with this chance: a table over the chance's binary exponent and its
    /// first digits, as fine far out as near the middle.
    #[inline]
    fn exceeded_by(&self, chance: f64) -> f64 {
        if chance > 0.5 {
            return -self.exceeded_by(1.0 - chance);
        }
        if chance < LEAST {
            return self.reach();
        }
        let place = chance.to_bits() - LEAST.to_bits();
        #[allow(clippy::cast_possible_truncation)]
        let index = (place >> BELOW) as usize;
        let share = (place & ((1 << BELOW) - 1)) as f64 / (1u64 << BELOW) as f64;
        match (self.by_chance.get(index), self.by_chance.get(index + 1)) {
            (Some(near), Some(far)) => near + (far - near) * share,
            (Some(near), None) => *near,
            _ => 0.0,
        }
    }

    /// The same out of the table of chances, by halving.
    fn sought(&self, chance: f64) -> f64 {
        let beyond = self.above.partition_point(|above| *above > chance);
        let (Some(far), Some(near)) = (self.above.get(beyond), beyond.checked_sub(1)) else {
            return if beyond == 0 { 0.0 } else { self.reach() };
        };
        let (near_chance, gap) = (self.above[near], self.above[near] - far);
        let share = if gap > 0.0 { (near_chance - chance) / gap } else { 0.0 };
        (near as f64 + share) * self.step
    }

    /// A draw out of a table of equally likely values; `bits` are thirteen random ones. The outermost
    /// cells are drawn exactly: of hundreds of heights one is often there, and it makes the range.
    #[inline]
    pub(super) fn cell(&self, bits: u64, draws: &mut Draws) -> f64 {
        #[allow(clippy::cast_possible_truncation)]
        let index = (bits as usize) & (CELLS - 1);
        if index == 0 || index == CELLS - 1 {
            let beyond = self.exceeded_by(draws.uniform() / CELLS as f64);
            return if index == 0 { beyond } else { -beyond };
        }
        f64::from(self.cells[index])
    }

    /// A draw, exact far into the tails.
    pub(super) fn draw(&self, draws: &mut Draws) -> f64 {
        self.exceeded_by(draws.uniform())
    }

    /// A draw, given that it lies between two values.
    pub(super) fn draw_between(&self, low: f64, high: f64, draws: &mut Draws) -> f64 {
        let (least, most) = (self.chance_above(high), self.chance_above(low));
        self.exceeded_by(least + (most - least) * draws.uniform())
    }
}

fn exceeds(value: f64, step: f64, deviation: f64) -> f64 {
    let normal = Normal::standard();
    if deviation <= 0.0 {
        return if step > 0.0 { (0.5 - value / step).max(0.0) } else { 0.0 };
    }
    if step <= 0.0 {
        return normal.sf(value / deviation);
    }
    // The integral of the normal tail from z on.
    let beyond = |z: f64| normal.pdf(z) - z * normal.sf(z);
    let (near, far) = ((value - step / 2.0) / deviation, (value + step / 2.0) / deviation);
    (deviation / step * (beyond(near) - beyond(far))).clamp(0.0, 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_chances_of_a_step_alone_and_of_a_scatter_alone_are_those_of_the_book() {
        let step = Tail::new(2.0, 0.0);
        assert!((step.chance_above(0.5) - 0.25).abs() < 1e-6);
        assert!((step.exceeded_by(0.1) - 0.8).abs() < 1e-6);
        assert!(step.chance_above(1.0) < 1e-9);
        // Source: NIST/SEMATECH e-Handbook, 1.3.6.7.1: z(0.975) = 1.96, z(0.9995) = 3.291.
        let scatter = Tail::new(0.0, 1.0);
        assert!((scatter.exceeded_by(0.025) - 1.959_964).abs() < 1e-4);
        assert!((scatter.exceeded_by(0.9995) + 3.290_527).abs() < 1e-3);
    }

    #[test]
    fn a_sum_of_both_has_the_sum_of_their_variances() {
        let both = Tail::new(1.0, 0.4);
        let n = 200_000;
        let squares: f64 =
            (0..n).map(|i| both.exceeded_by((f64::from(i) + 0.5) / f64::from(n)).powi(2)).sum();
        assert!((squares / f64::from(n) - (1.0 / 12.0 + 0.16)).abs() < 2e-4);
    }

    #[test]
    fn a_draw_above_a_value_is_above_it() {
        let mut draws = Draws::seeded(&[1.0, 2.0]);
        let tail = Tail::new(1.0, 0.3);
        for _ in 0..1000 {
            assert!(tail.draw_between(0.9, f64::INFINITY, &mut draws) >= 0.9 - 1e-9);
            let between = tail.draw_between(-0.2, 0.3, &mut draws);
            assert!((-0.2 - 1e-9..=0.3 + 1e-9).contains(&between));
        }
    }
}
