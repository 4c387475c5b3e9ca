//! Notes are `CommonMark`, and never code: every example of the specification, hostile texts, and
//! any text at all become Typst that compiles and exports as PDF/A-3a with PDF/UA-1.
#![allow(missing_docs, clippy::unwrap_used, clippy::panic)]

mod examples;
mod extensions;
mod hostile;
mod press;
mod syntax;
