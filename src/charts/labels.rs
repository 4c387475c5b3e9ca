//! Words beside marks and lines: placed where there is room, moved so that none lies on another.

use super::Limit;
use super::canvas::{Anchor, Canvas, Pen, Type};
use super::clip::Rect;
use super::frame::Frame;
use super::sheet::Layer;
use super::style::{HAIRLINE, INK, Rgb, SMALL, TEXT};
use super::text::{self, Face};

/// A text beside a place: to the right if it fits into the area, else to the left, else pushed inside.
pub(super) fn beside(x: f64, gap: f64, words: &str, kind: Type, area: &Rect) -> (f64, Type) {
    let width = text::width(&text::clean(words), kind.size, kind.face);
    if x + gap + width <= area.right {
        (x + gap, kind.at(Anchor::Start))
    } else if x - gap - width >= area.left {
        (x - gap, kind.at(Anchor::End))
    } else {
        ((area.right - width).max(area.left), kind.at(Anchor::Start))
    }
}

/// A reading as it was typed: the shortest digits that give the same number, with a real minus. Where
/// those are many, five.
pub(super) fn plain_number(value: f64) -> String {
    let plain = value.to_string();
    let short = if plain.len() > 12 { format!("{value:.4e}").parse().unwrap_or(value) } else { value };
    let plain = short.to_string();
    let plain = if plain.len() > 12 { format!("{short:e}") } else { plain };
    plain.replace('-', "\u{2212}")
}

/// A text that stands level with a place and may be moved up or down to be clear of others.
#[derive(Debug, Clone)]
pub(super) struct EndLabel {
    /// Where it should stand, in points.
    pub(super) y: f64,
    /// Its lines.
    pub(super) lines: Vec<String>,
    /// Its colour.
    pub(super) colour: Rgb,
    /// What it names.
    pub(super) layer: Layer,
}

/// Sets labels at the ends of lines, from `x` on; a label that had to move is led to its line.
pub(super) fn end_labels(canvas: &mut Canvas, x: f64, labels: &[EndLabel], top: f64, bottom: f64) {
    let leading = TEXT * text::LEADING;
    let wanted: Vec<(f64, f64)> =
        labels.iter().map(|label| (label.y, label.lines.len().max(1) as f64 * leading)).collect();
    for ((place, label), (_, height)) in spread(&wanted, top, bottom).into_iter().zip(labels).zip(&wanted) {
        let before = canvas.on(label.layer);
        if (place - label.y).abs() > 2.0 {
            canvas.line(&[(x - 6.0, label.y), (x - 1.0, place)], Pen::solid(label.colour, HAIRLINE));
        }
        let kind = Type::new(TEXT, label.colour);
        for (index, line) in label.lines.iter().enumerate() {
            let y = place - height / 2.0 + (index as f64 + 0.5) * leading;
            canvas.words(x, kind.centred_on(y), line, kind);
        }
        canvas.on(before);
    }
}

/// Centres moved as little as can be so that boxes of the given heights do not overlap and, as long as
/// they fit at all, stay between `low` and `high`. Input and output are (centre, height) and centres.
pub(super) fn spread(wanted: &[(f64, f64)], low: f64, high: f64) -> Vec<f64> {
    let mut order: Vec<usize> = (0..wanted.len()).collect();
    order.sort_by(|a, b| wanted[*a].0.total_cmp(&wanted[*b].0));
    // Neighbours that touch become one block, which is centred on the mean of its wishes.
    let mut blocks: Vec<(Vec<usize>, f64, f64)> = Vec::new();
    let held = |centre: f64, height: f64| centre.min(high - height / 2.0).max(low + height / 2.0);
    for index in order {
        let (centre, height) = wanted[index];
        let mut block = (vec![index], held(centre, height), height);
        while let Some(before) = blocks.pop_if(|b| b.1 + b.2 / 2.0 > block.1 - block.2 / 2.0) {
            let height = before.2 + block.2;
            let members: Vec<usize> = before.0.into_iter().chain(block.0).collect();
            let mut offset = 0.0;
            let mut sum = 0.0;
            for member in &members {
                sum += wanted[*member].0 - (offset + wanted[*member].1 / 2.0 - height / 2.0);
                offset += wanted[*member].1;
            }
            block = (members.clone(), held(sum / members.len() as f64, height), height);
        }
        blocks.push(block);
    }
    let mut places = vec![0.0; wanted.len()];
    for (members, centre, height) in blocks {
        let mut top = centre - height / 2.0;
        for member in members {
            places[member] = top + wanted[member].1 / 2.0;
            top += wanted[member].1;
        }
    }
    places
}

/// The words of a limit in a narrow column right of a plot.
#[derive(Debug)]
pub(super) struct LimitLabel {
    lines: Vec<String>,
    /// The width of the column with its gap, zero without a limit.
    pub(super) room: f64,
}

impl LimitLabel {
    /// Breaks the words to a column of at most 62 points.
    pub(super) fn new(limit: Option<&Limit>) -> Self {
        let Some(limit) = limit else {
            return Self { lines: Vec::new(), room: 0.0 };
        };
        let lines = text::wrap(&limit.text, SMALL, Face::Regular, 62.0);
        let room = text::widest(lines.iter().map(String::as_str), SMALL, Face::Regular) + 5.0;
        Self { lines, room }
    }

    /// The lines of the words.
    pub(super) fn lines(&self) -> &[String] {
        &self.lines
    }

    /// Sets the words level with a place, kept between the top and the bottom of the plot.
    pub(super) fn draw(&self, canvas: &mut Canvas, frame: &Frame, y: f64) {
        let kind = Type::new(SMALL, INK);
        let leading = SMALL * text::LEADING;
        let height = leading * self.lines.len() as f64;
        let top = (y - height / 2.0).min(frame.area.bottom - height).max(frame.area.top);
        let before = canvas.on(Layer::Limit);
        for (index, line) in self.lines.iter().enumerate() {
            let y = top + leading * (index as f64 + 0.5);
            canvas.words(frame.area.right + 5.0, kind.centred_on(y), line, kind);
        }
        canvas.on(before);
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn labels_that_are_clear_of_each_other_stay_where_they_are() {
        assert_eq!(spread(&[(10.0, 8.0), (50.0, 8.0)], 0.0, 100.0), [10.0, 50.0]);
    }

    #[test]
    fn labels_at_one_height_are_set_above_each_other_about_it() {
        assert_eq!(spread(&[(50.0, 8.0), (50.0, 8.0)], 0.0, 100.0), [46.0, 54.0]);
        assert_eq!(spread(&[(0.0, 8.0), (1.0, 8.0)], 0.0, 100.0), [4.0, 12.0]);
    }

    proptest! {
        #[test]
        fn labels_never_overlap_and_stay_in_the_plot(
            centres in proptest::collection::vec(-20.0..220.0f64, 0..12),
        ) {
            let wanted: Vec<(f64, f64)> = centres.iter().map(|c| (*c, 9.5)).collect();
            let mut places = spread(&wanted, 0.0, 200.0);
            places.sort_by(f64::total_cmp);
            prop_assert!(places.windows(2).all(|pair| pair[1] - pair[0] >= 9.5 - 1e-9));
            prop_assert!(places.iter().all(|p| *p >= 4.75 - 1e-9 && *p <= 195.25 + 1e-9));
        }
    }

    #[test]
    fn a_reading_is_written_as_it_was_typed() {
        assert_eq!(plain_number(-9.5), "−9.5");
        assert_eq!(plain_number(0.1 + 0.2), "0.3");
        assert_eq!(plain_number(-2.5e-13), "−2.5e−13");
        assert_eq!(plain_number(1e9), "1000000000");
    }
}
