//! What the measure `temperature` claims and what it refuses.
#![allow(
    clippy::pedantic,
    clippy::print_stderr,
    clippy::redundant_clone,
    missing_docs,
    clippy::unwrap_used,
    clippy::panic,
    clippy::float_cmp,
    unreachable_pub
)]

mod common;

use asfound::findings::{BoundOn, Finding, Findings, Verdict};
use asfound::session::{Problems, Severity};
use common::{Made, close, found};

const INSTRUMENTS: &str = "{i: {name: I, resolution: 0.1 K, accuracy: 1 K}, \
     g: {name: G, resolution: 0.1 K, accuracy: 1 K, emissivity_set: 0.95, range: [-20 °C, 150 °C]}}";

fn made(check: &str, visits: &[(&str, &str)]) -> Made {
    let texts: Vec<(String, String)> = visits
        .iter()
        .map(|(id, readings)| {
            (
                (*id).to_owned(),
                format!(
                    "state: {id}\ndate: 2026-03-0{}\nreadings: {{c: {readings}}}\n",
                    if *id == "as-left" { 9 } else { 2 }
                ),
            )
        })
        .collect();
    let texts: Vec<(&str, &str)> = texts.iter().map(|(id, text)| (id.as_str(), text.as_str())).collect();
    Made::new(
        &format!(
            "title: T\nunits: metric\nmachines: {{m: {{name: M}}}}\ninstruments: {INSTRUMENTS}\n\
             checks: {{c: {{measure: temperature, unit: °C, {check}}}}}\n"
        ),
        &texts,
    )
}

fn analysed(check: &str, readings: &str) -> Findings {
    made(check, &[("as-found", readings)]).analysed().1
}

fn of<'a>(findings: &'a Findings, what: &str) -> &'a Finding {
    found(findings, "c", "as-found", "p", what)
}

/// Readings every `step` minutes of a course, rounded to 0.1.
fn points(step: f64, count: u32, course: impl Fn(f64) -> f64) -> String {
    let one = |index: u32| {
        let minutes = step * f64::from(index);
        format!("[\"{minutes} min\", {:.1}]", course(minutes))
    };
    format!("[{}]", (0..count).map(one).collect::<Vec<_>>().join(", "))
}

fn place(points: &str) -> String {
    format!("{{ambient: 20 °C, places: {{p: {{points: {points}}}}}}}")
}

fn says(finding: &Finding, words: &str) -> bool {
    finding.notes.iter().any(|note| note.contains(words))
}

#[test]
fn the_rise_is_over_the_ambient_at_the_moment_of_the_maximum() {
    let findings = analysed(
        "instrument: i",
        "{ambient: {points: [[\"0:00\", 20.0], [\"20:00\", 24.0]]}, \
          places: {p: {points: [[\"0:00\", 20.0], [\"10:00\", 31.9], [\"20:00\", 32.0]]}}}",
    );
    close(of(&findings, "maximum").value.unwrap(), 32.0, 1e-12);
    let rise = of(&findings, "rise");
    close(rise.value.unwrap(), 8.0, 1e-12);
    // At 10:00 it was 31.9 − 22.0.
    assert!(says(rise, "largest at 10:00: 9.9 °C"), "{:?}", rise.notes);
    let moment = of(&findings, "time_of_maximum");
    assert_eq!((moment.value, moment.unit.symbol()), (Some(20.0), "min"));
    // Anywhere since the reading before, ten minutes, rectangular.
    close(moment.budget.expanded.standard, 10.0 / 3f64.sqrt(), 1e-12);
    assert_eq!(moment.remark, "at the end");
}

#[test]
fn without_an_ambient_there_is_no_rise_and_a_warning_says_so() {
    let made = made("instrument: i", &[("as-found", "{places: {p: {points: [[\"0:00\", 20.0]]}}}")]);
    let mut problems = Problems::default();
    let session = asfound::session::read(made.folder.path(), &mut problems).unwrap();
    let findings = asfound::analysis::analyse(&session, &asfound::registry::measures(), &mut problems);
    assert!(!problems.any_error());
    assert!(problems.iter().any(|p| p.severity == Severity::Warning && p.message.contains("ambient")));
    assert_eq!(of(&findings, "rise").value, None);
    assert_eq!(of(&findings, "maximum").value, Some(20.0));
}

#[test]
fn the_visit_s_own_condition_stands_in_for_an_ambient_that_the_readings_lack() {
    let findings = analysed(
        "instrument: i",
        "{conditions: {ambient: 68 °F}, places: {p: {points: [[\"0:00\", 20.0], [\"9:00\", 45.0]]}}}",
    );
    close(of(&findings, "rise").value.unwrap(), 25.0, 1e-9);
    let visit = &findings.checks[0].visits[0];
    assert!(visit.notes.iter().any(|note| note.contains("the visit's condition")));
}

#[test]
fn each_time_of_constant_speed_has_its_own_time_constant() {
    // 20 → 40 with τ = 5 min for 20 min, then back with τ = 8 min.
    let top = 40.0 - 20.0 * (-4.0f64).exp();
    let course = |t: f64| {
        if t <= 20.0 {
            40.0 - 20.0 * (-t / 5.0).exp()
        } else {
            20.0 + (top - 20.0) * (-(t - 20.0) / 8.0).exp()
        }
    };
    let readings = format!(
        "{{ambient: 20 °C, schedule: [[\"0:00\", 2000 rpm], [\"20:00\", 0 rpm]], places: {{p: {{points: {}}}}}}}",
        points(1.0, 51, course)
    );
    let findings = analysed("instrument: i", &readings);
    for (at, tau) in [("p, 2000 rpm", 5.0), ("p, 0 rpm", 8.0)] {
        let found = found(&findings, "c", "as-found", at, "time_constant");
        let half = found.budget.expanded.expanded;
        assert!((found.value.unwrap() - tau).abs() < half && half < 0.2, "{at}: {found:?}");
    }
    let cooling = found(&findings, "c", "as-found", "p, 0 rpm", "time_constant");
    assert!(cooling.remark.starts_with("cools to 20"), "{}", cooling.remark);
}

#[test]
fn a_speed_that_is_set_twice_names_its_second_time_by_the_clock() {
    let readings = format!(
        "{{ambient: 20 °C, schedule: [[\"0:00\", 1000 rpm], [\"4:00\", 2000 rpm], [\"12:00\", 1000 rpm]], \
          places: {{p: {{points: {}}}}}}}",
        points(2.0, 10, |t| 20.0 + t)
    );
    let findings = analysed("instrument: i", &readings);
    let ats: Vec<&str> = findings.checks[0].visits[0]
        .findings
        .iter()
        .filter(|finding| finding.what == "time_constant")
        .map(|finding| finding.at.as_str())
        .collect();
    assert_eq!(ats, ["p, 1000 rpm", "p, 2000 rpm", "p, 1000 rpm, from 12:00"]);
}

fn refused(points: &str, words: &str) -> Option<BoundOn> {
    let findings = analysed("instrument: i", &place(points));
    let tau = of(&findings, "time_constant");
    assert_eq!(tau.value, None, "{tau:?}");
    assert!(says(tau, words), "{:?}", tau.notes);
    tau.bound
}

#[test]
fn a_fit_that_the_readings_do_not_carry_is_refused_with_the_reason() {
    refused(&points(2.0, 5, |t| 40.0 - 20.0 * (-t / 5.0).exp()), "Only 5 readings");
    refused(&points(2.0, 12, |t| 20.0 + 0.01 * t), "no more than the display step");
    // A line, rounded: the readings show no bend.
    refused(&points(1.0, 20, |t| 20.0 + 0.47 * t), "straight line");
    refused(&points(1.0, 20, |t| 20.0 + 0.02 * t * t), "ever faster");
    let bound = refused(&points(1.0, 20, |t| 60.0 - 40.0 * (-t / 60.0).exp()), "longer than the stretch");
    // Two minutes of rise and many of rest around a spike are no first-order course.
    refused(&points(1.0, 30, |t| 20.0 + 10.0 * (t / 3.0).sin()), "");
    match bound {
        Some(BoundOn::AtLeast(least)) => assert!(least > 10.0 && least < 60.0, "{least}"),
        other => panic!("{other:?}"),
    }
}

#[test]
fn two_time_constants_widen_the_interval_or_are_refused_but_never_pass_for_one() {
    let two = |t: f64| 60.0 - 25.0 * (-t / 2.0).exp() - 15.0 * (-t / 25.0).exp();
    let findings = analysed("instrument: i", &place(&points(1.0, 90, two)));
    let tau = of(&findings, "time_constant");
    assert!(tau.value.is_none() || says(tau, "hang together"), "{tau:?}");
}

#[test]
fn a_run_that_did_not_settle_says_from_when_at_the_earliest_and_what_still_changed() {
    let findings = analysed("instrument: i", &place(&points(2.0, 31, |t| 20.0 + 0.3 * t)));
    let settled = of(&findings, "settled_at");
    assert_eq!((settled.value, settled.bound), (None, Some(BoundOn::AtLeast(30.0))));
    assert!(says(settled, "changed by +9 °C"), "{:?}", settled.notes);
    let short = analysed("instrument: i", &place(&points(2.0, 6, |t| 20.0 + 0.3 * t)));
    let settled = of(&short, "settled_at");
    assert_eq!((settled.value, settled.bound), (None, None));
    assert!(says(settled, "lasted 10 min"), "{:?}", settled.notes);
}

#[test]
fn a_hump_is_not_level_though_its_line_is() {
    // Up and down by 15 K within half an hour: the fitted line is flat in the middle.
    let hump = |t: f64| 20.0 + 15.0 * (-((t - 30.0) / 10.0f64).powi(2)).exp();
    let findings = analysed("instrument: i", &place(&points(1.0, 61, hump)));
    assert_eq!(of(&findings, "settled_at").value, None);
}

#[test]
fn a_machine_that_has_not_started_has_not_settled() {
    let readings = format!(
        "{{ambient: 20 °C, schedule: [[\"0:00\", 0 rpm], [\"40:00\", 2000 rpm]], places: {{p: {{points: {}}}}}}}",
        points(2.0, 120, |t| if t < 40.0 { 20.0 } else { 60.0 - 40.0 * (-(t - 40.0) / 20.0).exp() })
    );
    let settled = analysed("instrument: i", &readings);
    assert!(of(&settled, "settled_at").value.unwrap() > 60.0);
}

#[test]
fn a_bright_surface_is_brought_to_its_own_emissivity_with_its_part_in_the_budget() {
    // CHECKVALUES 5.1: shown 60 °C at 0.95, surface 0.80, surroundings 22 °C: 65.84 °C.
    let findings = analysed(
        "instrument: g, surface_emissivity: 0.8",
        "{ambient: 22 °C, places: {p: {points: [[\"0:00\", 22.0], [\"9:00\", 60.0]]}}}",
    );
    let top = of(&findings, "maximum");
    close(top.value.unwrap(), 65.840_614_625_528_3, 1e-9);
    let part = top.budget.components.iter().find(|part| part.name.starts_with("Emissivity")).unwrap();
    // A numerical derivative of the law by the emissivity, times 0.05/√3.
    let law =
        |e: f64| asfound::analysis::temperature::emissivity::corrected(333.15, 295.15, 0.95, e).unwrap();
    let slope = (law(0.8001) - law(0.7999)) / 0.0002;
    close(part.contribution, slope.abs() * 0.05 / 3f64.sqrt(), 1e-6);
    // At one temperature with its surroundings no emissivity matters.
    close(found(&findings, "c", "as-found", "p", "rise").value.unwrap(), 43.840_614_625_528_3, 1e-9);
}

#[test]
fn outside_its_stated_range_an_instrument_vouches_for_nothing() {
    let made = made(
        "instrument: g, limit: {at_most: 400 °C}",
        &[
            ("as-found", "{ambient: 20 °C, places: {p: {points: [[\"0:00\", 20.0], [\"5:00\", 180.0]]}}}"),
            ("as-left", "{ambient: 20 °C, places: {p: {points: [[\"0:00\", 20.0], [\"5:00\", 90.0]]}}}"),
        ],
    );
    let mut problems = Problems::default();
    let session = asfound::session::read(made.folder.path(), &mut problems).unwrap();
    let findings = asfound::analysis::analyse(&session, &asfound::registry::measures(), &mut problems);
    assert!(problems.iter().any(|p| p.message.contains("outside the range stated for it, −20 to 150 °C")));
    let top = of(&findings, "maximum");
    assert_eq!((top.value, top.verdict), (Some(180.0), Verdict::TooCloseToCall));
    assert!(top.expanded().is_none());
    // Nor is there a change from it.
    let changes = findings.comparisons[0].checks.iter().flat_map(|check| &check.changes);
    assert!(changes.into_iter().all(|change| change.what != "maximum"));
}

#[test]
fn another_schedule_is_a_condition_that_differs() {
    let readings = |speed: &str| {
        format!(
            "{{ambient: 20 °C, schedule: [[\"0:00\", {speed}]], \
              places: {{p: {{points: [[\"0:00\", 20.0], [\"5:00\", 40.0]]}}}}}}"
        )
    };
    let (slow, fast) = (readings("1000 rpm"), readings("2000 rpm"));
    let made = made("instrument: i, must_match: [schedule]", &[("as-found", &slow), ("as-left", &fast)]);
    let (_, findings) = made.analysed();
    let check = &findings.comparisons[0].checks[0];
    assert!(!check.like_for_like);
    assert!(check.differs.iter().any(|differs| differs.condition == "schedule"), "{:?}", check.differs);
}

#[test]
fn struck_readings_are_left_out_and_the_maximum_with_them_is_said() {
    let findings = analysed(
        "instrument: i",
        &place(
            "[[\"0:00\", 20.0], [\"2:00\", {struck: 99.0, because: pointed at the lamp}], [\"4:00\", 30.0]]",
        ),
    );
    let top = of(&findings, "maximum");
    assert_eq!((top.value, top.struck, top.with_struck), (Some(30.0), 1, Some(99.0)));
}

#[test]
fn readings_may_carry_their_own_unit_and_time_its_own_form() {
    let findings = analysed(
        "instrument: i",
        &place("[[\"0:00\", 68 °F], [\"90 s\", 25.0], [\"0.5 h\", 86 °F], [\"1:00:00\", 301.15 K]]"),
    );
    close(of(&findings, "maximum").value.unwrap(), 30.0, 1e-9);
    assert_eq!(of(&findings, "time_of_maximum").value, Some(30.0));
    // The ambient is 20 °C in all of it.
    close(of(&findings, "rise").value.unwrap(), 10.0, 1e-9);
}

#[test]
fn a_long_time_without_a_reading_is_said() {
    let findings = analysed(
        "instrument: i",
        &place("[[\"0:00\", 20], [\"1:00\", 21], [\"2:00\", 22], [\"3:00\", 23], [\"20:00\", 30]]"),
    );
    let visit = &findings.checks[0].visits[0];
    assert!(
        visit.notes.iter().any(|note| note.contains("no reading between 3:00 and 20:00")),
        "{:?}",
        visit.notes
    );
}

#[test]
fn a_half_hour_across_a_change_of_speed_does_not_count_nor_does_the_cooling_after_the_run() {
    // Level from 20 min on, but the speed changes at 40 min; then it stands and is level again.
    let readings = format!(
        "{{ambient: 20 °C, schedule: [[\"0:00\", 1000 rpm], [\"40:00\", 1010 rpm], [\"60:00\", 0 rpm]], \
          places: {{p: {{points: {}}}}}}}",
        points(2.0, 60, |t| if t < 20.0 { 20.0 + t } else { 40.0 })
    );
    let settled = of(&analysed("instrument: i", &readings), "settled_at").clone();
    assert_eq!(settled.value, None);
    assert!(says(&settled, "at one speed"), "{:?}", settled.notes);
}

#[test]
fn the_moment_of_the_maximum_is_known_no_better_than_readings_as_warm_allow() {
    let findings = analysed(
        "instrument: i",
        &place("[[\"0:00\", 20], [\"2:00\", 30.0], [\"4:00\", 30.0], [\"6:00\", 30.0], [\"8:00\", 25.0]]"),
    );
    let moment = of(&findings, "time_of_maximum");
    assert_eq!(moment.value, Some(2.0));
    close(moment.budget.expanded.standard, 4.0 / 3f64.sqrt(), 1e-12);
}
