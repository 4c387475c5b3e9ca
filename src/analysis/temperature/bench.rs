//! What all places of a visit share, and a place's readings as temperatures of its surface.

use super::emissivity::{Slopes, corrected, half_width};
use super::series::{Ambient, Point, Series, Stretch, clock, from_kelvin, kelvin};
use crate::analysis::range::{Outside, is_outside, outside};
use crate::analysis::uncertainty::{Repeatability, Shown, repeatability_line};
use crate::findings::Component;
use crate::quantity::{Difference, Quantity, Unit};
use crate::session::{Instrument, Place, Problem, Problems};

/// What all places of a visit share.
#[derive(Debug)]
pub(super) struct Bench<'a> {
    /// The check's unit.
    pub(super) unit: Unit,
    /// The instrument's part in a reading.
    pub(super) shown: &'a Shown,
    /// The part of the instrument that read the ambient.
    pub(super) ambient_shown: &'a Shown,
    /// The ambient.
    pub(super) ambient: &'a Ambient,
    /// The instrument.
    pub(super) instrument: Option<&'a Instrument>,
    /// The times of constant speed.
    pub(super) stretches: &'a [Stretch],
    /// Whether a schedule is given.
    pub(super) has_schedule: bool,
}

/// A reading as a temperature of the surface, in the check's unit.
#[derive(Clone, Debug)]
pub(super) struct Moment {
    /// Seconds on the run's clock.
    pub(super) seconds: f64,
    /// The temperature.
    pub(super) value: f64,
    /// The lowest and the highest sample.
    pub(super) extremes: (f64, f64),
    /// How it follows what went into it, kelvin for kelvin.
    pub(super) slopes: Slopes,
    /// What the instrument showed, before any correction.
    pub(super) plain: f64,
    /// Samples it is the mean of, and their standard deviation.
    pub(super) samples: u64,
    pub(super) spread: f64,
    /// Whether it lies outside the instrument's stated range.
    pub(super) is_outside: bool,
}

/// A place's readings with what its findings need.
#[derive(Debug)]
pub(super) struct Worked<'a> {
    /// What all places share.
    pub(super) bench: &'a Bench<'a>,
    /// What was read.
    pub(super) series: &'a Series,
    /// The readings that count.
    pub(super) moments: Vec<Moment>,
    /// The same with the emissivity one standard uncertainty lower and higher, where it is corrected.
    pub(super) shifted: Option<(Vec<f64>, Vec<f64>)>,
}

impl<'a> Worked<'a> {
    /// Corrects a place's readings. `None` where the law gives no temperature, which is said.
    pub(super) fn of(bench: &'a Bench<'a>, series: &'a Series, problems: &mut Problems) -> Option<Self> {
        let surface = series.surface.as_ref().map(|(surface, _)| *surface);
        let moments: Vec<Moment> = series
            .kept()
            .into_iter()
            .map(|point| {
                let moment = bench.moment(point, surface);
                if moment.is_none() {
                    problems.push(no_temperature(&series.name, point));
                }
                moment
            })
            .collect::<Option<_>>()?;
        let values_at = |surface: f64| -> Option<Vec<f64>> {
            let points = series.kept().into_iter();
            points.map(|point| bench.moment(point, Some(surface)).map(|moment| moment.value)).collect()
        };
        let shifted = surface.and_then(|surface| {
            let standard = half_width(surface) / 3f64.sqrt();
            Some((values_at(surface - standard)?, values_at((surface + standard).min(1.0))?))
        });
        Some(Self { bench, series, moments, shifted })
    }

    /// Seconds from the first reading to the last.
    pub(super) fn seconds(&self) -> f64 {
        let ends = self.moments.first().zip(self.moments.last());
        ends.map_or(0.0, |(first, last)| last.seconds - first.seconds)
    }

    /// Readings that findings rest on, in all.
    pub(super) fn samples(&self) -> usize {
        usize::try_from(self.moments.iter().map(|moment| moment.samples).sum::<u64>()).unwrap_or(usize::MAX)
    }

    /// Those of some readings that lie outside the instrument's range.
    pub(super) fn outside(&self, moments: &[Moment]) -> Option<Outside> {
        let beyond = moments.iter().filter(|moment| moment.is_outside);
        let unit = self.bench.unit;
        outside(self.bench.instrument, beyond.map(|moment| Quantity::new(moment.plain, unit)))
    }

    /// How one reading scatters: the instrument's repeatability, the scatter within a mean of a
    /// recording, or that of a recording's neighbours about each other.
    pub(super) fn scatter(&self, moment: &Moment) -> Option<(&'static str, Repeatability)> {
        if moment.samples >= 2 {
            let n = moment.samples as f64;
            let own = Repeatability { deviation: moment.spread / n.sqrt(), dof: n - 1.0 };
            return Some(("Scatter of the samples in the mean", own));
        }
        if let Some(known) = self.bench.shown.repeatability {
            return Some(("Repeatability of the instrument", known));
        }
        let dense = self.series.recorded.is_some() && self.moments.len() >= 20;
        dense.then(|| ("Scatter of neighbouring samples", self.neighbours()))
    }

    /// The scatter of a densely sampled course: second differences, of which a smooth course leaves
    /// little, have six times the variance of one sample.
    fn neighbours(&self) -> Repeatability {
        let bends: Vec<f64> = self
            .moments
            .windows(3)
            .map(|three| three[0].plain - 2.0 * three[1].plain + three[2].plain)
            .collect();
        let n = bends.len() as f64;
        let deviation = (bends.iter().map(|bend| bend * bend).sum::<f64>() / (6.0 * n)).sqrt();
        // Overlapping differences are not independent (von Neumann ratio of higher order).
        Repeatability { deviation, dof: (n / 2.0).max(1.0) }
    }

    /// The lines of a reading's budget: scatter, display step, accuracy, the surface's emissivity.
    pub(super) fn parts_of(&self, moment: &Moment) -> Vec<Component> {
        let shown = self.bench.shown;
        let slope = moment.slopes.shown;
        let mut parts = Vec::new();
        if let Some((name, scatter)) = self.scatter(moment) {
            parts.push(repeatability_line(name, scatter, slope * scatter.deviation));
        }
        if shown.step > 0.0 {
            parts.push(shown.step_line(slope * shown.step_standard()));
        }
        parts.extend(shown.accuracy_line(moment.plain, slope));
        parts.extend(self.surface_part(moment));
        parts
    }

    fn surface_part(&self, moment: &Moment) -> Option<Component> {
        let (surface, _) = self.series.surface.as_ref()?;
        let half = half_width(*surface);
        let kelvin = moment.slopes.surface.abs() * half / 3f64.sqrt();
        Some(Component {
            contribution: self.bench.kelvins(kelvin),
            ..Component::half_width("Emissivity of the surface (common practice)", half)
        })
    }
}

impl Bench<'_> {
    /// So many kelvin as a difference in the check's unit.
    pub(super) fn kelvins(&self, kelvin: f64) -> f64 {
        let unit = Unit::known(self.unit.kind(), "K").unwrap_or(self.unit);
        Difference::new(kelvin, unit).to(self.unit).unwrap_or(kelvin)
    }

    /// The lines that the ambient brings, times `factor`.
    pub(super) fn ambient_parts(&self, ambient: f64, factor: f64) -> Vec<Component> {
        let shown = self.ambient_shown;
        let step = (shown.step > 0.0).then(|| shown.step_line(factor * shown.step_standard()));
        let lines = step.into_iter().chain(shown.accuracy_line(ambient - shown.correction, factor));
        lines
            .map(|line| Component {
                name: format!("Ambient: {}", crate::findings::sentences::lower(&line.name)),
                ..line
            })
            .collect()
    }

    fn moment(&self, point: &Point, surface: Option<f64>) -> Option<Moment> {
        let plain = point.shown - self.shown.correction;
        let mut moment = Moment {
            seconds: point.seconds,
            value: point.shown,
            extremes: (point.low, point.high),
            slopes: Slopes::NONE,
            plain,
            samples: point.samples,
            spread: point.spread,
            is_outside: [point.low, point.high].iter().any(|end| {
                is_outside(self.instrument, Quantity::new(end - self.shown.correction, self.unit))
            }),
        };
        let Some(surface) = surface else { return Some(moment) };
        let set = self.instrument?.emissivity_set?;
        let around = kelvin(self.ambient.at(point.seconds)?, self.unit)?;
        let has =
            |shown: f64| from_kelvin(corrected(kelvin(shown, self.unit)?, around, set, surface)?, self.unit);
        moment.slopes = Slopes::of(kelvin(point.shown, self.unit)?, around, set, surface)?;
        moment.value = has(point.shown)?;
        moment.extremes = (has(point.low)?, has(point.high)?);
        Some(moment)
    }
}

fn no_temperature(place: &str, point: &Point) -> Problem {
    let at: Place = point.place.clone();
    Problem::error(
        format!("no temperature of '{place}' at {} goes with what was shown", clock(point.seconds)),
        at,
    )
    .expected("the surroundings alone, reflected, would show more than this")
    .help("look at surface_emissivity, emissivity_set, the ambient and the reading: one of them is wrong")
}
