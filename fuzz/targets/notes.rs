//! Notes in Markdown, to Typst source and to HTML: what comes out is sound and calls nothing that the notes wrote.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| asfound_fuzz::notes::run(bytes));
