//! `straightness`: heights along a line (a fence, a bed, a straightedge laid on it) against the minimum
//! zone, the least-squares line and the line through the end points (ISO 1101:2017, 17.2; ISO 230-1).

use crate::findings::{Cell, CheckFindings, Details, Finding, Pattern, RawTable, VisitFindings};
use crate::quantity::{Kind, Quantity, Unit, significant, with_unit};
use crate::schema::{Form, Own, list, or_hole, quantity, reading};
use crate::session::{
    Better, Check, Fields, Node, Problem, Problems, Reading, Session, Value, list_of, quantity_of, reading_of,
};

use super::blank::{self, Blank, Grows, HOLE, Order};
use super::form::{self, Frame, MOST_PASSES, Taken};
use super::readings_needed::Repeated;
use super::uncertainty::Shown;
use super::zone::{Against, Observed, Places};
use super::{Examined, Measure, Prepared, Sitting, What};

/// Fewer positions than this say nothing: a line goes through any two.
const FEWEST: usize = 3;

/// The numbers it gives, and what each is held against.
const FORMS: [(&str, &str, Against); 3] = [
    ("straightness", "straightness", Against::MinimumZone),
    ("straightness_least_squares", "straightness", Against::LeastSquares),
    ("straightness_end_points", "straightness", Against::EndPoints),
];

/// The measure.
#[derive(Debug)]
pub struct Straightness;

/// For the chart: a line's heights about the middle of its minimum zone.
#[derive(Clone, Debug, PartialEq)]
pub struct StraightnessDetails {
    /// The unit of positions.
    pub along: Unit,
    /// Position and mean height, in order; positions where nothing counts are left out.
    pub profile: Vec<(f64, f64)>,
    /// Every reading: position, height, whether it was struck.
    pub readings: Vec<(f64, f64, bool)>,
    /// Half the width of the zone.
    pub half_zone: f64,
    /// Those of the profile that touch the zone's edges.
    pub touching: Vec<(f64, f64)>,
    /// Whether heights were read as gaps under a straightedge.
    pub gaps: bool,
}

impl Measure for Straightness {
    fn name(&self) -> &'static str {
        "straightness"
    }

    fn whats(&self) -> &'static [What] {
        const {
            &[
                What::new(FORMS[0].0, "straightness (minimum zone)"),
                What::new(FORMS[1].0, "straightness (least squares)"),
                What::new(FORMS[2].0, "straightness (end points)"),
            ]
        }
    }

    fn better(&self) -> Option<Better> {
        Some(Better::Lower)
    }

    fn deciding(&self) -> &'static [&'static str] {
        &["positions"]
    }

    fn schema(&self) -> Own {
        Own {
            says: "Heights along a line: a fence, a bed.",
            check: form::check_schema(),
            readings: vec![line_schema()],
        }
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
        own.visits.iter().filter_map(|visit| bow(own, visit)).collect()
    }

    fn order(&self) -> Order {
        Order::ThereAndBack
    }

    fn usual(&self, session: &Session, check: &Check) -> Vec<Blank> {
        let unit = form::length_unit(session, check, &mut Problems::default());
        let columns = std::iter::once("Pass".to_owned()).chain(vec![String::new(); 7]).collect();
        let table = unit.map(|unit| blank::empty("", columns, &blank::numbers(3), unit));
        blank::like(table.as_slice(), self.order())
    }

    fn repeated(&self, visit: &VisitFindings, _: &Finding) -> Option<Repeated> {
        let n = visit.raw.first()?.rows.len();
        Some(Repeated { words: ("pass", "passes"), n, grows: Grows::Rows })
    }

    fn cautions(&self) -> &'static [&'static str] {
        form::CAUTIONS
    }

    fn methods(&self) -> &'static [&'static str] {
        &[
            "Straightness: the width of the narrowest zone between two parallel lines that holds every height, \
             found exactly as a linear programme; given too about the least-squares line and the line \
             through the end points, which never come out smaller (ISO 1101:2017, 17.2; ISO 230-1).",
            form::PASSES,
            form::DRAWN,
        ]
    }
}

/// A bow that explains most of what a line departs by.
fn bow(own: &CheckFindings, visit: &crate::findings::VisitFindings) -> Option<Pattern> {
    let details = visit.details.of::<StraightnessDetails>()?;
    let finding = visit.finding("", FORMS[0].0)?;
    let points: Vec<(f64, f64)> = details.profile.iter().map(|(at, _)| (*at, 0.0)).collect();
    let heights: Vec<f64> = details.profile.iter().map(|(_, height)| *height).collect();
    let bend = form::telling(finding, &points, &heights)?;
    let (first, last) = (details.profile.first()?.0, details.profile.last()?.0);
    let over = with_unit(&significant(last - first, 4), details.along);
    let way = if bend.size > 0.0 { "high" } else { "low" };
    let says = format!(
        "The middle stands {way} by {} over {over}, which explains {:.0} % of the departures: consistent with a \
         bow.",
        with_unit(&significant(bend.size.abs(), 2), own.unit),
        100.0 * bend.share
    );
    Some(Pattern { visit: visit.visit.clone(), says })
}

struct Ready(Frame);

/// What a pass read at each position; none where it read nothing.
pub(super) type Pass = Vec<Option<Reading>>;

/// A line's readings as written.
struct Written {
    /// Positions, in the first one's unit, as written.
    along: Vec<Quantity>,
    /// One list a pass.
    passes: Vec<Pass>,
}

impl Prepared for Ready {
    fn unit(&self) -> Unit {
        self.0.unit
    }

    fn examine(&self, sitting: &Sitting<'_>, problems: &mut Problems) -> Option<Examined> {
        let mut own = sitting.readings.own.clone();
        let written = line_of(&mut own, self.0.unit, problems);
        let place = own.place();
        own.finish(problems);
        let shown = sitting.travel(self.0.unit, problems);
        let (written, shown) = (written?, shown?);
        let along_unit = written.along.first()?.unit();
        let along: Vec<f64> = written.along.iter().filter_map(|at| at.to(along_unit).ok()).collect();
        let taken = Taken {
            places: Places::line(&along),
            observed: observed(&written, &self.0, &shown),
            shown: &shown,
            unit: self.0.unit,
            reference: &self.0.reference,
        };
        let Some(formed) = form::form(&taken, &FORMS) else {
            problems.push(
                Problem::error("fewer than three positions are left", place)
                    .expected("too many readings are struck")
                    .help("a line goes through any two points: take the readings out, or measure again"),
            );
            return None;
        };
        let details = details(&along, along_unit, &taken, &formed, self.0.gaps);
        let mut findings = formed.findings.clone();
        if let Some(main) = findings.first_mut() {
            main.notes.push(carried(&details));
        }
        let mut notes = form::notes(&taken, &formed);
        if formed.combined.places.first() != Some(&0)
            || formed.combined.places.last() != Some(&(along.len() - 1))
        {
            notes.push(
                "The first or the last position does not count, so the end points are those of what is left."
                    .to_owned(),
            );
        }
        Some(Examined {
            findings,
            raw: vec![raw(&written, self.0.unit)],
            set_up: self.set_up(&written),
            details: Details::new(details),
            notes,
        })
    }
}

impl Ready {
    fn set_up(&self, written: &Written) -> Vec<(String, String)> {
        let mut facts = vec![
            ("positions".to_owned(), positions(&written.along)),
            ("passes".to_owned(), written.passes.len().to_string()),
        ];
        facts.extend(self.0.facts());
        facts
    }
}

/// "7 over 900 mm, from 0 mm".
fn positions(along: &[Quantity]) -> String {
    let texts: Vec<String> = along.iter().map(ToString::to_string).collect();
    if along.len() <= 12 {
        texts.join(", ")
    } else {
        let ends = (texts.first().cloned().unwrap_or_default(), texts.last().cloned().unwrap_or_default());
        format!("{} from {} to {}", along.len(), ends.0, ends.1)
    }
}

/// Reads `along` and `passes` out of a map: of a check's readings, or of one line of several.
pub(super) fn line_fields(
    own: &mut Fields,
    unit: Unit,
    problems: &mut Problems,
) -> Option<(Vec<Quantity>, Vec<Pass>)> {
    line_of(own, unit, problems).map(|written| (written.along, written.passes))
}

/// The fields of a line.
pub(super) fn line_schema() -> Form {
    let length = [Kind::Length];
    let pass = list(or_hole(reading(&length))).at_least(FEWEST);
    Form::new()
        .need(
            "along",
            list(quantity(&length)).at_least(FEWEST),
            "The positions, each with its unit: [0 mm, 150 mm, 300 mm].",
        )
        .need(
            "passes",
            list(pass).at_least(1).at_most(MOST_PASSES),
            "One list a pass with a reading for each position; '~' where nothing could be read.",
        )
}

fn line_of(own: &mut Fields, unit: Unit, problems: &mut Problems) -> Option<Written> {
    let errors = problems.errors();
    let along = own.need("along", "[0 mm, 150 mm, 300 mm]", problems);
    let passes = own.need("passes", "[[0, 1.5, 0.5], [0, 1.0, 0.5]]", problems);
    let along = along.and_then(|node| positions_of(&node, own, problems));
    let passes = passes.and_then(|node| passes_of(&node, own, unit, along.as_ref().map(Vec::len), problems));
    (problems.errors() == errors).then_some(())?;
    Some(Written { along: along?, passes: passes? })
}

fn positions_of(node: &Node, own: &Fields, problems: &mut Problems) -> Option<Vec<Quantity>> {
    let source = own.source().clone();
    let items = list_of(node, &source, "'along'", problems)?;
    let mut along: Vec<Quantity> = Vec::new();
    for item in &items {
        let Some(at) = quantity_of(item, &source, &[Kind::Length], None, problems) else { continue };
        let twice =
            along.iter().any(|known| at.to(known.unit()).is_ok_and(|at| (at - known.value()).abs() < 1e-9));
        if twice {
            problems.push(
                Problem::error(format!("the position {at} stands twice"), own.at(item))
                    .expected("expected each position once")
                    .help("what was read again goes into another pass"),
            );
        }
        along.push(at);
    }
    if items.len() < FEWEST {
        problems.push(
            Problem::error(
                format!(
                    "{} {} along the line",
                    items.len(),
                    if items.len() == 1 { "position" } else { "positions" }
                ),
                own.at(node),
            )
            .expected(format!("expected at least {FEWEST}, better 7"))
            .help("a straight line goes through any two points: read it at more places"),
        );
    }
    (along.len() == items.len()).then_some(along)
}

fn passes_of(
    node: &Node,
    own: &Fields,
    unit: Unit,
    positions: Option<usize>,
    problems: &mut Problems,
) -> Option<Vec<Pass>> {
    let source = own.source().clone();
    let lists = list_of(node, &source, "'passes'", problems)?;
    if lists.is_empty() || lists.len() > MOST_PASSES {
        problems.push(
            Problem::error(format!("{} passes", lists.len()), own.at(node))
                .expected(format!("expected 1 to {MOST_PASSES} lists, one a pass"))
                .help("write for example: passes: [[0, 1.5, 0.5], [0, 1.0, 0.5]]"),
        );
        return None;
    }
    let mut passes = Vec::new();
    for list in &lists {
        passes.extend(pass_of(list, own, unit, positions, problems));
    }
    (passes.len() == lists.len()).then_some(passes)
}

fn pass_of(
    list: &Node,
    own: &Fields,
    unit: Unit,
    positions: Option<usize>,
    problems: &mut Problems,
) -> Option<Pass> {
    let source = own.source().clone();
    let items = list_of(list, &source, "a pass", problems)?;
    if let Some(wanted) = positions.filter(|wanted| *wanted != items.len()) {
        problems.push(
            Problem::error(
                format!("{} readings in a pass, but {wanted} positions", items.len()),
                own.at(list),
            )
            .expected(format!("expected {wanted} readings"))
            .help("each pass has a place for every position: write '~' where nothing was read"),
        );
    }
    let mut pass = Pass::new();
    for item in &items {
        match item.value {
            Value::Nothing => pass.push(None),
            _ => pass.extend(reading_of(item, &source, &[Kind::Length], Some(unit), problems).map(Some)),
        }
    }
    (pass.len() == items.len()).then_some(pass)
}

/// A pass as a row of a table.
pub(super) fn cells(pass: &Pass) -> Vec<Cell> {
    let cell = |reading: &Option<Reading>| match reading {
        Some(reading) => Cell { text: reading.text.clone(), struck: reading.struck.clone() },
        None => Cell { text: HOLE.to_owned(), struck: None },
    };
    pass.iter().map(cell).collect()
}

fn observed(written: &Written, frame: &Frame, shown: &Shown) -> Vec<Observed> {
    let mut all = Vec::new();
    for (pass, readings) in written.passes.iter().enumerate() {
        for (at, reading) in readings.iter().enumerate() {
            let Some(reading) = reading else { continue };
            let Some(height) = frame.height(reading, shown) else { continue };
            all.push(Observed { at, pass, height, struck: !reading.counts() });
        }
    }
    all
}

fn details(
    along: &[f64],
    along_unit: Unit,
    taken: &Taken<'_, 3>,
    formed: &form::Formed,
    gaps: bool,
) -> StraightnessDetails {
    let held = &formed.held;
    let at = |index: usize| (along[formed.combined.places[index]], held.heights[index]);
    let mut profile: Vec<(f64, f64)> = (0..held.heights.len()).map(at).collect();
    profile.sort_by(|a, b| a.0.total_cmp(&b.0));
    let readings = taken
        .observed
        .iter()
        .zip(&formed.combined.levelled)
        .map(|(reading, levelled)| {
            let middle = held.middle_at(&taken.places, reading.at);
            (along[reading.at], levelled - middle, reading.struck)
        })
        .collect();
    StraightnessDetails {
        along: along_unit,
        profile,
        readings,
        half_zone: held.width / 2.0,
        touching: held.touching.iter().map(|index| at(*index)).collect(),
        gaps,
    }
}

/// Where the zone touches.
fn carried(details: &StraightnessDetails) -> String {
    let way = |height: f64| if height > 0.0 { "above" } else { "below" };
    let mut touching = details.touching.clone();
    touching.sort_by(|a, b| a.0.total_cmp(&b.0));
    let each: Vec<String> = touching
        .iter()
        .take(6)
        .map(|(at, height)| format!("{} ({})", significant(*at, 5), way(*height)))
        .collect();
    let more = if touching.len() > 6 { " and more" } else { "" };
    format!("The zone touches the heights at {}{more} {}.", each.join(", "), details.along)
}

fn raw(written: &Written, unit: Unit) -> RawTable {
    let columns = std::iter::once("Pass".to_owned()).chain(written.along.iter().map(ToString::to_string));
    let row = |(index, pass): (usize, &Pass)| ((index + 1).to_string(), cells(pass));
    RawTable {
        at: String::new(),
        columns: columns.collect(),
        rows: written.passes.iter().enumerate().map(row).collect(),
        unit,
    }
}
