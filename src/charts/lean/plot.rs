//! What stands in the plot: the limit as a wedge, the reference, and the leaning lines.

use super::super::canvas::{Canvas, Pen};
use super::super::clip::{self, Point};
use super::super::frame::Frame;
use super::super::marks::{self, DOT};
use super::super::sheet::Layer;
use super::super::style::{DATA, FINE, GREY, HAIRLINE, INK, MARK, State};
use super::{LANE, LANE_FROM, Lean, LeanVisit, Sheet};

/// Ends nearer to each other than this share out their lanes, in points.
const NEAR: f64 = 14.0;

/// Draws the plot with its floor.
pub(super) fn draw(canvas: &mut Canvas, frame: &mut Frame, chart: &Lean, sheet: &Sheet) {
    draw_wedges(canvas, frame, chart);
    frame.grid(canvas, &sheet.values, true);
    canvas.on(Layer::Limit);
    for (corners, edge) in forbidden(frame, sheet) {
        canvas.hatch_corners(&corners);
        canvas.line_within(&frame.area, &edge, Pen::solid(GREY, FINE));
    }
    canvas.on(Layer::Frame);
    frame.line(canvas, &[(0.0, 0.0), (frame.x.high, 0.0)], marks::curve(State::Reference));
    let ticks: Vec<(f64, String)> = sheet.along.values().into_iter().zip(sheet.along.labels()).collect();
    frame.floor(canvas, &ticks);
    let places = lanes(frame, chart).into_iter().zip(whisker_places(frame, chart));
    for (index, (visit, (lane, whisker))) in chart.visits.iter().zip(places).enumerate() {
        canvas.on(Layer::Visit(index));
        frame.comes_across(canvas);
        draw_visit(canvas, frame, visit, lane, whisker);
    }
    canvas.on(Layer::Frame);
    let origin = frame.at(0.0, 0.0);
    if frame.area.holds(origin) {
        canvas.disc(origin, 1.4, INK);
    }
    frame.say_beyond(canvas);
}

/// The uncertainty of each slope as a pale wedge, the widest first, so that it hides no other.
fn draw_wedges(canvas: &mut Canvas, frame: &Frame, chart: &Lean) {
    let mut visits: Vec<(usize, &LeanVisit)> = chart.visits.iter().enumerate().collect();
    visits.sort_by(|(_, a), (_, b)| (b.found.half() / b.over).total_cmp(&(a.found.half() / a.over)));
    for (index, visit) in visits {
        let half = visit.found.half();
        let low = frame.at(visit.over, visit.found.value - half);
        let high = frame.at(visit.over, visit.found.value + half);
        let wedge = clip::polygon(&frame.area, &[frame.at(0.0, 0.0), high, low]);
        if !wedge.is_empty() {
            let colour = marks::ground_colour(visit.visit.state);
            canvas.within(Layer::Visit(index), |canvas| canvas.fill(&wedge, colour));
        }
    }
}

/// Whether any of the forbidden sides lies in the plot.
pub(super) fn is_hatched(frame: &Frame, sheet: &Sheet) -> bool {
    forbidden(frame, sheet).iter().any(|(corners, _)| !corners.is_empty())
}

/// The forbidden sides as polygons in the plot, each with its edge from the origin to the right.
fn forbidden(frame: &Frame, sheet: &Sheet) -> Vec<(Vec<Point>, [Point; 2])> {
    let (left, zero) = frame.at(0.0, 0.0);
    let side = |edge: Option<f64>, sign: f64| {
        let end = frame.y.at(edge?);
        let slope = (end - zero) / frame.area.width();
        let corners = frame.area.corners();
        let part = clip::cut(&corners, |(x, y)| sign * (zero + slope * (x - left) - y));
        Some((part, [(left, zero), (frame.area.right, end)]))
    };
    [side(sheet.limit.0, 1.0), side(sheet.limit.1, -1.0)].into_iter().flatten().collect()
}

/// The place of each visit's dots: how many visits before it end at nearly the same distance.
fn lanes(frame: &Frame, chart: &Lean) -> Vec<usize> {
    let ends: Vec<f64> = chart.visits.iter().map(|visit| frame.x.at(visit.over)).collect();
    (0..ends.len())
        .map(|index| ends[..index].iter().filter(|end| (**end - ends[index]).abs() < NEAR).count())
        .collect()
}

/// How far beside its line's end each whisker stands, in points: none, but where whiskers of one distance
/// would lie on each other.
fn whisker_places(frame: &Frame, chart: &Lean) -> Vec<f64> {
    let ends = |visit: &LeanVisit| {
        let half = visit.found.half();
        (frame.x.at(visit.over), visit.found.value - half, visit.found.value + half)
    };
    let ends: Vec<(f64, f64, f64)> = chart.visits.iter().map(ends).collect();
    let together: Vec<Vec<usize>> = ends
        .iter()
        .map(|one| (0..ends.len()).filter(|other| (ends[*other].0 - one.0).abs() < 3.0).collect())
        .collect();
    let overlap = |a: usize, b: usize| a != b && ends[a].1 <= ends[b].2 && ends[b].1 <= ends[a].2;
    let place = |(index, group): (usize, &Vec<usize>)| {
        let rank = group.iter().filter(|other| **other < index).count();
        let any = group.iter().any(|a| group.iter().any(|b| overlap(*a, *b)));
        if any { (rank as f64 - (group.len() - 1) as f64 / 2.0) * 1.8 } else { 0.0 }
    };
    together.iter().enumerate().map(place).collect()
}

/// One line from the origin to its end, with its whisker and, beside the end, its readings.
fn draw_visit(canvas: &mut Canvas, frame: &mut Frame, visit: &LeanVisit, lane: usize, whisker: f64) {
    let state = visit.visit.state;
    let end = (visit.over, visit.found.value);
    let (x, y) = frame.at(end.0, end.1);
    let per_point = (frame.x.high - frame.x.low) / frame.area.width();
    let has_readings = visit.readings.iter().any(|reading| reading.value.is_finite());
    let aside = if has_readings { LANE_FROM + LANE * lane as f64 } else { 0.0 };
    if frame.area.holds((x, y)) && frame.area.right - x - aside > 14.0 {
        let pen = Pen::solid(state.colour().tint(120), HAIRLINE);
        canvas.line(&[(x + aside + 4.0, y), (frame.area.right + super::LABEL_GAP - 6.0, y)], pen);
    }
    frame.line(canvas, &[(0.0, 0.0), end], Pen { weight: DATA, ..marks::curve(state) });
    frame.whisker(canvas, (end.0 + whisker * per_point, end.1), visit.found.half(), state.colour());
    for reading in &visit.readings {
        let at = (visit.over + aside * per_point, reading.value);
        if reading.struck {
            frame.cross(canvas, at, state);
        } else {
            frame.dot(canvas, at, marks::dot_colour(state), DOT);
        }
    }
    frame.mark(canvas, end, state, MARK);
}
