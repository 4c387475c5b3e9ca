//! What must hold of every session, whatever was typed or read: properties, and the mistakes that a
//! review found (ignored, with the reason, until they are mended).
#![allow(
    clippy::pedantic,
    missing_docs,
    clippy::unwrap_used,
    clippy::panic,
    clippy::float_cmp,
    unreachable_pub
)]

mod common;

#[path = "properties/narration.rs"]
mod narration;
#[path = "properties/whole.rs"]
mod whole;

use std::fs;
use std::path::Path;
use std::sync::mpsc;
use std::time::Duration;

use asfound::analysis::student;
use asfound::findings::{Findings, Verdict};
use asfound::quantity::{parse_clock, parse_number, parse_quantity};
use common::{Made, asfound, close, found, run_out_session};
use proptest::prelude::*;

fn inspected(folder: &Path) -> (u8, String, String) {
    asfound(&["inspect", &folder.display().to_string()])
}

/// A session.yaml that is right, to be spoiled.
const GOOD: &str = "title: Prüfung\nunits: metric\nmachines: {m: {name: M}}\n\
    instruments: {i: {name: I, resolution: 1 µm, accuracy: [2 µm, 1 %]}}\n\
    checks:\n  c: {measure: run-out, direction: radial, instrument: i, unit: µm, limit: {at_most: 5 µm}}\n";
const VISIT: &str = "state: baseline\ndate: 2026-03-02\ntime: \"14:30\"\nconditions: {ambient: 20 °C}\n\
    readings:\n  c: {closes: true, turns: [[0, 1, 2, {struck: 9, because: x}, 1, 0]]}\n";

/// Reading must end, must not panic, and must not steer the terminal.
fn survives(session: &[u8], visit: &[u8]) {
    let made = Made::new("", &[("v", "")]);
    fs::write(made.folder.path().join("session.yaml"), session).unwrap();
    fs::write(made.folder.path().join("visits/v/visit.yaml"), visit).unwrap();
    let (code, out, err) = inspected(made.folder.path());
    assert!(code <= 1);
    assert_eq!(code == 1, err.contains(" in "), "an exit code and its messages differ: {err}");
    let steers = |c: char| c.is_control() && !matches!(c, '\n' | '\t');
    assert!(!out.contains(steers) && !err.contains(steers), "{out:?} {err:?}");
}

/// Pieces that a careless or malicious hand might put into YAML.
fn piece() -> impl Strategy<Value = String> {
    prop_oneof![
        "[ \\t\\n\\r{}\\[\\]:,&*!|>'\"#%@?-]{1,6}",
        "\\PC{0,4}",
        any::<char>().prop_map(String::from),
        Just("\u{feff}".to_owned()),
        Just("\r\n".to_owned()),
        Just(".nan".to_owned()),
        Just("1e999".to_owned()),
        Just("-0".to_owned()),
        Just("\u{1b}[2J".to_owned()),
        Just("&a [*a]".to_owned()),
        Just("{struck: 1}".to_owned()),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 96, ..ProptestConfig::default() })]

    #[test]
    fn any_bytes_as_yaml_never_panic(session in prop::collection::vec(any::<u8>(), 0..300)) {
        survives(&session, VISIT.as_bytes());
        survives(GOOD.as_bytes(), &session);
    }

    #[test]
    fn a_good_session_spoiled_anywhere_never_panics(
        at in any::<prop::sample::Index>(), cut in 0usize..6, what in piece(), in_visit in any::<bool>(),
    ) {
        let text = if in_visit { VISIT } else { GOOD };
        let mut bytes = text.as_bytes().to_vec();
        let at = at.index(bytes.len());
        let end = (at + cut).min(bytes.len());
        bytes.splice(at..end, what.bytes());
        if in_visit {
            survives(GOOD.as_bytes(), &bytes);
        } else {
            survives(&bytes, VISIT.as_bytes());
        }
    }
}

proptest! {
    #[test]
    fn no_text_makes_the_quantity_reader_panic(text in "\\PC*") {
        let _ = (parse_number(&text), parse_quantity(&text, &[], None), parse_clock(&text));
    }

    #[test]
    fn a_number_that_is_read_is_finite(text in "[-+0-9.eE−]{1,30}") {
        if let Ok(number) = parse_number(&text) {
            prop_assert!(number.is_finite());
        }
    }

    #[test]
    fn a_decimal_number_with_a_unit_is_read_as_it_was_typed(number in -1e6f64..1e6, places in 0usize..8) {
        let text = format!("{number:.places$}");
        let read = parse_quantity(&format!("{text} mm"), &[], None).unwrap();
        prop_assert_eq!(read.value(), text.parse::<f64>().unwrap());
    }
}

/// value, U and floor of each size that run-out gives.
fn sizes(findings: &Findings) -> Vec<(&'static str, f64, f64, f64)> {
    ["tir", "once_per_turn", "twice_per_turn"]
        .into_iter()
        .map(|what| {
            let one = found(findings, "c", "v", "", what);
            (what, one.value.unwrap(), one.expanded().unwrap().expanded, one.floor.unwrap())
        })
        .collect()
}

/// Three turns of eight readings in whole steps of 1 µm.
fn three_turns() -> impl Strategy<Value = Vec<Vec<f64>>> {
    prop::collection::vec(prop::collection::vec((-20i32..20).prop_map(f64::from), 8), 3)
}

const REPEATS: &str = ", accuracy: 1 µm, repeat_readings: [0, 1, 0, 1, 1], repeat_unit: µm";

proptest! {
    #![proptest_config(ProptestConfig { cases: 12, ..ProptestConfig::default() })]

    #[test]
    fn a_constant_added_to_all_readings_changes_nothing(turns in three_turns(), constant in -500i32..500) {
        let moved: Vec<Vec<f64>> =
            turns.iter().map(|turn| turn.iter().map(|r| r + f64::from(constant)).collect()).collect();
        let (_, here) = run_out_session("1 µm", REPEATS, &turns).analysed();
        let (_, there) = run_out_session("1 µm", REPEATS, &moved).analysed();
        for (a, b) in sizes(&here).into_iter().zip(sizes(&there)) {
            prop_assert!((a.1 - b.1).abs() < 1e-9, "{a:?} {b:?}");
            // The draws are those of the readings' shape.
            prop_assert!((a.2 - b.2).abs() < 1e-6 * a.2 && (a.3 - b.3).abs() < 1e-6 * a.3, "{a:?} {b:?}");
        }
    }

    #[test]
    fn readings_turned_over_give_the_same_sizes(turns in three_turns()) {
        let over: Vec<Vec<f64>> = turns.iter().map(|turn| turn.iter().map(|r| -r).collect()).collect();
        let (_, here) = run_out_session("1 µm", REPEATS, &turns).analysed();
        let (_, there) = run_out_session("1 µm", REPEATS, &over).analysed();
        for (a, b) in sizes(&here).into_iter().zip(sizes(&there)) {
            prop_assert!((a.1 - b.1).abs() < 1e-9 && (a.2 - b.2).abs() < 0.05 * a.2, "{a:?} {b:?}");
        }
    }

    #[test]
    fn readings_and_instrument_in_a_unit_ten_times_smaller_give_numbers_ten_times_larger(turns in three_turns()) {
        let (_, here) = run_out_session("1 µm", REPEATS, &turns).analysed();
        let larger: Vec<Vec<f64>> = turns.iter().map(|t| t.iter().map(|r| r * 10.0).collect()).collect();
        let repeats = ", accuracy: 10 µm, repeat_readings: [0, 10, 0, 10, 10], repeat_unit: µm";
        let (_, there) = run_out_session("10 µm", repeats, &larger).analysed();
        for (a, b) in sizes(&here).into_iter().zip(sizes(&there)) {
            prop_assert!((10.0 * a.1 - b.1).abs() < 1e-8, "{a:?} {b:?}");
            prop_assert!((10.0 * a.2 - b.2).abs() < 0.05 * b.2, "{a:?} {b:?}");
        }
    }

    #[test]
    fn the_index_mark_moved_by_a_step_turns_the_high_spot_and_leaves_the_sizes(turns in three_turns()) {
        let turned: Vec<Vec<f64>> = turns
            .iter()
            .map(|turn| { let mut turn = turn.clone(); turn.rotate_left(1); turn })
            .collect();
        let (_, here) = run_out_session("1 µm", REPEATS, &turns).analysed();
        let (_, there) = run_out_session("1 µm", REPEATS, &turned).analysed();
        for (a, b) in sizes(&here).into_iter().zip(sizes(&there)) {
            prop_assert!((a.1 - b.1).abs() < 1e-9, "{a:?} {b:?}");
        }
    }
}

// What the review found. Each states what is right; take `ignore` off when it is mended.

/// Runs work that might never end.
fn within_seconds<T: Send + 'static>(seconds: u64, work: impl FnOnce() -> T + Send + 'static) -> Option<T> {
    let (send, receive) = mpsc::channel();
    std::thread::spawn(move || send.send(work()));
    receive.recv_timeout(Duration::from_secs(seconds)).ok()
}

#[test]
fn the_quantile_of_t_ends_for_any_degrees_of_freedom() {
    // scipy.stats.t.ppf(0.975, dof), scipy 1.17.1.
    for (dof, wanted) in
        [(1e5, 1.959_987_707_534_61), (1e7, 1.959_964_221_767_205), (1e8, 1.959_964_008_262_766)]
    {
        let found = within_seconds(2, move || student::quantile(0.975, dof));
        close(found.expect("it did not end"), wanted, 1e-9);
    }
}

fn quantity(instrument: &str, check: &str, before: &str, after: &str) -> Made {
    let instruments = if instrument.is_empty() {
        String::new()
    } else {
        format!("instruments: {{i: {{name: I, {instrument}}}}}\n")
    };
    let named = if instrument.is_empty() { "" } else { ", instrument: i" };
    let session = format!(
        "title: T\nunits: metric\nmachines: {{m: {{name: M}}}}\n{instruments}checks: {{c: {{measure: quantity{named}, {check}}}}}\n"
    );
    let visit = |state: &str, day: u8, readings: &str| {
        format!("state: {state}\ndate: 2026-03-0{day}\nreadings: {{c: {{readings: {readings}}}}}\n")
    };
    Made::new(&session, &[("a", &visit("as-found", 1, before)), ("b", &visit("as-left", 2, after))])
}

#[test]
fn nothing_known_of_the_uncertainty_shows_no_change() {
    for readings in [("[5]", "[4]"), ("[5, 5, 5]", "[4, 4, 4]")] {
        let (_, findings) =
            quantity("", "unit: s, better: lower, limit: {at_most: 5 s}", readings.0, readings.1).analysed();
        for change in findings.comparisons.iter().flat_map(|c| &c.checks).flat_map(|c| &c.changes) {
            assert!(!matches!(change.conclusion.words(), "better" | "worse"), "{readings:?}: {change:?}");
        }
        let at = found(&findings, "c", "a", "", "mean");
        assert_eq!(at.verdict, Verdict::TooCloseToCall, "{readings:?}");
    }
}

#[test]
fn as_far_beyond_the_target_as_before_it_is_not_better() {
    let made = quantity(
        "resolution: 0.01 mm, accuracy: 0.05 mm",
        "unit: mm, better: nearer, limit: {between: [1 mm, 3 mm]}",
        "[1.00, 1.01, 1.00, 1.00]",
        "[2.99, 2.98, 2.98, 2.98]",
    );
    let (_, findings) = made.analysed();
    let change = &findings.comparisons[0].checks[0].changes[0];
    assert_ne!(change.conclusion.words(), "better", "{change:?}");
}

#[test]
fn one_estimate_of_repeatability_used_twice_has_its_own_degrees_of_freedom() {
    let made = quantity(
        "resolution: 0.001 µm, repeat_readings: [0, 1, 2], repeat_unit: µm",
        "unit: µm",
        "[10]",
        "[14]",
    );
    let (_, findings) = made.analysed();
    let change = &findings.comparisons[0].checks[0].changes[0];
    // s = 1 with 2 degrees of freedom: t(0.975, 2)·√2 = 6.085.
    close((change.high - change.low) / 2.0, 4.302_652_73 * 2f64.sqrt(), 1e-3);
}

#[test]
fn a_limit_may_be_a_clock_form() {
    let made = quantity(
        "resolution: 0.01 s, accuracy: 0.2 s",
        "unit: s, limit: {at_least: \"0:15\"}",
        "[16]",
        "[17]",
    );
    assert_eq!(inspected(made.folder.path()).0, 0);
}

#[test]
fn a_condition_may_be_a_clock_form_and_a_text_with_a_colon_stays_a_text() {
    for (before, after, differ) in [
        ("ran for: \"10:00\"", "ran for: 600 s", false),
        ("ran for: \"10:00\"", "ran for: \"10:01\"", true),
        ("stand: \"bolted: floor\"", "stand: \"Bolted: floor\"", false),
    ] {
        let visit = |state: &str, day: u8, condition: &str| {
            format!(
                "state: {state}\ndate: 2026-03-0{day}\nconditions: {{{condition}}}\nreadings: {{c: {{readings: [1]}}}}\n"
            )
        };
        let session = "title: T\nunits: metric\nmachines: {m: {name: M}}\n\
                       instruments: {i: {name: I, resolution: 1 s}}\n\
                       checks: {c: {measure: quantity, instrument: i, unit: s}}\n";
        let made =
            Made::new(session, &[("a", &visit("as-found", 1, before)), ("b", &visit("as-left", 2, after))]);
        let (_, findings) = made.analysed();
        assert_eq!(!findings.comparisons[0].checks[0].differs.is_empty(), differ, "{before} {after}");
    }
}

#[test]
fn a_tolerance_is_a_bare_number_where_the_condition_is_one() {
    let session = |tolerance: &str| {
        let session = format!(
            "title: T\nunits: metric\nmachines: {{m: {{name: M}}}}\n\
             instruments: {{i: {{name: I, resolution: 1 s}}}}\n\
             checks: {{c: {{measure: quantity, instrument: i, unit: s, about_the_same: {{load: {tolerance}}}}}}}\n"
        );
        let visit = |state: &str, day: u8, load: u8| {
            format!(
                "state: {state}\ndate: 2026-03-0{day}\nconditions: {{load: {load}}}\nreadings: {{c: {{readings: [1]}}}}\n"
            )
        };
        Made::new(&session, &[("a", &visit("as-found", 1, 10)), ("b", &visit("as-left", 2, 13))])
    };
    for (tolerance, differ) in [("2", true), ("3", false)] {
        let (_, findings) = session(tolerance).analysed();
        assert_eq!(!findings.comparisons[0].checks[0].differs.is_empty(), differ, "{tolerance}");
    }
    let (code, _, err) = inspected(session("3 s").folder.path());
    assert_eq!(code, 1);
    assert!(err.contains("'about_the_same' allows 'load' 3 s"), "{err}");
}

#[test]
fn more_than_two_hundred_problems_are_counted() {
    let readings = vec!["x"; 237].join(", ");
    let made = quantity("resolution: 0.01 s", "unit: s", &format!("[{readings}]"), "[17]");
    let (code, _, err) = inspected(made.folder.path());
    assert_eq!(code, 1);
    assert!(err.contains("and 37 more") && err.contains("237 errors"), "{}", &err[err.len() - 300..]);
}

#[test]
fn a_report_never_replaces_the_session_it_was_made_from() {
    let home = tempfile::tempdir().unwrap();
    let session = home.path().join("mine");
    let made = quantity("resolution: 0.01 s", "unit: s", "[16]", "[17]");
    fs::create_dir(&session).unwrap();
    for file in ["session.yaml", "visits/a/visit.yaml", "visits/b/visit.yaml"] {
        let target = session.join(file);
        fs::create_dir_all(target.parent().unwrap()).unwrap();
        fs::copy(made.folder.path().join(file), target).unwrap();
    }
    fs::write(session.join("findings.json"), "{}").unwrap();
    let (code, _, err) =
        asfound(&["report", &session.display().to_string(), "--out", &home.path().display().to_string()]);
    assert_eq!(code, 3, "{err}");
    assert!(session.join("session.yaml").is_file(), "the session is gone");
    let inside = session.join("out");
    let (code, _, _) =
        asfound(&["report", &session.display().to_string(), "--out", &inside.display().to_string()]);
    assert_eq!(code, 3, "outputs inside the session become part of its evidence");
}

/// Two stations in thou in another session, in mm here: the paired interval is the same length.
#[test]
fn the_paired_change_is_the_same_in_any_unit() {
    let session = |unit: &str, compare: &str| {
        format!(
            "title: T\nunits: metric\nmachines: {{m: {{name: M}}}}\n\
             instruments: {{i: {{name: I, resolution: 0.5 thou, accuracy: 1 thou}}}}\n\
             checks: {{c: {{measure: run-out, direction: radial, instrument: i, unit: {unit}, \
             stations: {{a: {{from: 0 mm}}, b: {{from: 40 mm}}}}}}}}\n{compare}"
        )
    };
    let turn = |scale: f64| {
        let list: Vec<String> = [0.0, 1.0, 2.0, 1.0, 0.0, -1.0, -2.0, -1.0]
            .iter()
            .map(|r| format!("\"{} thou\"", r * scale))
            .collect();
        format!("{{turns: [[{}]]}}", list.join(", "))
    };
    let visit = |scale: f64| {
        format!(
            "state: baseline\ndate: 2026-03-02\nreadings: {{c: {{stations: {{a: {0}, b: {0}}}}}}}\n",
            turn(scale)
        )
    };
    let other = Made::new(&session("thou", ""), &[("v", &visit(1.0))]);
    let named = other.folder.path().display().to_string();
    let compare = format!("compare: {{x: {{before: {{session: \"{named}\", visit: v}}, after: v}}}}\n");
    let widths: Vec<f64> = [("thou", 1.0), ("mm", 0.0254)]
        .into_iter()
        .map(|(unit, size)| {
            let made = Made::new(&session(unit, &compare), &[("v", &visit(0.5))]);
            let (_, findings) = made.analysed();
            let changes = &findings.comparisons[0].checks[0].changes;
            let paired = changes.iter().find(|c| c.what == "tir" && c.at == "all stations").unwrap();
            (paired.high - paired.low) / size
        })
        .collect();
    close(widths[0], widths[1], 0.02);
}
