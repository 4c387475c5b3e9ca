//! One occasion: its date, its conditions, its readings.

use jiff::civil::{Date, Time};
use serde::{Deserialize, Serialize};

use super::date::{time_of, written_out};
use super::fields::{Fields, Named};
use super::photo::{Said, Taken};
use super::problem::{Place, Problem, Problems};
use super::read::{Reader, title_of_id};
use super::tree::{Entry, ScalarKind, Value};
use crate::evidence::position::Position;
use crate::quantity::{Quantity, parse_quantity};

/// What a visit stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum State {
    /// Before anything was done.
    AsFound,
    /// After the repair or adjustment.
    AsLeft,
    /// Something to compare with.
    Reference,
    /// How it is, for later.
    Baseline,
}

impl State {
    const WORDS: [(&'static str, Self); 4] = [
        ("as-found", Self::AsFound),
        ("as-left", Self::AsLeft),
        ("reference", Self::Reference),
        ("baseline", Self::Baseline),
    ];

    /// As the session writes it.
    pub fn word(self) -> &'static str {
        match self {
            Self::AsFound => "as-found",
            Self::AsLeft => "as-left",
            Self::Reference => "reference",
            Self::Baseline => "baseline",
        }
    }

    /// As a sentence says it.
    pub fn spoken(self) -> &'static str {
        match self {
            Self::AsFound => "as found",
            Self::AsLeft => "as left",
            Self::Reference => "at the reference",
            Self::Baseline => "at the baseline",
        }
    }
}

/// What a condition was.
#[derive(Clone, Debug, PartialEq)]
pub enum ConditionValue {
    /// A text.
    Text(String),
    /// A bare number.
    Number(f64),
    /// A number with a unit.
    Quantity(Quantity),
}

/// A condition under which readings were taken.
#[derive(Clone, Debug, PartialEq)]
pub struct Condition {
    /// What it is called.
    pub name: String,
    /// What it was.
    pub value: ConditionValue,
    /// As it was typed.
    pub text: String,
}

/// A photograph.
#[derive(Clone, Debug)]
pub struct Photo {
    /// The file, relative to the session folder, `/`-separated.
    pub file: String,
    /// What it shows.
    pub caption: String,
    /// The check it belongs to.
    pub check: Option<Named>,
    /// When it was taken, as its EXIF data say.
    pub taken: Option<Taken>,
    /// Where it was taken, as its EXIF data say.
    pub position: Option<Position>,
    /// Where it is named.
    pub place: Place,
}

impl Photo {
    /// Its date, where that is not the visit's in any zone that could explain it.
    pub fn dated_outside(&self, visit: &Visit) -> Option<Taken> {
        self.taken.filter(|taken| !taken.may_be_on(visit.date))
    }
}

/// The readings of one check at one visit; what only the measure knows stays in
/// [`Readings::own`].
#[derive(Clone, Debug)]
pub struct Readings {
    /// The check's id.
    pub check: String,
    /// Conditions that add to the visit's or override them.
    pub conditions: Vec<Condition>,
    /// The instrument, where another than the check's was used.
    pub instrument: Option<Named>,
    /// What only the measure knows.
    pub own: Fields,
    /// Where they stand.
    pub place: Place,
}

/// One occasion.
#[derive(Clone, Debug)]
pub struct Visit {
    /// Its id: the folder's name.
    pub id: String,
    /// Heading in the report.
    pub title: String,
    /// What it stands for.
    pub state: State,
    /// The machine's id.
    pub machine: String,
    /// The day.
    pub date: Date,
    /// The time of day.
    pub time: Option<Time>,
    /// Who took the readings.
    pub by: Option<String>,
    /// The conditions of all its checks.
    pub conditions: Vec<Condition>,
    /// The photographs, in the order written.
    pub photos: Vec<Photo>,
    /// The readings, in the order written.
    pub readings: Vec<Readings>,
    /// Where it is written.
    pub place: Place,
}

impl Visit {
    /// The readings of a check, where it was made.
    pub fn readings_of(&self, check: &str) -> Option<&Readings> {
        self.readings.iter().find(|readings| readings.check == check)
    }

    pub(super) fn read(
        id: String,
        mut fields: Fields,
        reader: &Reader,
        machines: &[&str],
        problems: &mut Problems,
    ) -> Option<Self> {
        let place = fields.place();
        let title = fields.text("title", problems);
        let state = fields
            .need("state", "as-found", problems)
            .and_then(|_| fields.one_of("state", &State::WORDS, problems));
        let machine = machine_of(&mut fields, machines, problems);
        let date = fields.need("date", "2026-03-02", problems).and_then(|_| fields.date("date", problems));
        let time = fields.get("time").and_then(|node| time_of(&node, fields.source(), problems));
        let by = fields.text("by", problems);
        let conditions = conditions(&mut fields, problems);
        let folder = format!("visits/{id}");
        let photos = photos(&mut fields, reader, &folder, problems);
        let readings = readings(&mut fields, problems);
        fields.finish(problems);
        let visit = Self {
            title: title.unwrap_or_else(|| title_of_id(&id)),
            id,
            state: state?,
            machine: machine?,
            date: date?,
            time,
            by,
            conditions,
            photos,
            readings,
            place,
        };
        dated_outside(&visit, problems);
        Some(visit)
    }
}

fn machine_of(fields: &mut Fields, machines: &[&str], problems: &mut Problems) -> Option<String> {
    match (fields.get("machine"), machines) {
        (None, [only]) => Some((*only).to_owned()),
        (None, _) => {
            fields.need("machine", machines.first().unwrap_or(&"saw"), problems);
            None
        }
        (Some(node), _) => {
            let id = fields.text_of(&node, "'machine'", problems)?;
            if machines.contains(&id.as_str()) || machines.is_empty() {
                return Some(id);
            }
            problems.push(
                Problem::error(format!("there is no machine '{id}'"), fields.at(&node))
                    .expected("expected the id of a machine in session.yaml")
                    .help(super::problem::did_you_mean(&id, machines)),
            );
            None
        }
    }
}

fn conditions(fields: &mut Fields, problems: &mut Problems) -> Vec<Condition> {
    let entries = fields.map("conditions", problems).unwrap_or_default();
    entries.iter().filter_map(|entry| condition(entry, fields, problems)).collect()
}

fn condition(entry: &Entry, fields: &Fields, problems: &mut Problems) -> Option<Condition> {
    if matches!(entry.node.value, Value::Nothing) {
        // Named but not filled in: the same as not recorded.
        return None;
    }
    let text = fields.text_of(&entry.node, &format!("the condition '{}'", entry.key), problems)?;
    let value = match &entry.node.value {
        Value::Scalar(scalar) => match scalar.is {
            ScalarKind::Number(number) => ConditionValue::Number(number),
            _ => parse_quantity(&text, &[], None)
                .map_or_else(|_| ConditionValue::Text(text.clone()), ConditionValue::Quantity),
        },
        _ => ConditionValue::Text(text.clone()),
    };
    Some(Condition { name: entry.key.clone(), value, text })
}

fn photos(fields: &mut Fields, reader: &Reader, folder: &str, problems: &mut Problems) -> Vec<Photo> {
    let mut photos = Vec::new();
    for node in fields.list("photos", problems).unwrap_or_default() {
        let Some(mut inner) = Fields::of(&node, fields.source(), "a photo", problems) else {
            continue;
        };
        let file_node = inner.need("file", "photos/indicator.jpg", problems);
        let place = file_node.as_ref().map(|node| inner.at(node));
        let file =
            file_node.as_ref().and_then(|node| reader.named_file(node, inner.source(), folder, problems));
        let caption = inner.text("caption", problems).unwrap_or_default();
        let check = inner.named("check", problems);
        inner.finish(problems);
        if let (Some(file), Some(place)) = (file, place)
            && let Some(Said { taken, position }) = reader.photo(&file, &place, problems)
        {
            photos.push(Photo { file, caption, check, taken, position, place });
        }
    }
    photos
}

/// Points out photographs that are dated outside the visit; what is said accuses nobody, for clocks in cameras are often
/// wrong.
fn dated_outside(visit: &Visit, problems: &mut Problems) {
    for photo in &visit.photos {
        let Some(taken) = photo.dated_outside(visit) else { continue };
        let day = written_out(visit.date);
        problems.push(
            Problem::error(format!("'{}' is dated {taken}, and the visit {day}", photo.file), photo.place.clone())
                .warning()
                .expected("dated outside its visit")
                .help("clocks in cameras are often wrong; check the clock, the visit's 'date', and that this is the picture meant. The report shows both dates"),
        );
    }
}

fn readings(fields: &mut Fields, problems: &mut Problems) -> Vec<Readings> {
    let mut all = Vec::new();
    for entry in fields.map("readings", problems).unwrap_or_default() {
        let what = format!("the readings of '{}'", entry.key);
        let place = super::fields::key_place(fields.source(), &entry);
        let Some(mut own) = Fields::of(&entry.node, fields.source(), &what, problems) else {
            continue;
        };
        let conditions = conditions(&mut own, problems);
        let instrument = own.named("instrument", problems);
        all.push(Readings { check: entry.key, conditions, instrument, own, place });
    }
    all
}
