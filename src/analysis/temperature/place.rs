//! The findings of one place.

use super::bench::{Moment, Worked};
use super::series::clock;
use super::{Curve, CurvePoint, settle, stretch};
use crate::analysis::uncertainty::combine;
use crate::analysis::{finding, range, student};
use crate::findings::{Component, Finding};
use crate::quantity::{Unit, significant, with_unit};

/// Everything found at a place, and its course for the chart.
pub(super) fn findings(worked: &Worked<'_>, minutes: Unit) -> (Vec<Finding>, Curve) {
    let mut found = Vec::new();
    if let Some((index, top)) = highest(worked) {
        found.push(maximum(worked, top));
        found.push(rise(worked, top));
        found.push(time_of_maximum(worked, index, top, minutes));
    }
    found.push(settle::end_rate(worked));
    found.push(settle::settled_at(worked, minutes));
    let mut fits = Vec::new();
    for stretch in worked.bench.stretches {
        if let Some(told) = stretch::time_constant(worked, stretch, minutes) {
            found.push(told.finding);
            fits.extend((!told.course.is_empty()).then_some(told.course));
        }
    }
    if !worked.bench.shown.named {
        for one in &mut found {
            one.notes.push(crate::analysis::uncertainty::UNNAMED.to_owned());
        }
    }
    let curve = curve(worked, fits);
    (found, curve)
}

/// The first of the highest readings.
fn highest<'a>(worked: &'a Worked<'_>) -> Option<(usize, &'a Moment)> {
    let mut best: Option<(usize, &Moment)> = None;
    for (index, moment) in worked.moments.iter().enumerate() {
        if best.is_none_or(|(_, top)| moment.value > top.value) {
            best = Some((index, moment));
        }
    }
    best
}

fn maximum(worked: &Worked<'_>, top: &Moment) -> Finding {
    let bench = worked.bench;
    let mut parts = worked.parts_of(top);
    let ambient = bench.ambient.at(top.seconds);
    if let (Some(ambient), true) = (ambient, worked.series.surface.is_some()) {
        parts.extend(bench.ambient_parts(ambient, top.slopes.surroundings.abs()));
    }
    let mut made = finding(&worked.series.name, "maximum", bench.unit, Some(top.value), combine(parts));
    made.n = worked.samples();
    made.struck = worked.series.struck();
    if made.struck > 0 {
        let struck = worked.series.points.iter().filter(|point| point.struck).map(|point| point.shown);
        // Uncorrected for the surface: what was struck has no place in a correction.
        made.with_struck = (worked.series.surface.is_none()).then(|| struck.fold(top.value, f64::max));
    }
    if let Some(recorded) = &worked.series.recorded
        && let Some(seconds) = recorded.averaged
    {
        made.notes.push(format!(
            "The highest mean over {}, of {} samples in all; single samples reach {}.",
            super::series::lasting(seconds),
            recorded.samples,
            with_unit(&significant(peak(worked), 4), bench.unit)
        ));
    }
    match worked.scatter(top) {
        Some((_, scatter)) => made.notes.extend(crowd(worked, top, scatter.deviation)),
        None => made.notes.push(
            "Nothing is known of the repeatability, so scatter is not in the uncertainty of one reading."
                .to_owned(),
        ),
    }
    vouched(worked, top, &mut made);
    made
}

/// The highest sample, means aside.
fn peak(worked: &Worked<'_>) -> f64 {
    worked.moments.iter().map(|moment| moment.extremes.1).fold(f64::NEG_INFINITY, f64::max)
}

/// The highest of several readings that cannot be told apart is too high: noise lifts it.
fn crowd(worked: &Worked<'_>, top: &Moment, deviation: f64) -> Option<String> {
    let near = worked.moments.iter().filter(|moment| top.value - moment.value <= 2.0 * deviation);
    let m = near.count();
    if m < 3 || deviation <= 0.0 {
        return None;
    }
    // The mean of the highest of m standard normal numbers (Blom 1958).
    let blom = (m as f64 - 0.375) / (m as f64 + 0.25);
    let lift = student::quantile(blom, f64::INFINITY) * deviation * top.slopes.shown;
    Some(format!(
        "{m} readings lie within their scatter of the highest; noise alone lifts the highest of so many by \
         about {}.",
        with_unit(&significant(lift, 2), worked.bench.unit)
    ))
}

/// The rise over the ambient at the moment of the maximum.
fn rise(worked: &Worked<'_>, top: &Moment) -> Finding {
    let bench = worked.bench;
    let at = &worked.series.name;
    let Some(ambient) = bench.ambient.at(top.seconds) else {
        let mut refused = finding(at, "rise", bench.unit, None, combine(Vec::new()));
        refused.difference = true;
        refused.notes.push("The ambient was not recorded, so there is no rise.".to_owned());
        return refused;
    };
    let mut parts = worked.parts_of(top);
    parts.extend(bench.ambient_parts(ambient, (top.slopes.surroundings - 1.0).abs()));
    let mut made = finding(at, "rise", bench.unit, Some(top.value - ambient), combine(parts));
    made.difference = true;
    made.n = worked.samples();
    made.struck = worked.series.struck();
    made.notes.push(format!(
        "At {}, when it was hottest, over an ambient of {}.",
        clock(top.seconds),
        with_unit(&significant(ambient, 4), bench.unit)
    ));
    let rises = worked
        .moments
        .iter()
        .filter_map(|moment| Some((moment.seconds, moment.value - bench.ambient.at(moment.seconds)?)));
    let largest = rises.max_by(|a, b| a.1.total_cmp(&b.1));
    if let Some((seconds, most)) = largest
        && most - (top.value - ambient) > bench.shown.step.max(1e-9)
    {
        made.notes.push(format!(
            "The rise itself was largest at {}: {}, for the ambient moved.",
            clock(seconds),
            with_unit(&significant(most, 4), bench.unit)
        ));
    }
    vouched(worked, top, &mut made);
    made
}

/// How far in time the readings reach that cannot be told from the highest: by half a display step, and
/// by the scatter of a difference of two at 95 %.
fn alike(worked: &Worked<'_>, top: &Moment) -> f64 {
    let scatter = worked.scatter(top).map_or(0.0, |(_, scatter)| scatter.deviation);
    let room = top.slopes.shown * (worked.bench.shown.step / 2.0 + 1.96 * 2f64.sqrt() * scatter);
    let near = worked.moments.iter().filter(|moment| top.value - moment.value <= room);
    near.map(|moment| (moment.seconds - top.seconds).abs()).fold(0.0, f64::max)
}

/// The moment of the maximum: anywhere between the readings on either side of the highest (where a part warms slowly and
/// cools fast, it is near the next one), and known no better than readings as warm as the highest allow.
fn time_of_maximum(worked: &Worked<'_>, index: usize, top: &Moment, minutes: Unit) -> Finding {
    let time = |index: usize| worked.moments.get(index).map(|moment| moment.seconds);
    let before = index.checked_sub(1).and_then(time).map(|before| top.seconds - before);
    let after = time(index + 1).map(|after| after - top.seconds);
    let interval = before.unwrap_or(0.0).max(after.unwrap_or(0.0));
    let half = interval.max(alike(worked, top)) / 60.0;
    let part = Component::half_width("Time between readings, and readings as warm as the highest", half);
    let value = Some(top.seconds / 60.0);
    let mut made = finding(&worked.series.name, "time_of_maximum", minutes, value, combine(vec![part]));
    made.n = worked.samples();
    if after.is_none() {
        "at the end".clone_into(&mut made.remark);
        made.notes.push("The last reading is the highest: what came after it is not known.".to_owned());
    }
    let equal = worked.moments.iter().filter(|moment| moment.value >= top.value).count();
    if equal > 1 {
        made.notes.push(format!("The first of {equal} equal readings."));
    }
    made
}

fn vouched(worked: &Worked<'_>, top: &Moment, made: &mut Finding) {
    if let Some(outside) = worked.outside(std::slice::from_ref(top)) {
        range::not_vouched_for(made, &outside);
    }
}

/// A place's course in minutes for the chart.
fn curve(worked: &Worked<'_>, fits: Vec<Vec<(f64, f64)>>) -> Curve {
    let ambient_at = |minutes: f64| worked.bench.ambient.at(minutes * 60.0);
    let mut kept = worked.moments.iter();
    let points = worked.series.points.iter().map(|point| {
        let minutes = point.seconds / 60.0;
        // What was struck is drawn as it was shown.
        let moment = if point.struck { None } else { kept.next() };
        let (value, (low, high)) =
            moment.map_or((point.shown, (point.low, point.high)), |moment| (moment.value, moment.extremes));
        CurvePoint {
            minutes,
            value,
            low,
            high,
            ambient: ambient_at(minutes),
            struck: point.struck,
            fresh: point.fresh,
        }
    });
    Curve {
        place: worked.series.name.clone(),
        points: points.collect(),
        fits: fits
            .into_iter()
            .map(|fit| fit.into_iter().map(|(x, y)| (x, y, ambient_at(x))).collect())
            .collect(),
        is_recorded: worked.series.recorded.is_some(),
    }
}
