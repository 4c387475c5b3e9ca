//! A surface's readings: a grid, a grid read several times, or scattered points; with holes.

use std::collections::BTreeMap;
use std::sync::Arc;

use crate::findings::{Cell, RawTable};
use crate::quantity::{Kind, Quantity, Unit, significant};
use crate::session::{
    Fields, Node, Problem, Problems, Reading, SourceFile, Value, list_of, quantity_of, reading_of,
};

use super::super::blank::HOLE;
use super::super::form::{Frame, MOST_PASSES, above_zero};
use super::super::uncertainty::Shown;
use super::super::zone::Observed;

/// How the places lie.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Layout {
    /// Rows and columns.
    Grid {
        /// How many places a row has.
        columns: usize,
    },
    /// Anywhere.
    Scattered,
}

/// A surface's readings.
pub(super) struct Surface {
    /// How the places lie.
    pub layout: Layout,
    /// The unit of x and y.
    pub length: Unit,
    /// Every place, holes too.
    pub places: Vec<(f64, f64)>,
    /// How many passes were made.
    pub passes: usize,
    /// Which place, in which pass, what.
    readings: Vec<(usize, usize, Reading)>,
    /// Where nothing can be read.
    holes: usize,
    step: Option<(Quantity, Quantity)>,
}

impl Surface {
    /// Reads `rows` or `passes` with `step`, or `points`.
    pub(super) fn read(own: &mut Fields, unit: Unit, problems: &mut Problems) -> Option<Self> {
        let errors = problems.errors();
        let ways = ["rows", "passes", "points"].map(|name| (name, own.get(name)));
        let written: Vec<&str> =
            ways.iter().filter(|(_, node)| node.is_some()).map(|(name, _)| *name).collect();
        if written.len() > 1 {
            own.get("step");
            problems.push(
                Problem::error(format!("both '{}' and '{}'", written[0], written[1]), own.place())
                    .expected("expected one of rows, passes, points")
                    .help("a grid stands in 'rows', or read several times in 'passes'; anything else in 'points'"),
            );
        }
        let [rows, passes, points] = ways.map(|(_, node)| node);
        let surface = if let Some(points) = points {
            scattered(&points, own, unit, problems)
        } else {
            let node = match (rows, passes) {
                (Some(rows), _) => Some((rows, false)),
                (None, Some(passes)) => Some((passes, true)),
                (None, None) => {
                    own.need("rows", "[[0, 2, 1], [3, 6, 2], [1, 4, 0]]", problems).map(|node| (node, false))
                }
            };
            let step = step_of(own, problems);
            let grids = node.and_then(|(node, several)| grids(&node, several, own, unit, problems));
            grids.zip(step).map(|(grids, step)| grid(grids, step))
        };
        surface.filter(|_| problems.errors() == errors)
    }

    /// Every reading as a height.
    pub(super) fn observed(&self, frame: &Frame, shown: &Shown) -> Vec<Observed> {
        let one = |(at, pass, reading): &(usize, usize, Reading)| {
            let height = frame.height(reading, shown)?;
            Some(Observed { at: *at, pass: *pass, height, struck: !reading.counts() })
        };
        self.readings.iter().filter_map(one).collect()
    }

    /// Row and column of a place.
    pub(super) fn cell(&self, index: usize) -> Option<(usize, usize)> {
        match self.layout {
            Layout::Grid { columns } if columns > 0 => Some((index / columns, index % columns)),
            _ => None,
        }
    }

    /// "8 × 5, 110 × 150 mm apart, 6 holes", or "20 points".
    pub(super) fn words(&self) -> String {
        let holes = match self.holes {
            0 => String::new(),
            1 => ", 1 hole".to_owned(),
            several => format!(", {several} holes"),
        };
        match (self.layout, self.step) {
            (Layout::Grid { columns }, Some((x, y))) => {
                format!("{columns} × {}, {x} and {y} apart{holes}", self.places.len() / columns.max(1))
            }
            _ => {
                let span = |pick: fn(&(f64, f64)) -> f64| {
                    let low = self.places.iter().map(pick).fold(f64::INFINITY, f64::min);
                    let high = self.places.iter().map(pick).fold(f64::NEG_INFINITY, f64::max);
                    significant(high - low, 4)
                };
                format!("{} over {} × {} {}", self.places.len(), span(|p| p.0), span(|p| p.1), self.length)
            }
        }
    }

    /// As they were taken.
    pub(super) fn raw(&self, unit: Unit) -> Vec<RawTable> {
        let cell = |reading: &Reading| Cell { text: reading.text.clone(), struck: reading.struck.clone() };
        let Layout::Grid { columns } = self.layout else {
            let place = |index: usize| self.places[index];
            let rows = self.readings.iter().enumerate().map(|(number, (at, _, reading))| {
                let plain = |text: String| Cell { text, struck: None };
                let (x, y) = place(*at);
                (
                    (number + 1).to_string(),
                    vec![plain(significant(x, 6)), plain(significant(y, 6)), cell(reading)],
                )
            });
            let columns = [
                "Point".to_owned(),
                format!("x, {}", self.length),
                format!("y, {}", self.length),
                "height".to_owned(),
            ];
            return vec![RawTable {
                at: String::new(),
                columns: columns.to_vec(),
                rows: rows.collect(),
                unit,
            }];
        };
        let heads: Vec<String> =
            std::iter::once("Row".to_owned()).chain((1..=columns).map(|column| column.to_string())).collect();
        (0..self.passes)
            .map(|pass| {
                let hole = || Cell { text: HOLE.to_owned(), struck: None };
                let mut cells: Vec<Cell> = (0..self.places.len()).map(|_| hole()).collect();
                for (at, _, reading) in self.readings.iter().filter(|(_, of, _)| *of == pass) {
                    cells[*at] = cell(reading);
                }
                let rows = cells
                    .chunks(columns)
                    .enumerate()
                    .map(|(row, cells)| ((row + 1).to_string(), cells.to_vec()));
                let at = if self.passes > 1 { format!("pass {}", pass + 1) } else { String::new() };
                RawTable { at, columns: heads.clone(), rows: rows.collect(), unit }
            })
            .collect()
    }
}

/// Places that were given one by one, as the heads of a single row: on a sheet only the heights are blank.
pub(super) fn places_as_heads(table: &RawTable) -> RawTable {
    let [first, x, _, height] = table.columns.as_slice() else { return table.clone() };
    if first != "Point" {
        return table.clone();
    }
    let place = |(_, cells): &(String, Vec<Cell>)| match cells.as_slice() {
        [x, y, height] => (format!("{}, {}", x.text, y.text), height.clone()),
        _ => (String::new(), Cell { text: HOLE.to_owned(), struck: None }),
    };
    let (mut heads, heights): (Vec<String>, Vec<Cell>) = table.rows.iter().map(place).unzip();
    heads.insert(0, x.replacen('x', "x, y", 1));
    RawTable { at: table.at.clone(), columns: heads, rows: vec![(height.clone(), heights)], unit: table.unit }
}

/// One pass over a grid: rows of readings and holes.
type Grid = Vec<Vec<Option<Reading>>>;

fn grids(node: &Node, several: bool, own: &Fields, unit: Unit, problems: &mut Problems) -> Option<Vec<Grid>> {
    let source = own.source().clone();
    let nodes = if several { list_of(node, &source, "'passes'", problems)? } else { vec![node.clone()] };
    if nodes.is_empty() || nodes.len() > MOST_PASSES {
        problems.push(
            Problem::error(format!("{} passes", nodes.len()), own.at(node))
                .expected(format!("expected 1 to {MOST_PASSES} grids, one a pass"))
                .help("write for example: passes: [[[0, 2], [3, 6]], [[0, 2], [3, 5]]]"),
        );
        return None;
    }
    let mut grids: Vec<Grid> = Vec::new();
    for one in &nodes {
        let size = grids.first().map(|grid| (grid.len(), grid.first().map_or(0, Vec::len)));
        if let Some(grid) = rows_of(one, &source, unit, size, own, problems) {
            grids.push(grid);
        }
    }
    (grids.len() == nodes.len()).then_some(grids)
}

fn rows_of(
    node: &Node,
    source: &Arc<SourceFile>,
    unit: Unit,
    size: Option<(usize, usize)>,
    own: &Fields,
    problems: &mut Problems,
) -> Option<Grid> {
    let rows = list_of(node, source, "a grid of readings", problems)?;
    let mut grid: Grid = Vec::new();
    for row in &rows {
        let Some(items) = list_of(row, source, "a row", problems) else { continue };
        let wanted = size.map(|(_, columns)| columns).or(grid.first().map(Vec::len));
        if let Some(wanted) = wanted.filter(|wanted| *wanted != items.len()) {
            problems.push(
                Problem::error(format!("rows of {wanted} and of {} readings", items.len()), own.at(row))
                    .expected(format!("expected {wanted} places in each row"))
                    .help("write '~' where a slot or an opening leaves nothing to read"),
            );
            continue;
        }
        let mut cells = Vec::new();
        for item in &items {
            match item.value {
                Value::Nothing => cells.push(None),
                _ => cells.extend(reading_of(item, source, &[Kind::Length], Some(unit), problems).map(Some)),
            }
        }
        if cells.len() == items.len() {
            grid.push(cells);
        }
    }
    if grid.len() != rows.len() {
        return None;
    }
    if let Some((wanted, _)) = size.filter(|(wanted, _)| *wanted != rows.len()) {
        problems.push(
            Problem::error(format!("passes of {wanted} and of {} rows", rows.len()), own.at(node))
                .expected(format!("expected {wanted} rows in each pass"))
                .help("write '~' for places that were not read"),
        );
        return None;
    }
    if rows.is_empty() || grid.first().is_none_or(Vec::is_empty) {
        problems.push(
            Problem::error("a grid without readings", own.at(node))
                .expected("expected rows of readings")
                .help("write for example: rows: [[0, 2, 1], [3, 6, 2], [1, 4, 0]]"),
        );
        return None;
    }
    Some(grid)
}

fn step_of(own: &mut Fields, problems: &mut Problems) -> Option<(Quantity, Quantity)> {
    let node = own.need("step", "[250 mm, 200 mm]", problems)?;
    let source = own.source().clone();
    let items = list_of(&node, &source, "'step'", problems)?;
    let [x, y] = items.as_slice() else {
        problems.push(
            Problem::error("'step' needs two distances", own.at(&node))
                .expected("expected [along a row, from row to row]")
                .help("write for example: step: [250 mm, 200 mm]"),
        );
        return None;
    };
    let mut one = |node: &Node| {
        let value = quantity_of(node, &source, &[Kind::Length], None, problems)?;
        above_zero(value, "step", own, node, problems)
    };
    let (x, y) = (one(x), one(y));
    x.zip(y)
}

fn grid(grids: Vec<Grid>, (x, y): (Quantity, Quantity)) -> Surface {
    let length = x.unit();
    let (dx, dy) = (x.value(), y.to(length).unwrap_or(y.value()));
    let rows = grids.first().map_or(0, Vec::len);
    let columns = grids.first().and_then(|grid| grid.first()).map_or(0, Vec::len);
    let places = (0..rows * columns)
        .map(|index| ((index % columns) as f64 * dx, (index / columns) as f64 * dy))
        .collect();
    let passes = grids.len();
    let mut readings = Vec::new();
    let mut read = vec![false; rows * columns];
    for (pass, grid) in grids.into_iter().enumerate() {
        for (at, cell) in grid.into_iter().flatten().enumerate() {
            if let Some(reading) = cell {
                read[at] = true;
                readings.push((at, pass, reading));
            }
        }
    }
    let holes = read.iter().filter(|read| !**read).count();
    Surface { layout: Layout::Grid { columns }, length, places, passes, readings, holes, step: Some((x, y)) }
}

fn scattered(node: &Node, own: &Fields, unit: Unit, problems: &mut Problems) -> Option<Surface> {
    let source = own.source().clone();
    let items = list_of(node, &source, "'points'", problems)?;
    let mut surface: Option<Surface> = None;
    let mut known: BTreeMap<(i64, i64), usize> = BTreeMap::new();
    let mut complete = 0;
    for item in &items {
        let Some((x, y, reading)) = point(item, &source, own, unit, problems) else { continue };
        let length = surface.as_ref().map_or(x.unit(), |surface| surface.length);
        let (Ok(x), Ok(y)) = (x.to(length), y.to(length)) else { continue };
        let surface = surface.get_or_insert_with(|| Surface {
            layout: Layout::Scattered,
            length,
            places: Vec::new(),
            passes: 1,
            readings: Vec::new(),
            holes: 0,
            step: None,
        });
        // The same place read again is one place.
        let at = *known.entry((to_a_millionth(x), to_a_millionth(y))).or_insert_with(|| {
            surface.places.push((x, y));
            surface.places.len() - 1
        });
        surface.readings.push((at, 0, reading));
        complete += 1;
    }
    if items.is_empty() {
        problems.push(
            Problem::error("'points' is an empty list", own.at(node))
                .expected("expected points")
                .help("write for example: points: [[0 mm, 0 mm, 1.5], [250 mm, 0 mm, 2.0]]"),
        );
    }
    surface.filter(|_| complete == items.len())
}

/// A place along one axis, told apart to a millionth of the unit.
fn to_a_millionth(place: f64) -> i64 {
    #[allow(clippy::cast_possible_truncation)]
    let whole = (place * 1e6).round() as i64;
    whole
}

fn point(
    item: &Node,
    source: &Arc<SourceFile>,
    own: &Fields,
    unit: Unit,
    problems: &mut Problems,
) -> Option<(Quantity, Quantity, Reading)> {
    let parts = list_of(item, source, "a point", problems)?;
    let [x, y, height] = parts.as_slice() else {
        problems.push(
            Problem::error(format!("a point of {} numbers", parts.len()), own.at(item))
                .expected("expected [x, y, height]")
                .help("write for example: [250 mm, 100 mm, 1.5]"),
        );
        return None;
    };
    let x = quantity_of(x, source, &[Kind::Length], None, problems);
    let y = quantity_of(y, source, &[Kind::Length], None, problems);
    let height = reading_of(height, source, &[Kind::Length], Some(unit), problems);
    Some((x?, y?, height?))
}
