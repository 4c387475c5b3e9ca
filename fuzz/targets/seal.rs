//! A seal, its signature and its time stamp, written by anybody.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| asfound_fuzz::seal::run(bytes));
