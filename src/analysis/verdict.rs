//! A value held against a limit (JCGM 106:2012; ISO 14253-1:2017).

use super::student::{self, normal_cdf};
use crate::findings::{Expanded, LimitOn, Verdict};

/// `within` where the value and its expanded uncertainty are on the good side, `over` or `under`
/// where they are beyond it, else `too close to call`. A value whose uncertainty just reaches the
/// limit is within: JCGM 106 counts the limit itself as conforming. Unrounded numbers decide.
pub fn verdict(value: f64, expanded: f64, limit: &LimitOn) -> Verdict {
    of_interval(value - expanded, value + expanded, limit)
}

/// The same of an interval whose ends lie apart from the value unequally.
pub fn of_interval(low: f64, high: f64, limit: &LimitOn) -> Verdict {
    if limit.at_most.is_some_and(|most| low > most) {
        return Verdict::Over;
    }
    if limit.at_least.is_some_and(|least| high < least) {
        return Verdict::Under;
    }
    let keeps_most = limit.at_most.is_none_or(|most| high <= most);
    let keeps_least = limit.at_least.is_none_or(|least| low >= least);
    if keeps_most && keeps_least { Verdict::Within } else { Verdict::TooCloseToCall }
}

/// The probability that the true value keeps the limit, taken as normal about the value with its
/// standard uncertainty (JCGM 106:2012, 7.2).
pub fn conformance_probability(value: f64, standard: f64, limit: &LimitOn) -> f64 {
    let below = |bound: Option<f64>, open: f64| match bound {
        None => open,
        Some(bound) if standard > 0.0 => normal_cdf((bound - value) / standard),
        Some(bound) => f64::from(u8::from(value <= bound)),
    };
    (below(limit.at_most, 1.0) - below(limit.at_least, 0.0)).clamp(0.0, 1.0)
}

/// The same where the standard uncertainty has few degrees of freedom: Student's t in place of the
/// normal distribution (JCGM 101:2008, 6.4.9.4, scaled and shifted t).
pub fn keeps(value: f64, found: Expanded, limit: &LimitOn) -> f64 {
    if !found.dof.is_finite() || found.standard <= 0.0 {
        return conformance_probability(value, found.standard, limit);
    }
    let below = |bound: f64| {
        let t = (bound - value) / found.standard;
        let beyond = student::two_sided(t, found.dof) / 2.0;
        if t < 0.0 { beyond } else { 1.0 - beyond }
    };
    (limit.at_most.map_or(1.0, below) - limit.at_least.map_or(0.0, below)).clamp(0.0, 1.0)
}

/// Limit to expanded uncertainty: of a range, half its width. Below 4 the instrument is coarse for
/// the limit (4:1 is common practice).
pub fn test_uncertainty_ratio(expanded: f64, limit: &LimitOn) -> Option<f64> {
    let room = match (limit.at_least, limit.at_most) {
        (Some(low), Some(high)) => (high - low) / 2.0,
        (Some(bound), None) | (None, Some(bound)) => bound.abs(),
        (None, None) => return None,
    };
    (expanded > 0.0 && room > 0.0).then(|| room / expanded)
}
