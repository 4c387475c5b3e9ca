//! What `parallelism` shows: how far one line leans away from another.

use super::ChartError;
use super::exhibit::{Draw, Exhibit, Widths};
use super::leaning;
use crate::findings::CheckFindings;
use crate::session::Session;

/// The exhibits of a parallelism.
pub const DRAW: Draw = draw;

fn draw(session: &Session, check: &CheckFindings, widths: Widths) -> Result<Vec<Exhibit>, ChartError> {
    leaning::exhibit(session, check, widths, "out_of_parallel")
}
