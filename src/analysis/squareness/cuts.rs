//! Five cuts: the near and the far end of the fifth strip, over four and its length.

use crate::findings::{Cell, RawTable};
use crate::quantity::{Kind, Quantity};
use crate::session::{Fields, Node, Problems, Reading, reading_of};

use super::super::form::distance;
use super::super::lean::Units;
use super::super::statistics::mean;
use super::super::uncertainty::Shown;
use super::Worked;

const SIGN: &str = "Positive: the fifth strip is wider at its near end than at its far end, near and far as the session \
     names them. Near and far swapped would turn the sign and nothing else; which way to turn the gauge follows \
     from which end was which.";

struct Cut {
    near: Reading,
    far: Reading,
    strip: Quantity,
}

pub(super) fn worked(
    own: &mut Fields,
    units: &Units,
    shown: Option<&Shown>,
    problems: &mut Problems,
) -> Option<Worked> {
    let errors = problems.errors();
    let nodes = own.list("five_cuts", problems)?;
    let source = own.source().clone();
    if nodes.is_empty() {
        let node = own.get("five_cuts")?;
        crate::session::readings_of(&node, &source, "'five_cuts'", &[], None, problems);
    }
    let cuts: Vec<Cut> = nodes.iter().filter_map(|node| cut(node, own, units, problems)).collect();
    let shown = shown.filter(|_| problems.errors() == errors && !cuts.is_empty())?;
    let unit = cuts.first()?.strip.unit();
    let lengths: Vec<f64> = cuts.iter().filter_map(|cut| cut.strip.to(unit).ok()).collect();
    let over = Quantity::new(rounded(mean(&lengths)), unit);
    let mut departures = Vec::new();
    let mut widths = Vec::new();
    for (cut, length) in cuts.iter().zip(&lengths) {
        let near = cut.near.quantity.to(units.length).ok()? * shown.scale;
        let far = cut.far.quantity.to(units.length).ok()? * shown.scale;
        widths.extend([near, far]);
        let struck = !cut.near.counts() || !cut.far.counts();
        departures.push(((near - far) / 4.0 * over.value() / length, struck));
    }
    Some(Worked {
        departures,
        over,
        step_factor: 2f64.sqrt() / 4.0,
        repeat_factor: 2f64.sqrt() / 4.0,
        further: shown.accuracy_line(mean(&widths), 0.25).into_iter().collect(),
        fitted: None,
        raw: vec![raw(&cuts, units)],
        set_up: vec![
            ("method".to_owned(), "five cuts".to_owned()),
            ("strips".to_owned(), cuts.len().to_string()),
            ("distance".to_owned(), format!("{over}{}", if cuts.len() > 1 { " on average" } else { "" })),
        ],
        notes: Vec::new(),
        sign: SIGN,
        along: "Along the strip",
    })
}

/// A mean length as it is printed: to six digits, like every quantity that was typed.
fn rounded(length: f64) -> f64 {
    crate::quantity::significant(length, 4).replace('\u{2212}', "-").parse().unwrap_or(length)
}

fn cut(node: &Node, own: &Fields, units: &Units, problems: &mut Problems) -> Option<Cut> {
    let source = own.source().clone();
    let mut fields = Fields::of(node, &source, "a test of five cuts", problems)?;
    let mut width = |name, example| {
        let node = fields.need(name, example, problems)?;
        reading_of(&node, &source, &[Kind::Length], Some(units.length), problems)
    };
    let (near, far) = (width("near", "31.02"), width("far", "31.47"));
    let strip = distance(&mut fields, "strip", "380 mm", problems);
    fields.finish(problems);
    Some(Cut { near: near?, far: far?, strip: strip? })
}

fn raw(cuts: &[Cut], units: &Units) -> RawTable {
    let cell = |reading: &Reading| Cell { text: reading.text.clone(), struck: reading.struck.clone() };
    let row = |(index, cut): (usize, &Cut)| {
        let strip = Cell { text: cut.strip.to_string(), struck: None };
        ((index + 1).to_string(), vec![cell(&cut.near), cell(&cut.far), strip])
    };
    RawTable {
        at: String::new(),
        columns: ["Board", "near", "far", "strip"].map(str::to_owned).to_vec(),
        rows: cuts.iter().enumerate().map(row).collect(),
        unit: units.length,
    }
}
