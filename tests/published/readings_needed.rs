//! How many readings could show a change, against scipy 1.17.1 and statsmodels 0.15.0
//! (`scripts/oracle_readings_needed.py` made `data/scipy_readings_needed.json`) and the closed form for a
//! known spread (NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.2.2, for two samples).

use asfound::analysis::change::Judge;
use asfound::analysis::finding;
use asfound::analysis::readings_needed::{Answer, half_width, least_half_width, readings_needed};
use asfound::analysis::uncertainty::{Repeatability, combine, repeatability_line};
use asfound::findings::{Budget, Component};
use asfound::quantity::{Kind, Unit};
use serde_json::Value;

use crate::common::{close, published};

fn oracle() -> Value {
    serde_json::from_str(&published("scipy_readings_needed.json")).unwrap()
}

/// The mean of `had` readings with a spread of 1, and nothing of an instrument.
fn seen(had: usize) -> Budget {
    let n = had as f64;
    let spread = Repeatability { deviation: 1.0, dof: n - 1.0 };
    combine(vec![repeatability_line("Scatter of the readings", spread, 1.0 / n.sqrt())])
}

fn smallest(answer: Answer) -> usize {
    match answer {
        Answer::Enough { n, .. } => n,
        other => panic!("{other:?}"),
    }
}

#[test]
fn the_half_width_of_a_change_is_scipy_s() {
    for (n, wanted) in oracle()["half_width"].as_object().unwrap() {
        // However many readings showed the spread.
        for had in [2, 4, 9] {
            close(half_width(&seen(had), had, n.parse().unwrap()).unwrap(), wanted.as_f64().unwrap(), 1e-9);
        }
    }
}

#[test]
fn the_smallest_number_for_a_spread_that_was_seen_is_scipy_s() {
    for case in oracle()["seen"].as_array().unwrap() {
        let matters = case["matters"].as_f64().unwrap();
        let wanted = case["n"].as_u64().unwrap() as usize;
        assert_eq!(smallest(readings_needed(&seen(5), 5, matters)), wanted, "{matters}");
    }
}

/// A spread from so many repeat readings that it is as good as known.
#[test]
fn the_smallest_number_for_a_known_spread_is_the_closed_form_s() {
    for case in oracle()["known"].as_array().unwrap() {
        let matters = case["matters"].as_f64().unwrap();
        let known = Repeatability { deviation: 1.0, dof: 1e12 };
        let budget = combine(vec![repeatability_line("Repeatability of the instrument", known, 1.0)]);
        let wanted = case["n"].as_u64().unwrap() as usize;
        assert_eq!(smallest(readings_needed(&budget, 1, matters)), wanted, "{matters}");
    }
}

/// A step of 1 is a standard uncertainty of 1/√12 at each visit (JCGM 100, F.2.2.1): of their difference
/// √2/√12, and 1.959 963 985 times that is ± 0.800 151 946.
#[test]
fn what_a_step_leaves_no_number_of_readings_passes() {
    let mut lines = seen(6).components;
    lines.push(Component {
        name: "Display step".to_owned(),
        divisor: 12f64.sqrt(),
        contribution: 1.0 / 12f64.sqrt(),
        ..Component::half_width("", 1.0)
    });
    let budget = combine(lines);
    close(least_half_width(&budget, 6), 0.800_151_946, 1e-8);
    assert!(matches!(readings_needed(&budget, 6, 0.79), Answer::Never { .. }));
    let needed = smallest(readings_needed(&budget, 6, 0.9));
    assert!(half_width(&budget, 6, needed).unwrap() <= 0.9);
    assert!(half_width(&budget, 6, needed - 1).unwrap() > 0.9);
}

/// What a number of readings leaves is what the change of two such visits will be given: not another rule.
#[test]
fn two_visits_alike_get_the_half_width_that_was_promised() {
    let unit = Unit::known(Kind::Length, "mm").unwrap();
    let repeats = Repeatability { deviation: 0.3, dof: 5.0 };
    let bound = Component::half_width("Accuracy stated for the instrument", 0.4);
    let own = seen(4).components;
    let of_instrument = vec![repeatability_line("Repeatability of the instrument", repeats, 0.15)];
    for lines in [own, of_instrument] {
        let budget = combine(lines.into_iter().chain([bound.clone()]).collect());
        let visit = finding("", "mean", unit, Some(1.0), budget.clone());
        let judge =
            Judge { check: String::new(), better: None, matters: None, target: 0.0, one_instrument: true };
        let change = judge.single(&visit, &visit).unwrap();
        close(half_width(&budget, 4, 4).unwrap(), (change.high - change.low) / 2.0, 1e-12);
    }
}
