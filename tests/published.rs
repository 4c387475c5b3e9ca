//! The numbers held against published ones: standards' worked examples, certified data sets,
//! general-purpose reference libraries. The source stands beside each check.
#![allow(
    clippy::pedantic,
    clippy::excessive_precision,
    clippy::inconsistent_digit_grouping,
    clippy::approx_constant,
    clippy::print_stderr,
    clippy::redundant_clone,
    missing_docs,
    clippy::unwrap_used,
    clippy::panic,
    clippy::float_cmp,
    unreachable_pub
)]

mod common;

#[path = "published/alignments.rs"]
mod alignments;
#[path = "published/change.rs"]
mod change;
#[path = "published/conformity.rs"]
mod conformity;
#[path = "published/dates_and_units.rs"]
mod dates_and_units;
#[path = "published/gum.rs"]
mod gum;
#[path = "published/load.rs"]
mod load;
#[path = "published/readings_needed.rs"]
mod readings_needed;
#[path = "published/run_out.rs"]
mod run_out;
#[path = "published/sound.rs"]
mod sound;
#[path = "published/speed.rs"]
mod speed;
#[path = "published/spoken.rs"]
mod spoken;
#[path = "published/strd.rs"]
mod strd;
#[path = "published/temperature.rs"]
mod temperature;
#[path = "published/trend.rs"]
mod trend;
#[path = "published/vibration.rs"]
mod vibration;
