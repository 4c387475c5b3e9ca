//! The readings of `sound` as a visit writes them: lists, numbers, recordings, each with its
//! background.

use std::sync::Arc;

use crate::quantity::{Kind, Quantity, Unit};
use crate::recording::{Column, Recording, TimeBase};
use crate::session::{
    Fields, Node, Place, Problem, Problems, Reading, SourceFile, Value, place_of, reading_of, readings_of,
    settings_of,
};

use crate::analysis::Sitting;

/// What was read or recorded at one setting.
#[derive(Debug)]
pub(super) struct Taken {
    /// The setting as findings name it; empty for a check read in one spot.
    pub(super) at: String,
    /// The setting itself.
    pub(super) setting: Option<Quantity>,
    /// With the machine running.
    pub(super) level: Source,
    /// Without it.
    pub(super) background: Option<Source>,
}

/// Where a level comes from.
#[derive(Debug)]
pub(super) enum Source {
    /// Read from a meter.
    Read(Vec<Reading>),
    /// Heard in a file.
    Recorded(Box<Recorded>),
}

/// A recording and how its numbers become levels.
#[derive(Debug)]
pub(super) struct Recorded {
    /// The sound.
    pub(super) sound: Track,
    /// The calibration.
    pub(super) calibration: Arc<Calibration>,
}

/// One channel of a file.
#[derive(Debug)]
pub(super) struct Track {
    /// The file.
    pub(super) recording: Recording,
    /// Which channel; none for the only one.
    pub(super) channel: Option<Column>,
    /// Its times.
    pub(super) time: TimeBase,
}

/// A recorded tone of known level.
#[derive(Debug)]
pub(super) struct Calibration {
    /// The tone.
    pub(super) tone: Track,
    /// Its level.
    pub(super) level: Quantity,
    /// The half-width of the calibrator's stated error, decibels.
    pub(super) accuracy: Option<f64>,
}

/// The highest level that a sound in air can have, where its troughs reach a vacuum: 101 325 Pa over
/// 20 µPa. More is a slip of the pen.
const LOUDEST: f64 = 194.1;

/// Reads what one visit wrote.
pub(super) struct Reader<'a, 'p> {
    pub(super) sitting: &'a Sitting<'a>,
    pub(super) source: Arc<SourceFile>,
    pub(super) unit: Unit,
    pub(super) bare: Option<Unit>,
    pub(super) problems: &'p mut Problems,
}

impl Reader<'_, '_> {
    /// All settings, or the one spot where there is no `at`.
    pub(super) fn read(&mut self, own: &mut Fields) -> Option<Vec<Taken>> {
        if !own.written("at") && (own.written("readings") || own.written("file")) {
            return Some(vec![self.spot(own, String::new(), None)?]);
        }
        let node = own.need("at", "{3450 rpm: [84.1, 84.4]}", self.problems)?;
        let settings = settings_of(&node, &self.source, "'at'", self.problems)?;
        let mut all = Vec::new();
        let wanted = settings.len();
        for setting in settings {
            if setting.quantity.unit().kind() == Kind::Level {
                self.problems.push(
                    Problem::error(format!("'{}' is a level, not a setting", setting.at), setting.place)
                        .expected("expected what was set before the ':', what was read behind it")
                        .help("write for example: 3450 rpm: [84.1, 84.4]"),
                );
                continue;
            }
            let taken = match &setting.node.value {
                Value::Map(entries) if entries.iter().all(|entry| entry.key != "struck") => {
                    let what = format!("the setting '{}'", setting.at);
                    let fields = Fields::of(&setting.node, &self.source, &what, self.problems);
                    fields.and_then(|mut fields| {
                        let taken = self.spot(&mut fields, setting.at, Some(setting.quantity));
                        fields.finish(self.problems);
                        taken
                    })
                }
                _ => self.levels(&setting.node, "the list of readings").map(|level| Taken {
                    at: setting.at,
                    setting: Some(setting.quantity),
                    level: Source::Read(level),
                    background: None,
                }),
            };
            all.extend(taken);
        }
        (all.len() == wanted).then_some(all)
    }

    /// `readings` or `file`, with `background`.
    fn spot(&mut self, fields: &mut Fields, at: String, setting: Option<Quantity>) -> Option<Taken> {
        if fields.written("file") {
            if let Some(node) = fields.get("readings") {
                for asked in ["file", "channel", "time", "time_unit", "rate", "calibration", "background"] {
                    fields.get(asked);
                }
                self.problems.push(
                    Problem::error("both 'file' and 'readings' are given", fields.at(&node))
                        .expected("expected one of them")
                        .help("write the readings of the meter at another check, or leave them out"),
                );
                return None;
            }
            let sound = self.track(fields);
            let calibration = self.calibration(fields).map(Arc::new);
            let background = self.background(fields, calibration.as_ref());
            let level = Recorded { sound: sound?, calibration: calibration? };
            return Some(Taken {
                at,
                setting,
                level: Source::Recorded(Box::new(level)),
                background: background?,
            });
        }
        let node = fields.need("readings", "[84.1, 84.4]", self.problems);
        let level = node.and_then(|node| self.levels(&node, "'readings'"));
        let background = self.background(fields, None);
        Some(Taken { at, setting, level: Source::Read(level?), background: background? })
    }

    /// The background: absent, read, or recorded (with the same calibration unless it has its own).
    #[allow(clippy::option_option)]
    fn background(
        &mut self,
        fields: &mut Fields,
        calibration: Option<&Arc<Calibration>>,
    ) -> Option<Option<Source>> {
        let Some(node) = fields.get("background") else {
            return Some(None);
        };
        let has =
            |key: &str| matches!(&node.value, Value::Map(entries) if entries.iter().any(|e| e.key == key));
        if !has("file") {
            return Some(Some(Source::Read(self.levels(&node, "'background'")?)));
        }
        let mut own = Fields::of(&node, &self.source, "'background'", self.problems)?;
        let sound = self.track(&mut own);
        let given = own.written("calibration");
        let calibration = match calibration {
            Some(shared) if !given => Some(Arc::clone(shared)),
            _ => self.calibration(&mut own).map(Arc::new),
        };
        own.finish(self.problems);
        let recorded = Recorded { sound: sound?, calibration: calibration? };
        Some(Some(Source::Recorded(Box::new(recorded))))
    }

    fn track(&mut self, fields: &mut Fields) -> Option<Track> {
        let recording = Recording::named(fields, self.sitting.session, &self.sitting.visit.id, self.problems);
        let errors = self.problems.errors();
        let channel = fields.get("channel").and_then(|node| Column::of(&node, fields, self.problems));
        let time = TimeBase::of(fields, self.problems);
        let whole = self.problems.errors() == errors;
        Some(Track { recording: recording?, channel, time: time.filter(|_| whole)? })
    }

    fn calibration(&mut self, fields: &mut Fields) -> Option<Calibration> {
        let node = fields.need("calibration", "{file: tone.wav, level: 94 dB}", self.problems)?;
        let mut own = Fields::of(&node, &self.source, "'calibration'", self.problems)?;
        let tone = self.track(&mut own);
        let level = own
            .need("level", "94 dB", self.problems)
            .and_then(|_| own.quantity("level", &[Kind::Level], None, self.problems));
        let level = level.filter(|level| self.possible(*level, &own.place()));
        let accuracy = own.difference("accuracy", &[Kind::Level], self.problems);
        own.finish(self.problems);
        Some(Calibration { tone: tone?, level: level?, accuracy: accuracy.map(|half| half.value().abs()) })
    }

    /// One number or a list of them, in the check's unit or in one that is the same.
    fn levels(&mut self, node: &Node, what: &str) -> Option<Vec<Reading>> {
        let kinds = [Kind::Level];
        let read = match &node.value {
            Value::List(_) => readings_of(node, &self.source, what, &kinds, self.bare, self.problems)?,
            _ => vec![reading_of(node, &self.source, &kinds, self.bare, self.problems)?],
        };
        let mut whole = true;
        for reading in &read {
            if let Err(mismatch) = reading.quantity.to(self.unit) {
                self.problems.push(
                    Problem::error(
                        format!("a level of another weighting: {mismatch}"),
                        reading.place.clone(),
                    )
                    .expected(format!("expected levels in {}", self.unit))
                    .help(
                        "levels of different weightings do not convert; make a check of its own for \
                             each",
                    ),
                );
                whole = false;
            }
            whole &= self.possible(reading.quantity, &reading.place);
        }
        if read.iter().all(|reading| !reading.counts()) {
            self.problems.push(
                Problem::error(format!("{what}: every reading is struck"), place_of(&self.source, node))
                    .expected("expected at least one reading that counts")
                    .help("take them out of this visit, or measure again"),
            );
            return None;
        }
        whole.then_some(read)
    }

    fn possible(&mut self, level: Quantity, place: &Place) -> bool {
        let possible = level.value() <= LOUDEST;
        if !possible {
            self.problems.push(
                Problem::error(format!("{level} is louder than a sound in air can be"), place.clone())
                    .expected("expected a level below 194 dB")
                    .help("is a decimal point missing?"),
            );
        }
        possible
    }
}
