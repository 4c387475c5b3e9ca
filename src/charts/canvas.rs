//! The sheet that charts are drawn on: a list of shapes in points, handed to plotters at the end.
//!
//! plotters works in whole pixels, so the drawing is [`UNITS`] times as large as the page and its view
//! box scales it back: a coordinate is off by at most 1/40 pt.

use std::sync::OnceLock;

use plotters::backend::SVGBackend;
use plotters::drawing::{DrawingArea, IntoDrawingArea as _};
use plotters::element::{Circle, PathElement, Polygon};
use plotters::style::text_anchor::{HPos, Pos, VPos};
use plotters::style::{
    Color as _, FontDesc, FontFamily, FontStyle, RGBColor, ShapeStyle, TextStyle, register_font,
};

use super::clip::{Point, Rect};
use super::sheet::{Course, Drawn, Layer, Role, Shape, Sheet};
use super::style::{FAMILY, HAIRLINE, HATCH_GREY, QUOTED_FAMILY, Rgb, WHITE};
use super::text::{self, ABOVE, BELOW, CAP_HEIGHT, Face, REGULAR, STRONG};
use super::{ChartError, Svg, clip};

/// Drawing units in a point.
const UNITS: f64 = 20.0;
/// plotters writes a size divided by this.
const PLOTTERS_SIZE: f64 = 1.24;
/// From one line of a hatching to the next, along either axis, in points.
const SPACING: f64 = 6.0;
/// plotters sets a text anchored at its top this far below, in em.
const PLOTTERS_TOP: f64 = 0.76;

/// Colour and weight of a line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Pen {
    /// The colour.
    pub(super) colour: Rgb,
    /// The weight in points.
    pub(super) weight: f64,
    /// Dashed where true.
    pub(super) dashed: bool,
}

impl Pen {
    /// A solid line.
    pub(super) fn solid(colour: Rgb, weight: f64) -> Self {
        Self { colour, weight, dashed: false }
    }
}

/// Which end of a text stands at its x.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Anchor {
    Start,
    Middle,
    End,
}

/// How a text is set.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Type {
    /// The size in points.
    pub(super) size: f64,
    /// The weight.
    pub(super) face: Face,
    /// The colour.
    pub(super) colour: Rgb,
    /// The end that stands at x.
    pub(super) anchor: Anchor,
}

impl Type {
    /// Regular, anchored at its start.
    pub(super) fn new(size: f64, colour: Rgb) -> Self {
        Self { size, face: Face::Regular, colour, anchor: Anchor::Start }
    }

    /// The same, anchored elsewhere.
    pub(super) fn at(self, anchor: Anchor) -> Self {
        Self { anchor, ..self }
    }

    /// The same in the strong face.
    pub(super) fn strong(self) -> Self {
        Self { face: Face::Strong, ..self }
    }

    /// The box that a text takes, from the room for accents to that for descenders.
    pub(super) fn extent(&self, x: f64, baseline: f64, words: &str) -> Rect {
        let width = text::width(&text::clean(words), self.size, self.face);
        let left = match self.anchor {
            Anchor::Start => x,
            Anchor::Middle => x - width / 2.0,
            Anchor::End => x - width,
        };
        let (top, bottom) = (baseline - ABOVE * self.size, baseline + BELOW * self.size);
        Rect { left, top, right: left + width, bottom }
    }

    /// The baseline that centres capitals and figures on `y`.
    pub(super) fn centred_on(&self, y: f64) -> f64 {
        y + CAP_HEIGHT * self.size / 2.0
    }
}

impl Shape {
    /// Whether every coordinate is a number: plotters would draw another at the origin.
    fn is_finite(&self) -> bool {
        let is_finite = |(x, y): &Point| x.is_finite() && y.is_finite();
        match self {
            Self::Line(points, _) | Self::Fill(points, _) => points.iter().all(is_finite),
            Self::Disc(centre, radius, _) | Self::Ring(centre, radius, _) => {
                is_finite(centre) && radius.is_finite()
            }
            Self::Words(place, ..) => is_finite(place),
        }
    }
}

/// Shapes in the order in which they are drawn.
#[derive(Debug)]
pub(super) struct Canvas {
    drawn: Vec<Drawn>,
    courses: Vec<(Layer, Course)>,
    layer: Layer,
    role: Role,
}

impl Default for Canvas {
    fn default() -> Self {
        Self { drawn: Vec::new(), courses: Vec::new(), layer: Layer::Frame, role: Role::Usual }
    }
}

impl Canvas {
    /// What is drawn from here on belongs to this layer; gives the one before.
    pub(super) fn on(&mut self, layer: Layer) -> Layer {
        std::mem::replace(&mut self.layer, layer)
    }

    /// What is drawn within belongs to a layer.
    pub(super) fn within<T>(&mut self, layer: Layer, draw: impl FnOnce(&mut Self) -> T) -> T {
        let before = self.on(layer);
        let drawn = draw(self);
        self.layer = before;
        drawn
    }

    /// How the layer at hand comes to be seen over a part of the drawing.
    pub(super) fn comes(&mut self, course: Course) {
        self.courses.push((self.layer, course));
    }

    /// What is drawn within is a map on `paper`, whose shades mean the same on every ground.
    pub(super) fn map<T>(&mut self, paper: &Rect, draw: impl FnOnce(&mut Self) -> T) -> T {
        let before = std::mem::replace(&mut self.role, Role::MapPaper);
        self.ground(paper, WHITE);
        self.role = Role::Map;
        let drawn = draw(self);
        self.role = before;
        drawn
    }

    fn push(&mut self, shape: Shape) {
        self.drawn.push(Drawn { shape, layer: self.layer, role: self.role });
    }

    /// A line through points that lie where they may be drawn; a dashed one is cut into dashes.
    pub(super) fn line(&mut self, points: &[Point], pen: Pen) {
        if points.len() < 2 {
            return;
        }
        if pen.dashed {
            let solid = Pen { dashed: false, ..pen };
            for dash in dashes(points, 3.0, 2.0) {
                self.push(Shape::Line(dash, solid));
            }
        } else {
            self.push(Shape::Line(points.to_vec(), pen));
        }
    }

    /// A line cut to a rectangle and broken at points that are not finite.
    pub(super) fn line_within(&mut self, rect: &Rect, points: &[Point], pen: Pen) {
        for part in clip::polyline(rect, points) {
            self.line(&part, pen);
        }
    }

    /// A filled polygon.
    pub(super) fn fill(&mut self, corners: &[Point], colour: Rgb) {
        self.push(Shape::Fill(corners.to_vec(), colour));
    }

    /// A filled rectangle.
    pub(super) fn ground(&mut self, rect: &Rect, colour: Rgb) {
        let corners = [
            (rect.left, rect.top),
            (rect.right, rect.top),
            (rect.right, rect.bottom),
            (rect.left, rect.bottom),
        ];
        self.fill(&corners, colour);
    }

    /// A filled circle.
    pub(super) fn disc(&mut self, centre: Point, radius: f64, colour: Rgb) {
        self.push(Shape::Disc(centre, radius, colour));
    }

    /// A circle's outline.
    pub(super) fn ring(&mut self, centre: Point, radius: f64, pen: Pen) {
        self.push(Shape::Ring(centre, radius, pen));
    }

    /// A text with its baseline at `baseline`. Returns its box.
    pub(super) fn words(&mut self, x: f64, baseline: f64, words: &str, kind: Type) -> Rect {
        let words = text::clean(words);
        let extent = kind.extent(x, baseline, &words);
        if !words.is_empty() {
            self.push(Shape::Words((x, baseline), words, kind));
        }
        extent
    }

    /// A text on white, so that hatching and lines do not run through it.
    pub(super) fn words_on_white(&mut self, x: f64, baseline: f64, words: &str, kind: Type) -> Rect {
        let extent = kind.extent(x, baseline, words);
        let top = baseline - 0.76 * kind.size;
        let bottom = baseline + 0.22 * kind.size;
        let before = self.role;
        if before == Role::Usual {
            self.role = Role::BehindWords;
        }
        self.ground(&Rect { left: extent.left - 1.2, top, right: extent.right + 1.2, bottom }, WHITE);
        self.role = before;
        self.words(x, baseline, words, kind)
    }

    /// Lines at 45° over a region, as a drawing hatches a section; regions side by side join.
    pub(super) fn hatch(&mut self, region: &Rect) {
        if region.width() <= 0.0 || region.height() <= 0.0 {
            return;
        }
        let pen = Pen::solid(HATCH_GREY, HAIRLINE);
        let mut sum = ((region.left + region.top) / SPACING).ceil() * SPACING;
        while sum < region.right + region.bottom {
            let low = (region.left, sum - region.left);
            let high = (region.right, sum - region.right);
            self.line_within(region, &[low, high], pen);
            sum += SPACING;
        }
    }

    /// The same lines over a convex polygon that lies where it may be drawn.
    pub(super) fn hatch_corners(&mut self, corners: &[Point]) {
        let sums = || corners.iter().map(|(x, y)| x + y);
        let (low, high) = (sums().fold(f64::INFINITY, f64::min), sums().fold(f64::NEG_INFINITY, f64::max));
        if !low.is_finite() || !high.is_finite() {
            return;
        }
        let pen = Pen::solid(HATCH_GREY, HAIRLINE);
        let mut sum = (low / SPACING).ceil() * SPACING;
        while sum < high {
            // A convex polygon is entered once and left once.
            let edges = corners.iter().zip(corners.iter().cycle().skip(1));
            let crossings = edges.filter_map(|(from, to)| {
                let (before, after) = (from.0 + from.1 - sum, to.0 + to.1 - sum);
                let share = before / (before - after);
                ((before < 0.0) != (after < 0.0))
                    .then_some((from.0 + share * (to.0 - from.0), from.1 + share * (to.1 - from.1)))
            });
            let line: Vec<Point> = crossings.collect();
            self.line(&line, pen);
            sum += SPACING;
        }
    }

    /// Draws everything through plotters on a sheet of this size in points.
    pub(super) fn finish(self, width_pt: f64, height_pt: f64) -> Result<Svg, ChartError> {
        fonts_registered()?;
        if !self.drawn.iter().all(|drawn| drawn.shape.is_finite()) {
            return Err(ChartError::Drawing("a coordinate is not finite".to_owned()));
        }
        let size = (extent_units(width_pt), extent_units(height_pt));
        let mut svg = String::new();
        {
            let root = SVGBackend::with_string(&mut svg, size).into_drawing_area();
            for drawn in self.drawn.iter().filter(|drawn| drawn.role != Role::MapPaper) {
                draw(&root, &drawn.shape)?;
            }
            root.present().map_err(|error| ChartError::Drawing(error.to_string()))?;
        }
        // plotters gives the sheet's size in units; on the page it has its size in points.
        let in_units = format!("width=\"{}\" height=\"{}\"", size.0, size.1);
        let (width_pt, height_pt) = (f64::from(size.0) / UNITS, f64::from(size.1) / UNITS);
        let in_points = format!("width=\"{width_pt}pt\" height=\"{height_pt}pt\"");
        let text = svg.replacen(&in_units, &in_points, 1);
        let sheet = Sheet { drawn: self.drawn.into(), courses: self.courses.into() };
        Ok(Svg { text, width_pt, height_pt, sheet })
    }
}

/// Makes the family known to plotters, once.
fn fonts_registered() -> Result<(), ChartError> {
    static DONE: OnceLock<bool> = OnceLock::new();
    let done = DONE.get_or_init(|| {
        register_font(QUOTED_FAMILY, FontStyle::Normal, &REGULAR).is_ok()
            && register_font(QUOTED_FAMILY, FontStyle::Bold, &STRONG).is_ok()
    });
    if *done { Ok(()) } else { Err(ChartError::Font(FAMILY)) }
}

fn draw(root: &DrawingArea<SVGBackend<'_>, plotters::coord::Shift>, shape: &Shape) -> Result<(), ChartError> {
    let drawn = match shape {
        Shape::Line(points, pen) => {
            let style = ShapeStyle {
                color: colour(pen.colour).to_rgba(),
                filled: false,
                stroke_width: extent_units(pen.weight),
            };
            root.draw(&PathElement::new(points.iter().map(|p| units(*p)).collect::<Vec<_>>(), style))
        }
        Shape::Fill(corners, fill) => {
            let corners: Vec<_> = corners.iter().map(|p| units(*p)).collect();
            root.draw(&Polygon::new(corners, colour(*fill).filled()))
        }
        Shape::Disc(centre, radius, fill) => {
            root.draw(&Circle::new(units(*centre), extent_units(*radius), colour(*fill).filled()))
        }
        Shape::Ring(centre, radius, pen) => {
            let style = colour(pen.colour).stroke_width(extent_units(pen.weight));
            root.draw(&Circle::new(units(*centre), extent_units(*radius), style))
        }
        Shape::Words((x, baseline), words, kind) => {
            let face = match kind.face {
                Face::Regular => FontStyle::Normal,
                Face::Strong => FontStyle::Bold,
            };
            let size = kind.size * UNITS * PLOTTERS_SIZE;
            let h_pos = match kind.anchor {
                Anchor::Start => HPos::Left,
                Anchor::Middle => HPos::Center,
                Anchor::End => HPos::Right,
            };
            let style = TextStyle {
                font: FontDesc::new(FontFamily::Name(QUOTED_FAMILY), size, face),
                color: colour(kind.colour).to_backend_color(),
                pos: Pos::new(h_pos, VPos::Top),
            };
            root.draw_text(words, &style, units((*x, baseline - PLOTTERS_TOP * kind.size)))
        }
    };
    drawn.map_err(|error| ChartError::Drawing(error.to_string()))
}

fn colour(rgb: Rgb) -> RGBColor {
    RGBColor(rgb.0, rgb.1, rgb.2)
}

fn units((x, y): Point) -> (i32, i32) {
    (coordinate(x), coordinate(y))
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "a float cast saturates, and a sheet is a few thousand points"
)]
fn coordinate(points: f64) -> i32 {
    (points * UNITS).round() as i32
}

fn extent_units(points: f64) -> u32 {
    u32::try_from(coordinate(points)).unwrap_or(0).max(1)
}

/// The dashes of a line: `on` points drawn, `off` points left out, round corners and all.
fn dashes(points: &[Point], on: f64, off: f64) -> Vec<Vec<Point>> {
    let mut done = Vec::new();
    let mut dash: Vec<Point> = points.first().copied().into_iter().collect();
    let (mut drawing, mut left) = (true, on);
    for pair in points.windows(2) {
        let &[mut from, to] = pair else { continue };
        let mut length = (to.0 - from.0).hypot(to.1 - from.1);
        while length > left {
            let share = left / length;
            from = (from.0 + share * (to.0 - from.0), from.1 + share * (to.1 - from.1));
            length -= left;
            if drawing {
                dash.push(from);
                done.push(std::mem::take(&mut dash));
            } else {
                dash = vec![from];
            }
            drawing = !drawing;
            left = if drawing { on } else { off };
        }
        left -= length;
        if drawing {
            dash.push(to);
        }
    }
    if drawing && dash.len() > 1 {
        done.push(dash);
    }
    done
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dashes_cover_three_fifths_of_a_line_and_stay_on_it() {
        let parts = dashes(&[(0.0, 0.0), (10.0, 0.0), (10.0, 15.0)], 3.0, 2.0);
        let length: f64 = parts
            .iter()
            .flat_map(|part| part.windows(2))
            .map(|pair| (pair[1].0 - pair[0].0).hypot(pair[1].1 - pair[0].1))
            .sum();
        assert!((length - 15.0).abs() < 1e-9, "{length}");
        assert!(parts.iter().flatten().all(|(x, y)| *y == 0.0 || (*x - 10.0).abs() < 1e-9));
    }

    #[test]
    fn the_sheet_has_its_size_in_points_and_names_its_family() {
        let mut canvas = Canvas::default();
        canvas.words(5.0, 20.0, "1 < 2 & \"3\"", Type::new(8.0, super::super::style::INK));
        let svg = canvas.finish(100.0, 30.0).expect("a sheet is drawn");
        assert!(svg.text.starts_with(
            r#"<svg width="100pt" height="30pt" viewBox="0 0 2000 600" xmlns="http://www.w3.org/2000/svg">"#
        ));
        assert!(svg.text.contains("1 &lt; 2 &amp; &quot;3&quot;"));
        assert!(svg.text.contains(r#"font-family="&apos;Source Sans 3&apos;""#));
        assert!(svg.text.contains(r#"font-size="160""#));
    }
}
