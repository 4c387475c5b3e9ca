//! What stands under the plot: round ticks and the name of the axis, or the places' names.

use super::{Along, SettingPoint, Settings};
use crate::charts::canvas::{Anchor, Canvas, Pen, Type};
use crate::charts::frame::{self, Frame};
use crate::charts::sheet::Layer;
use crate::charts::style::{FINE, INK, Rgb, SMALL, SOFT_INK};
use crate::charts::text::{self, Face};
use crate::charts::ticks::Ticks;

/// A name is worth this much width, in points; where places are narrower, only some are named.
const NARROWEST: f64 = 34.0;
/// More lines than this say less, not more.
const MOST_LINES: usize = 4;

impl Settings {
    /// Draws the floor and what stands under it; returns where that ends.
    pub(super) fn draw_under(&self, canvas: &mut Canvas, frame: &Frame) -> f64 {
        match &self.along {
            Along::Numbers { name, unit } => self.number(canvas, frame, name, unit),
            Along::Names(names) => self.name(canvas, frame, names),
        }
    }

    fn number(&self, canvas: &mut Canvas, frame: &Frame, name: &str, unit: &str) -> f64 {
        let ticks = Ticks::inside(frame.x.low, frame.x.high, 8);
        let labels: Vec<(f64, String)> = ticks.values().into_iter().zip(ticks.labels()).collect();
        frame.floor(canvas, &labels);
        let unit = ticks.unit(unit);
        let words = if unit.is_empty() { name.to_owned() } else { format!("{name}, {unit}") };
        let mut under = frame::floor_baseline(frame.area.bottom) + 4.0;
        for line in text::wrap(&words, SMALL, Face::Regular, self.width_pt - frame.area.left) {
            let kind = Type::new(SMALL, SOFT_INK);
            canvas.words(frame.area.left, under + SMALL * text::ABOVE, &line, kind);
            under += SMALL * text::LEADING;
        }
        under
    }

    /// Every name with its remarks, wrapped to its place; where places are narrow, every second or
    /// third is named, wider.
    fn name(&self, canvas: &mut Canvas, frame: &Frame, names: &[String]) -> f64 {
        super::part(canvas, frame, names.len());
        let bottom = frame.area.bottom;
        let floor = [(frame.area.left, bottom), (frame.area.right, bottom)];
        canvas.line(&floor, Pen::solid(INK, FINE));
        let slot = frame.area.width() / names.len().max(1) as f64;
        let every = (1..=names.len()).find(|every| *every as f64 * slot >= NARROWEST).unwrap_or(1);
        let room = every as f64 * slot - 4.0;
        let mut end = bottom;
        for (index, name) in names.iter().enumerate().step_by(every) {
            let centre = frame.x.at(index as f64);
            // Held on the sheet, but no farther than to the neighbour's room.
            let centre = centre.max(room / 2.0).min(self.width_pt - room / 2.0);
            let mut y = bottom + 3.0;
            for (line, colour, layer) in self.lines(index, name, room, every == 1) {
                let kind = Type::new(SMALL, colour).at(Anchor::Middle);
                canvas.within(layer, |canvas| canvas.words(centre, y + SMALL * text::ABOVE, &line, kind));
                y += SMALL * text::LEADING;
            }
            end = end.max(y);
        }
        if every > 1 {
            let words = format!("{} places, one in {every} named", names.len());
            for line in text::wrap(&words, SMALL, Face::Regular, self.width_pt - frame.area.left) {
                canvas.words(
                    frame.area.left,
                    end + 2.0 + SMALL * text::ABOVE,
                    &line,
                    Type::new(SMALL, SOFT_INK),
                );
                end += SMALL * text::LEADING;
            }
        }
        end
    }

    /// The lines under one place: its name, then each visit's remark in that visit's colour.
    fn lines(&self, index: usize, name: &str, room: f64, remarks: bool) -> Vec<(String, Rgb, Layer)> {
        let cut = |words: &str, colour: Rgb, layer: Layer| {
            let mut lines = text::wrap(words, SMALL, Face::Regular, room);
            if lines.len() > MOST_LINES {
                lines.truncate(MOST_LINES);
                if let Some(last) = lines.last_mut() {
                    while text::width(&format!("{last}…"), SMALL, Face::Regular) > room && !last.is_empty()
                    {
                        last.pop();
                    }
                    last.push('…');
                }
            }
            lines.into_iter().map(move |line| (line, colour, layer)).collect::<Vec<_>>()
        };
        let mut lines = cut(name, INK, Layer::Frame);
        if remarks {
            let here = |point: &&SettingPoint| (point.at - index as f64).abs() < 0.5;
            for (number, visit) in self.visits.iter().enumerate() {
                for remark in visit.points.iter().filter(here).filter_map(|point| point.remark.as_ref()) {
                    lines.extend(cut(remark, visit.visit.state.word_colour(), Layer::Visit(number)));
                }
            }
        }
        lines
    }
}
