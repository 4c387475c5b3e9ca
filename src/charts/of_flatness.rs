//! What `flatness` shows: the surface in relief, every visit on one scale of heights.

use super::ChartError;
use super::exhibit::{Draw, Exhibit, Measure, Room, visit};
use super::relief::{Relief, ReliefPoint, ReliefVisit};
use crate::analysis::flatness::{FlatnessDetails, FlatnessPoint};
use crate::findings::{CheckFindings, VisitFindings, sentences};
use crate::quantity::{Quantity, Unit};
use crate::session::Session;

/// The exhibits of a flatness.
pub const DRAW: Draw = draw;

fn draw(session: &Session, check: &CheckFindings, room: Room) -> Result<Vec<Exhibit>, ChartError> {
    let details = |found: &VisitFindings| found.details.of::<FlatnessDetails>().cloned();
    let Some(first) = check.visits.iter().find_map(details) else { return Ok(Vec::new()) };
    let length = first.length;
    let visits = check
        .visits
        .iter()
        .filter_map(|found| {
            let details = details(found)?;
            let said = found.finding("", "flatness").map(sentences::said).unwrap_or_default();
            Some(ReliefVisit {
                visit: visit(session, found),
                points: details.points.iter().map(|place| point(place, details.length, length)).collect(),
                caption: format!("Flat within {said}"),
            })
        })
        .collect();
    let chart = Relief {
        width_pt: room.full,
        name: "Height about the zone's middle".to_owned(),
        unit: check.unit.symbol().to_owned(),
        length_unit: length.symbol().to_owned(),
        visits,
        range: None,
    };
    let each = sentences::at_each_visit(session, check, "", check.main);
    Ok(vec![Exhibit {
        name: "relief",
        svg: chart.draw_to(room.height)?,
        title: format!("{}: {}.", check.title, each.join(", ")),
        caption: "The surface from above, the place of the first reading at the lower left; light is high, dark is \
                  low, and between readings the height is taken to run straight. Nothing is drawn where nothing \
                  was read."
            .to_owned(),
        measure: Measure::Full,
    }])
}

fn point(place: &FlatnessPoint, from: Unit, to: Unit) -> ReliefPoint {
    let along = |value: f64| Quantity::new(value, from).to(to).unwrap_or(value);
    ReliefPoint { x: along(place.x), y: along(place.y), height: place.height, cell: place.cell }
}
