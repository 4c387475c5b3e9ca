//! What stands in one plot and beside it: turns, fitted profile, bracket.

use super::super::Measured;
use super::super::canvas::{Canvas, Pen, Type};
use super::super::clip::Rect;
use super::super::frame::{self, Frame};
use super::super::marks;
use super::super::style::{FINE, INK, MARK, SMALL, State};
use super::super::text;
use super::{Sheet, Turns};

/// The lowest and the highest reading that count, from the datum.
pub(super) fn extremes(cell: &Turns) -> Option<(f64, f64)> {
    let kept = cell.turns.iter().flatten().filter(|reading| !reading.struck);
    frame::span(kept.map(|reading| reading.value - cell.datum))
}

pub(super) fn draw_turns(canvas: &mut Canvas, frame: &mut Frame, cell: &Turns, state: State) {
    for turn in &cell.turns {
        let mut line: Vec<(f64, f64)> = turn
            .iter()
            .filter(|reading| !reading.struck)
            .map(|reading| (reading.turned(), reading.value - cell.datum))
            .collect();
        line.sort_by(|a, b| a.0.total_cmp(&b.0));
        frame.line(canvas, &line, marks::joining(state));
    }
    let most = cell.turns.iter().map(Vec::len).max().unwrap_or(1).max(1);
    // Few marks stand over the curve; many would hide it.
    if most <= 16 {
        draw_profile(canvas, frame, cell, state);
    }
    let size = (frame.area.width() / most as f64 * 0.36).clamp(0.9, MARK * 0.8);
    for reading in cell.turns.iter().flatten() {
        let at = (reading.turned(), reading.value - cell.datum);
        if reading.struck {
            frame.cross(canvas, at, state);
        } else {
            frame.mark(canvas, at, state, size);
        }
    }
    if most > 16 {
        draw_profile(canvas, frame, cell, state);
    }
}

fn draw_profile(canvas: &mut Canvas, frame: &Frame, cell: &Turns, state: State) {
    let Some(profile) = &cell.profile else { return };
    let angles = (0..=180).map(|step| f64::from(step) * 2.0);
    let curve: Vec<(f64, f64)> = angles.map(|angle| (angle, profile.at(angle) - cell.datum)).collect();
    let pen = marks::curve(state);
    frame.line(canvas, &curve, Pen { colour: state.word_colour(), ..pen });
}

/// A bracket as high as the total indicator reading, about the middle of the readings.
pub(super) fn draw_bracket(canvas: &mut Canvas, frame: &Frame, sheet: &Sheet, tir: &Measured, middle: f64) {
    let x = frame.area.right + 6.0;
    let (low, high) = (frame.y.at(middle - tir.value / 2.0), frame.y.at(middle + tir.value / 2.0));
    let pen = Pen::solid(INK, FINE);
    // The bracket may stand beside no more than its plot.
    let room = Rect { left: frame.area.right, right: x + 1.0, ..frame.area };
    canvas.line_within(&room, &[(x - 3.0, high), (x, high), (x, low), (x - 3.0, low)], pen);
    if !sheet.beside {
        return;
    }
    let kind = Type::new(SMALL, INK);
    let lines = bracket_lines(tir);
    let leading = SMALL * text::LEADING;
    let height = leading * lines.len() as f64;
    let centre = f64::midpoint(low, high);
    let top = (centre - height / 2.0).min(frame.area.bottom - height).max(frame.area.top);
    for (index, line) in lines.iter().enumerate() {
        let y = top + leading * (index as f64 + 0.5);
        canvas.words(x + 4.0, kind.centred_on(y), line, kind);
    }
}

/// The words beside a bracket, the uncertainty on a line of its own.
pub(super) fn bracket_lines(tir: &Measured) -> Vec<String> {
    let mut lines = vec!["TIR".to_owned()];
    let mut parts = tir.text.splitn(2, " ± ");
    lines.extend(parts.next().map(str::to_owned));
    lines.extend(parts.next().map(|half| format!("± {half}")));
    lines
}
