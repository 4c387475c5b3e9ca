//! Temperature: certified fits (NIST `StRD`), the GUM's straight line, the Stefan–Boltzmann law.

use asfound::analysis::first_order::{Course, Initial, descend, fit};
use asfound::analysis::straight_line;
use asfound::analysis::temperature::emissivity::{Slopes, corrected};

use crate::common::{Made, close, found, log_relative_error, published};

/// The columns y and x of a NIST data file, from a line (counted from 1) on.
fn columns(text: &str, from: usize) -> (Vec<f64>, Vec<f64>) {
    text.lines()
        .skip(from - 1)
        .filter_map(|line| {
            let mut cells = line.split_whitespace();
            let y: f64 = cells.next()?.parse().ok()?;
            Some((cells.next()?.parse::<f64>().ok()?, y))
        })
        .unzip()
}

/// A set of the form b1·(1 − exp(−b2·x)): NIST `StRD`, nonlinear regression; the file's header has the
/// certified values and both starts.
struct Certified {
    name: &'static str,
    b1: (f64, f64),
    b2: (f64, f64),
    left: f64,
    deviation: f64,
    starts: [(f64, f64); 2],
}

const BOX_BOD: Certified = Certified {
    name: "BoxBOD",
    b1: (2.138_094_088_9e2, 1.235_451_517_6e1),
    b2: (5.472_374_854_2e-1, 1.045_599_323_7e-1),
    left: 1.168_008_876_6e3,
    deviation: 1.708_807_242_3e1,
    starts: [(1.0, 1.0), (100.0, 0.75)],
};

const MISRA: Certified = Certified {
    name: "Misra1a",
    b1: (2.389_421_291_8e2, 2.707_007_524_1),
    b2: (5.501_564_318_1e-4, 7.266_868_843_6e-6),
    left: 1.245_513_889_4e-1,
    deviation: 1.018_787_633_0e-1,
    starts: [(500.0, 0.0001), (250.0, 0.0005)],
};

fn course((b1, b2): (f64, f64)) -> Course {
    Course { settles: b1, start: 0.0, rate: b2 }
}

#[test]
fn nist_s_first_order_sets_come_out_to_the_certified_digits_from_both_starts() {
    for set in [BOX_BOD, MISRA] {
        let (x, y) = columns(&published(&format!("nist_nls/{}.dat", set.name)), 61);
        for start in set.starts {
            let found = fit(&x, &y, Initial::Fixed(0.0), &[course(start)]).unwrap();
            for (value, certified) in [
                (found.course.settles, set.b1.0),
                (found.course.rate, set.b2.0),
                (found.standard.settles, set.b1.1),
                (found.standard.rate, set.b2.1),
                (found.left, set.left),
                (found.deviation, set.deviation),
            ] {
                let digits = log_relative_error(value, certified);
                assert!(digits >= 8.0, "{}: {value} has {digits} digits of {certified}", set.name);
            }
        }
    }
}

#[test]
fn the_false_minimum_of_box_bod_is_found_out() {
    // NIST `StRD` BoxBOD. From start 1 scipy 1.17.1 (curve_fit, lm) "converges" to b1 = 172.5, b2 = 110.949
    // with a sum of squares of 9771.5 against the certified 1168.0, and an infinite covariance.
    let (x, y) = columns(&published("nist_nls/BoxBOD.dat"), 61);
    let flat = course((172.5, 110.948_912_723_565_19));
    let trapped = descend(&x, &y, Initial::Fixed(0.0), flat).unwrap();
    assert!((trapped.left - 9771.5).abs() < 0.1 && trapped.singular, "{trapped:?}");
    let found = fit(&x, &y, Initial::Fixed(0.0), &[flat]).unwrap();
    assert!(found.left < 1168.01);
    assert!(found.false_minima.iter().any(|left| (left - 9771.5).abs() < 0.1), "{:?}", found.false_minima);
    // Held from running away, the descent from either of NIST's starts ends where it should.
    for start in BOX_BOD.starts {
        let good = descend(&x, &y, Initial::Fixed(0.0), course(start)).unwrap();
        assert!(!good.singular && good.left < 1168.01, "{good:?}");
    }
}

#[test]
fn a_course_with_a_free_beginning_is_scipy_s() {
    // scipy 1.17.1, optimize.curve_fit with tolerances of 1e-15 (numpy 2.4.6); invented readings.
    let x: Vec<f64> = (0..11).map(|i| 2.0 * f64::from(i)).collect();
    let y = [20.1, 26.9, 32.4, 37.3, 41.0, 44.5, 47.0, 49.4, 51.3, 52.8, 54.2];
    let found = fit(&x, &y, Initial::Free, &[]).unwrap();
    close(found.course.settles, 60.804_883_806_360_664, 1e-7);
    close(found.course.start, 20.107_676_715_048_274, 1e-7);
    close(found.course.rate, 0.090_705_488_226_753_12, 1e-7);
    close(found.standard.settles, 0.206_165_205_309_577_81, 1e-6);
    close(found.standard.start, 0.076_552_613_746_478_51, 1e-6);
    close(found.standard.rate, 0.000_996_237_095_499_389, 1e-6);
    close(found.left, 0.064_690_120_065_445_72, 1e-9);
    close(found.time_constant(), 11.024_691_223_756_129, 1e-7);
    close(found.time_constant_standard(), 0.121_086_458_804_738_24, 1e-6);
}

#[test]
fn the_course_keeps_the_shares_of_its_time_constants() {
    // 1 − exp(−t/τ), closed form.
    let unit = Course { settles: 1.0, start: 0.0, rate: 1.0 };
    for (x, share) in [
        (0.5, 0.393_469_340_287_366_6),
        (1.0, 0.632_120_558_828_557_7),
        (2.0, 0.864_664_716_763_387_3),
        (3.0, 0.950_212_931_632_136),
        (5.0, 0.993_262_053_000_914_5),
    ] {
        close(unit.at(x), share, 1e-14);
    }
    // Three equally spaced points fix the end: (T1² − T0·T2)/(2·T1 − T0 − T2) (CHECKVALUES 5.3).
    let warm = Course { settles: 60.0, start: 20.0, rate: 1.0 / 12.0 };
    close(warm.at(10.0), 42.616_071_659_716_87, 1e-13);
    close(warm.at(20.0), 52.444_975_886_497_53, 1e-13);
    let x: Vec<f64> = (0..7).map(|i| 10.0 * f64::from(i)).collect();
    let y: Vec<f64> = x.iter().map(|x| warm.at(*x)).collect();
    let found = fit(&x, &y, Initial::Free, &[]).unwrap();
    close(found.course.settles, 60.0, 1e-9);
    close(found.time_constant(), 12.0, 1e-9);
}

#[test]
fn norris_has_its_certified_digits() {
    // NIST `StRD`, linear regression, Norris (36 points).
    let (x, y) = columns(&published("nist_linregress/Norris.dat"), 61);
    let line = straight_line::fit(&x, &y).unwrap();
    assert_eq!(line.n, 36);
    for (value, certified) in [
        (line.intercept, -0.262_323_073_774_029),
        (line.slope, 1.002_116_818_020_45),
        (line.standard_at(0.0), 0.232_818_234_301_152),
        (line.slope_standard(), 0.000_429_796_848_199_937),
        (line.deviation, 0.884_796_396_144_373),
        (line.left, 26.617_398_529_422_4),
    ] {
        let digits = log_relative_error(value, certified);
        assert!(digits >= 10.0, "{value} has {digits} digits of {certified}");
    }
}

fn numbers(data: &serde_json::Value) -> Vec<f64> {
    data.as_array().unwrap().iter().map(|number| number.as_f64().unwrap()).collect()
}

#[test]
fn the_thermometer_of_h3_has_its_line_its_correlation_and_its_predicted_correction() {
    // JCGM 100:2008, H.3 (Table H.6): y1 = −0.1712 (u 0.0029), y2 = 0.00218 (u 0.00067), r = −0.930,
    // s = 0.0035, b(30 °C) = −0.1494 (u 0.0041, 9 degrees of freedom). Full precision by numpy 2.4.6.
    let all: serde_json::Value = serde_json::from_str(&published("small_datasets.json")).unwrap();
    let data = &all["gum_h3"];
    let t0 = data["t0"].as_f64().unwrap();
    let x: Vec<f64> = numbers(&data["t"]).iter().map(|t| t - t0).collect();
    let line = straight_line::fit(&x, &numbers(&data["b"])).unwrap();
    close(line.intercept, -0.171_203_790_131_35, 1e-10);
    close(line.standard_at(0.0), 0.002_877_597_835_159_956_3, 1e-9);
    close(line.slope, 0.002_182_697_739_887_280_3, 1e-9);
    close(line.slope_standard(), 0.000_667_938_772_827_823_2, 1e-9);
    close(line.correlation(), -0.930_429_603_093_446, 1e-10);
    close(line.deviation, 0.003_497_563_963_505_287_7, 1e-9);
    close(line.at(10.0), -0.149_376_812_732_477_16, 1e-10);
    close(line.standard_at(10.0), 0.004_138_595_752_854_95, 1e-9);
    assert_eq!(line.dof(), 9.0);
    for (value, printed, places) in [
        (line.intercept, -0.1712, 4),
        (line.standard_at(0.0), 0.0029, 4),
        (line.slope, 0.00218, 5),
        (line.slope_standard(), 0.00067, 5),
        (line.correlation(), -0.930, 3),
        (line.at(10.0), -0.1494, 4),
        (line.standard_at(10.0), 0.0041, 4),
    ] {
        let half = 0.5 * 10f64.powi(-places);
        assert!((value - printed).abs() <= half, "{value} is not {printed}");
    }
}

const ZERO: f64 = 273.15;

#[test]
fn an_emissivity_is_corrected_as_the_stefan_boltzmann_law_says() {
    // CHECKVALUES 5.1: ((Ta⁴ − (1 − ε)·Tr⁴)/ε)^¼ in kelvin, by Python 3.11; the algebra as in the data
    // sheet of a thermopile sensor. Shown at setting 1, emissivity, surroundings, has; all °C.
    for (shown, surface, around, has) in [
        (60.0, 0.95, 22.0, 61.670_484_125_414_646),
        (60.0, 0.90, 22.0, 63.497_720_795_575_33),
        (60.0, 0.60, 22.0, 79.533_124_506_748_55),
        (60.0, 0.30, 22.0, 117.775_043_833_253_96),
        (40.0, 0.10, 22.0, 135.416_465_973_111_43),
        (22.0, 0.30, 22.0, 22.0),
        (30.0, 0.50, 60.0, -13.108_894_118_555_27),
    ] {
        let found = corrected(shown + ZERO, around + ZERO, 1.0, surface).unwrap() - ZERO;
        assert!((found - has).abs() < 1e-9, "{found} is not {has}");
    }
    // The thermometer set to 0.95, the surface 0.80, the room 22 °C, 60 °C shown.
    let found = corrected(60.0 + ZERO, 22.0 + ZERO, 0.95, 0.80).unwrap() - ZERO;
    assert!((found - 65.840_614_625_528_3).abs() < 1e-9, "{found}");
    // −38.26 K for a whole unit of emissivity at 0.9.
    let slopes = Slopes::of(60.0 + ZERO, 22.0 + ZERO, 1.0, 0.9).unwrap();
    assert!((slopes.surface + 38.26).abs() < 0.005, "{}", slopes.surface);
}

#[test]
fn what_a_surface_sends_is_what_is_read_back() {
    // Stefan–Boltzmann, σ = 5.670374419e-8 W/(m²·K⁴) (CODATA 2018): the surface sends ε·σT⁴ and reflects
    // (1 − ε)·σT_r⁴; the thermometer takes it for a surface of its own setting.
    const SIGMA: f64 = 5.670_374_419e-8;
    for surface in [0.1, 0.3, 0.6, 0.95, 1.0] {
        for set in [0.3, 0.95, 1.0] {
            for (has, around) in [(300.0, 293.15), (450.0, 280.0), (260.0, 310.0), (295.0, 295.0)] {
                let (has, around): (f64, f64) = (has, around);
                let seen = SIGMA * (surface * has.powi(4) + (1.0 - surface) * around.powi(4));
                let fourth = (seen / SIGMA - (1.0 - set) * around.powi(4)) / set;
                if fourth < 0.0 {
                    continue;
                }
                let back = corrected(fourth.powf(0.25), around, set, surface).unwrap();
                assert!((back - has).abs() < 1e-9, "{back} is not {has}");
            }
        }
    }
}

fn session(unit: &str, more: &str, limit: &str, readings: &str) -> Made {
    Made::new(
        &format!(
            "title: T\nunits: metric\nmachines: {{m: {{name: M}}}}\n\
             instruments: {{i: {{name: I, resolution: 0.1 K, accuracy: 1 K{more}}}}}\n\
             checks: {{c: {{measure: temperature, instrument: i, unit: {unit}, limit: {limit}}}}}\n"
        ),
        &[("v", &format!("state: baseline\ndate: 2026-03-02\nreadings: {{c: {readings}}}\n"))],
    )
}

#[test]
fn a_rise_of_72_fahrenheit_is_40_kelvin_and_its_limit_converts_as_a_difference() {
    // A published bearing limit is a rise of 72 °F (40 K); as a temperature 72 °F would be 22.2 °C.
    let made = session(
        "°F",
        "",
        "{at_most: 40 K, of: rise}",
        "{ambient: 66 °F, places: {p: {points: [[\"0:00\", 66.0], [\"10:00\", 138.0]]}}}",
    );
    let (_, findings) = made.analysed();
    let rise = found(&findings, "c", "v", "p", "rise");
    close(rise.value.unwrap(), 72.0, 1e-12);
    close(rise.limit.as_ref().unwrap().at_most.unwrap(), 72.0, 1e-12);
    assert!(rise.difference);
    // Step and accuracy of both readings: √2·√(0.1²/12 + 1²/3) K, as a difference in °F.
    let standard = 1.8 * (2.0 * (0.01 / 12.0 + 1.0 / 3.0f64)).sqrt();
    close(rise.budget.expanded.standard, standard, 1e-12);
}

#[test]
fn the_rate_at_the_end_and_the_half_hour_are_scipy_s() {
    // scipy 1.17.1, stats.linregress, on 60 − 40·exp(−t/30) rounded to 0.1, every 5 min for 3 h: the
    // rate over the last fifth (8 readings), and the first half hour that changes by less than 1 K.
    let points: Vec<String> = (0..37)
        .map(|i| {
            let minutes = 5.0 * f64::from(i);
            format!("[\"{} min\", {:.1}]", minutes, 60.0 - 40.0 * (-minutes / 30.0f64).exp())
        })
        .collect();
    let readings = format!("{{ambient: 20 °C, places: {{p: {{points: [{}]}}}}}}", points.join(", "));
    let made = session("°C", "", "{at_most: 80 °C}", &readings);
    let (_, findings) = made.analysed();
    let rate = found(&findings, "c", "v", "p", "end_rate");
    assert_eq!((rate.n, rate.unit.symbol()), (8, "°C/h"));
    close(rate.value.unwrap(), 0.385_714_285_714_278_96, 1e-9);
    close(rate.budget.components[0].contribution, 0.055_328_333_517_247_294, 1e-9);
    let settled = found(&findings, "c", "v", "p", "settled_at");
    assert_eq!(settled.value, Some(100.0));
    let tau = found(&findings, "c", "v", "p", "time_constant");
    let half = tau.budget.expanded.expanded;
    assert!((tau.value.unwrap() - 30.0).abs() < half && half < 0.5, "{tau:?}");
}
