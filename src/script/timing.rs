//! The narration on a clock, at a pace.

use std::ops::Range;

use super::{Cue, Step};

/// Words spoken in a minute where nobody says otherwise: common practice for narration, whose readers take 140 to 160.
pub const USUAL_PACE: u32 = 150;
/// A breath between two paragraphs, in milliseconds: common practice.
pub const BREATH: u64 = 500;
/// Before a new section.
const SECTION: u64 = 1000;

/// When each step begins and ends, in milliseconds.
#[derive(Clone, Debug)]
pub struct Timing {
    /// One for each step.
    pub spans: Vec<Range<u64>>,
    /// The whole running time.
    pub total: u64,
    /// Words spoken.
    pub words: usize,
}

/// A still in its time.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Use {
    /// The still's name.
    pub name: String,
    /// Whether it draws itself.
    pub build_up: bool,
    /// From when to when it is shown, in milliseconds.
    pub shown: Range<u64>,
}

/// Lays the steps on a clock at so many words a minute.
pub fn lay(steps: &[Step], pace: u32) -> Timing {
    let mut timing = Timing { spans: Vec::with_capacity(steps.len()), total: 0, words: 0 };
    let mut now = 0;
    // What must pass before the next words: the longest of what was asked for since the last.
    let mut gap = 0;
    for step in steps {
        let span = match step {
            Step::Speech(speech) => {
                now += gap;
                gap = BREATH;
                let words = speech.words();
                timing.words += words;
                let length =
                    u64::try_from(words).unwrap_or(u64::MAX).saturating_mul(60_000) / u64::from(pace.max(1));
                let start = now;
                now += length;
                start..now
            }
            Step::Heading { .. } => {
                gap = if now == 0 { 0 } else { SECTION.max(gap) };
                now..now
            }
            Step::Cue(Cue::Pause(length)) => {
                now += length;
                gap = 0;
                now - length..now
            }
            // A still changes when the words begin, after the breath.
            Step::Cue(_) => now + gap..now + gap,
        };
        timing.spans.push(span);
    }
    timing.total = now;
    timing
}

/// The stills in order of use, each until the next cue or the end.
pub fn stills(steps: &[Step], timing: &Timing) -> Vec<Use> {
    let mut uses: Vec<Use> = Vec::new();
    let mut open: Option<Use> = None;
    for (step, span) in steps.iter().zip(&timing.spans) {
        let Step::Cue(cue) = step else { continue };
        if matches!(cue, Cue::Pause(_)) {
            continue;
        }
        let start = span.start.min(timing.total);
        if let Some(mut before) = open.take() {
            before.shown.end = start;
            uses.push(before);
        }
        if let Cue::Still(still) = cue {
            open =
                Some(Use { name: still.name.clone(), build_up: still.build_up, shown: start..timing.total });
        }
    }
    uses.extend(open);
    uses
}

/// A time as an editor reads it, to the second: `4:07`, `1:02:07`.
pub fn clock(milliseconds: u64) -> String {
    let seconds = (milliseconds + 500) / 1000;
    let (hours, minutes, rest) = (seconds / 3600, seconds / 60 % 60, seconds % 60);
    if hours > 0 { format!("{hours}:{minutes:02}:{rest:02}") } else { format!("{minutes}:{rest:02}") }
}
