//! A sound level meter for recordings: hears samples in one pass, with bounded memory, and gives
//! their weighted mean square, the F-weighted extremes and percentiles, the peak and the bands.
//!
//! All numbers are in the recording's own scale; `recorded` makes levels of them.

use crate::recording::{Block, Listener, Start};

use super::bands::{Band, Spectrum};
use super::weighting::{Filter, Weighting};

/// The time constant of F weighting in seconds (IEC 61672-1:2013, 3.8).
pub const FAST: f64 = 0.125;
/// What is heard of a stretch before its filters start, in seconds: it gives the level that stands
/// still, and played backwards it settles the filters.
const LEAD: f64 = 0.2;
/// Samples worked on at once.
const CHUNK: usize = 4096;
/// The shortest stretches whose mean squares are kept, in seconds.
const PART: f64 = 0.5;
/// How many are kept; beyond, neighbours are joined.
const PARTS: usize = 512;
/// Stretches that the scatter of a recording is taken from: neighbours in time are not independent.
const GROUPS: usize = 16;

/// What was heard; squares and peaks in the recording's own scale.
#[derive(Clone, Debug, PartialEq)]
pub struct Heard {
    /// Samples a second.
    pub rate: f64,
    /// How many channels the recording has.
    pub channels: usize,
    /// Samples heard.
    pub samples: u64,
    /// The weighted mean square (the square that Leq is made of).
    pub mean_square: f64,
    /// The standard uncertainty of the mean square from its own unsteadiness, as a share of it, with
    /// its degrees of freedom; none where the recording is too short.
    pub unsteady: Option<(f64, f64)>,
    /// The largest F-weighted mean square.
    pub fast_most: f64,
    /// The smallest.
    pub fast_least: f64,
    /// What the F-weighted mean square exceeds in 10 % of the time.
    pub fast_10: f64,
    /// What it exceeds in 90 % of the time.
    pub fast_90: f64,
    /// The largest instantaneous value: C-weighted where the levels are, else unweighted.
    pub peak: f64,
    /// Third-octave bands, weighted as the level.
    pub bands: Vec<Band>,
    /// The longest run of one and the same value, seconds: a gate or a lost microphone.
    pub still: f64,
    /// Samples that are no number.
    pub not_numbers: u64,
}

/// Hears a recording.
#[derive(Debug)]
pub struct Meter {
    weighting: Weighting,
    channels: usize,
    rate: f64,
    works: Option<Works>,
    still: Still,
    not_numbers: u64,
}

/// What is known once the rate is.
#[derive(Debug)]
struct Works {
    filter: Filter,
    spectrum: Spectrum,
    fast: Fast,
    parts: Parts,
    peak: f64,
    /// The beginning of a stretch, until its lead is whole.
    lead: Vec<f64>,
    lead_length: usize,
    /// What stands still in this stretch; none while the lead is not whole.
    offset: Option<f64>,
    chunk: Vec<f64>,
    peak_of_weighted: bool,
    /// Samples of a stretch whose weighted peak still hears its sudden beginning.
    unsettled: usize,
}

impl Meter {
    /// For levels of this weighting.
    pub fn new(weighting: Weighting) -> Self {
        Self { weighting, channels: 0, rate: 0.0, works: None, still: Still::default(), not_numbers: 0 }
    }

    /// What was heard, when the recording is through; none where it held no sample.
    pub fn finish(mut self) -> Option<Heard> {
        let mut works = self.works.take()?;
        works.end_stretch();
        let (sum, samples) = works.parts.total();
        if samples == 0 {
            return None;
        }
        let fast = &works.fast;
        Some(Heard {
            rate: self.rate,
            channels: self.channels,
            samples,
            mean_square: sum / samples as f64,
            unsteady: works.parts.unsteady(),
            fast_most: fast.most,
            fast_least: if fast.least.is_finite() { fast.least } else { 0.0 },
            fast_10: fast.exceeded_in(0.10),
            fast_90: fast.exceeded_in(0.90),
            peak: works.peak,
            bands: works.spectrum.bands(self.weighting),
            still: self.still.longest as f64 / self.rate,
            not_numbers: self.not_numbers,
        })
    }
}

impl Listener for Meter {
    fn begin(&mut self, start: &Start) {
        self.channels = start.names.len();
        self.rate = start.rate;
        if !(start.rate.is_finite() && start.rate > 0.0) {
            return;
        }
        let lead_length = whole((LEAD * start.rate).ceil().clamp(1.0, 1e6));
        self.works = Some(Works {
            filter: Filter::new(self.weighting, start.rate),
            spectrum: Spectrum::new(start.rate),
            fast: Fast::new(start.rate),
            parts: Parts::new(start.rate),
            peak: 0.0,
            lead: Vec::with_capacity(lead_length),
            lead_length,
            offset: None,
            chunk: Vec::with_capacity(CHUNK),
            peak_of_weighted: self.weighting == Weighting::C,
            unsettled: 0,
        });
    }

    fn hear(&mut self, block: &Block<'_>) {
        let (Some(works), Some(samples)) = (self.works.as_mut(), block.channels.first()) else {
            return;
        };
        if block.fresh {
            works.end_stretch();
        }
        self.still.hear(samples);
        // A value that is no number ends a stretch, as a gap does.
        for (index, stretch) in samples.split(|sample| !sample.is_finite()).enumerate() {
            if index > 0 {
                self.not_numbers += 1;
                works.end_stretch();
            }
            works.hear(stretch);
        }
    }
}

impl Works {
    fn hear(&mut self, mut samples: &[f64]) {
        if self.offset.is_none() {
            let room = self.lead_length - self.lead.len();
            let (now, later) = samples.split_at(room.min(samples.len()));
            self.lead.extend_from_slice(now);
            samples = later;
            if self.lead.len() < self.lead_length {
                return;
            }
            self.start();
        }
        let offset = self.offset.unwrap_or(0.0);
        self.work(samples, offset);
    }

    /// The lead is whole, or all there is: settles the filters on it backwards, then hears it.
    fn start(&mut self) {
        let lead = std::mem::take(&mut self.lead);
        let offset = lead.iter().sum::<f64>() / lead.len().max(1) as f64;
        self.offset = Some(offset);
        self.filter.rest();
        let mut backwards: Vec<f64> = lead.iter().rev().map(|sample| sample - offset).collect();
        self.filter.run(&mut backwards);
        // The first half lets the filter settle; the second gives the detector its start.
        let settled = backwards.get(backwards.len() / 2..).unwrap_or_default();
        self.fast.begin(mean_square(settled));
        self.unsettled = lead.len() / 4;
        self.work(&lead, offset);
        self.lead = lead;
        self.lead.clear();
    }

    fn work(&mut self, samples: &[f64], offset: f64) {
        for part in samples.chunks(CHUNK) {
            self.chunk.clear();
            self.chunk.extend(part.iter().map(|sample| sample - offset));
            self.spectrum.hear(&self.chunk);
            if !self.peak_of_weighted {
                self.peak = largest(&self.chunk).max(self.peak);
            }
            self.filter.run(&mut self.chunk);
            if self.peak_of_weighted {
                let skipped = self.unsettled.min(self.chunk.len());
                self.unsettled -= skipped;
                self.peak = largest(&self.chunk[skipped..]).max(self.peak);
            }
            for sample in &mut self.chunk {
                *sample *= *sample;
            }
            self.parts.hear(&self.chunk);
            self.fast.hear(&self.chunk);
        }
    }

    fn end_stretch(&mut self) {
        if self.offset.is_none() && !self.lead.is_empty() {
            self.start();
        }
        self.lead.clear();
        self.offset = None;
        self.spectrum.pause();
    }
}

fn mean_square(samples: &[f64]) -> f64 {
    samples.iter().map(|sample| sample * sample).sum::<f64>() / samples.len().max(1) as f64
}

fn largest(samples: &[f64]) -> f64 {
    samples.iter().fold(0.0, |most, sample| sample.abs().max(most))
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a cast of a float saturates")]
fn whole(value: f64) -> usize {
    value as usize
}

/// F weighting: an exponential mean of the squares, its extremes, and how long it was how high.
#[derive(Debug)]
struct Fast {
    share: f64,
    now: f64,
    most: f64,
    least: f64,
    /// Samples between two entries of the histogram: a hundredth of a second.
    every: usize,
    until_next: usize,
    counts: Vec<u64>,
}

/// Cells of the histogram: a tenth of a decibel each, from −300 dB.
const CELLS: usize = 6000;
const LOWEST: f64 = -300.0;

impl Fast {
    fn new(rate: f64) -> Self {
        let every = whole((rate / 100.0).round().clamp(1.0, 1e9));
        Self {
            share: 1.0 - (-1.0 / (FAST * rate)).exp(),
            now: 0.0,
            most: 0.0,
            least: f64::INFINITY,
            every,
            until_next: every,
            counts: vec![0; CELLS],
        }
    }

    fn begin(&mut self, start: f64) {
        self.now = start;
    }

    fn hear(&mut self, mut squares: &[f64]) {
        while !squares.is_empty() {
            let (now, later) = squares.split_at(self.until_next.min(squares.len()));
            let (share, mut value) = (self.share, self.now);
            let (mut most, mut least) = (self.most, self.least);
            for square in now {
                value += share * (square - value);
                most = if value > most { value } else { most };
                least = if value < least { value } else { least };
            }
            (self.now, self.most, self.least) = (value, most, least);
            self.until_next -= now.len();
            if self.until_next == 0 {
                self.until_next = self.every;
                let cell = whole(((10.0 * value.log10() - LOWEST) * 10.0).max(0.0)).min(CELLS - 1);
                self.counts[cell] += 1;
            }
            squares = later;
        }
    }

    /// The mean square exceeded in so large a share of the time, to a tenth of a decibel.
    fn exceeded_in(&self, share: f64) -> f64 {
        let all: u64 = self.counts.iter().sum();
        if all == 0 {
            return self.now;
        }
        let wanted = share * all as f64;
        let mut above = 0;
        for (cell, count) in self.counts.iter().enumerate().rev() {
            above += count;
            if above as f64 >= wanted {
                let level = LOWEST + (cell as f64 + 0.5) / 10.0;
                return 10f64.powf(level / 10.0).clamp(self.least.min(self.most), self.most);
            }
        }
        self.least
    }
}

/// Sums of squares of stretches of equal length, as many as fit.
#[derive(Debug)]
struct Parts {
    length: u64,
    done: Vec<f64>,
    sum: f64,
    count: u64,
}

impl Parts {
    fn new(rate: f64) -> Self {
        let length = whole((PART * rate).clamp(1.0, 1e9)) as u64;
        Self { length, done: Vec::with_capacity(PARTS), sum: 0.0, count: 0 }
    }

    fn hear(&mut self, mut squares: &[f64]) {
        while !squares.is_empty() {
            let room = usize::try_from(self.length - self.count).unwrap_or(usize::MAX);
            let (now, later) = squares.split_at(room.min(squares.len()));
            self.sum += now.iter().sum::<f64>();
            self.count += now.len() as u64;
            squares = later;
            if self.count == self.length {
                self.done.push(std::mem::take(&mut self.sum));
                self.count = 0;
                if self.done.len() == PARTS {
                    self.done = self.done.chunks(2).map(|pair| pair.iter().sum()).collect();
                    self.length *= 2;
                }
            }
        }
    }

    fn total(&self) -> (f64, u64) {
        let samples = self.done.len() as u64 * self.length + self.count;
        (self.done.iter().sum::<f64>() + self.sum, samples)
    }

    /// The relative standard deviation of the mean of up to [`GROUPS`] stretches in a row.
    fn unsteady(&self) -> Option<(f64, f64)> {
        let groups = self.done.len().min(GROUPS);
        if groups < 4 {
            return None;
        }
        let each = self.done.len() / groups;
        let sums: Vec<f64> =
            self.done.chunks_exact(each).take(groups).map(|group| group.iter().sum()).collect();
        let found = crate::analysis::statistics::sample(&sums);
        (found.mean > 0.0)
            .then(|| (found.deviation / found.mean / (groups as f64).sqrt(), groups as f64 - 1.0))
    }
}

/// The longest run of one and the same value.
#[derive(Debug, Default)]
struct Still {
    last: Option<f64>,
    run: u64,
    longest: u64,
}

impl Still {
    #[expect(clippy::float_cmp, reason = "one and the same value is meant")]
    fn hear(&mut self, samples: &[f64]) {
        let (mut last, mut run, mut longest) = (self.last.unwrap_or(f64::NAN), self.run, self.longest);
        for sample in samples {
            run = if *sample == last { run + 1 } else { 1 };
            last = *sample;
            longest = longest.max(run);
        }
        (self.last, self.run, self.longest) = (Some(last), run, longest);
    }
}
