//! How far one line leans away from another: what parallelism and squareness share.
//!
//! A departure over a distance gives a slope, an angle, and the departure itself; the distance is taken
//! as exact, since its error changes the slope by the same small share.

use statrs::distribution::{ChiSquared, ContinuousCDF};

use crate::findings::{Budget, CheckFindings, Component, Expanded, Finding};
use crate::quantity::{Kind, Quantity, Unit, UnitSystem, with_unit};
use crate::session::{Check, LimitKind, Problem, Problems, Session};

use super::finding;
use super::statistics::sample;
use super::uncertainty::{Repeatability, Shown, UNNAMED, combine, repeatability_line};

/// For the chart: departures over a distance.
#[derive(Clone, Debug, PartialEq)]
pub struct LeanDetails {
    /// The distance.
    pub over: Quantity,
    /// Each reading's departure over that distance, in the check's unit, and whether it was struck.
    pub departures: Vec<(f64, bool)>,
    /// What the line leans away from.
    pub reference: &'static str,
    /// What the horizontal axis is called.
    pub along: &'static str,
    /// What the departure is called.
    pub name: &'static str,
    /// What its sign means.
    pub sign: &'static str,
}

/// What the signs of a check's departures mean, each once.
pub(super) fn signs(check: &CheckFindings) -> Vec<String> {
    let mut signs: Vec<String> = Vec::new();
    for details in check.visits.iter().filter_map(|visit| visit.details.of::<LeanDetails>()) {
        if !signs.iter().any(|sign| sign == details.sign) {
            signs.push(details.sign.to_owned());
        }
    }
    signs
}

/// The units of a lean's findings.
#[derive(Clone, Copy, Debug)]
pub(super) struct Units {
    /// Of readings and departures.
    pub length: Unit,
    /// Of slopes.
    pub slope: Unit,
    degree: Unit,
    radian: Unit,
}

impl Units {
    pub(super) fn of(session: &Session, length: Unit) -> Option<Self> {
        let slope = match session.units {
            UnitSystem::Inch => "thou/in",
            UnitSystem::Metric => "mm/m",
        };
        Some(Self {
            length,
            slope: Unit::known(Kind::Angle, slope)?,
            degree: Unit::known(Kind::Angle, "deg")?,
            radian: Unit::known(Kind::Angle, "rad")?,
        })
    }

    /// A departure over a distance as a plain number: the slope in radians, while it is small.
    fn radians(&self, departure: f64, over: Quantity) -> f64 {
        Quantity::new(departure, self.length).to(over.unit()).unwrap_or(f64::NAN) / over.value()
    }

    /// Radians in another unit of angles.
    fn angle_in(&self, radians: f64, unit: Unit) -> f64 {
        Quantity::new(radians, self.radian).to(unit).unwrap_or(f64::NAN)
    }
}

/// A limit on a slope that was written as a plain length says nothing: over which distance?
pub(super) fn limit_is_per_length(
    check: &Check,
    main: &str,
    difference: &str,
    over: Option<Quantity>,
    problems: &mut Problems,
) -> bool {
    let Some(limit) = &check.limit else { return true };
    if limit.of.as_deref().is_some_and(|of| of != main) {
        return true;
    }
    let (LimitKind::AtMost(bound) | LimitKind::AtLeast(bound) | LimitKind::Between(bound, _)) = limit.kind;
    if bound.unit().kind() != Kind::Length {
        return true;
    }
    let over = over.map_or_else(|| "300 mm".to_owned(), |over| over.to_string());
    problems.push(
        Problem::error(format!("a limit of {bound} on a departure per length"), limit.place.clone())
            .expected("expected a length over a length")
            .help(format!(
                "write '{bound} over {over}', or, for the departure over the distance that was read, 'of: {difference}'"
            )),
    );
    false
}

/// Departures over one distance, ready to be made findings.
pub(super) struct Leaning<'a> {
    /// Departures in the unit of lengths; what counts.
    pub kept: Vec<f64>,
    /// With the struck ones.
    pub all: Vec<f64>,
    /// The distance.
    pub over: Quantity,
    /// The instrument's part in each reading.
    pub shown: &'a Shown,
    /// Standard uncertainty of a departure from the display step, from one reading's.
    pub step_factor: f64,
    /// The same from the instrument's repeatability.
    pub repeat_factor: f64,
    /// Lines that the readings do not show: accuracy, the reference's trueness.
    pub further: Vec<Component>,
    /// How many readings a fit took together, where one did: their scatter is in `further`.
    pub fitted: Option<usize>,
}

/// What the findings of a lean are called.
pub(super) struct Names {
    /// Per length.
    pub slope: &'static str,
    /// As an angle.
    pub angle: &'static str,
    /// Over the distance.
    pub difference: &'static str,
}

impl Leaning<'_> {
    /// The three findings, the one per length first.
    pub(super) fn findings(&self, names: &Names, units: &Units) -> Vec<Finding> {
        let difference = self.difference(names.difference, units.length);
        let Some(value) = difference.value else { return vec![difference] };
        let carried = |what, unit: Unit, factor: f64, convert: &dyn Fn(f64) -> f64| Finding {
            what,
            unit,
            value: Some(convert(value)),
            with_struck: difference.with_struck.map(convert),
            budget: times(&difference.budget, factor),
            ..difference.clone()
        };
        let slope = |departure: f64| units.angle_in(units.radians(departure, self.over), units.slope);
        let mut main = carried(names.slope, units.slope, slope(1.0), &slope);
        main.notes.insert(0, format!("{} over {}.", said(value, units.length), self.over));
        // An angle is the arc tangent of its slope; its uncertainty goes with the derivative.
        let degrees =
            |departure: f64| units.angle_in(units.radians(departure, self.over).atan(), units.degree);
        let derivative = 1.0 / (1.0 + units.radians(value, self.over).powi(2));
        let factor = units.angle_in(units.radians(1.0, self.over) * derivative, units.degree);
        let angle = carried(names.angle, units.degree, factor, &degrees);
        let mut plain = difference;
        plain.remark = format!("over {}", self.over);
        vec![main, angle, plain]
    }

    /// The mean departure over the distance.
    fn difference(&self, what: &'static str, unit: Unit) -> Finding {
        let own = sample(&self.kept);
        let n = own.n as f64;
        let mut notes = Vec::new();
        let mut components = Vec::new();
        if self.fitted.is_none() {
            let (spread, note) = self.spread();
            notes.extend(note);
            match spread {
                Some((name, spread)) => {
                    components.push(repeatability_line(name, spread, spread.deviation / n.sqrt()));
                }
                None => notes.push(
                    "Nothing is known of the repeatability; the uncertainty is the instrument's alone."
                        .to_owned(),
                ),
            }
            if own.n == 1 {
                notes.push("One reading: it has no scatter of its own.".to_owned());
            }
        }
        if !self.shown.named {
            notes.push(UNNAMED.to_owned());
        }
        if self.shown.step > 0.0 && self.step_factor > 0.0 {
            components.push(self.shown.step_line(self.step_factor * self.shown.step_standard()));
        }
        components.extend(self.further.iter().cloned());
        let mut made = finding("", what, unit, Some(own.mean), combine(components));
        made.n = self.fitted.unwrap_or(own.n);
        made.struck = self.all.len() - own.n;
        made.with_struck = (made.struck > 0).then(|| sample(&self.all).mean);
        made.notes = notes;
        made
    }

    /// The scatter of one departure: its own of four and more, else what the instrument's repeatability
    /// makes of it, unless a few departures disagree by more than that explains.
    fn spread(&self) -> (Option<(&'static str, Repeatability)>, Option<String>) {
        const OWN: &str = "Scatter of the departures";
        let own = sample(&self.kept);
        let own_spread = Repeatability { deviation: own.deviation, dof: own.n as f64 - 1.0 };
        if own.n >= 4 {
            return (Some((OWN, own_spread)), None);
        }
        let Some(known) = self.shown.repeatability else {
            return ((own.n >= 2).then_some((OWN, own_spread)), None);
        };
        let of_instrument = Repeatability { deviation: self.repeat_factor * known.deviation, dof: known.dof };
        if own.n >= 2 {
            let step = self.step_factor * self.shown.step_standard();
            let explained = of_instrument.deviation.powi(2) + step * step;
            let dof = own_spread.dof;
            let most = ChiSquared::new(dof).map_or(f64::INFINITY, |chi| chi.inverse_cdf(0.99)) / dof;
            if own.deviation.powi(2) > most * explained {
                let note = "The readings disagree by more than the instrument's repeatability explains, so \
                            their own scatter counts.";
                return (Some((OWN, own_spread)), Some(note.to_owned()));
            }
        }
        (Some(("Repeatability of the instrument", of_instrument)), None)
    }
}

fn said(value: f64, unit: Unit) -> String {
    with_unit(&crate::quantity::significant(value, 3), unit)
}

/// A budget with every line times a factor, whatever its sign.
fn times(budget: &Budget, factor: f64) -> Budget {
    let factor = factor.abs();
    let mut components = budget.components.clone();
    for line in &mut components {
        line.estimate *= factor;
        line.contribution *= factor;
    }
    let whole = budget.expanded;
    let expanded = Expanded { standard: whole.standard * factor, expanded: whole.expanded * factor, ..whole };
    Budget { components, expanded, drawn: budget.drawn, lift: budget.lift * factor }
}
