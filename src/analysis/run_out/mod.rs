//! `run-out`: a dial indicator against a turning surface, read round the turn (ISO 230-1,
//! ISO 230-7, ISO 1101).
//!
//! TIR is highest less lowest of a turn, over several turns the mean of the turns' TIRs. The
//! harmonics come from one least-squares fit of all turns. The uncertainty of a range or an
//! amplitude is by Monte Carlo: each angle's rounding error is drawn once for all turns (reading
//! the same place again rounds the same way), each reading's scatter anew. The indicator's stated
//! accuracy is the error of the travel that it shows, so it enters a range once.

use crate::findings::{Cell, CheckFindings, Component, Details, Finding, Pattern, RawTable, VisitFindings};
use crate::quantity::{Kind, Quantity, Unit, UnitSystem, significant};
use crate::schema::Own;
use crate::session::{Better, Check, Problem, Problems, Session};

use super::blank::{self, Blank, Grows};
use super::harmonics::Fit;
use super::readings_needed::Repeated;
use super::spindle::{Along, Spindle};
use super::uncertainty::{Shown, combine};
use super::{Examined, Measure, Prepared, Sitting, What, finding, spindle};

mod draws;
mod patterns;
mod schema;
mod station;
mod turns;

use station::Station as Worked;
use turns::{FEWEST, Round, Station, rounds, stations};

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
    /// Whether the indicator's own repeatability is known, for the floor.
    pub repeatability_known: bool,
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

    fn all_places(&self) -> Option<&'static str> {
        Some("all stations")
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
        let usual = usual_units(session);
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
        patterns::read(session, own, all)
    }

    fn legend(&self, own: &CheckFindings) -> Vec<String> {
        let remarked = |what: &str| {
            let mut all = own.visits.iter().flat_map(|visit| &visit.findings);
            all.any(|finding| finding.what.ends_with(what) && !finding.remark.is_empty())
        };
        let mut legend = Vec::new();
        if remarked("_per_turn") {
            legend.push("High spots are angles from the index mark.".to_owned());
        }
        if remarked("tilt") {
            legend.push(
                "The angle beside a tilt is that between tilt and offset, seen along the axis.".to_owned(),
            );
        }
        legend
    }

    fn usual(&self, session: &Session, check: &Check) -> Vec<Blank> {
        let mut silent = Problems::default();
        let unit = check.unit.or(Unit::known(Kind::Length, usual_units(session).0));
        let named = check.own.clone().map("stations", &mut silent).unwrap_or_default();
        let mut places: Vec<String> = named.into_iter().map(|entry| entry.key).collect();
        if places.is_empty() {
            places.push(String::new());
        }
        let angles = (0..8).map(|eighth| format!("{}°", eighth * 45));
        let columns: Vec<String> = std::iter::once("Turn".to_owned()).chain(angles).collect();
        let tables: Vec<RawTable> = places
            .iter()
            .filter_map(|place| Some(blank::empty(place, columns.clone(), &blank::numbers(3), unit?)))
            .collect();
        blank::like(&tables, self.order())
    }

    fn repeated(&self, visit: &VisitFindings, finding: &Finding) -> Option<Repeated> {
        let turns = visit.raw.iter().find(|table| table.at == finding.at)?.rows.len();
        Some(Repeated { words: ("turn", "turns"), n: turns, grows: Grows::Rows })
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
             turns together; once per turn is 2√(a² + b²) (least-squares circle, ISO 4291, annex).",
            "Non-repeating part: pooled standard deviation about the mean profile (asynchronous \
             error motion, ISO 230-7).",
            "Ranges and amplitudes: uncertainty by Monte Carlo with as many draws (10 048 to 100 032) as it takes \
             until two digits stand, seeded from the \
             readings. The display step is drawn once an angle, the scatter once a reading; the \
             indicator's accuracy enters a range once. A range that noise pushes up is over a limit only by more \
             than that and U (JCGM 101:2008, 7, 7.9; JCGM 100:2008, F.2.4.5).",
        ]
    }
}

/// The units of lengths and of tilts where a check names none.
fn usual_units(session: &Session) -> (&'static str, &'static str) {
    match session.units {
        UnitSystem::Inch => ("thou", "thou/in"),
        UnitSystem::Metric => ("µm", "mm/m"),
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
        let shown = sitting.travel(self.unit, problems);
        for round in &rounds {
            let kept = |turn: &turns::Turn| turn.readings.iter().filter(|r| r.counts()).count();
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
            set_up: self.set_up(&rounds, &shown),
            details: Details::new(RunOutDetails {
                direction: self.direction,
                stations: worked.into_iter().map(|worked| worked.details).collect(),
                spindle,
                repeatability_known: shown.repeatability.is_some(),
            }),
            notes: notes(&rounds, &self.stations, sitting),
        })
    }
}

impl Ready {
    /// How the readings were taken, as conditions to compare.
    fn set_up(&self, rounds: &[Round], shown: &Shown) -> Vec<(String, String)> {
        let way = match self.direction {
            Direction::Radial => "radial",
            Direction::Axial => "axial",
        };
        let each = |number: fn(&Round) -> usize| {
            let mut list: Vec<usize> = rounds.iter().map(number).collect();
            list.dedup();
            list.iter().map(usize::to_string).collect::<Vec<_>>().join(", ")
        };
        let mut facts = vec![
            ("direction".to_owned(), way.to_owned()),
            ("readings a turn".to_owned(), each(|round| round.angles.len())),
            ("turns".to_owned(), each(|round| round.turns.len())),
        ];
        if (shown.scale - 1.0).abs() > 1e-12 {
            facts.push(("lever correction".to_owned(), format!("× {:.4}", shown.scale)));
        }
        facts
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
        let first = worked.first()?;
        spindle::fit(&along, first.idle.alone(first.details.turns.len() as f64))
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
            let line =
                |name: &str, standard: f64, dof: f64| Component::standard(name, standard * factor, dof);
            let mut components =
                vec![line("Display step and scatter, through the fit", size.from_readings, dof)];
            if size.from_accuracy > 0.0 {
                components.push(line(
                    "Accuracy of the indicator, through the fit",
                    size.from_accuracy,
                    f64::INFINITY,
                ));
            }
            let mut made = finding(
                "all stations",
                what,
                unit,
                Some(size.value * factor),
                combine(components).by_draws(),
            );
            made.floor = Some(size.floor * factor);
            made.n = n;
            made.struck = struck;
            made
        };
        let mut tilt = make("tilt", &spindle.tilt, self.angle, angle);
        tilt.notes
            .push(format!("The tilt lies {:.0}° from the offset, seen along the axis.", spindle.between));
        if !tilt.at_floor() {
            tilt.remark = format!("{:.0}° from the offset", spindle.between);
        }
        vec![make("offset", &spindle.offset, self.unit, 1.0), tilt]
    }
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
