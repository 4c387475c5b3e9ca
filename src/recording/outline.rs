//! The outline of a recording: the smallest and largest value in each of some hundreds of equal
//! stretches of time, made in one pass. When there are too many stretches, neighbours become one.

/// Most stretches; at least half as many are kept of a long recording.
const MOST: usize = 1200;

/// The times of some samples in a row.
#[derive(Clone, Copy, Debug)]
pub(super) enum Times<'a> {
    /// One for each.
    At(&'a [f64]),
    /// The number of the first in the recording, and the step between them.
    Even { first: u64, step: f64 },
}

impl Times<'_> {
    /// The time of a sample, seconds.
    pub(super) fn at(&self, index: usize) -> f64 {
        match self {
            Self::At(seconds) => seconds.get(index).copied().unwrap_or(0.0),
            Self::Even { first, step } => (first + index as u64) as f64 * step,
        }
    }

    /// The first sample from `from` on that is not before `end`.
    fn first_not_before(&self, from: usize, count: usize, end: f64) -> usize {
        let found = match self {
            Self::At(seconds) => {
                let rest = seconds.get(from..count).unwrap_or_default();
                from + rest.partition_point(|time| *time < end)
            }
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "a float cast saturates"
            )]
            Self::Even { first, step } => {
                // The quotient may be off by one, so the neighbours are looked at.
                let guess = ((end / step).ceil().max(0.0) as u64).saturating_sub(*first) as usize;
                (guess.saturating_sub(1)..=guess + 1).find(|index| self.at(*index) >= end).unwrap_or(guess)
            }
        };
        found.clamp(from + 1, count.max(from + 1))
    }
}

/// Smallest and largest value of each stretch, for each channel.
#[derive(Debug)]
pub(super) struct Outline {
    width: f64,
    channels: Vec<Vec<(f64, f64)>>,
}

const NOTHING: (f64, f64) = (f64::INFINITY, f64::NEG_INFINITY);

fn joined(a: (f64, f64), b: (f64, f64)) -> (f64, f64) {
    (a.0.min(b.0), a.1.max(b.1))
}

impl Outline {
    /// An empty outline of so many channels; the stretches begin this short.
    pub(super) fn new(channels: usize, interval: f64) -> Self {
        let width = if interval > 0.0 && interval.is_finite() { interval } else { 1.0 };
        Self { width, channels: vec![Vec::new(); channels] }
    }

    /// Adds samples in a row, and tells each piece of a channel: its number, its range, its extremes.
    pub(super) fn add(
        &mut self,
        times: Times<'_>,
        channels: &[&[f64]],
        mut tell: impl FnMut(usize, std::ops::Range<usize>, (f64, f64)),
    ) {
        let count = channels.first().map_or(0, |channel| channel.len());
        let mut from = 0;
        while from < count {
            let stretch = self.stretch(times.at(from));
            let to = times.first_not_before(from, count, (stretch + 1) as f64 * self.width);
            for (index, channel) in channels.iter().enumerate() {
                let extremes = extremes(channel.get(from..to).unwrap_or_default());
                if let Some(cells) = self.channels.get_mut(index) {
                    if cells.len() <= stretch {
                        cells.resize(stretch + 1, NOTHING);
                    }
                    if let Some(cell) = cells.get_mut(stretch) {
                        *cell = joined(*cell, extremes);
                    }
                }
                tell(index, from..to, extremes);
            }
            from = to;
        }
    }

    /// The stretch of a time; makes stretches longer until there is one.
    fn stretch(&mut self, time: f64) -> usize {
        // What is before the first sample (time ran backwards) is drawn at the beginning.
        let time = time.max(0.0);
        while time / self.width >= MOST as f64 {
            self.width *= 2.0;
            for cells in &mut self.channels {
                *cells = cells.chunks(2).map(|pair| pair.iter().copied().fold(NOTHING, joined)).collect();
            }
        }
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "at most MOST")]
        let stretch = (time / self.width) as usize;
        stretch
    }

    /// (seconds at its middle, smallest, largest) of each stretch that holds a sample, for each channel.
    pub(super) fn finish(self) -> Vec<Vec<(f64, f64, f64)>> {
        let width = self.width;
        let middle = |index: usize| (index as f64 + 0.5) * width;
        self.channels
            .into_iter()
            .map(|cells| {
                let filled = cells.into_iter().enumerate().filter(|(_, (low, high))| low <= high);
                filled.map(|(index, (low, high))| (middle(index), low, high)).collect()
            })
            .collect()
    }
}

/// The smallest and the largest of some numbers.
pub(super) fn extremes(values: &[f64]) -> (f64, f64) {
    let mut low = [f64::INFINITY; 8];
    let mut high = [f64::NEG_INFINITY; 8];
    let mut eights = values.chunks_exact(8);
    for eight in eights.by_ref() {
        for lane in 0..8 {
            let value = eight[lane];
            low[lane] = if value < low[lane] { value } else { low[lane] };
            high[lane] = if value > high[lane] { value } else { high[lane] };
        }
    }
    let ends = low.into_iter().zip(high).fold(NOTHING, joined);
    eights.remainder().iter().fold(ends, |ends, value| joined(ends, (*value, *value)))
}

#[cfg(test)]
mod tests {
    #![expect(clippy::float_cmp, reason = "the numbers come back as they were written")]

    use super::*;

    #[test]
    fn a_spike_of_one_sample_in_a_million_is_kept_at_its_time() {
        let mut outline = Outline::new(1, 0.001);
        let mut values = vec![0.0; 1_000_000];
        values[654_321] = 9.0;
        for (index, piece) in values.chunks(7919).enumerate() {
            let times = Times::Even { first: index as u64 * 7919, step: 0.001 };
            outline.add(times, &[piece], |_, _, _| {});
        }
        let found = outline.finish().remove(0);
        assert!((600..=1200).contains(&found.len()), "{}", found.len());
        let spikes: Vec<_> = found.iter().filter(|(_, _, high)| *high == 9.0).collect();
        assert_eq!(spikes.len(), 1);
        let width = found[1].0 - found[0].0;
        assert!((spikes[0].0 - 654.321).abs() <= width / 2.0);
        assert!(found.iter().all(|(_, low, _)| *low == 0.0));
    }

    #[test]
    fn a_gap_in_time_is_a_gap_in_the_outline() {
        let mut outline = Outline::new(1, 1.0);
        outline.add(Times::At(&[0.0, 1.0, 2.0]), &[&[1.0, 2.0, 3.0]], |_, _, _| {});
        outline.add(Times::At(&[10.0, 11.0]), &[&[4.0, 5.0]], |_, _, _| {});
        let times: Vec<f64> = outline.finish()[0].iter().map(|(time, ..)| *time).collect();
        assert_eq!(times, [0.5, 1.5, 2.5, 10.5, 11.5]);
    }

    #[test]
    fn however_far_time_jumps_memory_stays_small() {
        let mut outline = Outline::new(1, 1e-6);
        outline.add(Times::At(&[0.0, 1e12, 3e12]), &[&[1.0, 2.0, 3.0]], |_, _, _| {});
        let found = outline.finish().remove(0);
        assert_eq!(found.len(), 3);
    }
}
