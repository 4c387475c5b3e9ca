//! `run-out`: a dial indicator against a turning surface, read round the turn (ISO 230-1,
//! ISO 230-7, ISO 1101).
//!
//! TIR is highest less lowest of a turn, over several turns the mean of the turns' TIRs. The
//! harmonics come from one least-squares fit of all turns. The uncertainty of a range or an
//! amplitude is by Monte Carlo: each angle's rounding error is drawn once for all turns (reading
//! the same place again rounds the same way), each reading's scatter anew. The indicator's stated
//! accuracy is the error of the travel that it shows, so it enters a range once.

use crate::findings::{Cell, CheckFindings, Component, Details, Finding, Pattern, RawTable};
use crate::quantity::{Kind, Quantity, Unit, UnitSystem, significant};
use crate::session::{Better, Check, Problem, Problems, Session};

use super::harmonics::{At, Fit, fit, non_repeating, range_can_miss};
use super::monte_carlo::{Draws, LANES, Noise, Row, point_95, propagate, spread};
use super::spindle::{Along, Spindle};
use super::statistics::{mean, sample};
use super::turns::{FEWEST, Round, Station, rounds, stations};
use super::uncertainty::{Repeatability, Shown, combine, repeatability_line};
use super::{Examined, Measure, Prepared, Sitting, What, finding, run_out_patterns, spindle};

/// The numbers it gives.
const WHATS: &[What] = &[
    What::new("tir", "run-out (TIR)"),
    What::new("once_per_turn", "once per turn"),
    What::new("twice_per_turn", "twice per turn"),
    What::new("residual", "residual"),
    What::new("non_repeating", "non-repeating part"),
    What::of_set_up("closing_error", "closing error"),
    What::new("offset", "offset of the axis"),
    What::new("tilt", "tilt of the axis"),
];

/// The measure.
#[derive(Debug)]
pub struct RunOut;

/// Which way the indicator looks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Direction {
    /// At the axis.
    Radial,
    /// Along the axis.
    Axial,
}

/// For the charts and the patterns: one visit's turns, lengths in the check's unit.
#[derive(Clone, Debug)]
pub struct RunOutDetails {
    /// Which way the indicator looked.
    pub direction: Direction,
    /// Station by station.
    pub stations: Vec<StationDetails>,
    /// Offset and tilt, of several radial stations.
    pub spindle: Option<Spindle>,
}

/// One station's turns.
#[derive(Clone, Debug)]
pub struct StationDetails {
    /// The station's id.
    pub id: String,
    /// Distance along the axis or radius, in the check's unit.
    pub distance: Option<f64>,
    /// Turn by turn: angle in degrees, travel, and whether it was struck.
    pub turns: Vec<Vec<(f64, f64, bool)>>,
    /// The fitted profile, where one could be fitted.
    pub fit: Option<Fit>,
}

impl Measure for RunOut {
    fn name(&self) -> &'static str {
        "run-out"
    }

    fn whats(&self) -> &'static [What] {
        WHATS
    }

    fn better(&self) -> Option<Better> {
        Some(Better::Lower)
    }

    fn all_places(&self) -> &'static str {
        "all stations"
    }

    fn prepare(
        &self,
        session: &Session,
        check: &Check,
        problems: &mut Problems,
    ) -> Option<Box<dyn Prepared>> {
        let mut own = check.own.clone();
        let ways = [("radial", Direction::Radial), ("axial", Direction::Axial)];
        own.need("direction", "radial", problems);
        let direction = own.one_of("direction", &ways, problems).unwrap_or(Direction::Radial);
        let distance = match direction {
            Direction::Radial => "from",
            Direction::Axial => "radius",
        };
        let stations = stations(&mut own, distance, problems);
        own.finish(problems);
        let usual = match session.units {
            UnitSystem::Inch => ("thou", "thou/in"),
            UnitSystem::Metric => ("µm", "mm/m"),
        };
        let unit = check.unit.or(Unit::known(Kind::Length, usual.0))?;
        if unit.kind() != Kind::Length {
            problems.push(
                Problem::error(
                    format!("run-out needs a length, and {unit} is {}", unit.kind().words()),
                    check.place.clone(),
                )
                .expected("expected a unit of length")
                .help("write for example: unit: thou"),
            );
            return None;
        }
        let angle = Unit::known(Kind::Angle, usual.1)?;
        Some(Box::new(Ready { direction, stations, unit, angle }))
    }

    fn patterns(&self, session: &Session, own: &CheckFindings, all: &[CheckFindings]) -> Vec<Pattern> {
        run_out_patterns::read(session, own, all)
    }

    fn cautions(&self) -> &'static [&'static str] {
        &[
            "Dial indicator: pull the plug, and turn the spindle by hand. Never hold an indicator \
             against a shaft under power.",
            "A saw blade cuts without turning: wear gloves to handle it, none near a running machine.",
        ]
    }

    fn methods(&self) -> &'static [&'static str] {
        &[
            "Run-out: TIR is the highest less the lowest reading of a turn; of several turns, the \
             mean (ISO 1101, circular run-out; ISO 230-1).",
            "Harmonics: least squares on a constant for each turn and up to three harmonics, all \
             turns together; once per turn is 2√(a² + b²).",
            "Non-repeating part: pooled standard deviation about the mean profile (asynchronous \
             error motion, ISO 230-7).",
            "Ranges and amplitudes: uncertainty by Monte Carlo with 100 032 draws seeded from the \
             readings (JCGM 101:2008). The display step is drawn once an angle, the scatter once a \
             reading; the indicator's accuracy enters a range once.",
        ]
    }
}

struct Ready {
    direction: Direction,
    stations: Vec<Station>,
    unit: Unit,
    angle: Unit,
}

impl Prepared for Ready {
    fn unit(&self) -> Unit {
        self.unit
    }

    fn examine(&self, sitting: &Sitting<'_>, problems: &mut Problems) -> Option<Examined> {
        let mut own = sitting.readings.own.clone();
        let errors = problems.errors();
        let rounds = rounds(&mut own, &self.stations, self.unit, problems);
        let place = own.place();
        own.finish(problems);
        let shown = self.shown(sitting, problems);
        for round in &rounds {
            let kept = |turn: &super::turns::Turn| turn.readings.iter().filter(|r| r.counts()).count();
            if round.turns.iter().any(|turn| kept(turn) < FEWEST) {
                problems.push(
                    Problem::error(
                        format!("fewer than {FEWEST} readings of a turn are left at '{}'", round.station.id),
                        place.clone(),
                    )
                    .expected("too many are struck")
                    .help("take the turn out, or measure it again"),
                );
            }
        }
        let shown = shown.filter(|_| problems.errors() == errors && !rounds.is_empty())?;
        let worked: Vec<Worked> = rounds.iter().map(|round| Worked::of(round, &shown, self.unit)).collect();
        let mut findings: Vec<Finding> = worked.iter().flat_map(|w| w.findings.clone()).collect();
        let spindle = self.spindle(&worked, &shown);
        if let Some(spindle) = &spindle {
            findings.extend(self.of_spindle(spindle, &worked));
        }
        let order = |finding: &Finding| RunOut.whats().iter().position(|what| what.name == finding.what);
        findings.sort_by_key(order);
        Some(Examined {
            findings,
            raw: rounds.iter().map(|round| raw(round, self.unit)).collect(),
            set_up: set_up(&rounds, &shown),
            details: Details::new(RunOutDetails {
                direction: self.direction,
                stations: worked.into_iter().map(|worked| worked.details).collect(),
                spindle,
            }),
            notes: notes(&rounds, &self.stations, sitting),
        })
    }
}

impl Ready {
    fn shown(&self, sitting: &Sitting<'_>, problems: &mut Problems) -> Option<Shown> {
        let shown = sitting.shown(self.unit, problems)?;
        let angle = sitting.instrument.and_then(|instrument| instrument.tip_angle);
        let degrees = angle.zip(Unit::known(Kind::Angle, "deg")).and_then(|(a, deg)| a.to(deg).ok());
        Some(shown.with_tip_angle(degrees.unwrap_or(0.0)))
    }

    /// Offset and tilt where several radial stations have a once-per-turn part.
    fn spindle(&self, worked: &[Worked], shown: &Shown) -> Option<Spindle> {
        if self.direction != Direction::Radial || worked.len() < 2 {
            return None;
        }
        let mut along = Vec::new();
        for station in worked {
            let details = &station.details;
            let fit = details.fit.as_ref()?;
            let accuracy = shown.accuracy_line(station.tir, 0.5).map_or(0.0, |line| line.contribution);
            along.push(Along {
                distance: details.distance?,
                eccentricity: *fit.harmonics.first()?,
                scatter: station.part_deviation(fit, &station.noise),
                idle: station.part_deviation(fit, &station.idle),
                accuracy,
            });
        }
        spindle::fit(&along)
    }

    fn of_spindle(&self, spindle: &Spindle, worked: &[Worked]) -> Vec<Finding> {
        let radian = Unit::known(Kind::Angle, "rad");
        let angle = radian.and_then(|rad| Quantity::new(1.0, rad).to(self.angle).ok()).unwrap_or(1.0);
        let dof = worked
            .iter()
            .map(|w| w.noise.spread.map_or(f64::INFINITY, |s| s.dof))
            .fold(f64::INFINITY, f64::min);
        let n = worked.iter().map(|w| w.n).sum();
        let struck = worked.iter().map(|w| w.struck).sum();
        let make = |what, size: &spindle::Size, unit: Unit, factor: f64| {
            let line = |name: &str, standard: f64, dof: f64| Component {
                name: name.to_owned(),
                estimate: standard * factor,
                distribution: crate::findings::Distribution::Normal,
                divisor: 1.0,
                contribution: standard * factor,
                dof,
            };
            let mut components =
                vec![line("Display step and scatter, through the fit", size.from_readings, dof)];
            if size.from_accuracy > 0.0 {
                components.push(line(
                    "Accuracy of the indicator, through the fit",
                    size.from_accuracy,
                    f64::INFINITY,
                ));
            }
            let mut made =
                finding("all stations", what, unit, Some(size.value * factor), combine(components));
            made.floor = Some(size.floor * factor);
            made.n = n;
            made.struck = struck;
            made
        };
        let mut tilt = make("tilt", &spindle.tilt, self.angle, angle);
        tilt.notes
            .push(format!("The tilt lies {:.0}° from the offset, seen along the axis.", spindle.between));
        vec![make("offset", &spindle.offset, self.unit, 1.0), tilt]
    }
}

/// The noise of a reading: the display step, and a scatter where one is known.
#[derive(Clone, Debug)]
struct ReadingNoise {
    step: f64,
    spread: Option<Repeatability>,
    spread_name: &'static str,
}

impl ReadingNoise {
    fn variance(&self) -> (f64, f64) {
        let spread = self.spread.map_or(0.0, |spread| spread.deviation.powi(2));
        (self.step.powi(2) / 12.0, spread)
    }
}

/// One station, worked out.
struct Worked {
    findings: Vec<Finding>,
    details: StationDetails,
    noise: ReadingNoise,
    idle: ReadingNoise,
    places: Vec<At>,
    tir: f64,
    n: usize,
    struck: usize,
}

/// Readings in a form to compute with: struck ones in or out.
fn flat(round: &Round, scale: f64, unit: Unit, with_struck: bool) -> (Vec<At>, Vec<f64>) {
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
    (places, values)
}

/// The mean of the turns' ranges, and the ranges.
fn ranges(places: &[At], values: &[f64]) -> (f64, Vec<f64>) {
    let turns = places.iter().map(|at| at.turn + 1).max().unwrap_or(0);
    let mut bounds = vec![(f64::INFINITY, f64::NEG_INFINITY); turns];
    for (at, value) in places.iter().zip(values) {
        let (low, high) = &mut bounds[at.turn];
        *low = low.min(*value);
        *high = high.max(*value);
    }
    let ranges: Vec<f64> = bounds.iter().map(|(low, high)| high - low).collect();
    (mean(&ranges), ranges)
}

impl Worked {
    fn of(round: &Round, shown: &Shown, unit: Unit) -> Self {
        let (places, values) = flat(round, shown.scale, unit, false);
        let (all_places, all_values) = flat(round, shown.scale, unit, true);
        let fitted = fit(&places, &values);
        let scatter = non_repeating(&places, &values);
        let own = scatter
            .filter(|(_, dof)| *dof >= 3)
            .map(|(deviation, dof)| Repeatability { deviation, dof: dof as f64 });
        let idle = ReadingNoise {
            step: shown.step,
            spread: shown.repeatability,
            spread_name: "Repeatability of the indicator",
        };
        let noise = match own {
            Some(spread) => ReadingNoise {
                step: shown.step,
                spread: Some(spread),
                spread_name: "Scatter from turn to turn",
            },
            None => idle.clone(),
        };
        let (tir, by_turn) = ranges(&places, &values);
        let struck = all_values.len() - values.len();
        let mut worked = Self {
            findings: Vec::new(),
            details: StationDetails {
                id: round.station.id.clone(),
                distance: round.station.distance.and_then(|distance| distance.to(unit).ok()),
                turns: turns_for_charts(round, shown.scale, unit),
                fit: fitted.clone(),
            },
            noise,
            idle,
            places,
            tir,
            n: values.len(),
            struck,
        };
        let drawn = worked.draw(&values, fitted.as_ref());
        let with = (struck > 0).then(|| (ranges(&all_places, &all_values).0, fit(&all_places, &all_values)));
        let add = |worked: &mut Self, mut made: Finding, with_struck: Option<f64>| {
            made.n = worked.n;
            made.struck = struck;
            made.with_struck = with_struck;
            worked.findings.push(made);
        };
        let mut main = worked.size("tir", tir, drawn.tir, shown, 1.0, unit);
        main.notes = tir_notes(round, &by_turn, fitted.as_ref(), unit);
        add(&mut worked, main, with.as_ref().map(|(tir, _)| *tir));
        let names = [("once_per_turn", drawn.once), ("twice_per_turn", drawn.twice)];
        for (harmonic, (what, spread)) in names.into_iter().enumerate() {
            let size = fitted.as_ref().and_then(|fit| fit.peak_to_peak(harmonic + 1));
            let made = match (size, spread) {
                (Some(size), Some(spread)) => {
                    let mut made = worked.size(what, size, spread, shown, 1.0, unit);
                    made.notes.extend(fitted.as_ref().and_then(|fit| high_spot(fit, harmonic + 1)));
                    made
                }
                _ => worked.refused(what, unit, "Too few distinct angles for this harmonic."),
            };
            let struck_in = with.as_ref().and_then(|(_, fit)| fit.as_ref()?.peak_to_peak(harmonic + 1));
            add(&mut worked, made, struck_in);
        }
        let residual = fitted.as_ref().and_then(|fit| Some((fit.residual()?, fit.dof)));
        let made = worked.deviation(
            "residual",
            residual,
            unit,
            "No readings are left over once the harmonics are fitted.",
        );
        add(&mut worked, made, with.as_ref().and_then(|(_, fit)| fit.as_ref()?.residual()));
        let why = if round.turns.len() < 2 {
            "One turn cannot show what does not repeat."
        } else {
            "Too few readings are left to judge what does not repeat."
        };
        let made = worked.deviation("non_repeating", scatter, unit, why);
        let struck_in = (struck > 0).then(|| non_repeating(&all_places, &all_values)).flatten();
        add(&mut worked, made, struck_in.map(|(deviation, _)| deviation));
        if let Some(made) = worked.closing(round, shown, unit) {
            add(&mut worked, made, None);
        }
        worked
    }

    /// Standard uncertainty of one part (a or b) of the once-per-turn vector.
    fn part_deviation(&self, fit: &Fit, noise: &ReadingNoise) -> f64 {
        let (step, spread) = noise.variance();
        let rows = fit.operator.nrows().min(2);
        let squares: f64 = fit.operator.rows(0, rows).iter().map(|weight| weight * weight).sum();
        let turns = self.details.turns.len() as f64;
        // A step shared by all turns adds up over them; scatter does not.
        ((spread + step * turns) * squares / rows as f64).sqrt()
    }

    /// A size (a range, an amplitude) with its budget and floor.
    fn size(
        &self,
        what: &'static str,
        value: f64,
        drawn: Drawn,
        shown: &Shown,
        factor: f64,
        unit: Unit,
    ) -> Finding {
        let (step, spread) = self.noise.variance();
        let total = step + spread;
        let share = |part: f64| {
            if total > 0.0 { drawn.spread * (part / total).sqrt() } else { 0.0 }
        };
        let mut components = Vec::new();
        if step > 0.0 {
            components.push(shown.step_line(share(step)));
        }
        if let Some(known) = self.noise.spread {
            components.push(repeatability_line(self.noise.spread_name, known, share(spread)));
        }
        components.extend(shown.accuracy_line(value, factor));
        let mut made = finding(&self.details.id, what, unit, Some(value), combine(components));
        made.floor = Some(drawn.floor);
        made
    }

    /// A standard deviation found from the readings, with ν degrees of freedom: its own standard
    /// uncertainty is s/√(2ν) (JCGM 100, E.4.3), its floor by chi-square.
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
        let (step, spread) = self.idle.variance();
        let own = Component {
            name: "Uncertainty of a standard deviation from so many readings".to_owned(),
            estimate: value,
            distribution: crate::findings::Distribution::Normal,
            divisor: (2.0 * nu).sqrt(),
            contribution: value / (2.0 * nu).sqrt(),
            dof: nu,
        };
        let step_line = Component {
            name: "Display step".to_owned(),
            estimate: self.idle.step,
            distribution: crate::findings::Distribution::Rectangular,
            divisor: (24.0 * nu).sqrt(),
            contribution: self.idle.step / (24.0 * nu).sqrt(),
            dof: f64::INFINITY,
        };
        let mut made = finding(&self.details.id, what, unit, Some(value), combine(vec![own, step_line]));
        made.floor = Some(((step + spread) * chi_square_95(nu) / nu).sqrt());
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
        let mut components = vec![shown.step_line(root * shown.step_standard())];
        if let Some(known) = shown.repeatability {
            components.push(repeatability_line(
                "Repeatability of the indicator",
                known,
                root * known.deviation,
            ));
        }
        components.extend(shown.accuracy_line(largest, 1.0));
        let mut made = finding(&self.details.id, "closing_error", unit, Some(largest), combine(components));
        let (step, spread) = self.idle.variance();
        made.floor = Some(1.959_963_984_540_054 * root * (step + spread).sqrt());
        // A step and a bit: the numbers are multiples of the step, which binary cannot hold.
        if largest.abs() > shown.step * 1.01 {
            made.notes.push(format!(
                "The index mark did not read the same at the end ({} {unit}): the set-up or the shaft moved.",
                significant(largest, 3)
            ));
        }
        Some(made)
    }

    /// Draws the noise of this station's readings and gives the spread of each size, and what a
    /// perfect part would show.
    fn draw(&self, values: &[f64], fitted: Option<&Fit>) -> AllDrawn {
        let mut draws = Draws::seeded(values);
        let around = self.propagate(&mut draws, values, fitted, &self.noise);
        let nothing = vec![0.0; values.len()];
        let idle = self.propagate(&mut draws, &nothing, fitted, &self.idle);
        let carried = fitted.map_or(0, |fit| fit.harmonics.len());
        let mut pairs = around
            .into_iter()
            .zip(idle)
            .map(|(around, idle)| Drawn { spread: spread(&around), floor: point_95(idle) });
        let mut next = || pairs.next().unwrap_or(Drawn { spread: f64::NAN, floor: f64::NAN });
        let (tir, once, twice) = (next(), next(), next());
        AllDrawn { tir, once: (carried >= 1).then_some(once), twice: (carried >= 2).then_some(twice) }
    }

    #[allow(clippy::cast_possible_truncation)]
    fn propagate(
        &self,
        draws: &mut Draws,
        values: &[f64],
        fitted: Option<&Fit>,
        noise: &ReadingNoise,
    ) -> [Vec<f32>; 3] {
        let mut angles: Vec<f64> = self.places.iter().map(|at| at.angle).collect();
        angles.sort_by(f64::total_cmp);
        angles.dedup();
        let stepped = Noise::rectangular(noise.step);
        let scattered = Noise::normal(noise.spread.map_or(0.0, |spread| spread.deviation));
        let inputs: Vec<&Noise> =
            angles.iter().map(|_| &stepped).chain(self.places.iter().map(|_| &scattered)).collect();
        let first = values.first().copied().unwrap_or(0.0);
        let offsets: Vec<f32> = values.iter().map(|value| (value - first) as f32).collect();
        let slot = |at: &At| angles.iter().position(|angle| angle.total_cmp(&at.angle).is_eq()).unwrap_or(0);
        let slots: Vec<usize> = self.places.iter().map(slot).collect();
        let turns: Vec<usize> = self.places.iter().map(|at| at.turn).collect();
        let turn_count = turns.iter().max().map_or(1, |last| last + 1);
        let weights: Vec<[f32; 4]> = (0..values.len())
            .map(|reading| {
                std::array::from_fn(|row| {
                    let operator = fitted.map(|fit| &fit.operator);
                    operator.and_then(|o| o.get((row, reading))).map_or(0.0, |weight| *weight as f32)
                })
            })
            .collect();
        let spreads = noise.spread.is_some_and(|spread| spread.deviation > 0.0);
        propagate(draws, &inputs, |rows: &[Row], out| {
            let mut sums = [[0f32; LANES]; 4];
            let mut total = [0f32; LANES];
            let (mut low, mut high) = ([f32::MAX; LANES], [f32::MIN; LANES]);
            for reading in 0..offsets.len() {
                let step = &rows[slots[reading]];
                let scatter = &rows[angles.len() + reading];
                let offset = offsets[reading];
                let weight = &weights[reading];
                for lane in 0..LANES {
                    let value = offset + step[lane] + if spreads { scatter[lane] } else { 0.0 };
                    low[lane] = low[lane].min(value);
                    high[lane] = high[lane].max(value);
                    for (sum, weight) in sums.iter_mut().zip(weight) {
                        sum[lane] += weight * value;
                    }
                }
                if turns.get(reading + 1) != Some(&turns[reading]) {
                    for lane in 0..LANES {
                        total[lane] += high[lane] - low[lane];
                    }
                    (low, high) = ([f32::MAX; LANES], [f32::MIN; LANES]);
                }
            }
            for lane in 0..LANES {
                out[0][lane] = total[lane] / turn_count as f32;
                out[1][lane] = 2.0 * (sums[0][lane].powi(2) + sums[1][lane].powi(2)).sqrt();
                out[2][lane] = 2.0 * (sums[2][lane].powi(2) + sums[3][lane].powi(2)).sqrt();
            }
        })
    }
}

/// What the draws give for one size.
#[derive(Clone, Copy)]
struct Drawn {
    spread: f64,
    floor: f64,
}

struct AllDrawn {
    tir: Drawn,
    once: Option<Drawn>,
    twice: Option<Drawn>,
}

fn chi_square_95(dof: f64) -> f64 {
    use statrs::distribution::{ChiSquared, ContinuousCDF};
    ChiSquared::new(dof).map_or(f64::NAN, |chi| chi.inverse_cdf(0.95))
}

fn high_spot(fit: &Fit, harmonic: usize) -> Option<String> {
    let angle = fit.high_spot(harmonic)?;
    Some(if harmonic == 1 {
        format!("High spot at {angle:.0}° from the index mark.")
    } else {
        format!("High spots at {:.0}° and {:.0}° from the index mark.", angle, angle + 180.0)
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

fn set_up(rounds: &[Round], shown: &Shown) -> Vec<(String, String)> {
    let each = |number: fn(&Round) -> usize| {
        let mut list: Vec<usize> = rounds.iter().map(number).collect();
        list.dedup();
        list.iter().map(usize::to_string).collect::<Vec<_>>().join(", ")
    };
    let mut facts = vec![
        ("readings a turn".to_owned(), each(|round| round.angles.len())),
        ("turns".to_owned(), each(|round| round.turns.len())),
    ];
    if (shown.scale - 1.0).abs() > 1e-12 {
        facts.push(("lever correction".to_owned(), format!("× {:.4}", shown.scale)));
    }
    facts
}

fn notes(rounds: &[Round], stations: &[Station], sitting: &Sitting<'_>) -> Vec<String> {
    let mut notes = Vec::new();
    for station in stations {
        if !rounds.iter().any(|round| round.station.id == station.id) {
            notes.push(format!("The station '{}' was not read at this visit.", station.id));
        }
    }
    let repeats = sitting.instrument.is_some_and(|instrument| instrument.repeats.len() >= 2);
    if !repeats {
        notes.push(
            "The indicator's repeatability is not given, so the floor rests on its display step alone."
                .to_owned(),
        );
    }
    notes
}

fn raw(round: &Round, unit: Unit) -> RawTable {
    let closes = round.turns.iter().any(|turn| turn.closing.is_some());
    let mut columns = vec!["Turn".to_owned()];
    columns.extend(round.angles.iter().map(|angle| format!("{}°", significant(*angle, 4))));
    if closes {
        columns.push("0° again".to_owned());
    }
    let rows = round
        .turns
        .iter()
        .enumerate()
        .map(|(index, turn)| {
            let cells = turn
                .readings
                .iter()
                .chain(&turn.closing)
                .map(|reading| Cell { text: reading.text.clone(), struck: reading.struck.clone() })
                .collect();
            ((index + 1).to_string(), cells)
        })
        .collect();
    RawTable { at: round.station.id.clone(), columns, rows, unit }
}
