//! Charts in the house style, drawn on plotters to SVG.
//!
//! Every chart is a plain struct of numbers and words with one method, `draw`. It computes nothing but
//! geometry: axis ranges, positions and the curve of coefficients it is given. Statistics are made
//! before, in `analysis`, and the words for numbers in `quantity`.
//!
//! House rules, kept by the shared modules:
//!
//! - lengths on the page are points (1/72 in), y down; a chart has the width it is given and says its
//!   height;
//! - a value outside an axis is never moved onto the frame: lines are clipped where they leave, and a
//!   mark outside is replaced by an arrow at the edge with its value (`clip`, `frame`);
//! - a reading that is not a finite number breaks its line and is not drawn; anything else that is not
//!   finite is refused ([`ChartError::NotFinite`]);
//! - text is measured with the font that will set it, and room is made for it before anything is drawn
//!   (`text`); the title is no part of a chart, for Typst sets it;
//! - a chart says of everything that it draws what it belongs to (`sheet::Layer`), and its shades are those of
//!   paper: `ground` turns them into those of another ground;
//! - the same chart gives the same bytes.

pub mod bands;
mod canvas;
mod clip;
pub mod curve;
pub mod exhibit;
mod fit;
mod frame;
pub mod ground;
pub mod history;
mod labels;
pub mod lean;
mod leaning;
mod marks;
pub mod of_flatness;
pub mod of_load;
pub mod of_parallelism;
pub mod of_quantity;
pub mod of_run_out;
pub mod of_sound;
pub mod of_speed;
pub mod of_squareness;
pub mod of_straightness;
pub mod of_temperature;
pub mod of_vibration;
pub mod overview;
pub mod relief;
pub mod repeats;
pub mod round;
pub mod settings;
pub mod sheet;
pub mod spectra;
pub mod spindle;
pub mod style;
pub mod summary;
pub(crate) mod text;
mod ticks;
pub mod trace;
pub mod unrolled;
pub mod zone;

pub use clip::Rect;

#[cfg(test)]
mod samples;
#[cfg(test)]
mod tests;

/// A drawn chart.
#[derive(Debug, Clone, PartialEq)]
pub struct Svg {
    /// The SVG document. Its text is text, in the family [`style::FAMILY`].
    pub text: String,
    /// Width on the page in points.
    pub width_pt: f64,
    /// Height on the page in points.
    pub height_pt: f64,
    /// What was drawn, for other grounds and for pictures that build themselves up.
    pub sheet: sheet::Sheet,
}

/// Why a chart could not be drawn.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ChartError {
    /// No finite value to draw, or nothing but empty lists.
    #[error("nothing to draw: {0}")]
    Nothing(&'static str),
    /// A value, uncertainty, limit or coefficient is NaN or infinite.
    #[error("{0} is not a finite number")]
    NotFinite(String),
    /// A value is beyond ±10¹⁵⁰, where differences overflow.
    #[error("{0} is too large to draw")]
    TooLarge(String),
    /// The width asked for leaves no room for the plot beside its labels.
    #[error("a width of {width_pt} pt leaves no room for the plot")]
    TooNarrow {
        /// The width asked for in points.
        width_pt: f64,
    },
    /// A font of the program could not be read.
    #[error("the font {0} could not be read")]
    Font(&'static str),
    /// The drawing library gave up.
    #[error("the drawing failed: {0}")]
    Drawing(String),
}

/// What a value must not pass.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Bound {
    /// Nothing above this value.
    AtMost(f64),
    /// Nothing below this value.
    AtLeast(f64),
    /// Nothing below the first or above the second.
    Between(f64, f64),
}

/// A limit with its words.
#[derive(Debug, Clone, PartialEq)]
pub struct Limit {
    /// The limit in the unit of the values it holds.
    pub bound: Bound,
    /// The limit as it is written, with its unit: `at most 1 thou`.
    pub text: String,
}

impl Limit {
    /// The finite edges of the limit, lowest first.
    fn edges(&self) -> Vec<f64> {
        match self.bound {
            Bound::AtMost(edge) | Bound::AtLeast(edge) => vec![edge],
            Bound::Between(a, b) => vec![a.min(b), a.max(b)],
        }
    }

    /// The value above which nothing may be, and the value below which nothing may be.
    fn above_and_below(&self) -> (Option<f64>, Option<f64>) {
        match self.bound {
            Bound::AtMost(edge) => (Some(edge), None),
            Bound::AtLeast(edge) => (None, Some(edge)),
            Bound::Between(a, b) => (Some(a.max(b)), Some(a.min(b))),
        }
    }
}

/// A visit as charts show it.
#[derive(Debug, Clone, PartialEq)]
pub struct Visit {
    /// The visit's title: `As found`.
    pub name: String,
    /// Its state, which gives mark, line and colour.
    pub state: style::State,
}

/// A value with its expanded uncertainty and its words.
#[derive(Debug, Clone, PartialEq)]
pub struct Measured {
    /// The value.
    pub value: f64,
    /// The expanded uncertainty U in the value's unit, zero or more; `None` draws no whisker.
    pub uncertainty: Option<f64>,
    /// Rounded and with its unit, as it stands in the report: `3.4 ± 0.8 thou`.
    pub text: String,
}

impl Measured {
    /// The half-length of the whisker, zero where there is none.
    fn half(&self) -> f64 {
        self.uncertainty.unwrap_or(0.0)
    }

    /// Refuses what cannot be drawn.
    fn check(&self, what: &str) -> Result<(), ChartError> {
        finite(self.value, what)?;
        if let Some(half) = self.uncertainty {
            finite(half, &format!("the uncertainty of {what}"))?;
        }
        Ok(())
    }
}

/// One reading of a list.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// The value; one that is not finite is not drawn.
    pub value: f64,
    /// Whether it was struck: then it is drawn as a cross and joined to nothing.
    pub struck: bool,
}

/// One reading of a turn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TurnReading {
    /// The angle from the index mark in degrees. 0 to 360 is drawn as it is; others are brought there.
    pub angle: f64,
    /// The value; one that is not finite is not drawn and breaks the line.
    pub value: f64,
    /// Whether it was struck: then it is drawn as a cross and joined to nothing.
    pub struck: bool,
}

impl TurnReading {
    /// The angle between 0 and 360 degrees.
    fn turned(&self) -> f64 {
        if (0.0..=360.0).contains(&self.angle) { self.angle } else { self.angle.rem_euclid(360.0) }
    }
}

/// The profile fitted to the readings of a turn:
/// constant + Σ (aₖ·cos kθ + bₖ·sin kθ), in the unit of the readings.
#[derive(Debug, Clone, PartialEq)]
pub struct Profile {
    /// The mean level.
    pub constant: f64,
    /// The pairs (aₖ, bₖ) for k = 1, 2, …
    pub harmonics: Vec<(f64, f64)>,
}

impl Profile {
    /// The value at an angle in degrees.
    fn at(&self, degrees: f64) -> f64 {
        let theta = degrees.to_radians();
        let waves = self.harmonics.iter().zip(1..).map(|((a, b), k)| {
            let (sin, cos) = (f64::from(k) * theta).sin_cos();
            a * cos + b * sin
        });
        self.constant + waves.sum::<f64>()
    }

    fn check(&self) -> Result<(), ChartError> {
        finite(self.constant, "a profile's constant")?;
        for (a, b) in &self.harmonics {
            finite(*a, "a profile's coefficient")?;
            finite(*b, "a profile's coefficient")?;
        }
        Ok(())
    }
}

/// Refuses a value that is not finite or so large that differences overflow.
fn finite(value: f64, what: &str) -> Result<(), ChartError> {
    if !value.is_finite() {
        return Err(ChartError::NotFinite(what.to_owned()));
    }
    if value.abs() > 1e150 {
        return Err(ChartError::TooLarge(what.to_owned()));
    }
    Ok(())
}

/// Refuses a width that is not that of a page: over 4 m, say, or no number.
fn sane_width(width_pt: f64) -> Result<(), ChartError> {
    finite(width_pt, "the width of a chart")?;
    if width_pt > 12_000.0 {
        return Err(ChartError::TooLarge("the width of a chart".to_owned()));
    }
    if width_pt < 60.0 { Err(ChartError::TooNarrow { width_pt }) } else { Ok(()) }
}

/// Refuses a limit that cannot be drawn.
fn finite_limit(limit: Option<&Limit>) -> Result<(), ChartError> {
    for edge in limit.iter().flat_map(|limit| limit.edges()) {
        finite(edge, "a limit")?;
    }
    Ok(())
}
