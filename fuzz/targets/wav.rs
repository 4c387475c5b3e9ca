//! A WAV file as a recording and as its own calibration tone.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| asfound_fuzz::wav::run(bytes));
