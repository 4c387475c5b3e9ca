//! What the analysis claims, and what it will not claim, on sessions made for the purpose.
#![allow(
    clippy::pedantic,
    clippy::approx_constant,
    clippy::print_stderr,
    clippy::redundant_clone,
    missing_docs,
    clippy::unwrap_used,
    clippy::panic,
    clippy::float_cmp,
    unreachable_pub
)]

#[path = "analysis/alignments.rs"]
mod alignments;
mod common;
#[path = "analysis/load_and_speed.rs"]
mod load_and_speed;

#[path = "analysis/vibration.rs"]
mod vibration;

use asfound::findings::{Change, CheckChanges, Conclusion, Findings, Verdict};

use common::{Made, close, found, run_out_session};

/// A session with one repeated number in seconds, read before and after.
fn two_visits(check: &str, before: &str, after: &str, before_rest: &str, after_rest: &str) -> Findings {
    let session = format!(
        "title: T\nunits: metric\nmachines: {{m: {{name: M}}}}\n\
         instruments: {{w: {{name: Watch, resolution: 0.01 s}}}}\n\
         checks: {{c: {{measure: quantity, instrument: w, unit: s{check}}}}}\n"
    );
    let visit = |state: &str, day: u8, readings: &str, rest: &str| {
        format!("state: {state}\ndate: 2026-03-{day:02}\n{rest}readings: {{c: {{readings: {readings}}}}}\n")
    };
    Made::new(
        &session,
        &[
            ("before", &visit("as-found", 2, before, before_rest)),
            ("after", &visit("as-left", 20, after, after_rest)),
        ],
    )
    .analysed()
    .1
}

fn compared(findings: &Findings) -> (&CheckChanges, &Change) {
    let check = &findings.comparisons[0].checks[0];
    (check, &check.changes[0])
}

const SLOW: &str = "[10.0, 10.1, 9.9, 10.0]";
const FAST: &str = "[12.0, 12.1, 11.9, 12.0]";

#[test]
fn as_found_and_as_left_are_compared_without_being_asked() {
    let findings = two_visits("", SLOW, FAST, "", "");
    assert_eq!(findings.comparisons[0].id, "as-found to as-left");
    let (_, change) = compared(&findings);
    close(change.change, 2.0, 1e-9);
    assert!(change.low < 2.0 && change.high > 2.0 && change.low > 1.8);
    close(change.percent.unwrap(), 20.0, 1e-9);
}

#[test]
fn a_change_is_better_worse_higher_or_lower_as_the_check_says() {
    for (better, wanted) in [
        ("", Conclusion::Higher),
        (", better: higher", Conclusion::Better),
        (", better: lower", Conclusion::Worse),
        (", better: nearer, limit: {between: [11 s, 13 s]}", Conclusion::Better),
        (", better: nearer", Conclusion::Worse),
        (", matters: 5 s", Conclusion::SameWithinWhatMatters),
        (", matters: 1 s", Conclusion::Higher),
    ] {
        let findings = two_visits(better, SLOW, FAST, "", "");
        assert_eq!(compared(&findings).1.conclusion, wanted, "{better}");
    }
    let findings = two_visits(", better: higher", SLOW, "[10.0, 10.1, 9.9, 10.1]", "", "");
    assert_eq!(compared(&findings).1.conclusion, Conclusion::NoChangeShown);
}

#[test]
fn readings_all_alike_still_have_the_display_step_s_uncertainty() {
    let findings = two_visits("", "[10.0, 10.0, 10.0, 10.0]", "[10.0, 10.0, 10.0, 10.0]", "", "");
    let mean = found(&findings, "c", "before", "", "mean");
    // Half-width of the step over the root of 3 (JCGM 100, F.2.2.1), k = 1.96.
    close(mean.expanded().unwrap().expanded, 1.959_963_984_540_054 * 0.01 / 12f64.sqrt(), 1e-9);
    assert_eq!(compared(&findings).1.conclusion, Conclusion::NoChangeShown);
}

#[test]
fn the_display_step_is_not_divided_by_the_root_of_the_number_of_readings() {
    let sixteen = format!("[{}]", vec!["10.0"; 16].join(", "));
    let findings = two_visits("", &sixteen, SLOW, "", "");
    let mean = found(&findings, "c", "before", "", "mean");
    close(mean.budget.expanded.standard, 0.01 / 12f64.sqrt(), 1e-9);
}

#[test]
fn one_reading_is_said_to_have_no_scatter_of_its_own() {
    let findings = two_visits("", "[10.0]", FAST, "", "");
    let mean = found(&findings, "c", "before", "", "mean");
    assert!(mean.notes.iter().any(|note| note.starts_with("One reading")), "{:?}", mean.notes);
}

#[test]
fn a_comparison_is_unfair_only_where_what_must_match_does_not() {
    let with = |belt: &str| format!("conditions: {{belt: {belt}, ambient: 20 °C}}\n");
    let must = ", must_match: [belt]";
    let findings = two_visits(must, SLOW, FAST, &with("old"), &with("new"));
    let (check, _) = compared(&findings);
    assert!(!check.like_for_like);
    assert_eq!(check.differs[0].condition, "belt");
    let findings = two_visits("", SLOW, FAST, &with("old"), &with("new"));
    let (check, _) = compared(&findings);
    assert!(check.like_for_like, "nothing was said to have to match");
    assert_eq!(check.differs.len(), 1, "and still the difference is listed");
    let findings = two_visits(must, SLOW, FAST, &with("old"), &with("Old"));
    assert!(compared(&findings).0.like_for_like);
}

#[test]
fn a_condition_that_nobody_recorded_is_not_the_same() {
    let must = ", must_match: [belt]";
    let findings = two_visits(must, SLOW, FAST, "conditions: {belt: old}\n", "");
    let (check, _) = compared(&findings);
    assert!(!check.like_for_like);
    assert_eq!(check.differs[0].after, "not recorded");
    let findings = two_visits(must, SLOW, FAST, "", "");
    assert!(!compared(&findings).0.like_for_like, "recorded by neither");
}

#[test]
fn conditions_in_other_units_match_within_what_is_about_the_same() {
    let about = ", must_match: [ambient], about_the_same: {ambient: 5 °F}";
    let at = |ambient: &str| format!("conditions: {{ambient: {ambient}}}\n");
    // 20 °C is 68 °F; five degrees Fahrenheit are 2.8 K, not −15 °C.
    for (before, after, fair) in [
        ("68 °F", "20 °C", true),
        ("66 °F", "71 °F", true),
        ("66 °F", "71.2 °F", false),
        ("20 °C", "23 °C", false),
    ] {
        let findings = two_visits(about, SLOW, FAST, &at(before), &at(after));
        assert_eq!(compared(&findings).0.like_for_like, fair, "{before} and {after}");
    }
}

#[test]
fn a_verdict_waits_for_the_uncertainty() {
    for (limit, verdict) in [
        ("at_least: 9 s", Verdict::Within),
        ("at_least: 10 s", Verdict::TooCloseToCall),
        ("at_least: 11 s", Verdict::Under),
        ("at_most: 9 s", Verdict::Over),
    ] {
        let findings = two_visits(&format!(", limit: {{{limit}}}"), SLOW, FAST, "", "");
        assert_eq!(found(&findings, "c", "before", "", "mean").verdict, verdict, "{limit}");
    }
}

#[test]
fn a_struck_reading_is_left_out_and_what_it_would_have_done_is_said() {
    let findings = two_visits("", "[10.0, 10.1, {struck: 19.0, because: slipped}, 9.9, 10.0]", FAST, "", "");
    let mean = found(&findings, "c", "before", "", "mean");
    close(mean.value.unwrap(), 10.0, 1e-9);
    assert_eq!((mean.n, mean.struck), (4, 1));
    close(mean.with_struck.unwrap(), 11.8, 1e-9);
}

#[test]
fn the_indicator_s_accuracy_enters_a_range_once_and_its_step_twice() {
    // TIR of two far-apart plateaus: the highest and the lowest reading are never in doubt, so the
    // range's variance is twice a reading's step variance, plus the accuracy once.
    let turn = vec![0.0, 1000.0, 500.0];
    let (_, findings) = run_out_session("1 µm", ", accuracy: 3 µm", &[turn]).analysed();
    let tir = found(&findings, "c", "v", "", "tir");
    let wanted = (2.0 / 12.0 + 3.0_f64).sqrt();
    let standard = tir.budget.expanded.standard;
    assert!((standard / wanted - 1.0).abs() < 0.01, "{standard}, theory {wanted}");
}

#[test]
fn adding_a_constant_to_an_indicator_changes_no_run_out() {
    let turn = [0.0, 3.0, 7.0, 9.0, 8.0, 5.0, 2.0, 1.0];
    let moved: Vec<f64> = turn.iter().map(|value| value + 250.0).collect();
    let (_, here) = run_out_session("1 µm", ", accuracy: 2 µm", &[turn.to_vec()]).analysed();
    let (_, there) = run_out_session("1 µm", ", accuracy: 2 µm", &[moved]).analysed();
    for what in ["tir", "once_per_turn", "twice_per_turn", "residual"] {
        let (a, b) = (found(&here, "c", "v", "", what), found(&there, "c", "v", "", what));
        assert!((a.value.unwrap() - b.value.unwrap()).abs() < 1e-9, "{what}");
        let ratio = a.expanded().unwrap().expanded / b.expanded().unwrap().expanded;
        assert!((ratio - 1.0).abs() < 0.02, "{what}: {ratio}");
    }
}

#[test]
fn one_turn_cannot_show_what_does_not_repeat() {
    let (_, findings) =
        run_out_session("1 µm", "", &[vec![0.0, 3.0, 7.0, 9.0, 8.0, 5.0, 2.0, 1.0]]).analysed();
    let part = found(&findings, "c", "v", "", "non_repeating");
    assert_eq!(part.value, None);
    assert!(part.notes[0].contains("One turn"));
}

#[test]
fn the_limit_may_speak_of_another_finding_than_the_first() {
    let made = Made::new(
        "title: T\nunits: metric\nmachines: {m: {name: M}}\ninstruments: {i: {name: I, resolution: 1 µm}}\n\
         checks: {c: {measure: run-out, direction: radial, instrument: i, unit: µm, limit: {at_most: 4 µm, of: twice_per_turn}}}\n",
        &[(
            "v",
            "state: baseline\ndate: 2026-03-02\nreadings: {c: {turns: [[0, 20, 40, 60, 80, 60, 40, 20]]}}\n",
        )],
    );
    let (_, findings) = made.analysed();
    assert_eq!(found(&findings, "c", "v", "", "tir").verdict, Verdict::NoLimit);
    assert_eq!(found(&findings, "c", "v", "", "twice_per_turn").verdict, Verdict::Within);
}

#[test]
fn a_visit_in_another_session_is_compared_in_this_session_s_unit() {
    let home = tempfile::tempdir().unwrap();
    let write = |path: &str, text: &str| {
        let path = home.path().join(path);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(path, text).unwrap();
    };
    let session = |unit: &str, step: &str, compare: &str| {
        format!(
            "title: T\nunits: metric\nmachines: {{m: {{name: M}}}}\n\
             instruments: {{i: {{name: I, resolution: {step}, accuracy: {step}}}}}\n\
             checks: {{c: {{measure: run-out, direction: radial, instrument: i, unit: {unit}, must_match: [instrument]}}}}\n{compare}"
        )
    };
    let visit =
        |turn: &str| format!("state: baseline\ndate: 2026-03-02\nreadings: {{c: {{turns: [{turn}]}}}}\n");
    write("old/session.yaml", &session("mm", "0.0254 mm", ""));
    write("old/visits/v/visit.yaml", &visit("[0, 0.0508, 0.1016, 0.0508]"));
    let compare = "compare: {x: {before: {session: ../old, visit: v}, after: v}}\n";
    write("new/session.yaml", &session("thou", "1 thou", compare));
    write("new/visits/v/visit.yaml", &visit("[0, 2, 4, 2]"));
    let mut problems = asfound::session::Problems::default();
    let session = asfound::session::read(&home.path().join("new"), &mut problems).unwrap();
    let findings = asfound::analysis::analyse(&session, &asfound::registry::measures(), &mut problems);
    assert!(!problems.any_error(), "{:?}", problems.iter().collect::<Vec<_>>());
    let change = compared(&findings).1;
    close(change.before, 4.0, 1e-9);
    assert!(change.change.abs() < 1e-9);
    assert_eq!(change.unit.symbol(), "thou");
    // The same instrument, step and accuracy, in other units: the same uncertainty.
    close(change.before_expanded.unwrap(), change.after_expanded.unwrap(), 0.02);
}

#[test]
fn several_changes_looked_at_together_are_adjusted_and_never_made_stronger() {
    let mut checks = String::new();
    let (mut before, mut after) = (String::new(), String::new());
    for index in 0..8 {
        checks += &format!("c{index}: {{measure: quantity, instrument: w, unit: s, better: lower}}, ");
        before += &format!("c{index}: {{readings: [10.0, 10.2, 9.8, 10.1]}}, ");
        // One of eight moves by a little more than chance alone would need.
        let values = if index == 0 { "[9.7, 9.9, 9.5, 9.8]" } else { "[10.0, 10.2, 9.8, 10.1]" };
        after += &format!("c{index}: {{readings: {values}}}, ");
    }
    let session = format!(
        "title: T\nunits: metric\nmachines: {{m: {{name: M}}}}\n\
         instruments: {{w: {{name: Watch, resolution: 0.01 s}}}}\nchecks: {{{checks}}}\n"
    );
    let visit = |state: &str, day: u8, readings: &str| {
        format!("state: {state}\ndate: 2026-03-{day:02}\nreadings: {{{readings}}}\n")
    };
    let made = Made::new(
        &session,
        &[("before", &visit("as-found", 2, &before)), ("after", &visit("as-left", 20, &after))],
    );
    let (_, findings) = made.analysed();
    let change = &findings.comparisons[0].checks[0].changes[0];
    assert_eq!(change.conclusion, Conclusion::Better);
    assert_eq!(change.adjusted, Some(Conclusion::NoChangeShown));
}

#[test]
fn a_noisy_run_out_says_how_far_its_noise_pushes_it_up() {
    // A shaft 1 thou out, read 24 times a turn with s = 0.3 thou, as a sum of fixed sines.
    let noise = |turn: usize, at: usize| 0.42 * ((7 * at + 13 * turn * at + 5 * turn) as f64 * 1.7).sin();
    let turns = |size: f64| -> Vec<Vec<f64>> {
        let reading = |turn: usize, at: usize| {
            let angle = std::f64::consts::TAU * at as f64 / 24.0;
            ((0.5 * angle.cos() + size * noise(turn, at)) * 1e3).round() / 1e3
        };
        (0..3).map(|turn| (0..24).map(|at| reading(turn, at)).collect()).collect()
    };
    let lifted = |size: f64| {
        let (_, findings) = run_out_session("0.001 µm", "", &turns(size)).analysed();
        let all = &findings.checks[0].visits[0].findings;
        let tir = all.iter().find(|finding| finding.what == "tir").unwrap();
        tir.notes.iter().any(|note| note.starts_with("Noise pushes a range up"))
    };
    assert!(lifted(1.0));
    assert!(!lifted(0.0), "a smooth turn is not lifted");
}

#[test]
fn every_method_ends_with_its_source_in_brackets() {
    let sources = [
        "ISO ",
        "IEC ",
        "JCGM ",
        "NIST ",
        "NIOSH ",
        "common practice",
        "(Welch 1967",
        "(Shannon 1949",
        "(Randall",
        "Stefan–Boltzmann",
    ];
    for measure in asfound::registry::measures() {
        for text in measure.methods() {
            let source = text.rsplit_once(" (").map_or("", |(_, source)| source);
            assert!(source.ends_with(").") && text.contains(": "), "{text}");
            let named = sources.iter().any(|known| format!("({source}").contains(known));
            assert!(named, "no source in \u{201c}{source}\u{201d}: {text}");
        }
    }
}
