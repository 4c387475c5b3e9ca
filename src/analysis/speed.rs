//! `speed`: the speed that was set against the speed that was measured.

use crate::findings::{
    Budget, Cell, CheckFindings, Details, Expanded, Finding, Pattern, RawTable, VisitFindings,
};
use crate::quantity::{Kind, Quantity, Unit, significant};
use crate::schema::{Form, Own, list, quantity, reading, some_map_of, unit};
use crate::session::{
    Better, Check, Problem, Problems, Reading, Session, Setting, SourceFile, readings_of, settings_of,
};
use std::sync::Arc;

use super::blank::{self, Blank};
use super::repeated::mean_of;
use super::statistics::sample;
use super::uncertainty::Shown;
use super::{Examined, Measure, Prepared, Sitting, What};

/// The measure.
#[derive(Debug)]
pub struct SetSpeed;

/// For the chart: what was read at each setting, as errors.
#[derive(Clone, Debug, PartialEq)]
pub struct SpeedDetails {
    /// The settings in the order written.
    pub settings: Vec<SpeedSetting>,
}

/// One setting.
#[derive(Clone, Debug, PartialEq)]
pub struct SpeedSetting {
    /// As findings name it.
    pub at: String,
    /// The speed that was set.
    pub set: Quantity,
    /// Each reading's error in percent, and whether it was struck.
    pub errors: Vec<(f64, bool)>,
}

impl Measure for SetSpeed {
    fn name(&self) -> &'static str {
        "speed"
    }

    fn whats(&self) -> &'static [What] {
        const { &[What::new("error", "error of the set speed")] }
    }

    fn better(&self) -> Option<Better> {
        Some(Better::Nearer)
    }

    fn all_places(&self) -> Option<&'static str> {
        Some("all speeds")
    }

    fn schema(&self) -> Own {
        let speed = [Kind::RotationalSpeed];
        let readings = Form::new().need(
            "at",
            some_map_of(&quantity(&speed), list(reading(&speed)).at_least(1)),
            "What was measured at each set speed: {1000 rpm: [1003, 1002]}.",
        );
        Own {
            says: "The speed that was set against the speed that was measured.",
            check: Form::new().may("unit", unit(&speed), "The unit of bare readings: rpm."),
            readings: vec![readings],
        }
    }

    fn prepare(&self, _: &Session, check: &Check, problems: &mut Problems) -> Option<Box<dyn Prepared>> {
        check.own.clone().finish(problems);
        let bare = speed_unit(check, problems)?;
        Some(Box::new(Ready {
            bare,
            rpm: Unit::known(Kind::RotationalSpeed, "rpm")?,
            percent: Unit::known(Kind::Ratio, "%")?,
        }))
    }

    fn patterns(&self, _: &Session, _: &CheckFindings, _: &[CheckFindings]) -> Vec<Pattern> {
        Vec::new()
    }

    fn blanks(&self, visit: &VisitFindings) -> Vec<Blank> {
        blank::like(&blank::merged(&visit.raw), self.order())
    }

    fn usual(&self, _: &Session, check: &Check) -> Vec<Blank> {
        blank::like(
            &[blank::settings(check.unit.or(Unit::known(Kind::RotationalSpeed, "rpm")), 4, 4)],
            self.order(),
        )
    }

    fn cautions(&self) -> &'static [&'static str] {
        &[
            "A tachometer on a turning part: keep hands, sleeves and hair clear, stand out of the plane \
             of the blade or work, and put the reflective mark on with the machine unplugged.",
            "Under a strobe a turning part can seem to stand still: never touch it.",
        ]
    }

    fn methods(&self) -> &'static [&'static str] {
        &["Set speed: error = (mean of the readings − set speed)/set speed, where the set speed is \
             taken as a name without an uncertainty of its own; the mean's uncertainty is that of \
             repeated numbers, a percentage accuracy being of the number shown. A reading near a \
             multiple or a fraction of the set speed is pointed out and never corrected (JCGM 100:2008, \
             4.2, 4.3.7; the last is common practice)."]
    }
}

/// The unit of bare readings, where the check gives one; `Some(None)` where it gives none.
#[expect(clippy::option_option, reason = "the outer one says whether the check can be used")]
pub(super) fn speed_unit(check: &Check, problems: &mut Problems) -> Option<Option<Unit>> {
    let Some(unit) = check.unit else { return Some(None) };
    // "Hz" is spelled alike as a frequency.
    let speed = Unit::known(Kind::RotationalSpeed, unit.symbol());
    if speed.is_none() {
        problems.push(
            Problem::error(
                format!(
                    "the check '{}' needs {} as its unit, not {}",
                    check.id,
                    Kind::RotationalSpeed.words(),
                    unit.kind().words()
                ),
                check.place.clone(),
            )
            .expected("'unit' is the unit of bare readings of the tachometer")
            .help("write for example: unit: rpm"),
        );
    }
    speed.map(Some)
}

struct Ready {
    bare: Option<Unit>,
    rpm: Unit,
    percent: Unit,
}

impl Prepared for Ready {
    fn unit(&self) -> Unit {
        self.percent
    }

    fn examine(&self, sitting: &Sitting<'_>, problems: &mut Problems) -> Option<Examined> {
        let mut own = sitting.readings.own.clone();
        let node = own.need("at", "{1000 rpm: [1003, 1002]}", problems);
        let shown = sitting.shown(self.rpm, problems);
        let source = Arc::clone(own.source());
        let settings = node.and_then(|node| settings_of(&node, &source, "'at'", problems));
        own.finish(problems);
        let (shown, settings) = (shown?, settings?);
        let wanted = settings.len();
        let found: Vec<At> =
            settings.iter().filter_map(|setting| self.setting(setting, &source, &shown, problems)).collect();
        if found.len() < wanted {
            return None;
        }
        Some(Examined {
            raw: found.iter().map(|at| raw(at, self.bare)).collect(),
            set_up: Vec::new(),
            details: Details::new(SpeedDetails {
                settings: found
                    .iter()
                    .map(|at| SpeedSetting {
                        at: at.finding.at.clone(),
                        set: at.set,
                        errors: at.errors.clone(),
                    })
                    .collect(),
            }),
            findings: found.into_iter().map(|at| at.finding).collect(),
            notes: Vec::new(),
        })
    }
}

/// What was read at one setting.
struct At {
    set: Quantity,
    finding: Finding,
    read: Vec<Reading>,
    errors: Vec<(f64, bool)>,
}

impl Ready {
    fn setting(
        &self,
        setting: &Setting,
        source: &Arc<SourceFile>,
        shown: &Shown,
        problems: &mut Problems,
    ) -> Option<At> {
        let set = self.set_speed(setting, problems)?;
        let bare = self.bare.or(Some(setting.quantity.unit()));
        let what = format!("the list at {}", setting.at);
        let read = readings_of(&setting.node, source, &what, &[Kind::RotationalSpeed], bare, problems)?;
        let mut values: Vec<(f64, bool)> = Vec::new();
        for reading in &read {
            let value = reading.quantity.to(self.rpm).ok()?;
            if value < 0.0 {
                problems.push(
                    Problem::error("a measured speed below zero", reading.place.clone())
                        .expected("a tachometer shows how fast, not which way")
                        .help("write the speed without a sign, or strike the reading"),
                );
                return None;
            }
            values.push((value + shown.correction, !reading.counts()));
        }
        let kept: Vec<f64> = values.iter().filter(|(_, struck)| !struck).map(|(value, _)| *value).collect();
        if kept.is_empty() {
            problems.push(
                Problem::error(format!("every reading at {} is struck", setting.at), setting.place.clone())
                    .expected("expected at least one reading that counts")
                    .help("take this setting out of the visit, or measure again"),
            );
            return None;
        }
        let error_of = |speed: f64| 100.0 * (speed - set) / set;
        let mean = mean_of(&setting.at, "error", &kept, self.rpm, shown);
        let mut finding = in_percent(mean, set, self.percent, error_of);
        finding.struck = read.len() - kept.len();
        if finding.struck > 0 {
            let all: Vec<f64> = values.iter().map(|(value, _)| *value).collect();
            finding.with_struck = Some(error_of(sample(&all).mean));
        }
        finding.notes.extend(harmonic(sample(&kept).mean / set));
        let errors = values.iter().map(|(value, struck)| (error_of(*value), *struck)).collect();
        Some(At { set: setting.quantity, finding, read, errors })
    }

    /// The set speed in rpm: a speed, above zero.
    fn set_speed(&self, setting: &Setting, problems: &mut Problems) -> Option<f64> {
        let wrong = match setting.quantity.to(self.rpm) {
            Ok(set) if set > 0.0 => return Some(set),
            Ok(_) => format!("a set speed of {} has nothing to compare with", setting.at),
            Err(_) => format!("the setting {} is {}", setting.at, setting.quantity.unit().kind().words()),
        };
        problems.push(
            Problem::error(wrong, setting.place.clone())
                .expected("expected a set speed above zero")
                .help("write for example: at: {1000 rpm: [1003, 1002]}"),
        );
        None
    }
}

/// A mean speed as an error of the set speed: every line of its budget in percent of what was set.
fn in_percent(mean: Finding, set: f64, percent: Unit, error_of: impl Fn(f64) -> f64) -> Finding {
    let share = 100.0 / set;
    let mut components = mean.budget.components;
    for line in &mut components {
        line.estimate *= share;
        line.contribution *= share;
    }
    let whole = mean.budget.expanded;
    let expanded = Expanded { standard: whole.standard * share, expanded: whole.expanded * share, ..whole };
    Finding {
        value: mean.value.map(error_of),
        unit: percent,
        budget: Budget { components, expanded, drawn: false, lift: 0.0 },
        ..mean
    }
}

/// What a tachometer shows when it counts wrong: twice or three times as much for two or three
/// marks, a half, a third or a quarter under a strobe set to a fraction (common
/// practice). Nothing else than the ratio tells these from a belt on another step.
fn harmonic(ratio: f64) -> Option<String> {
    let (_, why) = [
        (2.0, "two reflective marks count every turn twice"),
        (3.0, "three reflective marks count every turn three times"),
        (0.5, "a strobe shows a still picture at half the speed too"),
        (1.0 / 3.0, "a strobe shows a still picture at a third of the speed too"),
        (0.25, "a strobe shows a still picture at a quarter of the speed too"),
    ]
    .into_iter()
    .find(|(multiple, _)| (ratio / multiple - 1.0).abs() < 0.05)?;
    Some(format!(
        "The tachometer showed {} times the set speed: {why}. Check it before believing this; nothing was \
         corrected.",
        significant(ratio, 3)
    ))
}

fn raw(at: &At, bare: Option<Unit>) -> RawTable {
    let unit = bare.unwrap_or(at.set.unit());
    RawTable {
        at: at.finding.at.clone(),
        columns: std::iter::once("Reading".to_owned())
            .chain((1..=at.read.len()).map(|index| index.to_string()))
            .collect(),
        rows: vec![(
            unit.symbol().to_owned(),
            at.read
                .iter()
                .map(|reading| Cell { text: reading.text.clone(), struck: reading.struck.clone() })
                .collect(),
        )],
        unit,
    }
}
