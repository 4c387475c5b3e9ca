//! The findings of one recording: all axes together first, then each alone.

use crate::analysis::finding;
use crate::analysis::uncertainty::{Shown, combine};
use crate::findings::{BoundOn, Component, Finding};
use crate::quantity::{Difference, Kind, Unit, significant};

use super::bearing::{BearingLine, Envelope};
use super::fields::{Ready, hertz};
use super::orders::order;
use super::recorded::{Shake, Trace};
use super::zones;

/// One trace on its way to findings.
struct Source<'a> {
    ready: &'a Ready,
    shake: &'a Shake,
    trace: &'a Trace,
    shown: &'a Shown,
    at: String,
    aside: bool,
}

/// Every finding of a recording. A single axis is not said twice.
pub(super) fn findings(ready: &Ready, shake: &Shake, shown: &Shown) -> Vec<Finding> {
    let together = Source { ready, shake, trace: &shake.combined, shown, at: shake.at.clone(), aside: false };
    let mut list = together.all();
    if let Some(class) = ready.class
        && let Some(first) = list.first_mut()
    {
        let largest = shake.traces.iter().filter_map(|trace| trace.velocity).fold(0.0, f64::max);
        let metric = Unit::known(Kind::Velocity, "mm/s")
            .and_then(|unit| Difference::new(largest, ready.units.velocity).to(unit).ok());
        if let (Some(velocity), Some(_)) = (metric, first.value) {
            first.notes.push(zones::note(class, velocity, shake.band, shake.turning));
        }
    }
    if shake.traces.len() > 1 {
        for trace in &shake.traces {
            let at = format!("{}, {}", shake.at, trace.name);
            list.extend(Source { ready, shake, trace, shown, at, aside: true }.all());
        }
    }
    if !shown.named {
        for finding in list.iter_mut().filter(|finding| finding.value.is_some()) {
            finding.notes.push(crate::analysis::uncertainty::UNNAMED.to_owned());
        }
    }
    list
}

impl Source<'_> {
    fn all(&self) -> Vec<Finding> {
        let mut list = vec![self.velocity(), self.rms(), self.peak(), self.crest(), self.dominant()];
        list.extend([("order_1", 1), ("order_2", 2), ("order_3", 3)].map(|(what, k)| self.order(what, k)));
        if let Some(bearing) = &self.ready.bearing {
            list.extend(bearing.defects().named().map(|(what, _)| self.bearing_line(what)));
        }
        list
    }

    fn made(&self, what: &'static str, unit: Unit, value: Option<f64>, parts: Vec<Component>) -> Finding {
        let mut made = finding(&self.at, what, unit, value, combine(parts));
        made.n = usize::try_from(self.shake.samples).unwrap_or(usize::MAX);
        made.aside = self.aside;
        made
    }

    fn refused(&self, what: &'static str, unit: Unit, why: &str) -> Finding {
        let mut made = self.made(what, unit, None, Vec::new());
        made.notes.push(why.to_owned());
        made
    }

    /// The scatter from stretch to stretch of `value`, a root mean square.
    fn scatter(&self, value: f64, of_velocity: bool) -> Option<Component> {
        let (plain, weighed, dof) = self.trace.scatter.of_roots()?;
        Some(scatter_line(value * if of_velocity { weighed } else { plain }, dof))
    }

    /// What the instrument itself would show on a part that stands still, squared: step and noise.
    fn still(&self) -> f64 {
        let noise = self.shown.repeatability.map_or(0.0, |repeats| repeats.deviation);
        self.shown.step_standard().powi(2) + noise * noise
    }

    /// The root of what all axes of this trace show together on a part that stands still.
    fn floor(&self, of_one: f64) -> Option<f64> {
        let axes = if self.trace.name.is_empty() { self.shake.traces.len() } else { 1 };
        (of_one > 0.0).then(|| (of_one * axes as f64).sqrt())
    }

    fn velocity(&self) -> Finding {
        let unit = self.ready.units.velocity;
        let what = "velocity_rms";
        let (low, high) = self.shake.band;
        let Some(spectrum) = &self.trace.spectrum else {
            return self.refused(what, unit, TOO_SHORT);
        };
        let Some(value) = self.trace.velocity else {
            return self.refused(
                what,
                unit,
                &format!(
                    "Nothing of the band is visible: {} samples a second show up to {}, the spectrum's bins of {} \
                     begin at {}.",
                    significant(self.shake.rate, 4),
                    hertz(high),
                    hertz(spectrum.width),
                    hertz(low)
                ),
            );
        };
        let ratio = if self.trace.rms > 0.0 { value / self.trace.rms } else { 0.0 };
        let mut parts: Vec<Component> = self.scatter(value, true).into_iter().collect();
        parts.extend(self.shown.accuracy_line(self.trace.rms, ratio));
        let mut made = self.made(what, unit, Some(value), parts);
        // White noise of the instrument, its density divided by (2πf)² over the band.
        let per_hertz = 2.0 * self.still() / self.shake.rate;
        let weight = (1.0 / low - 1.0 / high) / std::f64::consts::TAU.powi(2);
        let second = self.ready.units.second;
        made.floor = self.floor(per_hertz * weight * second * second);
        if spectrum.stretches < 2 {
            made.notes.push(ONE_STRETCH.to_owned());
        }
        made
    }

    fn rms(&self) -> Finding {
        let value = self.trace.rms;
        let mut parts: Vec<Component> = self.scatter(value, false).into_iter().collect();
        if self.shown.step > 0.0 {
            // The step's own mean square is in the sum; it moves the root by this much.
            let step = self.shown.step_standard();
            parts.push(self.shown.step_line((step * step / (2.0 * value.max(step))).min(step)));
        }
        parts.extend(self.shown.accuracy_line(value, 1.0));
        let mut made = self.made("acceleration_rms", self.ready.units.acceleration, Some(value), parts);
        made.floor = self.floor(self.still());
        made
    }

    fn peak(&self) -> Finding {
        let value = self.trace.peak;
        let mut parts = Vec::new();
        if self.shown.step > 0.0 {
            parts.push(self.shown.step_line(self.shown.step_standard()));
        }
        parts.extend(self.shown.accuracy_line(value, 1.0));
        if self.trace.short_by > 0.0 {
            parts.push(Component::half_width(
                "Drift of the means while the longest vector was sought",
                self.trace.short_by,
            ));
        }
        let mut made = self.made("acceleration_peak", self.ready.units.acceleration, Some(value), parts);
        let noise = self.shown.repeatability.map_or(0.0, |repeats| repeats.deviation);
        let most = (2.0 * (self.shake.samples.max(2) as f64).ln()).sqrt() * noise + self.shown.step / 2.0;
        made.floor = self.floor(most * most);
        made.notes.push("The largest of this recording: a longer one shows a larger.".to_owned());
        made
    }

    fn crest(&self) -> Finding {
        let (rms, peak) = (self.trace.rms, self.trace.peak);
        let unit = self.ready.units.number;
        if rms <= 0.0 {
            return self.refused("crest_factor", unit, STILL);
        }
        let value = peak / rms;
        // The instrument's gain cancels in the ratio.
        let mut parts: Vec<Component> = self.scatter(value, false).into_iter().collect();
        if self.shown.step > 0.0 {
            parts.push(self.shown.step_line(self.shown.step_standard() / rms));
        }
        let mut made = self.made("crest_factor", unit, Some(value), parts);
        made.notes.push("Of this recording's own peak: a longer one shows a larger.".to_owned());
        made
    }

    fn dominant(&self) -> Finding {
        let unit = self.ready.units.hertz;
        let Some(spectrum) = &self.trace.spectrum else {
            return self.refused("dominant_frequency", unit, TOO_SHORT);
        };
        let (low, high) = (self.shake.band.0, self.shake.rate / 2.0);
        let Some(bin) = spectrum.highest(low, high).filter(|_| self.trace.rms > 0.0) else {
            return self.refused("dominant_frequency", unit, STILL);
        };
        let half = spectrum.width / 2.0;
        let line = Component::half_width("Width of a bin of the spectrum", half);
        let mut made = self.made("dominant_frequency", unit, Some(spectrum.between_bins(bin)), vec![line]);
        made.notes.push(format!(
            "The highest line of the acceleration's spectrum between {} and {}; its bins are {} wide.",
            hertz(low),
            hertz(high),
            hertz(spectrum.width)
        ));
        made
    }

    fn order(&self, what: &'static str, k: u32) -> Finding {
        let unit = self.ready.units.acceleration;
        let Some(spectrum) = &self.trace.spectrum else {
            return self.refused(what, unit, TOO_SHORT);
        };
        let found = order(spectrum, k, self.shake.turning, self.shake.rate, self.shake.on_grid);
        let line = match found.line {
            Ok(line) => line,
            Err(why) => {
                let mut made = self.refused(what, unit, &why);
                made.notes.extend(found.notes);
                return made;
            }
        };
        let mut parts = Vec::new();
        if line.deviation.is_finite() {
            parts.push(scatter_line(line.deviation, (spectrum.independent() - 1.0).max(1.0)));
        }
        parts.extend(self.shown.accuracy_line(line.amplitude, 1.0));
        let mut made = self.made(what, unit, Some(line.amplitude), parts);
        made.floor = Some(line.floor);
        if line.amplitude > line.floor {
            made.remark = hertz(line.frequency);
            made.notes.push(format!("Found at {}.", hertz(line.frequency)));
        }
        made.notes.extend(found.notes);
        if spectrum.stretches < 2 {
            made.notes.push(ONE_STRETCH.to_owned());
        }
        made
    }

    fn bearing_line(&self, what: &'static str) -> Finding {
        let unit = self.ready.units.acceleration;
        if let Some(why) = &self.shake.no_bearing {
            let mut made = self.refused(what, unit, why.short);
            made.notes.push(why.at_length.clone());
            return made;
        }
        let own = self.trace.envelope.as_ref();
        let found = own.and_then(|envelope| envelope.lines.iter().find(|line| line.what == what));
        let (Some(envelope), Some(found)) = (own, found) else {
            return self.refused(what, unit, "There is no signal in any band to take an envelope of.");
        };
        let Some(line) = found.line else {
            let why = format!(
                "The envelope's spectrum has no room about {} to hold a line against.",
                hertz(found.expected)
            );
            return self.refused(what, unit, &why);
        };
        if !found.seen {
            let short = match found.multiple {
                Some(multiple) => format!("Not told from {multiple}×."),
                None => "Not seen.".to_owned(),
            };
            let mut made = self.refused(what, unit, &short);
            made.notes.push(not_seen(found, envelope, line.ratio));
            made.floor = Some(line.floor);
            made.bound = Some(BoundOn::AtMost(line.amplitude.max(line.floor)));
            return made;
        }
        let mut parts = Vec::new();
        if line.deviation.is_finite() {
            parts.push(scatter_line(line.deviation, (envelope.spectrum.independent() - 1.0).max(1.0)));
        }
        parts.extend(self.shown.accuracy_line(line.amplitude, 1.0));
        let mut made = self.made(what, unit, Some(line.amplitude), parts);
        made.floor = Some(line.floor);
        made.remark = format!("{}, {}×", hertz(line.frequency), significant(line.ratio, 2));
        made.notes.push(seen(found, envelope, line.frequency, line.ratio));
        made
    }
}

/// "Seen at 161.9 Hz …": where, how clearly, and in which band.
fn seen(found: &BearingLine, envelope: &Envelope, frequency: f64, ratio: f64) -> String {
    let weaker = match envelope.strongest() {
        Some(strongest) if strongest.what != found.what => format!(
            " The {} is stronger ({} times), and its sidebands can fall here: the strongest line decides.",
            spoken(strongest.what),
            significant(strongest.line.map_or(0.0, |line| line.ratio), 2)
        ),
        _ => String::new(),
    };
    format!(
        "Seen at {}, expected at {}: {} times the median of its surroundings in the envelope of {} to {}.{weaker}",
        hertz(frequency),
        hertz(found.expected),
        significant(ratio, 2),
        hertz(envelope.band.low),
        hertz(envelope.band.high)
    )
}

/// Why a line is not seen.
fn not_seen(found: &BearingLine, envelope: &Envelope, ratio: f64) -> String {
    match found.multiple {
        Some(multiple) => format!(
            "Cannot be told from {multiple}× the turning frequency, which stands within the search for {}.",
            hertz(found.expected)
        ),
        None => format!(
            "Not seen at {}: {} times the median of its surroundings in the envelope of {} to {}, where {} are asked for.",
            hertz(found.expected),
            significant(ratio, 2),
            hertz(envelope.band.low),
            hertz(envelope.band.high),
            significant(envelope.threshold, 2)
        ),
    }
}

/// A bearing's part, in words.
pub(super) fn spoken(what: &str) -> &'static str {
    match what {
        "outer_race" => "outer race's line",
        "inner_race" => "inner race's line",
        "ball" => "ball's line",
        _ => "cage's line",
    }
}

fn scatter_line(contribution: f64, dof: f64) -> Component {
    Component::standard(
        "Scatter from stretch to stretch of the recording",
        contribution,
        dof.floor().max(1.0),
    )
}

const TOO_SHORT: &str = "The recording, or its longest part without a gap, is too short for a spectrum.";
const ONE_STRETCH: &str = "One stretch only: it has no scatter of its own.";
const STILL: &str = "Every sample is alike: nothing vibrates, or the sensor was not connected.";
