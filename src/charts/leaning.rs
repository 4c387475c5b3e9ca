//! What measures of a lean show: parallelism and squareness.

use super::exhibit::{Exhibit, Measure, Room, main_limit, measured, visit};
use super::lean::{Lean, LeanVisit};
use super::{Bound, ChartError, Limit, Reading};
use crate::analysis::lean::LeanDetails;
use crate::findings::{CheckFindings, VisitFindings, sentences};
use crate::quantity::{Kind, Quantity, Unit};
use crate::session::Session;

/// The exhibit of a check whose visits have [`LeanDetails`]; `slope` and `difference` name its findings.
pub(super) fn exhibit(
    session: &Session,
    check: &CheckFindings,
    room: Room,
    slope: &str,
) -> Result<Vec<Exhibit>, ChartError> {
    let details = |found: &VisitFindings| found.details.of::<LeanDetails>().cloned();
    let Some(first) = check.visits.iter().find_map(details) else { return Ok(Vec::new()) };
    let along = first.over.unit();
    let departure = |found: &VisitFindings| found.finding("", "difference").cloned();
    let Some(unit) = check.visits.iter().find_map(departure).map(|finding| finding.unit) else {
        return Ok(Vec::new());
    };
    let visits = check
        .visits
        .iter()
        .filter_map(|found| {
            let (details, departure) = (details(found)?, departure(found)?);
            let mut measured = measured(&departure)?;
            measured.text = format!("{} over {}", measured.text, details.over);
            let reading = |(value, struck): &(f64, bool)| Reading { value: *value, struck: *struck };
            let several = details.departures.len() > 1;
            Some(LeanVisit {
                visit: visit(session, found),
                over: details.over.to(along).ok()?,
                found: measured,
                readings: if several { details.departures.iter().map(reading).collect() } else { Vec::new() },
            })
        })
        .collect();
    let chart = Lean {
        width_pt: room.text,
        name: first.name.to_owned(),
        unit: unit.symbol().to_owned(),
        along_name: first.along.to_owned(),
        along_unit: along.symbol().to_owned(),
        reference: first.reference.to_owned(),
        visits,
        limit: limit(check, slope, unit, first.over),
        range: None,
        unit_per_along: Quantity::new(1.0, along).to(unit).ok(),
    };
    let each = sentences::at_each_visit(session, check, "", check.main);
    Ok(vec![Exhibit {
        name: "lean",
        svg: chart.draw_to(room.height)?,
        title: format!("{}: {}.", check.title, each.join(", ")),
        caption:
            "How far the line leans away over the distance that was read, far steeper than it is; the pale \
                  wedge and the whisker are the uncertainty, small dots the single readings."
                .to_owned(),
        measure: Measure::Text,
    }])
}

/// The limit as a departure over the distance that was read.
fn limit(check: &CheckFindings, slope: &str, unit: Unit, over: Quantity) -> Option<(Limit, f64)> {
    let limit = main_limit(check)?;
    if check.main == "difference" {
        return Some((limit, over.value()));
    }
    if check.main != slope {
        return None;
    }
    let radian = Unit::known(Kind::Angle, "rad")?;
    let run = over.to(unit).ok()?;
    let departure = |slope: f64| Quantity::new(slope, check.unit).to(radian).map(|slope| slope * run);
    let bound = match limit.bound {
        Bound::AtMost(most) => Bound::AtMost(departure(most).ok()?),
        Bound::AtLeast(least) => Bound::AtLeast(departure(least).ok()?),
        Bound::Between(low, high) => Bound::Between(departure(low).ok()?, departure(high).ok()?),
    };
    Some((Limit { bound, text: limit.text }, over.value()))
}
