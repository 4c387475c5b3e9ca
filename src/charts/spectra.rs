//! Spectra of one visit above another on one scale: the size of lines against frequency, with the
//! lines that matter marked.
//!
//! A spectrum has more bins than the page has columns: each column shows its smallest and its largest
//! bin, so that no line is lost. Sizes stand on a scale of decades, for a line is worth seeing long
//! before it is as large as the largest.

use super::canvas::{Anchor, Canvas, Pen, Type};
use super::clip::Rect;
use super::fit::{self, More};
use super::frame::{Frame, Scale, floor_baseline};
use super::marks;
use super::sheet::{Course, Layer};
use super::style::{FINE, HAIRLINE, HAIRLINE_GREY, INK, MARK, SMALL, SOFT_INK, TEXT};
use super::text::{self, Face};
use super::ticks::Ticks;
use super::{ChartError, Svg, Visit};

/// Spectra of the same signal at several visits.
#[derive(Debug, Clone, PartialEq)]
pub struct Spectra {
    /// The width on the page in points.
    pub width_pt: f64,
    /// What the sizes are: `Acceleration, peak of a line`.
    pub name: String,
    /// Their unit, as it is written.
    pub unit: String,
    /// The frequency at the right end, hertz.
    pub highest: f64,
    /// The visits in the order of their dates, one above the other.
    pub visits: Vec<SpectrumVisit>,
    /// Lines worth finding, in any order.
    pub marks: Vec<Mark>,
}

/// The spectrum of one visit.
#[derive(Debug, Clone, PartialEq)]
pub struct SpectrumVisit {
    /// The visit.
    pub visit: Visit,
    /// From bin to bin, hertz; the first is at 0.
    pub width: f64,
    /// The size in each bin; one that is not above zero lies below every scale.
    pub sizes: Vec<f64>,
}

/// A frequency with its words.
#[derive(Debug, Clone, PartialEq)]
pub struct Mark {
    /// Hertz.
    pub frequency: f64,
    /// In a word: `1×`, `inner`.
    pub words: String,
}

const PLOT_HEIGHT: f64 = 78.0;
const HEAD: f64 = 15.0;
const GAP: f64 = 5.0;
/// So many decades at most: what lies below is noise.
const DECADES: f64 = 4.0;
/// Columns of the page, each half a point wide.
const COLUMN: f64 = 0.5;

impl Spectra {
    /// Draws the chart.
    pub fn draw(&self) -> Result<Svg, ChartError> {
        self.draw_to(None)
    }

    /// Draws the chart with plots as high as it takes to fill a height.
    pub fn draw_to(&self, height: Option<f64>) -> Result<Svg, ChartError> {
        fit::to(height, self.visits.len(), |more| self.drawn(more))
    }

    fn drawn(&self, more: More) -> Result<Svg, ChartError> {
        self.check()?;
        let (low, high) = self.decades()?;
        let labels: Vec<(f64, String)> = decades(low, high);
        let left = text::widest(labels.iter().map(|(_, label)| label.as_str()), SMALL, Face::Regular) + 5.0;
        let right = self.width_pt - 12.0;
        if right - left < 80.0 {
            return Err(ChartError::TooNarrow { width_pt: self.width_pt });
        }
        let leading = TEXT * text::LEADING;
        let name =
            if self.unit.is_empty() { self.name.clone() } else { format!("{}, {}", self.name, self.unit) };
        let head = text::wrap(&name, TEXT, Face::Regular, self.width_pt);
        let mut canvas = Canvas::default();
        for (index, line) in head.iter().enumerate() {
            let baseline = TEXT * text::ABOVE + leading * index as f64;
            canvas.words(0.0, baseline, line, Type::new(TEXT, INK));
        }
        let rows = self.mark_rows(left, right);
        let depth = f64::from(rows.iter().map(|(_, row)| row + 1).max().unwrap_or(0));
        let mut top = leading * head.len() as f64 + 3.0 + depth * SMALL * text::LEADING;
        let marks_top = leading * head.len() as f64 + 3.0;
        let first_plot = top + HEAD;
        let mut bottom = top;
        for (index, visit) in self.visits.iter().enumerate() {
            let area = Rect { left, top: top + HEAD, right, bottom: top + HEAD + more.of(PLOT_HEIGHT) };
            self.draw_visit(&mut canvas, (visit, Layer::Visit(index)), area, (low, high), &labels);
            bottom = area.bottom;
            top = area.bottom + GAP;
        }
        self.draw_marks(&mut canvas, &rows, (left, right), (marks_top, first_plot));
        let ticks = Ticks::inside(0.0, self.highest, 8);
        let unit = Type::new(SMALL, SOFT_INK);
        let words = format!("Frequency, {}", ticks.unit("Hz"));
        canvas.words(left, floor_baseline(bottom) + 11.0, &words, unit);
        canvas.finish(self.width_pt, floor_baseline(bottom) + 15.0)
    }

    fn check(&self) -> Result<(), ChartError> {
        super::sane_width(self.width_pt)?;
        super::finite(self.highest, "the highest frequency")?;
        if self.highest <= 0.0 || self.visits.is_empty() {
            return Err(ChartError::Nothing("no spectrum"));
        }
        for visit in &self.visits {
            super::finite(visit.width, "the width of a bin")?;
            if visit.width <= 0.0 {
                return Err(ChartError::Nothing("bins without width"));
            }
        }
        self.marks.iter().try_for_each(|mark| super::finite(mark.frequency, "a marked frequency"))
    }

    /// The bins of a visit that are drawn: finite, above zero, up to the highest frequency.
    fn shown<'a>(&self, visit: &'a SpectrumVisit) -> impl Iterator<Item = (f64, f64)> + use<'a> {
        let (width, highest) = (visit.width, self.highest);
        visit
            .sizes
            .iter()
            .enumerate()
            .skip(1)
            .map(move |(bin, size)| (bin as f64 * width, *size))
            .take_while(move |(frequency, _)| *frequency <= highest)
    }

    /// The exponents of the lowest and the highest value on the scale.
    fn decades(&self) -> Result<(f64, f64), ChartError> {
        let sizes = self
            .visits
            .iter()
            .flat_map(|visit| self.shown(visit))
            .map(|(_, size)| size)
            .filter(|size| *size > 1e-150 && *size < 1e150);
        let (mut least, mut most) = (f64::INFINITY, f64::NEG_INFINITY);
        for size in sizes {
            (least, most) = (least.min(size), most.max(size));
        }
        if most < least {
            return Err(ChartError::Nothing("no line is above zero"));
        }
        let high = (most.log10() + 1e-9).ceil();
        let high = if high - most.log10() < 0.05 { high + 0.3 } else { high };
        let low = least.log10().floor().max(high.floor() - DECADES).min(high.floor() - 1.0);
        Ok((low, high))
    }

    /// Each mark inside the plot with its row, from left to right, none upon another.
    fn mark_rows(&self, left: f64, right: f64) -> Vec<(&Mark, u32)> {
        let mut marks: Vec<&Mark> =
            self.marks.iter().filter(|mark| mark.frequency > 0.0 && mark.frequency <= self.highest).collect();
        marks.sort_by(|a, b| a.frequency.total_cmp(&b.frequency));
        let kind = mark_type();
        let mut ends: Vec<f64> = Vec::new();
        let mut rows = Vec::new();
        for mark in marks {
            let extent = kind.extent(self.mark_x(mark, left, right), 0.0, &mark.words);
            let free = ends.iter().position(|end| extent.left > end + 4.0);
            let row = free.unwrap_or(ends.len());
            match ends.get_mut(row) {
                Some(end) => *end = extent.right,
                None => ends.push(extent.right),
            }
            rows.push((mark, u32::try_from(row).unwrap_or(0)));
        }
        rows
    }

    fn mark_x(&self, mark: &Mark, left: f64, right: f64) -> f64 {
        left + mark.frequency / self.highest * (right - left)
    }

    /// The words of the marks, each with a leader down to the first plot.
    fn draw_marks(
        &self,
        canvas: &mut Canvas,
        rows: &[(&Mark, u32)],
        (left, right): (f64, f64),
        (top, plot): (f64, f64),
    ) {
        let kind = mark_type();
        let leading = SMALL * text::LEADING;
        for (mark, row) in rows {
            let x = self.mark_x(mark, left, right);
            let baseline = top + leading * f64::from(*row) + SMALL * text::ABOVE;
            canvas.line(&[(x, baseline + 2.0), (x, plot)], Pen::solid(HAIRLINE_GREY, HAIRLINE));
            let half = kind.extent(0.0, 0.0, &mark.words).right;
            let room = (self.width_pt - half).max(half);
            canvas.words_on_white(x.clamp(half, room), baseline, &mark.words, kind);
        }
    }

    fn draw_visit(
        &self,
        canvas: &mut Canvas,
        (visit, layer): (&SpectrumVisit, Layer),
        area: Rect,
        (low, high): (f64, f64),
        labels: &[(f64, String)],
    ) {
        let state = visit.visit.state;
        let x = Scale { low: 0.0, high: self.highest, from: area.left, to: area.right };
        let y = Scale { low, high, from: area.bottom, to: area.top };
        let frame = Frame::new(area, x, y);
        let kind = Type::new(SMALL, SOFT_INK).at(Anchor::End);
        for (value, label) in labels {
            let y = frame.y.at(*value);
            canvas.line(&[(area.left, y), (area.right, y)], Pen::solid(HAIRLINE_GREY, HAIRLINE));
            canvas.words(area.left - 4.0, kind.centred_on(y), label, kind);
        }
        for mark in self.marks.iter().filter(|mark| mark.frequency > 0.0 && mark.frequency <= self.highest) {
            let x = frame.x.at(mark.frequency);
            let pen = Pen { colour: SOFT_INK, weight: HAIRLINE, dashed: true };
            canvas.line(&[(x, area.top), (x, area.bottom)], pen);
        }
        let pen = Pen { dashed: false, ..Pen::solid(state.colour(), FINE) };
        canvas.within(layer, |canvas| {
            frame.comes_across(canvas);
            frame.line(canvas, &self.columns(visit, &area, low), pen);
        });
        self.floor(canvas, &frame, visit);
        canvas.on(layer);
        // The visit's name on the plot's own head, right, so that marks keep clear of it.
        let name = text::wrap(&visit.visit.name, TEXT, Face::Strong, area.width() / 2.0);
        let name = name.first().map_or("", String::as_str);
        let words = Type::new(TEXT, state.word_colour()).strong().at(Anchor::End);
        let centre = area.top - HEAD / 2.0 + 1.0;
        let extent = words.extent(area.right, words.centred_on(centre), name);
        canvas.words_on_white(area.right, words.centred_on(centre), name, words);
        marks::mark(canvas, (extent.left - 6.0, centre), state, MARK);
        canvas.comes(Course::First(Rect { left: extent.left - 10.0, ..extent }));
        canvas.on(Layer::Frame);
    }

    /// The ticks; their labels only under the last plot.
    fn floor(&self, canvas: &mut Canvas, frame: &Frame, visit: &SpectrumVisit) {
        let ticks = Ticks::inside(0.0, self.highest, 8);
        let last = self.visits.last().is_some_and(|last| std::ptr::eq(last, visit));
        let labels: Vec<(f64, String)> = ticks
            .values()
            .into_iter()
            .zip(ticks.labels())
            .map(|(value, label)| (value, if last { label } else { String::new() }))
            .collect();
        frame.floor(canvas, &labels);
    }

    /// The line: each column's smallest and largest bin, in decades.
    fn columns(&self, visit: &SpectrumVisit, area: &Rect, low: f64) -> Vec<(f64, f64)> {
        let per_column = self.highest / (area.width() / COLUMN);
        // What is not above zero lies below the scale, so the line leaves through the floor.
        let exponent = |size: f64| {
            let below = low - 1.0;
            if size.is_nan() { f64::NAN } else { size.max(0.0).log10().clamp(below, 150.0) }
        };
        let mut points: Vec<(f64, f64)> = Vec::new();
        let mut column: Option<(f64, f64, f64, f64)> = None;
        let mut close = |column: Option<(f64, f64, f64, f64)>| {
            if let Some((_, frequency, least, most)) = column {
                points.push((frequency, least));
                if most > least {
                    points.push((frequency, most));
                }
            }
        };
        for (frequency, size) in self.shown(visit) {
            let (place, value) = ((frequency / per_column).floor(), exponent(size));
            column = match column {
                Some((own, at, least, most)) if (own - place).abs() < 0.5 => {
                    Some((own, at, least.min(value), most.max(value)))
                }
                other => {
                    close(other);
                    Some((place, frequency, value, value))
                }
            };
        }
        close(column);
        points
    }
}

fn mark_type() -> Type {
    Type::new(SMALL, INK).at(Anchor::Middle)
}

/// The powers of ten between two exponents with their labels, every one or every second.
fn decades(low: f64, high: f64) -> Vec<(f64, String)> {
    let mut list = Vec::new();
    let mut exponent = low.ceil();
    while exponent <= high + 1e-9 {
        list.push((exponent, power_of_ten(exponent)));
        exponent += 1.0;
    }
    list
}

/// `0.01`, or `10⁻⁷` where zeros would have to be counted.
fn power_of_ten(exponent: f64) -> String {
    if exponent.abs() <= 4.0 {
        return super::labels::plain_number(10f64.powf(exponent));
    }
    let digits: String = format!("{exponent:.0}").chars().map(super::ticks::superscript).collect();
    format!("10{digits}")
}
