//! Several channels of one recording heard in one pass: levels, spectra, and some stretches kept.
//!
//! The first samples are held until it is clear how long a stretch of the spectrum may be: the power
//! of two that gives bins of 1 Hz or finer, or shorter where the recording has not four such
//! stretches. From then on every channel is worked on as it comes, the channels side by side.

use rayon::prelude::*;

use super::even::Even;
use super::moments::{Level, Longest, Vectors, all_finite};
use super::power_of_two_from;
use super::spectrum::{Spectrum, share};
use super::welch::{Weighed, Welch};
use super::window::Window;
use crate::recording::{Block, Listener, Start};

/// The intervals' standard deviation over their mean from which samples are brought to an even grid.
pub const MOST_JITTER: f64 = 0.01;
/// Stretches that a spectrum should be the mean of, at least.
const FEWEST_STRETCHES: usize = 4;
/// Most stretches that are kept whole.
const MOST_PIECES: usize = 32;

/// What is to be heard beyond levels and spectra.
#[derive(Clone, Copy, Debug, Default)]
pub struct Wish {
    /// The band whose mean square over (2πf)² is followed from stretch to stretch.
    pub band: (f64, f64),
    /// Whether stretches are kept for an envelope.
    pub pieces: bool,
}

/// Listens to the channels of one recording.
#[derive(Debug)]
pub struct Tracks {
    wish: Wish,
    rate: f64,
    opening: Option<Opening>,
    even: Option<Even>,
    each: Vec<Track>,
    vectors: Vectors,
    combined: Scatter,
    left_out: u64,
    heard: u64,
}

/// The first samples, held until the length of a stretch is decided.
#[derive(Clone, Debug, Default)]
struct Opening {
    wanted: usize,
    seconds: Option<Vec<f64>>,
    channels: Vec<Vec<f64>>,
    /// Where stretches begin.
    fresh: Vec<usize>,
}

/// One channel.
#[derive(Debug)]
struct Track {
    level: Level,
    welch: Welch,
    buffer: Vec<f64>,
    scatter: Scatter,
    due: Vec<Weighed>,
    pieces: Option<Pieces>,
}

/// Some stretches spread evenly over the recording: every one at first; when they become too many,
/// every other one is dropped and from then on only every second, fourth, … is kept.
#[derive(Clone, Debug)]
struct Pieces {
    kept: Vec<Vec<f32>>,
    every: u64,
    next: u64,
}

/// How the mean squares of stretches scatter (Welford's recurrence).
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Scatter {
    count: f64,
    mean: Weighed,
    squares: Weighed,
}

/// What was heard.
#[derive(Debug)]
pub struct Heard {
    /// Samples a second that the spectra are taken at where they were brought to an even grid; none
    /// where they were taken as they came.
    pub grid: Option<f64>,
    /// The rate of the first rows.
    pub rate: f64,
    /// Rows that hold something that is no number.
    pub left_out: u64,
    /// Samples of each channel.
    pub samples: u64,
    tracks: Vec<Track>,
    vectors: Vectors,
    combined: Scatter,
}

impl Scatter {
    fn hear(&mut self, stretch: Weighed) {
        self.count += 1.0;
        let count = self.count;
        let step = |mean: &mut f64, squares: &mut f64, value: f64| {
            let off = value - *mean;
            *mean += off / count;
            *squares += off * (value - *mean);
        };
        step(&mut self.mean.plain, &mut self.squares.plain, stretch.plain);
        step(&mut self.mean.weighed, &mut self.squares.weighed, stretch.weighed);
    }

    /// The relative standard uncertainty of the root of the mean of all, plain and weighed, and the
    /// degrees of freedom; `None` of fewer than two. Half-overlapped stretches count 18/19 each.
    pub fn of_roots(&self) -> Option<(f64, f64, f64)> {
        if self.count < 2.0 {
            return None;
        }
        let independent = self.count * 18.0 / 19.0;
        let relative = |mean: f64, squares: f64| {
            let deviation = (squares / (self.count - 1.0)).max(0.0).sqrt();
            if mean > 0.0 { deviation / independent.sqrt() / (2.0 * mean) } else { 0.0 }
        };
        let (mean, squares) = (self.mean, self.squares);
        Some((
            relative(mean.plain, squares.plain),
            relative(mean.weighed, squares.weighed),
            (independent - 1.0).max(1.0),
        ))
    }
}

impl Pieces {
    fn new() -> Self {
        Self { kept: Vec::new(), every: 1, next: 0 }
    }

    fn hear(&mut self, stretch: &[f64]) {
        let place = self.next;
        self.next += 1;
        if !place.is_multiple_of(self.every) {
            return;
        }
        if self.kept.len() == MOST_PIECES {
            let mut place = 0;
            self.kept.retain(|_| {
                place += 1;
                place % 2 == 1
            });
            self.every *= 2;
            if !(self.next - 1).is_multiple_of(self.every) {
                return;
            }
        }
        let mean = super::welch::sum(stretch) / stretch.len().max(1) as f64;
        #[expect(clippy::cast_possible_truncation, reason = "seven digits are more than a recorder gives")]
        self.kept.push(stretch.iter().map(|sample| (sample - mean) as f32).collect());
    }
}

impl Track {
    fn hear_level(&mut self, samples: &[f64]) {
        self.level.hear(samples);
    }

    /// Works through every whole stretch in the buffer.
    fn work(&mut self) {
        let (length, hop) = (self.welch.length(), self.welch.length() / 2);
        let mut from = 0;
        while let Some(stretch) = self.buffer.get(from..from + length) {
            self.due.push(self.welch.hear(stretch));
            if let Some(pieces) = &mut self.pieces {
                pieces.hear(stretch);
            }
            from += hop;
        }
        if from > 0 {
            self.buffer.drain(..from.min(self.buffer.len()));
        }
    }
}

impl Tracks {
    /// A listener with this wish.
    pub fn new(wish: Wish) -> Self {
        Self {
            wish,
            rate: 0.0,
            opening: Some(Opening::default()),
            even: None,
            each: Vec::new(),
            vectors: Vectors::about(&[]),
            combined: Scatter::default(),
            left_out: 0,
            heard: 0,
        }
    }

    /// The end of the recording. `None` where not one sample was heard.
    pub fn finish(mut self) -> Option<Heard> {
        self.open();
        if self.heard == 0 || self.each.is_empty() {
            return None;
        }
        Some(Heard {
            grid: self.even.is_some().then_some(self.rate),
            rate: self.rate,
            left_out: self.left_out,
            samples: self.heard,
            tracks: self.each,
            vectors: self.vectors,
            combined: self.combined,
        })
    }

    /// Decides the length of a stretch and works through what was held.
    fn open(&mut self) {
        let Some(opening) = self.opening.take() else { return };
        let length = opening.length(self.rate);
        let width = self.rate / length as f64;
        let (low, high) = self.wish.band;
        let weights: Vec<f64> = (0..=length / 2)
            .map(|bin| {
                let turn = std::f64::consts::TAU * bin as f64 * width;
                if bin == 0 { 0.0 } else { share(bin, width, low, high) / (turn * turn) }
            })
            .collect();
        let means: Vec<f64> = opening
            .channels
            .iter()
            .map(|channel| super::welch::sum(channel) / channel.len().max(1) as f64)
            .collect();
        self.vectors = Vectors::about(&means);
        let pieces = self.wish.pieces.then(Pieces::new);
        self.each = means
            .iter()
            .map(|mean| {
                let mut welch = Welch::new(length, Window::Hann, true);
                welch.weigh(&weights);
                Track {
                    level: Level::about(*mean),
                    welch,
                    buffer: Vec::with_capacity(4 * length),
                    scatter: Scatter::default(),
                    due: Vec::new(),
                    pieces: pieces.clone(),
                }
            })
            .collect();
        let ends = opening.fresh.iter().skip(1).copied().chain([opening.count()]);
        for (from, to) in opening.fresh.iter().copied().zip(ends) {
            let channels: Vec<&[f64]> =
                opening.channels.iter().map(|channel| channel.get(from..to).unwrap_or(&[])).collect();
            let seconds = opening.seconds.as_ref().and_then(|seconds| seconds.get(from..to));
            self.take(true, seconds, &channels);
        }
    }

    /// Works on rows that are all numbers.
    fn take(&mut self, fresh: bool, seconds: Option<&[f64]>, channels: &[&[f64]]) {
        self.heard += channels.first().map_or(0, |channel| channel.len()) as u64;
        if fresh {
            self.each.iter_mut().for_each(|track| track.buffer.clear());
        }
        if let Some(even) = &mut self.even {
            if fresh {
                even.fresh();
            }
            let mut buffers: Vec<Vec<f64>> =
                self.each.iter_mut().map(|track| std::mem::take(&mut track.buffer)).collect();
            even.hear(seconds.unwrap_or(&[]), channels, &mut buffers);
            for (track, buffer) in self.each.iter_mut().zip(buffers) {
                track.buffer = buffer;
            }
        }
        let uneven = self.even.is_some();
        let (tracks, vectors) = (&mut self.each, &mut self.vectors);
        let each = |(track, channel): (&mut Track, &&[f64])| {
            track.hear_level(channel);
            if !uneven {
                track.buffer.extend_from_slice(channel);
            }
            track.work();
        };
        rayon::join(
            || tracks.par_iter_mut().zip(channels).for_each(each),
            || {
                if channels.len() > 1 {
                    vectors.hear(channels);
                }
            },
        );
        self.gather();
    }

    /// Takes the stretches' mean squares out of the tracks, which all had the same number of them.
    fn gather(&mut self) {
        let count = self.each.iter().map(|track| track.due.len()).min().unwrap_or(0);
        for index in 0..count {
            let mut all = Weighed::default();
            for track in &mut self.each {
                let one = track.due[index];
                track.scatter.hear(one);
                all = Weighed { plain: all.plain + one.plain, weighed: all.weighed + one.weighed };
            }
            self.combined.hear(all);
        }
        self.each.iter_mut().for_each(|track| track.due.clear());
    }

    /// A run of rows that are all numbers, held or worked on.
    fn run(&mut self, fresh: bool, seconds: Option<&[f64]>, channels: &[&[f64]]) {
        let Some(opening) = &mut self.opening else {
            return self.take(fresh, seconds, channels);
        };
        opening.hold(fresh, seconds, channels);
        if opening.count() >= opening.wanted {
            self.open();
        }
    }
}

impl Listener for Tracks {
    fn begin(&mut self, start: &Start) {
        self.rate = if start.rate.is_finite() && start.rate > 0.0 { start.rate } else { 1.0 };
        let channels = start.names.len();
        if start.jitter > MOST_JITTER {
            self.even = Some(Even::new(channels, self.rate));
        }
        let longest = power_of_two_from(self.rate);
        self.opening = Some(Opening {
            wanted: longest * 7 / 2,
            seconds: self.even.is_some().then(Vec::new),
            channels: vec![Vec::new(); channels],
            fresh: Vec::new(),
        });
    }

    fn hear(&mut self, block: &Block<'_>) {
        let count = block.channels.iter().map(|channel| channel.len()).min().unwrap_or(0);
        let channels: Vec<&[f64]> =
            block.channels.iter().map(|channel| channel.get(..count).unwrap_or(&[])).collect();
        if count == 0 {
            return;
        }
        if channels.iter().all(|channel| all_finite(channel)) {
            return self.run(block.fresh, block.seconds, &channels);
        }
        // Rows with something that is no number part the recording.
        let whole = |row: usize| channels.iter().all(|channel| channel[row].is_finite());
        let (mut from, mut fresh) = (0, block.fresh);
        for row in 0..=count {
            if row < count && whole(row) {
                continue;
            }
            if row > from {
                let part: Vec<&[f64]> = channels.iter().map(|channel| &channel[from..row]).collect();
                let seconds = block.seconds.and_then(|seconds| seconds.get(from..row));
                self.run(fresh, seconds, &part);
                fresh = false;
            }
            if row < count {
                self.left_out += 1;
                fresh = true;
            }
            from = row + 1;
        }
        // A block that ends in such a row: the next one must begin afresh.
        if fresh {
            self.run(true, block.seconds.map(|_| &[][..]), &vec![&[][..]; channels.len()]);
        }
    }
}

impl Opening {
    fn count(&self) -> usize {
        self.channels.first().map_or(0, Vec::len)
    }

    fn hold(&mut self, fresh: bool, seconds: Option<&[f64]>, channels: &[&[f64]]) {
        if fresh || self.fresh.is_empty() {
            self.fresh.push(self.count());
        }
        for (own, channel) in self.channels.iter_mut().zip(channels) {
            own.extend_from_slice(channel);
        }
        if let (Some(own), Some(seconds)) = (&mut self.seconds, seconds) {
            own.extend_from_slice(seconds);
        }
    }

    /// The length of a stretch: bins of 1 Hz or finer, halved until there are four stretches.
    fn length(&self, rate: f64) -> usize {
        let ends = self.fresh.iter().skip(1).copied().chain([self.count()]);
        let runs: Vec<usize> = self.fresh.iter().zip(ends).map(|(from, to)| to - from).collect();
        let stretches = |length: usize| -> usize {
            runs.iter().filter(|run| **run >= length).map(|run| (run - length) / (length / 2) + 1).sum()
        };
        let mut length = power_of_two_from(rate);
        while length > 16 && stretches(length) < FEWEST_STRETCHES {
            length /= 2;
        }
        length
    }
}

impl Heard {
    /// How many channels there are.
    pub fn channels(&self) -> usize {
        self.tracks.len()
    }

    /// The level of a channel.
    pub fn level(&self, channel: usize) -> Option<&Level> {
        self.tracks.get(channel).map(|track| &track.level)
    }

    /// The spectrum of a channel, its samples coming `rate` a second; `None` where no stretch was
    /// whole.
    pub fn spectrum(&self, channel: usize, rate: f64) -> Option<Spectrum> {
        self.tracks.get(channel)?.welch.spectrum(self.grid.unwrap_or(rate))
    }

    /// How a channel's mean squares scatter from stretch to stretch, plain and over (2πf)².
    pub fn scatter(&self, channel: usize) -> Option<Scatter> {
        self.tracks.get(channel).map(|track| track.scatter)
    }

    /// The same of all channels together.
    pub fn combined(&self) -> Scatter {
        self.combined
    }

    /// The longest vector of all channels about their means.
    pub fn longest(&self) -> Longest {
        match &self.tracks[..] {
            [only] => Longest { length: only.level.peak(), short_by: 0.0 },
            tracks => self.vectors.peak(&tracks.iter().map(|track| track.level.mean()).collect::<Vec<_>>()),
        }
    }

    /// The stretches of a channel that were kept, their means taken off.
    pub fn pieces(&self, channel: usize) -> &[Vec<f32>] {
        self.tracks.get(channel).and_then(|track| track.pieces.as_ref()).map_or(&[], |pieces| &pieces.kept)
    }
}
