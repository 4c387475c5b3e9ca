//! The figures of a meter or a phone that gave no recording.

use crate::analysis::finding;
use crate::analysis::repeated::mean_of;
use crate::analysis::uncertainty::{Shown, combine};
use crate::findings::{Component, Distribution, Finding};
use crate::quantity::{Kind, Quantity, Unit};
use crate::session::{Fields, Node, Problems, Setting, Value};

use super::fields::Ready;
use super::raw::FigureRow;
use super::{OfSetting, wrong};

pub(super) fn examine(
    ready: &Ready,
    setting: &Setting,
    fields: &mut Fields,
    shown: &Shown,
    problems: &mut Problems,
) -> Option<OfSetting> {
    let unit = ready.units.acceleration;
    let names = ["mean", "max", "frequency"];
    let nodes = names.map(|name| fields.get(name));
    let texts = nodes.each_ref().map(|node| node.as_ref().map_or_else(String::new, typed));
    if nodes.iter().all(Option::is_none) {
        problems.push(wrong(
            format!("nothing was read at {}", setting.at),
            fields.place(),
            "expected a recording ('file') or a meter's figures ('mean', 'max', 'frequency')",
            "write for example: {mean: 0.12, max: 0.41, frequency: 25.1 Hz}",
        ));
        return None;
    }
    let mut level = |name: &'static str, problems: &mut Problems| {
        let written = fields.get(name).is_some();
        let value = fields.quantity(name, &[Kind::Acceleration], Some(unit), problems);
        size(name, written, value, unit, fields, problems)
    };
    let mean = level("mean", problems);
    let max = level("max", problems);
    let frequency = fields.quantity("frequency", &[Kind::Frequency], None, problems);
    let frequency = size("frequency", nodes[2].is_some(), frequency, ready.units.hertz, fields, problems);
    let (Ok(mean), Ok(max), Ok(frequency)) = (mean, max, frequency) else { return None };
    if let (Some(mean), Some(max), Some(node)) = (mean, max, &nodes[0])
        && mean > max
    {
        problems.push(wrong(
            format!("the mean at {} is larger than the largest value", setting.at),
            fields.at(node),
            "expected 'mean' not to be above 'max'",
            "look whether the two were exchanged, or given in different units",
        ));
        return None;
    }
    let one =
        |what: &'static str, value: f64| mean_of(&setting.at, what, &[value + shown.correction], unit, shown);
    let mut findings: Vec<Finding> = Vec::new();
    findings.extend(mean.map(|value| one("acceleration_mean", value)));
    findings.extend(max.map(|value| one("acceleration_max", value)));
    findings.extend(frequency.map(|value| shown_frequency(setting, value, &texts[2], ready)));
    Some(OfSetting {
        findings,
        figure: Some(FigureRow { at: setting.at.clone(), cells: texts }),
        notes: vec![
            "Figures as the meter gave them: its band and its way of averaging are not known here."
                .to_owned(),
        ],
        ..OfSetting::default()
    })
}

fn typed(node: &Node) -> String {
    match &node.value {
        Value::Scalar(scalar) => scalar.text.clone(),
        _ => String::new(),
    }
}

/// A figure was written and is faulty, which is said.
struct Faulty;

/// A figure's number in `unit`; none where none was written.
fn size(
    name: &'static str,
    written: bool,
    value: Option<Quantity>,
    unit: Unit,
    fields: &mut Fields,
    problems: &mut Problems,
) -> Result<Option<f64>, Faulty> {
    if !written {
        return Ok(None);
    }
    let number = value.and_then(|value| value.to(unit).ok()).ok_or(Faulty)?;
    if number >= 0.0 {
        return Ok(Some(number));
    }
    let node = fields.get(name).ok_or(Faulty)?;
    problems.push(wrong(
        format!("'{name}' is below zero"),
        fields.at(&node),
        "expected a size",
        "a meter's figures are sizes: take the sign off",
    ));
    Err(Faulty)
}

/// A frequency as the meter showed it; its step is the last digit typed.
fn shown_frequency(setting: &Setting, value: f64, typed: &str, ready: &Ready) -> Finding {
    let digits = typed.split_whitespace().next().unwrap_or("");
    let decimals = digits.split_once('.').map_or(0, |(_, after)| after.len());
    let kilo = if typed.contains("kHz") { 1000.0 } else { 1.0 };
    let step = kilo / 10f64.powi(i32::try_from(decimals.min(9)).unwrap_or(0));
    let line = Component {
        name: "Last digit of the frequency written".to_owned(),
        estimate: step,
        distribution: Distribution::Rectangular,
        divisor: 12f64.sqrt(),
        contribution: step / 12f64.sqrt(),
        dof: f64::INFINITY,
    };
    let mut found =
        finding(&setting.at, "dominant_frequency", ready.units.hertz, Some(value), combine(vec![line]));
    found.n = 1;
    found.notes.push("As the meter gave it; only the last digit written is in the uncertainty.".to_owned());
    found
}
