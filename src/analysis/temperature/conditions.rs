//! What must hold before anything is computed, how the readings were taken, and what a reader must
//! know of them.

use super::bench::Worked;
use super::series::{Ambient, Series, clock, lasting};
use super::{Visited, said};
use crate::analysis::Sitting;
use crate::analysis::range::outside;
use crate::quantity::{Quantity, Unit, significant};
use crate::session::{Problem, Problems};

/// A time without a reading is a gap from so many usual intervals on.
const GAP: f64 = 3.0;

/// Faults that lie between the fields.
pub(super) fn check(visited: &Visited<'_>, sitting: &Sitting<'_>, problems: &mut Problems) {
    schedule_covers(visited, problems);
    for series in &visited.places {
        surface_can_be_used(series, visited, sitting, problems);
    }
    if visited.ambient == Ambient::Unknown {
        problems.push(
            Problem::error(
                format!("the ambient of '{}' is not recorded: there is no rise", sitting.check.id),
                sitting.readings.place.clone(),
            )
            .warning()
            .expected("expected 'ambient' among its readings, or among the visit's conditions")
            .help("write for example: ambient: 66 °F"),
        );
    }
}

/// The first step must be set when the first reading is taken.
fn schedule_covers(visited: &Visited<'_>, problems: &mut Problems) {
    let Some(step) = visited.schedule.first() else { return };
    let first = visited
        .places
        .iter()
        .filter_map(|series| Some((series.points.first()?.seconds, series)))
        .min_by(|a, b| a.0.total_cmp(&b.0));
    let Some((seconds, series)) = first.filter(|(seconds, _)| *seconds < step.from) else { return };
    problems.push(
        Problem::error(
            format!(
                "the schedule begins at {}, after the first reading of '{}' at {}",
                clock(step.from),
                series.name,
                clock(seconds)
            ),
            step.place.clone(),
        )
        .expected("expected the speed at the first reading")
        .help("begin it there; write 0 rpm for a machine that stood still"),
    );
}

/// A surface's emissivity needs the setting it is corrected from, and the surroundings.
fn surface_can_be_used(
    series: &Series,
    visited: &Visited<'_>,
    sitting: &Sitting<'_>,
    problems: &mut Problems,
) {
    let Some((_, place)) = &series.surface else { return };
    let set = sitting.instrument.and_then(|instrument| instrument.emissivity_set);
    if set.is_none() {
        let who = sitting.instrument.map_or_else(
            || "no instrument is named that".to_owned(),
            |instrument| format!("the instrument '{}' has no 'emissivity_set' that", instrument.id),
        );
        problems.push(
            Problem::error(format!("{who} surface_emissivity could correct"), place.clone())
                .expected("expected an infrared thermometer with its setting")
                .help(
                    "write emissivity_set: 0.95 at the instrument; leave surface_emissivity out for a contact \
                     thermometer",
                ),
        );
    }
    if visited.ambient == Ambient::Unknown {
        problems.push(
            Problem::error("surface_emissivity needs the ambient, which is not recorded", place.clone())
                .expected("expected 'ambient' among the readings: the surroundings are taken to be at it")
                .help("write for example: ambient: 66 °F"),
        );
    }
}

/// Warns of readings outside the instrument's stated range.
pub(super) fn say_outside(worked: &Worked<'_>, sitting: &Sitting<'_>, problems: &mut Problems) {
    let unit = worked.bench.unit;
    let correction = worked.bench.shown.correction;
    let ends = |point: &super::series::Point| [point.low, point.high];
    let points = worked.series.points.iter().filter(|point| !point.struck);
    let shown = points.flat_map(ends).map(|end| Quantity::new(end - correction, unit));
    let Some(found) = outside(sitting.instrument, shown) else { return };
    let first = worked.series.points.iter().find(|point| {
        let shown = ends(point).map(|end| Quantity::new(end - correction, unit));
        !point.struck && outside(sitting.instrument, shown).is_some()
    });
    let place = first.map_or_else(|| worked.series.place.clone(), |point| point.place.clone());
    problems.push(
        Problem::error(format!("'{}': {}", worked.series.name, found.words()), place)
            .warning()
            .expected("the instrument vouches for nothing here")
            .help("measure with an instrument made for this; what rests on it gets no uncertainty and no verdict"),
    );
}

/// How the readings were taken, as conditions to compare.
pub(super) fn set_up(visited: &Visited<'_>, sitting: &Sitting<'_>) -> Vec<(String, String)> {
    let mut facts = Vec::new();
    let steps: Vec<String> =
        visited.schedule.iter().map(|step| format!("{} from {}", step.speed, clock(step.from))).collect();
    facts.push((
        "schedule".to_owned(),
        if steps.is_empty() { "not given".to_owned() } else { steps.join(", ") },
    ));
    let ends = |pick: fn(&Series) -> Option<f64>| visited.places.iter().filter_map(pick);
    let from = ends(|series| Some(series.points.first()?.seconds)).fold(f64::INFINITY, f64::min);
    let to = ends(|series| Some(series.points.last()?.seconds)).fold(0.0, f64::max);
    facts.push(("length of the run".to_owned(), lasting((to - from).max(0.0))));
    facts.push(("emissivity".to_owned(), emissivities(visited, sitting)));
    facts.retain(|(_, value)| !value.is_empty());
    facts.push((
        "places".to_owned(),
        visited.places.iter().map(|series| series.name.clone()).collect::<Vec<_>>().join(", "),
    ));
    if let Some(instrument) = visited.ambient_instrument {
        facts.push(("instrument for the ambient".to_owned(), instrument.name.clone()));
    }
    facts
}

/// The emissivity set and those of the surfaces: `set 0.95, surface 0.3`.
fn emissivities(visited: &Visited<'_>, sitting: &Sitting<'_>) -> String {
    let Some(set) = sitting.instrument.and_then(|instrument| instrument.emissivity_set) else {
        return String::new();
    };
    let set = format!("set {}", significant(set, 3));
    let mut surfaces: Vec<(Option<f64>, Vec<&str>)> = Vec::new();
    for series in &visited.places {
        let surface = series.surface.as_ref().map(|(surface, _)| *surface);
        match surfaces.iter_mut().find(|(known, _)| *known == surface) {
            Some((_, names)) => names.push(&series.name),
            None => surfaces.push((surface, vec![&series.name])),
        }
    }
    let said = |surface: Option<f64>| {
        surface.map_or_else(|| "not corrected".to_owned(), |s| format!("surface {}", significant(s, 3)))
    };
    match surfaces.as_slice() {
        [(surface, _)] => format!("{set}, {}", said(*surface)),
        several => {
            let each = several.iter().map(|(s, names)| format!("{} ({})", said(*s), names.join(", ")));
            format!("{set}, {}", each.collect::<Vec<_>>().join(", "))
        }
    }
}

/// Whatever else a reader must know.
pub(super) fn notes(visited: &Visited<'_>, sitting: &Sitting<'_>, unit: Unit) -> Vec<String> {
    let mut notes = Vec::new();
    match &visited.ambient {
        Ambient::Unknown => notes.push("The ambient was not recorded, so there is no rise.".to_owned()),
        Ambient::Constant { value, is_condition: true } => {
            notes.push(format!("The ambient is the visit's condition, {}.", said(*value, unit)));
        }
        Ambient::Constant { .. } => {}
        Ambient::Curve(_) => {
            let span = visited.ambient.span();
            notes.push(format!("The ambient moved by {} during the run.", said(span, unit)));
        }
    }
    if visited.ambient != Ambient::Unknown && visited.ambient_instrument.is_none() {
        notes.push(
            "No instrument is named for the ambient: it is taken to be as uncertain as a reading of the \
             thermometer used, and the two errors not to cancel."
                .to_owned(),
        );
    }
    notes.extend(of_emissivity(visited, sitting));
    for series in visited.places.iter().chain(&visited.ambient_series) {
        notes.extend(gaps(series));
        notes.extend(series.recorded.iter().flat_map(|recorded| recorded.troubles.iter().cloned()));
        notes.extend(series.recorded.as_ref().and_then(|recorded| {
            let seconds = recorded.averaged?;
            Some(format!(
                "{}: {} samples, averaged over {} each.",
                recorded.file,
                recorded.samples,
                lasting(seconds)
            ))
        }));
    }
    notes
}

fn of_emissivity(visited: &Visited<'_>, sitting: &Sitting<'_>) -> Option<String> {
    let set = sitting.instrument?.emissivity_set?;
    if visited.places.iter().any(|series| series.surface.is_some()) {
        return Some(
            "Readings are brought to the surface's emissivity, the surroundings taken to be at ambient: a \
             broad-band approximation."
                .to_owned(),
        );
    }
    Some(format!(
        "The infrared thermometer was set to {} and no surface emissivity is given: true of matt paint or tape; \
         bare bright metal reads far too cold.",
        significant(set, 3)
    ))
}

/// Times without a reading that are much longer than the usual interval.
fn gaps(series: &Series) -> Vec<String> {
    let kept = series.kept();
    let intervals: Vec<(f64, f64)> = kept.windows(2).map(|pair| (pair[0].seconds, pair[1].seconds)).collect();
    let mut lengths: Vec<f64> = intervals.iter().map(|(from, to)| to - from).collect();
    lengths.sort_by(f64::total_cmp);
    let Some(usual) = lengths.get(lengths.len() / 2).copied().filter(|_| lengths.len() >= 3) else {
        return Vec::new();
    };
    let long: Vec<&(f64, f64)> = intervals.iter().filter(|(from, to)| to - from > GAP * usual).collect();
    match long.as_slice() {
        [] => Vec::new(),
        [(from, to)] => {
            vec![format!("'{}': no reading between {} and {}.", series.name, clock(*from), clock(*to))]
        }
        several => {
            let longest = several.iter().map(|(from, to)| to - from).fold(0.0, f64::max);
            vec![format!(
                "'{}': {} times without a reading, the longest {}.",
                series.name,
                several.len(),
                lasting(longest)
            )]
        }
    }
}
