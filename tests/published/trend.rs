//! Trends against scipy 1.17.1, and dates against dateutil 4.0.0 (`scripts/oracle_trend.py` made `data/scipy_trend.json`).

use asfound::analysis::trend::{mann_kendall, trend};
use asfound::session::{Date, Lasts, days_between};
use serde_json::Value;

use crate::common::{close, published};

fn oracle() -> Value {
    serde_json::from_str(&published("scipy_trend.json")).unwrap()
}

fn list(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(|v| v.as_f64().unwrap()).collect()
}

#[test]
fn a_line_with_its_interval_is_scipy_s() {
    // scipy.stats.linregress: slope, intercept, and stderr times t.ppf(0.975, n - 2).
    for (name, case) in oracle()["cases"].as_object().unwrap() {
        let (days, values) = (list(&case["days"]), list(&case["values"]));
        let found = trend(&days, &values).unwrap_or_else(|| panic!("{name}: no trend"));
        // Where values are alike in their first digits, only the others are left for the slope.
        let digits = if name == "nearly_level" { 1e-6 } else { 1e-10 };
        close(found.line.slope, case["slope"].as_f64().unwrap(), digits);
        close(found.line.intercept, case["intercept"].as_f64().unwrap(), 1e-10);
        close(found.half, case["half"].as_f64().unwrap(), digits);
    }
}

#[test]
fn the_chance_of_a_direction_is_scipy_s() {
    // scipy.stats.kendalltau(method="exact"); else S and its variance as method="asymptotic" has it, ties and all, with a step of
    // one taken off for continuity.
    let (mut counted, mut approximated) = (0, 0);
    for (name, case) in oracle()["cases"].as_object().unwrap() {
        let found = mann_kendall(&list(&case["days"]), &list(&case["values"])).unwrap();
        assert_eq!(found.s, case["s"].as_i64().unwrap(), "{name}");
        if let Some(p) = case["p_counted"].as_f64() {
            assert!(found.exact, "{name}");
            close(found.p, p, 1e-12);
            counted += 1;
        } else {
            assert!(!found.exact, "{name}");
            close(found.p, case["p_continuous"].as_f64().unwrap(), 1e-8);
            approximated += 1;
        }
    }
    assert_eq!((counted, approximated), (5, 4));
}

/// The worked example of Mann and Kendall's test with ties: EPA QA/G-9S, Data Quality Assessment: Statistical Methods for
/// Practitioners (2006), p. 109, as a help page of a program for such data repeats it: 11 values, groups of 4 and of 2
/// alike, S = 22, variance 155.33, Z = 1.685. The two-sided chance of that Z is 2 × 0.045 999 13 (scipy 1.17.1:
/// norm.sf).
#[test]
fn a_published_example_with_ties_comes_out() {
    let values = [10.0, 10.0, 10.0, 5.0, 10.0, 20.0, 18.0, 17.0, 15.0, 24.0, 15.0];
    let months: Vec<f64> = (0..11).map(f64::from).collect();
    let found = mann_kendall(&months, &values).unwrap();
    assert_eq!((found.s, found.exact), (22, false));
    close(found.p, 2.0 * 0.045_999_13, 1e-6);
}

#[test]
fn ends_of_coverage_and_days_left_are_dateutil_s() {
    // datetime.date + dateutil.relativedelta.relativedelta, and the difference of two dates.
    let rows = oracle()["calendar"].clone();
    let rows = rows.as_array().unwrap();
    assert_eq!(rows.len(), 72);
    for row in rows {
        let date = |index: usize| row[index].as_str().unwrap().parse::<Date>().unwrap();
        let until = Lasts::parse(row[1].as_str().unwrap()).unwrap().ends(date(0)).unwrap();
        assert_eq!(until, date(2), "{row}");
        assert_eq!(days_between(date(3), until), row[4].as_i64().unwrap(), "{row}");
    }
}
