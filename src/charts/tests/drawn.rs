//! Reads a drawn SVG back, apart from the code that drew it.

use super::super::canvas::{Anchor, Type};
use super::super::style::{FAMILY, INK};
use super::super::text::Face;

/// A text of an SVG: its box in points and its words.
pub(super) struct Word {
    pub(super) left: f64,
    pub(super) top: f64,
    pub(super) right: f64,
    pub(super) bottom: f64,
    pub(super) words: String,
}

/// Any other shape: its tag, its colour and its points.
pub(super) type Shape = (String, String, Vec<(f64, f64)>);

/// A drawn SVG read back: coordinates in points.
pub(super) struct Drawn {
    pub(super) width: f64,
    pub(super) height: f64,
    pub(super) words: Vec<Word>,
    pub(super) shapes: Vec<Shape>,
}

pub(super) const UNITS: f64 = 20.0;

pub(super) fn read(svg: &str) -> Drawn {
    let document = roxmltree::Document::parse(svg).expect("the SVG is well-formed XML");
    let root = document.root_element();
    let number = |node: roxmltree::Node<'_, '_>, name: &str| -> f64 {
        node.attribute(name).and_then(|value| value.parse().ok()).expect("an attribute is a number")
    };
    let size: Vec<f64> = root
        .attribute("viewBox")
        .expect("a view box")
        .split(' ')
        .map(|n| n.parse().expect("a number"))
        .collect();
    let mut drawn =
        Drawn { width: size[2] / UNITS, height: size[3] / UNITS, words: Vec::new(), shapes: Vec::new() };
    for node in root.children().filter(roxmltree::Node::is_element) {
        let tag = node.tag_name().name();
        let points: Vec<(f64, f64)> = match tag {
            "text" => {
                drawn.words.push(read_word(node));
                continue;
            }
            "circle" => {
                let (x, y, r) = (number(node, "cx"), number(node, "cy"), number(node, "r"));
                vec![(x - r, y - r), (x, y), (x + r, y + r)]
            }
            _ => {
                let pairs = node.attribute("points").expect("points").split_whitespace();
                pairs
                    .map(|pair| {
                        let (x, y) = pair.split_once(',').expect("a pair");
                        (x.parse().expect("a number"), y.parse().expect("a number"))
                    })
                    .collect()
            }
        };
        let colour =
            ["fill", "stroke"].iter().find_map(|name| node.attribute(*name).filter(|value| *value != "none"));
        let points = points.into_iter().map(|(x, y)| (x / UNITS, y / UNITS)).collect();
        drawn.shapes.push((tag.to_owned(), colour.unwrap_or("none").to_owned(), points));
    }
    drawn
}

fn read_word(node: roxmltree::Node<'_, '_>) -> Word {
    let attribute = |name: &str| node.attribute(name).expect("a text has its attributes");
    // Quoted, or it is no family name in CSS.
    assert_eq!(attribute("font-family"), format!("'{FAMILY}'"));
    let size = attribute("font-size").parse::<f64>().expect("a size") / UNITS;
    let x = attribute("x").parse::<f64>().expect("x") / UNITS;
    let baseline = attribute("y").parse::<f64>().expect("y") / UNITS + 0.76 * size;
    assert_eq!(attribute("dy"), "0.76em");
    let face = if node.attribute("font-weight").is_some() { Face::Strong } else { Face::Regular };
    let anchor = match attribute("text-anchor") {
        "start" => Anchor::Start,
        "middle" => Anchor::Middle,
        _ => Anchor::End,
    };
    let words = node.text().unwrap_or_default().trim().to_owned();
    let extent = Type { size, face, colour: INK, anchor }.extent(x, baseline, &words);
    // Without accents: the ascender and the descender of the font.
    Word {
        left: extent.left,
        top: baseline - 0.73 * size,
        right: extent.right,
        bottom: baseline + 0.21 * size,
        words,
    }
}

/// The marks (filled vermillion pointers aside) of the first visit: open circles.
pub(super) fn open_circles(drawn: &Drawn) -> Vec<(f64, f64)> {
    let circles = drawn.shapes.iter().filter(|(tag, colour, _)| tag == "circle" && colour == "#D55E00");
    circles.map(|(_, _, points)| points[1]).collect()
}

/// The grid's heights from top to bottom, and its left and right end.
pub(super) fn grid_lines(drawn: &Drawn) -> (Vec<f64>, f64, f64) {
    let grid = drawn.shapes.iter().filter(|(tag, colour, points)| {
        tag == "polyline" && colour == "#C8C8C8" && (points[0].1 - points[1].1).abs() < 1e-9
    });
    let points: Vec<(f64, f64, f64)> = grid.map(|(_, _, p)| (p[0].1, p[0].0, p[1].0)).collect();
    let mut heights: Vec<f64> = points.iter().map(|p| p.0).collect();
    heights.sort_by(f64::total_cmp);
    let (_, left, right) = points[0];
    (heights, left, right)
}
