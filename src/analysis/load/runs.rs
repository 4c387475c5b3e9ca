//! The cuts as they were written: stocks, their runs, and every mistake that can be made in them.

use std::sync::Arc;

use crate::findings::{Cell, RawTable};
use crate::quantity::{Kind, Quantity, Unit};
use crate::session::{
    Fields, Node, Place, Problem, Problems, Reading, SourceFile, Value, key_place, list_of, quantity_of,
    reading_of,
};

/// All runs in one stock.
#[derive(Clone, Debug)]
pub(super) struct Cut {
    /// The stock.
    pub(super) stock: String,
    /// How deep the cut was.
    pub(super) depth: Option<Quantity>,
    /// The runs in their order.
    pub(super) runs: Vec<Run>,
}

/// One run.
#[derive(Clone, Debug)]
pub(super) struct Run {
    pub(super) unloaded: Option<Reading>,
    pub(super) loaded: Option<Reading>,
    pub(super) length: Option<Reading>,
    pub(super) time: Option<Reading>,
    /// Whether the blade stopped.
    pub(super) stalled: bool,
    /// Why the whole run was struck, where it was.
    pub(super) struck: Option<String>,
    place: Place,
}

/// A run's number in a unit, and whether it was struck.
pub(super) type Number = (f64, bool);

impl Run {
    /// A number of the run in a unit; struck where it or the whole run was.
    pub(super) fn number(&self, of: Option<&Reading>, unit: Unit) -> Option<Number> {
        let reading = of?;
        let value = reading.quantity.to(unit).ok()?;
        Some((value, self.struck.is_some() || !reading.counts()))
    }

    /// Whether it stalled and counts.
    pub(super) fn stall_counts(&self) -> bool {
        self.stalled && self.struck.is_none()
    }
}

/// Reads `cuts`.
pub(super) fn cuts_of(
    node: &Node,
    source: &Arc<SourceFile>,
    bare: Option<Unit>,
    problems: &mut Problems,
) -> Option<Vec<Cut>> {
    let entries = Fields::of(node, source, "'cuts'", problems)?.entries();
    let mut cuts = Vec::new();
    for entry in &entries {
        if entry.key.trim().is_empty() || entry.key == super::ALL_CUTS {
            problems.push(
                Problem::error(format!("a stock cannot be called '{}'", entry.key), key_place(source, entry))
                    .expected("expected the name of a stock")
                    .help("write for example: red oak"),
            );
            continue;
        }
        cuts.extend(cut_of(&entry.key, &entry.node, source, bare, problems));
    }
    if entries.is_empty() {
        problems.push(
            Problem::error("'cuts' holds no stock", crate::session::place_of(source, node))
                .expected("expected at least one stock with its runs")
                .help("write for example: red oak: {depth: 50 mm, runs: [{unloaded: 3455, loaded: 3010}]}"),
        );
    }
    (cuts.len() == entries.len() && !cuts.is_empty()).then_some(cuts)
}

fn cut_of(
    stock: &str,
    node: &Node,
    source: &Arc<SourceFile>,
    bare: Option<Unit>,
    problems: &mut Problems,
) -> Option<Cut> {
    let mut fields = Fields::of(node, source, &format!("the stock '{stock}'"), problems)?;
    let depth = size(&mut fields, "depth", problems);
    let runs = fields.need("runs", "[{unloaded: 3455, loaded: 3010}]", problems);
    fields.finish(problems);
    let runs = runs?;
    let items = list_of(&runs, source, "'runs'", problems)?;
    if items.is_empty() {
        problems.push(
            Problem::error(format!("'{stock}' has no run"), crate::session::place_of(source, &runs))
                .expected("expected at least one run")
                .help("write for example: runs: [{unloaded: 3455, loaded: 3010}]"),
        );
        return None;
    }
    let read: Vec<Run> = items.iter().filter_map(|item| run_of(item, source, bare, problems)).collect();
    (read.len() == items.len()).then(|| Cut {
        stock: stock.to_owned(),
        depth: depth.ok().flatten(),
        runs: read,
    })
}

/// A length above zero that need not be there; an error where it is there and wrong.
pub(super) fn size(
    fields: &mut Fields,
    name: &'static str,
    problems: &mut Problems,
) -> Result<Option<Quantity>, ()> {
    let Some(node) = fields.get(name) else { return Ok(None) };
    let Some(size) = quantity_of(&node, fields.source(), &[Kind::Length], None, problems) else {
        return Err(());
    };
    if size.value() > 0.0 {
        return Ok(Some(size));
    }
    problems.push(
        Problem::error(format!("'{name}' must be above zero"), fields.at(&node))
            .expected("expected a length above zero")
            .help(format!("write for example: {name}: 2.4 mm, or leave it out")),
    );
    Err(())
}

/// A run, or a struck one: `{struck: {unloaded: …, loaded: …}, because: …}`.
fn run_of(node: &Node, source: &Arc<SourceFile>, bare: Option<Unit>, problems: &mut Problems) -> Option<Run> {
    let mut fields = Fields::of(node, source, "a run", problems)?;
    if !fields.written("struck") {
        return plain_run(fields, bare, problems);
    }
    let inner = fields.need("struck", "{unloaded: 3455, loaded: 3010}", problems);
    let because = fields.need_text("because", "hit a knot", problems);
    fields.finish(problems);
    let inner = inner?;
    if !matches!(inner.value, Value::Map(_)) {
        problems.push(
            Problem::error(
                "a struck run should hold the whole run",
                crate::session::place_of(source, &inner),
            )
            .expected("expected {unloaded: …, loaded: …}")
            .help("write for example: {struck: {unloaded: 3455, loaded: 3010}, because: hit a knot}"),
        );
        return None;
    }
    let run = plain_run(Fields::of(&inner, source, "a run", problems)?, bare, problems)?;
    Some(Run { struck: Some(because?), ..run })
}

fn plain_run(mut fields: Fields, bare: Option<Unit>, problems: &mut Problems) -> Option<Run> {
    let before = problems.errors();
    let stalled = fields.truth("stalled", problems).unwrap_or(false);
    let speed = [Kind::RotationalSpeed];
    let unloaded = one(&mut fields, "unloaded", &speed, bare, problems);
    let loaded = one(&mut fields, "loaded", &speed, bare, problems);
    let length = one(&mut fields, "length", &[Kind::Length], None, problems);
    let time = one(&mut fields, "time", &[Kind::Time], None, problems);
    let place = fields.place();
    let (has_loaded, has_unloaded) = (fields.get("loaded").is_some(), fields.get("unloaded").is_some());
    let mut wrong = |message: &str, expected: &str, help: &str| {
        problems.push(Problem::error(message, place.clone()).expected(expected).help(help));
    };
    if stalled && has_loaded {
        wrong(
            "a run that stalled has no loaded speed",
            "expected 'loaded' or 'stalled: true', not both",
            "a stalled run lost all its speed; if it went on, take 'stalled' out",
        );
    } else if !stalled && !has_loaded {
        wrong(
            "a run has no 'loaded'",
            "expected the speed under load, or 'stalled: true'",
            "write for example: {unloaded: 3455, loaded: 3010} or {unloaded: 3452, stalled: true}",
        );
    }
    if !stalled && !has_unloaded {
        wrong(
            "a run has no 'unloaded'",
            "expected the speed before the cut",
            "write for example: {unloaded: 3455, loaded: 3010}",
        );
    }
    fields.finish(problems);
    let run = Run { unloaded, loaded, length, time, stalled, struck: None, place };
    faster_under_load(&run, problems);
    (problems.errors() == before).then_some(run)
}

/// One number of a run, above zero.
fn one(
    fields: &mut Fields,
    name: &'static str,
    kinds: &[Kind],
    bare: Option<Unit>,
    problems: &mut Problems,
) -> Option<Reading> {
    let node = fields.get(name)?;
    let reading = reading_of(&node, fields.source(), kinds, bare, problems)?;
    if reading.quantity.value() > 0.0 {
        return Some(reading);
    }
    let help = if name == "loaded" {
        "a run in which the blade stopped is written: stalled: true"
    } else {
        "write what was measured, or strike it: {struck: 0, because: read too late}"
    };
    problems.push(
        Problem::error(format!("'{name}' must be above zero"), reading.place)
            .expected("expected a number above zero")
            .help(help),
    );
    None
}

/// A light cut can seem to gain a little by the scatter of the readings; it is said and kept, since
/// leaving it out would push the mean up.
fn faster_under_load(run: &Run, problems: &mut Problems) {
    let (Some(unloaded), Some(loaded)) = (&run.unloaded, &run.loaded) else { return };
    let both_count = unloaded.counts() && loaded.counts();
    let faster = loaded.quantity.to(unloaded.quantity.unit()).is_ok_and(|to| to > unloaded.quantity.value());
    if both_count && faster {
        problems.push(
            Problem::error("the speed under load is above the unloaded one", run.place.clone())
                .warning()
                .expected("the run counts, with a droop below zero")
                .help("if the two were exchanged, mend them; if the reading was wrong, strike it"),
        );
    }
}

/// The readings of every stock, a row a run. A unit that all lengths or all times were written with
/// stands in the column's head.
pub(super) fn raw_tables(cuts: &[Cut], unit: Unit) -> Vec<RawTable> {
    let runs = || cuts.iter().flat_map(|cut| &cut.runs);
    let length = common_unit(runs().filter_map(|run| run.length.as_ref()));
    let time = common_unit(runs().filter_map(|run| run.time.as_ref()));
    cuts.iter().map(|cut| raw(cut, unit, length, time)).collect()
}

fn raw(cut: &Cut, unit: Unit, length: Option<&str>, time: Option<&str>) -> RawTable {
    let head = |name: &str, unit: Option<&str>| {
        unit.map_or_else(|| name.to_owned(), |unit| format!("{name}, {unit}"))
    };
    let rows = cut.runs.iter().zip(1..).map(|(run, number): (&Run, usize)| {
        let cell = |reading: Option<&Reading>, unit: Option<&str>| {
            let text = reading.map_or("–", |reading| reading.text.as_str());
            let bare = unit.and_then(|unit| text.strip_suffix(unit)).map_or(text, str::trim_end);
            let struck = reading.and_then(|reading| reading.struck.clone()).or_else(|| run.struck.clone());
            Cell { text: bare.to_owned(), struck }
        };
        let mut loaded = cell(run.loaded.as_ref(), None);
        if run.stalled {
            "stalled".clone_into(&mut loaded.text);
        }
        let cells = [
            cell(run.unloaded.as_ref(), None),
            loaded,
            cell(run.length.as_ref(), length),
            cell(run.time.as_ref(), time),
        ];
        (number.to_string(), cells.to_vec())
    });
    RawTable {
        at: cut.stock.clone(),
        columns: vec![
            "Run".to_owned(),
            "Unloaded".to_owned(),
            "Loaded".to_owned(),
            head("Length", length),
            head("Time", time),
        ],
        rows: rows.collect(),
        unit,
    }
}

/// The unit that all of the readings were written with, where it is one.
fn common_unit<'a>(mut readings: impl Iterator<Item = &'a Reading>) -> Option<&'a str> {
    let unit_of = |reading: &'a Reading| reading.text.split_once(' ').map(|(_, unit)| unit.trim());
    let first = unit_of(readings.next()?)?;
    readings.all(|reading| unit_of(reading) == Some(first)).then_some(first)
}
