//! What a vibration check says of itself: its units, its band, its bearing.

use crate::quantity::{Difference, Kind, Unit, UnitSystem};
use crate::session::{Check, Fields, Problems, Session, Setting, quantity_of};

use super::bearing::Bearing;
use super::recorded::Shake;
use super::wrong;
use super::zones::Class;

/// The band of velocities where a check names none, hertz (ISO 20816-1:2016, 4.2: general machines).
const BAND: (f64, f64) = (10.0, 1000.0);

/// The units of the findings.
#[derive(Clone, Copy, Debug)]
pub(super) struct Units {
    /// Of accelerations: the check's.
    pub(super) acceleration: Unit,
    /// Of velocities: by the session's units.
    pub(super) velocity: Unit,
    /// Of frequencies.
    pub(super) hertz: Unit,
    /// Of the crest factor.
    pub(super) number: Unit,
    /// A velocity of 1 in the unit of acceleration times a second, in the unit of velocities.
    pub(super) second: f64,
}

/// A check whose fields were read.
#[derive(Debug)]
pub struct Ready {
    pub(super) units: Units,
    pub(super) band: (f64, f64),
    pub(super) band_is_given: bool,
    pub(super) position: Option<String>,
    pub(super) bearing: Option<Bearing>,
    pub(super) class: Option<Class>,
}

pub(super) fn prepare(session: &Session, check: &Check, problems: &mut Problems) -> Option<Ready> {
    let mut own = check.own.clone();
    let position = own.text("position", problems);
    let band_is_given = own.get("band").is_some();
    let band = if band_is_given { band(&mut own, problems) } else { Some(BAND) };
    let bearing_is_given = own.get("bearing").is_some();
    let bearing = Bearing::of(&mut own, problems);
    let class_is_given = own.get("class").is_some();
    let class = own.one_of("class", &Class::WORDS, problems);
    own.finish(problems);
    let units = units(session, check, problems);
    if bearing_is_given && bearing.is_none() || class_is_given && class.is_none() {
        return None;
    }
    Some(Ready { units: units?, band: band?, band_is_given, position, bearing, class })
}

fn units(session: &Session, check: &Check, problems: &mut Problems) -> Option<Units> {
    let Some(acceleration) = check.unit else {
        problems.push(wrong(
            format!("the check '{}' has no unit", check.id),
            check.place.clone(),
            "expected the unit of the accelerations recorded",
            "write for example: unit: g",
        ));
        return None;
    };
    if acceleration.kind() != Kind::Acceleration {
        problems.push(wrong(
            format!("vibration is recorded as an acceleration, but the check's unit is {acceleration}"),
            check.place.clone(),
            "expected a unit of acceleration: g, m/s² or mm/s²",
            "give the unit of the numbers in the recordings; velocities are computed from them",
        ));
        return None;
    }
    let velocity = match session.units {
        UnitSystem::Inch => Unit::known(Kind::Velocity, "in/s")?,
        UnitSystem::Metric => Unit::known(Kind::Velocity, "mm/s")?,
    };
    let si = Difference::new(1.0, acceleration).to(Unit::known(Kind::Acceleration, "m/s²")?).ok()?;
    let metre = Difference::new(1.0, Unit::known(Kind::Velocity, "m/s")?).to(velocity).ok()?;
    Some(Units {
        acceleration,
        velocity,
        hertz: Unit::known(Kind::Frequency, "Hz")?,
        number: Unit::known(Kind::Number, "")?,
        second: si * metre,
    })
}

/// `band: [10 Hz, 1000 Hz]`.
fn band(own: &mut Fields, problems: &mut Problems) -> Option<(f64, f64)> {
    let node = own.get("band")?;
    let items = own.list("band", problems)?;
    let hertz = Unit::known(Kind::Frequency, "Hz")?;
    let read: Vec<f64> = items
        .iter()
        .filter_map(|item| quantity_of(item, own.source(), &[Kind::Frequency], None, problems))
        .filter_map(|quantity| quantity.to(hertz).ok())
        .collect();
    if read.len() != items.len() {
        return None;
    }
    match read[..] {
        [low, high] if low > 0.0 && high > low => Some((low, high)),
        _ => {
            problems.push(wrong(
                "a band goes from a lower frequency above zero to a higher one",
                own.at(&node),
                "expected two frequencies, the lower one first",
                "write for example: band: [10 Hz, 1000 Hz]",
            ));
            None
        }
    }
}

/// The turning frequency of a setting, hertz.
pub(super) fn turning(setting: &Setting, problems: &mut Problems) -> Option<f64> {
    let speed = Unit::known(Kind::RotationalSpeed, "Hz")?;
    let turning = setting.quantity.to(speed).ok().filter(|turning| *turning >= 0.0);
    if turning.is_none() {
        problems.push(wrong(
            format!("'{}' is not a speed at which a machine was run", setting.at),
            setting.place.clone(),
            "expected a rotational speed such as 3450 rpm",
            "vibration is read at speeds; the orders and the bearing's lines follow from them",
        ));
    }
    turning
}

impl Ready {
    /// How the readings were taken, as conditions to compare.
    pub(super) fn set_up(&self, shakes: &[Shake]) -> Vec<(String, String)> {
        let mut list = Vec::new();
        if let Some(position) = &self.position {
            list.push(("sensor position".to_owned(), position.clone()));
        }
        if shakes.is_empty() {
            return list;
        }
        let given = if self.band_is_given { "" } else { " (ISO 20816-1, as the check names none)" };
        let mut band = format!("{}{given}", range(self.band));
        let cut: Vec<String> = shakes
            .iter()
            .filter(|shake| shake.band != self.band)
            .map(|shake| match shake.band {
                (low, high) if low < high => format!("{} at {}", range(shake.band), shake.at),
                _ => format!("none at {}", shake.at),
            })
            .collect();
        if !cut.is_empty() {
            band += &format!("; what the recordings show: {}", cut.join(", "));
        }
        list.push(("velocity band".to_owned(), band));
        let mut axes: Vec<String> = Vec::new();
        for shake in shakes {
            let names = shake.traces.iter().map(|trace| trace.name.as_str()).collect::<Vec<_>>().join(", ");
            if !axes.contains(&names) {
                axes.push(names);
            }
        }
        list.push(("axes".to_owned(), axes.join("; ")));
        list
    }
}

/// "10 Hz to 1000 Hz".
pub(super) fn range((low, high): (f64, f64)) -> String {
    format!("{} to {}", hertz(low), hertz(high))
}

/// A frequency with its unit, to four digits.
pub(super) fn hertz(value: f64) -> String {
    format!("{} Hz", crate::quantity::significant(value, 4))
}
