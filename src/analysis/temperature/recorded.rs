//! Temperatures that a logger recorded, averaged into at most [`MOST`] points as they come.

use super::series::{Point, Recorded, clock, lasting};
use crate::analysis::Sitting;
use crate::analysis::uncertainty::Shown;
use crate::quantity::{Kind, Quantity, Unit, parse_unit};
use crate::recording::{Account, Block, Column, Listener, Recording, Request, Start, TimeBase};
use crate::session::{Fields, Problem, Problems};

/// More points than this help neither a fit nor an eye; memory stays bounded whatever the length.
pub(super) const MOST: usize = 1000;

/// The recording that a map of fields names (`file`, `time`, `value` …), heard to its end: its points
/// in the check's unit, and what it was.
pub(super) fn heard(
    fields: &mut Fields,
    sitting: &Sitting<'_>,
    unit: Unit,
    shown: &Shown,
    problems: &mut Problems,
) -> Option<(Vec<Point>, Recorded)> {
    let recording = Recording::named(fields, sitting.session, &sitting.visit.id, problems);
    let time = TimeBase::of(fields, problems);
    let value = fields.need("value", "motor", problems).and_then(|node| Column::of(&node, fields, problems));
    let (recording, request) = (recording?, Request { time: time?, channels: vec![value?] });
    let mut bins = Bins::default();
    let account = recording.listen(&request, &mut bins, problems)?;
    let written_in = header_unit(&account, unit, &recording, problems)?;
    if bins.list.is_empty() {
        problems.push(
            Problem::error(format!("{} holds no temperature", recording.name), recording.place.clone())
                .expected("expected a number in the column that 'value' names")
                .help("name the column by its header, or by its number from 1"),
        );
        return None;
    }
    let averaged = (bins.width > 0.0).then_some(bins.width);
    let recorded = Recorded {
        file: recording.file_name().to_owned(),
        samples: bins.heard,
        averaged,
        troubles: troubles(&recording, &account, &bins),
    };
    let to_unit = |value: f64| Some(Quantity::new(value, written_in).to(unit).ok()? + shown.correction);
    let factor = crate::quantity::Difference::new(1.0, written_in).to(unit).ok()?;
    let points = bins.list.iter().map(|bin| {
        Some(Point {
            seconds: bin.seconds,
            shown: to_unit(bin.mean)?,
            low: to_unit(bin.low)?,
            high: to_unit(bin.high)?,
            samples: bin.count,
            spread: bin.deviation() * factor,
            struck: false,
            fresh: bin.fresh,
            place: recording.place.clone(),
        })
    });
    Some((points.collect::<Option<Vec<_>>>()?, recorded))
}

/// The unit that the header gives in brackets, else the check's.
fn header_unit(
    account: &Account,
    unit: Unit,
    recording: &Recording,
    problems: &mut Problems,
) -> Option<Unit> {
    let Some(channel) = account.channels.first() else { return Some(unit) };
    let Some(named) = &channel.unit else { return Some(unit) };
    match parse_unit(named, &[Kind::Temperature]) {
        Ok(found) => Some(found),
        Err(wrong) => {
            problems.push(
                Problem::error(
                    format!("the column '{}' of {}: {}", channel.name, recording.name, wrong.message),
                    recording.place.clone(),
                )
                .expected("expected a column of temperatures")
                .help(wrong.help),
            );
            None
        }
    }
}

/// What was wrong with a recording, in sentences.
fn troubles(recording: &Recording, account: &Account, bins: &Bins) -> Vec<String> {
    let mut says = Vec::new();
    let name = &recording.name;
    let mut count = |number: u64, one: &str, many: &str, more: String| match number {
        0 => {}
        1 => says.push(format!("{name}: one {one}{more}.")),
        _ => says.push(format!("{name}: {number} {many}{more}.")),
    };
    let longest = format!(", the longest {}", lasting(account.longest_gap));
    count(account.gaps, "gap", "gaps", longest);
    count(account.repeats, "sample stands twice", "samples stand twice", String::new());
    let late = "an earlier time than one before";
    let one = format!("sample has {late} it and is left out");
    let many = format!("samples have {late} them and are left out");
    count(bins.backwards.max(account.backwards), &one, &many, String::new());
    count(account.struck, "sample is struck", "samples are struck", String::new());
    let missing = account.channels.first().map_or(0, |channel| channel.missing);
    count(missing, "cell is empty", "cells are empty", String::new());
    if let Some(channel) = account.channels.first() {
        let (run, from) = channel.longest_still;
        let of = bins.heard.max(1);
        // A sensor that shows one value for a third of the run and changes elsewhere may be stuck.
        if run >= 20 && run * 3 >= of && channel.most > channel.least {
            says.push(format!("{name}: one value for {run} samples in a row, from {} on.", clock(from)));
        }
    }
    says.extend(recording.struck.iter().map(|stretch| {
        format!(
            "{name}: struck from {} to {}: {}.",
            clock(stretch.from),
            clock(stretch.to),
            stretch.because.trim_end_matches('.')
        )
    }));
    says
}

/// The mean of some samples in a row.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Bin {
    seconds: f64,
    mean: f64,
    squares: f64,
    low: f64,
    high: f64,
    count: u64,
    fresh: bool,
}

impl Bin {
    fn deviation(&self) -> f64 {
        if self.count < 2 { 0.0 } else { (self.squares / (self.count as f64 - 1.0)).sqrt() }
    }

    /// Takes another in (Chan, Golub and `LeVeque` 1979).
    fn join(&mut self, other: &Self) {
        let (n, m) = (self.count as f64, other.count as f64);
        let share = m / (n + m);
        let step = other.mean - self.mean;
        self.squares += other.squares + step * step * n * share;
        self.mean += step * share;
        self.seconds += (other.seconds - self.seconds) * share;
        self.low = self.low.min(other.low);
        self.high = self.high.max(other.high);
        self.count += other.count;
    }
}

/// Hears temperatures: sample by sample until there are too many, then by means of ever longer
/// stretches of time.
#[derive(Debug, Default)]
pub(super) struct Bins {
    list: Vec<Bin>,
    /// Seconds a bin; 0 while every sample is one.
    width: f64,
    rate: f64,
    position: u64,
    heard: u64,
    /// The time of the last sample.
    last: f64,
    /// Samples left out since their time is earlier than one before them.
    backwards: u64,
}

impl Listener for Bins {
    fn begin(&mut self, start: &Start) {
        self.rate = start.rate;
    }

    fn hear(&mut self, block: &Block<'_>) {
        let Some(values) = block.channels.first() else { return };
        let mut fresh = block.fresh;
        for (index, value) in values.iter().enumerate() {
            let counted = self.position as f64 / self.rate;
            let seconds = block.seconds.and_then(|seconds| seconds.get(index).copied()).unwrap_or(counted);
            self.position += 1;
            if value.is_finite() && seconds.is_finite() {
                self.take(seconds, *value, fresh);
                fresh = false;
            }
        }
    }
}

impl Bins {
    fn take(&mut self, seconds: f64, value: f64, fresh: bool) {
        if seconds < self.last && !self.list.is_empty() {
            self.backwards += 1;
            return;
        }
        self.heard += 1;
        let repeated = seconds <= self.last;
        self.last = seconds;
        let one = Bin { seconds, mean: value, squares: 0.0, low: value, high: value, count: 1, fresh };
        let width = self.width;
        match self.list.last_mut() {
            Some(last) if repeated || is_same_cell(last.seconds, seconds, width) => last.join(&one),
            _ => self.list.push(one),
        }
        if self.list.len() > MOST {
            self.widen();
        }
    }

    fn widen(&mut self) {
        let first = self.list.first().map_or(0.0, |bin| bin.seconds);
        let last = self.list.last().map_or(0.0, |bin| bin.seconds);
        let usual = (last - first).abs() / MOST as f64;
        self.width = if self.width > 0.0 { self.width * 2.0 } else { usual.max(1e-9) * 2.0 };
        let mut joined: Vec<Bin> = Vec::with_capacity(MOST);
        for bin in &self.list {
            match joined.last_mut() {
                Some(last) if is_same_cell(last.seconds, bin.seconds, self.width) => last.join(bin),
                _ => joined.push(*bin),
            }
        }
        self.list = joined;
        // Uneven times may leave too many still; then it goes on.
        if self.list.len() > MOST {
            self.widen();
        }
    }
}

/// Whether two moments belong to one stretch of time; never where every sample stands alone.
fn is_same_cell(one: f64, other: f64, width: f64) -> bool {
    let cell = |seconds: f64| (seconds / width).floor();
    width > 0.0 && (cell(one) - cell(other)).abs() < 0.5
}

#[cfg(test)]
mod tests {
    use super::*;

    fn hear(bins: &mut Bins, from: u32, to: u32, fresh: bool) {
        let seconds: Vec<f64> = (from..to).map(f64::from).collect();
        let values: Vec<f64> = seconds.iter().map(|t| 20.0 + t / 1000.0 + (t % 2.0) * 0.2).collect();
        bins.hear(&Block { fresh, seconds: Some(&seconds), channels: &[&values] });
    }

    #[test]
    fn a_short_recording_keeps_every_sample() {
        let mut bins = Bins::default();
        hear(&mut bins, 0, 900, true);
        assert_eq!((bins.list.len(), bins.width), (900, 0.0));
        assert!(bins.list[0].fresh && !bins.list[1].fresh);
    }

    #[test]
    fn however_long_a_recording_is_its_points_stay_few_and_its_mean_and_extremes_are_kept() {
        let mut bins = Bins::default();
        for piece in 0..50 {
            hear(&mut bins, piece * 2000, (piece + 1) * 2000, piece == 0);
        }
        assert!(bins.list.len() <= MOST && bins.list.len() > MOST / 3, "{}", bins.list.len());
        assert_eq!(bins.heard, 100_000);
        assert_eq!(bins.list.iter().map(|bin| bin.count).sum::<u64>(), 100_000);
        let mean = bins.list.iter().map(|bin| bin.mean * bin.count as f64).sum::<f64>() / 1e5;
        assert!((mean - (20.0 + 49.9995 + 0.1)).abs() < 1e-9, "{mean}");
        let high = bins.list.iter().map(|bin| bin.high).fold(0.0, f64::max);
        assert!((high - (20.0 + 99.999 + 0.2)).abs() < 1e-9);
        // Two values 0.2 apart in turn have a standard deviation of 0.1; the trend adds a little.
        let middle = bins.list[bins.list.len() / 2];
        assert!((middle.deviation() - 0.1).abs() < 0.01, "{}", middle.deviation());
    }

    #[test]
    fn a_sample_that_runs_back_in_time_is_left_out_and_one_at_the_same_time_is_averaged() {
        let mut bins = Bins::default();
        let (seconds, values) = ([0.0, 1.0, 1.0, 0.5, 2.0, -3.0], [20.0, 21.0, 23.0, 99.0, 24.0, 99.0]);
        bins.hear(&Block { fresh: true, seconds: Some(&seconds), channels: &[&values] });
        let means: Vec<f64> = bins.list.iter().map(|bin| bin.mean).collect();
        assert_eq!((means, bins.backwards), (vec![20.0, 22.0, 24.0], 2));
    }

    #[test]
    fn empty_cells_are_no_temperatures() {
        let mut bins = Bins::default();
        bins.hear(&Block { fresh: true, seconds: Some(&[0.0, 1.0]), channels: &[&[f64::NAN, 21.0]] });
        assert_eq!(bins.list.len(), 1);
        assert!(bins.list[0].fresh);
    }

    #[test]
    fn where_a_rate_is_given_the_times_are_counted() {
        let mut bins = Bins::default();
        bins.begin(&Start { names: vec!["t".to_owned()], rate: 2.0, jitter: 0.0 });
        bins.hear(&Block { fresh: true, seconds: None, channels: &[&[20.0, 21.0, 22.0]] });
        assert_eq!(bins.list.last().map(|bin| bin.seconds), Some(1.0));
    }
}
