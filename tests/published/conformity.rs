//! Decisions against a limit: JCGM 106:2012 and ISO 14253-1.

use asfound::analysis::verdict::{conformance_probability, keeps, test_uncertainty_ratio, verdict};
use asfound::findings::{Expanded, LimitOn, Verdict};
use serde_json::Value;

use crate::common::published;

fn limit(low: Option<f64>, high: Option<f64>) -> LimitOn {
    LimitOn { at_least: low, at_most: high, source: None, typed: None }
}

#[test]
fn the_probability_of_conformity_is_that_of_jcgm_106() {
    // p = Φ((TU − y)/u) − Φ((TL − y)/u), JCGM 106:2012, 7.2; values by scipy 1.17.1.
    let oracle: Value = serde_json::from_str(&published("scipy_change.json")).unwrap();
    for case in oracle["conformity"].as_array().unwrap() {
        let number = |key: &str| case[key].as_f64();
        let limit = limit(number("low"), number("high"));
        let found = conformance_probability(number("y").unwrap(), number("u").unwrap(), &limit);
        let wanted = number("p").unwrap();
        assert!((found - wanted).abs() < 1e-9, "{found} is not {wanted}");
    }
}

#[test]
fn few_degrees_of_freedom_leave_more_room_for_both_sides() {
    // Closed forms of Student's t: one degree of freedom is Cauchy's, 1/2 + atan(t)/π; two,
    // 1/2 + t/(2√(2 + t²)) (Abramowitz and Stegun, 26.7.3 and 26.7.4).
    let found = |dof: f64| Expanded { standard: 0.5, dof, k: 1.0, expanded: 0.5 };
    let most = limit(None, Some(1.0));
    for t in [-3.0f64, -1.0, 0.0, 0.4, 2.0] {
        let value = 1.0 - 0.5 * t;
        let one = 0.5 + t.atan() / std::f64::consts::PI;
        assert!((keeps(value, found(1.0), &most) - one).abs() < 1e-12);
        let two = 0.5 + t / (2.0 * (2.0 + t * t).sqrt());
        assert!((keeps(value, found(2.0), &most) - two).abs() < 1e-12);
        let normal = conformance_probability(value, 0.5, &most);
        assert_eq!(keeps(value, found(f64::INFINITY), &most), normal);
    }
    let range = limit(Some(0.5), Some(1.5));
    assert!((keeps(1.0, found(1.0), &range) - 0.5).abs() < 1e-12);
}

#[test]
fn a_value_is_called_only_where_its_uncertainty_leaves_no_doubt() {
    let one = limit(None, Some(1.0));
    assert_eq!(verdict(0.5, 0.4, &one), Verdict::Within);
    assert_eq!(verdict(0.75, 0.25, &one), Verdict::Within); // just reaches it: JCGM 106, 3.3.2
    assert_eq!(verdict(0.7, 0.4, &one), Verdict::TooCloseToCall);
    assert_eq!(verdict(1.3, 0.4, &one), Verdict::TooCloseToCall);
    assert_eq!(verdict(1.5, 0.4, &one), Verdict::Over);
    let fifteen = limit(Some(15.0), None);
    assert_eq!(verdict(16.0, 0.5, &fifteen), Verdict::Within);
    assert_eq!(verdict(14.8, 0.5, &fifteen), Verdict::TooCloseToCall);
    assert_eq!(verdict(14.0, 0.5, &fifteen), Verdict::Under);
    let range = limit(Some(0.35), Some(0.55));
    assert_eq!(verdict(0.45, 0.02, &range), Verdict::Within);
    assert_eq!(verdict(0.36, 0.02, &range), Verdict::TooCloseToCall);
    assert_eq!(verdict(0.60, 0.02, &range), Verdict::Over);
    assert_eq!(verdict(0.30, 0.02, &range), Verdict::Under);
}

#[test]
fn at_the_limit_itself_the_odds_are_even_and_a_guard_of_u_leaves_2_in_100() {
    // Risk of a false acceptance at the acceptance limit TU − U with U = 2u:
    // 0.022750131948179195; with no guard band 0.5 (JCGM 106; ILAC-G8:09/2019).
    let one = limit(None, Some(1.0));
    assert!((conformance_probability(1.0, 0.1, &one) - 0.5).abs() < 1e-12);
    let risk = 1.0 - conformance_probability(0.8, 0.1, &one);
    assert!((risk - 0.022_750_131_948_179_195).abs() < 1e-10);
}

#[test]
fn an_instrument_is_coarse_below_4_to_1() {
    // 4:1 is common practice.
    assert_eq!(test_uncertainty_ratio(0.5, &limit(None, Some(1.0))), Some(2.0));
    assert_eq!(test_uncertainty_ratio(0.02, &limit(Some(0.35), Some(0.55))).map(f64::round), Some(5.0));
    assert_eq!(test_uncertainty_ratio(0.0, &limit(None, Some(1.0))), None);
}
