//! session.yaml and a visit.yaml, whatever stands in them: from the bytes to the findings.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| asfound_fuzz::session::run(bytes));
