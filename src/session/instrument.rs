//! Instruments: what they show, how far they may err, and how well they repeat.

use jiff::civil::Date;

use super::fields::{Fields, difference_of, list_of};
use super::problem::{Place, Problem, Problems};
use super::reading::{Reading, readings_of};
use crate::quantity::{Difference, Kind, Quantity, Unit, parse_unit};

/// One bound of a stated accuracy; of several the largest applies.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Bound {
    /// ± so much.
    Absolute(Difference),
    /// ± so large a share of the number shown (0.02 for 2 %).
    OfReading(f64),
}

/// A calibration certificate's word in place of the maker's accuracy.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Certificate {
    /// The expanded uncertainty stated.
    pub expanded: Difference,
    /// Its coverage factor.
    pub k: f64,
}

/// An instrument.
#[derive(Clone, Debug)]
pub struct Instrument {
    /// Its id in the session.
    pub id: String,
    /// What it is.
    pub name: String,
    /// Its serial number: what tells it from others of its kind in all sessions.
    pub serial: Option<String>,
    /// The smallest step it shows.
    pub resolution: Option<Difference>,
    /// Half-widths of the maker's error band; the largest applies.
    pub accuracy: Vec<Bound>,
    /// Lever-type indicators: the tip's angle to the surface's normal travel.
    pub tip_angle: Option<Quantity>,
    /// When it was last calibrated.
    pub calibrated: Option<Date>,
    /// The last day that this calibration holds.
    pub calibration_due: Option<Date>,
    /// A certificate's correction, added to what is shown.
    pub correction: Option<Difference>,
    /// A certificate's uncertainty, which replaces the accuracy.
    pub certificate: Option<Certificate>,
    /// The same thing measured again and again.
    pub repeats: Vec<Reading>,
    /// The unit of the bare numbers among them.
    pub repeat_unit: Option<Unit>,
    /// The emissivity that an infrared thermometer was set to.
    pub emissivity_set: Option<f64>,
    /// The smallest and the largest value that its maker states it for.
    pub range: Option<(Quantity, Quantity)>,
    /// Where it is written.
    pub place: Place,
}

impl Instrument {
    pub(super) fn read(id: String, mut fields: Fields, problems: &mut Problems) -> Option<Self> {
        let place = fields.place();
        let name = fields.need_text("name", "Digital dial indicator", problems);
        let resolution = fields
            .need("resolution", "0.0005 in", problems)
            .and_then(|node| difference_of(&node, fields.source(), &[], problems))
            .and_then(|step| positive(step, "resolution", &mut fields, problems));
        let repeat_unit = unit_field(&mut fields, "repeat_unit", problems);
        let bare = repeat_unit.or(resolution.map(Difference::unit));
        let repeats = match fields.get("repeat_readings") {
            Some(node) => readings_of(&node, fields.source(), "'repeat_readings'", &[], bare, problems)
                .unwrap_or_default(),
            None => Vec::new(),
        };
        let serial = fields.text("serial", problems);
        let (calibrated, calibration_due) = calibration(&mut fields, problems);
        let instrument = Self {
            id,
            name: name.clone().unwrap_or_default(),
            serial,
            resolution,
            accuracy: accuracy(&mut fields, problems),
            tip_angle: tip_angle(&mut fields, problems),
            calibrated,
            calibration_due,
            correction: fields.difference("correction", &[], problems),
            certificate: certificate(&mut fields, problems),
            repeats,
            repeat_unit,
            emissivity_set: fields.fraction("emissivity_set", problems),
            range: range(&mut fields, bare, problems),
            place,
        };
        fields.finish(problems);
        name.and(instrument.resolution)?;
        Some(instrument)
    }
}

/// When it was calibrated, and the last day that this holds: not before.
fn calibration(fields: &mut Fields, problems: &mut Problems) -> (Option<Date>, Option<Date>) {
    let calibrated = fields.date("calibrated", problems);
    let due = fields.date("calibration_due", problems);
    if let (Some(on), Some(until)) = (calibrated, due)
        && until < on
        && let Some(node) = fields.get("calibration_due")
    {
        problems.push(
            Problem::error("a calibration that is due again before it was made", fields.at(&node))
                .expected(format!("expected a day after {on}"))
                .help("'calibrated' is the day on the certificate, 'calibration_due' the last day that it is good for"),
        );
    }
    (calibrated, due)
}

/// A field that names a unit.
pub(super) fn unit_field(fields: &mut Fields, name: &'static str, problems: &mut Problems) -> Option<Unit> {
    let node = fields.get(name)?;
    let text = fields.text_of(&node, &format!("'{name}'"), problems)?;
    match parse_unit(&text, &[]) {
        Ok(unit) => Some(unit),
        Err(wrong) => {
            problems.push(
                Problem::error(wrong.message, fields.at(&node)).expected("expected a unit").help(wrong.help),
            );
            None
        }
    }
}

fn positive(
    value: Difference,
    name: &'static str,
    fields: &mut Fields,
    problems: &mut Problems,
) -> Option<Difference> {
    if value.value() > 0.0 {
        return Some(value);
    }
    let node = fields.get(name)?;
    problems.push(
        Problem::error(format!("'{name}' must be larger than zero"), fields.at(&node))
            .expected("expected the smallest step the instrument shows")
            .help("write for example: 0.0005 in"),
    );
    None
}

fn accuracy(fields: &mut Fields, problems: &mut Problems) -> Vec<Bound> {
    let Some(node) = fields.get("accuracy") else {
        return Vec::new();
    };
    let nodes = if matches!(node.value, super::tree::Value::List(_)) {
        list_of(&node, fields.source(), "'accuracy'", problems).unwrap_or_default()
    } else {
        vec![node]
    };
    let mut bounds = Vec::new();
    for node in nodes {
        let Some(value) = difference_of(&node, fields.source(), &[], problems) else {
            continue;
        };
        if value.value() < 0.0 {
            problems.push(
                Problem::error("an accuracy is a half-width: it cannot be negative", fields.at(&node))
                    .expected("expected a size")
                    .help("write ±0.001 in as: 0.001 in"),
            );
        } else if value.unit().kind() == Kind::Ratio {
            bounds.push(Bound::OfReading(value.value() / 100.0));
        } else {
            bounds.push(Bound::Absolute(value));
        }
    }
    bounds
}

fn tip_angle(fields: &mut Fields, problems: &mut Problems) -> Option<Quantity> {
    let angle = fields.quantity("tip_angle", &[Kind::Angle], None, problems)?;
    let degrees = Unit::known(Kind::Angle, "deg").and_then(|deg| angle.to(deg).ok())?;
    if degrees.abs() <= 60.0 {
        return Some(angle);
    }
    let node = fields.get("tip_angle")?;
    problems.push(
        Problem::error("a tip angle beyond 60 degrees", fields.at(&node))
            .expected("expected 0 to 60 degrees")
            .help("give the angle between the lever and the surface; near 0 the reading is true"),
    );
    None
}

fn certificate(fields: &mut Fields, problems: &mut Problems) -> Option<Certificate> {
    let node = fields.get("calibration_uncertainty")?;
    let mut inner = Fields::of(&node, fields.source(), "'calibration_uncertainty'", problems)?;
    let expanded = inner
        .need("U", "0.0002 in", problems)
        .and_then(|node| difference_of(&node, inner.source(), &[], problems));
    let k = inner.need("k", "2", problems).and_then(|node| {
        let text = inner.text_of(&node, "'k'", problems)?;
        let k = text.trim().parse::<f64>().ok().filter(|k| (0.5..=20.0).contains(k));
        if k.is_none() {
            problems.push(
                Problem::error(format!("the coverage factor cannot be '{text}'"), inner.at(&node))
                    .expected("expected a number such as 2")
                    .help("the certificate states it beside the uncertainty: k = 2"),
            );
        }
        k
    });
    inner.finish(problems);
    Some(Certificate { expanded: expanded?, k: k? })
}

/// The stated range, two quantities of one kind, the smaller first.
fn range(fields: &mut Fields, bare: Option<Unit>, problems: &mut Problems) -> Option<(Quantity, Quantity)> {
    let node = fields.get("range")?;
    if let super::tree::Value::List(items) = &node.value
        && let [low, high] = items.as_slice()
    {
        let low = super::fields::quantity_of(low, fields.source(), &[], bare, problems)?;
        let high = super::fields::quantity_of(high, fields.source(), &[], bare, problems)?;
        if high.to(low.unit()).is_ok_and(|high| high > low.value()) {
            return Some((low, high));
        }
    }
    problems.push(
        Problem::error("'range' needs two quantities, the smaller first", fields.at(&node))
            .expected("expected [smallest, largest]")
            .help("write what the maker states, for example: range: [-58 °F, 536 °F]"),
    );
    None
}
