//! What `vibration` shows: the spectrum with its orders, the envelope's with the bearing's lines, and the
//! velocity at every speed.

use super::ChartError;
use super::exhibit::{Draw, Exhibit, Measure, Room, main_limit, measured, visit};
use super::settings::{Along, Found, SettingPoint, Settings, SettingsVisit};
use super::spectra::{Mark, Spectra, SpectrumVisit};
use super::trace::{Trace, TracedVisit};
use crate::analysis::signal::Spectrum;
use crate::analysis::vibration::{Shake, VibrationDetails};
use crate::findings::{CheckFindings, VisitFindings, sentences};
use crate::quantity::{Quantity, Unit, parse_quantity, significant, with_unit};
use crate::session::Session;

/// The exhibits of a vibration check.
pub const DRAW: Draw = draw;

fn draw(session: &Session, check: &CheckFindings, room: Room) -> Result<Vec<Exhibit>, ChartError> {
    let mut exhibits = Vec::new();
    let shakes = telling(check);
    exhibits.extend(spectrum(session, check, &shakes, room)?);
    exhibits.extend(envelope(session, &shakes, room)?);
    exhibits.extend(trace(session, &shakes, room)?);
    exhibits.extend(speeds(session, check, room)?);
    Ok(exhibits)
}

/// The recording of each visit at the place that speaks for the check.
fn telling(check: &CheckFindings) -> Vec<(&VisitFindings, &Shake)> {
    let details = |found: &'_ VisitFindings| found.details.of::<VibrationDetails>().cloned();
    let place = sentences::telling_place(check);
    let known =
        |at: &str| check.visits.iter().filter_map(details).any(|d| d.shakes.iter().any(|s| s.at == at));
    let place = place.map(|place| place.split(", ").next().unwrap_or(place)).filter(|place| known(place));
    let first = || {
        let mut all = check.visits.iter().filter_map(|found| found.details.of::<VibrationDetails>());
        all.find_map(|details| details.shakes.first()).map(|shake| shake.at.as_str())
    };
    let Some(place) = place.or_else(first) else { return Vec::new() };
    check
        .visits
        .iter()
        .filter_map(|found| {
            let details = found.details.of::<VibrationDetails>()?;
            let shake = details.shakes.iter().find(|shake| is_setting(&shake.at, place))?;
            Some((found, shake))
        })
        .collect()
}

/// Whether two settings are one within 1 %.
fn is_setting(a: &str, b: &str) -> bool {
    let read = |text: &str| parse_quantity(text, &[], None).ok();
    match (read(a), read(b)) {
        (Some(a), Some(b)) => {
            let value = a.to(b.unit()).unwrap_or(f64::NAN);
            (value - b.value()).abs() <= 0.01 * b.value().abs()
        }
        _ => a == b,
    }
}

fn sizes(spectrum: &Spectrum) -> Vec<f64> {
    (0..spectrum.density.len()).map(|bin| spectrum.amplitude(bin)).collect()
}

/// The spectrum of all axes together, with the orders.
fn spectrum(
    session: &Session,
    check: &CheckFindings,
    shakes: &[(&VisitFindings, &Shake)],
    room: Room,
) -> Result<Option<Exhibit>, ChartError> {
    let with: Vec<(&VisitFindings, &Shake, &Spectrum)> = shakes
        .iter()
        .filter_map(|(found, shake)| Some((*found, *shake, shake.combined.spectrum.as_ref()?)))
        .filter(|(_, _, spectrum)| spectrum.mean_square() > 0.0)
        .collect();
    let Some((first, shake, _)) = with.first().copied() else { return Ok(None) };
    let Some(details) = first.details.of::<VibrationDetails>() else { return Ok(None) };
    let shown = with.iter().map(|(_, shake, _)| shake.rate / 2.0).fold(f64::INFINITY, f64::min);
    // As far as the band reaches, but not so far that the orders stand in a corner.
    let wanted = if shake.turning > 0.0 { details.band.1.min(20.0 * shake.turning) } else { details.band.1 };
    let mut marks: Vec<Mark> = (1..=3)
        .map(|order| Mark { frequency: f64::from(order) * shake.turning, words: format!("{order}×") })
        .collect();
    marks.extend(bearing_marks(shake));
    let chart = Spectra {
        width_pt: room.text,
        name: "Acceleration, peak of a line".to_owned(),
        unit: details.acceleration.symbol().to_owned(),
        highest: wanted.min(shown),
        visits: with
            .iter()
            .map(|(found, _, spectrum)| SpectrumVisit {
                visit: visit(session, found),
                width: spectrum.width,
                sizes: sizes(spectrum),
            })
            .collect(),
        marks,
    };
    let visible =
        check.visits.iter().any(|v| v.finding(&shake.at, "order_1").is_some_and(|f| f.value.is_some()));
    let (what, words) =
        if visible { ("order_1", "once per turn (1×)") } else { ("dominant_frequency", "the highest line") };
    let each = sentences::at_each_visit(session, check, &shake.at, what);
    Ok(Some(Exhibit {
        name: "spectrum",
        svg: chart.draw_to(room.height)?,
        title: format!("At {}, {words}: {}.", shake.at, each.join(", ")),
        caption: format!(
            "The size of each line, all axes together, on a scale of decades, the visits on one scale. Marked are 1×, \
             2× and 3× the speed{}. Bins are {} Hz wide; each column of the drawing shows its smallest and its \
             largest.",
            if shake.combined.envelope.is_some() {
                ", and where a mark on the bearing would repeat"
            } else {
                ""
            },
            widths_said(&with)
        ),
        measure: Measure::Text,
    }))
}

fn widths_said(with: &[(&VisitFindings, &Shake, &Spectrum)]) -> String {
    let mut said: Vec<String> = Vec::new();
    for (_, _, spectrum) in with {
        let width = significant(spectrum.width, 2);
        if !said.contains(&width) {
            said.push(width);
        }
    }
    said.join(" and ")
}

fn bearing_marks(shake: &Shake) -> Vec<Mark> {
    let lines =
        shake.combined.envelope.as_ref().map(|envelope| envelope.lines.as_slice()).unwrap_or_default();
    let short = |what: &str| {
        if what == "ball" || what == "cage" { what.to_owned() } else { what.replace("_race", "") }
    };
    lines.iter().map(|line| Mark { frequency: line.expected, words: short(line.what) }).collect()
}

/// The envelope's spectrum, with the bearing's lines.
fn envelope(
    session: &Session,
    shakes: &[(&VisitFindings, &Shake)],
    room: Room,
) -> Result<Option<Exhibit>, ChartError> {
    let with: Vec<_> = shakes
        .iter()
        .filter_map(|(found, shake)| Some((*found, *shake, shake.combined.envelope.as_ref()?)))
        .filter(|(_, _, envelope)| envelope.spectrum.mean_square() > 0.0)
        .collect();
    let Some((first, shake, own)) = with.first().copied() else { return Ok(None) };
    let Some(details) = first.details.of::<VibrationDetails>() else { return Ok(None) };
    let highest = own.lines.iter().map(|line| line.expected).fold(0.0, f64::max);
    let shown = with.iter().map(|(_, shake, _)| shake.rate / 2.0).fold(f64::INFINITY, f64::min);
    let mut marks = bearing_marks(shake);
    marks.push(Mark { frequency: shake.turning, words: "1×".to_owned() });
    let chart = Spectra {
        width_pt: room.text,
        name: "Envelope, peak of a line".to_owned(),
        unit: details.acceleration.symbol().to_owned(),
        highest: (2.5 * highest).min(shown),
        visits: with
            .iter()
            .map(|(found, _, envelope)| SpectrumVisit {
                visit: visit(session, found),
                width: envelope.spectrum.width,
                sizes: sizes(&envelope.spectrum),
            })
            .collect(),
        marks,
    };
    let each: Vec<String> = with
        .iter()
        .map(|(found, _, envelope)| {
            let when = sentences::when(session, found);
            let seen = envelope.strongest().and_then(|line| Some((line.what, line.line?.ratio)));
            match seen {
                Some((what, ratio)) => {
                    let part = what.replace('_', " ");
                    format!(
                        "the {part}'s line stands at {} times its surroundings {when}",
                        significant(ratio, 2)
                    )
                }
                None => format!("none of the bearing's lines is seen {when}"),
            }
        })
        .collect();
    Ok(Some(Exhibit {
        name: "envelope",
        svg: chart.draw_to(room.height)?,
        title: format!("At {}, {}.", shake.at, each.join("; ")),
        caption: "The spectrum of the envelope of the most impulsive band: how often the bearing rings. Marked is where \
                  a mark on its outer race, inner race, a ball or the cage would repeat; a line counts as seen \
                  from three times its surroundings."
            .to_owned(),
        measure: Measure::Text,
    }))
}

/// The recordings of the axis that shook most, as they were taken.
fn trace(
    session: &Session,
    shakes: &[(&VisitFindings, &Shake)],
    room: Room,
) -> Result<Option<Exhibit>, ChartError> {
    let Some((first, shake)) = shakes.first() else { return Ok(None) };
    let Some(details) = first.details.of::<VibrationDetails>() else { return Ok(None) };
    let most = shake.traces.iter().max_by(|a, b| a.rms.total_cmp(&b.rms));
    let Some(axis) = most.filter(|axis| !axis.outline.is_empty()) else { return Ok(None) };
    let unit = details.acceleration;
    let same = |shake: &'_ Shake| shake.traces.iter().position(|trace| trace.name == axis.name);
    let with: Vec<(&VisitFindings, &Shake, usize)> =
        shakes.iter().filter_map(|(found, shake)| Some((*found, *shake, same(shake)?))).collect();
    let peak = |shake: &Shake, at: usize| with_unit(&significant(shake.traces[at].peak, 3), unit);
    let chart = Trace {
        width_pt: room.text,
        name: format!("Acceleration, {}", axis.name),
        unit: unit.symbol().to_owned(),
        visits: with
            .iter()
            .map(|(found, shake, at)| TracedVisit {
                visit: visit(session, found),
                text: format!("peak {}", peak(shake, *at)),
                outline: shake.traces[*at].outline.clone(),
                struck: shake.struck.clone(),
            })
            .collect(),
        range: None,
    };
    let each: Vec<String> = with
        .iter()
        .map(|(found, shake, at)| format!("{} {}", peak(shake, *at), sentences::when(session, found)))
        .collect();
    Ok(Some(Exhibit {
        name: "trace",
        svg: chart.draw_to(room.height)?,
        title: format!("At {}, {} reached {} from its mean.", shake.at, axis.name, each.join(", ")),
        caption: "The recording of the axis that shook most, its mean taken off: the smallest and the largest sample in \
                  each column, the visits on one scale."
            .to_owned(),
        measure: Measure::Text,
    }))
}

/// The velocity at every speed; none where there is one speed or none.
fn speeds(session: &Session, check: &CheckFindings, room: Room) -> Result<Option<Exhibit>, ChartError> {
    let mut unit: Option<Unit> = None;
    let mut visits = Vec::new();
    for found in &check.visits {
        let mut points = Vec::new();
        for finding in sentences::main_findings(check, found).filter(|finding| !finding.aside) {
            let Some(setting) = parse_quantity(&finding.at, &[], None).ok() else { continue };
            let unit = *unit.get_or_insert(setting.unit());
            points.extend(point(setting, unit, measured(finding)));
        }
        visits.push(SettingsVisit { visit: visit(session, found), points });
    }
    let most = visits.iter().map(|visit| visit.points.len()).max().unwrap_or(0);
    let (Some(unit), true) = (unit, most > 1) else { return Ok(None) };
    let at = sentences::telling_place(check).unwrap_or_default();
    let chart = Settings {
        width_pt: room.text,
        name: main_name(check.main).to_owned(),
        unit: check.unit.symbol().to_owned(),
        along: Along::Numbers { name: "Speed".to_owned(), unit: unit.symbol().to_owned() },
        visits,
        limit: main_limit(check),
        from_zero: true,
        range: None,
    };
    let each = sentences::at_each_visit(session, check, at, check.main);
    Ok(Some(Exhibit {
        name: "speeds",
        svg: chart.draw_to(room.height)?,
        title: format!("Over the speeds, it shook most at {at}: {}.", each.join(", ")),
        caption: "All axes together at each speed, with the uncertainty. Lines join what one visit found."
            .to_owned(),
        measure: Measure::Text,
    }))
}

fn main_name(what: &str) -> &str {
    match what {
        "velocity_rms" => "Velocity, RMS in the band",
        "acceleration_rms" => "Acceleration, RMS",
        "acceleration_peak" => "Acceleration, peak",
        "acceleration_mean" => "Acceleration, mean as the meter gave it",
        "acceleration_max" => "Acceleration, largest as the meter gave it",
        _ => "As found",
    }
}

fn point(setting: Quantity, unit: Unit, found: Option<super::Measured>) -> Option<SettingPoint> {
    Some(SettingPoint {
        at: setting.to(unit).ok()?,
        found: Some(Found::Value(found?)),
        readings: Vec::new(),
        remark: None,
    })
}
