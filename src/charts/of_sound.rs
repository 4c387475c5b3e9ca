//! What `sound` shows: the level at each setting before and after, and the third octaves of
//! recordings.

use super::bands::{Bands, BandsPlot, Spectrum};
use super::exhibit::{Draw, Exhibit, Measure, Room, main_limit, measured, visit};
use super::repeats::{RepeatedVisit, Repeats};
use super::settings::{Along, Found, SettingPoint, Settings, SettingsVisit};
use super::{ChartError, Reading};
use crate::analysis::sound::{SettingDetails, SoundDetails, bands};
use crate::findings::{BoundOn, CheckFindings, Finding, VisitFindings, sentences};
use crate::quantity::Unit;
use crate::session::Session;

/// The exhibits of sound levels.
pub const DRAW: Draw = draw;

/// More plots of third octaves than this do not fit a page.
const MOST_PLOTS: usize = 5;

fn draw(session: &Session, check: &CheckFindings, room: Room) -> Result<Vec<Exhibit>, ChartError> {
    let mut exhibits = Vec::new();
    exhibits.extend(levels(session, check, room)?);
    exhibits.extend(spectra(session, check, room)?);
    Ok(exhibits)
}

/// The visits with what was taken at each.
fn taken(check: &CheckFindings) -> impl Iterator<Item = (&VisitFindings, &SoundDetails)> {
    check.visits.iter().filter_map(|found| Some((found, found.details.of::<SoundDetails>()?)))
}

/// The level at each setting; in one spot, every reading in its order.
fn levels(session: &Session, check: &CheckFindings, room: Room) -> Result<Option<Exhibit>, ChartError> {
    if taken(check).all(|(_, details)| details.settings.iter().all(|one| one.setting.is_none())) {
        return in_one_spot(session, check, room);
    }
    let unit = common_unit(check);
    let names = names(check);
    let mut visits = Vec::new();
    for (found, details) in taken(check) {
        let points = details.settings.iter().filter_map(|one| {
            let finding = found.finding(&one.at, check.main)?;
            let at = match unit {
                Some(unit) => one.setting?.to(unit).ok()?,
                None => names.iter().position(|name| *name == one.at)? as f64,
            };
            let found = found_of(finding);
            let readings = readings(one);
            let anything = found.is_some() || !readings.is_empty();
            anything.then_some(SettingPoint { at, found, readings, remark: None })
        });
        visits.push(SettingsVisit { visit: visit(session, found), points: points.collect() });
    }
    visits.retain(|visit| !visit.points.is_empty());
    if visits.is_empty() {
        return Ok(None);
    }
    let by = taken(check).next().map_or("speed", |(_, details)| details.by.as_str());
    let chart = Settings {
        width_pt: room.text,
        name: "Level".to_owned(),
        unit: check.unit.symbol().to_owned(),
        along: match unit {
            Some(unit) => Along::Numbers { name: sentences::capital(by), unit: unit.symbol().to_owned() },
            None => Along::Names(names),
        },
        visits,
        limit: main_limit(check),
        from_zero: false,
        range: None,
    };
    let place = sentences::telling_place(check).unwrap_or("");
    let each = sentences::at_each_visit(session, check, place, check.main);
    Ok(Some(Exhibit {
        name: "levels",
        svg: chart.draw_to(room.height)?,
        title: format!("{}: {}.", sentences::capital(place), each.join(", ")),
        caption: format!(
            "Level against {by}, the background taken off where it was measured, each with its uncertainty. \
             Ten decibels more are ten times the energy; the axis has no zero."
        ),
        measure: Measure::Text,
    }))
}

fn in_one_spot(session: &Session, check: &CheckFindings, room: Room) -> Result<Option<Exhibit>, ChartError> {
    let visits: Vec<RepeatedVisit> = taken(check)
        .filter_map(|(found, details)| {
            let one = details.settings.first()?;
            let mean = found.finding(&one.at, check.main).and_then(measured);
            let visit = visit(session, found);
            let repeated = RepeatedVisit { visit, readings: readings(one), mean };
            (!repeated.readings.is_empty()).then_some(repeated)
        })
        .collect();
    if visits.is_empty() {
        return Ok(None);
    }
    let chart = Repeats {
        width_pt: room.text,
        name: "Level".to_owned(),
        unit: check.unit.symbol().to_owned(),
        visits,
        limit: main_limit(check),
        range: None,
    };
    let each = sentences::at_each_visit(session, check, "", check.main);
    Ok(Some(Exhibit {
        name: "levels",
        svg: chart.draw_to(room.height)?,
        title: format!("{}.", each.join(", ")),
        caption: "Every reading in the order taken, and their energy average with its uncertainty."
            .to_owned(),
        measure: Measure::Text,
    }))
}

/// The readings, where nothing was taken off them: then they belong beside the level.
fn readings(one: &SettingDetails) -> Vec<Reading> {
    if one.taken_off > 0.0 {
        return Vec::new();
    }
    one.readings.iter().map(|(value, struck)| Reading { value: *value, struck: *struck }).collect()
}

fn found_of(finding: &Finding) -> Option<Found> {
    let words =
        || finding.bound.map_or_else(String::new, |bound| sentences::bound_words(bound, finding.unit));
    match finding.bound {
        None => measured(finding).map(Found::Value),
        Some(BoundOn::AtMost(bound)) => Some(Found::AtMost(bound, words())),
        Some(BoundOn::AtLeast(bound)) => Some(Found::AtLeast(bound, words())),
    }
}

/// The unit of the first setting, if all others can be shown in it.
fn common_unit(check: &CheckFindings) -> Option<Unit> {
    let settings = || taken(check).flat_map(|(_, details)| &details.settings);
    let unit = settings().find_map(|one| one.setting)?.unit();
    settings().all(|one| one.setting.is_some_and(|setting| setting.to(unit).is_ok())).then_some(unit)
}

/// The settings by their names, in the order of the first visits.
fn names(check: &CheckFindings) -> Vec<String> {
    let mut names = Vec::new();
    for one in taken(check).flat_map(|(_, details)| &details.settings) {
        if !names.contains(&one.at) {
            names.push(one.at.clone());
        }
    }
    names
}

/// The third octaves of recordings, a plot for each setting, the loudest ones.
fn spectra(session: &Session, check: &CheckFindings, room: Room) -> Result<Option<Exhibit>, ChartError> {
    let heard = |one: &SettingDetails| one.levels.as_ref().is_some_and(|levels| !levels.bands.is_empty());
    let (low, high) = taken(check)
        .flat_map(|(_, details)| &details.settings)
        .filter_map(|one| one.levels.as_ref())
        .flat_map(|levels| &levels.bands)
        .fold((i32::MAX, i32::MIN), |(low, high), band| (low.min(band.index), high.max(band.index)));
    let mut places: Vec<String> = names(check)
        .into_iter()
        .filter(|at| taken(check).any(|(_, d)| d.settings.iter().any(|one| one.at == *at && heard(one))))
        .collect();
    let left_out = places.len().saturating_sub(MOST_PLOTS);
    if left_out > 0 {
        places.sort_by(|a, b| loudest(check, b).total_cmp(&loudest(check, a)));
        places.truncate(MOST_PLOTS);
    }
    if places.is_empty() {
        return Ok(None);
    }
    let told = places.iter().max_by(|a, b| loudest(check, a).total_cmp(&loudest(check, b)));
    let told = told.cloned().unwrap_or_default();
    let mut said = Vec::new();
    let mut plots = Vec::new();
    for at in &places {
        let mut spectra = Vec::new();
        for (found, details) in taken(check) {
            let Some(levels) =
                details.settings.iter().find(|one| one.at == *at).and_then(|one| one.levels.as_ref())
            else {
                continue;
            };
            let of = |index: i32| levels.bands.iter().find(|band| band.index == index);
            let values = (low..=high).map(|index| of(index).map_or(f64::NAN, |band| band.value)).collect();
            spectra.push(Spectrum { visit: visit(session, found), levels: values });
            if *at == told {
                said.extend(levels.loudest_band().map(|band| {
                    format!("around {} {}", bands::name(band.index), sentences::when(session, found))
                }));
            }
        }
        plots.push(BandsPlot { name: at.clone(), spectra });
    }
    let draw = |plots: &Vec<BandsPlot>| {
        let chart = Bands {
            width_pt: room.text,
            name: "Level in each third octave".to_owned(),
            unit: check.unit.symbol().to_owned(),
            names: (low..=high).map(short_name).collect(),
            plots: plots.clone(),
        };
        chart.draw_to(room.height)
    };
    let telling: Vec<BandsPlot> = plots.iter().filter(|plot| plot.name == told).cloned().collect();
    let place = if told.is_empty() { String::new() } else { format!(" at {told}") };
    let rest = match left_out {
        0 => String::new(),
        more => format!(" {more} quieter settings are not drawn."),
    };
    Ok(Some(Exhibit {
        name: "bands",
        svg: room.all_or(plots, telling, draw)?,
        title: format!("The loudest third octave{place} lay {}.", said.join(", ")),
        caption: format!(
            "Third-octave bands of the recordings, weighted as the level is: together they make it. The \
             background is not taken off.{rest}"
        ),
        measure: Measure::Text,
    }))
}

/// The highest level of a setting at any visit.
fn loudest(check: &CheckFindings, at: &str) -> f64 {
    let levels = check.visits.iter().filter_map(|visit| visit.finding(at, check.main)?.value);
    levels.fold(f64::NEG_INFINITY, f64::max)
}

/// `31.5 Hz` as `31.5`, `1.25 kHz` as `1.25 k`.
fn short_name(index: i32) -> String {
    bands::name(index).replace(" Hz", "").replace("kHz", "k")
}
