//! Quantities, numbers, clocks, units and dates, as typed: what is read is finite, and read again as printed it is the same.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| asfound_fuzz::quantity::run(bytes));
