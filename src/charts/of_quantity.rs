//! What `quantity` shows: every reading in its order, and the means.

use super::exhibit::{Draw, Exhibit, Measure, Room, main_limit, measured, visit};
use super::repeats::{RepeatedVisit, Repeats};
use super::{ChartError, Reading};
use crate::analysis::quantity::RepeatedDetails;
use crate::findings::{CheckFindings, sentences};
use crate::session::Session;

/// The exhibits of a repeated number.
pub const DRAW: Draw = draw;

fn draw(session: &Session, check: &CheckFindings, room: Room) -> Result<Vec<Exhibit>, ChartError> {
    let mut visits = Vec::new();
    for found in &check.visits {
        let Some(details) = found.details.of::<RepeatedDetails>() else { continue };
        visits.push(RepeatedVisit {
            visit: visit(session, found),
            readings: details
                .readings
                .iter()
                .map(|(value, struck)| Reading { value: *value, struck: *struck })
                .collect(),
            mean: found.finding("", "mean").and_then(measured),
        });
    }
    if visits.is_empty() {
        return Ok(Vec::new());
    }
    let chart = Repeats {
        width_pt: room.text,
        name: check.title.clone(),
        unit: check.unit.symbol().to_owned(),
        visits,
        limit: main_limit(check),
        range: None,
    };
    let each = sentences::at_each_visit(session, check, "", "mean");
    Ok(vec![Exhibit {
        name: "readings",
        svg: chart.draw_to(room.height)?,
        title: format!("{}.", each.join(", ")),
        caption: "Every reading in the order taken, and the mean with its uncertainty.".to_owned(),
        measure: Measure::Text,
    }])
}
