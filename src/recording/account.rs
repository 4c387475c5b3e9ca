//! Keeps the account of a recording while it is heard, and cuts it into blocks that go on evenly.

#![expect(clippy::float_cmp, reason = "clipped, stuck and repeated samples are exactly equal")]

use super::outline::{Outline, Times};
use super::{Account, Block, ChannelAccount, Listener, Start, Stretch};

/// Intervals longer than this many usual ones are gaps.
const GAP: f64 = 1.5;
/// Samples whose intervals are looked at together.
const TOGETHER: usize = 256;

/// The intervals between samples, as deviations from the usual one.
#[derive(Debug, Default)]
struct Intervals {
    count: u64,
    sum: f64,
    squares: f64,
}

impl Intervals {
    fn mean(&self, usual: f64) -> f64 {
        if self.count == 0 { usual } else { usual + self.sum / self.count as f64 }
    }

    /// The standard deviation over the mean.
    fn jitter(&self, usual: f64) -> f64 {
        if self.count < 2 {
            return 0.0;
        }
        let count = self.count as f64;
        let variance = (self.squares - self.sum * self.sum / count) / (count - 1.0);
        variance.max(0.0).sqrt() / self.mean(usual)
    }
}

/// What is known of a channel so far.
#[derive(Debug, Default)]
struct Channel {
    account: ChannelAccount,
    most: Extreme,
    least: Extreme,
    still: Still,
    changes: u64,
}

/// Samples at the largest or smallest value so far.
#[derive(Debug, Default)]
struct Extreme {
    /// How many stand in a row at the end of what was heard.
    run: u64,
    /// Those of runs of two and more.
    clipped: u64,
}

impl Extreme {
    fn scan(&mut self, values: &[f64], value: f64) {
        for found in values {
            if *found == value {
                self.run += 1;
                self.clipped += if self.run == 2 { 2 } else { u64::from(self.run > 2) };
            } else {
                self.run = 0;
            }
        }
    }
}

/// The longest run at one value.
#[derive(Debug, Default)]
struct Still {
    value: f64,
    run: u64,
    since: f64,
    longest: (u64, f64),
}

impl Still {
    fn scan(&mut self, values: &[f64], times: Times<'_>) {
        let count = values.len();
        let mut at = 0;
        if self.run > 0 {
            at = values.iter().take_while(|value| **value == self.value).count();
            self.run += at as u64;
            self.keep();
        }
        // A longer run than the longest covers every place that many samples ahead of its start.
        while at < count {
            let step = usize::try_from(self.longest.0).unwrap_or(usize::MAX);
            let Some(ahead) = at.checked_add(step).filter(|ahead| *ahead < count) else {
                break;
            };
            let start = run_start(values, at, ahead);
            if start > at {
                at = start;
                continue;
            }
            let length = values[at..].iter().take_while(|value| **value == values[at]).count();
            (self.value, self.run, self.since) = (values[at], length as u64, times.at(at));
            self.keep();
            at += length;
        }
        if at < count {
            let start = run_start(values, at, count - 1);
            (self.value, self.run, self.since) = (values[start], (count - start) as u64, times.at(start));
            self.keep();
        }
    }

    fn keep(&mut self) {
        if self.run > self.longest.0 {
            self.longest = (self.run, self.since);
        }
    }
}

/// Where the run that holds the sample at `at` begins, not before `from`.
fn run_start(values: &[f64], from: usize, at: usize) -> usize {
    let value = values[at];
    let same = values[from..at].iter().rev().take_while(|found| **found == value).count();
    at - same
}

/// Hears samples, keeps the account, and passes blocks on.
pub(super) struct Keeper<'a> {
    listener: &'a mut dyn Listener,
    struck: Vec<Stretch>,
    account: Account,
    channels: Vec<Channel>,
    outline: Outline,
    /// The usual interval, seconds.
    usual: f64,
    intervals: Intervals,
    /// The time of the sample before.
    last: Option<f64>,
    latest: f64,
    /// Samples and holes so far, where a rate is given.
    index: u64,
    timed: bool,
    fresh: bool,
    /// Seconds of the days gone by, where the times are times of day.
    days: Option<f64>,
    of_day: f64,
}

const DAY: f64 = 86_400.0;

impl<'a> Keeper<'a> {
    /// Begins; `timed` where each sample brings its time.
    pub(super) fn new(
        listener: &'a mut dyn Listener,
        start: &Start,
        timed: bool,
        struck: &[Stretch],
    ) -> Self {
        listener.begin(start);
        let usual = 1.0 / start.rate;
        let channels = start
            .names
            .iter()
            .map(|name| Channel {
                account: ChannelAccount { name: name.clone(), ..ChannelAccount::default() },
                ..Channel::default()
            })
            .collect();
        Self {
            listener,
            struck: struck.to_vec(),
            account: Account::default(),
            channels,
            outline: Outline::new(start.names.len(), usual),
            usual,
            intervals: Intervals::default(),
            last: None,
            latest: 0.0,
            index: 0,
            timed,
            fresh: true,
            days: None,
            of_day: 0.0,
        }
    }

    /// The times are times of day: one that is half a day and more before the one before it is of the
    /// next day.
    pub(super) fn over_midnight(&mut self) {
        self.days = Some(0.0);
    }

    /// Samples with their times of day.
    pub(super) fn of_day(&mut self, seconds: &[f64], channels: &[&[f64]]) {
        let Some(mut days) = self.days else {
            return self.timed(seconds, channels);
        };
        let mut on = Vec::with_capacity(seconds.len());
        for time in seconds {
            if time - self.of_day < -DAY / 2.0 {
                days += DAY;
            }
            self.of_day = *time;
            on.push(time + days);
        }
        self.days = Some(days);
        self.timed(&on, channels);
    }

    /// Samples with their times.
    fn timed(&mut self, seconds: &[f64], channels: &[&[f64]]) {
        let mut from = 0;
        let mut at = 0;
        while at < seconds.len() {
            let together = seconds.get(at..seconds.len().min(at + TOGETHER)).unwrap_or_default();
            if self.even(together) {
                at += together.len();
                continue;
            }
            for _ in 0..together.len() {
                let time = seconds[at];
                match self.step(time) {
                    Step::On => {}
                    Step::Repeat => {
                        self.pass(seconds, channels, from, at);
                        from = at + 1;
                    }
                    Step::Fresh => {
                        self.pass(seconds, channels, from, at);
                        self.fresh = true;
                        from = at;
                    }
                }
                at += 1;
            }
        }
        self.pass(seconds, channels, from, seconds.len());
    }

    /// Takes the intervals of some samples where all of them are ordinary.
    fn even(&mut self, seconds: &[f64]) -> bool {
        let (Some(last), Some(first), Some(end)) = (self.last, seconds.first(), seconds.last()) else {
            return false;
        };
        let limit = GAP * self.usual;
        let fits = |interval: f64| interval > 0.0 && interval <= limit;
        let mut all = fits(first - last);
        let mut sums = [first - last - self.usual, 0.0, 0.0, 0.0];
        let mut squares = [sums[0] * sums[0], 0.0, 0.0, 0.0];
        let (before, after) = (&seconds[..seconds.len() - 1], &seconds[1..]);
        for (before, after) in before.chunks(4).zip(after.chunks(4)) {
            for (lane, (before, after)) in before.iter().zip(after).enumerate() {
                let interval = after - before;
                all &= fits(interval);
                let deviation = interval - self.usual;
                sums[lane] += deviation;
                squares[lane] += deviation * deviation;
            }
        }
        if all {
            self.intervals.count += seconds.len() as u64;
            self.intervals.sum += sums.iter().sum::<f64>();
            self.intervals.squares += squares.iter().sum::<f64>();
            self.last = Some(*end);
            self.latest = self.latest.max(*end);
        }
        all
    }

    fn step(&mut self, time: f64) -> Step {
        let step = match self.last {
            None => Step::Fresh,
            Some(last) => {
                let interval = time - last;
                if interval == 0.0 {
                    self.account.repeats += 1;
                    return Step::Repeat;
                }
                if interval < 0.0 {
                    self.account.backwards += 1;
                    Step::Fresh
                } else if interval > GAP * self.usual {
                    self.account.gaps += 1;
                    self.account.longest_gap = self.account.longest_gap.max(interval);
                    Step::Fresh
                } else {
                    let deviation = interval - self.usual;
                    self.intervals.count += 1;
                    self.intervals.sum += deviation;
                    self.intervals.squares += deviation * deviation;
                    Step::On
                }
            }
        };
        self.last = Some(time);
        self.latest = self.latest.max(time);
        step
    }

    /// Passes a run of timed samples on.
    fn pass(&mut self, seconds: &[f64], channels: &[&[f64]], from: usize, to: usize) {
        let part =
            |values: &'_ [f64]| -> std::ops::Range<usize> { from.min(values.len())..to.min(values.len()) };
        let times = &seconds[part(seconds)];
        let parts: Vec<&[f64]> = channels.iter().map(|channel| &channel[part(channel)]).collect();
        self.unstruck(Times::At(times), &parts);
    }

    /// Samples at the given rate.
    pub(super) fn rated(&mut self, channels: &[&[f64]]) {
        let count = channels.first().map_or(0, |channel| channel.len());
        let times = Times::Even { first: self.index, step: self.usual };
        self.index += count as u64;
        if count > 0 {
            self.latest = (self.index - 1) as f64 * self.usual;
            self.unstruck(times, channels);
        }
    }

    /// Whether a row of a recording with a given rate lies in a struck stretch.
    pub(super) fn is_struck(&self, row: u64) -> bool {
        let time = row as f64 * self.usual;
        self.struck.iter().any(|stretch| time >= stretch.from && time <= stretch.to)
    }

    /// Samples that are missing from a recording with a given rate.
    pub(super) fn hole(&mut self, count: u64) {
        self.index += count;
        self.fresh = true;
    }

    /// Leaves struck stretches out.
    fn unstruck(&mut self, times: Times<'_>, channels: &[&[f64]]) {
        let count = channels.first().map_or(0, |channel| channel.len());
        if self.struck.is_empty() {
            return self.speak(times, channels);
        }
        let is_struck =
            |time: f64| self.struck.iter().any(|stretch| time >= stretch.from && time <= stretch.to);
        let mut from = 0;
        let mut pieces = Vec::new();
        while from < count {
            let state = is_struck(times.at(from));
            let length = (from..count).take_while(|index| is_struck(times.at(*index)) == state).count();
            pieces.push((state, from..from + length));
            from += length;
        }
        for (state, range) in pieces {
            if state {
                self.account.struck += range.len() as u64;
                self.fresh = true;
                continue;
            }
            let piece = match times {
                Times::At(seconds) => Times::At(&seconds[range.clone()]),
                Times::Even { first, step } => Times::Even { first: first + range.start as u64, step },
            };
            let parts: Vec<&[f64]> = channels.iter().map(|channel| &channel[range.clone()]).collect();
            self.speak(piece, &parts);
        }
    }

    /// A block, at last.
    fn speak(&mut self, times: Times<'_>, channels: &[&[f64]]) {
        let count = channels.first().map_or(0, |channel| channel.len());
        if count == 0 {
            return;
        }
        let seconds = match times {
            Times::At(seconds) if self.timed => Some(seconds),
            _ => None,
        };
        self.listener.hear(&Block { fresh: self.fresh, seconds, channels });
        self.account.samples += count as u64;
        let fresh = std::mem::take(&mut self.fresh);
        for (channel, values) in self.channels.iter_mut().zip(channels) {
            channel.hear(values, times, fresh, self.account.samples == count as u64);
        }
        let kept = &mut self.channels;
        self.outline.add(times, channels, |index, range, extremes| {
            if let (Some(channel), Some(values)) = (kept.get_mut(index), channels.get(index)) {
                channel.stretch(values.get(range).unwrap_or_default(), extremes);
            }
        });
    }

    /// The account so far, closed.
    pub(super) fn finish(self) -> Account {
        let mut account = self.account;
        account.seconds = self.latest;
        account.stretches = self.struck;
        account.jitter = if self.timed { self.intervals.jitter(self.usual) } else { 0.0 };
        account.rate = 1.0 / self.intervals.mean(self.usual);
        let outlines = self.outline.finish();
        account.channels = self
            .channels
            .into_iter()
            .zip(outlines)
            .map(|(channel, outline)| ChannelAccount {
                clipped: channel.clipped(),
                longest_still: channel.still.longest,
                changes: channel.changes,
                outline,
                ..channel.account
            })
            .collect();
        account
    }
}

enum Step {
    On,
    Repeat,
    Fresh,
}

impl Channel {
    /// Samples at the ends of the scale; a channel that never moves has none.
    fn clipped(&self) -> u64 {
        if self.account.most > self.account.least { self.most.clipped + self.least.clipped } else { 0 }
    }

    /// A block's part: what does not depend on extremes.
    fn hear(&mut self, values: &[f64], times: Times<'_>, fresh: bool, first: bool) {
        if first && let Some(value) = values.first() {
            (self.account.least, self.account.most) = (*value, *value);
        }
        if fresh {
            (self.most.run, self.least.run, self.still.run) = (0, 0, 0);
        } else if let Some(value) = values.first() {
            self.changes += u64::from(*value != self.still.value);
        }
        let changes: usize = values.windows(2).map(|pair| usize::from(pair[0] != pair[1])).sum();
        self.changes += changes as u64;
        self.still.scan(values, times);
    }

    /// A stretch with its extremes.
    fn stretch(&mut self, values: &[f64], (low, high): (f64, f64)) {
        if high > self.account.most {
            self.account.most = high;
            self.most = Extreme::default();
        }
        if high == self.account.most {
            self.most.scan(values, high);
        } else {
            self.most.run = 0;
        }
        if low < self.account.least {
            self.account.least = low;
            self.least = Extreme::default();
        }
        if low == self.account.least {
            self.least.scan(values, low);
        } else {
            self.least.run = 0;
        }
    }
}
