//! (being laid)
