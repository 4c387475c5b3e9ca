//! Files that instruments write: CSV and WAV, read in one pass with bounded memory.
//!
//! A measure asks for a time base and some columns ([`Request`]) and listens to the samples as they
//! come ([`Listener`]); when the file is through it has an [`Account`] of what was read: how long, how
//! fast, how evenly, what was missing, clipped or stuck. Nothing here knows what the samples mean.

mod account;
mod csv;
mod named;
mod notes;
mod outline;
#[cfg(test)]
mod tests;
mod wav;

use std::path::PathBuf;

use crate::quantity::{Kind, Unit};
use crate::session::{Fields, Node, Place, Problem, Problems};

/// A file of the session that an instrument wrote, and how it is to be understood.
#[derive(Clone, Debug)]
pub struct Recording {
    /// The file, links followed, inside the session folder.
    pub path: PathBuf,
    /// As messages and tables name it: relative to the session, `/`-separated.
    pub name: String,
    /// Where the session names it.
    pub place: Place,
    /// What the session says of the way it is written, where the file does not show it.
    pub how: How,
    /// Stretches that were bad.
    pub struck: Vec<Stretch>,
}

/// What a session may say of the way a CSV file is written.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct How {
    /// `latin-1`; none for what the file itself shows (UTF-8).
    pub encoding: Option<String>,
    /// The delimiter.
    pub separator: Option<char>,
    /// The decimal sign.
    pub decimal: Option<char>,
    /// Lines before the header or the first row.
    pub skip: Option<usize>,
    /// Whether a header stands above the columns.
    pub header: Option<bool>,
    /// Whether the time column holds times of day.
    pub clock: Option<bool>,
}

/// A stretch of a recording that was bad, and why.
#[derive(Clone, Debug, PartialEq)]
pub struct Stretch {
    /// Its beginning, seconds from the recording's.
    pub from: f64,
    /// Its end, seconds.
    pub to: f64,
    /// Why it does not count.
    pub because: String,
}

/// A column of a CSV file, or a channel of a WAV file.
#[derive(Clone, Debug)]
pub enum Column {
    /// By the name in the header.
    Named(String, Place),
    /// By its number from 1.
    Numbered(usize, Place),
}

/// Where the times of the samples come from.
#[derive(Clone, Debug)]
pub enum TimeBase {
    /// A column, with its unit where the session gives one (seconds otherwise).
    Column {
        /// The column.
        column: Column,
        /// The unit of its numbers.
        unit: Option<Unit>,
    },
    /// So many samples a second.
    Rate(f64),
    /// What the file itself says (WAV).
    OfFile,
}

/// What a measure wants to hear.
#[derive(Clone, Debug)]
pub struct Request {
    /// The times.
    pub time: TimeBase,
    /// The columns, in the order that blocks give them. Empty: every channel of a WAV file.
    pub channels: Vec<Column>,
}

/// What is known when the first samples come.
#[derive(Clone, Debug, PartialEq)]
pub struct Start {
    /// Names of the channels.
    pub names: Vec<String>,
    /// Samples a second: the one given, or the inverse of the mean interval of the first rows (gaps left out).
    pub rate: f64,
    /// The standard deviation of the first rows' intervals over their mean.
    pub jitter: f64,
}

/// Some samples in a row.
#[derive(Clone, Copy, Debug)]
pub struct Block<'a> {
    /// Whether it does not go on from the last: the first block, or a gap, a struck stretch or time
    /// running backwards lies between.
    pub fresh: bool,
    /// Seconds since the recording's first sample, one for each sample; none where a rate is given.
    pub seconds: Option<&'a [f64]>,
    /// The channels, equally long. CSV: the numbers as written; WAV: shares of full scale.
    pub channels: &'a [&'a [f64]],
}

/// Hears a recording from its beginning to its end.
pub trait Listener {
    /// Called once, before the first block.
    fn begin(&mut self, start: &Start);
    /// Called with each block, in order.
    fn hear(&mut self, block: &Block<'_>);
}

/// What a recording was, when it was heard to its end.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Account {
    /// Samples of each channel, struck ones left out.
    pub samples: u64,
    /// From the first sample to the last, seconds.
    pub seconds: f64,
    /// Samples a second over the whole recording (gaps left out).
    pub rate: f64,
    /// The standard deviation of the intervals over their mean, gaps left out; 0 where a rate is given.
    pub jitter: f64,
    /// Intervals longer than 1.5 times the usual one.
    pub gaps: u64,
    /// The longest of them, seconds.
    pub longest_gap: f64,
    /// Samples with the time of the one before them (the first of them counts).
    pub repeats: u64,
    /// Samples with an earlier time than the one before them.
    pub backwards: u64,
    /// Samples in struck stretches.
    pub struck: u64,
    /// The struck stretches.
    pub stretches: Vec<Stretch>,
    /// Lines above the header or the first row that hold no sample.
    pub preamble: usize,
    /// Rows that are comments or empty, below the header.
    pub comments: u64,
    /// Bits a sample, of a WAV file.
    pub bits: Option<u16>,
    /// Channel by channel.
    pub channels: Vec<ChannelAccount>,
}

/// One channel of an [`Account`].
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ChannelAccount {
    /// Its name: the header's, or `column 3`, `channel 1`.
    pub name: String,
    /// A unit that the header gives in brackets after the name: `ax (g)`.
    pub unit: Option<String>,
    /// The smallest sample.
    pub least: f64,
    /// The largest.
    pub most: f64,
    /// Samples at the end of the scale: of runs of two and more at the largest or smallest value.
    pub clipped: u64,
    /// The longest run at one value, in samples, and where it begins, seconds.
    pub longest_still: (u64, f64),
    /// Empty cells: such rows are left out.
    pub missing: u64,
    /// Samples that differ from the one before them.
    pub changes: u64,
    /// Smallest and largest value in each of some hundreds of equal stretches of time, for drawing:
    /// (seconds at its middle, smallest, largest).
    pub outline: Vec<(f64, f64, f64)>,
}

impl Recording {
    /// The file's own name, without the folders it lies in.
    pub fn file_name(&self) -> &str {
        self.name.rsplit('/').next().unwrap_or(&self.name)
    }

    /// Hears the recording to its end. `None` where something is wrong with it, which is said with the
    /// file's own line and column; what the listener heard until then is of no use.
    pub fn listen(
        &self,
        request: &Request,
        listener: &mut dyn Listener,
        problems: &mut Problems,
    ) -> Option<Account> {
        if wav::is_one(self) {
            wav::listen(self, request, listener, problems)
        } else {
            csv::listen(self, request, listener, problems)
        }
    }

    /// The file as messages show it: the session's folder, then its path there.
    fn shown(&self) -> String {
        match self.place.source.name.split_once('/') {
            Some((session, _)) => format!("{session}/{}", self.name),
            None => self.name.clone(),
        }
    }
}

impl Column {
    /// A column by its name, or by its number from 1.
    pub fn of(node: &Node, fields: &Fields, problems: &mut Problems) -> Option<Self> {
        let place = fields.at(node);
        let text = fields.text_of(node, "a column", problems)?;
        match text.parse::<usize>() {
            Ok(number) if number >= 1 => Some(Self::Numbered(number, place)),
            Ok(_) => {
                problems.push(
                    Problem::error("columns are counted from 1", place)
                        .expected("expected 1 for the first column")
                        .help("write the column's name from the header, or its number from 1"),
                );
                None
            }
            Err(_) => Some(Self::Named(text, place)),
        }
    }
}

impl TimeBase {
    /// The fields `time` (with `time_unit`) or `rate`; what the file says where neither is written.
    pub fn of(fields: &mut Fields, problems: &mut Problems) -> Option<Self> {
        let time = fields.get("time");
        let unit = fields.get("time_unit");
        let written = fields.written("rate");
        let rate = fields.quantity("rate", &[Kind::Frequency], None, problems);
        if let (Some(node), true) = (&time, written) {
            problems.push(
                Problem::error("both 'time' and 'rate' are given", fields.at(node))
                    .expected("expected one of them")
                    .help("leave 'rate' out where the file has a time column"),
            );
            return None;
        }
        let unit = match unit {
            None => None,
            Some(node) => {
                let text = fields.text_of(&node, "'time_unit'", problems)?;
                match crate::quantity::parse_unit(&text, &[Kind::Time]) {
                    Ok(unit) => Some(unit),
                    Err(wrong) => {
                        problems.push(
                            Problem::error(wrong.message, fields.at(&node))
                                .expected("expected a unit of time")
                                .help(wrong.help),
                        );
                        return None;
                    }
                }
            }
        };
        if let Some(node) = time {
            return Some(Self::Column { column: Column::of(&node, fields, problems)?, unit });
        }
        if !written {
            return Some(Self::OfFile);
        }
        let hertz = rate?.to(Unit::known(Kind::Frequency, "Hz")?).ok()?;
        if hertz > 0.0 {
            return Some(Self::Rate(hertz));
        }
        let node = fields.get("rate")?;
        problems.push(
            Problem::error("'rate' must be larger than zero", fields.at(&node))
                .expected("expected samples a second")
                .help("write for example: rate: 3200 Hz"),
        );
        None
    }
}
