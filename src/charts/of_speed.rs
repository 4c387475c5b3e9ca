//! What `speed` shows: the error of the set speed at every setting.

use super::exhibit::{Draw, Exhibit, Measure, Room, main_limit, measured, visit};
use super::settings::{Along, Found, SettingPoint, Settings, SettingsVisit};
use super::{ChartError, Reading};
use crate::analysis::speed::{SpeedDetails, SpeedSetting};
use crate::findings::{CheckFindings, VisitFindings, sentences};
use crate::quantity::Unit;
use crate::session::Session;

/// The exhibits of a set speed.
pub const DRAW: Draw = draw;

fn draw(session: &Session, check: &CheckFindings, room: Room) -> Result<Vec<Exhibit>, ChartError> {
    let details = |found: &VisitFindings| found.details.of::<SpeedDetails>().cloned();
    let first = check.visits.iter().filter_map(details).find_map(|details| details.settings.first().cloned());
    let Some(unit) = first.map(|setting| setting.set.unit()) else { return Ok(Vec::new()) };
    let visits = check
        .visits
        .iter()
        .filter_map(|found| {
            let settings = details(found)?.settings;
            let points = settings.iter().filter_map(|setting| point(found, setting, unit)).collect();
            Some(SettingsVisit { visit: visit(session, found), points })
        })
        .collect();
    let chart = Settings {
        width_pt: room.text,
        name: "Error of the set speed".to_owned(),
        unit: check.unit.symbol().to_owned(),
        along: Along::Numbers { name: "Set speed".to_owned(), unit: unit.symbol().to_owned() },
        visits,
        limit: main_limit(check),
        from_zero: true,
        range: None,
    };
    let at = sentences::telling_place(check).unwrap_or_default();
    let each = sentences::at_each_visit(session, check, at, check.main);
    Ok(vec![Exhibit {
        name: "speeds",
        svg: chart.draw_to(room.height)?,
        title: format!("Set to {at}, the speed was off by {}.", each.join(", ")),
        caption: "How far the measured speed lies from the set one, as a share of the set one, with its \
                  uncertainty; small dots are the single readings. Above zero the machine runs fast."
            .to_owned(),
        measure: Measure::Text,
    }])
}

fn point(found: &VisitFindings, setting: &SpeedSetting, unit: Unit) -> Option<SettingPoint> {
    let finding = found.finding(&setting.at, "error")?;
    let several = setting.errors.len() > 1;
    let reading = |(value, struck): &(f64, bool)| Reading { value: *value, struck: *struck };
    Some(SettingPoint {
        at: setting.set.to(unit).ok()?,
        found: measured(finding).map(Found::Value),
        readings: if several { setting.errors.iter().map(reading).collect() } else { Vec::new() },
        remark: None,
    })
}
