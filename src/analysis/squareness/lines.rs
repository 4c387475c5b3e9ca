//! An indicator run up a square, or two lines one after the other: slopes of least-squares lines.

use crate::findings::{Component, RawTable};
use crate::quantity::{Kind, Quantity, Unit};
use crate::session::{Fields, Node, Problem, Problems, list_of};

use super::super::form::{Reference, height};
use super::super::lean::Units;
use super::super::straight_line::{self, Line};
use super::super::straightness::{Pass, cells, line_fields};
use super::super::uncertainty::Shown;
use super::Worked;

const SIGN: &str =
    "Positive: the heights rise along the line; of two lines, the second rises more than the first.";

struct Run {
    along: Vec<Quantity>,
    passes: Vec<Pass>,
}

/// A run's line: departure over departure, all in the unit of lengths.
struct Fitted {
    line: Line,
    span: f64,
    struck: usize,
}

pub(super) fn worked(
    own: &mut Fields,
    units: &Units,
    reference: &Reference,
    shown: Option<&Shown>,
    problems: &mut Problems,
) -> Option<Worked> {
    let node = own.get("lines")?;
    let source = own.source().clone();
    let nodes = list_of(&node, &source, "'lines'", problems)?;
    let square = own.difference("square_error", &[Kind::Angle], problems);
    if nodes.is_empty() || nodes.len() > 2 {
        problems.push(
            Problem::error(format!("{} lines", nodes.len()), own.at(&node))
                .expected("expected one line (up a square) or two")
                .help("write for example: lines: [{along: [0 mm, 100 mm, 200 mm], passes: [[0, 1, 2]]}]"),
        );
        return None;
    }
    let runs: Vec<Run> = nodes.iter().filter_map(|node| run(node, own, units, problems)).collect();
    let shown = shown.filter(|_| runs.len() == nodes.len())?;
    let fitted: Vec<Fitted> = runs.iter().filter_map(|run| fit(run, units, shown)).collect();
    if fitted.len() < runs.len() {
        problems.push(
            Problem::error("fewer than three readings of a line are left", own.at(&node))
                .expected("too many are struck")
                .help("a straight line goes through any two points: measure it again"),
        );
        return None;
    }
    let last = fitted.last()?;
    let length = runs.last()?.along.first()?.unit();
    let over =
        Quantity::new(last.span, units.length).to(length).ok().map(|span| Quantity::new(span, length))?;
    let slope = match fitted.as_slice() {
        [first, second] => second.line.slope - first.line.slope,
        _ => last.line.slope,
    };
    let radian = Unit::known(Kind::Angle, "rad")?;
    let error = square.and_then(|square| square.to(radian).ok()).unwrap_or(0.0);
    Some(Worked {
        departures: vec![((slope + error) * last.span, false)],
        over,
        step_factor: 0.0,
        repeat_factor: 0.0,
        further: lines_of_budget(&fitted, last.span, shown, reference, units.length),
        fitted: Some(
            runs.iter()
                .flat_map(|run| run.passes.iter().flatten().flatten())
                .filter(|reading| reading.counts())
                .count(),
        ),
        raw: runs.iter().enumerate().map(|(index, run)| raw(run, index, runs.len(), units)).collect(),
        set_up: set_up(&runs, over, square.map(|square| square.to_string()), reference),
        notes: notes(&fitted, reference),
        sign: SIGN,
        along: "Along the line",
    })
}

fn run(node: &Node, own: &Fields, units: &Units, problems: &mut Problems) -> Option<Run> {
    let source = own.source().clone();
    let mut fields = Fields::of(node, &source, "a line", problems)?;
    let read = line_fields(&mut fields, units.length, problems);
    fields.finish(problems);
    read.map(|(along, passes)| Run { along, passes })
}

/// The least-squares line through everything that counts; each pass about its own mean, for the
/// indicator may be set to zero anew.
fn fit(run: &Run, units: &Units, shown: &Shown) -> Option<Fitted> {
    let at: Vec<f64> = run.along.iter().filter_map(|at| at.to(units.length).ok()).collect();
    let (mut x, mut y, mut struck) = (Vec::new(), Vec::new(), 0);
    for pass in &run.passes {
        let kept: Vec<(f64, f64)> = pass
            .iter()
            .zip(&at)
            .filter_map(|(reading, at)| Some((reading.as_ref().filter(|reading| reading.counts())?, at)))
            .filter_map(|(reading, at)| Some((*at, height(reading, units.length, shown)?)))
            .collect();
        struck += pass.iter().flatten().filter(|reading| !reading.counts()).count();
        let n = kept.len().max(1) as f64;
        let middle = kept.iter().map(|(x, _)| x).sum::<f64>() / n;
        let level = kept.iter().map(|(_, y)| y).sum::<f64>() / n;
        x.extend(kept.iter().map(|(at, _)| at - middle));
        y.extend(kept.iter().map(|(_, height)| height - level));
    }
    let line = straight_line::fit(&x, &y).filter(|line| line.n > 2)?;
    // Each pass took a level of its own, the first of which the fit has counted already.
    let dof = line.dof() - (run.passes.len() as f64 - 1.0);
    if dof < 1.0 {
        return None;
    }
    let line = Line { deviation: (line.left / dof).sqrt(), n: line.n + 1 - run.passes.len(), ..line };
    let low = at.iter().copied().fold(f64::INFINITY, f64::min);
    let high = at.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    Some(Fitted { line, span: high - low, struck })
}

/// What the slopes' uncertainty is made of, carried to the departure over the span.
fn lines_of_budget(
    fitted: &[Fitted],
    span: f64,
    shown: &Shown,
    reference: &Reference,
    unit: Unit,
) -> Vec<Component> {
    let mut lines = Vec::new();
    for (index, one) in fitted.iter().enumerate() {
        let of =
            if fitted.len() == 1 { "the line" } else { ["the first line", "the second line"][index.min(1)] };
        let name = format!("Departures from {of}");
        lines.push(Component::standard(&name, one.line.slope_standard() * span, one.line.dof()));
        let step = (shown.step > 0.0)
            .then(|| shown.step_line(shown.step_standard() / one.line.spread.sqrt() * span));
        let accuracy = shown.accuracy_line(one.line.slope * one.span, span / one.span);
        for mut line in step.into_iter().chain(accuracy) {
            if fitted.len() > 1 {
                line.name = format!("{}, {of}", line.name);
            }
            lines.push(line);
        }
    }
    lines.extend(reference.line(unit, 1.0));
    lines
}

fn set_up(
    runs: &[Run],
    over: Quantity,
    square: Option<String>,
    reference: &Reference,
) -> Vec<(String, String)> {
    let method = if runs.len() == 1 { "a line against a square" } else { "two lines" };
    let mut facts = vec![("method".to_owned(), method.to_owned()), ("distance".to_owned(), over.to_string())];
    facts.extend(square.map(|square| ("error of the square".to_owned(), square)));
    facts.extend(reference.fact());
    facts
}

fn notes(fitted: &[Fitted], reference: &Reference) -> Vec<String> {
    let struck: usize = fitted.iter().map(|one| one.struck).sum();
    let mut notes: Vec<String> = reference.note().into_iter().collect();
    match struck {
        0 => {}
        1 => notes.push("One reading of the lines is struck and left out.".to_owned()),
        several => notes.push(format!("{several} readings of the lines are struck and left out.")),
    }
    notes
}

fn raw(run: &Run, index: usize, of: usize, units: &Units) -> RawTable {
    let columns = std::iter::once("Pass".to_owned()).chain(run.along.iter().map(ToString::to_string));
    RawTable {
        at: if of > 1 { format!("line {}", index + 1) } else { String::new() },
        columns: columns.collect(),
        rows: run
            .passes
            .iter()
            .enumerate()
            .map(|(number, pass)| ((number + 1).to_string(), cells(pass)))
            .collect(),
        unit: units.length,
    }
}
