//! (being laid)
pub mod sentences;
