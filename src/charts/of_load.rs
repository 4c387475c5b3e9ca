//! What `load` shows: the droop in each stock, every run of it, and how many runs stalled.

use super::exhibit::{Draw, Exhibit, Measure, Room, limit, measured, visit};
use super::settings::{Along, Found, SettingPoint, Settings, SettingsVisit};
use super::{ChartError, Reading};
use crate::analysis::load::{LoadDetails, LoadStock};
use crate::findings::{CheckFindings, VisitFindings, sentences};
use crate::session::Session;

/// The exhibits of a load.
pub const DRAW: Draw = draw;

fn draw(session: &Session, check: &CheckFindings, room: Room) -> Result<Vec<Exhibit>, ChartError> {
    let mut stocks: Vec<String> = Vec::new();
    for details in check.visits.iter().filter_map(|found| found.details.of::<LoadDetails>()) {
        for stock in &details.stocks {
            if !stocks.contains(&stock.stock) {
                stocks.push(stock.stock.clone());
            }
        }
    }
    let visits: Vec<SettingsVisit> = check
        .visits
        .iter()
        .filter_map(|found| {
            let details = found.details.of::<LoadDetails>()?;
            let name = visit(session, found);
            let points = details.stocks.iter().filter_map(|stock| point(found, &stocks, stock, &name.name));
            Some(SettingsVisit { points: points.collect(), visit: name })
        })
        .collect();
    let drawn = |point: &SettingPoint| point.found.is_some() || !point.readings.is_empty();
    if !visits.iter().any(|visit| visit.points.iter().any(drawn)) {
        return Ok(Vec::new());
    }
    let mut droops = check.visits.iter().flat_map(|visit| &visit.findings).filter(|f| f.what == "droop");
    let held = droops.find(|finding| finding.limit.is_some());
    let chart = Settings {
        width_pt: room.text,
        name: "Droop of the speed under load".to_owned(),
        unit: "%".to_owned(),
        along: Along::Names(stocks),
        visits,
        limit: held.and_then(|finding| limit(finding.limit.as_ref()?, finding.unit)),
        from_zero: true,
        range: None,
    };
    Ok(vec![Exhibit {
        name: "droops",
        svg: chart.draw_to(room.height)?,
        title: title(session, check),
        caption: "The share of the unloaded speed that is lost in the cut: the mean of the runs with its \
                  uncertainty, and every run as a small dot. A run that stalled is in no mean and is said \
                  in words."
            .to_owned(),
        measure: Measure::Text,
    }])
}

/// The droop in the stock that speaks for the check, and how many runs stalled there.
fn title(session: &Session, check: &CheckFindings) -> String {
    let first = check.visits.first().map(|visit| visit.findings.as_slice()).unwrap_or_default();
    let worst = first
        .iter()
        .filter(|finding| finding.what == "droop")
        .max_by(|a, b| a.value.unwrap_or(f64::INFINITY).total_cmp(&b.value.unwrap_or(f64::INFINITY)));
    let at = worst.map_or("", |finding| finding.at.as_str());
    let each: Vec<String> = check
        .visits
        .iter()
        .filter_map(|visit| {
            let droop = visit.finding(at, "droop")?;
            let stalled = visit.finding(at, "stalled_runs").and_then(|finding| finding.value).unwrap_or(0.0);
            let when = sentences::when(session, visit);
            let made = visit.finding(at, "stalled_runs").map_or(0, |finding| finding.n);
            let also =
                if stalled > 0.0 { format!(" with {stalled} of {made} runs stalled") } else { String::new() };
            Some(match droop.value {
                Some(_) => format!("{} {when}{also}", sentences::said(droop)),
                None if stalled > 0.0 => format!("no value {when}, for every run stalled"),
                None => format!("no value {when}"),
            })
        })
        .collect();
    format!("The droop in {at} was {}.", each.join(", "))
}

fn point(found: &VisitFindings, stocks: &[String], stock: &LoadStock, visit: &str) -> Option<SettingPoint> {
    let place = stocks.iter().position(|known| *known == stock.stock)?;
    let finding = found.finding(&stock.stock, "droop")?;
    let reading = |(value, struck): &(f64, bool)| Reading { value: *value, struck: *struck };
    let remark = (stock.stalled > 0).then(|| format!("{visit}: {} of {} stalled", stock.stalled, stock.made));
    Some(SettingPoint {
        at: place as f64,
        found: measured(finding).map(Found::Value),
        readings: if stock.droops.len() > 1 {
            stock.droops.iter().map(reading).collect()
        } else {
            Vec::new()
        },
        remark,
    })
}
