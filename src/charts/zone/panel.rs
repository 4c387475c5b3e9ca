//! What stands in one panel and beside it: the zone, readings, profile, and the dimension of the zone.

use super::super::canvas::{Anchor, Canvas, Pen, Type};
use super::super::clip::{Point, Rect};
use super::super::frame::{self, Frame};
use super::super::marks::{self, DOT};
use super::super::style::{DATA, FINE, HAIRLINE, INK, MARK, SMALL, SOFT_INK};
use super::super::text::{self, Face};
use super::{DIMENSION, DIMENSION_GAP, ZoneVisit};

/// Positions closer together than this on the page get no dots, in points.
const CROWDED: f64 = 2.6;
/// The room for the words of a dimension, in points.
const WORDS_ROOM: f64 = 66.0;

/// The pale ground between the zone's lines, under grid and hatching, over the line's length.
pub(super) fn draw_ground(canvas: &mut Canvas, frame: &Frame, visit: &ZoneVisit) {
    let Some((first, last)) = ends(visit) else { return };
    let (low, high) = lines(visit);
    let band = Rect {
        left: frame.x.at(first),
        right: frame.x.at(last),
        top: frame.y.at(high),
        bottom: frame.y.at(low),
    };
    if let Some(band) = band.common(&frame.area) {
        canvas.ground(&band, marks::ground_colour(visit.visit.state));
    }
}

/// The zone's lines, the readings, the profile and what touches the zone.
pub(super) fn draw(canvas: &mut Canvas, frame: &mut Frame, visit: &ZoneVisit) {
    let state = visit.visit.state;
    let (low, high) = lines(visit);
    if let Some((first, last)) = ends(visit) {
        for height in [low, high] {
            let pen = Pen::solid(state.colour(), FINE);
            frame.line(canvas, &[(first, height), (last, height)], pen);
        }
    }
    let kept: Vec<Point> =
        visit.readings.iter().filter(|reading| !reading.2).map(|reading| (reading.0, reading.1)).collect();
    let dotted = are_dots(visit, frame.area.width());
    if dotted {
        for at in &kept {
            frame.dot(canvas, *at, marks::dot_colour(state), DOT);
        }
    } else {
        for (x, low, high) in spread(frame, &kept) {
            let pen = Pen::solid(state.colour().tint(110), 1.0);
            canvas.line_within(&frame.area, &[(x, frame.y.at(low)), (x, frame.y.at(high))], pen);
        }
    }
    let weight = if dotted || visit.readings.is_empty() { DATA } else { DATA * 0.6 };
    frame.line(canvas, &thinned(frame, &visit.profile), Pen { weight, ..marks::curve(state) });
    for (along, height, _) in visit.readings.iter().filter(|reading| reading.2) {
        frame.cross(canvas, (*along, *height), state);
    }
    for (along, height) in &visit.touching {
        let place = frame.at(*along, *height);
        if frame.area.holds(place) {
            marks::mark(canvas, place, state, MARK);
        }
    }
    // Dots say themselves that they lie beyond the panel; of lines the farthest points say so.
    if !dotted {
        for at in farthest(frame, kept.iter().chain(&visit.profile).chain(&visit.touching)) {
            frame.admits(at, state.colour());
        }
    }
    frame.say_beyond(canvas);
}

pub(super) fn say_not_read(canvas: &mut Canvas, frame: &Frame) {
    let kind = Type::new(SMALL, SOFT_INK).at(Anchor::Middle);
    let middle = f64::midpoint(frame.area.left, frame.area.right);
    let y = f64::midpoint(frame.area.top, frame.area.bottom);
    canvas.words_on_white(middle, kind.centred_on(y), "not read", kind);
}

/// Whether a visit's single readings stand far enough apart to be drawn as dots.
pub(super) fn are_dots(visit: &ZoneVisit, width: f64) -> bool {
    let mut places: Vec<f64> = visit.readings.iter().map(|reading| reading.0).collect();
    places.sort_by(f64::total_cmp);
    places.dedup();
    !places.is_empty() && width / places.len() as f64 >= CROWDED
}

/// The zone's lines, the lower first.
fn lines(visit: &ZoneVisit) -> (f64, f64) {
    (visit.zone.0.min(visit.zone.1), visit.zone.0.max(visit.zone.1))
}

/// The first and the last position of the profile.
fn ends(visit: &ZoneVisit) -> Option<(f64, f64)> {
    frame::span(visit.profile.iter().map(|point| point.0))
}

/// The lowest and the highest reading in every column of the page a point wide: (place, low, high).
fn spread(frame: &Frame, kept: &[Point]) -> Vec<(f64, f64, f64)> {
    let finite = kept.iter().filter(|(_, height)| height.is_finite());
    let mut placed: Vec<Point> =
        finite.map(|(along, height)| (frame.x.at(*along).floor() + 0.5, *height)).collect();
    placed.sort_by(|a, b| a.0.total_cmp(&b.0));
    let columns = placed.chunk_by(|a, b| a.0.total_cmp(&b.0).is_eq());
    columns
        .filter_map(|column| {
            let (low, high) = frame::span(column.iter().map(|point| point.1))?;
            Some((column.first()?.0, low, high))
        })
        .collect()
}

/// The profile as far as it can be seen: of each column of the page half a point wide the first, the
/// lowest, the highest and the last point, in their order, so that no spike is lost.
fn thinned(frame: &Frame, profile: &[Point]) -> Vec<Point> {
    let column = |point: &Point| (frame.x.at(point.0) * 2.0).floor();
    let mut line = Vec::new();
    for part in profile.chunk_by(|a, b| column(a).total_cmp(&column(b)).is_eq()) {
        let by_height =
            |a: &(usize, &Point), b: &(usize, &Point)| a.1.1.total_cmp(&b.1.1).then(b.0.cmp(&a.0));
        let lowest = part.iter().enumerate().min_by(by_height).map(|(index, _)| index);
        let highest = part.iter().enumerate().max_by(by_height).map(|(index, _)| index);
        let mut kept: Vec<usize> =
            [Some(0), lowest, highest, part.len().checked_sub(1)].into_iter().flatten().collect();
        kept.sort_unstable();
        kept.dedup();
        line.extend(kept.into_iter().filter_map(|index| part.get(index)));
    }
    line
}

/// The highest point above the panel and the lowest below it.
fn farthest<'a>(frame: &Frame, points: impl Iterator<Item = &'a Point> + Clone) -> Vec<Point> {
    let above = points
        .clone()
        .filter(|point| point.1 > frame.y.high && point.1.is_finite())
        .max_by(|a, b| a.1.total_cmp(&b.1));
    let below = points
        .filter(|point| point.1 < frame.y.low && point.1.is_finite())
        .min_by(|a, b| a.1.total_cmp(&b.1));
    above.into_iter().chain(below).copied().collect()
}

/// The lines of a dimension's words, the uncertainty on a line of its own; `None` where nothing is drawn.
pub(super) fn width_lines(visit: &ZoneVisit) -> Option<Vec<String>> {
    let width = visit.width.as_ref().filter(|_| visit.is_read())?;
    let (value, half) = match width.text.split_once(" ± ") {
        Some((value, half)) => (value.to_owned(), format!("± {half}")),
        None => (width.text.clone(), String::new()),
    };
    let wrap = |words: &str| text::wrap(words, SMALL, Face::Regular, WORDS_ROOM);
    Some(wrap(&value).into_iter().chain(wrap(&half)).collect())
}

/// The zone's width as a drawing dimensions it: extension lines, arrows, and the words.
pub(super) fn draw_dimension(canvas: &mut Canvas, frame: &Frame, visit: &ZoneVisit, beside: bool) {
    let (Some(words), Some((_, last))) = (width_lines(visit), ends(visit)) else { return };
    let (low, high) = lines(visit);
    let (top, bottom) = (frame.y.at(high), frame.y.at(low));
    let area = frame.area;
    let x = area.right + DIMENSION;
    let room = Rect { right: x + 3.0, ..area };
    let from = frame.x.at(last).min(area.right);
    for y in [top, bottom] {
        canvas.line_within(&room, &[(from, y), (x + 2.5, y)], Pen::solid(INK, HAIRLINE));
    }
    // As a drawing does it: where there is no room for arrows between the lines they stand outside.
    let outside = bottom - top < 14.0;
    let reach = if outside { 9.0 } else { 0.0 };
    canvas.line_within(&room, &[(x, top - reach), (x, bottom + reach)], Pen::solid(INK, FINE));
    for (y, up) in [(top, true), (bottom, false)] {
        if y >= area.top && y <= area.bottom {
            arrow(canvas, (x, y), up != outside, &room);
        }
    }
    if !beside {
        return;
    }
    let kind = Type::new(SMALL, INK);
    let leading = SMALL * text::LEADING;
    let height = leading * words.len() as f64;
    let first = (f64::midpoint(top, bottom) - height / 2.0).min(area.bottom - height).max(area.top);
    for (index, line) in words.iter().enumerate() {
        let y = first + leading * (index as f64 + 0.5);
        canvas.words(x + DIMENSION_GAP, kind.centred_on(y), line, kind);
    }
}

/// A slim arrow head whose tip is at a place, where it fits beside the panel.
fn arrow(canvas: &mut Canvas, (x, y): Point, up: bool, room: &Rect) {
    let foot = if up { y + 5.0 } else { y - 5.0 };
    if foot >= room.top && foot <= room.bottom {
        canvas.fill(&[(x, y), (x - 1.2, foot), (x + 1.2, foot)], INK);
    }
}
