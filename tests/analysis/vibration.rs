//! What is claimed and what is not of recordings of vibration, through the whole program.

use std::f64::consts::TAU;
use std::fs;

use asfound::findings::{BoundOn, Findings};
use asfound::session::Problems;

use crate::common::{Made, found};

/// A session with one vibration check in g and one visit; `at` is what was read.
fn session(check: &str, at: &str) -> Made {
    let session = format!(
        "title: T\nunits: metric\nmachines: {{m: {{name: M}}}}\n\
         instruments: {{i: {{name: I, resolution: 0.001 g, accuracy: 5 %}}}}\n\
         checks: {{c: {{measure: vibration, instrument: i, unit: g{check}}}}}\n"
    );
    let visit = format!("state: baseline\ndate: 2026-03-02\nreadings: {{c: {{at: {{{at}}}}}}}\n");
    Made::new(&session, &[("v", &visit)])
}

/// Writes `v.csv` with a time column and what `of` gives for each time.
fn record(made: &Made, head: &str, times: impl Iterator<Item = f64>, of: impl Fn(f64) -> Vec<f64>) {
    let mut text = format!("{head}\n");
    for t in times {
        let cells: Vec<String> = of(t).iter().map(|value| format!("{value:.6}")).collect();
        text += &format!("{t:.6},{}\n", cells.join(","));
    }
    fs::write(made.folder.path().join("visits/v/v.csv"), text).unwrap();
}

fn even(rate: f64, seconds: f64) -> impl Iterator<Item = f64> {
    (0..(rate * seconds) as u32).map(move |n| f64::from(n) / rate)
}

fn value(findings: &Findings, at: &str, what: &str) -> f64 {
    found(findings, "c", "v", at, what).value.unwrap_or_else(|| panic!("{at} {what} has no value"))
}

fn near(value: f64, wanted: f64, share: f64) {
    assert!((value / wanted - 1.0).abs() < share, "{value} is not {wanted}");
}

const XY: &str = "1500 rpm: {file: v.csv, time: t, axes: {x: ax, y: ay}}";

#[test]
fn a_shaft_that_shakes_at_its_speed_is_measured_axis_by_axis_and_together() {
    let made = session("", XY);
    // 0.10193579 g at 25 Hz is 4.5 mm/s RMS (closed form); on y three quarters of it, a quarter turn later.
    let shake = |t: f64| vec![0.10193579 * (TAU * 25.0 * t).sin() + 1.0, 0.07645185 * (TAU * 25.0 * t).cos()];
    record(&made, "t,ax,ay", even(2000.0, 12.0), shake);
    let (_, findings) = made.analysed();
    near(value(&findings, "1500 rpm", "velocity_rms"), 4.5 * 1.25, 2e-3);
    near(value(&findings, "1500 rpm, x", "velocity_rms"), 4.5, 2e-3);
    near(value(&findings, "1500 rpm, y", "velocity_rms"), 4.5 * 0.75, 2e-3);
    near(value(&findings, "1500 rpm, x", "order_1"), 0.10193579, 1e-3);
    near(value(&findings, "1500 rpm", "order_1"), 0.10193579 * 1.25, 1e-3);
    near(value(&findings, "1500 rpm", "acceleration_rms"), 0.10193579 * 1.25 / 2f64.sqrt(), 1e-3);
    // The longest vector of this ellipse is its longer half-axis, not the root of the sum of the peaks.
    near(value(&findings, "1500 rpm", "acceleration_peak"), 0.10193579, 1e-3);
    near(value(&findings, "1500 rpm, x", "crest_factor"), 2f64.sqrt(), 1e-3);
    near(value(&findings, "1500 rpm", "dominant_frequency"), 25.0, 2e-3);
    let second = found(&findings, "c", "v", "1500 rpm", "order_2");
    assert!(second.value.unwrap() < 1e-3, "{second:?}");
    assert!(found(&findings, "c", "v", "1500 rpm, x", "velocity_rms").aside, "an axis stands aside");
    assert!(!found(&findings, "c", "v", "1500 rpm", "velocity_rms").aside);
    let says = &findings.checks[0].patterns[0].says;
    assert!(says.contains("consistent with unbalance or an eccentric seat"), "{says}");
}

#[test]
fn a_single_axis_is_not_said_twice() {
    let made = session("", "1500 rpm: {file: v.csv, rate: 2000 Hz, axes: {z: 2}}");
    record(&made, "t,az", even(2000.0, 6.0), |t| vec![0.1 * (TAU * 25.0 * t).sin()]);
    let (_, findings) = made.analysed();
    let all = &findings.checks[0].visits[0].findings;
    assert!(all.iter().all(|finding| finding.at == "1500 rpm" && !finding.aside), "{all:#?}");
    near(value(&findings, "1500 rpm", "order_1"), 0.1, 1e-3);
}

#[test]
fn a_phone_s_rate_cannot_see_a_fast_spindle_and_says_where_it_would_show() {
    let made = session(
        ", bearing: {balls: 9, ball: 7.94 mm, pitch: 39.04 mm}",
        "4000 rpm: {file: v.csv, time: t, axes: {x: ax, y: ay}}",
    );
    let frequency = 4000.0 / 60.0;
    let shake = |t: f64| vec![0.2 * (TAU * frequency * t).sin(), 0.1 * (TAU * frequency * t).cos()];
    record(&made, "t,ax,ay", even(100.0, 20.0), shake);
    let (_, findings) = made.analysed();
    let order = found(&findings, "c", "v", "4000 rpm", "order_1");
    assert!(order.value.is_none());
    assert!(
        order.notes[0].contains("Not visible") && order.notes[0].contains("33.33 Hz"),
        "{:?}",
        order.notes
    );
    let race = found(&findings, "c", "v", "4000 rpm", "outer_race");
    assert!(race.value.is_none() && race.notes[0].contains("Recorded too slowly"), "{:?}", race.notes);
    // The band ends at 0.4 of the rate, which a comparison must see.
    let set_up = &findings.checks[0].visits[0].set_up;
    assert!(
        set_up.iter().any(|(name, text)| name == "velocity band" && text.contains("10 Hz to 40 Hz")),
        "{set_up:?}"
    );
}

#[test]
fn the_unit_in_a_file_s_header_wins_where_it_is_one_of_acceleration() {
    let made = session("", XY);
    let shake = |t: f64| vec![(TAU * 25.0 * t).sin(), 0.5 * (TAU * 25.0 * t).cos()];
    record(&made, "t,ax (m/s²),ay (m/s2)", even(2000.0, 8.0), shake);
    let (_, findings) = made.analysed();
    near(value(&findings, "1500 rpm, x", "order_1"), 1.0 / 9.80665, 1e-3);
    let notes = &findings.checks[0].visits[0].notes;
    assert!(notes.iter().any(|note| note.contains("converted to g")), "{notes:?}");
    for (head, complaint) in
        [("t,ax (mm/s),ay (mm/s)", "velocity"), ("t,ax (g),ay (m/s²)", "different units")]
    {
        let made = session("", XY);
        record(&made, head, even(2000.0, 2.0), shake);
        let mut problems = Problems::default();
        let read = asfound::session::read(made.folder.path(), &mut problems).unwrap();
        asfound::analysis::analyse(&read, &asfound::registry::measures(), &mut problems);
        let said: Vec<&str> = problems.iter().map(|problem| problem.message.as_str()).collect();
        assert!(said.iter().any(|message| message.contains(complaint)), "{head}: {said:?}");
    }
}

#[test]
fn uneven_samples_are_brought_to_a_grid_for_the_spectrum_and_that_is_said() {
    let made = session("", XY);
    let uneven = (0..20_000_u32).map(|n| {
        // A jitter of 4 %, the same every time.
        f64::from(n) / 1000.0 + 0.00014 * (f64::from((n * 7919) % 101) / 101.0 - 0.5)
    });
    let shake = |t: f64| vec![0.1 * (TAU * 25.0 * t).sin(), 0.05 * (TAU * 75.0 * t).sin()];
    record(&made, "t,ax,ay", uneven, shake);
    let (_, findings) = made.analysed();
    near(value(&findings, "1500 rpm, x", "order_1"), 0.1, 2e-3);
    near(value(&findings, "1500 rpm, y", "order_3"), 0.05, 4e-3);
    let notes = &findings.checks[0].visits[0].notes;
    assert!(notes.iter().any(|note| note.contains("even grid")), "{notes:?}");
}

#[test]
fn a_gap_is_not_bridged() {
    let made = session("", XY);
    // After the gap the shake goes on half a turn later: across it, a stretch would hold both.
    let times = even(2000.0, 8.0).chain(even(2000.0, 8.0).map(|t| t + 9.02));
    let shake = |t: f64| vec![0.1 * (TAU * 25.0 * t).sin(), 0.0];
    record(&made, "t,ax,ay", times, shake);
    let (_, findings) = made.analysed();
    let order = found(&findings, "c", "v", "1500 rpm, x", "order_1");
    near(order.value.unwrap(), 0.1, 1e-3);
    let floor = order.floor.unwrap();
    assert!(floor < 1e-4, "nothing but the line is in the spectrum: {floor}");
}

#[test]
fn a_pit_in_the_outer_race_is_seen_and_the_rest_is_bounded() {
    let made = session(
        ", bearing: {balls: 9, ball: 7.94 mm, pitch: 39.04 mm}",
        "1797 rpm: {file: v.csv, time: t, axes: {x: ax}}",
    );
    let line = 107.36 * 0.995;
    let ring = |t: f64| {
        let since = t.rem_euclid(1.0 / line);
        let noise =
            f64::from(((t * 8000.0) as u32).wrapping_mul(2_654_435_761) >> 8) / f64::from(1 << 24) - 0.5;
        vec![0.3 * (-since * 700.0).exp() * (TAU * 2100.0 * since).sin() + 0.1 * noise]
    };
    record(&made, "t,ax", even(8000.0, 8.0), ring);
    let (_, findings) = made.analysed();
    let outer = found(&findings, "c", "v", "1797 rpm", "outer_race");
    assert!(outer.value.is_some_and(|value| value > outer.floor.unwrap()), "{outer:?}");
    assert!(
        outer.notes[0].contains("Seen at 106.8") || outer.notes[0].contains("Seen at 106.9"),
        "{:?}",
        outer.notes
    );
    let ball = found(&findings, "c", "v", "1797 rpm", "ball");
    assert!(
        ball.value.is_none() && matches!(ball.bound, Some(BoundOn::AtMost(bound)) if bound > 0.0),
        "{ball:?}"
    );
    let says: Vec<&String> = findings.checks[0].patterns.iter().map(|pattern| &pattern.says).collect();
    assert!(says.iter().any(|says| says.contains("outer race's line")), "{says:?}");
}

#[test]
fn velocities_of_bands_cut_differently_are_not_like_for_like_whatever_the_check_says() {
    let session = "title: T\nunits: metric\nmachines: {m: {name: M}}\n\
                   instruments: {i: {name: I, resolution: 0.001 g, accuracy: 5 %}}\n\
                   checks: {c: {measure: vibration, instrument: i, unit: g}}\n";
    let visit = |state: &str, day: u8| {
        format!("state: {state}\ndate: 2026-03-{day:02}\nreadings: {{c: {{at: {{{XY}}}}}}}\n")
    };
    let fair = |rates: [f64; 2]| {
        let made = Made::new(session, &[("v", &visit("as-found", 2)), ("w", &visit("as-left", 9))]);
        let shake = |t: f64| vec![0.1 * (TAU * 25.0 * t).sin() + 1.0, 0.07 * (TAU * 25.0 * t).cos()];
        record(&made, "t,ax,ay", even(rates[0], 12.0), shake);
        let here = made.folder.path().join("visits");
        fs::copy(here.join("v/v.csv"), here.join("w/v.csv")).unwrap();
        record(&made, "t,ax,ay", even(rates[1], 12.0), shake);
        let (_, findings) = made.analysed();
        findings.comparisons[0].checks[0].like_for_like
    };
    assert!(fair([4000.0, 4000.0]));
    assert!(!fair([4000.0, 500.0]), "500 samples a second end the band at 200 Hz");
}
