//! Droop, regulation, feed and removal against published figures and closed forms.

use crate::common::{Made, close, found};

/// One visit or two, each with runs of one stock; `instrument` may be empty.
pub fn load_session(units: &str, instrument: &str, visits: &[(&str, &str)]) -> Made {
    let (listed, named) = if instrument.is_empty() {
        (String::new(), "")
    } else {
        (format!("instruments: {{t: {{name: Tachometer, {instrument}}}}}\n"), ", instrument: t")
    };
    let session = format!(
        "title: T\nunits: {units}\nmachines: {{m: {{name: M}}}}\n{listed}\
         checks: {{c: {{measure: load, unit: rpm{named}}}}}\n"
    );
    let visits: Vec<(String, String)> = visits
        .iter()
        .zip(1..)
        .map(|((state, own), day)| {
            let text = format!("state: {state}\ndate: 2026-03-0{day}\nreadings: {{c: {{{own}}}}}\n");
            ((*state).to_owned(), text)
        })
        .collect();
    let visits: Vec<(&str, &str)> = visits.iter().map(|(id, text)| (id.as_str(), text.as_str())).collect();
    Made::new(&session, &visits)
}

fn runs(droops: &[f64]) -> String {
    let runs = droops.iter().map(|droop| format!("{{unloaded: 1000, loaded: {:.1}}}", 1000.0 - 10.0 * droop));
    format!("cuts: {{oak: {{runs: [{}]}}}}", runs.collect::<Vec<_>>().join(", "))
}

/// Student's sleep data (R `datasets::sleep`): extra hours of sleep with each of two drugs.
const FIRST: [f64; 10] = [0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0];
const SECOND: [f64; 10] = [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4];

/// A motor that turns at 1795 r/min unloaded and 1725 r/min loaded: regulation
/// (n_nl − n_fl)/n_fl = 4.057971 % (the formula: a lecture on motors, scribd.com 837413520), droop
/// on the unloaded speed 3.899721 %. The denominator changes the answer, so both are said.
#[test]
fn droop_and_regulation_are_told_apart() {
    let made =
        load_session("inch", "", &[("baseline", "cuts: {oak: {runs: [{unloaded: 1795, loaded: 1725}]}}")]);
    let (_, findings) = made.analysed();
    let droop = found(&findings, "c", "baseline", "oak", "droop");
    close(droop.value.unwrap(), 3.899_721_448_467_966_8, 1e-12);
    assert!(droop.notes.iter().any(|note| note.contains("4.06 %")), "{:?}", droop.notes);
}

/// The ten paired differences of the sleep data as droops: mean 1.58, 95 % interval 0.7001142 to
/// 2.4598858 (R `t.test(paired = TRUE)`, as printed in its documentation; the same by scipy 1.17.1).
#[test]
fn the_interval_of_the_runs_is_student_s() {
    let differences: Vec<f64> = SECOND.iter().zip(FIRST).map(|(second, first)| second - first).collect();
    let made = load_session("inch", "", &[("baseline", &runs(&differences))]);
    let (_, findings) = made.analysed();
    let droop = found(&findings, "c", "baseline", "oak", "droop");
    let expanded = droop.expanded().unwrap();
    close(droop.value.unwrap(), 1.58, 1e-9);
    close(droop.value.unwrap() - expanded.expanded, 0.700_114_236_723_017_5, 1e-7);
    close(droop.value.unwrap() + expanded.expanded, 2.459_885_763_276_983, 1e-7);
    assert_eq!((expanded.dof, droop.n), (9.0, 10));
}

/// The two groups unpaired: Welch's interval of the change, −0.2054832 to 3.3654832 with 17.78
/// degrees of freedom (R `t.test(extra ~ group)`: t = −1.8608, df = 17.7765; scipy 1.17.1).
#[test]
fn the_change_of_the_droop_is_welch_s() {
    let made = load_session("inch", "", &[("as-found", &runs(&FIRST)), ("as-left", &runs(&SECOND))]);
    let (_, findings) = made.analysed();
    let changes = &findings.comparisons[0].checks[0].changes;
    let droop = changes.iter().find(|change| change.what == "droop" && change.at == "oak").unwrap();
    close(droop.low, -0.205_483_230_711_711_37, 1e-6);
    close(droop.high, 3.365_483_230_711_710_4, 1e-6);
    assert_eq!(droop.conclusion.words(), "no change shown");
}

/// Closed forms: 600 mm in 20 s is 1.8 m/min; 2.4 mm × 50 mm × 1.8 m/min is 216 cm³/min. In inches by
/// the exact inch of 25.4 mm (NIST SP 811, B.8).
#[test]
fn feed_and_removal_come_out_in_the_units_of_the_session() {
    let own = "kerf: 2.4 mm, cuts: {oak: {depth: 50 mm, runs: [{unloaded: 1000, loaded: 900, length: 600 mm, time: 20 s}]}}";
    for (units, feed, removal, per_removal) in [
        ("metric", 1.8, 216.0, 10.0 / 216.0),
        ("inch", 1800.0 / 304.8, 216_000.0 / 25.4f64.powi(3), 10.0 * 25.4f64.powi(3) / 216_000.0),
    ] {
        let (_, findings) = load_session(units, "", &[("baseline", own)]).analysed();
        let value = |what: &str| found(&findings, "c", "baseline", "oak", what).value.unwrap();
        close(value("feed_rate"), feed, 1e-12);
        close(value("removal_rate"), removal, 1e-12);
        close(value("droop_per_removal"), per_removal, 1e-12);
        close(value("loaded_speed"), 900.0, 1e-12);
    }
}

/// JCGM 100, 5.2.2: an error that both inputs share. d(1 − L/U) for an error that is a share of each
/// is exactly zero; for a fixed error c it is −c·(1 − L/U)/U; two display steps do not cancel.
#[test]
fn the_tachometer_s_own_error_nearly_cancels_and_its_steps_do_not() {
    let own = "cuts: {oak: {runs: [{unloaded: 1000, loaded: 900}]}}";
    let standard = |instrument: &str| {
        let (_, findings) = load_session("metric", instrument, &[("baseline", own)]).analysed();
        found(&findings, "c", "baseline", "oak", "droop").budget.expanded.standard
    };
    let step = 100.0 * (1.0 + 0.81f64).sqrt() / 1000.0 / 12f64.sqrt();
    close(standard("resolution: 1 rpm"), step, 1e-9);
    close(standard("resolution: 1 rpm, accuracy: 5 %"), step, 1e-9);
    let fixed = 100.0 * 3.0 * 0.1 / 1000.0 / 3f64.sqrt();
    close(standard("resolution: 1 rpm, accuracy: 3 rpm"), step.hypot(fixed), 1e-9);
}
