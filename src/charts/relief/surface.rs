//! One visit's surface: bands, lines with their values, places read, and the highest and lowest.

use super::ReliefVisit;
use super::contour::Cut;
use super::heights::Heights;
use super::mesh::{self, Mesh, Node};
use super::places::Taken;
use crate::charts::canvas::{Anchor, Canvas, Pen, Type};
use crate::charts::clip::{Point, Rect};
use crate::charts::frame::Frame;
use crate::charts::marks;
use crate::charts::style::{FINE, HAIRLINE, INK, SMALL, SOFT_INK, WHITE};

/// More places read than this are not drawn as dots.
const MOST_DOTS: usize = 200;
/// Readings are gathered so that this many points of the page lie between two of what is drawn, but to
/// between 12 and 40 rows and columns.
const APART: f64 = 3.75;
/// A line no longer than this is not drawn: it would be a blot.
const SPECK: f64 = 4.0;

/// What a plan shows that a key must name.
#[derive(Debug, Clone, Copy, Default)]
#[expect(clippy::struct_excessive_bools, reason = "each is a key by itself")]
pub(super) struct Shown {
    /// A surface.
    pub(super) bands: bool,
    /// The highest and the lowest place.
    pub(super) ends: bool,
    /// Lines along levels.
    pub(super) lines: bool,
    /// Places read.
    pub(super) dots: bool,
    /// Places without a height.
    pub(super) holes: bool,
    /// Means of readings instead of readings.
    pub(super) means: bool,
}

impl Shown {
    /// What either shows.
    pub(super) fn add(&mut self, other: Self) {
        self.bands |= other.bands;
        self.ends |= other.ends;
        self.lines |= other.lines;
        self.dots |= other.dots;
        self.holes |= other.holes;
        self.means |= other.means;
    }
}

/// Draws the surface of a visit into its plot.
pub(super) fn draw(
    canvas: &mut Canvas,
    frame: &Frame,
    visit: &ReliefVisit,
    heights: &Heights,
    stretch: f64,
) -> Shown {
    let nodes: Vec<Node> =
        visit.points.iter().map(|point| mesh::node(point, frame.at(point.x, point.y))).collect();
    let read: Vec<(Point, f64)> =
        nodes.iter().filter_map(|node| node.height.map(|height| (node.place, height))).collect();
    let holes = read.len() < nodes.len();
    let most =
        [40, 36, 32, 28, 24, 20, 16].into_iter().find(|most| f64::from(*most) * APART <= frame.area.width());
    let most = most.and_then(|most| usize::try_from(most).ok()).unwrap_or(12);
    let (nodes, means) = mesh::binned(nodes, most);
    let mesh = Mesh::new(&nodes, stretch);
    fill(canvas, &mesh, heights);
    let lines = draw_lines(canvas, &mesh, heights);
    let is_bare = mesh.triangles.is_empty();
    let mut taken = Taken::default();
    let dots = read.len() <= MOST_DOTS || is_bare;
    if dots {
        draw_dots(canvas, &read, &mut taken);
    }
    let ends = draw_ends(canvas, &frame.area, &read, heights, &mut taken);
    if is_bare {
        label_all(canvas, &frame.area, &read, heights, &mut taken);
    }
    label_lines(canvas, &mesh, heights, &lines, &mut taken);
    Shown {
        bands: !is_bare,
        ends,
        lines: !lines.is_empty(),
        dots: dots && !read.is_empty(),
        holes,
        means: means && !is_bare,
    }
}

/// Fills the surface with its lowest shade and lays what is above each level on it: so a seam between
/// two bands shows a band, never the paper.
fn fill(canvas: &mut Canvas, mesh: &Mesh, heights: &Heights) {
    let Some((low, high)) = mesh.span() else { return };
    let below = heights.inner().filter(|(_, level)| *level <= low).last().map_or(0, |(band, _)| band);
    let layers = heights.inner().filter(|(_, level)| *level > low && *level <= high);
    for (band, level) in std::iter::once((below, f64::NEG_INFINITY)).chain(layers) {
        for region in Cut::new(mesh, level).regions(mesh) {
            canvas.fill(&region, heights.shade(band));
        }
    }
}

/// The lines of a level, with the band above it.
type Lines = (usize, Vec<Vec<Point>>);

/// Draws the lines along the levels and the surface's edges; returns the former.
fn draw_lines(canvas: &mut Canvas, mesh: &Mesh, heights: &Heights) -> Vec<Lines> {
    let Some((low, high)) = mesh.span() else { return Vec::new() };
    let mut drawn = Vec::new();
    for (band, level) in heights.inner().filter(|(_, level)| *level > low && *level <= high) {
        let lines = Cut::new(mesh, level).lines(mesh);
        for line in lines.iter().filter(|line| length(line) > SPECK) {
            canvas.line(line, Heights::pen(level));
        }
        if !lines.is_empty() {
            drawn.push((band, lines));
        }
    }
    for border in Cut::new(mesh, f64::NEG_INFINITY).borders(mesh) {
        canvas.line(&border, Pen::solid(SOFT_INK, FINE));
    }
    drawn
}

fn draw_dots(canvas: &mut Canvas, read: &[(Point, f64)], taken: &mut Taken) {
    for (place, _) in read {
        canvas.disc(*place, 1.1, WHITE);
        canvas.disc(*place, 0.7, INK);
        taken.spare(square(*place, 1.2));
    }
}

/// Marks the highest and the lowest place and says how high they are. One height is no highest.
fn draw_ends(
    canvas: &mut Canvas,
    area: &Rect,
    read: &[(Point, f64)],
    heights: &Heights,
    taken: &mut Taken,
) -> bool {
    // The first of equals, whichever way.
    let highest = read.iter().rev().max_by(|a, b| a.1.total_cmp(&b.1));
    let lowest = read.iter().min_by(|a, b| a.1.total_cmp(&b.1));
    let (Some(highest), Some(lowest)) = (highest, lowest) else { return false };
    if highest.1 <= lowest.1 {
        label(canvas, area, *highest, heights, taken);
        return false;
    }
    for ((place, _), up) in [(highest, true), (lowest, false)] {
        marks::peak(canvas, *place, up);
        taken.keep(square(*place, 4.5));
    }
    label(canvas, area, *highest, heights, taken);
    label(canvas, area, *lowest, heights, taken);
    true
}

/// Says the heights of places that no surface joins, as far as there is room.
fn label_all(canvas: &mut Canvas, area: &Rect, read: &[(Point, f64)], heights: &Heights, taken: &mut Taken) {
    let span = crate::charts::frame::span(read.iter().map(|one| one.1));
    let is_end = |height: f64| span.is_some_and(|(low, high)| height <= low || height >= high);
    for one in read.iter().filter(|one| !is_end(one.1)).take(MOST_DOTS) {
        let words = heights.signed(one.1);
        let room = taken.beside(&words, one.0, area);
        if room.is_some_and(|room| gap(&room, one.0) < 8.0) {
            label(canvas, area, *one, heights, taken);
        }
    }
}

/// A height on white beside its place, led to it where it could not stay near.
fn label(
    canvas: &mut Canvas,
    area: &Rect,
    (place, height): (Point, f64),
    heights: &Heights,
    taken: &mut Taken,
) {
    let words = heights.signed(height);
    let Some(room) = taken.beside(&words, place, area) else { return };
    let kind = Type::new(SMALL, INK).at(Anchor::Middle);
    let (x, y) = (f64::midpoint(room.left, room.right), f64::midpoint(room.top, room.bottom));
    if gap(&room, place) > 8.0 {
        canvas.line(
            &[place, (place.0.clamp(room.left, room.right), place.1.clamp(room.top, room.bottom))],
            Pen::solid(INK, HAIRLINE),
        );
    }
    canvas.words_on_white(x, kind.centred_on(y), &words, kind);
    taken.keep(room);
}

/// Sets the value of each level on its longest line that has room, on the shade of the band in which it
/// is read best.
fn label_lines(canvas: &mut Canvas, mesh: &Mesh, heights: &Heights, lines: &[Lines], taken: &mut Taken) {
    for (index, (band, own)) in lines.iter().enumerate() {
        let words = heights.label(*band);
        let mut longest: Vec<&Vec<Point>> = own.iter().collect();
        longest.sort_by(|a, b| length(b).total_cmp(&length(a)));
        let others: Vec<Vec<Point>> = lines
            .iter()
            .enumerate()
            .filter(|(other, _)| *other != index)
            .flat_map(|(_, l)| l.1.clone())
            .collect();
        let allows = |place: Point| mesh.holds(place);
        let mut rooms =
            longest.iter().take(3).filter_map(|line| taken.on_line(&words, line, &others, &allows));
        let Some(room) = rooms.next() else { continue };
        let (above, below) = (heights.shade(*band), heights.shade(band - 1));
        let (ground, ink) = if INK.contrast(above) >= 4.5 { (above, INK) } else { (below, WHITE) };
        let (left, right) = (room.left + 0.6, room.right - 0.6);
        let patch = Rect { left, right, top: room.top + 1.0, bottom: room.bottom - 1.0 };
        canvas.ground(&patch, ground);
        let kind = Type::new(SMALL, ink).at(Anchor::Middle);
        let (x, y) = (f64::midpoint(room.left, room.right), f64::midpoint(room.top, room.bottom));
        canvas.words(x, kind.centred_on(y), &words, kind);
        taken.keep(room);
    }
}

fn length(line: &[Point]) -> f64 {
    line.windows(2).map(|pair| (pair[1].0 - pair[0].0).hypot(pair[1].1 - pair[0].1)).sum()
}

fn square((x, y): Point, half: f64) -> Rect {
    Rect { left: x - half, top: y - half, right: x + half, bottom: y + half }
}

/// How far a place is from a rectangle.
fn gap(rect: &Rect, (x, y): Point) -> f64 {
    (x - x.clamp(rect.left, rect.right)).hypot(y - y.clamp(rect.top, rect.bottom))
}
