//! What stands in the plot: the limit as a wedge, the reference, and the leaning lines.

use super::super::canvas::{Canvas, Pen};
use super::super::clip::{self, Point};
use super::super::frame::Frame;
use super::super::marks::{self, DOT};
use super::super::style::{DATA, FINE, GREY, HAIRLINE, INK, MARK, State};
use super::{LANE, LANE_FROM, Lean, LeanVisit, Sheet};

/// Ends nearer to each other than this share out their lanes, in points.
const NEAR: f64 = 14.0;

/// Draws the plot with its floor.
pub(super) fn draw(canvas: &mut Canvas, frame: &mut Frame, chart: &Lean, sheet: &Sheet) {
    for visit in &chart.visits {
        let half = visit.found.half();
        let (x, low) = frame.at(visit.over, visit.found.value - half);
        let high = frame.y.at(visit.found.value + half);
        let wedge = [frame.at(0.0, 0.0), (x, high), (x, low)];
        let wedge = clip::polygon(&frame.area, &wedge);
        if !wedge.is_empty() {
            canvas.fill(&wedge, marks::ground_colour(visit.visit.state));
        }
    }
    frame.grid(canvas, &sheet.values, true);
    for (corners, edge) in forbidden(frame, sheet) {
        canvas.hatch_corners(&corners);
        canvas.line_within(&frame.area, &edge, Pen::solid(GREY, FINE));
    }
    frame.line(canvas, &[(0.0, 0.0), (frame.x.high, 0.0)], marks::curve(State::Reference));
    let ticks: Vec<(f64, String)> = sheet.along.values().into_iter().zip(sheet.along.labels()).collect();
    frame.floor(canvas, &ticks);
    for (visit, lane) in chart.visits.iter().zip(lanes(frame, chart)) {
        draw_visit(canvas, frame, visit, lane);
    }
    let origin = frame.at(0.0, 0.0);
    if frame.area.holds(origin) {
        canvas.disc(origin, 1.4, INK);
    }
    frame.say_beyond(canvas);
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

/// One line from the origin to its end, with its whisker and, beside the end, its readings.
fn draw_visit(canvas: &mut Canvas, frame: &mut Frame, visit: &LeanVisit, lane: usize) {
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
    frame.whisker(canvas, end, visit.found.half(), state.colour());
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
