//! The calibration tone: its level, its frequency, and whether it is a steady tone at all.

use std::f64::consts::TAU;
use std::sync::Arc;

use realfft::num_complex::Complex;
use realfft::{RealFftPlanner, RealToComplex};

use crate::analysis::statistics::sample;
use crate::recording::{Block, Listener, Start};

/// Frames kept; a longer tone is heard no further.
const FRAMES: usize = 4096;
/// Half the width, in bins, of what counts as the tone (a Hann window's lobe and some wander).
const REACH: usize = 4;
/// How far a frame may lie from the median and still be the tone, in decibels.
const STEADY: f64 = 0.25;

/// A calibration tone, in the recording's own scale.
#[derive(Clone, Debug, PartialEq)]
pub struct Tone {
    /// How many channels the recording has.
    pub channels: usize,
    /// The mean square of the tone.
    pub mean_square: f64,
    /// Its frequency in hertz.
    pub frequency: f64,
    /// The highest less the lowest level of all frames but the first and the last, in decibels.
    pub wander: f64,
    /// The share of the frames, as long as [`Tone::frame`], that are within a quarter of a decibel of
    /// the median; only those are used.
    pub steady: f64,
    /// The standard deviation of those frames' levels in decibels, and how many they are.
    pub scatter: (f64, usize),
    /// The share of the power that is in the tone.
    pub purity: f64,
    /// A frame's length in seconds.
    pub frame: f64,
}

/// Hears a calibration tone.
pub struct ToneEar {
    channels: usize,
    rate: f64,
    works: Option<Works>,
    frames: Vec<Frame>,
}

impl std::fmt::Debug for ToneEar {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "ToneEar({} Hz, {} frames)", self.rate, self.frames.len())
    }
}

struct Works {
    frame: usize,
    window: Vec<f64>,
    fft: Arc<dyn RealToComplex<f64>>,
    pending: Vec<f64>,
    bins: Vec<Complex<f64>>,
    scratch: Vec<Complex<f64>>,
}

#[derive(Clone, Copy, Debug)]
struct Frame {
    tone: f64,
    all: f64,
    frequency: f64,
}

impl Default for ToneEar {
    fn default() -> Self {
        Self::new()
    }
}

impl ToneEar {
    /// Nothing heard yet.
    pub fn new() -> Self {
        Self { channels: 0, rate: 0.0, works: None, frames: Vec::new() }
    }

    /// The tone; none where there are fewer than five frames (about a second) or only silence.
    pub fn finish(self) -> Option<Tone> {
        let length = self.works.as_ref()?.frame as f64 / self.rate;
        // Hands on the microphone: the first and the last frame do not count.
        let frames = self.frames.get(1..self.frames.len().checked_sub(1)?)?;
        let levels: Vec<f64> = frames.iter().map(|frame| 10.0 * frame.tone.log10()).collect();
        if levels.len() < 3 {
            return None;
        }
        let mut sorted = levels.clone();
        sorted.sort_by(f64::total_cmp);
        let median = sorted[sorted.len() / 2];
        if !median.is_finite() {
            return None;
        }
        let kept: Vec<(&Frame, f64)> =
            frames.iter().zip(levels).filter(|(_, level)| (level - median).abs() <= STEADY).collect();
        let mean = |pick: fn(&Frame) -> f64| {
            kept.iter().map(|(frame, _)| pick(frame)).sum::<f64>() / kept.len() as f64
        };
        let (tone, all) = (mean(|frame| frame.tone), mean(|frame| frame.all));
        let kept_levels: Vec<f64> = kept.iter().map(|(_, level)| *level).collect();
        Some(Tone {
            channels: self.channels,
            mean_square: tone,
            frequency: mean(|frame| frame.frequency),
            wander: sorted[sorted.len() - 1] - sorted[0],
            steady: kept.len() as f64 / frames.len() as f64,
            scatter: (sample(&kept_levels).deviation, kept.len()),
            purity: if all > 0.0 { tone / all } else { 0.0 },
            frame: length,
        })
    }
}

impl Listener for ToneEar {
    fn begin(&mut self, start: &Start) {
        self.channels = start.names.len();
        self.rate = start.rate;
        if !(start.rate.is_finite() && start.rate > 0.0) {
            return;
        }
        // About a sixth of a second: bins of some 6 Hz.
        let mut frame = 256;
        while (frame as f64) < start.rate / 8.0 && frame < 1 << 18 {
            frame *= 2;
        }
        let fft = RealFftPlanner::new().plan_fft_forward(frame);
        let turn = |n: usize| TAU * n as f64 / frame as f64;
        self.works = Some(Works {
            frame,
            window: (0..frame).map(|n| 0.5 - 0.5 * turn(n).cos()).collect(),
            pending: Vec::with_capacity(frame),
            bins: fft.make_output_vec(),
            scratch: fft.make_scratch_vec(),
            fft,
        });
    }

    fn hear(&mut self, block: &Block<'_>) {
        let (Some(works), Some(mut samples)) = (self.works.as_mut(), block.channels.first().copied()) else {
            return;
        };
        if block.fresh {
            works.pending.clear();
        }
        while !samples.is_empty() && self.frames.len() < FRAMES {
            let room = works.frame - works.pending.len();
            let (now, later) = samples.split_at(room.min(samples.len()));
            works.pending.extend_from_slice(now);
            samples = later;
            if works.pending.len() == works.frame {
                self.frames.extend(works.look(self.rate));
                works.pending.clear();
            }
        }
    }
}

impl Works {
    /// The strongest tone of a frame; none where a sample is no number.
    fn look(&mut self, rate: f64) -> Option<Frame> {
        let mean = self.pending.iter().sum::<f64>() / self.frame as f64;
        if !mean.is_finite() {
            return None;
        }
        for (sample, window) in self.pending.iter_mut().zip(&self.window) {
            *sample = (*sample - mean) * window;
        }
        self.fft.process_with_scratch(&mut self.pending, &mut self.bins, &mut self.scratch).ok()?;
        // Parseval; a Hann window leaves three eighths of the power.
        let scale = 2.0 / (0.375 * (self.frame as f64).powi(2));
        let power: Vec<f64> = self.bins.iter().map(|bin| scale * bin.norm_sqr()).collect();
        let (peak, _) = power.iter().enumerate().skip(REACH).max_by(|(_, a), (_, b)| a.total_cmp(b))?;
        let from = peak.saturating_sub(REACH).max(1);
        let lobe = power.get(from..(peak + REACH + 1).min(power.len()))?;
        let tone: f64 = lobe.iter().sum();
        let weighed: f64 = lobe.iter().enumerate().map(|(k, power)| (from + k) as f64 * power).sum();
        let frequency = if tone > 0.0 { weighed / tone * rate / self.frame as f64 } else { 0.0 };
        Some(Frame { tone, all: power.iter().skip(1).sum(), frequency })
    }
}
