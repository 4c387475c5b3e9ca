//! A CSV file of an instrument, named with every way of reading it, by a vibration and a temperature check.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| asfound_fuzz::csv::run(bytes));
