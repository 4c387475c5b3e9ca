//! `quantity`: anything read as one number, again and again.

use crate::findings::{Budget, Cell, CheckFindings, Details, Pattern, RawTable};
use crate::quantity::Unit;
use crate::schema::{Form, Own, list, reading};
use crate::session::{Better, Check, Problem, Problems, Reading, Session, readings_of};

use super::repeated::mean_of;
use super::statistics::sample;
use super::uncertainty::Shown;
use super::{Examined, Measure, Prepared, Sitting, What};

/// The measure.
#[derive(Debug)]
pub struct RepeatedNumber;

/// For the chart: the readings in the order taken.
#[derive(Clone, Debug, PartialEq)]
pub struct RepeatedDetails {
    /// The number, and whether it was struck.
    pub readings: Vec<(f64, bool)>,
    /// Their unit.
    pub unit: Unit,
}

impl Measure for RepeatedNumber {
    fn name(&self) -> &'static str {
        "quantity"
    }

    fn whats(&self) -> &'static [What] {
        const { &[What::new("mean", "mean")] }
    }

    fn better(&self) -> Option<Better> {
        None
    }

    fn schema(&self) -> Own {
        let readings = list(reading(&[])).at_least(1);
        let readings = Form::new().need("readings", readings, "In the order taken: [12.1, 12.3, 12.0].");
        Own {
            says: "Anything read as one number, again and again.",
            check: Form::new(),
            readings: vec![readings],
        }
    }

    fn prepare(
        &self,
        session: &Session,
        check: &Check,
        problems: &mut Problems,
    ) -> Option<Box<dyn Prepared>> {
        check.own.clone().finish(problems);
        let unit = check.unit.or_else(|| first_unit(session, check));
        if unit.is_none() && !session.visits.iter().all(|visit| visit.readings_of(&check.id).is_none()) {
            problems.push(
                Problem::error(format!("the check '{}' has no unit", check.id), check.place.clone())
                    .expected("expected 'unit'")
                    .help("write for example: unit: A"),
            );
            return None;
        }
        let unit = unit.or_else(|| Unit::known(crate::quantity::Kind::Count, "count"))?;
        Some(Box::new(Ready { unit }))
    }

    fn patterns(&self, _: &Session, _: &CheckFindings, _: &[CheckFindings]) -> Vec<Pattern> {
        Vec::new()
    }

    fn expected(&self, shown: &Shown, unit: Unit) -> Option<Budget> {
        Some(mean_of("", "mean", &[0.0], unit, shown).budget)
    }

    fn cautions(&self) -> &'static [&'static str] {
        &[
            "Running tests: guards fitted, eye and ear protection on, nobody in line with the blade \
             or work, and no reaching over a turning blade.",
            "Readings on mains wiring or inside an electrical enclosure are for a qualified person.",
        ]
    }

    fn methods(&self) -> &'static [&'static str] {
        &["Repeated numbers: mean and standard deviation (n − 1); u² = s²/n + d²/12 + the \
             instrument's part. The display step d is not divided by the root of n, since rounding \
             errors are not independent (JCGM 100:2008, 4.2, 4.3.7, F.2.2.1)."]
    }
}

/// The unit that the first reading is written in.
fn first_unit(session: &Session, check: &Check) -> Option<Unit> {
    let mut silent = Problems::default();
    session.visits.iter().find_map(|visit| {
        let mut own = visit.readings_of(&check.id)?.own.clone();
        let node = own.get("readings")?;
        let read = readings_of(&node, own.source(), "'readings'", &[], None, &mut silent)?;
        read.first().map(|reading| reading.quantity.unit())
    })
}

struct Ready {
    unit: Unit,
}

impl Prepared for Ready {
    fn unit(&self) -> Unit {
        self.unit
    }

    fn examine(&self, sitting: &Sitting<'_>, problems: &mut Problems) -> Option<Examined> {
        let mut own = sitting.readings.own.clone();
        let node = own.need("readings", "[12.1, 12.3, 12.0]", problems);
        let shown = sitting.shown(self.unit, problems);
        let kinds = [self.unit.kind()];
        let read = node.as_ref().and_then(|node| {
            readings_of(node, own.source(), "'readings'", &kinds, Some(self.unit), problems)
        });
        let place = own.place();
        own.finish(problems);
        let (shown, read) = (shown?, read?);
        let values = |struck: bool| -> Vec<f64> {
            read.iter()
                .filter(|reading| struck || reading.counts())
                .filter_map(|reading| reading.quantity.to(self.unit).ok())
                .map(|value| value + shown.correction)
                .collect()
        };
        let kept = values(false);
        if kept.is_empty() {
            problems.push(
                Problem::error("every reading is struck", place)
                    .expected("expected at least one reading that counts")
                    .help("take the check's readings out of this visit, or measure again"),
            );
            return None;
        }
        let mut mean = mean_of("", "mean", &kept, self.unit, &shown);
        mean.struck = read.len() - kept.len();
        if mean.struck > 0 {
            mean.with_struck = Some(sample(&values(true)).mean);
        }
        Some(Examined {
            findings: vec![mean],
            raw: vec![raw(&read, self.unit)],
            set_up: Vec::new(),
            details: Details::new(RepeatedDetails {
                readings: read
                    .iter()
                    .filter_map(|reading| {
                        let value = reading.quantity.to(self.unit).ok()?;
                        Some((value + shown.correction, !reading.counts()))
                    })
                    .collect(),
                unit: self.unit,
            }),
            notes: Vec::new(),
        })
    }
}

fn raw(read: &[Reading], unit: Unit) -> RawTable {
    RawTable {
        at: String::new(),
        columns: std::iter::once("Reading".to_owned())
            .chain((1..=read.len()).map(|index| index.to_string()))
            .collect(),
        rows: vec![(
            unit.symbol().to_owned(),
            read.iter()
                .map(|reading| Cell { text: reading.text.clone(), struck: reading.struck.clone() })
                .collect(),
        )],
        unit,
    }
}
