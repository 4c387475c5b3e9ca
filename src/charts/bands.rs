//! Third-octave spectra: before and after on one scale, a plot for each setting.

use super::canvas::{Canvas, Pen, Type};
use super::clip::Rect;
use super::fit::{self, More};
use super::frame::{self, Frame, Scale, Values};
use super::labels::{self, EndLabel};
use super::marks::{Keys, Sign};
use super::sheet::Layer;
use super::style::{DATA, INK, MARK, TEXT};
use super::text::{self, Face};
use super::{ChartError, Svg, Visit};

/// The spectra of one check.
#[derive(Debug, Clone, PartialEq)]
pub struct Bands {
    /// The width on the page in points.
    pub width_pt: f64,
    /// What was found: `Level in each third octave`.
    pub name: String,
    /// The unit of the levels.
    pub unit: String,
    /// The bands of all spectra by their nominal names, lowest first: `31.5`, `1 k`.
    pub names: Vec<String>,
    /// A plot each, one above the other.
    pub plots: Vec<BandsPlot>,
}

/// What was heard at one setting.
#[derive(Debug, Clone, PartialEq)]
pub struct BandsPlot {
    /// The setting; may be empty.
    pub name: String,
    /// The visits in the order of their dates.
    pub spectra: Vec<Spectrum>,
}

/// One visit's spectrum.
#[derive(Debug, Clone, PartialEq)]
pub struct Spectrum {
    /// The visit.
    pub visit: Visit,
    /// A level for each of [`Bands::names`]; one that is not finite is not drawn and breaks the line.
    pub levels: Vec<f64>,
}

const PLOT_HEIGHT: f64 = 92.0;
const NAME_ROOM: f64 = 72.0;
/// Bands this far below the loudest of all are not drawn: nobody hears them beside it.
const REACH: f64 = 50.0;

impl Bands {
    /// Draws the chart.
    pub fn draw(&self) -> Result<Svg, ChartError> {
        self.draw_to(None)
    }

    /// Draws the chart with plots as high as it takes to fill a height.
    pub fn draw_to(&self, height: Option<f64>) -> Result<Svg, ChartError> {
        fit::to(height, self.plots.len(), |more| self.drawn(more))
    }

    fn drawn(&self, more: More) -> Result<Svg, ChartError> {
        super::sane_width(self.width_pt)?;
        let levels = || self.plots.iter().flat_map(|plot| &plot.spectra).flat_map(|one| &one.levels);
        for level in levels().filter(|level| level.is_finite()) {
            super::finite(*level, "a level")?;
        }
        let (lowest, highest) =
            frame::span(levels().copied()).ok_or(ChartError::Nothing("no band has a level"))?;
        if self.plots.iter().flat_map(|plot| &plot.spectra).any(|one| one.levels.len() > self.names.len()) {
            return Err(ChartError::Nothing("a band has no name"));
        }
        let floor = highest - REACH;
        let low = lowest.max(floor);
        let values = Values::new((low - 3.0, highest + 3.0), None, 6)?;
        let left = values.label_width() + 5.0;
        let right = self.width_pt - self.end_room() - 4.0;
        if right - left < 80.0 {
            return Err(ChartError::TooNarrow { width_pt: self.width_pt });
        }
        let leading = TEXT * text::LEADING;
        let mut canvas = Canvas::default();
        let head = text::wrap(&values.name(&self.name, &self.unit), TEXT, Face::Regular, self.width_pt);
        let mut y = 0.0;
        for line in &head {
            canvas.words(0.0, y + TEXT * text::ABOVE, line, Type::new(TEXT, INK));
            y += leading;
        }
        for (index, plot) in self.plots.iter().enumerate() {
            y += if index == 0 { 2.0 } else { 8.0 };
            let height = more.of(PLOT_HEIGHT);
            y = self.draw_plot(&mut canvas, plot, &values, (floor, height), (left, right, y));
        }
        let keys = keys(lowest < floor, right - left);
        keys.draw(&mut canvas, left, y + 2.0);
        canvas.finish(self.width_pt, y + keys.height() + 4.0)
    }

    /// What belongs to a visit: its number among the visits of all plots.
    fn layer(&self, visit: &Visit) -> Layer {
        let mut known: Vec<&Visit> = Vec::new();
        for one in self.plots.iter().flat_map(|plot| &plot.spectra).map(|one| &one.visit) {
            if !known.contains(&one) {
                known.push(one);
            }
        }
        Layer::Visit(known.iter().position(|one| *one == visit).unwrap_or(0))
    }

    /// Draws one plot below `top`; returns where it ends.
    fn draw_plot(
        &self,
        canvas: &mut Canvas,
        plot: &BandsPlot,
        values: &Values,
        (floor, height): (f64, f64),
        (left, right, mut top): (f64, f64, f64),
    ) -> f64 {
        let leading = TEXT * text::LEADING;
        for line in text::wrap(&plot.name, TEXT, Face::Strong, right - left) {
            canvas.words(left, top + TEXT * text::ABOVE, &line, Type::new(TEXT, INK).strong());
            top += leading;
        }
        top += 6.0;
        let lines: usize = plot.spectra.iter().map(|one| wrapped(&one.visit).len().max(1)).sum();
        let height = height.max(lines as f64 * leading);
        let area = Rect { left, top, right, bottom: top + height };
        let high = self.names.len().max(1) as f64 - 0.4;
        let x = Scale { low: -0.6, high, from: left, to: right };
        let mut frame = Frame::new(area, x, values.upward(&area));
        frame.grid(canvas, values, true);
        frame.floor(canvas, &self.ticks());
        let size = (0.3 * area.width() / self.names.len().max(1) as f64).clamp(0.8, MARK * 0.8);
        let mut ends = Vec::new();
        for one in &plot.spectra {
            let layer = self.layer(&one.visit);
            canvas.on(layer);
            frame.comes_across(canvas);
            let state = one.visit.state;
            let seen = |level: f64| if level >= floor { level } else { f64::NAN };
            let points: Vec<(f64, f64)> =
                one.levels.iter().enumerate().map(|(band, level)| (band as f64, seen(*level))).collect();
            let pen = Pen { dashed: state.is_dashed(), ..Pen::solid(state.colour(), DATA * 0.7) };
            frame.line(canvas, &points, pen);
            for point in &points {
                frame.mark(canvas, *point, state, size);
            }
            if let Some((_, level)) = points.iter().rev().find(|(_, level)| level.is_finite()) {
                let y = frame.y.at(*level).clamp(area.top, area.bottom);
                ends.push(EndLabel { y, lines: wrapped(&one.visit), colour: state.word_colour(), layer });
            }
        }
        canvas.on(Layer::Frame);
        labels::end_labels(canvas, right + 6.0, &ends, area.top - 4.0, area.bottom + 4.0);
        frame::floor_baseline(area.bottom) + 4.0
    }

    /// The bands that are named: the octaves, as far as there is room.
    fn ticks(&self) -> Vec<(f64, String)> {
        let octave = |name: &str| {
            ["16", "31.5", "63", "125", "250", "500", "1 k", "2 k", "4 k", "8 k", "16 k"].contains(&name)
        };
        let named = self.names.iter().enumerate().filter(|(_, name)| octave(name) || self.names.len() < 6);
        named.map(|(band, name)| (band as f64, name.clone())).collect()
    }

    fn end_room(&self) -> f64 {
        let spectra = self.plots.iter().flat_map(|plot| &plot.spectra);
        let lines: Vec<String> = spectra.flat_map(|one| wrapped(&one.visit)).collect();
        text::widest(lines.iter().map(String::as_str), TEXT, Face::Regular) + 6.0
    }
}

fn wrapped(visit: &Visit) -> Vec<String> {
    text::wrap(&visit.name, TEXT, Face::Regular, NAME_ROOM)
}

fn keys(cut: bool, room: f64) -> Keys {
    let mut keys = vec![(Sign::None, "middle of the third octave, Hz".to_owned())];
    if cut {
        keys.push((Sign::None, "bands 50 dB below the loudest are not drawn".to_owned()));
    }
    Keys::new(keys, room)
}
