//! `sound`: levels read from a meter or heard in calibrated recordings, at one setting or several.
//!
//! Levels average as energy, and what the background adds is taken off ([`level`]). A recording is
//! heard in one pass ([`meter`]) with the weighting that the check's unit names ([`weighting`]) and
//! its scale from a recorded calibration tone ([`tone`]).

pub mod bands;
pub mod exposure;
pub mod level;
pub mod meter;
mod readings;
mod recorded;
mod schema;
pub mod tone;
pub mod weighting;

#[cfg(test)]
mod tests;

use crate::findings::{
    BoundOn, Cell, CheckFindings, Component, Details, Finding, Pattern, RawTable, VisitFindings,
};
use crate::quantity::{Decimals, Kind, Quantity, Unit, fixed};
use crate::schema::Own;
use crate::session::{Better, Check, Fields, Problem, Problems, Reading, Session, Value};

use super::blank::{self, Blank};
use super::readings_needed::Repeated;
use super::uncertainty::Shown;
use super::{Examined, Measure, Prepared, Sitting, What, finding};
use level::{Averaged, average, clear};
use readings::{Reader, Source, Taken};
pub use recorded::Levels;
use weighting::Weighting;

/// The measure.
#[derive(Debug)]
pub struct Sound;

/// For the charts: what was taken at each setting.
#[derive(Clone, Debug, PartialEq)]
pub struct SoundDetails {
    /// What varies: `speed`.
    pub by: String,
    /// Setting by setting, in the order written.
    pub settings: Vec<SettingDetails>,
}

/// One setting.
#[derive(Clone, Debug, PartialEq)]
pub struct SettingDetails {
    /// As findings name it.
    pub at: String,
    /// The setting; none for a check read in one spot.
    pub setting: Option<Quantity>,
    /// The readings in the check's unit, and whether they were struck.
    pub readings: Vec<(f64, bool)>,
    /// The level of the background, where one was measured.
    pub background: Option<f64>,
    /// What was taken off the level for it, decibels.
    pub taken_off: f64,
    /// What a recording gave.
    pub levels: Option<Levels>,
}

const WHATS: &[What] = &[What::new("level", "level")];

impl Measure for Sound {
    fn name(&self) -> &'static str {
        "sound"
    }

    fn whats(&self) -> &'static [What] {
        WHATS
    }

    fn better(&self) -> Option<Better> {
        Some(Better::Lower)
    }

    fn all_places(&self) -> Option<&'static str> {
        Some("all speeds")
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
        let position = own.text("position", problems).filter(|text| !text.trim().is_empty());
        let by = own.text("by", problems).unwrap_or_else(|| "speed".to_owned());
        own.finish(problems);
        let unit = check.unit.or_else(|| first_unit(session, check)).or(Unit::known(Kind::Level, "dBA"))?;
        if unit.kind() != Kind::Level {
            problems.push(
                Problem::error(
                    format!("sound needs a level, and {unit} is {}", unit.kind().words()),
                    check.place.clone(),
                )
                .expected("expected dBA, dBC, dBZ or dB")
                .help("write for example: unit: dBA"),
            );
            return None;
        }
        Some(Box::new(Ready { unit, bare: check.unit, position, by }))
    }

    fn patterns(&self, _: &Session, _: &CheckFindings, _: &[CheckFindings]) -> Vec<Pattern> {
        Vec::new()
    }

    fn legend(&self, own: &CheckFindings) -> Vec<String> {
        let mut all = own.visits.iter().flat_map(|visit| &visit.findings);
        if all.any(|finding| !finding.remark.is_empty()) {
            vec!["Taken off: what the background adds to the reading, K1 of ISO 3744.".to_owned()]
        } else {
            Vec::new()
        }
    }

    fn blanks(&self, visit: &VisitFindings) -> Vec<Blank> {
        blank::like(&blank::merged(&read_from_a_meter(visit)), self.order())
    }

    fn usual(&self, _: &Session, check: &Check) -> Vec<Blank> {
        let unit = check.unit.or(Unit::known(Kind::Level, "dBA"));
        let rows: Vec<String> = ["", "background"].repeat(3).into_iter().map(str::to_owned).collect();
        let table = unit.map(|unit| blank::empty("", blank::heads("Setting", 4), &rows, unit));
        blank::like(table.as_slice(), self.order())
    }

    fn repeated(&self, visit: &VisitFindings, finding: &Finding) -> Option<Repeated> {
        let read = read_from_a_meter(visit).iter().any(|table| table.at == finding.at);
        read.then(|| Repeated::readings(finding.n))
    }

    fn cautions(&self) -> &'static [&'static str] {
        &[
            "Sound: wear hearing protection near a running machine, also while reading a meter.",
            "Guards stay fitted, and a microphone on its stand stays clear of blade, belt and chuck: never \
             reach in to place it while anything turns.",
        ]
    }

    fn methods(&self) -> &'static [&'static str] {
        &[
            "Sound levels: energy averages, L = 10 lg(mean 10^(L/10)); the scatter is propagated from the \
             energies to first order, the display step is not divided by the root of n (JCGM 100:2008, 5.1.2).",
            "Background: K1 = −10 lg(1 − 10^(−ΔL/10)), each visit with its own; none needed above 15 dB, \
             a survey from 3 to 6 dB, below 3 dB an upper bound alone (ISO 3744:2010, ISO 3746:2010).",
            "Recordings: scaled by the calibration tone; weightings A and C by digital filters within \
             0.03 dB of the standard's formulas below half the rate; F is an exponential mean of 125 ms; third \
             octaves are sums of the power spectrum in base-ten bands (IEC 61672-1:2013; IEC 61260-1:2014).",
            "Permitted exposure, as information only: recommended, 85 dBA for 8 h and half the time for \
             each 3 dB more; permissible, 90 dBA for 8 h and half the time for each 5 dB more (NIOSH \
             publication 98-126; 29 CFR 1910.95, appendix A).",
        ]
    }
}

/// The tables of readings, without those of what recordings gave.
fn read_from_a_meter(visit: &VisitFindings) -> Vec<RawTable> {
    let read = |table: &&RawTable| table.columns.first().is_some_and(|head| head == "Reading");
    visit.raw.iter().filter(read).cloned().collect()
}

/// The unit that the first reading is written in.
fn first_unit(session: &Session, check: &Check) -> Option<Unit> {
    let mut silent = Problems::default();
    let first = session.visits.iter().find_map(|visit| visit.readings_of(&check.id))?;
    let mut own = first.own.clone();
    let mut node = own.get("at").or_else(|| own.get("readings"))?;
    // Down through the first setting, its readings and its first reading.
    loop {
        node = match &node.value {
            Value::Map(entries) => {
                let named = |key: &str| entries.iter().find(|entry| entry.key == key);
                named("readings").or_else(|| named("struck")).or(entries.first())?.node.clone()
            }
            Value::List(items) => items.first()?.clone(),
            _ => break,
        };
    }
    let text = own.text_of(&node, "a reading", &mut silent)?;
    crate::quantity::parse_quantity(&text, &[Kind::Level], None).ok().map(Quantity::unit)
}

struct Ready {
    unit: Unit,
    bare: Option<Unit>,
    position: Option<String>,
    by: String,
}

impl Prepared for Ready {
    fn unit(&self) -> Unit {
        self.unit
    }

    fn examine(&self, sitting: &Sitting<'_>, problems: &mut Problems) -> Option<Examined> {
        let mut own = sitting.readings.own.clone();
        let errors = problems.errors();
        let taken = self.taken(sitting, &mut own, problems);
        own.finish(problems);
        let shown = sitting.shown(self.unit, problems);
        let (taken, shown) = (taken?, shown.filter(|_| problems.errors() == errors)?);
        let mut work = Work { unit: self.unit, shown: &shown, problems };
        let worked: Vec<Worked> = taken.iter().filter_map(|taken| work.of(taken)).collect();
        if worked.len() < taken.len() {
            return None;
        }
        let findings: Vec<Finding> = worked.iter().map(|worked| worked.finding.clone()).collect();
        let notes = self.visit_notes(&taken, &findings);
        Some(Examined {
            set_up: self.set_up(sitting, &taken),
            raw: taken.iter().zip(&worked).flat_map(|(taken, worked)| self.raw(taken, worked)).collect(),
            details: Details::new(SoundDetails {
                by: self.by.clone(),
                settings: worked.into_iter().map(|worked| worked.details).collect(),
            }),
            findings,
            notes,
        })
    }
}

impl Ready {
    fn taken(&self, sitting: &Sitting<'_>, own: &mut Fields, problems: &mut Problems) -> Option<Vec<Taken>> {
        let source = std::sync::Arc::clone(own.source());
        Reader { sitting, source, unit: self.unit, bare: self.bare, problems }.read(own)
    }

    /// How the levels were taken, as conditions to compare.
    fn set_up(&self, sitting: &Sitting<'_>, taken: &[Taken]) -> Vec<(String, String)> {
        let mut facts = Vec::new();
        let mut conditions = sitting.visit.conditions.iter().chain(&sitting.readings.conditions);
        // A visit that says where the microphone stood says it better than the check.
        if let Some(position) = &self.position
            && !conditions.any(|condition| condition.name == "position")
        {
            facts.push(("position".to_owned(), position.clone()));
        }
        let weighting = match self.unit.symbol() {
            "dB" => "none stated".to_owned(),
            _ => Weighting::of(self.unit).letter().to_owned(),
        };
        facts.push(("weighting".to_owned(), weighting));
        let recorded = taken.iter().filter(|taken| matches!(taken.level, Source::Recorded(_))).count();
        let how = match recorded {
            0 => "read from a meter",
            all if all == taken.len() => "calibrated recordings",
            _ => "a meter and calibrated recordings",
        };
        facts.push(("levels from".to_owned(), how.to_owned()));
        let behind = taken.iter().filter(|taken| taken.background.is_some()).count();
        let background = match behind {
            0 => "not measured",
            all if all == taken.len() => "measured",
            _ => "measured at some settings",
        };
        facts.push(("background".to_owned(), background.to_owned()));
        facts
    }

    fn visit_notes(&self, taken: &[Taken], findings: &[Finding]) -> Vec<String> {
        let mut notes = Vec::new();
        let bare = taken.iter().filter(|taken| taken.background.is_none()).count();
        if bare > 0 {
            notes.push(format!(
                "{} was measured, so the level holds whatever else was to be heard.",
                if bare == taken.len() { "No background" } else { "At some settings no background" }
            ));
        }
        let recorded = |taken: &Taken| matches!(taken.level, Source::Recorded(_));
        if self.unit.symbol() == "dB" && taken.iter().any(recorded) {
            notes.push("The unit is plain dB, so recordings are not weighted.".to_owned());
        }
        if Weighting::of(self.unit) == Weighting::A {
            let loudest = findings
                .iter()
                .filter_map(|finding| Some((finding, finding.value?)))
                .max_by(|(_, a), (_, b)| a.total_cmp(b));
            let said = loudest.and_then(|(finding, level)| exposure::note(&finding.at, level));
            if let Some(said) = said {
                notes.extend([said, exposure::CAUTION.to_owned()]);
            }
        }
        notes
    }

    /// The readings as they were taken, and what the recordings gave.
    fn raw(&self, taken: &Taken, worked: &Worked) -> Vec<RawTable> {
        let mut tables = Vec::new();
        let mut rows = Vec::new();
        let mut put = |name: &str, source: &Source| {
            if let Source::Read(read) = source {
                rows.push((name.to_owned(), cells(read)));
            }
        };
        put("level", &taken.level);
        if let Some(background) = &taken.background {
            put("background", background);
        }
        let width = rows.iter().map(|(_, cells)| cells.len()).max().unwrap_or(0);
        if width > 0 {
            let columns = std::iter::once("Reading".to_owned())
                .chain((1..=width).map(|index| index.to_string()))
                .collect();
            tables.push(RawTable { at: taken.at.clone(), columns, rows, unit: self.unit });
        }
        let heard = [("", &worked.details.levels), ("background: ", &worked.background)];
        let rows: Vec<(String, Vec<Cell>)> = heard
            .iter()
            .filter_map(|(name, levels)| levels.as_ref().map(|levels| (name, levels)))
            .map(|(name, levels)| (format!("{name}{}", levels.name), levels.cells()))
            .collect();
        if !rows.is_empty() {
            let columns = Levels::heads();
            tables.push(RawTable { at: taken.at.clone(), columns, rows, unit: self.unit });
        }
        tables
    }
}

fn cells(read: &[Reading]) -> Vec<Cell> {
    read.iter().map(|reading| Cell { text: reading.text.clone(), struck: reading.struck.clone() }).collect()
}

/// One setting, worked out.
struct Worked {
    finding: Finding,
    details: SettingDetails,
    background: Option<Levels>,
}

/// A level from either source.
struct Got {
    /// None where it was refused.
    averaged: Option<Averaged>,
    common: Vec<Component>,
    refused: Vec<String>,
    levels: Option<Levels>,
    /// The readings, and whether they were struck.
    readings: Vec<(f64, bool)>,
}

struct Work<'a, 'p> {
    unit: Unit,
    shown: &'a Shown,
    problems: &'p mut Problems,
}

impl Work<'_, '_> {
    fn of(&mut self, taken: &Taken) -> Option<Worked> {
        let level = self.got(&taken.level);
        let background = taken.background.as_ref().map(|source| self.got(source));
        let level = level?;
        let background = match background {
            Some(got) => Some(got?),
            None => None,
        };
        let behind = background.as_ref().and_then(|got| got.averaged.as_ref());
        let (mut found, taken_off) = self.finding(&taken.at, &level, behind);
        if let Some(got) = background.as_ref().filter(|got| got.averaged.is_none()) {
            found.notes.push("The background gave no level, so nothing is taken off.".to_owned());
            found.notes.extend(got.refused.iter().cloned());
        }
        if let Some(with) = with_struck(&level, behind) {
            found.struck = level.readings.iter().filter(|(_, struck)| *struck).count();
            found.with_struck = Some(with);
        }
        let details = SettingDetails {
            at: taken.at.clone(),
            setting: taken.setting,
            readings: level.readings,
            background: behind.map(|behind| behind.level),
            taken_off,
            levels: level.levels,
        };
        Some(Worked { finding: found, details, background: background.and_then(|got| got.levels) })
    }

    fn got(&mut self, source: &Source) -> Option<Got> {
        match source {
            Source::Read(read) => {
                let value = |reading: &Reading| {
                    let level = reading.quantity.to(self.unit).ok()?;
                    Some((level + self.shown.correction, !reading.counts()))
                };
                let readings: Vec<(f64, bool)> = read.iter().filter_map(value).collect();
                let kept: Vec<f64> =
                    readings.iter().filter(|(_, struck)| !struck).map(|(level, _)| *level).collect();
                let averaged = average(&kept, self.shown);
                let mut common = Vec::new();
                common.extend(self.shown.accuracy_line(averaged.level - self.shown.correction, 1.0));
                Some(Got { averaged: Some(averaged), common, refused: Vec::new(), levels: None, readings })
            }
            Source::Recorded(recorded) => {
                let given = recorded::hear(recorded, self.unit, self.shown, self.problems)?;
                let mut common = given.common;
                if let Some(averaged) = &given.averaged {
                    common.extend(self.shown.accuracy_line(averaged.level, 1.0));
                }
                Some(Got {
                    averaged: given.averaged,
                    common,
                    refused: given.notes,
                    levels: given.levels,
                    readings: Vec::new(),
                })
            }
        }
    }

    fn finding(&self, at: &str, got: &Got, behind: Option<&Averaged>) -> (Finding, f64) {
        let Some(averaged) = &got.averaged else {
            let mut found = finding(at, "level", self.unit, None, super::uncertainty::combine(Vec::new()));
            found.notes.clone_from(&got.refused);
            return (found, 0.0);
        };
        let cleared = clear(averaged, behind, &got.common);
        let mut found = finding(at, "level", self.unit, cleared.value, cleared.budget);
        found.n = averaged.n;
        // Upwards, so that a rounded bound holds too.
        found.bound = cleared.at_most.map(|bound| BoundOn::AtMost((bound * 10.0).ceil() / 10.0));
        let taken_off = cleared.background.map_or(0.0, |(_, taken)| taken);
        if taken_off > 0.0 {
            found.remark = format!("{} dB taken off", fixed(taken_off, Decimals(1)));
        }
        found.notes = cleared.notes;
        if !self.shown.named {
            found.notes.push(crate::analysis::uncertainty::UNNAMED.to_owned());
        }
        (found, taken_off)
    }
}

/// What the level would be with the struck readings; none where none was struck.
fn with_struck(level: &Got, behind: Option<&Averaged>) -> Option<f64> {
    if !level.readings.iter().any(|(_, struck)| *struck) {
        return None;
    }
    let all: Vec<f64> = level.readings.iter().map(|(level, _)| *level).collect();
    let with = Averaged { level: level::mean(&all), n: all.len(), parts: Vec::new(), notes: Vec::new() };
    let cleared = clear(&with, behind, &[]);
    Some(cleared.value.unwrap_or(with.level))
}
