//! How a run ended: the rate over its last fifth, and whether it settled (IEC 60034-1: thermal
//! equilibrium is a change of not more than 1 K in half an hour).

use super::bench::{Moment, Worked};
use super::series::{Stretch, clock, lasting};
use crate::analysis::straight_line::{self, Line};
use crate::analysis::uncertainty::{Accuracy, combine, repeatability_line};
use crate::analysis::{finding, student, uncertainty::Repeatability};
use crate::findings::{BoundOn, Component, Finding};
use crate::quantity::{Kind, Unit, round_with_uncertainty, with_unit};

/// Half an hour in seconds.
const HALF_HOUR: f64 = 1800.0;
/// Kelvin in half an hour.
const SETTLED: f64 = 1.0;
/// A line needs as many readings.
const FEWEST: usize = 3;

/// The rate over the last fifth of the time, at least three readings.
pub(super) fn end_rate(worked: &Worked<'_>) -> Finding {
    let at = &worked.series.name;
    let symbol = format!("{}/h", worked.bench.unit.symbol());
    let unit = Unit::known(Kind::TemperatureRate, &symbol).unwrap_or(worked.bench.unit);
    let last = last_fifth(&worked.moments);
    let times: Vec<f64> = last.iter().map(|moment| moment.seconds / 3600.0).collect();
    let values: Vec<f64> = last.iter().map(|moment| moment.value).collect();
    let line = (last.len() >= FEWEST).then(|| straight_line::fit(&times, &values)).flatten();
    let Some(line) = line else {
        let mut refused = finding(at, "end_rate", unit, None, combine(Vec::new()));
        refused.n = last.len();
        refused.notes.push(format!(
            "A rate needs {FEWEST} readings; there {}.",
            if last.len() == 1 { "is one".to_owned() } else { format!("are {}", last.len()) }
        ));
        return refused;
    };
    let mut made = finding(at, "end_rate", unit, Some(line.slope), combine(rate_parts(worked, last, &line)));
    made.n = last.len();
    let span = last.last().map_or(0.0, |end| end.seconds) - last.first().map_or(0.0, |first| first.seconds);
    made.notes.push(format!("A line through the last {} readings, {}.", last.len(), lasting(span)));
    if let Some(outside) = worked.outside(last) {
        crate::analysis::range::not_vouched_for(&mut made, &outside);
    }
    made
}

/// The readings of the last fifth of the time, and three where there are.
fn last_fifth(moments: &[Moment]) -> &[Moment] {
    let (Some(first), Some(last)) = (moments.first(), moments.last()) else { return moments };
    let from = last.seconds - (last.seconds - first.seconds) / 5.0;
    // A reading that stands on the edge belongs to the fifth, whatever the binary numbers say.
    let edge = from - 1e-9 * last.seconds.abs();
    let start = moments.partition_point(|moment| moment.seconds < edge);
    &moments[start.min(moments.len().saturating_sub(FEWEST))..]
}

/// The lines of a rate's budget. An offset of the instrument cancels; a share of the number shown does
/// not, nor does the display step of the readings at both ends.
fn rate_parts(worked: &Worked<'_>, last: &[Moment], line: &Line) -> Vec<Component> {
    let shown = worked.bench.shown;
    let slope = last.last().map_or(1.0, |moment| moment.slopes.shown);
    let hours = match (last.first(), last.last()) {
        (Some(first), Some(end)) => (end.seconds - first.seconds) / 3600.0,
        _ => return Vec::new(),
    };
    let scatter = Repeatability { deviation: line.slope_standard(), dof: line.dof() };
    let mut parts = vec![repeatability_line("Scatter about the line", scatter, scatter.deviation)];
    if shown.step > 0.0 && hours > 0.0 {
        parts.push(shown.step_line(slope * shown.step_standard() * 2f64.sqrt() / hours));
    }
    if let Some(Accuracy::Stated { shares, .. }) = &shown.accuracy
        && let Some(share) = shares.iter().copied().reduce(f64::max)
    {
        parts.push(Component {
            contribution: share * line.slope.abs() / 3f64.sqrt(),
            ..Component::half_width("Accuracy stated as a share of the number shown", share)
        });
    }
    let slope_of = |values: &[f64]| {
        let tail = values.get(values.len().checked_sub(last.len())?..)?;
        let times: Vec<f64> = last.iter().map(|moment| moment.seconds / 3600.0).collect();
        straight_line::fit(&times, tail).map(|line| line.slope)
    };
    if let Some((low, high)) = &worked.shifted
        && let (Some(low), Some(high)) = (slope_of(low), slope_of(high))
    {
        parts.push(through_fit("Emissivity of the surface (common practice)", (high - low).abs() / 2.0));
    }
    parts
}

/// A part that was carried through a fit by fitting again.
pub(super) fn through_fit(name: &str, standard: f64) -> Component {
    Component::standard(name, standard, f64::INFINITY)
}

/// A half hour from a reading on.
struct HalfHour {
    /// How much the fitted line changes over half an hour.
    change: f64,
    /// The expanded uncertainty of that, from the scatter.
    expanded: f64,
    /// The largest distance of a reading from the line.
    off: f64,
}

/// The half hour that begins with a reading; none where the record does not cover it.
fn half_hour(moments: &[Moment], start: usize) -> Option<HalfHour> {
    let rest = moments.get(start..)?;
    let from = rest.first()?.seconds;
    let reaches = |moment: &Moment| moment.seconds - from >= HALF_HOUR * (1.0 - 1e-9);
    let end = rest.iter().position(reaches)?;
    // One reading after a long gap does not cover what went on before it.
    if rest.get(end)?.seconds - from > 1.5 * HALF_HOUR {
        return None;
    }
    line_over(rest.get(..=end)?)
}

fn line_over(moments: &[Moment]) -> Option<HalfHour> {
    if moments.len() < FEWEST {
        return None;
    }
    let times: Vec<f64> = moments.iter().map(|moment| moment.seconds / HALF_HOUR).collect();
    let values: Vec<f64> = moments.iter().map(|moment| moment.value).collect();
    let line = straight_line::fit(&times, &values)?;
    let off = times.iter().zip(&values).map(|(t, v)| (v - line.at(*t)).abs()).fold(0.0, f64::max);
    let expanded = student::quantile(0.975, line.dof()) * line.slope_standard();
    Some(HalfHour { change: line.slope, expanded, off })
}

/// The half hours that count, each with the reading it begins at: those at one speed, the machine
/// running. A machine that has not started yet has not settled, nor does one that cools after the run
/// settle; only where it never ran may it stand.
fn half_hours(worked: &Worked<'_>) -> Vec<(usize, HalfHour)> {
    let runs = |stretch: &Stretch| stretch.speed.is_none_or(|speed| speed.value() > 0.0);
    let never_runs = !worked.bench.stretches.iter().any(runs);
    let mut hours = Vec::new();
    for stretch in worked.bench.stretches.iter().filter(|stretch| never_runs || runs(stretch)) {
        let begin = worked.moments.partition_point(|moment| moment.seconds < stretch.from);
        let end = worked.moments.partition_point(|moment| moment.seconds <= stretch.to);
        let Some(inside) = worked.moments.get(..end) else { continue };
        hours.extend((begin..end).filter_map(|start| half_hour(inside, start).map(|hour| (start, hour))));
    }
    hours
}

/// The start of the first half hour at one speed over which a fitted line changes by less than 1 K,
/// every reading within 1 K of that line (else a hump would count as level); in minutes.
pub(super) fn settled_at(worked: &Worked<'_>, minutes: Unit) -> Finding {
    let at = &worked.series.name;
    let level = worked.bench.kelvins(SETTLED);
    let hours = half_hours(worked);
    let first = |room: f64| {
        let fits = |hour: &HalfHour| {
            hour.change.abs() + room * hour.expanded < level && hour.off <= level + worked.bench.shown.step
        };
        hours.iter().find(|(_, hour)| fits(hour)).map(|(start, _)| *start)
    };
    let mut made = match first(0.0) {
        Some(start) => settled(worked, start, (first(-1.0), first(1.0)), minutes),
        None => not_settled(worked, hours.is_empty(), minutes),
    };
    made.at.clone_from(at);
    made.n = worked.samples();
    made
}

fn settled(
    worked: &Worked<'_>,
    start: usize,
    (earliest, latest): (Option<usize>, Option<usize>),
    minutes: Unit,
) -> Finding {
    let time = |index: usize| worked.moments.get(index).map_or(0.0, |moment| moment.seconds);
    let interval = if start > 0 { time(start) - time(start - 1) } else { 0.0 };
    let reach = match (earliest, latest) {
        (Some(earliest), Some(latest)) => time(latest) - time(earliest),
        _ => 0.0,
    };
    let half = (interval.max(reach) / 2.0) / 60.0;
    let part = Component::half_width("Time between readings, and scatter about the line", half);
    let mut made = finding("", "settled_at", minutes, Some(time(start) / 60.0), combine(vec![part]));
    if start == 0 {
        made.notes.push("It was settled from the first reading on.".to_owned());
    }
    if latest.is_none() {
        made.notes
            .push("The change is under 1 K in half an hour by less than its own uncertainty.".to_owned());
    }
    made
}

fn not_settled(worked: &Worked<'_>, is_short: bool, minutes: Unit) -> Finding {
    let mut made = finding("", "settled_at", minutes, None, combine(Vec::new()));
    let moments = &worked.moments;
    let end = moments.last().map_or(0.0, |moment| moment.seconds);
    let why = if worked.seconds() < HALF_HOUR {
        format!(
            "The run lasted {}, less than the half hour that settling is judged by.",
            lasting(worked.seconds())
        )
    } else if is_short {
        "No half hour at one speed was read without a gap.".to_owned()
    } else {
        made.bound = Some(BoundOn::AtLeast((end - HALF_HOUR) / 60.0));
        "No half hour at one speed changed by less than 1 K.".to_owned()
    };
    let tail = moments.partition_point(|moment| moment.seconds < end - HALF_HOUR);
    let last = &moments[tail.min(moments.len())..];
    let change = line_over(last).zip(last.first().map(|first| end - first.seconds));
    made.notes.push(why);
    if let Some((hour, span)) = change.filter(|(_, span)| *span > 0.0) {
        let share = span / HALF_HOUR;
        let said = said(hour.change * share, hour.expanded * share, worked.bench.unit);
        made.notes.push(format!("From {} to the end it changed by {said}.", clock(end - span)));
    }
    made
}

/// A change with its uncertainty and its sign.
pub(super) fn said(value: f64, expanded: f64, unit: Unit) -> String {
    let sign = if value > 0.0 { "+" } else { "" };
    // Readings on a line to the last bit leave a rounding error of nothing.
    if expanded > 1e-9 * value.abs() {
        let rounded = round_with_uncertainty(value, expanded);
        return with_unit(&format!("{sign}{} ± {}", rounded.value, rounded.uncertainty), unit);
    }
    with_unit(&format!("{sign}{}", crate::quantity::significant(value, 3)), unit)
}
