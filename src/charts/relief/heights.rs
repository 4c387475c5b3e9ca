//! The one scale of heights of all visits: round levels, a shade for each band between them, and the bar
//! that says which is which.

use super::Relief;
use crate::charts::ChartError;
use crate::charts::canvas::{Anchor, Canvas, Pen, Type};
use crate::charts::clip::Rect;
use crate::charts::frame;
use crate::charts::style::{INK, Rgb, SMALL, SOFT_INK, TEXT, WHITE};
use crate::charts::text::{self, Face};
use crate::charts::ticks::Ticks;

/// As many shades as an eye still tells apart in grey.
const MOST_BANDS: usize = 9;
/// The lowest band: a dark grey-green that is no visit's colour.
const DEEP: Rgb = Rgb(0x2B, 0x42, 0x3A);
/// The lightness L* of the highest band (CIE 15:2004, from memory): near the paper, but not the paper.
const LIGHTEST: f64 = 94.0;
/// The line along a level, and that along zero.
const LEVEL: f64 = 0.35;
const ZERO: f64 = 0.9;
/// The bar's height, and the widest that a band is drawn in it.
const BAR: f64 = 9.0;
const WIDEST: f64 = 36.0;

/// The scale of heights.
#[derive(Debug)]
pub(super) struct Heights {
    ticks: Ticks,
    /// The edges of the bands, lowest first; two or more.
    pub(super) levels: Vec<f64>,
    /// The shade of each band.
    ramp: Vec<Rgb>,
    /// The lowest and highest height that is drawn.
    data: (f64, f64),
}

impl Heights {
    /// The scale over all visits, or over the range asked for.
    pub(super) fn new(chart: &Relief) -> Result<Self, ChartError> {
        let heights = chart.visits.iter().flat_map(|visit| &visit.points).filter_map(|point| point.height);
        let data = frame::span(heights).ok_or(ChartError::Nothing("no place has a height"))?;
        let (low, high) = chart.range.unwrap_or(data);
        let ticks = Ticks::around(low, high, MOST_BANDS);
        let levels = ticks.values();
        let ramp = ramp(levels.len().saturating_sub(1));
        Ok(Self { ticks, levels, ramp, data })
    }

    /// The shade of a band, counted from the lowest.
    pub(super) fn shade(&self, band: usize) -> Rgb {
        self.ramp.get(band).copied().unwrap_or(WHITE)
    }

    /// The levels between two bands, each with the band above it.
    pub(super) fn inner(&self) -> impl Iterator<Item = (usize, f64)> {
        let last = self.levels.len().saturating_sub(1);
        self.levels.iter().copied().enumerate().take(last).skip(1)
    }

    /// The line along a level. That along zero is heavy.
    pub(super) fn pen(level: f64) -> Pen {
        Pen::solid(INK, if level == 0.0 { ZERO } else { LEVEL })
    }

    /// Whether zero is a level between bands.
    pub(super) fn shows_zero(&self) -> bool {
        self.inner().any(|(_, level)| level == 0.0)
    }

    /// The distance of two levels with its unit.
    pub(super) fn step(&self, unit: &str) -> String {
        let step = Ticks::step_below(self.ticks.step() * (1.0 + 1e-9));
        let label = step.labels().pop().unwrap_or_default();
        let sign = if step.power == 0 { "" } else { "× " };
        format!("{label} {sign}{}", step.unit(unit)).trim_end().to_owned()
    }

    /// A level as it stands in a plan.
    pub(super) fn label(&self, index: usize) -> String {
        self.ticks.labels().get(index).cloned().unwrap_or_default()
    }

    /// A height with its sign, to a fifth of a band or finer, in the unit of the bar.
    pub(super) fn signed(&self, height: f64) -> String {
        let unit = 10f64.powi(self.ticks.power);
        let finest = (self.ticks.step() / unit / 5.0).log10() + 1e-9;
        let decimals = (0..12).find(|places| -f64::from(*places) <= finest).unwrap_or(12);
        let decimals = usize::try_from(decimals).unwrap_or(0);
        let words = format!("{:+.decimals$}", height / unit);
        if words.chars().any(|letter| ('1'..='9').contains(&letter)) {
            words.replace('-', "\u{2212}")
        } else {
            words.trim_start_matches(['+', '-']).to_owned()
        }
    }

    /// Whether heights go below and above the bands; they are drawn in the outermost.
    fn beyond(&self) -> (bool, bool) {
        let (low, high) = (self.levels.first(), self.levels.last());
        let slack = 1e-9 * self.ticks.step();
        (
            low.is_some_and(|low| self.data.0 < low - slack),
            high.is_some_and(|high| self.data.1 > high + slack),
        )
    }

    /// What is to be said of heights off the scale.
    pub(super) fn say_beyond(&self) -> Option<String> {
        let (low, high) = (self.signed(self.data.0), self.signed(self.data.1));
        let far = match self.beyond() {
            (false, false) => return None,
            (true, false) => format!("down to {low}"),
            (false, true) => format!("up to {high}"),
            (true, true) => format!("down to {low} and up to {high}"),
        };
        Some(format!("beyond the scale, in its last bands: {far}"))
    }

    /// Says what the heights are, below `top`; returns where that ends.
    pub(super) fn draw_name(&self, canvas: &mut Canvas, chart: &Relief, top: f64) -> f64 {
        let mut y = top;
        let unit = self.ticks.unit(&chart.unit);
        let name = if unit.is_empty() { chart.name.clone() } else { format!("{}, {unit}", chart.name) };
        for line in text::wrap(&name, TEXT, Face::Regular, chart.width_pt) {
            canvas.words(0.0, y + TEXT * text::ABOVE, &line, Type::new(TEXT, INK));
            y += TEXT * text::LEADING;
        }
        y
    }

    /// Draws the bar below `top`, on a sheet so wide; returns where it ends.
    pub(super) fn draw_bar(&self, canvas: &mut Canvas, width_pt: f64, top: f64) -> f64 {
        let y = top + 2.0;
        let labels = self.ticks.labels();
        let widest = text::widest(labels.iter().map(String::as_str), SMALL, Face::Regular);
        // Room for half a label, or for the point of an open end.
        let side = (widest / 2.0).max(BAR / 2.0) + 1.0;
        let count = self.ramp.len().max(1) as f64;
        let width = ((width_pt - 2.0 * side) / count).min(WIDEST);
        let edge = |index: usize| side + width * index as f64;
        let bar = Rect { left: side, top: y, right: edge(self.ramp.len()), bottom: y + BAR };
        canvas.map(&bar, |canvas| {
            for (band, shade) in self.ramp.iter().enumerate() {
                canvas.ground(&Rect { left: edge(band), right: edge(band + 1), ..bar }, *shade);
            }
            self.draw_ends(canvas, (side, edge(self.ramp.len())), y);
            for (index, level) in self.inner() {
                canvas.line(&[(edge(index), y), (edge(index), y + BAR)], Self::pen(level));
            }
        });
        let kind = Type::new(SMALL, SOFT_INK).at(Anchor::Middle);
        let every = (1..labels.len()).find(|every| *every as f64 * width >= widest + 4.0);
        let every = every.unwrap_or(labels.len()).max(1);
        let zero = self.levels.iter().position(|level| *level == 0.0).unwrap_or(0);
        for (index, label) in labels.iter().enumerate().skip(zero % every).step_by(every) {
            canvas.words(edge(index), y + BAR + 8.5, label, kind);
        }
        y + BAR + 11.0
    }

    /// The bar's outline, pointed where heights go beyond it.
    fn draw_ends(&self, canvas: &mut Canvas, (left, right): (f64, f64), top: f64) {
        let (below, above) = self.beyond();
        let (bottom, middle) = (top + BAR, top + BAR / 2.0);
        let mut outline = vec![(left, top), (right, top)];
        if above {
            let point = [(right, top), (right + BAR / 2.0, middle), (right, bottom)];
            canvas.fill(&point, self.shade(self.ramp.len().saturating_sub(1)));
            outline.push(point[1]);
        }
        outline.extend([(right, bottom), (left, bottom)]);
        if below {
            let point = [(left, top), (left - BAR / 2.0, middle), (left, bottom)];
            canvas.fill(&point, self.shade(0));
            outline.push(point[1]);
        }
        outline.push((left, top));
        canvas.line(&outline, Pen::solid(INK, LEVEL));
    }
}

/// Shades of one hue from dark to light, their lightness in even steps.
fn ramp(count: usize) -> Vec<Rgb> {
    let deepest = lightness(DEEP);
    let steps = count.saturating_sub(1).max(1) as f64;
    let shade = |index: usize| {
        let wanted = deepest + (LIGHTEST - deepest) * index as f64 / steps;
        let nearer =
            |a: &Rgb, b: &Rgb| (lightness(*a) - wanted).abs().total_cmp(&(lightness(*b) - wanted).abs());
        (0..=u8::MAX).map(|share| DEEP.tint(share)).min_by(nearer).unwrap_or(WHITE)
    };
    (0..count).map(shade).collect()
}

/// The lightness L* of a colour, 0 for black to 100 for white (CIE 15:2004, from memory).
fn lightness(colour: Rgb) -> f64 {
    let y = colour.luminance();
    if y > 216.0 / 24_389.0 { 116.0 * y.cbrt() - 16.0 } else { y * 24_389.0 / 27.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_shades_grow_lighter_in_even_steps_that_an_eye_tells_apart() {
        for count in 2..=MOST_BANDS {
            let ramp = ramp(count);
            // Relative luminance and contrast ratio of WCAG 2.2, which see no hue: the steps are there in grey.
            for pair in ramp.windows(2) {
                assert!(pair[1].luminance() > pair[0].luminance(), "{count}: {pair:?}");
                assert!(pair[1].contrast(pair[0]) >= 1.15, "{count}: {pair:?} {}", pair[1].contrast(pair[0]));
            }
            let steps: Vec<f64> =
                ramp.windows(2).map(|pair| lightness(pair[1]) - lightness(pair[0])).collect();
            let (low, high) = frame::span(steps).unwrap_or((0.0, 0.0));
            assert!(high - low < 1.5, "{count}: from {low} to {high}");
            assert!(ramp[count - 1].contrast(WHITE) >= 1.1, "the highest band is not the paper");
        }
    }

    #[test]
    fn a_level_is_read_on_the_band_above_it_in_ink_or_below_it_in_white() {
        for count in 2..=MOST_BANDS {
            for pair in ramp(count).windows(2) {
                assert!(INK.contrast(pair[1]) >= 4.5 || WHITE.contrast(pair[0]) >= 4.5, "{count}: {pair:?}");
            }
        }
    }
}
