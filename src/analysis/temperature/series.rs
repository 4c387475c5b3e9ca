//! What was read at a place, the ambient beside it, and the speeds that were set.

use crate::quantity::{Quantity, Unit};
use crate::session::Place;

/// One reading, or the mean of a stretch of a recording; temperatures in the check's unit.
#[derive(Clone, Debug)]
pub(super) struct Point {
    /// Seconds on the run's clock.
    pub(super) seconds: f64,
    /// What was shown, corrected by the certificate alone.
    pub(super) shown: f64,
    /// The lowest sample of the stretch; `shown` of a single reading.
    pub(super) low: f64,
    /// The highest sample of the stretch.
    pub(super) high: f64,
    /// How many samples it is the mean of.
    pub(super) samples: u64,
    /// Their standard deviation; 0 of a single reading.
    pub(super) spread: f64,
    /// Whether it was struck.
    pub(super) struck: bool,
    /// Whether a recording was broken before it.
    pub(super) fresh: bool,
    /// Where it is written.
    pub(super) place: Place,
}

/// What a recording was, for the report's words.
#[derive(Clone, Debug)]
pub(super) struct Recorded {
    /// The file, as messages name it.
    pub(super) file: String,
    /// Samples heard.
    pub(super) samples: u64,
    /// Seconds averaged into one point; `None` where every sample is a point.
    pub(super) averaged: Option<f64>,
    /// What was wrong with it, in sentences.
    pub(super) troubles: Vec<String>,
}

/// What was read at one place.
#[derive(Clone, Debug)]
pub(super) struct Series {
    /// The place.
    pub(super) name: String,
    /// In the order of time, struck ones among them.
    pub(super) points: Vec<Point>,
    /// The surface's emissivity, where the readings are to be corrected, and where it is written.
    pub(super) surface: Option<(f64, Place)>,
    /// Of a recording.
    pub(super) recorded: Option<Recorded>,
    /// The readings as typed: time, temperature, why struck.
    pub(super) typed: Vec<(String, String, Option<String>)>,
    /// Where the place is named.
    pub(super) place: Place,
}

impl Series {
    /// The points that count.
    pub(super) fn kept(&self) -> Vec<&Point> {
        self.points.iter().filter(|point| !point.struck).collect()
    }

    /// How many were struck.
    pub(super) fn struck(&self) -> usize {
        self.points.iter().filter(|point| point.struck).count()
    }
}

/// The temperature of the air about the machine, in the check's unit.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Ambient {
    /// Nobody wrote it down.
    Unknown,
    /// Read once.
    Constant {
        /// So much.
        value: f64,
        /// Whether it is the visit's condition, and not among the readings.
        is_condition: bool,
    },
    /// Seconds and temperature, in the order of time; straight between, level beyond.
    Curve(Vec<(f64, f64)>),
}

impl Ambient {
    /// The ambient at a moment.
    pub(super) fn at(&self, seconds: f64) -> Option<f64> {
        match self {
            Self::Unknown => None,
            Self::Constant { value, .. } => Some(*value),
            Self::Curve(points) => {
                let after = points.partition_point(|(at, _)| *at < seconds);
                let next = points.get(after);
                let last = after.checked_sub(1).and_then(|before| points.get(before));
                match (last, next) {
                    (Some((from, low)), Some((to, high))) => {
                        Some(low + (high - low) * (seconds - from) / (to - from))
                    }
                    (Some((_, value)), None) | (None, Some((_, value))) => Some(*value),
                    (None, None) => None,
                }
            }
        }
    }

    /// From the lowest to the highest.
    pub(super) fn span(&self) -> f64 {
        match self {
            Self::Curve(points) => {
                let fold = |pick: fn(f64, f64) -> f64, from| points.iter().map(|p| p.1).fold(from, pick);
                fold(f64::max, f64::NEG_INFINITY) - fold(f64::min, f64::INFINITY)
            }
            _ => 0.0,
        }
    }
}

/// From a moment on, a speed.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Step {
    /// Seconds on the run's clock.
    pub(super) from: f64,
    /// The speed.
    pub(super) speed: Quantity,
    /// Where its time is written.
    pub(super) place: Place,
}

/// A time in which the speed was the same.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Stretch {
    /// Its beginning, seconds.
    pub(super) from: f64,
    /// Its end; infinite of the last.
    pub(super) to: f64,
    /// The speed; none without a schedule.
    pub(super) speed: Option<Quantity>,
    /// As `where` says it after the place: `2000 rpm`, or `1000 rpm, from 12:00` where that speed had
    /// been set before; empty without a schedule.
    pub(super) name: String,
}

/// The stretches of a schedule; the whole run as one where there is none.
pub(super) fn stretches(schedule: &[Step]) -> Vec<Stretch> {
    if schedule.is_empty() {
        let name = String::new();
        return vec![Stretch { from: f64::NEG_INFINITY, to: f64::INFINITY, speed: None, name }];
    }
    let mut stretches: Vec<Stretch> = Vec::new();
    for step in schedule {
        if let Some(last) = stretches.last_mut() {
            if last.speed.is_some_and(|speed| same(speed, step.speed)) {
                continue;
            }
            last.to = step.from;
        }
        let named = step.speed.to_string();
        let before = stretches.iter().any(|other| other.speed.is_some_and(|s| s.to_string() == named));
        let name = if before { format!("{named}, from {}", clock(step.from)) } else { named };
        stretches.push(Stretch { from: step.from, to: f64::INFINITY, speed: Some(step.speed), name });
    }
    stretches
}

fn same(a: Quantity, b: Quantity) -> bool {
    b.to(a.unit()).is_ok_and(|value| (value - a.value()).abs() <= 1e-9 * a.value().abs())
}

/// A moment on the run's clock: `12:00`, `1:02:30`.
pub(super) fn clock(seconds: f64) -> String {
    #[expect(clippy::cast_possible_truncation, reason = "a float cast saturates")]
    let whole = seconds.round() as i64;
    let (hours, minutes, rest) = (whole / 3600, whole / 60 % 60, whole % 60);
    if hours > 0 { format!("{hours}:{minutes:02}:{rest:02}") } else { format!("{minutes}:{rest:02}") }
}

/// A length of time in words: `14 s`, `12 min`, `2.5 h`.
pub(super) fn lasting(seconds: f64) -> String {
    let (number, unit) = if seconds < 120.0 {
        (seconds, "s")
    } else if seconds < 7200.0 {
        (seconds / 60.0, "min")
    } else {
        (seconds / 3600.0, "h")
    };
    format!("{} {unit}", crate::quantity::significant(number, 3))
}

/// A temperature in kelvin.
pub(super) fn kelvin(value: f64, unit: Unit) -> Option<f64> {
    Quantity::new(value, unit).to(Unit::known(unit.kind(), "K")?).ok()
}

/// A number of kelvin in the unit.
pub(super) fn from_kelvin(value: f64, unit: Unit) -> Option<f64> {
    Quantity::new(value, Unit::known(unit.kind(), "K")?).to(unit).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_ambient_is_straight_between_its_readings_and_level_beyond_them() {
        let curve = Ambient::Curve(vec![(0.0, 20.0), (100.0, 22.0)]);
        assert_eq!(curve.at(50.0), Some(21.0));
        assert_eq!(curve.at(-5.0), Some(20.0));
        assert_eq!(curve.at(500.0), Some(22.0));
        assert_eq!(curve.at(100.0), Some(22.0));
        assert!((curve.span() - 2.0).abs() < 1e-12);
        assert_eq!(Ambient::Curve(Vec::new()).at(1.0), None);
    }

    #[test]
    fn times_are_said_as_a_clock_and_as_a_length() {
        assert_eq!(clock(750.0), "12:30");
        assert_eq!(clock(3750.4), "1:02:30");
        assert_eq!(lasting(14.0), "14 s");
        assert_eq!(lasting(750.0), "12.5 min");
        assert_eq!(lasting(9000.0), "2.5 h");
    }
}
