//! Surfaces cut at a level: the part above it as closed outlines, and the line along it.
//!
//! Every triangle is cut by itself, and cuts are named by the edge they lie on, so that two triangles
//! agree about a cut to the bit. Parts are then joined across shared edges to one outline for each
//! connected region; nothing is left of the edges between them, and so no renderer can show them.

use std::collections::{BTreeMap, BTreeSet, VecDeque};

use super::mesh::Mesh;
use crate::charts::clip::Point;

/// A corner of the surface, (i, i), or a cut of the edge from i to j at the level, (i, j) with i < j.
pub(super) type Vertex = (usize, usize);

/// A surface cut at a level.
#[derive(Debug)]
pub(super) struct Cut {
    level: f64,
    /// The parts of triangles that are not below the level.
    parts: Vec<Vec<Vertex>>,
    /// What of the level's line lies in a triangle.
    segments: Vec<(Vertex, Vertex)>,
}

impl Cut {
    /// Cuts a surface at a level; −∞ leaves it whole.
    pub(super) fn new(mesh: &Mesh, level: f64) -> Self {
        let mut cut = Self { level, parts: Vec::new(), segments: Vec::new() };
        for triangle in &mesh.triangles {
            let [a, b, c] = *triangle;
            let mut part: Vec<Vertex> = Vec::new();
            let (mut leaves, mut enters) = (None, None);
            for (from, to) in [(a, b), (b, c), (c, a)] {
                let (is_in, next_in) = (mesh.height(from) >= level, mesh.height(to) >= level);
                if is_in {
                    part.push((from, from));
                }
                if is_in != next_in {
                    let crossing = crossing(mesh, from, to, level);
                    part.push(crossing);
                    *(if is_in { &mut leaves } else { &mut enters }) = Some(crossing);
                }
            }
            part.dedup();
            if part.len() > 1 && part.first() == part.last() {
                part.pop();
            }
            if part.len() > 2 {
                cut.parts.push(part);
            }
            if let (Some(from), Some(to)) = (leaves, enters)
                && from != to
            {
                cut.segments.push((from, to));
            }
        }
        cut
    }

    /// Where a vertex is on the page.
    fn place(&self, mesh: &Mesh, (i, j): Vertex) -> Point {
        let (from, to) = (mesh.place(i), mesh.place(j));
        if i == j {
            return from;
        }
        let share = share(mesh, i, j, self.level);
        (from.0 + share * (to.0 - from.0), from.1 + share * (to.1 - from.1))
    }

    fn places(&self, mesh: &Mesh, vertices: &[Vertex]) -> Vec<Point> {
        vertices.iter().map(|vertex| self.place(mesh, *vertex)).collect()
    }

    /// The outlines of the regions not below the level, one each; a hole in one is reached by a slit of no
    /// width.
    pub(super) fn regions(&self, mesh: &Mesh) -> Vec<Vec<Point>> {
        joined(&self.parts).iter().map(|outline| self.places(mesh, outline)).collect()
    }

    /// The lines along the level.
    pub(super) fn lines(&self, mesh: &Mesh) -> Vec<Vec<Point>> {
        chained(&self.segments).iter().map(|line| self.places(mesh, line)).collect()
    }

    /// The edges of the regions, and of the holes in them.
    pub(super) fn borders(&self, mesh: &Mesh) -> Vec<Vec<Point>> {
        let edges: BTreeSet<(Vertex, Vertex)> = self.parts.iter().flat_map(|part| edges(part)).collect();
        let border: Vec<_> =
            edges.iter().filter(|(from, to)| !edges.contains(&(*to, *from))).copied().collect();
        chained(&border).iter().map(|line| self.places(mesh, line)).collect()
    }
}

/// How far along an edge the level is crossed.
fn share(mesh: &Mesh, i: usize, j: usize, level: f64) -> f64 {
    let (from, to) = (mesh.height(i), mesh.height(j));
    (level - from) / (to - from)
}

/// The cut of an edge, named the same from both its sides; all but at an end it is that corner.
fn crossing(mesh: &Mesh, from: usize, to: usize, level: f64) -> Vertex {
    let (i, j) = (from.min(to), from.max(to));
    let share = share(mesh, i, j, level);
    if share < 1e-6 {
        (i, i)
    } else if share > 1.0 - 1e-6 {
        (j, j)
    } else {
        (i, j)
    }
}

/// The edges of a closed outline.
fn edges(outline: &[Vertex]) -> impl Iterator<Item = (Vertex, Vertex)> {
    outline.iter().copied().zip(outline.iter().copied().cycle().skip(1))
}

/// Joins parts that share edges: one outline for each connected region.
///
/// The parts of a region are joined along a spanning tree of their shared edges, which always gives one
/// closed outline; where it then runs along an edge forth and back, that is left out.
fn joined(parts: &[Vec<Vertex>]) -> Vec<Vec<Vertex>> {
    let mut owners: BTreeMap<(Vertex, Vertex), (usize, usize)> = BTreeMap::new();
    for (part, outline) in parts.iter().enumerate() {
        for (index, edge) in edges(outline).enumerate() {
            owners.entry(edge).or_insert((part, index));
        }
    }
    let mut seen = vec![false; parts.len()];
    let mut outlines = Vec::new();
    for root in 0..parts.len() {
        if std::mem::replace(&mut seen[root], true) {
            continue;
        }
        // From an edge of a part to the part joined there and the same edge in that one.
        let mut tree: BTreeMap<(usize, usize), (usize, usize)> = BTreeMap::new();
        let mut queue = VecDeque::from([root]);
        while let Some(part) = queue.pop_front() {
            for (index, (from, to)) in edges(&parts[part]).enumerate() {
                let Some(&(other, entry)) = owners.get(&(to, from)) else { continue };
                if !std::mem::replace(&mut seen[other], true) {
                    tree.insert((part, index), (other, entry));
                    queue.push_back(other);
                }
            }
        }
        let outline = walked(parts, root, &tree);
        if outline.len() > 2 {
            outlines.push(outline);
        }
    }
    outlines
}

/// Walks round the parts of a tree, along the edges that are not of the tree.
fn walked(
    parts: &[Vec<Vertex>],
    root: usize,
    tree: &BTreeMap<(usize, usize), (usize, usize)>,
) -> Vec<Vertex> {
    let mut outline: Vec<Vertex> = Vec::new();
    // A part, its next edge, and how many edges of it are left.
    let mut stack = vec![(root, 0, parts[root].len())];
    while let Some((part, edge, left)) = stack.pop() {
        if left == 0 {
            continue;
        }
        let count = parts[part].len();
        stack.push((part, (edge + 1) % count, left - 1));
        if let Some((child, entry)) = tree.get(&(part, edge)) {
            let count = parts[*child].len();
            stack.push((*child, (entry + 1) % count, count - 1));
        } else {
            walk_to(&mut outline, parts[part][edge]);
        }
    }
    // The same where the end meets the start.
    loop {
        match *outline.as_slice() {
            [first, .., before, _] if outline.len() > 2 && before == first => {
                outline.truncate(outline.len() - 2);
            }
            [_, second, .., last] if outline.len() > 2 && second == last => {
                outline.pop();
                outline.remove(0);
            }
            _ => return outline,
        }
    }
}

/// Goes on to a vertex; forth and back is left out.
fn walk_to(outline: &mut Vec<Vertex>, vertex: Vertex) {
    match outline.as_slice() {
        [.., last] if *last == vertex => {}
        [.., before, _] if *before == vertex => {
            outline.pop();
        }
        _ => outline.push(vertex),
    }
}

/// Segments put end to end, open lines first.
fn chained(segments: &[(Vertex, Vertex)]) -> Vec<Vec<Vertex>> {
    let mut from: BTreeMap<Vertex, Vec<usize>> = BTreeMap::new();
    let mut ends: BTreeSet<Vertex> = BTreeSet::new();
    for (index, (start, end)) in segments.iter().enumerate().rev() {
        from.entry(*start).or_default().push(index);
        ends.insert(*end);
    }
    let is_open = |index: &usize| segments.get(*index).is_some_and(|(start, _)| !ends.contains(start));
    let (open, closed): (Vec<usize>, Vec<usize>) = (0..segments.len()).partition(is_open);
    let mut used = vec![false; segments.len()];
    let mut lines = Vec::new();
    for first in open.into_iter().chain(closed) {
        if used[first] {
            continue;
        }
        let mut line = vec![segments[first].0];
        let mut next = Some(first);
        while let Some(index) = next {
            used[index] = true;
            let end = segments[index].1;
            line.push(end);
            next = from.get_mut(&end).and_then(|leaving| {
                while let Some(index) = leaving.pop() {
                    if !used[index] {
                        return Some(index);
                    }
                }
                None
            });
        }
        lines.push(line);
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A square of four cells with a peak in the middle.
    fn tent(peak: f64) -> Mesh {
        let corners = (0..9).map(|index| {
            let place = (f64::from(index % 3), f64::from(index / 3));
            (place, if index == 4 { peak } else { 0.0 })
        });
        let triangles =
            [[0, 1, 4], [0, 4, 3], [1, 2, 4], [2, 5, 4], [3, 4, 6], [4, 7, 6], [4, 5, 8], [4, 8, 7]].to_vec();
        Mesh { corners: corners.collect(), triangles }
    }

    fn area(outline: &[Point]) -> f64 {
        let pairs = outline.iter().zip(outline.iter().cycle().skip(1));
        pairs.map(|(a, b)| a.0 * b.1 - b.0 * a.1).sum::<f64>() / 2.0
    }

    #[test]
    fn triangles_of_one_region_become_one_outline_of_the_same_area() {
        let mesh = tent(1.0);
        let regions = Cut::new(&mesh, f64::NEG_INFINITY).regions(&mesh);
        assert_eq!(regions.len(), 1);
        assert_eq!(regions[0].len(), 8, "only the border is left: {regions:?}");
        assert!((area(&regions[0]) - 4.0).abs() < 1e-12);
        // Above half the height lies the tent at half its size.
        let cut = Cut::new(&mesh, 0.5);
        let regions = cut.regions(&mesh);
        assert_eq!(regions.len(), 1);
        assert!((area(&regions[0]) - 1.0).abs() < 1e-12, "{regions:?}");
        let lines = cut.lines(&mesh);
        assert_eq!(lines.len(), 1);
        assert_eq!(lines[0].first(), lines[0].last(), "the line round the peak is closed");
    }

    #[test]
    fn a_region_round_a_hollow_is_one_outline_without_the_hollow() {
        let mesh = tent(-1.0);
        let cut = Cut::new(&mesh, -0.5);
        let regions = cut.regions(&mesh);
        assert_eq!(regions.len(), 1);
        assert!((area(&regions[0]) - 3.0).abs() < 1e-12, "{regions:?}");
        assert_eq!(cut.borders(&mesh).len(), 2, "its outer edge and that of the hollow");
    }

    #[test]
    fn a_level_at_the_height_of_corners_runs_along_their_edge() {
        let corners = vec![((0.0, 0.0), 1.0), ((1.0, 0.0), 2.0), ((0.0, 1.0), 1.0), ((-1.0, 0.0), 0.0)];
        let mesh = Mesh { corners, triangles: vec![[0, 1, 2], [0, 2, 3]] };
        let cut = Cut::new(&mesh, 1.0);
        assert_eq!(cut.regions(&mesh).len(), 1);
        assert_eq!(cut.lines(&mesh).len(), 1);
        assert!(cut.lines(&mesh)[0].iter().all(|(x, _)| *x == 0.0));
    }
}
