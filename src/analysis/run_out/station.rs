//! One station at one visit: its findings.

use super::super::finding;
use super::super::floor;
use super::super::harmonics::{At, Fit, fit, non_repeating, range_can_miss};
use super::super::size::{self, Drawn, ReadingNoise};
use super::super::statistics::{mean, sample};
use super::super::student::quantile;
use super::super::uncertainty::{Shown, combine, of_deviation, repeatability_line, welch_satterthwaite};
use super::StationDetails;
use super::draws::{AllDrawn, draw};
use super::turns::Round;
use crate::findings::{Component, Distribution, Finding};
use crate::quantity::{Unit, significant};

/// A station's readings in a form to compute with.
struct Points {
    places: Vec<At>,
    values: Vec<f64>,
}

impl Points {
    fn of(round: &Round, scale: f64, unit: Unit, with_struck: bool) -> Self {
        let (mut places, mut values) = (Vec::new(), Vec::new());
        for (turn, readings) in round.turns.iter().enumerate() {
            for (reading, angle) in readings.readings.iter().zip(&round.angles) {
                let value = reading.quantity.to(unit).unwrap_or(f64::NAN) * scale;
                if (with_struck || reading.counts()) && value.is_finite() {
                    places.push(At { turn, angle: *angle });
                    values.push(value);
                }
            }
        }
        Self { places, values }
    }

    /// Highest less lowest of each turn.
    fn ranges(&self) -> Vec<f64> {
        let turns = self.places.iter().map(|at| at.turn + 1).max().unwrap_or(0);
        let mut bounds = vec![(f64::INFINITY, f64::NEG_INFINITY); turns];
        for (at, value) in self.places.iter().zip(&self.values) {
            let (low, high) = &mut bounds[at.turn];
            *low = low.min(*value);
            *high = high.max(*value);
        }
        bounds.iter().map(|(low, high)| high - low).collect()
    }

    fn tir(&self) -> f64 {
        mean(&self.ranges())
    }

    fn fit(&self) -> Option<Fit> {
        fit(&self.places, &self.values)
    }

    fn non_repeating(&self) -> Option<(f64, usize)> {
        non_repeating(&self.places, &self.values)
    }
}

/// One station, worked out.
pub(super) struct Station {
    /// Its findings, without those of the whole axis.
    pub findings: Vec<Finding>,
    /// For charts and patterns.
    pub details: StationDetails,
    /// The noise of its readings.
    pub noise: ReadingNoise,
    /// The noise that the indicator makes by itself.
    pub idle: ReadingNoise,
    /// Its run-out.
    pub tir: f64,
    /// How many readings count.
    pub n: usize,
    /// How many were struck.
    pub struck: usize,
}

impl Station {
    /// Works out a station's readings.
    pub(super) fn of(round: &Round, shown: &Shown, unit: Unit) -> Self {
        let points = Points::of(round, shown.scale, unit, false);
        let fitted = points.fit();
        let scatter = points.non_repeating();
        let idle = ReadingNoise::idle(shown, "Repeatability of the indicator");
        let all = Points::of(round, shown.scale, unit, true);
        let mut station = Self {
            findings: Vec::new(),
            details: StationDetails {
                id: round.station.id.clone(),
                distance: round.station.distance.and_then(|distance| distance.to(unit).ok()),
                turns: turns_for_charts(round, shown.scale, unit),
                fit: fitted.clone(),
            },
            noise: idle.with_scatter(scatter, "Scatter from turn to turn"),
            idle,
            tir: points.tir(),
            n: points.values.len(),
            struck: all.values.len() - points.values.len(),
        };
        let drawn = draw(&points.places, &points.values, fitted.as_ref(), &station.noise, &station.idle);
        // Each finding is made once from what counts; the value with the struck ones stands beside it.
        let with = (station.struck > 0).then_some(&all);
        let with_fit = with.and_then(Points::fit);
        let by_turn = points.ranges();
        let mut tir = station.size("tir", station.tir, drawn.tir, shown, unit);
        tir.notes = tir_notes(round, &by_turn, fitted.as_ref(), unit);
        tir.notes.extend(size::lift_note("run-out", drawn.tir, unit));
        station.add(tir, with.map(Points::tir));
        for harmonic in 1..=2 {
            let made = station.harmonic(harmonic, fitted.as_ref(), &drawn, shown, unit);
            station.add(made, with_fit.as_ref().and_then(|fit| fit.peak_to_peak(harmonic)));
        }
        let residual = fitted.as_ref().and_then(|fit| Some((fit.residual()?, fit.dof)));
        let why = "No readings are left over once the harmonics are fitted.";
        let made = station.deviation("residual", residual, unit, why);
        station.add(made, with_fit.as_ref().and_then(Fit::residual));
        let why = if round.turns.len() < 2 {
            "One turn cannot show what does not repeat."
        } else {
            "Too few readings are left to judge what does not repeat."
        };
        let made = station.deviation("non_repeating", scatter, unit, why);
        station.add(made, with.and_then(Points::non_repeating).map(|(deviation, _)| deviation));
        if let Some(made) = station.closing(round, shown, unit) {
            station.add(made, None);
        }
        station
    }

    fn add(&mut self, mut made: Finding, with_struck: Option<f64>) {
        made.n = self.n;
        made.struck = self.struck;
        made.with_struck = with_struck;
        self.findings.push(made);
    }

    /// Standard uncertainty of one part (a or b) of the once-per-turn vector.
    pub(super) fn part_deviation(&self, fit: &Fit, noise: &ReadingNoise) -> f64 {
        let (step, spread) = noise.variances();
        let rows = fit.operator.nrows().min(2);
        let squares: f64 = fit.operator.rows(0, rows).iter().map(|weight| weight * weight).sum();
        let turns = self.details.turns.len() as f64;
        // A step shared by all turns adds up over them; scatter does not.
        ((spread + step * turns) * squares / rows as f64).sqrt()
    }

    /// A size (a range, an amplitude) with its budget and floor.
    fn size(&self, what: &'static str, value: f64, drawn: Drawn, shown: &Shown, unit: Unit) -> Finding {
        let accuracy = shown.accuracy_line(value, 1.0).into_iter().collect();
        size::size((&self.details.id, what), unit, value, drawn, (&self.noise, 1.0), (shown, accuracy))
    }

    fn harmonic(
        &self,
        harmonic: usize,
        fitted: Option<&Fit>,
        drawn: &AllDrawn,
        shown: &Shown,
        unit: Unit,
    ) -> Finding {
        let what = if harmonic == 1 { "once_per_turn" } else { "twice_per_turn" };
        let Some((fit, size)) = fitted.and_then(|fit| Some((fit, fit.peak_to_peak(harmonic)?))) else {
            return self.refused(what, unit, "Too few distinct angles for this harmonic.");
        };
        let mut made = self.size(what, size, drawn.harmonics[harmonic - 1], shown, unit);
        if let Some((note, remark)) = high_spot(fit, harmonic) {
            made.notes.push(note);
            if !made.at_floor() {
                made.remark = remark;
            }
        }
        made
    }

    /// A standard deviation found from the readings, with ν degrees of freedom: its own standard
    /// uncertainty is s/√(2ν) (JCGM 100, E.4.3), the factor to its U and its floor by chi-squared.
    fn deviation(
        &self,
        what: &'static str,
        found: Option<(f64, usize)>,
        unit: Unit,
        why_not: &str,
    ) -> Finding {
        let Some((value, dof)) = found else {
            return self.refused(what, unit, why_not);
        };
        let nu = dof as f64;
        let (step, spread) = self.idle.variances();
        let own = Component {
            name: "Standard deviation from so many readings".to_owned(),
            estimate: value,
            distribution: Distribution::Normal,
            divisor: (2.0 * nu).sqrt(),
            contribution: value / (2.0 * nu).sqrt(),
            dof: nu,
        };
        let mut components = vec![own];
        if self.idle.step > 0.0 {
            components.push(Component {
                name: "Display step".to_owned(),
                estimate: self.idle.step,
                distribution: Distribution::Rectangular,
                divisor: (24.0 * nu).sqrt(),
                contribution: self.idle.step / (24.0 * nu).sqrt(),
                dof: f64::INFINITY,
            });
        }
        let budget = of_deviation(combine(components));
        let mut made = finding(&self.details.id, what, unit, Some(value), budget);
        made.floor = Some(floor::of_variance(nu, step, spread, self.idle.spread).sqrt());
        made
    }

    fn refused(&self, what: &'static str, unit: Unit, why: &str) -> Finding {
        let mut made = finding(&self.details.id, what, unit, None, combine(Vec::new()));
        made.notes.push(why.to_owned());
        made
    }

    /// Last less first, of the turn where it is largest.
    fn closing(&self, round: &Round, shown: &Shown, unit: Unit) -> Option<Finding> {
        let errors: Vec<f64> = round
            .turns
            .iter()
            .filter_map(|turn| {
                let last = turn.closing.as_ref().filter(|reading| reading.counts())?;
                let first = turn.readings.first().filter(|reading| reading.counts())?;
                Some((last.quantity.to(unit).ok()? - first.quantity.to(unit).ok()?) * shown.scale)
            })
            .collect();
        let largest = errors.iter().copied().max_by(|a, b| a.abs().total_cmp(&b.abs()))?;
        let root = 2f64.sqrt();
        let mut components = Vec::new();
        if shown.step > 0.0 {
            components.push(shown.step_line(root * shown.step_standard()));
        }
        if let Some(known) = shown.repeatability {
            let line = repeatability_line("Repeatability of the indicator", known, root * known.deviation);
            components.push(line);
        }
        components.extend(shown.accuracy_line(largest, 1.0));
        // The largest of so many turns: each alone must keep its interval, and the floor, more often than 95 times in 100.
        let each = 1.0 - 0.05 / (2.0 * errors.len() as f64);
        let mut budget = combine(components);
        budget.expanded = budget.expanded.by(quantile(each, budget.expanded.dof));
        let mut made = finding(&self.details.id, "closing_error", unit, Some(largest), budget);
        let (step, spread) = self.idle.variances();
        // Only the scatter was found from readings.
        let found = self.idle.spread.map_or(f64::INFINITY, |known| known.dof);
        let dof = welch_satterthwaite([(step.sqrt(), f64::INFINITY), (spread.sqrt(), found)].into_iter());
        made.floor = Some(quantile(each, dof) * root * (step + spread).sqrt());
        // A step and a bit: the numbers are multiples of the step, which binary cannot hold.
        if largest.abs() > shown.step * 1.01 {
            made.notes.push(format!(
                "The index mark did not read the same at the end ({} {unit}): the set-up or the shaft moved.",
                significant(largest, 3)
            ));
        }
        Some(made)
    }
}

/// Where it is highest: as a note, and as a remark beside the number.
fn high_spot(fit: &Fit, harmonic: usize) -> Option<(String, String)> {
    let angle = fit.high_spot(harmonic)?;
    Some(if harmonic == 1 {
        (format!("High spot at {angle:.0}° from the index mark."), format!("high spot {angle:.0}°"))
    } else {
        let opposite = angle + 180.0;
        (
            format!("High spots at {angle:.0}° and {opposite:.0}° from the index mark."),
            format!("high spots {angle:.0}°, {opposite:.0}°"),
        )
    })
}

fn tir_notes(round: &Round, by_turn: &[f64], fitted: Option<&Fit>, unit: Unit) -> Vec<String> {
    let mut notes = Vec::new();
    if by_turn.len() > 1 {
        let spread = sample(by_turn).deviation;
        let each: Vec<String> = by_turn.iter().map(|range| significant(*range, 3)).collect();
        notes.push(format!(
            "Mean of {} turns ({} {unit}), standard deviation {} {unit}.",
            by_turn.len(),
            each.join(", "),
            significant(spread, 2)
        ));
    } else {
        notes.push("One turn: it has no scatter of its own.".to_owned());
    }
    let n = round.angles.len();
    if n < 8 {
        let miss = fitted
            .and_then(|fit| fit.peak_to_peak(1))
            .filter(|_| round.equal)
            .map(|once| format!(", by up to {} {unit} here", significant(range_can_miss(once, n), 2)));
        notes.push(format!("{n} readings a turn can step over the high spot{}.", miss.unwrap_or_default()));
    }
    notes
}

fn turns_for_charts(round: &Round, scale: f64, unit: Unit) -> Vec<Vec<(f64, f64, bool)>> {
    round
        .turns
        .iter()
        .map(|turn| {
            turn.readings
                .iter()
                .zip(&round.angles)
                .filter_map(|(reading, angle)| {
                    let value = reading.quantity.to(unit).ok()? * scale;
                    Some((*angle, value, !reading.counts()))
                })
                .collect()
        })
        .collect()
}
