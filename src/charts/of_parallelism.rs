//! What `parallelism` shows: how far one line leans away from another.

use super::ChartError;
use super::exhibit::{Draw, Exhibit, Room};
use super::leaning;
use crate::findings::CheckFindings;
use crate::session::Session;

/// The exhibits of a parallelism.
pub const DRAW: Draw = draw;

fn draw(session: &Session, check: &CheckFindings, room: Room) -> Result<Vec<Exhibit>, ChartError> {
    leaning::exhibit(session, check, room, "out_of_parallel")
}
