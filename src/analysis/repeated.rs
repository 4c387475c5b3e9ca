//! The mean of a number read again and again, with its budget: what several measures share.
//!
//! The mean of n readings has u² = s²/n + d²/12 + the instrument's part. The display step d is not
//! divided by √n, for rounding errors are not independent. s is the readings' own where there are
//! four or more, else the instrument's `repeat_readings`; never both.

use crate::findings::Finding;
use crate::quantity::Unit;

use super::finding;
use super::statistics::sample;
use super::uncertainty::{Repeatability, Shown, combine, repeatability_line};

/// The mean of `values` (in `unit`, corrected) as the finding `what` at `at`.
pub fn mean_of(at: &str, what: &'static str, values: &[f64], unit: Unit, shown: &Shown) -> Finding {
    let own = sample(values);
    let n = values.len() as f64;
    let mut notes = Vec::new();
    let own_spread = Repeatability { deviation: own.deviation, dof: n - 1.0 };
    let spread = if own.n >= 4 {
        Some(("Scatter of the readings", own_spread))
    } else if let Some(repeatability) = shown.repeatability {
        Some(("Repeatability of the instrument", repeatability))
    } else if own.n >= 2 {
        Some(("Scatter of the readings", own_spread))
    } else {
        None
    };
    if own.n == 1 {
        notes.push("One reading: it has no scatter of its own.".to_owned());
    }
    if !shown.named {
        notes.push(crate::analysis::uncertainty::UNNAMED.to_owned());
    }
    let mut components = Vec::new();
    if let Some((name, spread)) = spread {
        components.push(repeatability_line(name, spread, spread.deviation / n.sqrt()));
    } else {
        notes.push(
            "Nothing is known of the repeatability; the uncertainty is the instrument's alone.".to_owned(),
        );
    }
    if shown.step > 0.0 {
        components.push(shown.step_line(shown.step_standard()));
    }
    components.extend(shown.accuracy_line(own.mean - shown.correction, 1.0));
    let mut mean = finding(at, what, unit, Some(own.mean), combine(components));
    mean.n = own.n;
    mean.notes = notes;
    mean
}
