//! WAV files, by hound: integers of 8, 16, 24 and 32 bits and floats, as shares of full scale.

use std::fs::File;
use std::io::{BufReader, Read};

use hound::{SampleFormat, WavIntoSamples, WavReader, WavSpec};

use super::account::Keeper;
use super::{Account, Column, Listener, Recording, Request, Start, TimeBase};
use crate::session::{Problem, Problems, did_you_mean};

/// Samples of all channels that are heard at a time.
const TOGETHER: usize = 65_536;
/// More channels than this are no recording.
const MOST_CHANNELS: u16 = 64;

/// Whether a file calls itself WAV, by its name or by its first bytes.
pub(super) fn is_one(recording: &Recording) -> bool {
    let by_name = recording.path.extension().is_some_and(|kind| kind.eq_ignore_ascii_case("wav"));
    let mut first = [0; 4];
    let by_bytes = File::open(&recording.path).and_then(|mut file| file.read_exact(&mut first)).is_ok()
        && matches!(&first, b"RIFF" | b"RIFX" | b"RF64");
    by_name || by_bytes
}

fn say(recording: &Recording, why: &str, help: &str, problems: &mut Problems) {
    problems.push(
        Problem::error(format!("'{}': {why}", recording.name), recording.place.clone())
            .expected("expected a whole WAV file")
            .help(help),
    );
}

/// Hears a WAV file to its end.
pub(super) fn listen(
    recording: &Recording,
    request: &Request,
    listener: &mut dyn Listener,
    problems: &mut Problems,
) -> Option<Account> {
    let reader = open(recording, problems)?;
    let spec = reader.spec();
    let samples = reader.duration();
    let rate = rate(recording, request, spec, problems)?;
    let channels = channels(recording, request, spec.channels, problems)?;
    let names = channels.iter().map(|index| format!("channel {}", index + 1)).collect();
    let start = Start { names, rate, jitter: 0.0 };
    let mut keeper = Keeper::new(listener, &start, false, &recording.struck);
    let heard = Samples::of(reader).and_then(|samples| hear(samples, spec, &channels, &mut keeper));
    if let Err(stop) = heard {
        stop.say(recording, u64::from(samples), rate, problems);
        return None;
    }
    let mut account = keeper.finish();
    account.bits = Some(spec.bits_per_sample);
    if account.samples == 0 {
        say(recording, "every sample is struck", "strike less of it", problems);
        return None;
    }
    Some(account)
}

/// The reader behind a header that makes sense.
fn open(recording: &Recording, problems: &mut Problems) -> Option<WavReader<BufReader<File>>> {
    let reader = match WavReader::open(&recording.path) {
        Ok(reader) => reader,
        Err(error) => {
            let (why, help) = match &error {
                hound::Error::IoError(error)
                    if error.kind() != std::io::ErrorKind::Other
                        && error.kind() != std::io::ErrorKind::UnexpectedEof =>
                {
                    (format!("the file cannot be read: {error}"), "copy it from the recorder again")
                }
                hound::Error::Unsupported => (
                    "this kind of WAV is not read".to_owned(),
                    "export it as WAV with 16 or 24 bits or as float, without compression",
                ),
                hound::Error::FormatError(why) => (
                    format!("this is no whole WAV file: {why}"),
                    "copy it from the recorder again, or export it as WAV once more",
                ),
                _ => (
                    "this is no whole WAV file: its header is cut short".to_owned(),
                    "copy it from the recorder again, or export it as WAV once more",
                ),
            };
            say(recording, &why, help, problems);
            return None;
        }
    };
    let spec = reader.spec();
    let why = if spec.channels > MOST_CHANNELS {
        format!("its header says {} channels", spec.channels)
    } else if spec.sample_rate == 0 {
        "its header says 0 samples a second".to_owned()
    } else if reader.duration() == 0 {
        "it holds no samples, or the recorder stopped before it wrote how many".to_owned()
    } else {
        return Some(reader);
    };
    say(recording, &why, "copy it from the recorder again, or export it as WAV once more", problems);
    None
}

/// The header's rate, where nothing contradicts it.
fn rate(recording: &Recording, request: &Request, spec: WavSpec, problems: &mut Problems) -> Option<f64> {
    let own = f64::from(spec.sample_rate);
    match &request.time {
        TimeBase::OfFile => Some(own),
        TimeBase::Rate(given) if (given / own - 1.0).abs() < 1e-4 => Some(own),
        TimeBase::Rate(given) => {
            let given = crate::quantity::significant(*given, 6);
            let why = format!("its header says {own} samples a second, 'rate' says {given}");
            say(recording, &why, "leave 'rate' out: a WAV file says its own", problems);
            None
        }
        TimeBase::Column { column: Column::Named(_, place) | Column::Numbered(_, place), .. } => {
            problems.push(
                Problem::error("a WAV file has no column of times", place.clone())
                    .expected("expected no 'time'")
                    .help("leave 'time' out: a WAV file says its own rate"),
            );
            None
        }
    }
}

/// The channels that are wanted, from 0.
fn channels(
    recording: &Recording,
    request: &Request,
    count: u16,
    problems: &mut Problems,
) -> Option<Vec<usize>> {
    let count = usize::from(count);
    if request.channels.is_empty() {
        return Some((0..count).collect());
    }
    let mut names: Vec<String> = (1..=count).map(|number| format!("channel {number}")).collect();
    if count == 2 {
        names.extend(["left".to_owned(), "right".to_owned()]);
    }
    let known: Vec<&str> = names.iter().map(String::as_str).collect();
    let find = |column: &Column| match column {
        Column::Numbered(number, place) if *number > count => Err((
            format!("'{}' has no channel {number}", recording.name),
            place.clone(),
            format!("it has {count}"),
        )),
        Column::Numbered(number, _) => Ok(number - 1),
        Column::Named(name, place) => {
            match names.iter().position(|known| known.eq_ignore_ascii_case(name.trim())) {
                Some(index) => Ok(index % count),
                None => Err((
                    format!("'{}' has no channel '{name}'", recording.name),
                    place.clone(),
                    did_you_mean(name, &known),
                )),
            }
        }
    };
    let mut list = Vec::new();
    let mut whole = true;
    for column in &request.channels {
        match find(column) {
            Ok(index) => list.push(index),
            Err((message, place, help)) => {
                whole = false;
                problems.push(
                    Problem::error(message, place).expected("expected a channel of the file").help(help),
                );
            }
        }
    }
    whole.then_some(list)
}

/// Why hearing stopped before the end, after so many samples.
enum Stop {
    Short(u64),
    NotFinite(u64),
    Unsupported,
}

impl Stop {
    fn say(&self, recording: &Recording, meant: u64, rate: f64, problems: &mut Problems) {
        let at = |sample: u64| format!("{:.3} s", sample as f64 / rate);
        match self {
            Self::Short(heard) => say(
                recording,
                &format!(
                    "the file is cut short: {} of {meant} samples are missing, from {} on",
                    meant.saturating_sub(*heard),
                    at(*heard)
                ),
                "copy it from the recorder again",
                problems,
            ),
            Self::NotFinite(sample) => say(
                recording,
                &format!("the sample at {} is not a reading (not a number, or infinite)", at(*sample)),
                "export it as WAV once more, with 24 bits",
                problems,
            ),
            Self::Unsupported => say(
                recording,
                "this kind of WAV is not read",
                "export it as WAV with 16 or 24 bits or as float, without compression",
                problems,
            ),
        }
    }
}

/// Interleaved samples, being read.
enum Samples {
    Floats(WavIntoSamples<BufReader<File>, f32>),
    Integers(WavIntoSamples<BufReader<File>, i32>, f64),
    /// The usual ones, read in blocks: many times as fast. The first was read to see that hound knows
    /// the form they stand in.
    Sixteen {
        first: Option<f64>,
        file: BufReader<File>,
        left: u64,
        bytes: Vec<u8>,
    },
}

/// How a block ended.
enum End {
    Goes,
    Whole,
    Short,
}

impl Samples {
    fn of(mut reader: WavReader<BufReader<File>>) -> Result<Self, Stop> {
        let spec = reader.spec();
        if spec.sample_format == SampleFormat::Float {
            return Ok(Self::Floats(reader.into_samples()));
        }
        let full = 2f64.powi(i32::from(spec.bits_per_sample) - 1);
        if spec.bits_per_sample != 16 {
            return Ok(Self::Integers(reader.into_samples(), full));
        }
        let left = u64::from(reader.len()).saturating_sub(1);
        match reader.samples::<i32>().next() {
            Some(Ok(first)) => {
                let first = Some(f64::from(first) / full);
                Ok(Self::Sixteen { first, file: reader.into_inner(), left, bytes: Vec::new() })
            }
            Some(Err(hound::Error::Unsupported)) => Err(Stop::Unsupported),
            _ => Err(Stop::Short(0)),
        }
    }

    /// Up to so many more samples.
    fn fill(&mut self, into: &mut Vec<f64>, most: usize) -> Result<End, Stop> {
        match self {
            Self::Floats(samples) => one_by_one(samples.map(|sample| sample.map(f64::from)), into, most),
            Self::Integers(samples, full) => {
                let full = *full;
                one_by_one(samples.map(|sample| sample.map(|value| f64::from(value) / full)), into, most)
            }
            Self::Sixteen { first, file, left, bytes } => {
                into.extend(first.take());
                let wanted = (*left).min(most.saturating_sub(into.len()) as u64);
                bytes.clear();
                let read = file.by_ref().take(2 * wanted).read_to_end(bytes).unwrap_or(0);
                let pairs = bytes.chunks_exact(2);
                into.extend(pairs.map(|pair| match pair {
                    [low, high] => f64::from(i16::from_le_bytes([*low, *high])) / 32_768.0,
                    _ => 0.0,
                }));
                *left -= wanted;
                Ok(match (read as u64 == 2 * wanted, *left) {
                    (false, _) => End::Short,
                    (true, 0) => End::Whole,
                    (true, _) => End::Goes,
                })
            }
        }
    }
}

fn one_by_one(
    mut samples: impl Iterator<Item = hound::Result<f64>>,
    into: &mut Vec<f64>,
    most: usize,
) -> Result<End, Stop> {
    while into.len() < most {
        match samples.next() {
            None => return Ok(End::Whole),
            Some(Ok(value)) => into.push(value),
            Some(Err(hound::Error::Unsupported)) => return Err(Stop::Unsupported),
            Some(Err(_)) => return Ok(End::Short),
        }
    }
    Ok(End::Goes)
}

/// Hears samples to their end.
fn hear(mut samples: Samples, spec: WavSpec, wanted: &[usize], keeper: &mut Keeper<'_>) -> Result<(), Stop> {
    let count = usize::from(spec.channels).max(1);
    let most = TOGETHER.div_ceil(count) * count;
    let mut block = Vec::with_capacity(most);
    let mut apart: Vec<Vec<f64>> = vec![Vec::new(); wanted.len()];
    let mut heard = 0_u64;
    loop {
        block.clear();
        let end = samples.fill(&mut block, most)?;
        if let Some(at) = block.iter().position(|value| !value.is_finite()) {
            return Err(Stop::NotFinite(heard + (at / count) as u64));
        }
        let whole = block.len() / count;
        for (channel, index) in apart.iter_mut().zip(wanted) {
            channel.clear();
            channel.extend(block.chunks_exact(count).filter_map(|frame| frame.get(*index)));
        }
        let parts: Vec<&[f64]> = apart.iter().map(Vec::as_slice).collect();
        keeper.rated(&parts);
        heard += whole as u64;
        match end {
            End::Goes => {}
            End::Whole => return Ok(()),
            End::Short => return Err(Stop::Short(heard)),
        }
    }
}
