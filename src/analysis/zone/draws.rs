//! The Monte Carlo of a zone (JCGM 101:2008): what the noise of the heights does to its width.
//!
//! Few places are drawn whole. Of many, hardly any can touch the zone in one draw: only those are drawn
//! whose noise carries them beyond a level near either edge, each with the chance that it has to do so,
//! and from the part of its distribution that lies beyond. The zone that they make is kept where it
//! holds, over all places, whatever stayed below those levels; else more are drawn, given that they
//! stayed below. So the draws are exact, and their cost hardly grows with the number of places.
//!
//! The number of draws is that of the adaptive procedure (JCGM 101, 7.9): as many as it takes until two
//! digits stand.

use rayon::prelude::*;

use super::super::monte_carlo::{DRAWS, Draws, LANES, ROUND, floor_stands, seed_of, spread, spread_stands};
use super::super::size::{Drawn, ReadingNoise};
use super::exchange::{Basis, height_at};
use super::tail::Tail;
use super::{Against, Places};

mod few;
use few::Few;

/// Up to so many places are drawn whole.
const FEW: usize = 300;

/// So many places are wanted beyond each pair of levels.
const WANTED: [f64; 2] = [30.0, 300.0];

/// Draws a width's spread and floor. `counts` says how many readings stand behind each height; `noise`
/// is that of one reading and `idle` what the instrument does by itself, on a perfect part.
pub fn draw<const B: usize>(
    places: &Places<B>,
    heights: &[f64],
    counts: &[usize],
    against: Against,
    (noise, idle): (&ReadingNoise, &ReadingNoise),
) -> Option<Drawn> {
    let held = places.held(heights, against)?;
    let around = widths(places, &held.heights, counts, against, noise, spread_stands)?;
    let averaged = counts.iter().sum::<usize>() as f64 / counts.len().max(1) as f64;
    let still = vec![0.0; heights.len()];
    let alone = widths(places, &still, counts, against, idle, floor_stands)?;
    let mean = around.iter().map(|width| f64::from(*width)).sum::<f64>() / around.len().max(1) as f64;
    Some(Drawn { spread: spread(&around), lift: mean - held.width, floor: idle.alone(averaged).floor(alone) })
}

/// The width of every draw about heights that are departures from the reference, until `stands`.
fn widths<const B: usize>(
    places: &Places<B>,
    departures: &[f64],
    counts: &[usize],
    against: Against,
    noise: &ReadingNoise,
    stands: fn(&[f32]) -> bool,
) -> Option<Vec<f32>> {
    let plan = Plan::of(places, departures, counts, against, noise)?;
    let seed = seed_of(departures);
    let levels = plan.levels();
    let block = |block: usize| {
        let mut draws = Draws::numbered(seed, block as u64 + 1);
        let mut hand = Hand::default();
        let mut out = [0f32; LANES];
        for width in &mut out {
            #[allow(clippy::cast_possible_truncation)]
            let drawn = plan.width(&levels, &mut draws, &mut hand) as f32;
            *width = drawn;
        }
        out
    };
    let mut all: Vec<f32> = Vec::with_capacity(DRAWS);
    while all.len() < DRAWS {
        let first = all.len() / LANES;
        let last = (first + ROUND).min(DRAWS / LANES);
        let blocks: Vec<[f32; LANES]> = (first..last).into_par_iter().map(block).collect();
        all.extend(blocks.into_iter().flatten());
        if stands(&all) {
            break;
        }
    }
    Some(all)
}

/// What every draw shares. Places that are drawn each time, whatever their noise, stand first: those that
/// carry the nominal zone, or the two ends.
pub(super) struct Plan<const B: usize> {
    pub(super) rows: Vec<[f64; B]>,
    pub(super) departures: Vec<f64>,
    pub(super) class: Vec<usize>,
    pub(super) tails: Vec<Tail>,
    pub(super) always: usize,
    /// The corners of the places: what holds at them holds between them.
    pub(super) corners: Vec<[f64; B]>,
    kind: Kind<B>,
    tolerance: f64,
}

enum Kind<const B: usize> {
    Zone(Basis<B>),
    /// What each height adds to each coefficient; and, where not all are drawn, the factors of the
    /// coefficients' covariance.
    LeastSquares {
        operator: Vec<[f64; B]>,
        factors: Vec<[f64; B]>,
    },
    Ends,
}

/// The places drawn and what a draw needs to work with, kept from draw to draw.
#[derive(Default)]
pub(super) struct Hand<const B: usize> {
    pub(super) picked: Vec<usize>,
    pub(super) rows: Vec<[f64; B]>,
    pub(super) heights: Vec<f64>,
    pub(super) is_picked: Vec<bool>,
}

/// The tilt that a draw gives the reference, and the highest and lowest departure from it.
#[derive(Clone, Copy)]
pub(super) struct Edges<const B: usize> {
    pub(super) tilt: [f64; B],
    pub(super) high: f64,
    pub(super) low: f64,
}

impl<const B: usize> Plan<B> {
    fn of(
        places: &Places<B>,
        departures: &[f64],
        counts: &[usize],
        against: Against,
        noise: &ReadingNoise,
    ) -> Option<Self> {
        let n = places.len();
        let (step, deviation) = (noise.step, noise.spread.map_or(0.0, |spread| spread.deviation));
        let mut kinds: Vec<usize> = counts.to_vec();
        kinds.sort_unstable();
        kinds.dedup();
        let tails: Vec<Tail> =
            kinds.iter().map(|count| Tail::new(step, deviation / (*count as f64).max(1.0).sqrt())).collect();
        let size = departures.iter().fold(0.0, |most: f64, one| most.max(one.abs())) + step + deviation;
        let tolerance = 1e-9 * size;
        let (kind, first): (Kind<B>, Vec<usize>) = match against {
            Against::MinimumZone => {
                let mut basis = Basis::of(&places.rows)?;
                basis.settle(&places.rows, departures, tolerance);
                let at = basis.at.to_vec();
                (Kind::Zone(basis.first_of_a_list()), at)
            }
            Against::LeastSquares => {
                let operator = places.operator()?;
                let variance =
                    |i: usize| step * step / 12.0 + deviation * deviation / (counts[i] as f64).max(1.0);
                let factors = few::factors(&operator, variance);
                (Kind::LeastSquares { operator, factors }, Vec::new())
            }
            Against::EndPoints => (Kind::Ends, places.ends()?.to_vec()),
        };
        let order: Vec<usize> =
            first.iter().copied().chain((0..n).filter(|index| !first.contains(index))).collect();
        let class = |index: &usize| kinds.binary_search(&counts[*index]).unwrap_or(0);
        Some(Self {
            rows: order.iter().map(|index| places.rows[*index]).collect(),
            departures: order.iter().map(|index| departures[*index]).collect(),
            class: order.iter().map(class).collect(),
            tails,
            always: first.len(),
            corners: corners(&places.rows),
            kind,
            tolerance,
        })
    }

    /// The levels beyond which places are drawn, outermost first; none where all are drawn.
    fn levels(&self) -> Vec<Few<B>> {
        let mut levels: Vec<Few<B>> = Vec::new();
        let n = self.rows.len();
        for wanted in WANTED.into_iter().filter(|wanted| n > FEW && *wanted < n as f64 / 8.0) {
            let outside = levels.last().map_or((f64::INFINITY, f64::NEG_INFINITY), Few::levels);
            levels.push(Few::of(self, wanted, outside));
        }
        levels
    }

    /// One draw's width.
    fn width(&self, levels: &[Few<B>], draws: &mut Draws, hand: &mut Hand<B>) -> f64 {
        let Some(last) = levels.last() else {
            self.draw_all(draws, hand);
            let edges = self.edges(hand, None);
            return edges.high - edges.low;
        };
        hand.begin(self, draws);
        let tilt = self.free_tilt(draws);
        for level in levels {
            level.pick(self, draws, hand);
            let edges = self.edges(hand, tilt.as_ref());
            if level.holds(&edges, &self.corners) {
                return edges.high - edges.low;
            }
        }
        last.complete(self, draws, hand);
        let edges = self.edges(hand, tilt.as_ref());
        edges.high - edges.low
    }

    fn draw_all(&self, draws: &mut Draws, hand: &mut Hand<B>) {
        if hand.rows.len() != self.rows.len() {
            hand.rows.clone_from(&self.rows);
        }
        hand.heights.clear();
        let (mut bits, mut left) = (0, 0);
        for (departure, class) in self.departures.iter().zip(&self.class) {
            if left == 0 {
                (bits, left) = (draws.bits(), 4);
            }
            hand.heights.push(departure + self.tails[*class].cell(bits, draws));
            bits >>= 16;
            left -= 1;
        }
    }

    /// The tilt of a least-squares plane of many places, most of which are not drawn: normal, and as good
    /// as independent of the few that touch, whose share in it is one of many.
    fn free_tilt(&self, draws: &mut Draws) -> Option<[f64; B]> {
        let Kind::LeastSquares { factors, .. } = &self.kind else { return None };
        let mut tilt = [0.0; B];
        for factor in factors {
            let normal = draws.normal();
            for (sum, part) in tilt.iter_mut().zip(factor) {
                *sum += part * normal;
            }
        }
        Some(tilt)
    }

    fn edges(&self, hand: &Hand<B>, tilt: Option<&[f64; B]>) -> Edges<B> {
        match &self.kind {
            Kind::Zone(basis) => {
                let best = basis.to_owned().settle(&hand.rows, &hand.heights, self.tolerance);
                Edges { tilt: best.coefficients, high: best.half, low: -best.half }
            }
            Kind::Ends => {
                let (run, rise) = (hand.rows[1][1] - hand.rows[0][1], hand.heights[1] - hand.heights[0]);
                let mut tilt = [0.0; B];
                tilt[1] = rise / run;
                tilt[0] = hand.heights[0] - tilt[1] * hand.rows[0][1];
                beyond(hand, tilt)
            }
            Kind::LeastSquares { operator, .. } => beyond(
                hand,
                tilt.copied().unwrap_or_else(|| {
                    let mut tilt = [0.0; B];
                    for (weights, height) in operator.iter().zip(&hand.heights) {
                        for (sum, weight) in tilt.iter_mut().zip(weights) {
                            *sum += weight * height;
                        }
                    }
                    tilt
                }),
            ),
        }
    }
}

/// The highest and the lowest departure from a tilted reference.
fn beyond<const B: usize>(hand: &Hand<B>, tilt: [f64; B]) -> Edges<B> {
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    for (row, height) in hand.rows.iter().zip(&hand.heights) {
        let departure = height - height_at(row, &tilt);
        low = low.min(departure);
        high = high.max(departure);
    }
    Edges { tilt, high, low }
}

/// The corners of the box about places.
pub(super) fn corners<const B: usize>(rows: &[[f64; B]]) -> Vec<[f64; B]> {
    let mut corners = vec![{
        let mut one = [0.0; B];
        one[0] = 1.0;
        one
    }];
    for k in 1..B - 1 {
        let low = rows.iter().map(|row| row[k]).fold(f64::INFINITY, f64::min);
        let high = rows.iter().map(|row| row[k]).fold(f64::NEG_INFINITY, f64::max);
        corners = corners
            .iter()
            .flat_map(|corner| {
                [low, high].map(|edge| {
                    let mut one = *corner;
                    one[k] = edge;
                    one
                })
            })
            .collect();
    }
    corners
}

#[cfg(test)]
pub(super) mod tests_help {
    use super::*;

    /// Mean and standard deviation of widths drawn whole and drawn by a few.
    pub(in super::super) fn both_ways<const B: usize>(
        places: &Places<B>,
        heights: &[f64],
        against: Against,
        noise: &ReadingNoise,
        draws: usize,
    ) -> ((f64, f64), (f64, f64)) {
        let held = places.held(heights, against).expect("the places span it");
        let counts = vec![1; heights.len()];
        let plan = Plan::of(places, &held.heights, &counts, against, noise).expect("a plan");
        let few = plan.levels();
        assert_eq!(few.len(), WANTED.iter().filter(|wanted| **wanted < heights.len() as f64 / 8.0).count());
        let drawn = |few: &[Few<B>]| {
            let (mut source, mut hand) = (Draws::numbered(5, 1), Hand::default());
            let widths: Vec<f64> = (0..draws).map(|_| plan.width(few, &mut source, &mut hand)).collect();
            let sample = crate::analysis::statistics::sample(&widths);
            (sample.mean, sample.deviation)
        };
        (drawn(&[]), drawn(&few))
    }
}
