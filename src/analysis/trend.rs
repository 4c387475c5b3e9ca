//! Whether a number drifts with time: a straight line by least squares, Mann and Kendall's test for its direction, and when
//! the line would reach a limit if it went on.
//!
//! The line's interval is that of ordinary regression (JCGM 100:2008, H.3; `NIST StRD`, Norris), from the scatter of the
//! values about it. The test asks nothing of the shape of the scatter (H. B. Mann, Econometrica 13, 1945, 245–259;
//! M. G. Kendall, Rank Correlation Methods, 1948).

use super::straight_line::{self, Line};
use super::student;
use crate::findings::LimitOn;

/// Fewer values than this show no trend: four in order come by chance in one of twelve.
pub const FEWEST: usize = 5;
/// Up to so many values without ties the chance is counted out.
const MOST_COUNTED: usize = 10;
/// A chance below this is taken as shown.
const SHOWN_BELOW: f64 = 0.05;

/// Mann and Kendall's test.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MannKendall {
    /// Pairs that rise less pairs that fall.
    pub s: i64,
    /// The probability of an S at least as far from zero where there is no trend, both ways.
    pub p: f64,
    /// Whether every order was counted; else the normal distribution stands in.
    pub exact: bool,
}

impl MannKendall {
    /// The way that it shows.
    pub fn way(&self) -> Option<Way> {
        let way = if self.s > 0 { Way::Rises } else { Way::Falls };
        (self.p < SHOWN_BELOW && self.s != 0).then_some(way)
    }
}

/// A trend.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Trend {
    /// The line by least squares, x in days.
    pub line: Line,
    /// Half of the slope's 95 % interval, a day.
    pub half: f64,
    /// The test for its direction.
    pub test: MannKendall,
}

/// Which way a number goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// Up.
    Rises,
    /// Down.
    Falls,
}

/// When a line would reach a limit, counted in days as the line is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reach {
    /// With the steepest slope of the interval.
    pub earliest: f64,
    /// With the slope itself.
    pub likely: f64,
    /// With the least steep slope of the interval.
    pub latest: f64,
}

/// The trend of values over days. `None` of fewer than [`FEWEST`], or where all are of one day.
pub fn trend(days: &[f64], values: &[f64]) -> Option<Trend> {
    if days.len().min(values.len()) < FEWEST {
        return None;
    }
    let line = straight_line::fit(days, values)?;
    let half = student::quantile(0.975, line.dof()) * line.slope_standard();
    let test = mann_kendall(days, values)?;
    half.is_finite().then_some(Trend { line, half, test })
}

impl Trend {
    /// The way that the line goes, where its interval leaves out zero.
    pub fn way(&self) -> Option<Way> {
        let clear = self.line.slope.abs() > self.half && self.line.slope != 0.0;
        let way = if self.line.slope > 0.0 { Way::Rises } else { Way::Falls };
        clear.then_some(way)
    }

    /// When the line would reach the limit that it goes towards, if it went on: turned about its middle by the interval of its
    /// slope, and not before `last`, the day of the last value. `None` where the slope's interval holds zero, where there is
    /// no limit that way, or where the line is beyond it on that day.
    pub fn reaches(&self, limit: &LimitOn, last: f64) -> Option<Reach> {
        let bound = match self.way()? {
            Way::Rises => limit.at_most?,
            Way::Falls => limit.at_least?,
        };
        let at = |slope: f64| self.line.middle + (bound - self.line.at(self.line.middle)) / slope;
        let away = self.half * self.line.slope.signum();
        let (likely, steep, slight) =
            (at(self.line.slope), at(self.line.slope + away), at(self.line.slope - away));
        (likely > last).then(|| Reach { earliest: steep.max(last), likely, latest: slight.max(last) })
    }
}

/// The test. `None` of fewer than three values, or where all values or all days are alike. Pairs of one day count for neither
/// side; up to ten values without ties the chance is counted over every order, else it is taken from the normal distribution with
/// the ties in its variance (Kendall 1948, in days and values alike) and a step of one taken off for continuity.
pub fn mann_kendall(days: &[f64], values: &[f64]) -> Option<MannKendall> {
    let n = days.len().min(values.len());
    let (days, values) = (days.get(..n)?, values.get(..n)?);
    let mut s = 0_i64;
    for later in 0..n {
        for earlier in 0..later {
            s += sign(days[later] - days[earlier]) * sign(values[later] - values[earlier]);
        }
    }
    let (of_days, of_values) = (Ties::of(days), Ties::of(values));
    let exact = n <= MOST_COUNTED && of_days.none() && of_values.none();
    let variance = variance(n as f64, &of_days, &of_values);
    if n < 3 || variance.is_nan() || variance <= 0.0 {
        return None;
    }
    let p = if exact { counted(n, s) } else { approximated(s, variance) };
    Some(MannKendall { s, p, exact })
}

fn sign(difference: f64) -> i64 {
    if difference > 0.0 {
        1
    } else if difference < 0.0 {
        -1
    } else {
        0
    }
}

/// Sums over groups of t values alike.
struct Ties {
    /// Σ t(t − 1).
    pairs: f64,
    /// Σ t(t − 1)(t − 2).
    triples: f64,
    /// Σ t(t − 1)(2t + 5).
    spread: f64,
}

impl Ties {
    fn of(values: &[f64]) -> Self {
        let mut sorted = values.to_vec();
        sorted.sort_by(f64::total_cmp);
        let (mut pairs, mut triples, mut spread) = (0.0, 0.0, 0.0);
        // Zero and minus zero are one value, though `total_cmp` parts them.
        for group in sorted.chunk_by(|a, b| sign(a - b) == 0) {
            let t = group.len() as f64;
            pairs += t * (t - 1.0);
            triples += t * (t - 1.0) * (t - 2.0);
            spread += t * (t - 1.0) * (2.0 * t + 5.0);
        }
        Self { pairs, triples, spread }
    }

    fn none(&self) -> bool {
        self.pairs == 0.0
    }
}

/// The variance of S without a trend (Kendall 1948, with ties in both).
fn variance(n: f64, days: &Ties, values: &Ties) -> f64 {
    let pairs = n * (n - 1.0);
    (pairs * (2.0 * n + 5.0) - days.spread - values.spread) / 18.0
        + days.pairs * values.pairs / (2.0 * pairs)
        + days.triples * values.triples / (9.0 * pairs * (n - 2.0))
}

fn approximated(s: i64, variance: f64) -> f64 {
    let size = (s.unsigned_abs() as f64 - 1.0).max(0.0);
    student::two_sided(size / variance.sqrt(), f64::INFINITY).min(1.0)
}

/// The share of all n! orders whose S is at least as far from zero.
fn counted(n: usize, s: i64) -> f64 {
    // How many orders of the first so many values have so many pairs that fall.
    let mut orders = vec![1.0_f64];
    for values in 2..=n {
        let mut next = vec![0.0; orders.len() + values - 1];
        for (falls, count) in orders.iter().enumerate() {
            for more in 0..values {
                next[falls + more] += count;
            }
        }
        orders = next;
    }
    let pairs = i64::try_from(n * (n - 1) / 2).unwrap_or(i64::MAX);
    let far = |falls: usize| (pairs - 2 * i64::try_from(falls).unwrap_or(i64::MAX)).abs() >= s.abs();
    let all: f64 = orders.iter().sum();
    orders.iter().enumerate().filter(|(falls, _)| far(*falls)).map(|(_, count)| count).sum::<f64>() / all
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Of the 5! = 120 orders one rises throughout and one falls throughout (counted by hand: 2/120).
    #[test]
    fn five_in_order_come_by_chance_twice_in_120() {
        let days = [0.0, 1.0, 2.0, 3.0, 4.0];
        let test = mann_kendall(&days, &[1.0, 2.0, 3.0, 5.0, 8.0]).expect("a test");
        assert_eq!((test.s, test.exact), (10, true));
        assert!((test.p - 2.0 / 120.0).abs() < 1e-15);
    }

    #[test]
    fn values_all_alike_or_all_of_one_day_show_nothing() {
        let days = [0.0, 1.0, 2.0, 3.0, 4.0];
        assert_eq!(mann_kendall(&days, &[2.0; 5]), None);
        assert_eq!(trend(&days, &[2.0; 5]), None);
        assert_eq!(trend(&[7.0; 5], &days), None);
        assert_eq!(trend(&days[..4], &days[..4]), None);
    }

    fn at_most(most: f64) -> LimitOn {
        LimitOn { at_least: None, at_most: Some(most), source: None, typed: None }
    }

    /// The line through (1, 1.02), (2, 1.98), (3, 3.01), (4, 4.02), (5, 4.97) has slope 0.994 about (3, 3) by hand: 10 is
    /// reached at 3 + 7/0.994 = 10.04.
    #[test]
    fn a_limit_is_reached_where_the_line_meets_it_and_the_interval_holds_that_day() {
        let trend = trend(&[1.0, 2.0, 3.0, 4.0, 5.0], &[1.02, 1.98, 3.01, 4.02, 4.97]).expect("a trend");
        let reach = trend.reaches(&at_most(10.0), 5.0).expect("it is reached");
        assert!((reach.likely - (3.0 + 7.0 / 0.994)).abs() < 1e-9, "{reach:?}");
        assert!(reach.earliest < reach.likely && reach.likely < reach.latest);
        assert_eq!(trend.reaches(&at_most(4.5), 5.0), None, "it is beyond already");
        let low = LimitOn { at_least: Some(0.0), at_most: None, source: None, typed: None };
        assert_eq!(trend.reaches(&low, 5.0), None, "it goes the other way");
    }

    #[test]
    fn where_the_slope_may_be_zero_no_day_is_given() {
        let trend = trend(&[1.0, 2.0, 3.0, 4.0, 5.0], &[1.0, 3.0, 0.5, 2.5, 1.5]).expect("a trend");
        assert_eq!(trend.way(), None);
        assert_eq!(trend.reaches(&at_most(10.0), 5.0), None);
    }
}
