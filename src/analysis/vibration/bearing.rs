//! A rolling bearing: its geometry, its defect frequencies, and its lines in the envelope's spectrum.

use crate::analysis::signal::envelope::{self, Band};
use crate::analysis::signal::spectrum::{Line, Spectrum, chi_squared, median_of_mean};
use crate::analysis::signal::tracks::Heard;
use crate::quantity::{Kind, Unit};
use crate::session::{Fields, Problems};

use super::fields::hertz;
use super::wrong;

/// A line is sought this far to either side: balls slip, and so do motors.
pub(super) const SLIP: f64 = 0.02;
/// From so many times the median of its surroundings (as amplitudes) a line is seen.
const SEEN: f64 = 3.0;
/// How often noise alone may pass for a line, in all four together.
const FALSE_CLAIMS: f64 = 0.01;
/// A line so near a whole multiple of the turning frequency, in bins, may be that.
const TOO_NEAR: f64 = 1.5;

/// The geometry of a rolling bearing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bearing {
    /// How many balls or rollers there are.
    pub balls: f64,
    /// A ball's diameter over the pitch diameter.
    pub ball_to_pitch: f64,
    /// The contact angle, radians.
    pub contact: f64,
}

/// Defect frequencies as multiples of the turning frequency, the inner race turning.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Defects {
    /// A pit in the outer race.
    pub outer_race: f64,
    /// A pit in the inner race.
    pub inner_race: f64,
    /// A pit in a ball, which strikes both races: twice its spin.
    pub ball: f64,
    /// The cage's turn.
    pub cage: f64,
}

/// One defect's line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BearingLine {
    /// As findings name it.
    pub what: &'static str,
    /// Where it should stand, hertz.
    pub expected: f64,
    /// What stands there; none where the spectrum does not reach or hold enough around it.
    pub line: Option<Line>,
    /// Whether it is seen.
    pub seen: bool,
    /// The whole multiple of the turning frequency that it cannot be told from.
    pub multiple: Option<u32>,
}

/// The envelope of one axis, with the bearing's lines.
#[derive(Clone, Debug)]
pub struct Envelope {
    /// The band whose envelope it is.
    pub band: Band,
    /// The envelope's spectrum.
    pub spectrum: Spectrum,
    /// The lines: outer race, inner race, ball, cage.
    pub lines: [BearingLine; 4],
    /// The ratio to the surroundings from which a line is seen.
    pub threshold: f64,
}

impl Bearing {
    /// The field `bearing`.
    pub(super) fn of(own: &mut Fields, problems: &mut Problems) -> Option<Self> {
        let node = own.get("bearing")?;
        let mut inner = Fields::of(&node, own.source(), "'bearing'", problems)?;
        let balls = inner.need("balls", "9", problems);
        let length = |inner: &mut Fields, name: &'static str, example: &str, problems: &mut Problems| {
            inner.need(name, example, problems)?;
            inner.quantity(name, &[Kind::Length], None, problems)?.to(Unit::known(Kind::Length, "mm")?).ok()
        };
        let ball = length(&mut inner, "ball", "7.94 mm", problems);
        let pitch = length(&mut inner, "pitch", "39.04 mm", problems);
        let contact_given = inner.get("contact");
        let contact = inner.quantity("contact", &[Kind::Angle], None, problems);
        let place = inner.at(&node);
        let source = std::sync::Arc::clone(inner.source());
        inner.finish(problems);
        let balls = balls?;
        let count = crate::session::text_of(&balls, &source, "'balls'", problems)?;
        let Some(count) = count.trim().parse::<u32>().ok().filter(|count| (2..=500).contains(count)) else {
            problems.push(wrong(
                format!("a bearing cannot have '{}' balls", count.trim()),
                crate::session::place_of(&source, &balls),
                "expected a whole number of balls or rollers, 2 or more",
                "count them, or take the number from the bearing's data sheet",
            ));
            return None;
        };
        let contact = match (contact_given, contact) {
            (None, _) => 0.0,
            (Some(_), None) => return None,
            (Some(node), Some(angle)) => {
                let radians = angle.to(Unit::known(Kind::Angle, "rad")?).ok()?;
                if !(0.0..std::f64::consts::FRAC_PI_2 - 1e-6).contains(&radians) {
                    problems.push(wrong(
                        format!("a contact angle of {angle}"),
                        crate::session::place_of(&source, &node),
                        "expected 0 to under 90 degrees",
                        "deep-groove ball bearings have 0 deg, angular-contact ones 15 to 40 deg",
                    ));
                    return None;
                }
                radians
            }
        };
        let (ball, pitch) = (ball?, pitch?);
        let fits = ball > 0.0 && pitch > ball && f64::from(count) * ball <= std::f64::consts::PI * pitch;
        if !fits {
            problems.push(wrong(
                format!("{count} balls of {ball} mm do not fit on a pitch circle of {pitch} mm"),
                place,
                "expected balls that fit side by side on the pitch circle",
                "pitch is the diameter of the circle through the balls' middles, about half the sum of bore and outside",
            ));
            return None;
        }
        Some(Self { balls: f64::from(count), ball_to_pitch: ball / pitch, contact })
    }

    /// The defect frequencies as multiples of the turning frequency.
    pub fn defects(&self) -> Defects {
        let g = self.ball_to_pitch * self.contact.cos();
        Defects {
            outer_race: self.balls / 2.0 * (1.0 - g),
            inner_race: self.balls / 2.0 * (1.0 + g),
            ball: (1.0 - g * g) / self.ball_to_pitch,
            cage: (1.0 - g) / 2.0,
        }
    }
}

impl Defects {
    /// Each with its name.
    pub fn named(&self) -> [(&'static str, f64); 4] {
        [
            ("outer_race", self.outer_race),
            ("inner_race", self.inner_race),
            ("ball", self.ball),
            ("cage", self.cage),
        ]
    }

    /// The highest of them.
    pub fn highest(&self) -> f64 {
        self.named().iter().map(|(_, multiple)| *multiple).fold(0.0, f64::max)
    }
}

impl Envelope {
    /// The envelope of one axis of a recording, `rate` samples a second, at a turning frequency.
    pub fn of(heard: &Heard, axis: usize, rate: f64, turning: f64, bearing: &Bearing) -> Option<Self> {
        Self::of_pieces(heard.pieces(axis), rate, turning, bearing)
    }

    /// The envelope of pieces of a recording.
    pub fn of_pieces(pieces: &[Vec<f32>], rate: f64, turning: f64, bearing: &Bearing) -> Option<Self> {
        let defects = bearing.defects();
        let band = envelope::most_impulsive(pieces, rate, defects.highest() * turning)?;
        let spectrum = envelope::spectrum(pieces, rate, band)?;
        let tries: f64 = defects
            .named()
            .iter()
            .map(|(_, multiple)| (2.0 * SLIP * multiple * turning / spectrum.width).max(2.0) + 1.0)
            .sum();
        let threshold = threshold(spectrum.independent(), tries);
        let lines = defects.named().map(|(what, multiple)| {
            let expected = multiple * turning;
            let line = spectrum.line(expected * (1.0 - SLIP), expected * (1.0 + SLIP));
            let multiple = line.and_then(|line| near_multiple(line.frequency, turning, spectrum.width));
            let seen = multiple.is_none() && line.is_some_and(|line| line.ratio >= threshold);
            BearingLine { what, expected, line, seen, multiple }
        });
        Some(Self { band, spectrum, lines, threshold })
    }

    /// The same of the samples times a factor.
    #[must_use]
    pub(super) fn times(self, factor: f64) -> Self {
        let lines =
            self.lines.map(|own| BearingLine { line: own.line.map(|line| line.times(factor)), ..own });
        Self { spectrum: self.spectrum.times(factor), lines, ..self }
    }

    /// The strongest of the lines that are seen: it decides.
    pub fn strongest(&self) -> Option<&BearingLine> {
        let ratio = |line: &&BearingLine| line.line.map_or(0.0, |line| line.ratio);
        self.lines.iter().filter(|line| line.seen).max_by(|a, b| ratio(a).total_cmp(&ratio(b)))
    }
}

/// The ratio of amplitudes from which a line is seen: three, or what noise reaches one time in a
/// hundred in all the bins that are searched, whichever is more.
fn threshold(stretches: f64, tries: f64) -> f64 {
    let dof = 2.0 * stretches;
    let chance = chi_squared((1.0 - FALSE_CLAIMS).powf(1.0 / tries), dof) / dof / median_of_mean(dof);
    chance.sqrt().max(SEEN)
}

/// The whole multiple of the turning frequency that a line stands on.
fn near_multiple(frequency: f64, turning: f64, width: f64) -> Option<u32> {
    (1..=40_u32).find(|multiple| (frequency - f64::from(*multiple) * turning).abs() < TOO_NEAR * width)
}

/// Why there are no bearing lines: in a few words, and at length.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Why {
    /// In a few words.
    pub short: &'static str,
    /// At length.
    pub at_length: String,
}

impl Why {
    pub(super) fn new(short: &'static str, at_length: String) -> Self {
        Self { short, at_length }
    }
}

/// Why a recording cannot show a bearing's lines at this speed; none where it can.
pub(super) fn why_not(bearing: &Bearing, turning: f64, rate: f64, length: f64) -> Option<Why> {
    let highest = bearing.defects().highest() * turning;
    if turning <= 0.0 {
        return Some(Why::new(
            "The machine stands.",
            "The bearing of a machine that stands has no lines.".to_owned(),
        ));
    }
    if envelope::bands(rate, 2.0 * highest, 2.5 * highest).is_empty() {
        let band = envelope::NARROWEST.max(2.5 * highest);
        return Some(Why::new(
            "Recorded too slowly for a bearing.",
            format!(
                "{} samples a second show nothing above {}, and the envelope needs a band of {} above {} (twice the \
                 highest defect frequency).",
                crate::quantity::significant(rate, 4),
                hertz(rate / 2.0),
                hertz(band),
                hertz(2.0 * highest),
            ),
        ));
    }
    (length < 1.0).then(|| {
        Why::new(
            "Recorded too briefly for a bearing.",
            format!(
                "The envelope's spectrum needs stretches of a second, and the longest that the recording has four of \
                 is {} s.",
                crate::quantity::significant(length, 2)
            ),
        )
    })
}
