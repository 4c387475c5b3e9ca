//! `parallelism`: a line read at its front and at its rear against another (a blade, a fence, against the
//! slot that guides the work) (ISO 230-1).

use crate::findings::{Cell, CheckFindings, Details, Finding, Pattern, RawTable, VisitFindings};
use crate::quantity::{Kind, Quantity, Unit};
use crate::schema::{Form, Own, list, quantity, reading, truth, unit};
use crate::session::{Better, Check, Fields, Problem, Problems, Reading, Session, readings_of};

use super::blank::{self, Blank, Grows, Order};
use super::form::{self, height};
use super::lean::{self, LeanDetails, Leaning, Names, Units};
use super::readings_needed::Repeated;
use super::uncertainty::Shown;
use super::{Examined, Measure, Prepared, Sitting, What};

const NAMES: Names = Names { slope: "out_of_parallel", angle: "angle", difference: "difference" };

/// What the sign means.
const SIGN: &str = "Positive: the rear reads higher than the front; with an indicator, the rear then stands nearer to \
     what carries the indicator.";

/// Said where a turning part was not read at the same place of it.
const BLADE_IS_IN_IT: &str = "Front and rear were not read at the same tooth, so the blade's own run-out and its \
     plate's waves are in this number, and nothing here tells how much.";

/// The measure.
#[derive(Debug)]
pub struct Parallelism;

impl Measure for Parallelism {
    fn name(&self) -> &'static str {
        "parallelism"
    }

    fn whats(&self) -> &'static [What] {
        const {
            &[
                What::new(NAMES.slope, "out of parallel"),
                What::new(NAMES.angle, "angle"),
                What::new(NAMES.difference, "departure over the distance"),
            ]
        }
    }

    fn better(&self) -> Option<Better> {
        Some(Better::Nearer)
    }

    fn deciding(&self) -> &'static [&'static str] {
        &["same tooth"]
    }

    fn schema(&self) -> Own {
        let length = [Kind::Length];
        let side = || list(reading(&length)).at_least(1);
        let check = Form::new()
            .need("apart", quantity(&length), "The distance between the two places where it is read: 180 mm.")
            .may("unit", unit(&length), "The unit of bare readings: thou.");
        let readings = Form::new()
            .need("front", side(), "At the front, in the order taken.")
            .need("rear", side(), "At the rear, as many: they are taken in pairs.")
            .may("same_tooth", truth(), "Whether front and rear were read at the same tooth of the blade.");
        Own {
            says: "A line read at its front and at its rear against another: a blade against its slot.",
            check,
            readings: vec![readings],
        }
    }

    fn prepare(
        &self,
        session: &Session,
        check: &Check,
        problems: &mut Problems,
    ) -> Option<Box<dyn Prepared>> {
        let mut own = check.own.clone();
        let apart = form::distance(&mut own, "apart", "180 mm", problems);
        own.finish(problems);
        let fits = lean::limit_is_per_length(check, NAMES.slope, NAMES.difference, apart, problems);
        let units = Units::of(session, form::length_unit(session, check, problems)?)?;
        let apart = apart.filter(|_| fits)?;
        Some(Box::new(Ready { apart, units }))
    }

    fn patterns(&self, _: &Session, _: &CheckFindings, _: &[CheckFindings]) -> Vec<Pattern> {
        Vec::new()
    }

    fn legend(&self, own: &CheckFindings) -> Vec<String> {
        lean::signs(own)
    }

    fn order(&self) -> Order {
        Order::DownColumns
    }

    fn usual(&self, session: &Session, check: &Check) -> Vec<Blank> {
        let unit = form::length_unit(session, check, &mut Problems::default());
        let sides = ["front".to_owned(), "rear".to_owned()];
        let table = unit.map(|unit| blank::empty("", blank::heads("Pair", 5), &sides, unit));
        blank::like(table.as_slice(), self.order())
    }

    fn repeated(&self, _: &VisitFindings, finding: &Finding) -> Option<Repeated> {
        Some(Repeated { words: ("pair", "pairs"), n: finding.n, grows: Grows::Columns })
    }

    fn cautions(&self) -> &'static [&'static str] {
        form::CAUTIONS
    }

    fn methods(&self) -> &'static [&'static str] {
        &[
            "Parallelism: the rear reading less the front one, pair by pair in the order written, over the distance \
             between the two places; on a blade both at the same tooth, else its run-out is in the number. The \
             distance is taken as exact; the accuracy of the indicator enters once, as the error of the travel \
             that it shows (ISO 230-1; the rule of the same tooth is common practice).",
        ]
    }
}

struct Ready {
    apart: Quantity,
    units: Units,
}

impl Prepared for Ready {
    fn unit(&self) -> Unit {
        self.units.slope
    }

    fn examine(&self, sitting: &Sitting<'_>, problems: &mut Problems) -> Option<Examined> {
        let mut own = sitting.readings.own.clone();
        let front = self.side(&mut own, "front", "[0.0, 0.5]", problems);
        let rear = self.side(&mut own, "rear", "[3.0, 3.5]", problems);
        let same_tooth = own.truth("same_tooth", problems);
        let place = own.place();
        own.finish(problems);
        let shown = sitting.travel(self.units.length, problems);
        let (front, rear, shown) = (front?, rear?, shown?);
        if front.len() != rear.len() {
            problems.push(
                Problem::error(
                    format!("{} readings at the front, {} at the rear", front.len(), rear.len()),
                    place,
                )
                .expected("expected as many at the rear as at the front: they are taken in pairs")
                .help("strike a reading that has no partner: {struck: 0.5, because: no partner}"),
            );
            return None;
        }
        let pairs = self.pairs(&front, &rear, &shown);
        let kept: Vec<f64> = pairs.iter().filter(|(_, struck)| !struck).map(|(value, _)| *value).collect();
        if kept.is_empty() {
            problems.push(
                Problem::error("no pair of front and rear is left", place)
                    .expected("too many readings are struck")
                    .help("take the check's readings out of this visit, or measure again"),
            );
            return None;
        }
        let root = 2f64.sqrt();
        let travel = super::statistics::mean(&kept);
        let leaning = Leaning {
            kept,
            all: pairs.iter().map(|(value, _)| *value).collect(),
            over: self.apart,
            shown: &shown,
            step_factor: root,
            repeat_factor: root,
            further: shown.accuracy_line(travel, 1.0).into_iter().collect(),
            fitted: None,
        };
        let mut findings = leaning.findings(&NAMES, &self.units);
        if same_tooth == Some(false) {
            for finding in &mut findings {
                finding.notes.push(BLADE_IS_IN_IT.to_owned());
                finding.remark = [finding.remark.as_str(), "blade's run-out in it"]
                    .iter()
                    .filter(|part| !part.is_empty())
                    .copied()
                    .collect::<Vec<_>>()
                    .join(", ");
            }
        }
        let mut set_up = vec![
            ("distance".to_owned(), self.apart.to_string()),
            ("pairs".to_owned(), front.len().to_string()),
        ];
        if let Some(same) = same_tooth {
            set_up.push(("same tooth".to_owned(), if same { "yes" } else { "no" }.to_owned()));
        }
        Some(Examined {
            findings,
            raw: vec![raw(&front, &rear, self.units.length)],
            set_up,
            details: Details::new(LeanDetails {
                over: self.apart,
                departures: pairs,
                reference: "parallel",
                along: "From front to rear",
                name: "Rear less front",
                sign: SIGN,
            }),
            notes: Vec::new(),
        })
    }
}

impl Ready {
    fn side(
        &self,
        own: &mut Fields,
        name: &'static str,
        example: &str,
        problems: &mut Problems,
    ) -> Option<Vec<Reading>> {
        let node = own.need(name, example, problems)?;
        let what = format!("'{name}'");
        readings_of(&node, own.source(), &what, &[Kind::Length], Some(self.units.length), problems)
    }

    /// Rear less front; a pair is struck where either is.
    fn pairs(&self, front: &[Reading], rear: &[Reading], shown: &Shown) -> Vec<(f64, bool)> {
        let of = |reading: &Reading| height(reading, self.units.length, shown);
        front
            .iter()
            .zip(rear)
            .filter_map(|(front, rear)| Some((of(rear)? - of(front)?, !front.counts() || !rear.counts())))
            .collect()
    }
}

fn raw(front: &[Reading], rear: &[Reading], unit: Unit) -> RawTable {
    let row = |name: &str, readings: &[Reading]| {
        let cell = |reading: &Reading| Cell { text: reading.text.clone(), struck: reading.struck.clone() };
        (name.to_owned(), readings.iter().map(cell).collect())
    };
    RawTable {
        at: String::new(),
        columns: std::iter::once("Pair".to_owned())
            .chain((1..=front.len()).map(|index| index.to_string()))
            .collect(),
        rows: vec![row("front", front), row("rear", rear)],
        unit,
    }
}
