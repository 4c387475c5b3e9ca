//! What is worth saying of a recording, and its figures for a table.

use super::{Account, ChannelAccount, Recording};
use crate::findings::{Cell, RawTable};
use crate::quantity::{Kind, Unit, significant};

/// Jitter above this is said.
const JITTER: f64 = 0.01;

impl Account {
    /// A sentence for each thing that a reader should know of the recording.
    pub fn notes(&self) -> Vec<String> {
        let mut notes = Vec::new();
        if self.preamble > 0 {
            let (lines, verb) = (counted(self.preamble as u64, "line"), verb(self.preamble as u64));
            notes.push(format!("{lines} above the readings {verb} skipped."));
        }
        if self.jitter > JITTER {
            notes.push(format!(
                "The interval between samples varies by {} % (its standard deviation over its mean).",
                significant(self.jitter * 100.0, 2)
            ));
        }
        if self.gaps > 0 {
            let longest = duration(self.longest_gap);
            notes.push(match self.gaps {
                1 => format!("Samples are missing once, for {longest}."),
                gaps => {
                    format!("Samples are missing {} times, the longest time for {longest}.", grouped(gaps))
                }
            });
        }
        if self.repeats > 0 {
            notes.push(format!(
                "{} {} the time of the one before and {} left out.",
                counted(self.repeats, "sample"),
                if self.repeats == 1 { "has" } else { "have" },
                verb(self.repeats)
            ));
        }
        if self.backwards > 0 {
            notes.push(match self.backwards {
                1 => "The time runs backwards once.".to_owned(),
                times => format!("The time runs backwards {} times.", grouped(times)),
            });
        }
        for channel in &self.channels {
            notes.extend(self.notes_of(channel));
        }
        for stretch in &self.stretches {
            let (from, to) = (clock(stretch.from), clock(stretch.to));
            notes.push(format!("{from} to {to} is struck: {}.", stretch.because.trim_end_matches('.')));
        }
        notes
    }

    fn notes_of(&self, channel: &ChannelAccount) -> Vec<String> {
        let mut notes = Vec::new();
        let name = if self.channels.len() > 1 { format!("{}: ", channel.name) } else { String::new() };
        if self.is_clipped(channel) {
            notes.push(format!(
                "{name}{} in runs at the end of the scale ({} to {}): it is clipped, and the peaks were larger.",
                counted_verb(channel.clipped, "sample", "stands", "stand"),
                significant(channel.least, 4),
                significant(channel.most, 4)
            ));
        }
        if self.is_stuck(channel) {
            let (run, since) = channel.longest_still;
            notes.push(format!(
                "{name}from {} on, {} in a row are exactly the same: the sensor stood still or came loose.",
                clock(since),
                counted(run, "sample")
            ));
        }
        if channel.missing > 0 {
            notes.push(format!(
                "{name}{} empty, and {} left out.",
                counted_verb(channel.missing, "cell", "is", "are"),
                if channel.missing == 1 { "its row is" } else { "their rows are" }
            ));
        }
        notes
    }

    /// Whether a channel that moves from sample to sample stood at the end of its scale. One whose steps
    /// are coarse or slow stands still at its largest value by itself.
    pub fn is_clipped(&self, channel: &ChannelAccount) -> bool {
        channel.clipped > 2 && channel.changes * 2 > self.samples
    }

    /// Whether a channel stood at one value for longer than a second and 50 samples though it moves with
    /// nearly every sample elsewhere, or others do. One whose steps are coarse stands still by itself.
    pub fn is_stuck(&self, channel: &ChannelAccount) -> bool {
        let run = channel.longest_still.0;
        let moves = |channel: &ChannelAccount, samples: u64| samples > 0 && channel.changes * 2 >= samples;
        let still = channel.changes == 0 && self.channels.iter().any(|other| moves(other, self.samples));
        run > 50 && run as f64 > self.rate && (still || moves(channel, self.samples.saturating_sub(run)))
    }

    /// The figures of the recording, each with its name.
    pub fn facts(&self) -> Vec<(String, String)> {
        let text = |name: &str, value: String| (name.to_owned(), value);
        let mut facts = vec![
            text("samples", grouped(self.samples)),
            text("length", duration(self.seconds)),
            text("rate", with_hertz(self.rate)),
            // Below this it is the rounding of the times, not theirs.
            text("jitter", format!("{} %", significant((self.jitter * 1e5).round() / 1e3, 2))),
            text("gaps", grouped(self.gaps)),
        ];
        let clipped: u64 = self
            .channels
            .iter()
            .filter(|channel| self.is_clipped(channel))
            .map(|channel| channel.clipped)
            .sum();
        facts.push(text("clipped", grouped(clipped)));
        facts.push(text("struck", grouped(self.struck)));
        if let Some(bits) = self.bits {
            facts.push(text("bits", bits.to_string()));
        }
        facts
    }

    /// One row of a table of recordings: the file, then the figures that all recordings have.
    #[expect(clippy::missing_panics_doc, reason = "the table of units does not change")]
    pub fn table(&self, at: &str, recording: &Recording) -> RawTable {
        let facts: Vec<(String, String)> =
            self.facts().into_iter().filter(|(name, _)| name != "bits").collect();
        let heads = facts.iter().map(|(name, _)| name.clone());
        let cells = facts.iter().map(|(_, value)| Cell { text: value.clone(), struck: None });
        let plain = Unit::known(Kind::Number, "").expect("the table of units holds the plain number");
        RawTable {
            at: at.to_owned(),
            columns: std::iter::once("file".to_owned()).chain(heads).collect(),
            rows: vec![(recording.file_name().to_owned(), cells.collect())],
            unit: plain,
        }
    }
}

/// A count with its thousands apart.
fn grouped(count: u64) -> String {
    if count < 10_000 { count.to_string() } else { crate::quantity::grouped(count, '\u{a0}') }
}

fn counted(count: u64, noun: &str) -> String {
    if count == 1 { format!("1 {noun}") } else { format!("{} {noun}s", grouped(count)) }
}

fn counted_verb(count: u64, noun: &str, one: &str, several: &str) -> String {
    format!("{} {}", counted(count, noun), if count == 1 { one } else { several })
}

fn verb(count: u64) -> &'static str {
    if count == 1 { "was" } else { "were" }
}

/// A length of time in the unit that suits it.
fn duration(seconds: f64) -> String {
    if seconds >= 7200.0 {
        format!("{} h", significant(seconds / 3600.0, 3))
    } else if seconds >= 120.0 {
        format!("{} min", significant(seconds / 60.0, 3))
    } else {
        format!("{} s", significant(seconds, 3))
    }
}

/// A time of a recording as sessions write it: `0:12.5`.
fn clock(seconds: f64) -> String {
    let sign = if seconds < 0.0 { "\u{2212}" } else { "" };
    let tenths = (seconds.abs() * 10.0).round();
    let (minutes, rest) = ((tenths / 600.0).floor(), tenths % 600.0);
    let seconds =
        if rest % 10.0 == 0.0 { format!("{:02.0}", rest / 10.0) } else { format!("{:04.1}", rest / 10.0) };
    if minutes >= 60.0 {
        let hours = (minutes / 60.0).floor();
        return format!("{sign}{hours:.0}:{:02.0}:{seconds}", minutes % 60.0);
    }
    format!("{sign}{minutes:.0}:{seconds}")
}

fn with_hertz(rate: f64) -> String {
    if rate >= 10_000.0 {
        format!("{} kHz", significant(rate / 1e3, 4))
    } else if rate >= 0.1 {
        format!("{} Hz", significant(rate, 4))
    } else {
        format!("one every {}", duration(1.0 / rate))
    }
}
