//! A PDF as `verify` meets it: its attachments and pages read, and held against what it says of itself.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| asfound_fuzz::pdf::run(bytes));
