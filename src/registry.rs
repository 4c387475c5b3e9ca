//! The measures that there are: one line each.

use crate::analysis::{Measure, quantity::RepeatedNumber, run_out::RunOut};

/// Every measure, in the order of the session format.
static MEASURES: &[&dyn Measure] = &[&RunOut, &RepeatedNumber];

/// What [`crate::analysis::analyse`] is given.
pub fn measures() -> Vec<&'static dyn Measure> {
    MEASURES.to_vec()
}
