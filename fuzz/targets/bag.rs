//! The tag files and manifests of a bag that somebody else made, held in memory.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| asfound_fuzz::bag::run(bytes));
