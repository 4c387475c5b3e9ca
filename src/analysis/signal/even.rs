//! Unevenly sampled channels brought to an even grid, in one pass.
//!
//! Between two samples the cubic through the four nearest is taken (Lagrange's formula, uneven
//! stations). For a sine of frequency f in samples that are nearly even, rate r, its error is at most
//! 9/384·(2πf/r)⁴ of the amplitude: 0.4 % at a tenth of the rate, 6 % at a fifth.

/// A longer interval is no interval but a gap.
const MOST_STEPS: f64 = 64.0;

/// The largest share of a sine's amplitude by which the grid is wrong, at f over the rate.
pub fn largest_error(share_of_rate: f64) -> f64 {
    9.0 / 384.0 * (std::f64::consts::TAU * share_of_rate).powi(4)
}

/// Puts channels on an even grid.
#[derive(Clone, Debug)]
pub struct Even {
    step: f64,
    /// The next place of the grid, as a number of steps from `origin`.
    next: u64,
    origin: f64,
    /// The last samples of this stretch: the time, and where their values are in `values`.
    times: Vec<f64>,
    values: Vec<Vec<f64>>,
}

impl Even {
    /// For so many channels, a grid of `rate` a second.
    pub fn new(channels: usize, rate: f64) -> Self {
        Self { step: 1.0 / rate, next: 0, origin: 0.0, times: Vec::new(), values: vec![Vec::new(); channels] }
    }

    /// Begins a new stretch: what comes does not go on from what was.
    pub fn fresh(&mut self) {
        self.times.clear();
        self.values.iter_mut().for_each(Vec::clear);
        self.next = 0;
    }

    /// Takes in samples with their times and adds what falls on the grid to `out`, channel by channel.
    /// A sample no later than the one before it is passed over.
    pub fn hear(&mut self, seconds: &[f64], channels: &[&[f64]], out: &mut [Vec<f64>]) {
        for (index, time) in seconds.iter().enumerate() {
            if self.times.last().is_some_and(|last| time <= last) || !time.is_finite() {
                continue;
            }
            // A reader calls gaps fresh; one that does not must not make the grid endless.
            if self.times.last().is_some_and(|last| time - last > MOST_STEPS * self.step) {
                self.fresh();
            }
            if self.times.is_empty() {
                self.origin = *time;
            }
            self.times.push(*time);
            for (own, channel) in self.values.iter_mut().zip(channels) {
                own.push(channel.get(index).copied().unwrap_or(f64::NAN));
            }
            if self.times.len() >= 4 {
                self.give(out);
            }
        }
    }

    /// The places of the grid up to the third of the last four samples; then the first is let go.
    fn give(&mut self, out: &mut [Vec<f64>]) {
        let [t0, t1, t2, t3] = self.times[..] else { return };
        loop {
            let at = self.origin + self.next as f64 * self.step;
            if at > t2 {
                break;
            }
            let weight = |own: f64, a: f64, b: f64, c: f64| {
                (at - a) * (at - b) * (at - c) / ((own - a) * (own - b) * (own - c))
            };
            let weights = [
                weight(t0, t1, t2, t3),
                weight(t1, t0, t2, t3),
                weight(t2, t0, t1, t3),
                weight(t3, t0, t1, t2),
            ];
            for (own, out) in self.values.iter().zip(out.iter_mut()) {
                out.push(own.iter().zip(weights).map(|(value, weight)| value * weight).sum());
            }
            self.next += 1;
        }
        self.times.remove(0);
        for own in &mut self.values {
            own.remove(0);
        }
    }
}

#[cfg(test)]
mod tests {
    use std::f64::consts::TAU;

    use proptest::prelude::*;

    use super::*;

    #[test]
    fn a_cubic_is_met_exactly_and_a_repeated_time_is_passed_over() {
        let cubic = |t: f64| 2.0 * t * t * t - t * t + 3.0;
        let times = [0.0, 0.9, 2.2, 2.2, 3.0, 4.1, 4.9, 6.2];
        let values: Vec<f64> = times.iter().map(|t| cubic(*t)).collect();
        let mut out = vec![Vec::new()];
        Even::new(1, 2.0).hear(&times, &[&values], &mut out);
        assert_eq!(out[0].len(), 10, "every half second up to the last sample but one");
        for (index, value) in out[0].iter().enumerate() {
            let wanted = cubic(index as f64 / 2.0);
            assert!((value - wanted).abs() < 1e-9, "{value} is not {wanted}");
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(32))]
        #[test]
        fn a_sine_in_uneven_samples_is_met_within_the_bound(
            share in 0.01..0.25f64, wobble in proptest::collection::vec(-0.05..0.05f64, 300), phase in 0.0..TAU,
        ) {
            // Jitter widens the largest interval by a tenth: the bound is that of the slower rate.
            let times: Vec<f64> = wobble.iter().enumerate().map(|(i, w)| i as f64 + w).collect();
            let sine = |t: f64| (TAU * share * t + phase).sin();
            let values: Vec<f64> = times.iter().map(|t| sine(*t)).collect();
            let mut out = vec![Vec::new()];
            Even::new(1, 1.0).hear(&times, &[&values], &mut out);
            // The very first interval lies at the cubic's end, where it is less true.
            for (index, value) in out[0].iter().enumerate().skip(2) {
                let off = value - sine(times[0] + index as f64);
                prop_assert!(off.abs() <= largest_error(share * 1.15) + 1e-9, "{off} at {share}");
            }
        }
    }
}
