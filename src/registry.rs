//! The measures that there are: one line each.

use crate::analysis::{Measure, quantity::RepeatedNumber, run_out::RunOut};

/// Every measure, in the order of the session format.
pub static MEASURES: &[&dyn Measure] = &[&RunOut, &RepeatedNumber];
