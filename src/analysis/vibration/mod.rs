//! `vibration`: how much a machine shakes, at which frequencies, and what its bearing says
//! (ISO 20816-1, ISO 13373).
//!
//! Recordings are heard once, whatever their length ([`crate::analysis::signal`]). From each axis alone
//! and from all together come levels, the velocity in a band, the orders of the turning speed and, with
//! the bearing's geometry, its defect lines. A meter or a phone that gave only figures is taken at its
//! word.

mod bearing;
mod fields;
mod levels;
mod meter;
mod orders;
mod patterns;
mod raw;
mod recorded;
mod schema;
mod zones;

pub use bearing::{Bearing, BearingLine, Defects, Envelope, Why};
pub use fields::Ready;
pub use recorded::{Shake, Trace};

use crate::findings::{CheckFindings, Details, Finding, Pattern, VisitFindings};
use crate::quantity::Unit;
use crate::schema::Own;
use crate::session::{Better, Check, Problem, Problems, Session, settings_of};

use super::blank::{self, Blank};
use super::readings_needed::Repeated;
use super::{Examined, Measure, Prepared, Sitting, What};

/// The measure.
#[derive(Debug)]
pub struct Vibration;

/// For the charts and the patterns: what each recording of a visit showed.
#[derive(Clone, Debug)]
pub struct VibrationDetails {
    /// Recording by recording, in the order written.
    pub shakes: Vec<Shake>,
    /// The unit of accelerations.
    pub acceleration: Unit,
    /// The unit of velocities.
    pub velocity: Unit,
    /// The band of the velocity, hertz.
    pub band: (f64, f64),
}

const WHATS: &[What] = &[
    What::new("velocity_rms", "velocity (RMS)"),
    What::new("acceleration_rms", "acceleration (RMS)"),
    What::new("acceleration_peak", "acceleration (peak)"),
    What::new("crest_factor", "crest factor"),
    What::new("dominant_frequency", "dominant frequency").undirected(),
    What::new("order_1", "once per turn (1×, peak acceleration)"),
    What::new("order_2", "twice per turn (2×, peak acceleration)"),
    What::new("order_3", "three times per turn (3×, peak acceleration)"),
    What::new("outer_race", "outer race's line in the envelope"),
    What::new("inner_race", "inner race's line in the envelope"),
    What::new("ball", "ball's line in the envelope"),
    What::new("cage", "cage's line in the envelope"),
    What::new("acceleration_mean", "mean acceleration, as the meter gave it"),
    What::new("acceleration_max", "largest acceleration, as the meter gave it"),
];

impl Measure for Vibration {
    fn name(&self) -> &'static str {
        "vibration"
    }

    fn whats(&self) -> &'static [What] {
        WHATS
    }

    fn better(&self) -> Option<Better> {
        Some(Better::Lower)
    }

    fn all_places(&self) -> Option<&'static str> {
        Some("all speeds")
    }

    fn schema(&self) -> Own {
        schema::own()
    }

    fn prepare(
        &self,
        session: &Session,
        check: &Check,
        problems: &mut Problems,
    ) -> Option<Box<dyn Prepared>> {
        fields::prepare(session, check, problems).map(|ready| Box::new(ready) as Box<dyn Prepared>)
    }

    fn patterns(&self, _: &Session, own: &CheckFindings, _: &[CheckFindings]) -> Vec<Pattern> {
        patterns::read(own)
    }

    fn deciding(&self) -> &'static [&'static str] {
        &["velocity band"]
    }

    fn legend(&self, own: &CheckFindings) -> Vec<String> {
        let mut all = own.visits.iter().flat_map(|visit| &visit.findings);
        let line = "A frequency beside an order or a bearing's line is where it was found; “×” beside it, how many \
                    times the median of its surroundings it is in the envelope's spectrum.";
        if all.any(|finding| !finding.remark.is_empty()) { vec![line.to_owned()] } else { Vec::new() }
    }

    fn blanks(&self, visit: &VisitFindings) -> Vec<Blank> {
        let figures = visit.raw.iter().filter(|table| raw::are_figures(table)).cloned();
        blank::like(&figures.collect::<Vec<_>>(), self.order())
    }

    fn usual(&self, _: &Session, _: &Check) -> Vec<Blank> {
        Vec::new()
    }

    fn repeated(&self, _: &VisitFindings, _: &Finding) -> Option<Repeated> {
        None
    }

    fn cautions(&self) -> &'static [&'static str] {
        &[
            "Running tests: guards fitted, eye and ear protection on, nobody in line with the blade or \
             work, and no reaching over a turning blade.",
            "A vibration sensor and its cable are fixed before the machine is started, clear of belts and \
             shafts, and taken off after it has stopped: hands stay away from turning parts, and nothing \
             loose is laid on a running machine.",
        ]
    }

    fn methods(&self) -> &'static [&'static str] {
        METHODS
    }
}

const METHODS: &[&str] = &[
    "Vibration levels: the mean is taken off; RMS, and the peak as the largest distance from the mean, \
     from the samples themselves; crest factor = peak / RMS. Axes are combined as the root of the sum of \
     squares, the peak as the longest vector; where a check names no band it is 10 Hz to 1000 Hz \
     (ISO 20816-1:2016).",
    "Spectra: Welch's method, periodic Hann window, half overlap, the mean of each stretch taken off, \
     one-sided density, scaled so that the sum over all bins is the mean square. A stretch is the power of two that gives bins of 1 Hz or finer, shorter where a \
     recording has not four such stretches, and never lies across a gap. Samples whose intervals vary \
     by more than 1 % (standard deviation over mean) are brought to an even grid for the spectrum alone, by \
     the cubic through the four nearest: wrong by at most 0.4 % of a line at a tenth of the rate \
     (Welch 1967; scaling as scipy.signal.welch).",
    "Velocity RMS: the acceleration's density divided by (2πf)² and summed over the band. The band ends at \
     0.4 times the sampling rate, for recorders' filters fall off from there, and at 0.2 times where the \
     samples were brought to an even grid (ISO 20816-1:2016; the end of the band is common practice).",
    "Orders: the peak amplitude of acceleration at 1×, 2× and 3× the speed set, each sought within 2 % of it \
     (motors slip): the energy of a line's main lobe, less that of the noise about it, so that it does \
     not matter where between two bins the line stands. A frequency above half the sampling rate is not \
     visible: its order is refused, with the alias |f − fs·round(f/fs)| at which it would show (Shannon 1949).",
    "Bearing lines: outer race n/2·(1 − d/D·cos α), inner race n/2·(1 + d/D·cos α), cage ½·(1 − d/D·cos α), \
     ball D/d·(1 − (d/D·cos α)²) times the turning frequency, the last being twice the ball's spin since \
     it strikes both races. They are read in the spectrum of the envelope of \
     the band where the signal is most impulsive: median kurtosis over stretches of about one second, \
     bands of 750 Hz and more, up to 95 % of half the sampling rate; at most 32 stretches, spread evenly \
     over the recording. A line is sought within 2 % and seen from three times the median of its \
     surroundings, more where few stretches would let noise reach that one time in a hundred \
     (Randall & Antoni 2011).",
    "The uncertainty of a recording's figures: the instrument's stated accuracy, its step, and the scatter \
     from stretch to stretch over the root of the number of stretches that count as independent, \
     half-overlapped Hann stretches 18/19 each. A recording counts as one setting in a comparison (Welch 1967).",
];

impl Prepared for Ready {
    fn unit(&self) -> Unit {
        self.units.velocity
    }

    fn examine(&self, sitting: &Sitting<'_>, problems: &mut Problems) -> Option<Examined> {
        let mut own = sitting.readings.own.clone();
        let node = own.need("at", "{3450 rpm: {file: v3450.csv, time: t, axes: {z: az}}}", problems);
        let shown = sitting.shown(self.units.acceleration, problems);
        let settings = node.as_ref().and_then(|node| settings_of(node, own.source(), "'at'", problems));
        let source = std::sync::Arc::clone(own.source());
        own.finish(problems);
        let (settings, shown) = (settings?, shown?);
        let mut made = Made::default();
        let mut whole = true;
        for setting in &settings {
            let Some(turning) = fields::turning(setting, problems) else {
                whole = false;
                continue;
            };
            let what = format!("the readings at {}", setting.at);
            let Some(mut fields) = crate::session::Fields::of(&setting.node, &source, &what, problems) else {
                whole = false;
                continue;
            };
            let done = if fields.written("file") {
                recorded::examine(self, sitting, setting, turning, &mut fields, &shown, problems)
            } else {
                meter::examine(self, setting, &mut fields, &shown, problems)
            };
            fields.finish(problems);
            match done {
                Some(one) => made.take(one),
                None => whole = false,
            }
        }
        whole.then(|| made.examined(self))
    }
}

/// What the settings of one visit gave.
#[derive(Debug, Default)]
struct Made {
    findings: Vec<crate::findings::Finding>,
    shakes: Vec<Shake>,
    recordings: Vec<(String, crate::findings::RawTable)>,
    figures: Vec<raw::FigureRow>,
    notes: Vec<String>,
}

/// What one setting gave.
#[derive(Debug, Default)]
struct OfSetting {
    findings: Vec<crate::findings::Finding>,
    shake: Option<Shake>,
    recording: Option<(String, crate::findings::RawTable)>,
    figure: Option<raw::FigureRow>,
    notes: Vec<String>,
}

impl Made {
    fn take(&mut self, one: OfSetting) {
        self.findings.extend(one.findings);
        self.shakes.extend(one.shake);
        self.recordings.extend(one.recording);
        self.figures.extend(one.figure);
        for note in one.notes {
            if !self.notes.contains(&note) {
                self.notes.push(note);
            }
        }
    }

    fn examined(mut self, ready: &Ready) -> Examined {
        self.findings.sort_by_key(|finding| finding.aside);
        let mut raw = Vec::new();
        raw.extend(raw::recordings(self.recordings));
        raw.extend(raw::figures(&self.figures, ready.units.acceleration));
        Examined {
            findings: self.findings,
            raw,
            set_up: ready.set_up(&self.shakes),
            details: Details::new(VibrationDetails {
                shakes: self.shakes,
                acceleration: ready.units.acceleration,
                velocity: ready.units.velocity,
                band: ready.band,
            }),
            notes: self.notes,
        }
    }
}

/// A problem where a check or its readings are not understood.
fn wrong(message: impl Into<String>, at: crate::session::Place, expected: &str, help: &str) -> Problem {
    Problem::error(message, at).expected(expected).help(help)
}
