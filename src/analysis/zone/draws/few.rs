//! The few places of many that can touch a zone in one draw: those whose noise carries them beyond a
//! level near either edge.
//!
//! Levels are nested. Where the zone that the outermost places make does not hold everything that stayed
//! below the outer level, those beyond the next level are drawn too, given that they stayed below the
//! outer one, and at last all others.

use nalgebra::DMatrix;

use super::super::super::monte_carlo::Draws;
use super::super::exchange::height_at;
use super::super::tail::Tail;
use super::{Edges, Hand, Plan};

/// A pair of levels, and who has what chance to pass them and not the pair outside.
pub(super) struct Few<const B: usize> {
    high: f64,
    low: f64,
    /// The levels outside; infinite of the outermost.
    outside: (f64, f64),
    groups: Vec<Group>,
    /// What the zone must reach at the corners about everything that comes near a level.
    near: [Vec<[f64; B]>; 2],
    /// How far below the levels all else stays.
    slack: f64,
}

/// Places of about one chance.
struct Group {
    /// The largest chance among them, at most; half of it is the least.
    ceiling: f64,
    /// 1/ln(1 − ceiling), for the number passed over.
    per_log: f64,
    members: Vec<Member>,
}

/// A place with its chances to be above and below.
struct Member {
    index: usize,
    above: f64,
    below: f64,
}

impl<const B: usize> Few<B> {
    /// Levels beyond each of which so many places are to be expected, inside the levels `outside`.
    pub(super) fn of(plan: &Plan<B>, wanted: f64, outside: (f64, f64)) -> Self {
        let free = || plan.departures.iter().zip(&plan.class).skip(plan.always);
        let above = |level: f64, (departure, class): (&f64, &usize)| {
            plan.tails[*class].chance_above(level - departure)
        };
        let below = |level: f64, (departure, class): (&f64, &usize)| {
            plan.tails[*class].chance_above(departure - level)
        };
        let high = level_where(plan, |level| free().map(|one| above(level, one)).sum::<f64>() > wanted);
        let low = -level_where(plan, |level| free().map(|one| below(-level, one)).sum::<f64>() > wanted);
        // They must not overlap: a place is above, below or neither.
        let middle = f64::midpoint(high, low);
        let (high, low) = if low < high { (high, low) } else { (middle, middle) };
        let mut made =
            Self { high, low, outside, groups: Vec::new(), near: [Vec::new(), Vec::new()], slack: 0.0 };
        made.slack = plan.tails.iter().map(Tail::reach).fold(0.0, f64::max) * 0.5;
        let mut near: [Vec<[f64; B]>; 2] = [Vec::new(), Vec::new()];
        for (index, one) in plan.departures.iter().zip(&plan.class).enumerate().skip(plan.always) {
            let reach = plan.tails[*one.1].reach();
            if one.0 + reach > high - made.slack {
                near[0].push(plan.rows[index]);
            }
            if one.0 - reach < low + made.slack {
                near[1].push(plan.rows[index]);
            }
            let (far_above, far_below) = (above(outside.0, one), below(outside.1, one));
            let stays = 1.0 - far_above - far_below;
            let chance =
                |wide: f64, far: f64| if stays > 0.0 { ((wide - far) / stays).max(0.0) } else { 0.0 };
            let member = Member {
                index,
                above: chance(above(high, one), far_above),
                below: chance(below(low, one), far_below),
            };
            made.add(member);
        }
        made.near = near.map(|rows| if rows.is_empty() { rows } else { super::corners(&rows) });
        made
    }

    /// The levels.
    pub(super) fn levels(&self) -> (f64, f64) {
        (self.high, self.low)
    }

    fn add(&mut self, member: Member) {
        let chance = member.above + member.below;
        if chance < 1e-15 {
            return;
        }
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let group = (-chance.log2()).floor().max(0.0) as usize;
        while self.groups.len() <= group {
            let ceiling = 0.5f64.powi(i32::try_from(self.groups.len()).unwrap_or(i32::MAX));
            self.groups.push(Group { ceiling, per_log: 1.0 / (-ceiling).ln_1p(), members: Vec::new() });
        }
        self.groups[group].members.push(member);
    }

    /// Draws those that pass a level and not the one outside.
    pub(super) fn pick(&self, plan: &Plan<B>, draws: &mut Draws, hand: &mut Hand<B>) {
        let inner = self.outside.0.is_finite();
        for group in &self.groups {
            let mut next = group.passed_over(draws);
            while let Some(member) = group.members.get(next) {
                let chance = draws.uniform() * group.ceiling;
                if chance < member.above + member.below && !(inner && hand.is_picked[member.index]) {
                    let index = member.index;
                    let (tail, departure) = (&plan.tails[plan.class[index]], plan.departures[index]);
                    let noise = if chance < member.above {
                        tail.draw_between(self.high - departure, self.outside.0 - departure, draws)
                    } else {
                        -tail.draw_between(departure - self.low, departure - self.outside.1, draws)
                    };
                    hand.add(plan, index, noise);
                }
                next = next.saturating_add(1).saturating_add(group.passed_over(draws));
            }
        }
    }

    /// Whether a zone holds every place that stayed between the levels.
    pub(super) fn holds(&self, edges: &Edges<B>, corners: &[[f64; B]]) -> bool {
        let reaches = |corners: &[[f64; B]], high: f64| {
            corners.iter().all(|corner| height_at(corner, &edges.tilt) + edges.high >= high)
        };
        let falls_to = |corners: &[[f64; B]], low: f64| {
            corners.iter().all(|corner| height_at(corner, &edges.tilt) + edges.low <= low)
        };
        reaches(&self.near[0], self.high)
            && falls_to(&self.near[1], self.low)
            && reaches(corners, self.high - self.slack)
            && falls_to(corners, self.low + self.slack)
    }

    /// Draws all others, given that they stayed between the levels.
    pub(super) fn complete(&self, plan: &Plan<B>, draws: &mut Draws, hand: &mut Hand<B>) {
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

impl Group {
    /// How many members are passed over until one is looked at.
    fn passed_over(&self, draws: &mut Draws) -> usize {
        if self.ceiling >= 1.0 {
            return 0;
        }
        let passed = draws.uniform().ln() * self.per_log;
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let passed = passed.min(1e15) as usize;
        passed
    }
}

impl<const B: usize> Hand<B> {
    /// Nothing but the places that are drawn each time.
    pub(super) fn begin(&mut self, plan: &Plan<B>, draws: &mut Draws) {
        self.is_picked.resize(plan.rows.len(), false);
        for index in self.picked.drain(..) {
            self.is_picked[index] = false;
        }
        self.rows.clear();
        self.heights.clear();
        for index in 0..plan.always {
            let noise = plan.tails[plan.class[index]].draw(draws);
            self.add(plan, index, noise);
        }
    }

    fn add(&mut self, plan: &Plan<B>, index: usize, noise: f64) {
        self.picked.push(index);
        self.is_picked[index] = true;
        self.rows.push(plan.rows[index]);
        self.heights.push(plan.departures[index] + noise);
    }
}

/// The highest level at which something still holds that holds at low levels, by halving.
fn level_where<const B: usize>(plan: &Plan<B>, holds: impl Fn(f64) -> bool) -> f64 {
    let most = plan.departures.iter().fold(0.0, |most: f64, one| most.max(one.abs()));
    let reach = plan.tails.iter().map(Tail::reach).fold(0.0, f64::max);
    let (mut low, mut high) = (-most - reach, most + reach);
    for _ in 0..30 {
        let middle = f64::midpoint(low, high);
        if holds(middle) {
            low = middle;
        } else {
            high = middle;
        }
    }
    low
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
