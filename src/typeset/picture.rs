//! Pages as pictures: the same pages, in pixels or as SVG.

mod png;

use std::fmt::Write as _;

use jiff::civil::Date;
use resvg::{tiny_skia, usvg};
use typst::foundations::Smart;
use typst::layout::{Frame, FrameItem, Point, Size};
use typst::visualize::{Image, ImageKind};
use typst_layout::{Page, PagedDocument};
use typst_svg::{SvgOptions, WebImage};

pub use png::{Animation, PictureError, Said};

use super::{Bundle, Trouble, TypesetError, compiled};

/// Typeset pages.
pub struct Pages {
    document: PagedDocument,
    /// What Typst warned of.
    pub warnings: Vec<Trouble>,
}

impl std::fmt::Debug for Pages {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Pages").field("warnings", &self.warnings).finish_non_exhaustive()
    }
}

/// Compiles a bundle; a day stands for Typst's clock.
pub fn pages(bundle: &Bundle, day: Date) -> Result<Pages, TypesetError> {
    let (document, warnings) = compiled(bundle, day, Ok)?;
    Ok(Pages { document, warnings })
}

/// Where a drawing lies on its page, in points.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lies {
    /// The distance from the left edge.
    pub left: f64,
    /// The distance from the upper edge.
    pub top: f64,
    /// How wide it is.
    pub width: f64,
    /// How high it is.
    pub height: f64,
}

impl Pages {
    /// How many pages there are.
    pub fn len(&self) -> usize {
        self.document.pages().len()
    }

    /// Whether there is no page.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// A page that is so many pixels wide; none of that number gives none.
    pub fn picture(&self, page: usize, pixels: u32) -> Option<Picture> {
        let page = self.document.pages().get(page)?;
        let size = page.frame.size();
        let scale = f64::from(pixels) / size.x.to_pt();
        // A drawing is a picture in the page's SVG, which would be read anew; it is here already, and drawn at once.
        let mut plain = page.clone();
        plain.frame = without_drawings(&page.frame);
        // Every family is part of the program, and words are outlines here.
        let svg = typst_svg::svg(&plain, &SvgOptions { render_bleed: false, pretty: false });
        let words = usvg::Tree::from_str(&svg, &usvg::Options::default()).ok()?;
        let down = pixels_of(size.y.to_pt() * scale);
        let mut pixmap = tiny_skia::Pixmap::new(pixels.max(1), down)?;
        if page.fill == Smart::Auto {
            pixmap.fill(tiny_skia::Color::WHITE);
        }
        let whole = Lies { left: 0.0, top: 0.0, width: size.x.to_pt(), height: size.y.to_pt() };
        draw(&mut pixmap, &words, whole, scale);
        for (lies, image) in drawings(page) {
            let ImageKind::Svg(drawing) = image.kind() else { continue };
            draw(&mut pixmap, drawing.tree(), lies, scale);
        }
        // Typst keeps every letter that it has drawn; those of many pages ago are of no more use.
        typst::comemo::evict(KEPT);
        Some(Picture { width: pixmap.width(), height: pixmap.height(), pixels: pixmap.take() })
    }

    /// A page as SVG. Words are outlines, so that it looks the same where the fonts are not installed.
    pub fn svg(&self, page: usize) -> Option<String> {
        let page = self.document.pages().get(page)?;
        let svg = typst_svg::svg(page, &SvgOptions { render_bleed: false, pretty: false });
        let unfolded = drawings(page).iter().fold(svg, |svg, (_, image)| unfolded(svg, image));
        typst::comemo::evict(KEPT);
        Some(unfolded)
    }

    /// Where the first drawing lies on a page.
    pub fn drawing(&self, page: usize) -> Option<Lies> {
        drawings(self.document.pages().get(page)?).first().map(|(lies, _)| *lies)
    }
}

/// The drawings (SVG) of a page, with their places.
fn drawings(page: &Page) -> Vec<(Lies, Image)> {
    fn walk(frame: &Frame, at: Point, found: &mut Vec<(Lies, Image)>) {
        for (place, item) in frame.items() {
            let place = at + *place;
            match item {
                FrameItem::Group(group) => {
                    let moved = Point::new(group.transform.tx, group.transform.ty);
                    walk(&group.frame, place + moved, found);
                }
                FrameItem::Image(image, size, _) if matches!(image.kind(), ImageKind::Svg(_)) => {
                    found.push((lies(place, *size), image.clone()));
                }
                _ => {}
            }
        }
    }
    let mut found = Vec::new();
    walk(&page.frame, Point::zero(), &mut found);
    found
}

/// For how many pages what Typst has drawn is kept.
const KEPT: usize = 8;

/// A page's content but for its drawings.
fn without_drawings(frame: &Frame) -> Frame {
    let mut plain = Frame::new(frame.size(), frame.kind());
    for (place, item) in frame.items() {
        match item {
            FrameItem::Group(group) => {
                let mut group = group.clone();
                group.frame = without_drawings(&group.frame);
                plain.push(*place, FrameItem::Group(group));
            }
            FrameItem::Image(image, ..) if matches!(image.kind(), ImageKind::Svg(_)) => {}
            other => plain.push(*place, other.clone()),
        }
    }
    plain
}

/// A length in whole pixels; nothing is less than one.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "pixels are few thousands")]
fn pixels_of(length: f64) -> u32 {
    length.round().max(1.0) as u32
}

/// Draws a drawing where it lies.
#[expect(clippy::cast_possible_truncation, reason = "pixels are few thousands")]
fn draw(pixmap: &mut tiny_skia::Pixmap, tree: &usvg::Tree, lies: Lies, scale: f64) {
    let size = tree.size();
    let across = lies.width * scale / f64::from(size.width());
    let down = lies.height * scale / f64::from(size.height());
    let (left, top) = (lies.left * scale, lies.top * scale);
    let placed =
        tiny_skia::Transform::from_row(across as f32, 0.0, 0.0, down as f32, left as f32, top as f32);
    resvg::render(tree, placed, &mut pixmap.as_mut());
}

fn lies(at: Point, size: Size) -> Lies {
    Lies { left: at.x.to_pt(), top: at.y.to_pt(), width: size.x.to_pt(), height: size.y.to_pt() }
}

/// An SVG page in which a drawing stands as shapes, and not as a picture in a picture: a drawing that is
/// carried as data has no fonts in a browser, and few programs let anybody at its parts.
fn unfolded(svg: String, image: &Image) -> String {
    let ImageKind::Svg(drawing) = image.kind() else { return svg };
    let url = WebImage::new(image).to_base64_url();
    let Some(at) = svg.find(url.as_str()) else { return svg };
    let bounds = svg[..at].rfind("<image").zip(svg[at..].find("/>").map(|end| at + end + 2));
    let Some((start, end)) = bounds else { return svg };
    let element = &svg[start..end];
    let attribute = |name: &str| {
        let from = element.find(&format!(" {name}=\""))? + name.len() + 3;
        Some(&element[from..from + element[from..].find('"')?])
    };
    let tree = drawing.tree();
    let options = usvg::WriteOptions {
        preserve_text: false,
        indent: usvg::Indent::None,
        ..usvg::WriteOptions::default()
    };
    let text = tree.to_string(&options);
    let inner = text.find('>').zip(text.rfind("</svg>")).and_then(|(open, close)| text.get(open + 1..close));
    let (Some(inner), Some(width), Some(height)) = (inner, attribute("width"), attribute("height")) else {
        return svg;
    };
    let mut made = String::with_capacity(svg.len() + text.len());
    made.push_str(&svg[..start]);
    let moved = attribute("transform").map_or_else(String::new, |moved| format!(" transform=\"{moved}\""));
    let _ = write!(
        made,
        "<g{moved}><svg width=\"{width}\" height=\"{height}\" viewBox=\"0 0 {} {}\" preserveAspectRatio=\"none\">",
        tree.size().width(),
        tree.size().height()
    );
    made.push_str(inner);
    made.push_str("</svg></g>");
    made.push_str(&svg[end..]);
    made
}

/// A picture in memory: four bytes a pixel (red, green, blue, and how much it covers), the colours already
/// multiplied by how much they cover.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Picture {
    /// Pixels from left to right.
    pub width: u32,
    /// Pixels from top to bottom.
    pub height: u32,
    pixels: Vec<u8>,
}

impl Picture {
    /// The bytes of the pixels, row by row.
    pub fn pixels(&self) -> &[u8] {
        &self.pixels
    }

    /// Whether nothing shines through anywhere.
    pub fn is_opaque(&self) -> bool {
        self.pixels.chunks_exact(4).all(|pixel| pixel[3] == u8::MAX)
    }

    /// A picture between this one and another of its size: where the mask, which is asked for every row, is 0
    /// it is this one, byte for byte, and where it is 255 the other.
    #[must_use]
    pub fn towards(&self, other: &Self, mut mask: impl FnMut(usize, &mut [u8])) -> Self {
        let width = usize::try_from(self.width).unwrap_or(0);
        let mut shares = vec![0; width];
        let mut pixels = self.pixels.clone();
        let rows =
            pixels.chunks_exact_mut((4 * width).max(1)).zip(other.pixels.chunks_exact((4 * width).max(1)));
        for (row, (from, to)) in rows.enumerate() {
            // Most of a picture does not change.
            if from == to {
                continue;
            }
            mask(row, &mut shares);
            for ((from, to), share) in from.chunks_exact_mut(4).zip(to.chunks_exact(4)).zip(&shares) {
                for (from, to) in from.iter_mut().zip(to) {
                    *from = between(*from, *to, *share);
                }
            }
        }
        Self { pixels, ..*self }
    }
}

/// The whole number nearest to a share of the way; a share of 255 is the whole way.
fn between(from: u8, to: u8, share: u8) -> u8 {
    let (from, to, share) = (u32::from(from), u32::from(to), u32::from(share));
    u8::try_from((from * (255 - share) + to * share + 127) / 255).unwrap_or(u8::MAX)
}
