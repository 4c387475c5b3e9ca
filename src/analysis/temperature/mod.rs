//! `temperature`: how warm a machine gets, how much over the air about it, and how fast (ISO 230-3 in
//! spirit; IEC 60034-1 for steady state).
//!
//! The rise is taken at the moment of the maximum, over the ambient at that moment; where the rise
//! itself was larger at another time, a note says so. A reading of an infrared thermometer is brought
//! to the surface's own emissivity before anything else is computed.

use crate::findings::{Cell, CheckFindings, Details, Finding, Pattern, RawTable, VisitFindings};
use crate::quantity::{Kind, Quantity, Unit, UnitSystem, significant, with_unit};
use crate::schema::Own;
use crate::session::{Better, Check, Instrument, Named, Place, Problem, Problems, Session, did_you_mean};

use super::blank::{self, Blank, Order};
use super::readings_needed::Repeated;
use super::uncertainty::Shown;
use super::{Examined, Measure, Prepared, Sitting, What};

mod bench;
mod conditions;
pub mod emissivity;
mod patterns;
mod place;
mod read;
mod recorded;
mod schema;
mod series;
mod settle;
mod stretch;

use bench::{Bench, Worked};
use series::{Ambient, Series, Step, clock};

/// The numbers it gives.
const WHATS: &[What] = &[
    What::new("maximum", "maximum"),
    What::new("rise", "rise over ambient"),
    What::new("time_of_maximum", "time of the maximum").undirected(),
    What::new("end_rate", "rate at the end").undirected(),
    What::new("settled_at", "settled at").undirected(),
    What::new("time_constant", "time constant").undirected(),
];

/// The measure.
#[derive(Debug)]
pub struct Temperature;

/// For the charts and the patterns: one visit's courses.
#[derive(Clone, Debug, PartialEq)]
pub struct TemperatureDetails {
    /// Place by place.
    pub curves: Vec<Curve>,
    /// Minutes and the ambient, where it is known: its readings, or both ends of the run.
    pub ambient: Vec<(f64, f64)>,
    /// Minutes from which a speed was set, and the speed.
    pub schedule: Vec<(f64, Quantity)>,
    /// The last moment of the run, minutes.
    pub end: f64,
}

/// The course at one place; temperatures in the check's unit.
#[derive(Clone, Debug, PartialEq)]
pub struct Curve {
    /// The place.
    pub place: String,
    /// In the order of time.
    pub points: Vec<CurvePoint>,
    /// The fitted courses: minutes, temperature, ambient.
    pub fits: Vec<Vec<(f64, f64, Option<f64>)>>,
    /// Whether a logger recorded it.
    pub is_recorded: bool,
}

/// A reading, or the mean of a stretch of a recording.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CurvePoint {
    /// Minutes on the run's clock.
    pub minutes: f64,
    /// The temperature.
    pub value: f64,
    /// The lowest sample.
    pub low: f64,
    /// The highest sample.
    pub high: f64,
    /// The ambient at that moment.
    pub ambient: Option<f64>,
    /// Whether it was struck.
    pub struck: bool,
    /// Whether a recording was broken before it.
    pub fresh: bool,
}

impl Measure for Temperature {
    fn name(&self) -> &'static str {
        "temperature"
    }

    fn whats(&self) -> &'static [What] {
        WHATS
    }

    fn better(&self) -> Option<Better> {
        Some(Better::Lower)
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
        let surface = own
            .get("surface_emissivity")
            .and_then(|node| Some((own.fraction("surface_emissivity", problems)?, own.at(&node))));
        let ambient_instrument = own.named("ambient_instrument", problems);
        own.finish(problems);
        let ambient_instrument = known(session, ambient_instrument, problems);
        let unit = check.unit.or(Unit::known(Kind::Temperature, usual_unit(session)))?;
        if unit.kind() != Kind::Temperature {
            problems.push(
                Problem::error(
                    format!("temperature needs a temperature, and {unit} is {}", unit.kind().words()),
                    check.place.clone(),
                )
                .expected("expected a unit of temperature")
                .help("write for example: unit: °F"),
            );
            return None;
        }
        let minutes = Unit::known(Kind::Time, "min")?;
        Some(Box::new(Ready { unit, minutes, surface, ambient_instrument }))
    }

    fn patterns(&self, session: &Session, own: &CheckFindings, _: &[CheckFindings]) -> Vec<Pattern> {
        patterns::read(session, own)
    }

    fn legend(&self, own: &CheckFindings) -> Vec<String> {
        let remarked = |what: &str| {
            let mut all = own.visits.iter().flat_map(|visit| &visit.findings);
            all.any(|finding| finding.what == what && !finding.remark.is_empty())
        };
        let mut legend = Vec::new();
        if remarked("time_constant") {
            legend.push("Beside a time constant stands where the fitted curve settles.".to_owned());
        }
        if remarked("time_of_maximum") {
            legend.push("At the end: the last reading was the highest.".to_owned());
        }
        legend
    }

    fn order(&self) -> Order {
        Order::DownColumns
    }

    fn blanks(&self, visit: &VisitFindings) -> Vec<Blank> {
        let typed = |table: &&RawTable| {
            let heads: Vec<&str> = table.columns.iter().map(String::as_str).take(2).collect();
            !matches!(heads.as_slice(), ["Time", "file" | "throughout"])
        };
        let tables: Vec<RawTable> = visit.raw.iter().filter(typed).cloned().collect();
        blank::like(&blank::merged(&tables), self.order())
    }

    fn usual(&self, session: &Session, check: &Check) -> Vec<Blank> {
        let unit = check.unit.or(Unit::known(Kind::Temperature, usual_unit(session)));
        let times = ["0:00", "2:00", "4:00", "8:00", "15:00", "30:00"].map(str::to_owned);
        let columns = std::iter::once("Place, time".to_owned()).chain(times).collect();
        let places = [String::new(), String::new(), String::new(), "ambient".to_owned()];
        let table = unit.map(|unit| blank::empty("", columns, &places, unit));
        blank::like(table.as_slice(), self.order())
    }

    fn repeated(&self, _: &VisitFindings, _: &Finding) -> Option<Repeated> {
        None
    }

    fn cautions(&self) -> &'static [&'static str] {
        &[
            "Hot parts burn: do not feel for heat on a bearing, a motor or a blade with the hand.",
            "Running tests: guards fitted, eye and ear protection on, sleeves and leads clear of belts and \
             blade. Fix a contact probe while the machine stands still.",
            "A bare bright metal surface looks far too cold to an infrared thermometer: put matt tape or paint \
             on the spot before trusting a low number.",
        ]
    }

    fn methods(&self) -> &'static [&'static str] {
        &[
            "Temperature: the rise is over the ambient at the moment of the maximum; the run follows the \
             speed schedule that is named. Errors of the thermometer in the two readings of a rise are not \
             taken to cancel (ISO 230-3 in spirit; JCGM 100:2008).",
            "Rate at the end: least squares over the last fifth of the time. Settled: the first half hour at one \
             speed over which a fitted line changes by less than 1 K, no reading more than 1 K from it (IEC \
             60034-1, thermal equilibrium).",
            "Time constant: T∞ − (T∞ − T₀)·exp(−t/τ) by Levenberg–Marquardt from every hollow of the sum of \
             squares along τ, 95 % interval with t(n − 3), widened where residuals hang together; refused \
             where the readings do not carry it (NIST StRD, BoxBOD and Misra1a, JCGM 100:2008).",
            "Emissivity: ε·T⁴ = ε₀·T_shown⁴ − (ε₀ − ε)·T_ambient⁴ in kelvin, the surroundings at ambient: \
             a broad-band approximation; ε is taken to be known to ±0.05 (Stefan–Boltzmann law; ±0.05 is common practice).",
        ]
    }
}

/// The instrument of that id, or a message that there is none.
fn known(session: &Session, named: Option<Named>, problems: &mut Problems) -> Option<Named> {
    let named = named?;
    if session.instrument(&named.id).is_some() {
        return Some(named);
    }
    let ids: Vec<&str> = session.instruments.iter().map(|instrument| instrument.id.as_str()).collect();
    problems.push(
        Problem::error(format!("there is no instrument '{}'", named.id), named.place)
            .expected("expected the id of an instrument")
            .help(did_you_mean(&named.id, &ids)),
    );
    None
}

/// The unit where a check names none.
fn usual_unit(session: &Session) -> &'static str {
    match session.units {
        UnitSystem::Inch => "°F",
        UnitSystem::Metric => "°C",
    }
}

struct Ready {
    unit: Unit,
    minutes: Unit,
    surface: Option<(f64, Place)>,
    ambient_instrument: Option<Named>,
}

/// One visit's readings as read.
struct Visited<'a> {
    shown: Shown,
    ambient_shown: Shown,
    ambient: Ambient,
    /// Its readings, where there are several.
    ambient_series: Option<Series>,
    ambient_instrument: Option<&'a Instrument>,
    schedule: Vec<Step>,
    places: Vec<Series>,
}

impl Prepared for Ready {
    fn unit(&self) -> Unit {
        self.unit
    }

    fn examine(&self, sitting: &Sitting<'_>, problems: &mut Problems) -> Option<Examined> {
        let errors = problems.errors();
        let visited = self.visited(sitting, problems)?;
        conditions::check(&visited, sitting, problems);
        if problems.errors() != errors {
            return None;
        }
        let stretches = series::stretches(&visited.schedule);
        let bench = Bench {
            unit: self.unit,
            shown: &visited.shown,
            ambient_shown: &visited.ambient_shown,
            ambient: &visited.ambient,
            instrument: sitting.instrument,
            stretches: &stretches,
            has_schedule: !visited.schedule.is_empty(),
        };
        let mut findings: Vec<Finding> = Vec::new();
        let mut curves = Vec::new();
        for series in &visited.places {
            let worked = Worked::of(&bench, series, problems)?;
            conditions::say_outside(&worked, sitting, problems);
            let (found, curve) = place::findings(&worked, self.minutes);
            findings.extend(found);
            curves.push(curve);
        }
        let order = |finding: &Finding| WHATS.iter().position(|what| what.name == finding.what);
        findings.sort_by_key(order);
        Some(Examined {
            findings,
            raw: raw(&visited, self.unit),
            set_up: conditions::set_up(&visited, sitting),
            details: Details::new(details(&visited, curves)),
            notes: conditions::notes(&visited, sitting, self.unit),
        })
    }
}

impl Ready {
    fn visited<'a>(&self, sitting: &Sitting<'a>, problems: &mut Problems) -> Option<Visited<'a>> {
        let mut own = sitting.readings.own.clone();
        let errors = problems.errors();
        let named = own.named("ambient_instrument", problems);
        let named = known(sitting.session, named, problems).or_else(|| self.ambient_instrument.clone());
        let shown = sitting.shown(self.unit, problems);
        let ambient_instrument = named.as_ref().and_then(|named| sitting.session.instrument(&named.id));
        let ambient_shown = match (ambient_instrument, &named) {
            (Some(instrument), Some(named)) => Shown::of(instrument, self.unit, &named.place, problems),
            // As good as the thermometer used, as far as anybody knows; its correction is its own.
            _ => shown.clone().map(|shown| Shown { correction: 0.0, ..shown }),
        };
        let nothing = Shown::nothing();
        let ambient =
            read::ambient(&mut own, sitting, self.unit, ambient_shown.as_ref().unwrap_or(&nothing), problems);
        let schedule = read::schedule(&mut own, problems);
        let mut places =
            read::places(&mut own, sitting, self.unit, shown.as_ref().unwrap_or(&nothing), problems);
        own.finish(problems);
        if problems.errors() != errors || places.is_empty() {
            return None;
        }
        for series in &mut places {
            series.surface = series.surface.take().or_else(|| self.surface.clone());
        }
        let (ambient, ambient_series) = ambient?;
        Some(Visited {
            shown: shown?,
            ambient_shown: ambient_shown?,
            ambient,
            ambient_series,
            ambient_instrument,
            schedule,
            places,
        })
    }
}

fn details(visited: &Visited<'_>, curves: Vec<Curve>) -> TemperatureDetails {
    let moments = || curves.iter().flat_map(|curve| &curve.points).map(|point| point.minutes);
    let begin = moments().fold(f64::INFINITY, f64::min);
    let end = moments().fold(f64::NEG_INFINITY, f64::max);
    let ambient = match &visited.ambient {
        Ambient::Unknown => Vec::new(),
        Ambient::Constant { value, .. } => vec![(begin, *value), (end, *value)],
        Ambient::Curve(points) => points.iter().map(|(seconds, value)| (seconds / 60.0, *value)).collect(),
    };
    let schedule = visited.schedule.iter().map(|step| (step.from / 60.0, step.speed)).collect();
    TemperatureDetails { curves, ambient, schedule, end }
}

/// The readings as typed; a recording by what it was.
fn raw(visited: &Visited<'_>, unit: Unit) -> Vec<RawTable> {
    let plain = |text: String| Cell { text, struck: None };
    let mut tables: Vec<RawTable> = Vec::new();
    for series in visited.places.iter().chain(&visited.ambient_series) {
        let (columns, cells): (Vec<String>, Vec<Cell>) = match &series.recorded {
            None => series
                .typed
                .iter()
                .map(|(time, text, struck)| {
                    (time.clone(), Cell { text: text.clone(), struck: struck.clone() })
                })
                .unzip(),
            Some(recorded) => {
                let kept = series.kept();
                let low = kept.iter().map(|point| point.low).fold(f64::INFINITY, f64::min);
                let high = kept.iter().map(|point| point.high).fold(f64::NEG_INFINITY, f64::max);
                let from = kept.first().map_or(0.0, |point| point.seconds);
                let to = kept.last().map_or(0.0, |point| point.seconds);
                [
                    ("file", recorded.file.clone()),
                    ("samples", recorded.samples.to_string()),
                    ("from", clock(from)),
                    ("to", clock(to)),
                    ("lowest", significant(low, 4)),
                    ("highest", significant(high, 4)),
                ]
                .map(|(head, text)| (head.to_owned(), plain(text)))
                .into_iter()
                .unzip()
            }
        };
        let columns = std::iter::once("Time".to_owned()).chain(columns).collect();
        let rows = vec![(unit.symbol().to_owned(), cells)];
        tables.push(RawTable { at: series.name.clone(), columns, rows, unit });
    }
    if let Ambient::Constant { value, .. } = &visited.ambient {
        // Beneath readings at moments it stands in their first column, and needs no head of its own.
        let timed =
            tables.first().and_then(|table| table.columns.get(..2)).filter(|heads| heads[0] == "Time");
        let columns =
            timed.map_or_else(|| vec!["Time".to_owned(), "throughout".to_owned()], <[String]>::to_vec);
        let at = if timed.is_some() { "ambient, throughout" } else { "ambient" };
        let rows = vec![(unit.symbol().to_owned(), vec![plain(significant(*value, 6))])];
        tables.push(RawTable { at: at.to_owned(), columns, rows, unit });
    }
    tables
}

/// A temperature with its unit.
fn said(value: f64, unit: Unit) -> String {
    with_unit(&significant(value, 4), unit)
}
