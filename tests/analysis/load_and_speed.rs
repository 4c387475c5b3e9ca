//! What load and speed claim and what they do not.

use crate::common::{Made, found};
use asfound::findings::Verdict;

fn load(check: &str, before: &str, after: &str) -> Made {
    let visit = |state: &str, day: u8, runs: &str| {
        format!(
            "state: {state}\ndate: 2026-03-0{day}\nreadings: {{c: {{cuts: {{oak: {{depth: 50 mm, runs: [{runs}]}}}}}}}}\n"
        )
    };
    Made::new(
        &format!(
            "title: T\nunits: metric\nmachines: {{m: {{name: M}}}}\n\
             instruments: {{t: {{name: Tachometer, resolution: 1 rpm, accuracy: 1 %}}}}\n\
             checks: {{c: {{measure: load, instrument: t, unit: rpm{check}}}}}\n"
        ),
        &[("a", &visit("as-found", 1, before)), ("b", &visit("as-left", 2, after))],
    )
}

const RUNS: &str =
    "{unloaded: 3455, loaded: 3110}, {unloaded: 3450, loaded: 3100}, {unloaded: 3452, loaded: 3105}";

#[test]
fn a_stalled_run_is_counted_is_in_no_mean_and_breaks_the_limit() {
    let made = load(", limit: {at_most: 15 %}", &format!("{RUNS}, {{unloaded: 3452, stalled: true}}"), RUNS);
    let (_, findings) = made.analysed();
    let droop = found(&findings, "c", "a", "oak", "droop");
    let other = found(&findings, "c", "b", "oak", "droop");
    assert_eq!(droop.value, other.value, "the stalled run is averaged in");
    assert_eq!((droop.n, droop.verdict, other.verdict), (3, Verdict::Over, Verdict::Within));
    assert!(droop.notes.iter().any(|note| note.contains("1 of 4 runs stalled")), "{:?}", droop.notes);
    let stalled = found(&findings, "c", "a", "oak", "stalled_runs");
    assert_eq!((stalled.value, stalled.n), (Some(1.0), 4));
    let differs = &findings.comparisons[0].checks[0].differs;
    assert!(
        differs.iter().any(|d| d.condition == "stalled runs" && d.before == "oak, 1 of 4"),
        "{differs:?}"
    );
}

#[test]
fn a_stock_in_which_every_run_stalled_has_no_droop_and_keeps_no_limit() {
    let made = load(", limit: {at_most: 15 %}", "{unloaded: 3452, stalled: true}", RUNS);
    let (_, findings) = made.analysed();
    let droop = found(&findings, "c", "a", "oak", "droop");
    assert_eq!((droop.value, droop.verdict), (None, Verdict::Over));
    assert!(!droop.notes.is_empty());
}

#[test]
fn a_count_is_exact_and_held_against_its_limit_as_it_stands() {
    let limit = ", limit: {at_most: 0 count, of: stalled_runs}";
    let made = load(limit, &format!("{RUNS}, {{stalled: true}}"), RUNS);
    let (_, findings) = made.analysed();
    assert_eq!(found(&findings, "c", "a", "oak", "stalled_runs").verdict, Verdict::Over);
    assert_eq!(found(&findings, "c", "b", "oak", "stalled_runs").verdict, Verdict::Within);
}

#[test]
fn a_speed_under_load_that_rose_is_better_and_a_droop_that_rose_is_worse() {
    let worse =
        "{unloaded: 3455, loaded: 2510}, {unloaded: 3450, loaded: 2500}, {unloaded: 3452, loaded: 2505}";
    for (check, droop, loaded) in [
        ("", "better", "better"),
        // What a check says of 'better' is said of its main number alone.
        (", better: higher", "worse", "better"),
        (", limit: {at_least: 3000 rpm, of: loaded_speed}, better: lower", "better", "worse"),
    ] {
        let (_, findings) = load(check, worse, RUNS).analysed();
        let changes = &findings.comparisons[0].checks[0].changes;
        let of = |what: &str| changes.iter().find(|change| change.what == what).unwrap().conclusion.words();
        assert_eq!((of("droop"), of("loaded_speed")), (droop, loaded), "{check}");
    }
}

#[test]
fn what_is_not_written_is_not_invented() {
    let (_, findings) = load("", RUNS, RUNS).analysed();
    for (what, why) in [
        ("feed_rate", "no run has a length and a time"),
        ("removal_rate", "no kerf"),
        ("droop_per_removal", "no kerf"),
    ] {
        let finding = found(&findings, "c", "a", "oak", what);
        assert_eq!(finding.value, None);
        assert!(finding.notes.iter().any(|note| note.contains(why)), "{what}: {:?}", finding.notes);
    }
}

#[test]
fn a_struck_run_and_a_struck_reading_are_left_out_and_said() {
    let struck = "{struck: {unloaded: 3450, loaded: 2000}, because: hit a knot}, \
                  {unloaded: 3450, loaded: {struck: 1000, because: mark came off}}";
    let (_, findings) = load("", &format!("{RUNS}, {struck}"), RUNS).analysed();
    let (with, without) =
        (found(&findings, "c", "a", "oak", "droop"), found(&findings, "c", "b", "oak", "droop"));
    assert_eq!((with.value, with.n, with.struck), (without.value, 3, 2));
    assert!(with.with_struck > with.value);
    // The second was made, only its loaded speed was not read: it is among the runs.
    assert_eq!(found(&findings, "c", "a", "oak", "stalled_runs").n, 4);
}

/// Fewer runs that got through may have a better mean; the machine is not better for it.
#[test]
fn where_a_run_stalled_no_mean_is_called_better_or_worse() {
    let worse =
        "{unloaded: 3455, loaded: 2510}, {unloaded: 3450, loaded: 2500}, {unloaded: 3452, loaded: 2505}";
    let (_, findings) = load("", worse, &format!("{RUNS}, {{stalled: true}}")).analysed();
    for change in &findings.comparisons[0].checks[0].changes {
        assert!(
            change.what == "droop_per_removal" || !matches!(change.conclusion.words(), "better" | "worse"),
            "{change:?}"
        );
    }
}

fn speed(limit: &str, at: &str) -> Made {
    Made::new(
        &format!(
            "title: T\nunits: inch\nmachines: {{m: {{name: M}}}}\n\
             instruments: {{t: {{name: Tachometer, resolution: 1 rpm, accuracy: 0.05 %}}}}\n\
             checks: {{c: {{measure: speed, instrument: t{limit}}}}}\n"
        ),
        &[("v", &format!("state: baseline\ndate: 2026-03-02\nreadings: {{c: {{at: {{{at}}}}}}}\n"))],
    )
}

#[test]
fn a_limit_on_a_signed_error_is_held_either_way() {
    let at = "1000 rpm: [900, 901, 900, 901], 2000 rpm: [2010, 2011, 2010, 2011], 3000 rpm: [3200, 3201]";
    let (_, findings) = speed(", limit: {at_most: 2 %}", at).analysed();
    let verdict = |at: &str| found(&findings, "c", "v", at, "error").verdict;
    assert_eq!(verdict("1000 rpm"), Verdict::Under, "10 % slow is not within 2 %");
    assert_eq!(verdict("2000 rpm"), Verdict::Within);
    assert_eq!(verdict("3000 rpm"), Verdict::Over);
}

#[test]
fn a_tachometer_that_counts_twice_is_said_and_not_corrected() {
    for (read, said) in [(2012.0, "two reflective marks"), (502.0, "half"), (334.0, "third"), (1003.0, "")] {
        let (_, findings) = speed("", &format!("1000 rpm: [{read}]")).analysed();
        let error = found(&findings, "c", "v", "1000 rpm", "error");
        assert!((error.value.unwrap() - (read - 1000.0) / 10.0).abs() < 1e-9);
        let noted = error.notes.iter().any(|note| note.contains("nothing was corrected"));
        assert_eq!(noted, !said.is_empty(), "{read}: {:?}", error.notes);
        assert!(said.is_empty() || error.notes.iter().any(|note| note.contains(said)), "{:?}", error.notes);
    }
}
