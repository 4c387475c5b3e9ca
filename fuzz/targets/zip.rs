//! A zip as `verify` meets it: looked at, every file in it read, and the bag in it examined. Nothing is put on disk.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| asfound_fuzz::zip::run(bytes));
