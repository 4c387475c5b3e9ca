//! A gap between a square and what should be square to its foot, over a distance.

use crate::findings::{Cell, RawTable};
use crate::quantity::Kind;
use crate::session::{Fields, Problems, readings_of};

use super::super::form::{Reference, distance, height};
use super::super::lean::Units;
use super::super::statistics::mean;
use super::super::uncertainty::Shown;
use super::Worked;

const SIGN: &str = "Positive: a gap, as it was read at the distance given from where the square touches. Write a gap at the \
     touching end as a negative one; which way that leans the machine follows from where the square stood.";

pub(super) fn worked(
    own: &mut Fields,
    units: &Units,
    reference: &Reference,
    shown: Option<&Shown>,
    problems: &mut Problems,
) -> Option<Worked> {
    let over = distance(own, "over", "300 mm", problems);
    let node = own.need("gap", "[0.10, 0.12]", problems)?;
    let read = readings_of(&node, own.source(), "'gap'", &[Kind::Length], Some(units.length), problems);
    let (over, read, shown) = (over?, read?, shown?);
    let departures: Vec<(f64, bool)> = read
        .iter()
        .filter_map(|reading| {
            Some((height(reading, units.length, shown)? + shown.correction, !reading.counts()))
        })
        .collect();
    let gaps: Vec<f64> = departures.iter().map(|(gap, _)| *gap).collect();
    let accuracy = shown.accuracy_line(mean(&gaps) - shown.correction, 1.0);
    let mut set_up = vec![
        ("method".to_owned(), "gap over a distance".to_owned()),
        ("readings".to_owned(), read.len().to_string()),
        ("distance".to_owned(), over.to_string()),
    ];
    set_up.extend(reference.fact());
    Some(Worked {
        departures,
        over,
        step_factor: 1.0,
        repeat_factor: 1.0,
        further: accuracy.into_iter().chain(reference.line(units.length, 1.0)).collect(),
        fitted: None,
        raw: vec![RawTable {
            at: String::new(),
            columns: std::iter::once("Reading".to_owned())
                .chain((1..=read.len()).map(|n| n.to_string()))
                .collect(),
            rows: vec![(
                units.length.symbol().to_owned(),
                read.iter()
                    .map(|reading| Cell { text: reading.text.clone(), struck: reading.struck.clone() })
                    .collect(),
            )],
            unit: units.length,
        }],
        set_up,
        notes: reference.note().into_iter().collect(),
        sign: SIGN,
        along: "From where the square touches",
    })
}
