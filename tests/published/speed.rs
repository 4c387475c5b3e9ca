//! The error of a set speed against published figures of motors and of small samples.

use crate::common::{Made, close, found};

pub fn speed_session(instrument: &str, check: &str, at: &str) -> Made {
    let (listed, named) = if instrument.is_empty() {
        (String::new(), "")
    } else {
        (format!("instruments: {{t: {{name: Tachometer, {instrument}}}}}\n"), ", instrument: t")
    };
    Made::new(
        &format!(
            "title: T\nunits: inch\nmachines: {{m: {{name: M}}}}\n{listed}\
             checks: {{c: {{measure: speed{named}{check}}}}}\n"
        ),
        &[("v", &format!("state: baseline\ndate: 2026-03-02\nreadings: {{c: {{at: {{{at}}}}}}}\n"))],
    )
}

/// Slip is the error of the synchronous speed with its sign turned: 1800 to 1746 r/min is 3.0 %
/// (rftools.io, motor slip), 1500 to 1455 r/min likewise (theprimecalculator.com). 25 Hz is 1500 r/min.
#[test]
fn a_motor_s_slip_is_the_error_of_its_synchronous_speed() {
    let (_, findings) =
        speed_session("", "", "1800 rpm: [1746], 25 Hz: [24.25], 3000 rpm: [1455 rpm]").analysed();
    close(found(&findings, "c", "v", "1800 rpm", "error").value.unwrap(), -3.0, 1e-12);
    close(found(&findings, "c", "v", "25 Hz", "error").value.unwrap(), -3.0, 1e-12);
    // Half the speed: said, and left as it was read.
    let half = found(&findings, "c", "v", "3000 rpm", "error");
    close(half.value.unwrap(), -51.5, 1e-12);
    assert!(half.notes.iter().any(|note| note.contains("nothing was corrected")), "{:?}", half.notes);
}

/// Two readings 0.02 and 0.03: half-width 12.7062·s/√2 = 0.06353102368 (t from NIST TN 1297, table
/// B.1; ten digits by scipy 1.17.1).
#[test]
fn two_readings_have_the_wide_interval_of_one_degree_of_freedom() {
    let (_, findings) = speed_session("", "", "100 rpm: [100.02, 100.03]").analysed();
    let error = found(&findings, "c", "v", "100 rpm", "error");
    close(error.value.unwrap(), 0.025, 1e-9);
    close(error.expanded().unwrap().expanded, 0.063_531_023_680_87, 1e-8);
}

/// A percentage accuracy is of the number shown: 0.5 % of 1010 rpm, as a share of the 1000 rpm set,
/// over √3 (JCGM 100, 4.3.7); the step of 1 rpm over √12.
#[test]
fn a_percentage_accuracy_is_of_the_number_shown() {
    let (_, findings) =
        speed_session("resolution: 1 rpm, accuracy: 0.5 %", "", "1000 rpm: [1010]").analysed();
    let error = found(&findings, "c", "v", "1000 rpm", "error");
    let wanted = (0.505 / 3f64.sqrt()).hypot(0.1 / 12f64.sqrt());
    close(error.budget.expanded.standard, wanted, 1e-12);
    // A reading in hertz of an instrument that shows rpm is the same number of turns.
    let (_, findings) =
        speed_session("resolution: 1 rpm, accuracy: 0.5 %", "", "1000 rpm: [16.8333333333 Hz]").analysed();
    close(found(&findings, "c", "v", "1000 rpm", "error").budget.expanded.standard, wanted, 1e-9);
}
