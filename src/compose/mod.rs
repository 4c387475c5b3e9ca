//! (being laid)

