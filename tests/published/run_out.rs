//! Run-out: harmonics against numpy, a published circle, exact profiles; floors against closed
//! forms.

use asfound::analysis::harmonics::{At, fit, non_repeating, range_can_miss};
use serde_json::Value;

use crate::common::{Made, close, found, published, run_out_session};

fn oracle() -> Value {
    serde_json::from_str(&published("scipy_change.json")).unwrap()
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap()
}

/// Angles and turns of a case; a reading that was struck stands as null.
fn readings(case: &Value) -> (Vec<At>, Vec<f64>) {
    let (mut places, mut values) = (Vec::new(), Vec::new());
    for (turn, list) in case["turns"].as_array().unwrap().iter().enumerate() {
        for (value, angle) in list.as_array().unwrap().iter().zip(case["angles"].as_array().unwrap()) {
            if let Some(value) = value.as_f64() {
                places.push(At { turn, angle: number(angle) });
                values.push(value);
            }
        }
    }
    (places, values)
}

#[test]
fn harmonics_of_unequal_angles_several_turns_and_struck_readings_are_numpy_s() {
    // numpy.linalg.lstsq, numpy 2.4.6 (`scripts/oracle_change.py`).
    for (name, case) in oracle()["harmonic_fits"].as_object().unwrap() {
        let (places, values) = readings(case);
        let found = fit(&places, &values).unwrap();
        let waves = case["waves"].as_array().unwrap();
        assert_eq!(found.harmonics.len(), waves.len(), "{name}");
        for ((a, b), wave) in found.harmonics.iter().zip(waves) {
            assert!((a - number(&wave["a"])).abs() < 1e-9, "{name}: a");
            assert!((b - number(&wave["b"])).abs() < 1e-9, "{name}: b");
        }
        close(found.peak_to_peak(1).unwrap(), number(&waves[0]["size"]), 1e-9);
        close(found.high_spot(1).unwrap(), number(&waves[0]["high_at_deg"]), 1e-9);
        assert_eq!(found.dof as u64, case["dof"].as_u64().unwrap(), "{name}");
        close(found.residual().unwrap(), number(&case["residual"]), 1e-7);
        for (found, wanted) in found.constants.iter().zip(case["constants"].as_array().unwrap()) {
            assert!((found - number(wanted)).abs() < 1e-9, "{name}: constants");
        }
    }
}

#[test]
fn an_exact_profile_comes_back_exactly() {
    let oracle = oracle();
    let case = &oracle["exact_profile"];
    let (places, values) = readings(case);
    let found = fit(&places, &values).unwrap();
    let expected = &case["expected"];
    close(found.peak_to_peak(1).unwrap(), number(&expected["once_per_turn"]), 1e-12);
    close(found.peak_to_peak(2).unwrap(), number(&expected["twice_per_turn"]), 1e-12);
    close(found.high_spot(1).unwrap(), number(&expected["once_high_at_deg"]), 1e-10);
    close(found.high_spot(2).unwrap(), number(&expected["twice_high_at_deg"]), 1e-10);
    assert!(found.residual().unwrap() < 1e-12);
}

#[test]
fn the_profile_of_twelve_has_the_eccentricity_of_the_least_squares_circle() {
    // a = 2/N Σ r cos θ, b = 2/N Σ r sin θ: the least-squares circle's formulae for equally spaced
    // angles (BS 3730 / ISO 4291, annex, as quoted in CHECKVALUES 4.1); values by numpy 2.4.6.
    let oracle = oracle();
    let case = &oracle["profile12"];
    let angles: Vec<f64> = case["angles"].as_array().unwrap().iter().map(number).collect();
    let values: Vec<f64> = case["r"].as_array().unwrap().iter().map(number).collect();
    let places: Vec<At> = angles.iter().map(|angle| At { turn: 0, angle: *angle }).collect();
    let found = fit(&places, &values).unwrap();
    close(found.peak_to_peak(1).unwrap(), 15.996_547_835_612_478, 1e-10);
    close(found.peak_to_peak(2).unwrap(), 2.0 * 3.000_337_481_017_759_4, 1e-10);
    close(found.peak_to_peak(3).unwrap(), 2.0 * 1.500_237_018_311_143, 1e-10);
    close(found.high_spot(1).unwrap(), 40.002_749_654_833_316, 1e-10);
    let (a, b) = (
        angles.iter().zip(&values).map(|(t, r)| r * t.to_radians().cos()).sum::<f64>() / 6.0,
        angles.iter().zip(&values).map(|(t, r)| r * t.to_radians().sin()).sum::<f64>() / 6.0,
    );
    close(found.harmonics[0].0, a, 1e-12);
    close(found.harmonics[0].1, b, 1e-12);
    // The same by the whole program: TIR is not 2e where there is form error.
    let made = run_out_session("0.01 µm", "", std::slice::from_ref(&values));
    let (_, findings) = made.analysed();
    let tir = found_value(&findings, "tir");
    close(tir, 19.17, 1e-9);
}

fn found_value(findings: &asfound::findings::Findings, what: &str) -> f64 {
    found(findings, "c", "v", "", what).value.unwrap()
}

#[test]
fn a_published_circle_s_centre_is_found_from_its_points_round_the_turn() {
    // Gander, Golub, Strebel, BIT 34 (1994) 558: geometric centre (4.739782, 2.983533), radius
    // 4.714226. Seen from near its centre a circle's radius is, to first order, the mean radius
    // plus the eccentricity's cosine; iterating the fit moves the centre onto the published one.
    let (x, y) = ([1.0, 2.0, 5.0, 7.0, 9.0, 3.0], [7.0, 6.0, 8.0, 7.0, 5.0, 7.0]);
    let (mut cx, mut cy, mut radius) = (4.7_f64, 3.0_f64, 0.0_f64);
    for _ in 0..200 {
        let polar: Vec<(f64, f64)> = x
            .iter()
            .zip(y)
            .map(|(x, y)| ((y - cy).atan2(x - cx).to_degrees().rem_euclid(360.0), (x - cx).hypot(y - cy)))
            .collect();
        // One harmonic only: six points in one half plane carry no more.
        let rows = nalgebra::DMatrix::from_fn(6, 3, |row, column| match column {
            0 => 1.0,
            1 => polar[row].0.to_radians().cos(),
            _ => polar[row].0.to_radians().sin(),
        });
        let values = nalgebra::DVector::from_iterator(6, polar.iter().map(|(_, r)| *r));
        let solved = rows.svd(true, true).solve(&values, 1e-12).unwrap();
        (cx, cy, radius) = (cx + solved[1], cy + solved[2], solved[0]);
    }
    close(cx, 4.739_782, 1e-6);
    close(cy, 2.983_533, 1e-6);
    close(radius, 4.714_226, 1e-6);
    // And the program's own fit of an eccentric circle of that radius, eight readings a turn.
    let e = 0.02;
    let places: Vec<At> = (0..8).map(|index| At { turn: 0, angle: 45.0 * f64::from(index) }).collect();
    let values: Vec<f64> = places
        .iter()
        .map(|at| {
            let t = (at.angle - 30.0).to_radians();
            e * t.cos() + (radius * radius - (e * t.sin()).powi(2)).sqrt()
        })
        .collect();
    let found = fit(&places, &values).unwrap();
    close(found.peak_to_peak(1).unwrap(), 2.0 * e, 1e-6);
    close(found.high_spot(1).unwrap(), 30.0, 1e-6);
}

#[test]
fn a_sampled_range_misses_at_most_what_theory_says() {
    // Worst phase of max − min over N equally spaced points of e·cos θ is 2e·cos(π/N) for even N:
    // 0.7071, 0.9239, 0.9659, 0.9914 for N = 4, 8, 12, 24 (CHECKVALUES 4.6).
    for (n, kept) in [(4, 0.7071), (8, 0.9239), (12, 0.9659), (24, 0.9914)] {
        assert!((1.0 - range_can_miss(1.0, n) - kept).abs() < 5e-5);
    }
    // Any N: searched over all phases.
    for n in 3..=16 {
        let step = std::f64::consts::TAU / n as f64;
        let worst = (0..10_000)
            .map(|phase| {
                let phase = step * f64::from(phase) / 10_000.0;
                let values = (0..n).map(|index| (phase + step * index as f64).cos());
                let (low, high) = values.fold((2.0_f64, -2.0_f64), |(l, h), v| (l.min(v), h.max(v)));
                high - low
            })
            .fold(f64::INFINITY, f64::min);
        assert!((2.0 - worst - range_can_miss(2.0, n)).abs() < 1e-6, "N = {n}");
    }
}

#[test]
fn the_floor_of_a_range_of_pure_rounding_noise_grows_with_the_number_of_readings() {
    // The 95 % point of the range of N rectangular variates solves N r^(N−1) − (N−1) r^N = 0.95
    // (any text on order statistics; solved by scipy 1.17.1).
    let oracle = oracle();
    for n in [4_usize, 8, 12, 24, 72] {
        let made = run_out_session("1 µm", "", &[vec![0.0; n]]);
        let (_, findings) = made.analysed();
        let floor = found(&findings, "c", "v", "", "tir").floor.unwrap();
        let wanted = number(&oracle["range_of_rectangular_095"][n.to_string()]);
        assert!((floor / wanted - 1.0).abs() < 0.003, "N = {n}: {floor}, theory {wanted}");
    }
}

#[test]
fn the_floor_of_a_range_of_normal_noise_is_the_studentized_range_s() {
    // scipy.stats.studentized_range.ppf(0.95, N, inf) and (…, 5), scipy 1.17.1: a step far below the scatter, which ten thousand
    // repeat readings make known and six show with five degrees of freedom.
    let oracle = oracle();
    for (key, count) in [("range_of_normal_095", 10_002), ("range_of_normal_095_of_six", 6_usize)] {
        let readings = vec!["-1, 1"; count / 2].join(", ");
        let repeats = format!(", repeat_readings: [{readings}], repeat_unit: µm");
        let deviation = (count as f64 / (count - 1) as f64).sqrt();
        for n in [3_usize, 8, 12, 24] {
            let made = run_out_session("0.001 µm", &repeats, &[vec![0.0; n]]);
            let (_, findings) = made.analysed();
            let floor = found(&findings, "c", "v", "", "tir").floor.unwrap() / deviation;
            let wanted = number(&oracle[key][n.to_string()]);
            assert!((floor / wanted - 1.0).abs() < 0.01, "{key}, N = {n}: {floor}, theory {wanted}");
        }
    }
}

#[test]
fn a_lever_s_tip_angle_multiplies_by_its_cosine() {
    // Published compensation: 0.200 mm at 10° is 0.196–0.197, at 20° 0.188, at 30° 0.173–0.174
    // (catalogue table named in CHECKVALUES 4.8, printed to two digits of the factor).
    for (angle, factor) in
        [(10.0, 0.98), (20.0, 0.94), (30.0, 0.87), (40.0, 0.77), (50.0, 0.64), (60.0, 0.50)]
    {
        let instrument = format!(", tip_angle: {angle} deg");
        let made = run_out_session("1 µm", &instrument, &[vec![0.0, 100.0, 200.0, 100.0]]);
        let (_, findings) = made.analysed();
        let shown = found_value(&findings, "tir") / 200.0;
        assert!((shown - factor).abs() <= 0.005 + 1e-9, "{angle}°: {shown}");
    }
}

#[test]
fn what_does_not_repeat_is_the_pooled_deviation_once_each_turn_s_zero_is_taken_off() {
    // Two-way layout without interaction: residual sum of squares over (T − 1)(N − 1) degrees of
    // freedom (NIST/SEMATECH e-Handbook, 7.4.3.8, two-way ANOVA).
    let turns = [[0.0, 1.0, 2.0, 1.0], [0.2, 1.0, 2.4, 1.2], [0.1, 1.3, 2.1, 0.9]];
    let grand: f64 = turns.iter().flatten().sum::<f64>() / 12.0;
    let mut left = 0.0;
    for turn in &turns {
        let own = turn.iter().sum::<f64>() / 4.0;
        for (index, value) in turn.iter().enumerate() {
            let angle = turns.iter().map(|t| t[index]).sum::<f64>() / 3.0;
            left += (value - own - angle + grand).powi(2);
        }
    }
    let (mut places, mut values) = (Vec::new(), Vec::new());
    for (turn, list) in turns.iter().enumerate() {
        for (index, value) in list.iter().enumerate() {
            places.push(At { turn, angle: 90.0 * index as f64 });
            values.push(*value);
        }
    }
    let (deviation, dof) = non_repeating(&places, &values).unwrap();
    assert_eq!(dof, 6);
    close(deviation, (left / 6.0).sqrt(), 1e-9);
}

#[test]
fn a_tilted_axis_shows_its_offset_its_tilt_and_the_wobble_they_give() {
    // e(z) = offset + tilt·z by construction: offset 10 µm at 0°, tilt 0.5 µm/mm at 90°.
    let turn = |z: f64| -> String {
        let cells: Vec<String> = (0..8)
            .map(|index| {
                let t = f64::from(index) * std::f64::consts::FRAC_PI_4;
                format!("{:.4}", 10.0 * t.cos() + 0.5 * z * t.sin())
            })
            .collect();
        format!("[[{}]]", cells.join(", "))
    };
    let made = Made::new(
        "title: T\nunits: metric\nmachines: {m: {name: M}}\n\
         instruments: {i: {name: I, resolution: 0.001 µm}}\nchecks:\n  \
         r: {measure: run-out, direction: radial, instrument: i, unit: µm, stations: {a: {from: 0 mm}, b: {from: 2 cm}, c: {from: 40 mm}}}\n",
        &[(
            "v",
            &format!(
                "state: baseline\ndate: 2026-03-02\nreadings: {{r: {{stations: {{a: {{turns: {}}}, b: {{turns: {}}}, c: {{turns: {}}}}}}}}}\n",
                turn(0.0),
                turn(20.0),
                turn(40.0)
            ),
        )],
    );
    let (_, findings) = made.analysed();
    close(found(&findings, "r", "v", "all stations", "offset").value.unwrap(), 10.0, 1e-4);
    let tilt = found(&findings, "r", "v", "all stations", "tilt");
    assert_eq!(tilt.unit.symbol(), "mm/m");
    close(tilt.value.unwrap(), 0.5, 1e-4);
    assert!(tilt.notes[0].contains("90°"), "{:?}", tilt.notes);
}
