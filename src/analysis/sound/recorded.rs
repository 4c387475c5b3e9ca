//! From a recording and its calibration tone to levels, with everything that is wrong with them.

use crate::analysis::uncertainty::{Repeatability, Shown, repeatability_line};
use crate::findings::{Cell, Component};
use crate::quantity::{Decimals, Quantity, Unit, fixed};
use crate::recording::{Account, Column, Listener, Request};
use crate::session::{Problem, Problems};

use super::bands::Band;
use super::level::{Averaged, PER_SHARE};
use super::meter::{Heard, Meter};
use super::readings::{Calibration, Recorded, Track};
use super::tone::{Tone, ToneEar};
use super::weighting::Weighting;

/// Samples at the end of the scale that spoil a level: more than this share of all.
const MUCH_CLIPPED: f64 = 0.01;
/// A WAV file's scale ends at 1; this near to it a run of equal samples is clipped.
const NEAR_FULL: f64 = 0.985;
/// A tone holds at least this share of the power, or it is none.
const PURE: f64 = 0.5;
/// Below this share something else is heard beside it, 10 dB down.
const CLEAN: f64 = 0.9;
/// The most that a tone may wander, in decibels.
const MOST_WANDER: f64 = 0.5;
/// A tone that scatters by less, in decibels, is as good as still.
const LEAST_SCATTER: f64 = 0.001;
/// The recording's own noise within this of the level spoils it (as a background does).
const OVER_NOISE: f64 = 3.0;
/// Less than this above it is said.
const WELL_OVER_NOISE: f64 = 10.0;

/// The levels of a recording, in the check's unit.
#[derive(Clone, Debug, PartialEq)]
pub struct Levels {
    /// The file.
    pub name: String,
    /// Seconds heard.
    pub seconds: f64,
    /// The equivalent continuous level.
    pub equivalent: f64,
    /// The largest F-weighted level.
    pub fast_most: f64,
    /// The level that the F-weighted one exceeds in 10 % of the time.
    pub fast_10: f64,
    /// In 90 % of the time.
    pub fast_90: f64,
    /// The smallest F-weighted level.
    pub fast_least: f64,
    /// The peak level.
    pub peak: f64,
    /// `C` or `Z`: how the peak is weighted.
    pub peak_weighting: &'static str,
    /// Third-octave band levels, weighted as the level is.
    pub bands: Vec<Band>,
}

impl Levels {
    /// The band with the highest level.
    pub fn loudest_band(&self) -> Option<Band> {
        self.bands.iter().copied().max_by(|a, b| a.value.total_cmp(&b.value))
    }

    /// The heads of [`Levels::cells`].
    pub(super) fn heads() -> Vec<String> {
        ["Recording", "seconds", "Leq", "LFmax", "LF10", "LF90", "LFmin", "peak"].map(str::to_owned).to_vec()
    }

    /// Its numbers as a table prints them.
    pub(super) fn cells(&self) -> Vec<Cell> {
        let tenth = |value: f64| fixed(value, Decimals(1));
        let numbers =
            [self.equivalent, self.fast_most, self.fast_10, self.fast_90, self.fast_least].map(tenth);
        std::iter::once(tenth(self.seconds))
            .chain(numbers)
            .chain(std::iter::once(format!("{} ({})", tenth(self.peak), self.peak_weighting)))
            .map(|text| Cell { text, struck: None })
            .collect()
    }
}

/// What a recording gives.
#[derive(Debug)]
pub(super) struct Given {
    /// The level as an average of one recording; none where it was refused, which the first note
    /// says.
    pub(super) averaged: Option<Averaged>,
    /// What the calibration brings to every level it serves.
    pub(super) common: Vec<Component>,
    /// What to say, if the level was refused.
    pub(super) notes: Vec<String>,
    /// The levels, where the calibration holds.
    pub(super) levels: Option<Levels>,
}

/// Hears a recording with its calibration; `None` where a file could not be read, which is said.
pub(super) fn hear(recorded: &Recorded, unit: Unit, shown: &Shown, problems: &mut Problems) -> Option<Given> {
    let weighting = Weighting::of(unit);
    let calibrated = calibrate(&recorded.calibration, shown, problems);
    let mut meter = Meter::new(weighting);
    let account = listen(&recorded.sound, &mut meter, problems);
    let (calibrated, account) = (calibrated?, account?);
    let Some(heard) = meter.finish() else {
        problems.push(
            Problem::error(
                format!("{} holds no sample", recorded.sound.recording.name),
                recorded.sound.recording.place.clone(),
            )
            .expected("expected a recording of the machine")
            .help("was it cut off, or struck from end to end?"),
        );
        return None;
    };
    one_channel(&recorded.sound, heard.channels, problems)?;
    Some(given(file_name(&recorded.sound), &heard, &account, weighting, calibrated))
}

fn listen(track: &Track, listener: &mut dyn Listener, problems: &mut Problems) -> Option<Account> {
    let channels: Vec<Column> = track.channel.iter().cloned().collect();
    let request = Request { time: track.time.clone(), channels };
    track.recording.listen(&request, listener, problems)
}

/// The file without its folders: the visit is known.
fn file_name(track: &Track) -> &str {
    let name = &track.recording.name;
    name.rsplit('/').next().unwrap_or(name)
}

/// Several channels are several microphones; which one is not to be guessed.
fn one_channel(track: &Track, channels: usize, problems: &mut Problems) -> Option<()> {
    if channels <= 1 {
        return Some(());
    }
    problems.push(
        Problem::error(
            format!("{} has {channels} channels", track.recording.name),
            track.recording.place.clone(),
        )
        .expected("expected the one that the calibrated microphone was on")
        .help("write it beside the file, for example: channel: 1"),
    );
    None
}

/// What a calibration tone says: decibels to add to a level of the file's own scale.
#[derive(Clone, Debug)]
pub(super) struct Calibrated {
    offset: Option<f64>,
    common: Vec<Component>,
    notes: Vec<String>,
}

fn calibrate(calibration: &Calibration, shown: &Shown, problems: &mut Problems) -> Option<Calibrated> {
    let mut ear = ToneEar::new();
    let account = listen(&calibration.tone, &mut ear, problems)?;
    let name = file_name(&calibration.tone);
    let Some(tone) = ear.finish() else {
        return Some(refused(format!("{name} is too short or too silent for a calibration tone.")));
    };
    one_channel(&calibration.tone, tone.channels, problems)?;
    Some(of_tone(name, &tone, &account, calibration.level, calibration.accuracy, shown))
}

fn refused(note: String) -> Calibrated {
    Calibrated { offset: None, common: Vec::new(), notes: vec![note] }
}

/// The calibration that a tone gives, and what is wrong with it.
pub(super) fn of_tone(
    name: &str,
    tone: &Tone,
    account: &Account,
    level: Quantity,
    accuracy: Option<f64>,
    shown: &Shown,
) -> Calibrated {
    if tone.purity < PURE {
        return refused(format!("{name} is no tone: most of its power lies beside the strongest frequency."));
    }
    if tone.steady < 0.5 {
        return refused(format!(
            "The calibration tone in {name} is not steady: its level wanders by {} dB.",
            fixed(tone.wander, Decimals(1))
        ));
    }
    let share = clipped(account);
    if share > MUCH_CLIPPED {
        return refused(format!("The calibration tone in {name} is clipped; its level says nothing."));
    }
    let mut notes = Vec::new();
    if share > 0.0 {
        notes.push(format!("The calibration tone in {name} touches the end of the scale here and there."));
    }
    if tone.wander > MOST_WANDER {
        notes.push(format!(
            "The level of the calibration tone in {name} wanders by {} dB; only the {} % of it within a \
             quarter of a decibel of its median were used.",
            fixed(tone.wander, Decimals(1)),
            fixed(100.0 * tone.steady, Decimals(0))
        ));
    }
    let near = |wanted: f64| (tone.frequency / wanted - 1.0).abs() < 0.05;
    if !near(1000.0) && !near(250.0) {
        notes.push(format!(
            "The calibration tone in {name} is at {} Hz; calibrators sound at 1 kHz or 250 Hz.",
            fixed(tone.frequency, Decimals(0))
        ));
    }
    if tone.purity < CLEAN {
        notes.push(format!(
            "{} % of the power in {name} is no part of the tone; the tone alone was used.",
            fixed(100.0 * (1.0 - tone.purity), Decimals(0))
        ));
    }
    // A tone's weighted level is that of the sound less the weighting at its frequency.
    let unweighted = level.value() - Weighting::of(level.unit()).decibels(tone.frequency);
    let (deviation, frames) = tone.scatter;
    let spread = Repeatability { deviation, dof: frames as f64 - 1.0 };
    let mut common = Vec::new();
    if deviation > LEAST_SCATTER {
        common.push(repeatability_line("Unsteadiness of the calibration tone", spread, deviation));
    }
    if let Some(half) = accuracy {
        common.push(Component::half_width("Accuracy stated for the calibrator", half));
    } else if shown.accuracy.is_none() {
        notes.push(
            "Nothing is said of the calibrator's or the recorder's own accuracy, so neither is in the \
             uncertainty."
                .to_owned(),
        );
    }
    Calibrated { offset: Some(unweighted - decibels(tone.mean_square)), common, notes }
}

/// A mean square as a level of the file's own scale.
fn decibels(square: f64) -> f64 {
    10.0 * square.log10()
}

/// The share of all samples that stand at the end of the scale.
fn clipped(account: &Account) -> f64 {
    let Some(channel) = account.channels.first() else {
        return 0.0;
    };
    let share = channel.clipped as f64 / account.samples.max(1) as f64;
    let real = match account.bits {
        Some(_) => channel.most.max(-channel.least) >= NEAR_FULL,
        // Numbers of few digits stand still at a crest without being clipped.
        None => share > 0.001,
    };
    if real { share } else { 0.0 }
}

/// The level of the rounding noise of so many bits, weighted, in the file's own scale.
fn rounding_noise(account: &Account, weighting: Weighting, rate: f64) -> Option<f64> {
    let bits = account.bits.filter(|bits| (1..=24).contains(bits))?;
    let step = 2f64.powi(1 - i32::from(bits));
    Some(decibels(step * step / 12.0 * weighting.of_white_noise(rate)))
}

/// The levels of what was heard.
pub(super) fn given(
    name: &str,
    heard: &Heard,
    account: &Account,
    weighting: Weighting,
    calibrated: Calibrated,
) -> Given {
    let Calibrated { offset, common, mut notes } = calibrated;
    let none = |notes| Given { averaged: None, common: Vec::new(), notes, levels: None };
    let Some(offset) = offset else {
        return none(notes);
    };
    if heard.mean_square <= 0.0 {
        return none(vec![format!("{name} is silent: every sample is the same.")]);
    }
    let levels = levels(name, heard, weighting, offset);
    let share = clipped(account);
    let noise = rounding_noise(account, weighting, heard.rate).map(|noise| noise + offset);
    let over = noise.map_or(f64::INFINITY, |noise| levels.equivalent - noise);
    let refusal = if share > MUCH_CLIPPED {
        Some(format!(
            "{name} is clipped: {} % of its samples stand at the end of the scale.",
            fixed(100.0 * share, Decimals(1))
        ))
    } else if over < OVER_NOISE {
        Some(format!(
            "{name} is lost in the recording's own noise, {} dB for its {} bits.",
            fixed(noise.unwrap_or(0.0), Decimals(0)),
            account.bits.unwrap_or(0)
        ))
    } else {
        None
    };
    if let Some(refusal) = refusal {
        notes.insert(0, refusal);
        return Given { averaged: None, common, notes, levels: Some(levels) };
    }
    let mut own = doubts(name, heard, account, &levels, (share, over));
    own.extend(notes);
    let mut parts = Vec::new();
    match heard.unsteady {
        Some((share, dof)) => {
            let spread = Repeatability { deviation: share * PER_SHARE * (dof + 1.0).sqrt(), dof };
            parts.push(repeatability_line("Unsteadiness of the sound", spread, share * PER_SHARE));
        }
        None => own.push(format!("{name} is too short to say how steady the sound was.")),
    }
    let averaged = Averaged { level: levels.equivalent, n: 1, parts, notes: own };
    Given { averaged: Some(averaged), common, notes: Vec::new(), levels: Some(levels) }
}

fn levels(name: &str, heard: &Heard, weighting: Weighting, offset: f64) -> Levels {
    let level = |square: f64| decibels(square.max(1e-30)) + offset;
    Levels {
        name: name.to_owned(),
        seconds: heard.samples as f64 / heard.rate,
        equivalent: level(heard.mean_square),
        fast_most: level(heard.fast_most),
        fast_10: level(heard.fast_10),
        fast_90: level(heard.fast_90),
        fast_least: level(heard.fast_least),
        peak: level(heard.peak * heard.peak),
        peak_weighting: if weighting == Weighting::C { "C" } else { "Z" },
        bands: heard.bands.iter().map(|band| Band { index: band.index, value: level(band.value) }).collect(),
    }
}

/// What a reader must know of a recording that gives a level all the same.
fn doubts(
    name: &str,
    heard: &Heard,
    account: &Account,
    levels: &Levels,
    (share, over): (f64, f64),
) -> Vec<String> {
    let mut notes = Vec::new();
    if share > 0.0 {
        notes.push(format!(
            "{} of {} samples of {name} stand at the end of the scale: clipped, so peaks are missing.",
            account.channels.first().map_or(0, |channel| channel.clipped),
            account.samples
        ));
    }
    if over < WELL_OVER_NOISE {
        notes.push(format!(
            "{name} is only {} dB above the recording's own rounding noise.",
            fixed(over, Decimals(0))
        ));
    }
    if heard.still > 0.02 {
        notes.push(format!(
            "{name} stands at one value for {} s: a gate, a lost microphone or a gap filled with nothing.",
            fixed(heard.still, Decimals(2))
        ));
    }
    if heard.not_numbers > 0 {
        notes.push(format!("{} samples of {name} are no numbers and were left out.", heard.not_numbers));
    }
    if account.gaps > 0 || account.backwards > 0 {
        notes.push(format!("{name} has gaps or times that run backwards; the level is of what is there."));
    }
    if levels.fast_10 - levels.fast_90 > 10.0 {
        notes.push(format!(
            "The sound was not steady: the F-weighted level was above {} in 10 % and above {} in 90 % of \
             the time. The level is the energy average of it all.",
            fixed(levels.fast_10, Decimals(0)),
            fixed(levels.fast_90, Decimals(0))
        ));
    }
    if heard.rate < 20_000.0 {
        notes.push(format!(
            "Sampled {} times a second, {name} holds nothing above {} Hz; what sounded there is missing.",
            fixed(heard.rate, Decimals(0)),
            fixed(heard.rate / 2.0, Decimals(0))
        ));
    }
    notes
}
