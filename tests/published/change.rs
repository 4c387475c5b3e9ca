//! Changes against scipy 1.17.1 and statsmodels 0.15.0 (`scripts/oracle_change.py` made
//! `data/scipy_change.json`).

use asfound::analysis::change::welch;
use asfound::analysis::statistics::{holm, interval, sample};
use asfound::analysis::student::{quantile, two_sided};
use serde_json::Value;

use crate::common::{close, published};

fn oracle() -> Value {
    serde_json::from_str(&published("scipy_change.json")).unwrap()
}

fn list(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(|v| v.as_f64().unwrap()).collect()
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap()
}

#[test]
fn welch_s_interval_is_scipy_s() {
    // scipy.stats.ttest_ind(equal_var=False).confidence_interval(), scipy 1.17.1.
    for (name, case) in oracle()["welch"].as_object().unwrap() {
        let found = welch(sample(&list(&case["before"])), sample(&list(&case["after"]))).unwrap();
        // Where means cancel, what is left of the digits is compared with the interval's width.
        let width = number(&case["high"]) - number(&case["low"]);
        for (value, wanted) in
            [(found.low, &case["low"]), (found.high, &case["high"]), (found.difference, &case["change"])]
        {
            assert!((value - number(wanted)).abs() < 1e-8 * width, "{name}: {value} is not {wanted}");
        }
        close(found.dof, number(&case["dof"]), 1e-7);
    }
}

#[test]
fn a_paired_interval_is_scipy_s() {
    // scipy.stats.ttest_rel(...).confidence_interval(), scipy 1.17.1.
    for (name, case) in oracle()["paired"].as_object().unwrap() {
        let differences: Vec<f64> = list(&case["after"])
            .iter()
            .zip(list(&case["before"]))
            .map(|(after, before)| after - before)
            .collect();
        let summed = sample(&differences);
        let n = differences.len() as f64;
        let standard = summed.deviation / n.sqrt();
        let found = interval(summed.mean, standard, n - 1.0);
        for (value, wanted) in [(found.low, &case["low"]), (found.high, &case["high"])] {
            assert!(
                (value - number(wanted)).abs() < 1e-9 * number(wanted).abs(),
                "{name}: {value} is not {wanted}"
            );
        }
        close(two_sided(summed.mean / standard, n - 1.0), number(&case["p"]), 1e-8);
    }
}

#[test]
fn readings_that_do_not_scatter_prove_nothing_by_themselves() {
    // scipy 1.17.1 returns t = inf, p = 0 and an interval of no width for [5, 5, 5] and [4, 4, 4];
    // a report must not.
    assert!(welch(sample(&[5.0, 5.0, 5.0]), sample(&[4.0, 4.0, 4.0])).is_none());
    assert!(welch(sample(&[5.0, 5.0]), sample(&[5.0, 5.0])).is_none());
    assert!(welch(sample(&[5.0]), sample(&[4.0, 4.1])).is_none());
}

#[test]
fn t_and_normal_points_keep_ten_digits() {
    // scipy.stats.t.ppf(0.975, ν) and norm.ppf, scipy 1.17.1.
    for (dof, wanted) in oracle()["t_0975"].as_object().unwrap() {
        close(quantile(0.975, dof.parse().unwrap()), number(wanted), 1e-10);
    }
    for (p, wanted) in oracle()["normal"].as_object().unwrap() {
        close(quantile(p.parse().unwrap(), f64::INFINITY), number(wanted), 1e-9);
    }
}

#[test]
fn holm_s_adjustment_is_statsmodels_s() {
    // statsmodels.stats.multitest.multipletests(method="holm"), statsmodels 0.15.0.
    for case in oracle()["holm"].as_array().unwrap() {
        for (found, wanted) in holm(&list(&case["p"])).iter().zip(list(&case["adjusted"])) {
            close(*found, wanted, 1e-12);
        }
    }
}
