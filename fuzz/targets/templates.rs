//! What a session types into every place of a report, filled into the templates: the source can be read by Typst, names
//! nothing that a harmless session's does not, and no text becomes code; the page has no script but its own.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| asfound_fuzz::templates::run(bytes));
