#![allow(clippy::unwrap_used)]

use super::words::{
    Room, afterwards, asked, better, bought, coverage, found, not_alike, not_claimed, shortened,
};
use super::{Claims, beyond_their_limits};
use crate::findings::Findings;
use crate::session::{Problems, Session};

/// A session of gaps read with a step of 0.01 mm, one check for each limit, with the readings of
/// its visits: state, date, what else the visit says, and a reading for each check.
fn session(machine: &str, limits: &[&str], visits: &[(&str, &str, &str, &[f64])]) -> (Session, Findings) {
    let folder = tempfile::tempdir().unwrap();
    let mut text = format!(
        "title: T\nask: Replace the spindle\nunits: metric\nmachines:\n  m: {{name: Fernley L-3{machine}}}\n\
         instruments:\n  i: {{name: Gauge, resolution: 0.01 mm, accuracy: 0.02 mm}}\nchecks:\n"
    );
    for (n, limit) in limits.iter().enumerate() {
        text += &format!(
            "  gap-{n}: {{title: Gap {n}, measure: quantity, instrument: i, unit: mm, better: lower, must_match: [stand]{limit}}}\n"
        );
    }
    std::fs::write(folder.path().join("session.yaml"), text).unwrap();
    for (n, (state, date, more, readings)) in visits.iter().enumerate() {
        let visit = folder.path().join(format!("visits/v{n}"));
        std::fs::create_dir_all(&visit).unwrap();
        let mut text = format!("state: {state}\ndate: {date}\n{more}\nreadings:\n");
        for (n, value) in readings.iter().enumerate() {
            text += &format!("  gap-{n}: {{readings: [{value}, {value}, {value}]}}\n");
        }
        std::fs::write(visit.join("visit.yaml"), text).unwrap();
    }
    let mut problems = Problems::default();
    let session = crate::session::read(folder.path(), &mut problems).unwrap();
    let findings = crate::analysis::analyse(&session, &crate::registry::measures(), &mut problems);
    assert!(!problems.any_error(), "{:#?}", problems.iter().collect::<Vec<_>>());
    (session, findings)
}

const AMPLE: Room = Room { names: 9, letters: 200 };
const LIMIT: &str = ", limit: {at_most: 0.10 mm, source: Guide}";
const COVERED: &str =
    ", bought: 2026-01-20, coverage: [{name: Return, lasts: 30 days}, {name: Parts, lasts: 2 years}]";

fn told(made: &(Session, Findings), tell: impl Fn(&Claims<'_>) -> Vec<String>) -> String {
    tell(&Claims::of(&made.0, &made.1, &made.0.machines[0])).join(" ")
}

#[test]
fn a_finding_too_close_to_call_is_not_claimed() {
    let made = session("", &[LIMIT], &[("as-found", "2026-03-02", "", &[0.11])]);
    let claims = Claims::of(&made.0, &made.1, &made.0.machines[0]);
    assert_eq!((claims.beyond.len(), claims.too_close.len()), (0, 1));
    let said = not_claimed(&claims, AMPLE).unwrap();
    assert!(said.starts_with("Too close to call, and not claimed: Gap 0 (0.110 ± "), "{said}");
    assert!(beyond_their_limits(&made.0, &made.1).is_empty());
    assert_eq!(
        found(&claims),
        [
            "The readings do not show that a limit was passed: of one check held against a limit, one is too close to call."
        ]
    );
}

#[test]
fn the_finding_furthest_beyond_its_limit_comes_first() {
    let made = session("", &[LIMIT, LIMIT, LIMIT], &[("as-found", "2026-03-02", "", &[0.2, 0.5, 0.3])]);
    let claims = Claims::of(&made.0, &made.1, &made.0.machines[0]);
    let order: Vec<&str> = claims.beyond.iter().map(|stand| stand.check.title.as_str()).collect();
    assert_eq!(order, ["Gap 1", "Gap 2", "Gap 0"]);
}

#[test]
fn what_is_within_and_what_has_no_limit_is_not_claimed() {
    let made = session("", &[LIMIT, ""], &[("as-found", "2026-03-02", "", &[0.02, 0.5])]);
    assert_eq!(
        told(&made, found),
        "The readings do not show that a limit was passed: of one check held against a limit, one is within."
    );
    let made = session("", &[""], &[("as-found", "2026-03-02", "", &[0.5])]);
    assert!(told(&made, found).starts_with("No check has a limit"), "{}", told(&made, found));
}

#[test]
fn after_the_repair_each_stands_as_its_verdict_says() {
    let visits: [(&str, &str, &str, &[f64]); 2] = [
        ("as-found", "2026-03-02", "conditions: {stand: floor}", &[0.2, 0.5, 0.3]),
        ("as-left", "2026-03-24", "conditions: {stand: floor}", &[0.02, 0.11]),
    ];
    let made = session("", &[LIMIT, LIMIT, LIMIT], &visits);
    assert_eq!(
        told(&made, afterwards),
        "After the repair, as left on 24 March 2026, one is within its limit and one is too close to call. \
         One was not measured again."
    );
    let fair = told(&made, |claims| better(claims).into_iter().collect());
    assert_eq!(fair, "Compared like for like with what was found, two are better.");
    assert_eq!(told(&made, |claims| not_alike(claims, AMPLE).into_iter().collect()), "");
}

#[test]
fn a_difference_that_is_not_like_for_like_is_said_to_be_so_and_not_claimed() {
    let visits: [(&str, &str, &str, &[f64]); 2] = [
        ("as-found", "2026-03-02", "conditions: {stand: floor}", &[0.5]),
        ("as-left", "2026-03-24", "conditions: {stand: bench}", &[0.02]),
    ];
    let made = session("", &[LIMIT], &visits);
    assert_eq!(told(&made, |claims| better(claims).into_iter().collect()), "");
    assert_eq!(
        told(&made, |claims| not_alike(claims, AMPLE).into_iter().collect()),
        "Not like for like, so that nothing is claimed from the difference: \
         Gap 0 (stand: floor before, bench after)."
    );
}

#[test]
fn nothing_is_said_to_be_because_of_the_repair() {
    let text = include_str!("words.rs");
    let code: Vec<&str> = text.lines().filter(|line| !line.trim_start().starts_with("//")).collect();
    assert!(!code.join("\n").to_lowercase().contains("because"));
}

#[test]
fn coverage_is_held_against_the_day_of_the_finding_and_not_of_the_letter() {
    let visits: [(&str, &str, &str, &[f64]); 2] =
        [("as-found", "2026-03-02", "", &[0.5]), ("as-left", "2027-03-24", "", &[0.02])];
    // By the calendar: 20 January 2026 and 30 days is 19 February; to 20 January 2028 are 689 days
    // from 2 March 2026 (GNU coreutils' `date -d '2026-03-02 + 689 days'`).
    assert_eq!(
        told(&session(COVERED, &[LIMIT], &visits), |claims| coverage(claims, AMPLE)),
        "Return (30 days): its last day was 19 February 2026, 11 days before the first finding. \
         Parts (2 years): until 20 January 2028; 689 days remained on 2 March 2026."
    );
}

#[test]
fn a_long_name_is_cut_and_what_was_found_and_its_dates_are_not() {
    let long = "gap under the straightedge ".repeat(8);
    let head = format!(
        ", kind: {long}, seller: {long}, bought: 2026-01-20, coverage: [{{name: {long}, lasts: 2 years, reference: {long}}}]"
    );
    let made = session(&head, &[LIMIT], &[("as-found", "2026-03-02", "", &[0.11])]);
    let claims = Claims::of(&made.0, &made.1, &made.0.machines[0]);
    let room = Room { names: 1, letters: 20 };
    assert_eq!(
        bought(&claims, room),
        "I bought a Fernley L-3 (gap under the…) on 20 January 2026 from gap under the…."
    );
    assert_eq!(
        coverage(&claims, room),
        [
            "gap under the… (2 years, gap under the…): until 20 January 2028; 689 days remained on 2 March 2026."
        ]
    );
}

#[test]
fn coverage_that_had_all_run_out_is_said_with_the_date() {
    let made = session(COVERED, &[LIMIT], &[("as-found", "2028-03-02", "", &[0.5])]);
    let said = told(&made, |claims| coverage(claims, AMPLE));
    assert!(
        said.starts_with(
            "All coverage in my records had run out on the day of the first finding, 2 March 2028;"
        ),
        "{said}"
    );
    assert!(said.contains("Parts (2 years): its last day was 20 January 2028, 42 days before"), "{said}");
    let made = session("", &[LIMIT], &[("as-found", "2028-03-02", "", &[0.5])]);
    assert_eq!(
        told(&made, |claims| coverage(claims, AMPLE)),
        "My records name no warranty or other coverage of this machine."
    );
}

#[test]
fn coverage_that_ended_between_two_findings_is_said_to_be_over_by_the_second() {
    let visits: [(&str, &str, &str, &[f64]); 2] =
        [("as-found", "2026-02-10", "", &[0.5]), ("as-left", "2026-03-24", "", &[0.02, 0.5])];
    let said = told(&session(COVERED, &[LIMIT, LIMIT], &visits), |claims| coverage(claims, AMPLE));
    assert!(
        said.starts_with("Return (30 days): until 19 February 2026; 9 days remained on 10 February 2026; over by the last finding, 24 March 2026."),
        "{said}"
    );
}

#[test]
fn a_long_text_is_cut_at_a_word_and_says_where_it_is_whole() {
    assert_eq!(shortened("run-out of the arbor", 14), "run-out of…");
    assert_eq!(shortened("run-out", 7), "run-out");
    assert_eq!(shortened("主轴跳动检查主轴", 4), "主轴跳…");
    let made = session("", &[LIMIT], &[("as-found", "2026-03-02", "", &[0.5])]);
    let claims = Claims::of(&made.0, &made.1, &made.0.machines[0]);
    assert_eq!(asked(&claims, 100), "Replace the spindle.");
    assert_eq!(asked(&claims, 12), "Replace the… (in full on the report's first page).");
}
