//! `squareness`: a right angle by five cuts, by a gap over a length, or by an indicator run up a square
//! (ISO 230-1; five cuts are common practice).

use crate::findings::{CheckFindings, Details, Finding, Pattern, RawTable, VisitFindings};
use crate::quantity::{Quantity, Unit, significant};
use crate::schema::Own;
use crate::session::{Better, Check, Fields, Place, Problem, Problems, Session};

use super::blank::{self, Blank, Grows};
use super::form::{self, Reference};
use super::lean::{self, LeanDetails, Leaning, Names, Units};
use super::readings_needed::Repeated;
use super::uncertainty::Shown;
use super::{Examined, Measure, Prepared, Sitting, What};

mod cuts;
mod gaps;
mod lines;
mod schema;

const NAMES: Names = Names { slope: "out_of_square", angle: "angle", difference: "difference" };

/// The measure.
#[derive(Debug)]
pub struct Squareness;

impl Measure for Squareness {
    fn name(&self) -> &'static str {
        "squareness"
    }

    fn whats(&self) -> &'static [What] {
        const {
            &[
                What::new(NAMES.slope, "out of square"),
                What::new(NAMES.angle, "angle"),
                What::new(NAMES.difference, "departure over the distance"),
            ]
        }
    }

    fn better(&self) -> Option<Better> {
        Some(Better::Nearer)
    }

    fn deciding(&self) -> &'static [&'static str] {
        &["method"]
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
        let reference = Reference::of(&mut own, problems);
        own.finish(problems);
        let fits = lean::limit_is_per_length(check, NAMES.slope, NAMES.difference, None, problems);
        let units = Units::of(session, form::length_unit(session, check, problems)?)?;
        fits.then(|| Box::new(Ready { units, reference }) as Box<dyn Prepared>)
    }

    fn patterns(&self, _: &Session, _: &CheckFindings, _: &[CheckFindings]) -> Vec<Pattern> {
        Vec::new()
    }

    fn legend(&self, own: &CheckFindings) -> Vec<String> {
        lean::signs(own)
    }

    fn usual(&self, session: &Session, check: &Check) -> Vec<Blank> {
        let unit = form::length_unit(session, check, &mut Problems::default());
        let columns = ["Board", "near", "far", "strip"].map(str::to_owned).to_vec();
        let table = unit.map(|unit| blank::empty("", columns, &blank::numbers(3), unit));
        blank::like(table.as_slice(), self.order())
    }

    fn repeated(&self, visit: &VisitFindings, finding: &Finding) -> Option<Repeated> {
        let head = visit.raw.first()?.columns.first()?;
        match head.as_str() {
            "Board" => Some(Repeated { words: ("board", "boards"), n: finding.n, grows: Grows::Rows }),
            // The scatter about a fitted line is not that of a mean.
            "Pass" => None,
            _ => Some(Repeated::readings(finding.n)),
        }
    }

    fn cautions(&self) -> &'static [&'static str] {
        const {
            &[
                form::CAUTIONS[0],
                "Five cuts: guard and riving knife on, a clamp on the work, no hand near the strip, and a piece large \
             enough to hold; a narrow strip beside a turning blade is thrown.",
            ]
        }
    }

    fn methods(&self) -> &'static [&'static str] {
        &[
            "Squareness by five cuts: a board is turned after each cut so that the edge just cut lies on the gauge, \
             and the error adds up four times: (near − far)/4 over the length of the fifth strip (common \
             practice).",
            "Squareness by a gap or by an indicator run up a square: the gap over its distance, or the slope of \
             the least-squares line; of two lines, the second's slope less the first's plus the error of the \
             square. Their own departures from the line count as scatter (ISO 230-1).",
        ]
    }
}

struct Ready {
    units: Units,
    reference: Reference,
}

/// What a way of measuring makes of a visit's readings.
struct Worked {
    /// Each departure over the distance, and whether it was struck.
    departures: Vec<(f64, bool)>,
    over: Quantity,
    step_factor: f64,
    repeat_factor: f64,
    further: Vec<crate::findings::Component>,
    /// How many readings a fit took together, where one did: their scatter is in `further`.
    fitted: Option<usize>,
    raw: Vec<RawTable>,
    set_up: Vec<(String, String)>,
    notes: Vec<String>,
    sign: &'static str,
    along: &'static str,
}

impl Prepared for Ready {
    fn unit(&self) -> Unit {
        self.units.slope
    }

    fn examine(&self, sitting: &Sitting<'_>, problems: &mut Problems) -> Option<Examined> {
        let mut own = sitting.readings.own.clone();
        let shown = sitting.travel(self.units.length, problems);
        let worked = self.worked(&mut own, shown.as_ref(), problems);
        let place = own.place();
        own.finish(problems);
        let (shown, worked) = (shown?, worked?);
        let kept: Vec<f64> =
            worked.departures.iter().filter(|(_, struck)| !struck).map(|(value, _)| *value).collect();
        if kept.is_empty() {
            problems.push(all_struck(place));
            return None;
        }
        let opposite = opposed(&kept);
        let leaning = Leaning {
            kept,
            all: worked.departures.iter().map(|(value, _)| *value).collect(),
            over: worked.over,
            shown: &shown,
            step_factor: worked.step_factor,
            repeat_factor: worked.repeat_factor,
            further: worked.further,
            fitted: worked.fitted,
        };
        let mut findings = leaning.findings(&NAMES, &self.units);
        if let Some(main) = findings.first_mut() {
            main.notes.extend(opposite);
        }
        Some(Examined {
            findings,
            raw: worked.raw,
            set_up: worked.set_up,
            details: Details::new(LeanDetails {
                over: worked.over,
                departures: worked.departures,
                reference: "square",
                along: worked.along,
                name: "Out of square",
                sign: worked.sign,
            }),
            notes: worked.notes,
        })
    }
}

impl Ready {
    /// By whichever way the readings were taken.
    fn worked(&self, own: &mut Fields, shown: Option<&Shown>, problems: &mut Problems) -> Option<Worked> {
        let ways = ["five_cuts", "gap", "lines"].map(|name| (name, own.get(name)));
        let written: Vec<&str> =
            ways.iter().filter(|(_, node)| node.is_some()).map(|(name, _)| *name).collect();
        // Known where the way is not clear, so that a message names the clash and not an unknown field.
        if written.len() != 1 {
            own.get("over");
        }
        match written.as_slice() {
            ["five_cuts"] => cuts::worked(own, &self.units, shown, problems),
            ["gap"] => gaps::worked(own, &self.units, &self.reference, shown, problems),
            ["lines"] => lines::worked(own, &self.units, &self.reference, shown, problems),
            [] => {
                problems.push(
                    Problem::error("no readings of a right angle", own.place())
                        .expected("expected five_cuts, gap or lines")
                        .help(
                            "write for example: five_cuts: [{near: 31.02, far: 31.47, strip: 380 mm}], or over: \
                             300 mm with gap: [0.10, 0.12]",
                        ),
                );
                None
            }
            several => {
                let (first, second) = (several.first().unwrap_or(&""), several.last().unwrap_or(&""));
                problems.push(
                    Problem::error(format!("both '{first}' and '{second}'"), own.place())
                        .expected("expected one way of measuring a right angle")
                        .help("make each way a check of its own: they do not measure the same thing"),
                );
                None
            }
        }
    }
}

fn all_struck(place: Place) -> Problem {
    Problem::error("no departure is left", place)
        .expected("too many readings are struck")
        .help("take the check's readings out of this visit, or measure again")
}

/// Departures of about one size and of both signs: the two ends may have been swapped in some. Nothing
/// is corrected.
fn opposed(kept: &[f64]) -> Option<String> {
    let (most, least) = (
        kept.iter().copied().fold(f64::NEG_INFINITY, f64::max),
        kept.iter().copied().fold(f64::INFINITY, f64::min),
    );
    let alike = kept.iter().all(|value| value.abs() > 0.5 * most.abs().max(least.abs()));
    (kept.len() > 1 && most > 0.0 && least < 0.0 && alike).then(|| {
        format!(
            "The departures have about one size and both signs ({} and {}): the two ends may have been swapped in \
             some of them. Swapped ends swap the sign alone; nothing was corrected.",
            significant(most, 3),
            significant(least, 3)
        )
    })
}
