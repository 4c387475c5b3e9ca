//! A drawing as a list of shapes, from which it is written again: on another ground than paper, and only
//! as far as a picture that builds itself up has come.

use std::fmt::Write as _;
use std::sync::Arc;

use super::canvas::{Anchor, Pen, Type};
use super::clip::{Point, Rect};
use super::ground::Ground;
use super::style::{QUOTED_FAMILY, Rgb};
use super::text::Face;
use super::{Svg, style};

/// What a shape belongs to. A picture that builds itself up shows one layer after the other, in this order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Layer {
    /// Axes, grid, names and keys.
    Frame,
    /// What was found at a visit, counted from 0.
    Visit(usize),
    /// The limit: its hatching, its edge, its words.
    Limit,
}

/// The way in which a layer comes to be seen over a part of the drawing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Course {
    /// At the start, before anything else: the name of what then follows.
    First(Rect),
    /// From the left to the right, as a curve grows in time.
    Across(Rect),
    /// Clockwise from the top about a centre, as a turn is read.
    Round {
        /// The centre, in points.
        centre: (f64, f64),
        /// How far it reaches, in points.
        radius: f64,
    },
}

#[derive(Debug, Clone, PartialEq)]
pub(super) enum Shape {
    Line(Vec<Point>, Pen),
    Fill(Vec<Point>, Rgb),
    Disc(Point, f64, Rgb),
    Ring(Point, f64, Pen),
    Words(Point, String, Type),
}

/// How a shape is taken on other grounds than paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Role {
    /// In the colours of that ground.
    Usual,
    /// The white that keeps lines from running through words.
    BehindWords,
    /// A part of a map, whose shades mean something: as on paper.
    Map,
    /// The paper of a map; on paper itself it is not drawn.
    MapPaper,
}

/// A shape with what it belongs to.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Drawn {
    pub(super) shape: Shape,
    pub(super) layer: Layer,
    pub(super) role: Role,
}

/// Everything that was drawn, in its order.
#[derive(Debug, Clone, PartialEq)]
pub struct Sheet {
    pub(super) drawn: Arc<[Drawn]>,
    pub(super) courses: Arc<[(Layer, Course)]>,
}

/// The edge round marks and words on the clear ground, in points.
const EDGE: f64 = 0.8;
/// Lines are this many times as heavy there, and their edges grow with them: between two dark edges a fine line
/// would lose its colour.
const HEAVIER: f64 = 1.35;
const LINE_EDGE: (f64, f64) = (0.2, 0.35);
/// How much grid and hatching cover there: they stay behind what stands on them.
const FAINT: &str = " stroke-opacity=\"0.6\"";
/// Sizes on the sheet are whole multiples of this, in points: three pixels of a picture 1080 pixels high.
const GRAIN: f64 = 0.625;

impl Svg {
    /// The layers that it has, in the order in which they are to be shown.
    pub fn layers(&self) -> Vec<Layer> {
        let mut layers: Vec<Layer> = self.sheet.drawn.iter().map(|drawn| drawn.layer).collect();
        layers.sort_unstable();
        layers.dedup();
        layers
    }

    /// How a layer comes to be seen, where not all at once.
    pub fn courses(&self, layer: Layer) -> impl Iterator<Item = Course> {
        self.sheet.courses.iter().filter(move |(own, _)| *own == layer).map(|(_, course)| *course)
    }

    /// The same drawing on a ground, up to and with a layer (all of it where none is given), as an SVG
    /// document whose text is text. Its size is a whole number of grains, never less than the drawing's.
    #[must_use]
    pub fn on(&self, ground: Ground, up_to: Option<Layer>) -> Self {
        let grains = |points: f64| (points / GRAIN - 1e-6).ceil() * GRAIN;
        let (width_pt, height_pt) = (grains(self.width_pt), grains(self.height_pt));
        let mut text = format!(
            "<svg width=\"{width_pt}pt\" height=\"{height_pt}pt\" viewBox=\"0 0 {width_pt} {height_pt}\" \
             xmlns=\"http://www.w3.org/2000/svg\">\n"
        );
        let shown = self.sheet.drawn.iter().filter(|drawn| up_to.is_none_or(|last| drawn.layer <= last));
        for drawn in shown {
            write_drawn(&mut text, drawn, ground);
        }
        text.push_str("</svg>\n");
        Self { text, width_pt, height_pt, sheet: self.sheet.clone() }
    }
}

fn write_drawn(out: &mut String, drawn: &Drawn, ground: Ground) {
    let colour = |rgb: Rgb| if drawn.role == Role::Map { rgb } else { ground.colour(rgb) };
    match drawn.role {
        Role::MapPaper if ground == Ground::Light => return,
        Role::MapPaper => return write_shape(out, &drawn.shape, &|rgb| rgb, None, ""),
        // Words have an edge of their own there, and nothing else is to be covered.
        Role::BehindWords if ground == Ground::Clear => return,
        Role::Usual if ground == Ground::Clear => {
            let cover = if is_hairline(&drawn.shape) { FAINT } else { "" };
            let shape = heavier(&drawn.shape);
            write_shape(out, &shape, &|_| ground.behind(), Some(edge(&shape)), cover);
            return write_shape(out, &shape, &colour, None, cover);
        }
        _ => {}
    }
    write_shape(out, &drawn.shape, &colour, None, "");
}

/// How wide the edge of a shape is on the clear ground.
fn edge(shape: &Shape) -> f64 {
    match shape {
        Shape::Line(_, pen) | Shape::Ring(_, _, pen) => (LINE_EDGE.0 + LINE_EDGE.1 * pen.weight).min(EDGE),
        _ => EDGE,
    }
}

/// The shape as it is drawn on the clear ground.
fn heavier(shape: &Shape) -> Shape {
    let heavier = |pen: &Pen| Pen { weight: pen.weight * HEAVIER, ..*pen };
    match shape {
        Shape::Line(points, pen) => Shape::Line(points.clone(), heavier(pen)),
        Shape::Ring(centre, radius, pen) => Shape::Ring(*centre, *radius, heavier(pen)),
        other => other.clone(),
    }
}

fn is_hairline(shape: &Shape) -> bool {
    matches!(shape, Shape::Line(_, pen) | Shape::Ring(_, _, pen) if pen.weight <= style::HAIRLINE)
}

/// Writes a shape, or where an edge is given that edge alone; `cover` is how much a line covers.
fn write_shape(out: &mut String, shape: &Shape, colour: &dyn Fn(Rgb) -> Rgb, edge: Option<f64>, cover: &str) {
    let hex = |rgb: Rgb| {
        let Rgb(red, green, blue) = colour(rgb);
        format!("#{red:02X}{green:02X}{blue:02X}")
    };
    let wide = 2.0 * edge.unwrap_or(0.0);
    // An edge is round about every corner; what it surrounds has the corners that plotters gives it.
    let joined = if edge.is_some() { " stroke-linejoin=\"round\" stroke-linecap=\"round\"" } else { "" };
    // A filled shape is as large as its edge is wide.
    let outline = |rgb: Rgb| {
        if edge.is_some() {
            format!(" stroke=\"{}\" stroke-width=\"{}\"{joined}", hex(rgb), number(wide))
        } else {
            String::new()
        }
    };
    let _ = match shape {
        Shape::Line(points, pen) => writeln!(
            out,
            "<polyline fill=\"none\" stroke=\"{}\" stroke-width=\"{}\"{joined}{cover} points=\"{}\"/>",
            hex(pen.colour),
            number(pen.weight + wide),
            places(points)
        ),
        Shape::Fill(corners, fill) => {
            writeln!(
                out,
                "<polygon fill=\"{}\"{} points=\"{}\"/>",
                hex(*fill),
                outline(*fill),
                places(corners)
            )
        }
        Shape::Disc((x, y), radius, fill) => writeln!(
            out,
            "<circle cx=\"{}\" cy=\"{}\" r=\"{}\" fill=\"{}\"{}/>",
            number(*x),
            number(*y),
            number(*radius),
            hex(*fill),
            outline(*fill)
        ),
        Shape::Ring((x, y), radius, pen) => writeln!(
            out,
            "<circle cx=\"{}\" cy=\"{}\" r=\"{}\" fill=\"none\" stroke=\"{}\" stroke-width=\"{}\"{cover}/>",
            number(*x),
            number(*y),
            number(*radius),
            hex(pen.colour),
            number(pen.weight + wide)
        ),
        Shape::Words((x, baseline), words, kind) => {
            let anchor = match kind.anchor {
                Anchor::Start => "start",
                Anchor::Middle => "middle",
                Anchor::End => "end",
            };
            let weight = if kind.face == Face::Strong { " font-weight=\"bold\"" } else { "" };
            writeln!(
                out,
                "<text x=\"{}\" y=\"{}\" text-anchor=\"{anchor}\" font-family=\"{QUOTED_FAMILY}\" \
                 font-size=\"{}\"{weight} fill=\"{}\"{}>{}</text>",
                number(*x),
                number(*baseline),
                number(kind.size),
                hex(kind.colour),
                outline(kind.colour),
                escaped(words)
            )
        }
    };
}

fn places(points: &[Point]) -> String {
    let mut text = String::with_capacity(points.len() * 14);
    for (x, y) in points {
        let _ = write!(text, "{},{} ", number(*x), number(*y));
    }
    text.truncate(text.trim_end().len());
    text
}

/// A length to a thousandth of a point.
fn number(value: f64) -> String {
    let text = format!("{value:.3}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

fn escaped(words: &str) -> String {
    words.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}
