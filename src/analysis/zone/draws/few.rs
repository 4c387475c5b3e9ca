//! The few places of many that can touch a zone in one draw.

use nalgebra::DMatrix;

use super::super::super::monte_carlo::Draws;
use super::super::exchange::height_at;
use super::{Edges, Hand, Plan};

/// The levels, and who has what chance to pass them.
pub(super) struct Few {
    high: f64,
    low: f64,
    /// Places whose chance lies between 2^−(c + 1) and 2^−c.
    groups: Vec<Vec<usize>>,
    /// The chances of every place to be above and below.
    chances: Vec<(f64, f64)>,
}

impl Few {
    /// Levels beyond each of which so many places are to be expected.
    pub(super) fn of<const B: usize>(plan: &Plan<B>, wanted: f64) -> Self {
        let above = |level: f64| {
            move |(departure, class): (&f64, &usize)| plan.tails[*class].chance_above(level - departure)
        };
        let below = |level: f64| {
            move |(departure, class): (&f64, &usize)| plan.tails[*class].chance_above(departure - level)
        };
        let free = || plan.departures.iter().zip(&plan.class).skip(plan.always);
        let high = level_where(plan, |level| free().map(above(level)).sum::<f64>() > wanted);
        let low = -level_where(plan, |level| free().map(below(-level)).sum::<f64>() > wanted);
        // They must not overlap: a place is above, below or neither.
        let (high, low) =
            if low < high { (high, low) } else { (f64::midpoint(high, low), f64::midpoint(high, low)) };
        let all = || plan.departures.iter().zip(&plan.class);
        let chances: Vec<(f64, f64)> = all().map(above(high)).zip(all().map(below(low))).collect();
        let mut groups: Vec<Vec<usize>> = Vec::new();
        for (index, (above, below)) in chances.iter().enumerate().skip(plan.always) {
            let chance = above + below;
            if chance < 1e-15 {
                continue;
            }
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
            let group = (-chance.log2()).floor().max(0.0) as usize;
            if groups.len() <= group {
                groups.resize(group + 1, Vec::new());
            }
            groups[group].push(index);
        }
        Self { high, low, groups, chances }
    }

    /// Draws the places that are always drawn, and of the others those that pass a level.
    pub(super) fn pick<const B: usize>(&self, plan: &Plan<B>, draws: &mut Draws, hand: &mut Hand<B>) {
        hand.picked.clear();
        hand.rows.clear();
        hand.heights.clear();
        for index in 0..plan.always {
            let noise = plan.tails[plan.class[index]].draw(draws);
            hand.add(plan, index, noise);
        }
        for (group, members) in self.groups.iter().enumerate() {
            let exponent = i32::try_from(group).unwrap_or(i32::MAX);
            let ceiling = 0.5f64.powi(exponent);
            let mut next = skip(ceiling, draws);
            while let Some(index) = members.get(next) {
                let (above, below) = self.chances[*index];
                let chance = draws.uniform() * ceiling;
                if chance < above + below {
                    let (tail, departure) = (&plan.tails[plan.class[*index]], plan.departures[*index]);
                    let noise = if chance < above {
                        tail.draw_above(self.high - departure, draws)
                    } else {
                        -tail.draw_above(departure - self.low, draws)
                    };
                    hand.add(plan, *index, noise);
                }
                next = next.saturating_add(1).saturating_add(skip(ceiling, draws));
            }
        }
    }

    /// Whether a zone holds every place that stayed between the levels.
    pub(super) fn holds<const B: usize>(&self, edges: &Edges<B>, corners: &[[f64; B]]) -> bool {
        corners.iter().all(|corner| {
            let middle = height_at(corner, &edges.tilt);
            middle + edges.high >= self.high && middle + edges.low <= self.low
        })
    }

    /// Draws all others, given that they stayed between the levels.
    pub(super) fn complete<const B: usize>(&self, plan: &Plan<B>, draws: &mut Draws, hand: &mut Hand<B>) {
        hand.is_picked.clear();
        hand.is_picked.resize(plan.rows.len(), false);
        for index in &hand.picked {
            hand.is_picked[*index] = true;
        }
        for index in plan.always..plan.rows.len() {
            if !hand.is_picked[index] {
                let departure = plan.departures[index];
                let tail = &plan.tails[plan.class[index]];
                let noise = tail.draw_between(self.low - departure, self.high - departure, draws);
                hand.add(plan, index, noise);
            }
        }
    }
}

impl<const B: usize> Hand<B> {
    fn add(&mut self, plan: &Plan<B>, index: usize, noise: f64) {
        self.picked.push(index);
        self.rows.push(plan.rows[index]);
        self.heights.push(plan.departures[index] + noise);
    }
}

/// The highest level at which something still holds that holds at low levels, by halving.
fn level_where<const B: usize>(plan: &Plan<B>, holds: impl Fn(f64) -> bool) -> f64 {
    let most = plan.departures.iter().fold(0.0, |most: f64, one| most.max(one.abs()));
    let reach = plan.tails.iter().map(super::super::tail::Tail::reach).fold(0.0, f64::max);
    let (mut low, mut high) = (-most - reach, most + reach);
    for _ in 0..60 {
        let middle = f64::midpoint(low, high);
        if holds(middle) {
            low = middle;
        } else {
            high = middle;
        }
    }
    low
}

/// How many places are passed over until one is looked at, each with this chance.
fn skip(chance: f64, draws: &mut Draws) -> usize {
    if chance >= 1.0 {
        return 0;
    }
    let passed = draws.uniform().ln() / (-chance).ln_1p();
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let passed = passed.min(1e15) as usize;
    passed
}

/// A draw of the standard normal distribution (Box and Muller).
pub(super) fn standard_normal(draws: &mut Draws) -> f64 {
    let radius = (-2.0 * draws.uniform().ln()).sqrt();
    radius * (std::f64::consts::TAU * draws.uniform()).cos()
}

/// Factors of the covariance of a fit's coefficients: so many normal numbers times them have it.
pub(super) fn factors<const B: usize>(
    operator: &[[f64; B]],
    variance: impl Fn(usize) -> f64,
) -> Vec<[f64; B]> {
    let mut covariance = DMatrix::<f64>::zeros(B - 1, B - 1);
    for (index, weights) in operator.iter().enumerate() {
        for a in 0..B - 1 {
            for b in 0..B - 1 {
                covariance[(a, b)] += variance(index) * weights[a] * weights[b];
            }
        }
    }
    let parts = covariance.symmetric_eigen();
    let factor = |j: usize| {
        let size = parts.eigenvalues[j].max(0.0).sqrt();
        std::array::from_fn(|k| if k < B - 1 { parts.eigenvectors[(k, j)] * size } else { 0.0 })
    };
    (0..B - 1).map(factor).collect()
}
