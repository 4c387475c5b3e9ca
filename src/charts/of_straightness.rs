//! What `straightness` shows: a line's heights against the two parallel lines of its zone.

use super::ChartError;
use super::exhibit::{Draw, Exhibit, Measure, Room, main_limit, measured, visit};
use super::zone::{Zone, ZoneVisit};
use crate::analysis::straightness::StraightnessDetails;
use crate::findings::{CheckFindings, VisitFindings, sentences};
use crate::quantity::{Quantity, Unit};
use crate::session::Session;

/// The exhibits of a straightness.
pub const DRAW: Draw = draw;

fn draw(session: &Session, check: &CheckFindings, room: Room) -> Result<Vec<Exhibit>, ChartError> {
    let details = |found: &VisitFindings| found.details.of::<StraightnessDetails>().cloned();
    let Some(first) = check.visits.iter().find_map(details) else { return Ok(Vec::new()) };
    let along = first.along;
    let visits =
        check.visits.iter().filter_map(|found| Some(zone(session, found, &details(found)?, along))).collect();
    let name =
        if first.gaps { "Less the gap, about the zone's middle" } else { "Height about the zone's middle" };
    let chart = Zone {
        width_pt: room.text,
        name: name.to_owned(),
        unit: check.unit.symbol().to_owned(),
        along_name: "Along the line".to_owned(),
        along_unit: along.symbol().to_owned(),
        visits,
        limit: main_limit(check).filter(|_| check.main == "straightness"),
        range: None,
    };
    let each = sentences::at_each_visit(session, check, "", check.main);
    Ok(vec![Exhibit {
        name: "zone",
        svg: chart.draw_to(room.height)?,
        title: format!("{}: {}.", check.title, each.join(", ")),
        caption: "Mean heights, joined, between the two parallel lines that hold them as closely as can be; the \
                  marks touch them and decide the width. Small dots are the single readings, each pass less its own \
                  level and slope."
            .to_owned(),
        measure: Measure::Text,
    }])
}

fn zone(session: &Session, found: &VisitFindings, details: &StraightnessDetails, along: Unit) -> ZoneVisit {
    let at = |place: f64| Quantity::new(place, details.along).to(along).unwrap_or(place);
    ZoneVisit {
        visit: visit(session, found),
        profile: details.profile.iter().map(|(place, height)| (at(*place), *height)).collect(),
        readings: details
            .readings
            .iter()
            .map(|(place, height, struck)| (at(*place), *height, *struck))
            .collect(),
        zone: (-details.half_zone, details.half_zone),
        touching: details.touching.iter().map(|(place, height)| (at(*place), *height)).collect(),
        width: found.finding("", "straightness").and_then(measured),
    }
}
