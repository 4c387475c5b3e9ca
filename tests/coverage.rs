//! How often the stated intervals hold the truth, and how seldom verdicts are wrong: the studies of `examples/coverage`, as many
//! trials as a test has time for. The bounds are what chance allows of so many; the whole study is in DEVELOPERS.md.
#![allow(
    dead_code,
    missing_docs,
    clippy::pedantic,
    clippy::print_stderr,
    clippy::unwrap_used,
    clippy::panic,
    unreachable_pub
)]

#[path = "../examples/coverage/alignments.rs"]
mod alignments;
#[path = "../examples/coverage/engine.rs"]
mod engine;
#[path = "../examples/coverage/repeated.rs"]
mod repeated;
#[path = "../examples/coverage/running.rs"]
mod running;
#[path = "../examples/coverage/turning.rs"]
mod turning;
#[path = "../examples/coverage/verdicts.rs"]
mod verdicts;

use engine::{Study, wilson};

/// Standard deviations that chance is allowed: of a hundred rows one in a hundred runs would pass them.
const CHANCE: f64 = 3.9;

fn hold(studies: Vec<Study>, dear: bool) {
    for study in studies.into_iter().filter(|study| (study.cost > 4) == dear) {
        let outcome = study.run(if dear { 60 } else { 400 });
        for (row, count) in &outcome.counts {
            let (low, high) = count.interval(CHANCE);
            let told = format!("{}, {}: {:.1} of 100", study.name(), row.what, count.percent());
            assert!(count.trials > 0, "{told}: nothing was counted");
            assert!(high >= row.holds.0 && low <= row.holds.1, "{told}, where {:?} are to hold", row.holds);
        }
    }
}

#[test]
fn means_speeds_and_loads_hold_the_truth_as_often_as_they_say() {
    hold(repeated::studies(), false);
}

#[test]
fn temperatures_and_levels_hold_the_truth_as_often_as_they_say() {
    hold(running::studies(), false);
}

#[test]
fn leans_hold_the_truth_as_often_as_they_say() {
    hold(alignments::studies(), false);
}

#[test]
fn ranges_and_zones_hold_the_truth_as_often_as_they_say() {
    let dear =
        |studies: Vec<Study>| studies.into_iter().filter(|study| (5..=16).contains(&study.cost)).collect();
    hold(dear(turning::studies()), true);
    hold(dear(alignments::studies()), true);
}

#[test]
fn a_range_that_noise_alone_pushes_over_its_limit_is_not_called_over_it() {
    // Scatter of a quarter of the limit: without allowing for what it adds, three in ten were called over wrongly.
    let noisy = verdicts::verdicts().into_iter().find(|study| study.how.contains("scatter 6 µm")).unwrap();
    let outcome = noisy.run(80);
    for (_, count) in &outcome.counts {
        let (low, _) = wilson(count.wrongly_beyond, count.keeping, 3.0);
        assert!(count.keeping > 25 && low <= 2.5, "{} of {}", count.wrongly_beyond, count.keeping);
    }
}

#[test]
fn what_lies_at_its_limit_is_seldom_called_wrongly() {
    for study in verdicts::verdicts().into_iter().filter(|study| study.cost <= 2) {
        let outcome = study.run(500);
        for (_, count) in &outcome.counts {
            for (wrong, of) in [(count.wrongly_within, count.beyond), (count.wrongly_beyond, count.keeping)] {
                let (low, _) = wilson(wrong, of, CHANCE);
                assert!(of > 100 && low <= 2.5, "{}: {wrong} of {of} are wrong", study.name());
            }
        }
    }
}
