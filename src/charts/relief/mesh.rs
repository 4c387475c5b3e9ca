//! The triangles between the places read: a grid's own, or those of Delaunay between scattered places.
//!
//! A place without a height is a corner of no triangle, so a hole in a table stays a hole.

use std::collections::BTreeMap;

use super::ReliefPoint;
use crate::charts::clip::Point;

/// A place on the page with its height.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Node {
    /// Where it is drawn, in points.
    pub(super) place: Point,
    /// Its height; `None` where nothing is drawn.
    pub(super) height: Option<f64>,
    /// Its row and column where it is one of a grid.
    pub(super) cell: Option<(usize, usize)>,
}

/// A surface of triangles. All turn the same way, in the grid or on the page.
#[derive(Debug, Default)]
pub(super) struct Mesh {
    /// The corners on the page, in points, with their heights.
    pub(super) corners: Vec<(Point, f64)>,
    /// Three corners each.
    pub(super) triangles: Vec<[usize; 3]>,
}

/// What is drawn for readings too many to be drawn one by one: means over at most `most` rows and columns.
/// A mean over a hole is a hole. Few readings stay as they are, which the second value tells.
pub(super) fn binned(nodes: Vec<Node>, most: usize) -> (Vec<Node>, bool) {
    if nodes.len() <= most * most {
        return (nodes, false);
    }
    let keys = if nodes.iter().all(|node| node.cell.is_some()) {
        let cells: Vec<(usize, usize)> = nodes.iter().filter_map(|node| node.cell).collect();
        let rows = groups(cells.iter().map(|cell| cell.0).collect(), most);
        let columns = groups(cells.iter().map(|cell| cell.1).collect(), most);
        rows.into_iter().zip(columns).map(|(row, column)| (row, column, true)).collect::<Vec<_>>()
    } else {
        let across = slices(nodes.iter().map(|node| node.place.0).collect(), most);
        let down = slices(nodes.iter().map(|node| node.place.1).collect(), most);
        across.into_iter().zip(down).map(|(x, y)| (x, y, false)).collect()
    };
    let mut bins: BTreeMap<(usize, usize, bool), Vec<Node>> = BTreeMap::new();
    for (key, node) in keys.into_iter().zip(nodes) {
        bins.entry(key).or_default().push(node);
    }
    let mean = |values: &mut dyn Iterator<Item = f64>, count: usize| values.sum::<f64>() / count as f64;
    let one = |((row, column, is_grid), nodes): ((usize, usize, bool), Vec<Node>)| {
        let place = (
            mean(&mut nodes.iter().map(|node| node.place.0), nodes.len()),
            mean(&mut nodes.iter().map(|node| node.place.1), nodes.len()),
        );
        let heights: Option<Vec<f64>> = nodes.iter().map(|node| node.height).collect();
        // Each is divided first: a sum of the largest would overflow.
        let height =
            heights.map(|heights| heights.iter().map(|height| height / heights.len() as f64).sum::<f64>());
        Node { place, height, cell: is_grid.then_some((row, column)) }
    };
    (bins.into_iter().map(one).collect(), true)
}

/// Rows or columns gathered about at most `most` of them, the first and the last among these, so that the
/// surface keeps its size.
fn groups(indices: Vec<usize>, most: usize) -> Vec<usize> {
    let first = indices.iter().min().copied().unwrap_or(0);
    let span = indices.iter().max().copied().unwrap_or(0) - first;
    if span < most {
        return indices.into_iter().map(|index| index - first).collect();
    }
    let steps = (most - 1).saturating_mul(2);
    let nearest = |index: usize| {
        (index - first).saturating_mul(steps).saturating_add(span) / span.saturating_mul(2).max(1)
    };
    indices.into_iter().map(nearest).collect()
}

/// The slice of the whole, of `most` equal ones, that each place is in.
fn slices(places: Vec<f64>, most: usize) -> Vec<usize> {
    let low = places.iter().copied().fold(f64::INFINITY, f64::min);
    let high = places.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let edges: Vec<f64> = (1..most).map(|edge| low + (high - low) * edge as f64 / most as f64).collect();
    places.into_iter().map(|place| edges.partition_point(|edge| *edge <= place)).collect()
}

impl Mesh {
    /// The surface of some places. `squash` is by how much y is drawn larger than x: neighbours are those
    /// on the table, not on the page.
    pub(super) fn new(nodes: &[Node], squash: f64) -> Self {
        let triangles = if nodes.iter().all(|node| node.cell.is_some()) {
            of_grid(nodes)
        } else {
            of_scattered(nodes, squash)
        };
        let corners = nodes.iter().map(|node| (node.place, node.height.unwrap_or(0.0))).collect();
        Self { corners, triangles }
    }

    /// The heights of the corners of triangles, lowest and highest.
    pub(super) fn span(&self) -> Option<(f64, f64)> {
        let heights = self.triangles.iter().flatten().map(|corner| self.height(*corner));
        crate::charts::frame::span(heights)
    }

    pub(super) fn height(&self, corner: usize) -> f64 {
        self.corners.get(corner).map_or(0.0, |corner| corner.1)
    }

    pub(super) fn place(&self, corner: usize) -> Point {
        self.corners.get(corner).map_or((0.0, 0.0), |corner| corner.0)
    }

    /// Whether a place on the page lies on the surface.
    pub(super) fn holds(&self, place: Point) -> bool {
        self.triangles.iter().any(|triangle| {
            let [a, b, c] = triangle.map(|corner| self.place(corner));
            let sides = [(a, b), (b, c), (c, a)].map(|(from, to)| turn(from, to, place));
            sides.iter().all(|side| *side >= 0.0) || sides.iter().all(|side| *side <= 0.0)
        })
    }
}

/// Twice the area of a triangle on the page, negative where it turns the other way.
fn turn(from: Point, to: Point, then: Point) -> f64 {
    (to.0 - from.0) * (then.1 - from.1) - (to.1 - from.1) * (then.0 - from.0)
}

/// Two triangles for each cell with four heights, one for one with three, none for one with fewer.
fn of_grid(nodes: &[Node]) -> Vec<[usize; 3]> {
    let mut at: BTreeMap<(usize, usize), usize> = BTreeMap::new();
    for (index, node) in nodes.iter().enumerate() {
        if let Some(cell) = node.cell.filter(|_| node.height.is_some()) {
            at.entry(cell).or_insert(index);
        }
    }
    // Every cell that has a corner is looked at once, from its first row and column.
    let mut cells: Vec<(usize, usize)> = at
        .keys()
        .flat_map(|(row, column)| {
            [(*row, *column), (row.saturating_sub(1), *column), (*row, column.saturating_sub(1))]
        })
        .collect();
    cells.sort_unstable();
    cells.dedup();
    let mut triangles = Vec::new();
    for (row, column) in cells {
        let (next, beside) = (row.saturating_add(1), column.saturating_add(1));
        let corners = [(row, column), (row, beside), (next, beside), (next, column)];
        let found: Vec<usize> = corners.iter().filter_map(|cell| at.get(cell).copied()).collect();
        match *found.as_slice() {
            [a, b, c, d] => {
                let step = |one: usize, other: usize| {
                    let height = |index: usize| nodes.get(index).and_then(|node| node.height).unwrap_or(0.0);
                    (height(one) - height(other)).abs()
                };
                // The diagonal that differs less runs along the ground, not across a valley.
                let parts =
                    if step(a, c) <= step(b, d) { [[a, b, c], [a, c, d]] } else { [[a, b, d], [b, c, d]] };
                triangles.extend(parts);
            }
            [a, b, c] => triangles.push([a, b, c]),
            _ => {}
        }
    }
    triangles
}

/// Delaunay's triangles whose corners all have heights; none where the places lie on one line.
fn of_scattered(nodes: &[Node], squash: f64) -> Vec<[usize; 3]> {
    let points: Vec<delaunator::Point> =
        nodes.iter().map(|node| delaunator::Point { x: node.place.0, y: node.place.1 / squash }).collect();
    let found = delaunator::triangulate(&points).triangles;
    let (triples, _) = found.as_chunks::<3>();
    let area = |triple: &[usize; 3]| {
        let [a, b, c] = triple.map(|index| points.get(index).map_or((0.0, 0.0), |point| (point.x, point.y)));
        turn(a, b, c).abs() / 2.0
    };
    // Places all but on one line, as a plan draws them: a hundredth of a point of width is no surface.
    let whole: f64 = triples.iter().map(area).sum();
    if whole < 1.0 {
        return Vec::new();
    }
    let is_read = |index: &usize| nodes.get(*index).is_some_and(|node| node.height.is_some());
    triples.iter().filter(|triple| triple.iter().all(is_read)).copied().collect()
}

/// A reading on the page.
pub(super) fn node(point: &ReliefPoint, place: Point) -> Node {
    Node { place, height: point.height.filter(|height| height.is_finite()), cell: point.cell }
}
