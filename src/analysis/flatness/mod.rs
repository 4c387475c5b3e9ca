//! `flatness`: heights over a surface (a table, a bed) against the minimum zone and the least-squares
//! plane (ISO 1101:2017, 17.3; ISO 12781; ISO 230-1).

use crate::findings::{CheckFindings, Details, Finding, Pattern, VisitFindings};
use crate::quantity::{Unit, significant, with_unit};
use crate::schema::Own;
use crate::session::{Better, Check, Problem, Problems, Session};

use super::blank::{self, Blank, Grows, Order};
use super::form::{self, BendKind, Frame, Taken};
use super::readings_needed::Repeated;
use super::zone::{Against, Places};
use super::{Examined, Measure, Prepared, Sitting, What};

mod readings;
mod schema;

use readings::{Layout, Surface};

/// The numbers it gives, and what each is held against.
const FORMS: [(&str, &str, Against); 2] = [
    ("flatness", "flatness", Against::MinimumZone),
    ("flatness_least_squares", "flatness", Against::LeastSquares),
];

/// The measure.
#[derive(Debug)]
pub struct Flatness;

/// For the chart: heights about the middle of the minimum zone.
#[derive(Clone, Debug, PartialEq)]
pub struct FlatnessDetails {
    /// The unit of x and y.
    pub length: Unit,
    /// Every place of the layout.
    pub points: Vec<FlatnessPoint>,
    /// Half the width of the zone.
    pub half_zone: f64,
}

/// One place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FlatnessPoint {
    /// Along a row.
    pub x: f64,
    /// From row to row.
    pub y: f64,
    /// The height; none at a hole, or where every reading is struck.
    pub height: Option<f64>,
    /// Row and column, of a grid.
    pub cell: Option<(usize, usize)>,
}

impl Measure for Flatness {
    fn name(&self) -> &'static str {
        "flatness"
    }

    fn whats(&self) -> &'static [What] {
        const {
            &[
                What::new(FORMS[0].0, "flatness (minimum zone)"),
                What::new(FORMS[1].0, "flatness (least squares)"),
            ]
        }
    }

    fn better(&self) -> Option<Better> {
        Some(Better::Lower)
    }

    fn deciding(&self) -> &'static [&'static str] {
        &["places"]
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
        Frame::of(session, check, problems).map(|frame| Box::new(Ready(frame)) as Box<dyn Prepared>)
    }

    fn patterns(&self, _: &Session, own: &CheckFindings, _: &[CheckFindings]) -> Vec<Pattern> {
        own.visits.iter().filter_map(|visit| bent(own, visit)).collect()
    }

    fn order(&self) -> Order {
        Order::ThereAndBack
    }

    fn blanks(&self, visit: &VisitFindings) -> Vec<Blank> {
        let tables: Vec<_> = visit.raw.iter().map(readings::places_as_heads).collect();
        blank::like(&tables, self.order())
    }

    fn usual(&self, session: &Session, check: &Check) -> Vec<Blank> {
        let unit = form::length_unit(session, check, &mut Problems::default());
        let grid = unit.map(|unit| blank::empty("", blank::heads("Row", 5), &blank::numbers(5), unit));
        blank::like(grid.as_slice(), self.order())
    }

    fn repeated(&self, visit: &VisitFindings, _: &Finding) -> Option<Repeated> {
        Some(Repeated { words: ("pass", "passes"), n: visit.raw.len(), grows: Grows::Not })
    }

    fn cautions(&self) -> &'static [&'static str] {
        form::CAUTIONS
    }

    fn methods(&self) -> &'static [&'static str] {
        &[
            "Flatness: the width of the narrowest zone between two parallel planes that holds every height, found \
             exactly as a linear programme; given too about the least-squares plane, which never comes out \
             smaller (ISO 1101:2017, 17.3; ISO 230-1).",
            form::PASSES,
            form::DRAWN,
        ]
    }
}

/// A bow or a twist that explains most of what a surface departs by.
fn bent(own: &CheckFindings, visit: &VisitFindings) -> Option<Pattern> {
    let details = visit.details.of::<FlatnessDetails>()?;
    let finding = visit.finding("", FORMS[0].0)?;
    let kept = || details.points.iter().filter_map(|point| Some((point, point.height?)));
    let points: Vec<(f64, f64)> = kept().map(|(point, _)| (point.x, point.y)).collect();
    let heights: Vec<f64> = kept().map(|(_, height)| height).collect();
    let bend = form::telling(finding, &points, &heights)?;
    let size = with_unit(&significant(bend.size.abs(), 2), own.unit);
    let share = 100.0 * bend.share;
    let middle = if bend.size > 0.0 { "high" } else { "low" };
    let says = match bend.kind {
        BendKind::Along => format!(
            "Along the rows the middle stands {middle} by {size}, which explains {share:.0} % of the departures: \
             consistent with a bow along them."
        ),
        BendKind::Across => format!(
            "From row to row the middle stands {middle} by {size}, which explains {share:.0} % of the departures: \
             consistent with a bow across them."
        ),
        BendKind::Twist => {
            let (near, far) = if bend.size > 0.0 { ("high", "low") } else { ("low", "high") };
            format!(
                "The corner where the readings begin and the one opposite stand {near}, the other two {far}, by \
                 {size} from corner to corner, which explains {share:.0} % of the departures: consistent with a \
                 twist."
            )
        }
    };
    Some(Pattern { visit: visit.visit.clone(), says })
}

struct Ready(Frame);

impl Prepared for Ready {
    fn unit(&self) -> Unit {
        self.0.unit
    }

    fn examine(&self, sitting: &Sitting<'_>, problems: &mut Problems) -> Option<Examined> {
        let mut own = sitting.readings.own.clone();
        let surface = Surface::read(&mut own, self.0.unit, problems);
        let place = own.place();
        own.finish(problems);
        let shown = sitting.travel(self.0.unit, problems);
        let (surface, shown) = (surface?, shown?);
        let taken = Taken {
            places: Places::surface(&surface.places),
            observed: surface.observed(&self.0, &shown),
            shown: &shown,
            unit: self.0.unit,
            reference: &self.0.reference,
        };
        let Some(formed) = form::form(&taken, &FORMS) else {
            problems.push(too_few(&surface, &taken, place));
            return None;
        };
        let details = details(&surface, &formed);
        let mut findings = formed.findings.clone();
        if let Some(main) = findings.first_mut() {
            main.notes.extend(extremes(&details, self.0.unit));
        }
        let mut set_up =
            vec![("places".to_owned(), surface.words()), ("passes".to_owned(), surface.passes.to_string())];
        set_up.extend(self.0.facts());
        Some(Examined {
            findings,
            raw: surface.raw(self.0.unit),
            set_up,
            details: Details::new(details),
            notes: form::notes(&taken, &formed),
        })
    }
}

/// Three points always lie in a plane, and points along one line in many.
fn too_few(surface: &Surface, taken: &Taken<'_, 4>, place: crate::session::Place) -> Problem {
    let mut kept: Vec<usize> = taken.observed.iter().filter(|o| !o.struck).map(|o| o.at).collect();
    kept.sort_unstable();
    kept.dedup();
    if kept.len() < 4 {
        let struck = taken.observed.iter().any(|reading| reading.struck);
        return Problem::error(format!("{} places are left to judge flatness by", kept.len()), place)
            .expected(if struck { "too many readings are struck" } else { "expected at least 4, better 9" })
            .help("a plane goes through any three points: read the surface at more places");
    }
    let line = match surface.layout {
        Layout::Grid { .. } => "the grid has one row or one column",
        Layout::Scattered => "they all lie on one line",
    };
    Problem::error(format!("a plane cannot be told from these places: {line}"), place)
        .expected("expected places that spread over the surface")
        .help("read along a second line too, or make it a check of straightness")
}

fn details(surface: &Surface, formed: &form::Formed) -> FlatnessDetails {
    let mut heights = vec![None; surface.places.len()];
    for (index, height) in formed.combined.places.iter().zip(&formed.held.heights) {
        heights[*index] = Some(*height);
    }
    let point = |(index, ((x, y), height)): (usize, (&(f64, f64), Option<f64>))| FlatnessPoint {
        x: *x,
        y: *y,
        height,
        cell: surface.cell(index),
    };
    FlatnessDetails {
        length: surface.length,
        points: surface.places.iter().zip(heights).enumerate().map(point).collect(),
        half_zone: formed.held.width / 2.0,
    }
}

/// Where it is highest and lowest.
fn extremes(details: &FlatnessDetails, unit: Unit) -> Option<String> {
    let kept = || details.points.iter().filter_map(|point| Some((point, point.height?)));
    let (high, highest) = kept().max_by(|a, b| a.1.total_cmp(&b.1))?;
    let (low, lowest) = kept().min_by(|a, b| a.1.total_cmp(&b.1))?;
    let at = |point: &FlatnessPoint| match point.cell {
        Some((row, column)) => format!("row {}, column {}", row + 1, column + 1),
        None => format!(
            "x {}, y {}",
            significant(point.x, 5),
            with_unit(&significant(point.y, 5), details.length)
        ),
    };
    Some(format!(
        "Highest at {}, lowest at {}: {} apart about the zone's own plane.",
        at(high),
        at(low),
        with_unit(&significant(highest - lowest, 3), unit)
    ))
}
