//! The uncertainty that an instrument brings, and how components combine (JCGM 100:2008).

use statrs::distribution::{ChiSquared, ContinuousCDF};

use crate::findings::{Budget, Component, Distribution, Expanded, Repeats};
use crate::quantity::{Difference, Quantity, Unit};
use crate::session::{Bound, Instrument, Place, Problem, Problems};

use super::statistics::sample;
use super::student;

/// Said of a finding whose instrument nobody named.
pub const UNNAMED: &str = "No instrument is named, so its part is not in the uncertainty.";

/// How well an instrument repeats.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Repeatability {
    /// The standard deviation of one reading.
    pub deviation: f64,
    /// Its degrees of freedom.
    pub dof: f64,
}

/// An instrument's part in a reading, in the check's unit.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Shown {
    /// The smallest step it shows; 0 where no instrument is named.
    pub step: f64,
    /// Its own systematic part, where one is stated.
    pub accuracy: Option<Accuracy>,
    /// Added to every reading (a certificate's correction).
    pub correction: f64,
    /// What a displayed travel is multiplied by: the cosine of a lever's tip angle, else 1.
    pub scale: f64,
    /// From `repeat_readings`, where there are any.
    pub repeatability: Option<Repeatability>,
    /// Whether an instrument is named at all.
    pub named: bool,
    /// The check's unit and the one that the instrument shows, for shares of the number shown.
    pub units: Option<(Unit, Unit)>,
}

/// The systematic part of an instrument's error.
#[derive(Clone, Debug, PartialEq)]
pub enum Accuracy {
    /// The maker's band: fixed half-widths and shares of the reading; the largest applies.
    Stated {
        /// Half-widths in the check's unit.
        absolute: Vec<f64>,
        /// Shares of the number shown.
        shares: Vec<f64>,
    },
    /// A certificate's expanded uncertainty and its coverage factor.
    Certified {
        /// U in the check's unit.
        expanded: f64,
        /// k.
        k: f64,
    },
}

impl Shown {
    /// No instrument: nothing known.
    pub fn nothing() -> Self {
        Self { scale: 1.0, ..Self::default() }
    }

    /// An instrument's part, its numbers brought to `unit`. A kind that does not fit is a problem
    /// at the check, `at`.
    pub fn of(instrument: &Instrument, unit: Unit, at: &Place, problems: &mut Problems) -> Option<Self> {
        let step = instrument.resolution?;
        let Ok(step) = step.to(unit) else {
            problems.push(
                Problem::error(
                    format!(
                        "the instrument '{}' shows {}, but this check needs {}",
                        instrument.id,
                        step.unit().kind().words(),
                        unit.kind().words()
                    ),
                    at.clone(),
                )
                .expected(format!("its readings are in {unit}"))
                .help("name the instrument that was used, or mend the unit of its resolution"),
            );
            return None;
        };
        let mut to_unit = |value: Difference| match value.to(unit) {
            Ok(value) => Some(value),
            Err(mismatch) => {
                problems.push(
                    Problem::error(
                        format!("the instrument '{}': {mismatch}", instrument.id),
                        instrument.place.clone(),
                    )
                    .help("accuracy, correction and certificate must be of the kind that it shows"),
                );
                None
            }
        };
        let accuracy = accuracy(instrument, &mut to_unit);
        let correction = match instrument.correction {
            Some(value) => to_unit(value)?,
            None => 0.0,
        };
        let repeats: Vec<f64> = instrument
            .repeats
            .iter()
            .filter(|reading| reading.counts())
            .filter_map(|reading| to_unit(Difference::new(reading.quantity.value(), reading.quantity.unit())))
            .collect();
        let repeatability = (repeats.len() >= 2).then(|| Repeatability {
            deviation: sample(&repeats).deviation,
            dof: repeats.len() as f64 - 1.0,
        });
        let units = instrument.resolution.map(|shown| (unit, shown.unit()));
        Some(Self { step, accuracy, correction, scale: 1.0, repeatability, named: true, units })
    }

    /// The same for a lever-type indicator, whose tip stands at an angle to its travel: what it
    /// shows, and every part of its error, is larger than the surface's travel by 1/cos. (Published
    /// compensation tables: 0.98 at 10°, 0.87 at 30°; some makers calibrate at an angle, so the
    /// correction is made only where the session gives one.)
    #[must_use]
    pub fn with_tip_angle(mut self, degrees: f64) -> Self {
        let cosine = degrees.to_radians().cos();
        self.scale = cosine;
        self.step *= cosine;
        self.correction *= cosine;
        if let Some(repeatability) = &mut self.repeatability {
            repeatability.deviation *= cosine;
        }
        match &mut self.accuracy {
            Some(Accuracy::Stated { absolute, .. }) => {
                for half in absolute {
                    *half *= cosine;
                }
            }
            Some(Accuracy::Certified { expanded, .. }) => *expanded *= cosine,
            None => {}
        }
        self
    }

    /// So large a share of the number that the instrument shows for `reading` (uncorrected, in the
    /// check's unit), as a difference in the check's unit: 2 % of 68 °F is 1.36 °F, of 20 °C 0.4 K.
    fn share_of_shown(&self, share: f64, reading: f64) -> f64 {
        let plain = reading / if self.scale == 0.0 { 1.0 } else { self.scale };
        let Some((unit, shown)) = self.units else { return share * plain.abs() };
        let number = Quantity::new(plain, unit).to(shown).unwrap_or(plain);
        let share = Difference::new(share * number.abs(), shown);
        share.to(unit).unwrap_or(share.value()) * self.scale
    }

    /// The line for the accuracy of something that shows `reading` (before any correction), times
    /// `factor`.
    pub fn accuracy_line(&self, reading: f64, factor: f64) -> Option<Component> {
        let (name, estimate, distribution, divisor) = match self.accuracy.as_ref()? {
            Accuracy::Certified { expanded, k } => {
                ("Calibration certificate (U, k)", *expanded, Distribution::Normal, *k)
            }
            Accuracy::Stated { absolute, shares } => {
                let widest = absolute
                    .iter()
                    .copied()
                    .chain(shares.iter().map(|share| self.share_of_shown(*share, reading)))
                    .fold(0.0, f64::max);
                ("Accuracy stated for the instrument", widest, Distribution::Rectangular, 3f64.sqrt())
            }
        };
        Some(Component {
            name: name.to_owned(),
            estimate,
            distribution,
            divisor,
            contribution: factor * estimate / divisor,
            dof: f64::INFINITY,
        })
    }

    /// The line for the display step, carried to the finding with `contribution` (standard).
    pub fn step_line(&self, contribution: f64) -> Component {
        Component {
            name: "Display step".to_owned(),
            estimate: self.step,
            distribution: Distribution::Rectangular,
            divisor: 12f64.sqrt(),
            contribution,
            dof: f64::INFINITY,
        }
    }

    /// The standard uncertainty that the display step brings to one reading (JCGM 100, F.2.2.1).
    pub fn step_standard(&self) -> f64 {
        self.step / 12f64.sqrt()
    }
}

/// How well an instrument repeats, for the report's list of instruments.
pub(super) fn repeats(instrument: &Instrument) -> Option<Repeats> {
    let unit = instrument.repeat_unit.or(instrument.resolution.map(Difference::unit))?;
    // What does not fit the unit is said where the instrument is used.
    let mut silent = Problems::default();
    let known = Shown::of(instrument, unit, &instrument.place, &mut silent)?.repeatability?;
    let n = instrument.repeats.iter().filter(|reading| reading.counts()).count();
    Some(Repeats { instrument: instrument.id.clone(), deviation: known.deviation, unit, n })
}

fn accuracy(
    instrument: &Instrument,
    to_unit: &mut impl FnMut(Difference) -> Option<f64>,
) -> Option<Accuracy> {
    if let Some(certificate) = instrument.certificate {
        return Some(Accuracy::Certified { expanded: to_unit(certificate.expanded)?, k: certificate.k });
    }
    let (mut absolute, mut shares) = (Vec::new(), Vec::new());
    for bound in &instrument.accuracy {
        match bound {
            Bound::Absolute(value) => absolute.extend(to_unit(*value)),
            Bound::OfReading(share) => shares.push(*share),
        }
    }
    let stated = !absolute.is_empty() || !shares.is_empty();
    stated.then_some(Accuracy::Stated { absolute, shares })
}

/// The line for a repeatability, carried to the finding with `contribution` (standard).
pub fn repeatability_line(name: &str, spread: Repeatability, contribution: f64) -> Component {
    Component {
        name: name.to_owned(),
        estimate: spread.deviation,
        distribution: Distribution::Normal,
        divisor: 1.0,
        contribution,
        dof: spread.dof,
    }
}

/// Whether a line rests on the instrument's `repeat_readings`: one estimate, however often it is
/// used. Every such line is named "Repeatability of the …".
pub(super) fn of_repeat_readings(line: &Component) -> bool {
    line.dof.is_finite() && line.name.starts_with("Repeatability of the ")
}

/// The components in quadrature (JCGM 100, eq. 10); the effective degrees of freedom by
/// Welch–Satterthwaite (G.2b), cut down to a whole number (G.4.1); U = t(0.975, ν)·u.
pub fn combine(components: Vec<Component>) -> Budget {
    let standard = components.iter().map(|component| component.contribution.powi(2)).sum::<f64>().sqrt();
    let dof = whole(welch_satterthwaite(
        components.iter().map(|component| (component.contribution, component.dof)),
    ));
    let k = student::quantile(0.975, dof);
    let expanded = Expanded { standard, dof, k, expanded: k * standard };
    Budget { components, expanded, drawn: false, lift: 0.0 }
}

/// From here on the factor of chi-squared is Student's to three digits.
const NEARLY_NORMAL: f64 = 1e4;

/// The same for a standard deviation itself: s ± U holds it 95 times in 100 by chi-squared. Student's t times s/√(2ν) would
/// hold it 90 to 93 times, for s comes out too small more often than too large.
pub fn of_deviation(budget: Budget) -> Budget {
    let dof = budget.expanded.dof;
    // Of so many degrees of freedom s is as good as normal, and chi-squared takes ever longer to say so.
    if dof > NEARLY_NORMAL {
        return budget;
    }
    let k = share_of_deviation(dof) * (2.0 * dof).sqrt();
    Budget { expanded: budget.expanded.by(k), ..budget }
}

/// The share c of s with which (1 ± c)·s holds the standard deviation that it estimates 95 times in 100: νs²/σ² follows
/// chi-squared with ν degrees of freedom.
fn share_of_deviation(dof: f64) -> f64 {
    let Ok(chi) = ChiSquared::new(dof) else { return f64::NAN };
    let holds = |c: f64| {
        let most = if c < 1.0 { chi.cdf(dof / (1.0 - c).powi(2)) } else { 1.0 };
        most - chi.cdf(dof / (1.0 + c).powi(2))
    };
    let (mut low, mut high) = (0.0, 1.0);
    while holds(high) < 0.95 && high < 1e6 {
        high *= 2.0;
    }
    for _ in 0..80 {
        let middle = f64::midpoint(low, high);
        if holds(middle) < 0.95 { low = middle } else { high = middle }
    }
    high
}

/// Cut down to a whole number, at least one.
fn whole(dof: f64) -> f64 {
    // A sum of exact fractions may fall a rounding error short of a whole number.
    if dof.is_finite() { (dof + 1e-9).floor().max(1.0) } else { dof }
}

/// ν = u⁴ / Σ(uᵢ⁴/νᵢ) for components of standard uncertainty uᵢ with νᵢ degrees of freedom
/// (JCGM 100, G.2b); infinite where no component has finitely many.
pub fn welch_satterthwaite(components: impl Iterator<Item = (f64, f64)>) -> f64 {
    let (mut variance, mut share) = (0.0, 0.0);
    for (u, dof) in components {
        variance += u * u;
        if dof.is_finite() && u > 0.0 {
            share += u.powi(4) / dof;
        }
    }
    if share > 0.0 { variance * variance / share } else { f64::INFINITY }
}
