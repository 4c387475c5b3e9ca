//! The time constant of each time of constant speed, and why none is given.

use super::bench::{Moment, Worked};
use super::series::{Stretch, lasting};
use super::settle::through_fit;
use crate::analysis::first_order::{self, Fit, Initial};
use crate::analysis::statistics::lag_one;
use crate::analysis::uncertainty::{Repeatability, combine, repeatability_line};
use crate::analysis::{finding, range, straight_line, student};
use crate::findings::{BoundOn, Component, Finding};
use crate::quantity::{Unit, round_with_uncertainty, significant, with_unit};

/// A fit of three numbers needs as many readings.
const FEWEST: usize = 6;
/// Residuals that keep their sign matter from this share of the fitted travel on.
const NOTABLE: f64 = 0.05;

/// The finding of one stretch, and the fitted course for the chart: minutes and temperature.
pub(super) struct Found {
    pub(super) finding: Finding,
    pub(super) course: Vec<(f64, f64)>,
}

/// Why no time constant is given, and what it is at least, where that can be said.
struct Refusal {
    why: String,
    at_least: Option<f64>,
}

/// The time constant of a place in a stretch; none where the place has no reading in it.
pub(super) fn time_constant(worked: &Worked<'_>, stretch: &Stretch, minutes: Unit) -> Option<Found> {
    let inside = |moment: &Moment| moment.seconds >= stretch.from && moment.seconds <= stretch.to;
    let start = worked.moments.iter().position(inside)?;
    let count = worked.moments[start..].iter().take_while(|moment| inside(moment)).count();
    let part = Part::of(worked, start, count)?;
    let at = if stretch.name.is_empty() {
        worked.series.name.clone()
    } else {
        format!("{}, {}", worked.series.name, stretch.name)
    };
    let mut found = match part.fitted() {
        Ok((fit, widened)) => part.told(&at, &fit, widened, minutes),
        Err(refusal) => {
            let mut refused = finding(&at, "time_constant", minutes, None, combine(Vec::new()));
            refused.notes.push(refusal.why);
            refused.bound = refusal.at_least.map(BoundOn::AtLeast);
            Found { finding: refused, course: Vec::new() }
        }
    };
    found.finding.n = count;
    if !worked.bench.has_schedule && found.finding.value.is_some() {
        found.finding.notes.push("No schedule is given: the speed is taken to be constant.".to_owned());
    }
    Some(found)
}

/// The readings of a stretch, minutes from its first.
struct Part<'a> {
    worked: &'a Worked<'a>,
    start: usize,
    moments: &'a [Moment],
    x: Vec<f64>,
    y: Vec<f64>,
}

impl<'a> Part<'a> {
    fn of(worked: &'a Worked<'a>, start: usize, count: usize) -> Option<Self> {
        let moments = worked.moments.get(start..start + count)?;
        let first = moments.first()?.seconds;
        let x = moments.iter().map(|moment| (moment.seconds - first) / 60.0).collect();
        let y = moments.iter().map(|moment| moment.value).collect();
        Some(Self { worked, start, moments, x, y })
    }

    fn span(&self) -> f64 {
        self.x.last().copied().unwrap_or(0.0)
    }

    /// The fit, and how much its scatter is widened because the residuals hang together.
    fn fitted(&self) -> Result<(Fit, Widened), Refusal> {
        self.worth_fitting()?;
        let Some(fit) = first_order::fit(&self.x, &self.y, Initial::Free, &[]) else {
            return refuse("The readings do not determine the three numbers of the curve.");
        };
        let widened = self.widened(&fit);
        self.believed(&fit, &widened)?;
        Ok((fit, widened))
    }

    /// Refuses too few readings and temperatures that hardly moved.
    fn worth_fitting(&self) -> Result<(), Refusal> {
        let n = self.y.len();
        if n < FEWEST {
            let are = if n == 1 { "reading falls" } else { "readings fall" };
            return refuse(format!("Only {n} {are} into this stretch; the fit needs {FEWEST}."));
        }
        let highest = self.y.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let lowest = self.y.iter().copied().fold(f64::INFINITY, f64::min);
        let moved = highest - lowest;
        let slope = self.moments.iter().map(|moment| moment.slopes.shown).fold(0.0, f64::max);
        let scatter = self.moments.iter().filter_map(|m| self.worked.scatter(m)).map(|(_, s)| s.deviation);
        let noise = (2.0 * self.worked.bench.shown.step).max(4.0 * scatter.fold(0.0, f64::max)) * slope;
        if moved <= noise {
            return refuse(format!(
                "The temperature moved by {}, no more than the display step and scatter could make.",
                self.said(moved)
            ));
        }
        Ok(())
    }

    /// Refuses a curve that the readings do not support.
    fn believed(&self, fit: &Fit, widened: &Widened) -> Result<(), Refusal> {
        // One more number must earn its place: F = t² with 1 and n − 3 degrees of freedom.
        let line = straight_line::fit(&self.x, &self.y).map_or(f64::INFINITY, |line| line.left);
        let earns = |left: f64| {
            (line - left) / (left / fit.dof).max(f64::MIN_POSITIVE)
                > student::quantile(0.975, fit.dof).powi(2)
        };
        let tau = fit.time_constant();
        let away = first_order::left_at(&self.x, &self.y, Initial::Free, -1.0 / self.span());
        if fit.course.rate <= 0.0 || (tau > self.span() && away.is_some_and(earns)) {
            return refuse(
                "The temperature changes ever faster, which no body does that settles at a constant speed.",
            );
        }
        if !earns(fit.left) {
            return refuse("A straight line fits the readings as well: they show no bend.");
        }
        let t = student::quantile(0.975, widened.dof);
        let half = t * fit.standard.rate * widened.factor;
        if tau > self.span() {
            return Err(Refusal {
                why: format!(
                    "The fitted time constant, {}, is longer than the stretch, {}: too little of the curve was \
                     seen.",
                    lasting(tau * 60.0),
                    lasting(self.span() * 60.0)
                ),
                at_least: Some(1.0 / (fit.course.rate + half))
                    .filter(|least| least.is_finite() && *least > 0.0),
            });
        }
        if half >= fit.course.rate {
            return refuse("The interval of the time constant is wider than the time constant itself.");
        }
        let travel = (fit.course.settles - fit.course.start) * (1.0 - (-fit.course.rate * self.span()).exp());
        if widened.factor > 1.0 && fit.deviation > NOTABLE * travel.abs() {
            return refuse(format!(
                "The readings lie off the curve by {} (standard deviation) and keep to one side for long: this is \
                 not the course of one time constant.",
                self.said(fit.deviation)
            ));
        }
        Ok(())
    }

    /// Residuals that hang together tell less than as many independent ones: with a correlation r from
    /// one to the next, n count as n(1 − r)/(1 + r) (first-order autoregression).
    fn widened(&self, fit: &Fit) -> Widened {
        let n = self.y.len() as f64;
        let residuals: Vec<f64> = self.x.iter().zip(&self.y).map(|(x, y)| y - fit.course.at(*x)).collect();
        let r = lag_one(&residuals);
        if !(r.is_finite() && r > 2.0 / n.sqrt()) {
            return Widened { factor: 1.0, dof: fit.dof, correlation: r };
        }
        let share = (1.0 - r) / (1.0 + r);
        Widened { factor: (1.0 / share).sqrt(), dof: (n * share - 3.0).max(1.0), correlation: r }
    }

    fn said(&self, difference: f64) -> String {
        with_unit(&significant(difference, 2), self.worked.bench.unit)
    }

    fn told(&self, at: &str, fit: &Fit, widened: Widened, minutes: Unit) -> Found {
        let mut made = finding(
            at,
            "time_constant",
            minutes,
            Some(fit.time_constant()),
            combine(self.parts(fit, &widened)),
        );
        let unit = self.worked.bench.unit;
        let half = student::quantile(0.975, widened.dof) * fit.standard.settles * widened.factor;
        let settles = if half > 0.0 {
            let rounded = round_with_uncertainty(fit.course.settles, half);
            (rounded.value.clone(), format!("{} ± {}", rounded.value, rounded.uncertainty))
        } else {
            let plain = significant(fit.course.settles, 4);
            (plain.clone(), plain)
        };
        let (verb, cools) = if fit.course.settles < fit.course.start {
            ("cool to", "cools to")
        } else {
            ("settle at", "settles at")
        };
        made.remark = format!("{cools} {}", with_unit(&settles.0, unit));
        made.notes.push(format!(
            "Fitted to {} readings; at this speed it would {verb} {} (95 %, from the fit alone).",
            self.y.len(),
            with_unit(&settles.1, unit)
        ));
        if widened.factor > 1.0 {
            made.notes.push(format!(
                "The residuals hang together (correlation {} from one to the next), so the interval is widened \
                 by {}.",
                significant(widened.correlation, 2),
                significant(widened.factor, 2)
            ));
        }
        if let Some(outside) = self.worked.outside(self.moments) {
            range::not_vouched_for(&mut made, &outside);
        }
        let first = self.moments.first().map_or(0.0, |moment| moment.seconds / 60.0);
        let points = (0..=60).map(|step| self.span() * f64::from(step) / 60.0);
        let course = points.map(|x| (first + x, fit.course.at(x))).collect();
        Found { finding: made, course }
    }

    /// The budget's lines. An offset or a scale error of the instrument moves where the curve starts
    /// and settles, not its time constant.
    fn parts(&self, fit: &Fit, widened: &Widened) -> Vec<Component> {
        let scatter =
            Repeatability { deviation: fit.time_constant_standard() * widened.factor, dof: widened.dof };
        let mut parts =
            vec![repeatability_line("Scatter about the fitted curve", scatter, scatter.deviation)];
        let shown = self.worked.bench.shown;
        if shown.step > 0.0 {
            let slope = self.moments.iter().map(|moment| moment.slopes.shown).fold(0.0, f64::max);
            let unscaled = fit.time_constant_per_unit();
            parts.push(shown.step_line(shown.step_standard() * slope * unscaled));
        }
        let fitted = |values: &[f64]| {
            let y = values.get(self.start..self.start + self.y.len())?;
            first_order::fit(&self.x, y, Initial::Free, &[]).map(|fit| fit.time_constant())
        };
        if let Some((low, high)) = &self.worked.shifted
            && let (Some(low), Some(high)) = (fitted(low), fitted(high))
        {
            parts.push(through_fit("Emissivity of the surface (common practice)", (high - low).abs() / 2.0));
        }
        parts
    }
}

/// What residuals that hang together do to the scatter's part.
struct Widened {
    factor: f64,
    dof: f64,
    correlation: f64,
}

fn refuse<T>(why: impl Into<String>) -> Result<T, Refusal> {
    Err(Refusal { why: why.into(), at_least: None })
}
