//! One recording: heard, brought to the check's unit, and read axis by axis and all together.

use crate::analysis::Sitting;
use crate::analysis::signal::spectrum::Spectrum;
use crate::analysis::signal::tracks::{Heard, Scatter, Tracks, Wish};
use crate::analysis::uncertainty::Shown;
use crate::quantity::{Difference, Kind, Unit, parse_unit, significant};
use crate::recording::{Account, Column, Recording, Request, TimeBase};
use crate::session::{Fields, Place, Problems, Setting};

use super::bearing::{Envelope, Why, why_not};
use super::fields::{Ready, hertz};
use super::orders::{FILTERED_FROM, FILTERED_FROM_EVEN};
use super::{OfSetting, levels, wrong};

/// One axis, or all of them together.
#[derive(Clone, Debug)]
pub struct Trace {
    /// The axis's name; empty for all together.
    pub name: String,
    /// The root mean square about the mean, in the check's unit.
    pub rms: f64,
    /// The largest distance from the mean.
    pub peak: f64,
    /// By how much the peak may be short (all axes together, where the means drifted far).
    pub short_by: f64,
    /// The spectrum of the acceleration; none where not one stretch was whole.
    pub spectrum: Option<Spectrum>,
    /// The velocity in the band, root mean square, in the unit of velocities.
    pub velocity: Option<f64>,
    /// How the mean squares scatter from stretch to stretch.
    pub scatter: Scatter,
    /// The envelope, where the check names a bearing and the recording can show it.
    pub envelope: Option<Envelope>,
    /// The recording itself, for drawing: seconds at the middle of each of many stretches, the smallest
    /// and the largest sample there, the mean taken off. Empty for all axes together.
    pub outline: Vec<(f64, f64, f64)>,
}

/// What one recording showed.
#[derive(Clone, Debug)]
pub struct Shake {
    /// The setting: `3450 rpm`.
    pub at: String,
    /// The turning frequency, hertz.
    pub turning: f64,
    /// Samples a second.
    pub rate: f64,
    /// Whether the spectra were taken of samples brought to an even grid.
    pub on_grid: bool,
    /// Samples of each axis.
    pub samples: u64,
    /// The band of velocities that the recording shows, hertz; the lower edge is not below the upper
    /// where it shows none of it.
    pub band: (f64, f64),
    /// Each axis.
    pub traces: Vec<Trace>,
    /// All axes together.
    pub combined: Trace,
    /// Why there are no bearing lines, where there are none.
    pub no_bearing: Option<Why>,
    /// Struck stretches: from and to, seconds.
    pub struck: Vec<(f64, f64)>,
}

pub(super) fn examine(
    ready: &Ready,
    sitting: &Sitting<'_>,
    setting: &Setting,
    turning: f64,
    fields: &mut Fields,
    shown: &Shown,
    problems: &mut Problems,
) -> Option<OfSetting> {
    let recording = Recording::named(fields, sitting.session, &sitting.visit.id, problems);
    let time = TimeBase::of(fields, problems);
    let axes = axes(fields, problems);
    let place = fields.place();
    let (recording, time, axes) = (recording?, time?, axes?);
    let (names, channels): (Vec<String>, Vec<Column>) = axes.into_iter().unzip();
    let mut tracks = Tracks::new(Wish { band: ready.band, pieces: ready.bearing.is_some() });
    let account = recording.listen(&Request { time, channels }, &mut tracks, problems)?;
    let Some(heard) = tracks.finish() else {
        problems.push(wrong(
            format!("{} holds no sample of these axes", recording.name),
            recording.place.clone(),
            "expected a recording with samples",
            "look whether the columns named hold numbers, and whether all of it was struck",
        ));
        return None;
    };
    let (factor, mut notes) = factor(&account, ready.units.acceleration, &recording.place, problems)?;
    let Some(shake) = shake(ready, setting, turning, &names, &heard, &account, factor) else {
        problems.push(wrong(
            format!("{} holds numbers too large to analyse", recording.name),
            place,
            "expected accelerations",
            "look whether the columns named are accelerations, and in which unit",
        ));
        return None;
    };
    notes.extend(account.notes());
    notes.extend(told(ready, &shake, &heard));
    let table = account.table("", &recording);
    let findings = levels::findings(ready, &shake, shown);
    Some(OfSetting {
        findings,
        shake: Some(light(shake)),
        recording: Some((setting.at.clone(), table)),
        figure: None,
        notes: notes.into_iter().map(|note| format!("{}: {note}", setting.at)).collect(),
    })
}

/// `axes: {x: ax, y: ay, z: az}`.
fn axes(fields: &mut Fields, problems: &mut Problems) -> Option<Vec<(String, Column)>> {
    let node = fields.need("axes", "{x: ax, y: ay, z: az}", problems)?;
    let entries = Fields::of(&node, fields.source(), "'axes'", problems)?.entries();
    if entries.is_empty() {
        problems.push(wrong(
            "'axes' names no axis",
            fields.at(&node),
            "expected at least one axis with its column",
            "write for example: axes: {z: az}",
        ));
        return None;
    }
    let read: Vec<(String, Column)> = entries
        .iter()
        .filter_map(|entry| Some((entry.key.clone(), Column::of(&entry.node, fields, problems)?)))
        .collect();
    (read.len() == entries.len()).then_some(read)
}

/// What the samples are to be multiplied by. A unit of acceleration that the header gives in brackets
/// is the file's own word and wins over the check's; any other unit is an error.
fn factor(account: &Account, unit: Unit, at: &Place, problems: &mut Problems) -> Option<(f64, Vec<String>)> {
    let mut found: Vec<(Unit, &str)> = Vec::new();
    for channel in &account.channels {
        let named = channel.unit.as_deref().and_then(|text| parse_unit(text, &[]).ok());
        let own =
            named.map_or(unit, |named| parse_unit(named.symbol(), &[Kind::Acceleration]).unwrap_or(named));
        if own.kind() != Kind::Acceleration {
            problems.push(wrong(
                format!("the column '{}' is headed {own}, {}", channel.name, own.kind().words()),
                at.clone(),
                "expected a column of accelerations",
                "name the column that holds the acceleration; velocities are computed from it",
            ));
            return None;
        }
        found.push((own, &channel.name));
    }
    let Some((first, _)) = found.first().copied() else { return Some((1.0, Vec::new())) };
    if let Some((other, name)) = found.iter().find(|(other, _)| *other != first) {
        problems.push(wrong(
            format!("the axes are in different units: '{name}' in {other}, the first in {first}"),
            at.clone(),
            "expected all axes of a recording in one unit",
            "mend the units in the file's header, or record the axes alike",
        ));
        return None;
    }
    let factor = Difference::new(1.0, first).to(unit).ok()?;
    let note = format!("The file's header gives {first}; its numbers were converted to {unit}.");
    Some((factor, if first == unit { Vec::new() } else { vec![note] }))
}

/// Everything that is read from what was heard; `None` where a number overflowed.
fn shake(
    ready: &Ready,
    setting: &Setting,
    turning: f64,
    names: &[String],
    heard: &Heard,
    account: &Account,
    factor: f64,
) -> Option<Shake> {
    let whole = if account.rate.is_finite() && account.rate > 0.0 { account.rate } else { heard.rate };
    let rate = heard.grid.unwrap_or(whole);
    let mut traces = Vec::new();
    for (axis, name) in names.iter().enumerate() {
        let level = heard.level(axis)?;
        traces.push(Trace {
            name: name.clone(),
            rms: factor * level.mean_square().sqrt(),
            peak: factor * level.peak(),
            short_by: 0.0,
            spectrum: heard.spectrum(axis, rate).map(|spectrum| spectrum.times(factor)),
            velocity: None,
            scatter: heard.scatter(axis)?,
            envelope: None,
            outline: outline(account, axis, level.mean(), factor),
        });
    }
    let longest = heard.longest();
    let together = traces.iter().map(|trace| trace.spectrum.clone());
    let combined = Trace {
        name: String::new(),
        rms: traces.iter().map(|trace| trace.rms * trace.rms).sum::<f64>().sqrt(),
        peak: factor * longest.length,
        short_by: factor * longest.short_by,
        spectrum: together.reduce(|a, b| Some(a?.with(&b?))).flatten(),
        velocity: None,
        scatter: heard.combined(),
        envelope: None,
        outline: Vec::new(),
    };
    let mut shake = Shake {
        at: setting.at.clone(),
        turning,
        rate,
        on_grid: heard.grid.is_some(),
        samples: heard.samples,
        band: ready.band,
        traces,
        combined,
        no_bearing: None,
        struck: account.stretches.iter().map(|stretch| (stretch.from, stretch.to)).collect(),
    };
    shake.see_band(ready);
    shake.see_bearing(ready, heard, factor);
    let all = shake.traces.iter().chain([&shake.combined]);
    let sound = all.into_iter().all(|trace| {
        let square = trace.spectrum.as_ref().map_or(0.0, Spectrum::mean_square);
        trace.rms.is_finite() && trace.peak.is_finite() && square.is_finite()
    });
    sound.then_some(shake)
}

/// A channel's outline about its mean, in the check's unit.
fn outline(account: &Account, axis: usize, mean: f64, factor: f64) -> Vec<(f64, f64, f64)> {
    let cells = account.channels.get(axis).map(|channel| channel.outline.as_slice()).unwrap_or_default();
    let about = |value: f64| factor * (value - mean);
    cells.iter().map(|(at, least, most)| (*at, about(*least), about(*most))).collect()
}

impl Shake {
    /// Cuts the band to what the recording shows, and takes the velocities.
    fn see_band(&mut self, ready: &Ready) {
        let Some(width) = self.combined.spectrum.as_ref().map(|spectrum| spectrum.width) else {
            return;
        };
        let share = if self.on_grid { FILTERED_FROM_EVEN } else { FILTERED_FROM };
        // The mean, taken off, leaves the two lowest bins short.
        let low = ready.band.0.max(2.0 * width);
        self.band = (low, ready.band.1.min(share * self.rate));
        let (low, high) = self.band;
        if low >= high {
            return;
        }
        for trace in self.traces.iter_mut().chain([&mut self.combined]) {
            let square = trace.spectrum.as_ref().map(|spectrum| {
                spectrum.in_band(low, high, |frequency| (std::f64::consts::TAU * frequency).powi(-2))
            });
            trace.velocity = square.map(|square| ready.units.second * square.sqrt());
        }
    }

    /// Takes the envelopes; all axes together speak through the axis that is most impulsive.
    fn see_bearing(&mut self, ready: &Ready, heard: &Heard, factor: f64) {
        let Some(bearing) = &ready.bearing else { return };
        let Some(width) = self.combined.spectrum.as_ref().map(|spectrum| spectrum.width) else {
            self.no_bearing = Some(Why::new(
                "Recorded too briefly for a bearing.",
                "Not one stretch of the recording is long enough for a spectrum.".to_owned(),
            ));
            return;
        };
        self.no_bearing = why_not(bearing, self.turning, self.rate, 1.0 / width);
        if self.no_bearing.is_none() && self.on_grid {
            self.no_bearing = Some(Why::new(
                "Sampled too unevenly for a bearing.",
                "Brought to an even grid, high frequencies are not what they were, so nothing is said of the bearing."
                    .to_owned(),
            ));
        }
        if self.no_bearing.is_some() {
            return;
        }
        for (axis, trace) in self.traces.iter_mut().enumerate() {
            trace.envelope = Envelope::of(heard, axis, self.rate, self.turning, bearing)
                .map(|envelope| envelope.times(factor));
        }
        let most = |a: &&Envelope, b: &&Envelope| a.band.impulsiveness.total_cmp(&b.band.impulsiveness);
        self.combined.envelope =
            self.traces.iter().filter_map(|trace| trace.envelope.as_ref()).max_by(most).cloned();
    }
}

/// What a reader must know of how this recording was analysed.
fn told(ready: &Ready, shake: &Shake, heard: &Heard) -> Vec<String> {
    let mut notes = Vec::new();
    if heard.left_out > 0 {
        notes.push(format!(
            "{} rows hold something that is no number; they part the recording there.",
            heard.left_out
        ));
    }
    let Some(spectrum) = &shake.combined.spectrum else { return notes };
    if shake.on_grid {
        notes.push(format!(
            "The samples came unevenly; for the spectrum alone they were brought to an even grid of {} a second \
             (a line at a tenth of it is wrong by at most 0.4 %).",
            significant(shake.rate, 4)
        ));
    }
    if spectrum.width > 1.0 {
        notes.push(format!(
            "The recording is short: the spectrum's bins are {} wide ({} stretches).",
            hertz(spectrum.width),
            spectrum.stretches
        ));
    }
    if shake.band.1 < ready.band.1 && shake.band.0 < shake.band.1 {
        notes.push(format!(
            "Velocity RMS ends at {}, for the rate of {} samples a second shows no more; not like for like with \
             one that reaches {}.",
            hertz(shake.band.1),
            significant(shake.rate, 4),
            hertz(ready.band.1)
        ));
    }
    if shake.band.0 > ready.band.0 {
        notes.push(format!(
            "Velocity RMS begins at {}, for the spectrum of so short a recording is too coarse below.",
            hertz(shake.band.0)
        ));
    }
    notes
}

/// Without what charts and patterns do not need.
fn light(mut shake: Shake) -> Shake {
    if shake.traces.len() > 1 {
        for trace in &mut shake.traces {
            trace.spectrum = None;
            trace.envelope = None;
        }
    }
    shake
}
