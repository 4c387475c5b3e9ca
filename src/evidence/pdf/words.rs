//! What the pages of a PDF say, in the order in which it is drawn.

use hayro_interpret::font::Glyph;
use hayro_interpret::hayro_cmap::BfString;
use hayro_interpret::{
    BlendMode, ClipPath, Context, Device, GlyphDrawMode, Image, InterpreterCache, InterpreterSettings, Paint,
    PathDrawMode, SoftMask, interpret_page,
};
use hayro_syntax::Pdf;
use kurbo::{Affine, BezPath, Rect};

use super::Page;

/// More pages than this are looked at no further.
const MOST_PAGES: usize = 2_000;
/// More letters than this on a page are drawn to keep a reader busy.
const MOST_LETTERS: usize = 200_000;
/// A gap wider than this part of the letter's size parts two words.
const GAP: f64 = 0.15;

/// Every page: what draws it, and its words.
pub(super) fn pages(pdf: &Pdf) -> Vec<Page> {
    let cache = InterpreterCache::new();
    pdf.pages()
        .iter()
        .take(MOST_PAGES)
        .map(|page| {
            let drawn = page.page_stream().map(super::super::sha256).unwrap_or_default();
            let mut reader = Reader::default();
            let (width, height) = page.render_dimensions();
            let area = Rect::new(0.0, 0.0, f64::from(width), f64::from(height));
            let mut context =
                Context::new(Affine::IDENTITY, area, &cache, pdf.xref(), InterpreterSettings::default());
            interpret_page(page, &mut context, &mut reader);
            Page { drawn, words: reader.finish() }
        })
        .collect()
}

/// Gathers letters into words.
#[derive(Default)]
struct Reader {
    words: Vec<String>,
    word: String,
    /// Where the last letter ended, on which line, how large.
    last: Option<(f64, f64, f64)>,
    letters: usize,
}

impl Reader {
    fn end_word(&mut self) {
        if !self.word.is_empty() {
            self.words.push(std::mem::take(&mut self.word));
        }
    }

    fn finish(mut self) -> Vec<String> {
        self.end_word();
        self.words
    }
}

impl<'a> Device<'a> for Reader {
    fn draw_glyph(
        &mut self,
        glyph: &Glyph<'a>,
        transform: Affine,
        of_glyph: Affine,
        _: &Paint<'a>,
        _: &GlyphDrawMode,
    ) {
        self.letters += 1;
        if self.letters > MOST_LETTERS {
            return;
        }
        let placed = (transform * of_glyph).as_coeffs();
        let [across, _, _, _, x, y] = placed;
        let size = across.abs() * 1000.0;
        let advance = match glyph {
            Glyph::Outline(glyph) => f64::from(glyph.advance_width().unwrap_or(0.0)) / 1000.0 * size,
            Glyph::Type3(_) => 0.0,
        };
        let said = match glyph.as_unicode() {
            Some(BfString::Char(letter)) => letter.to_string(),
            Some(BfString::String(letters)) => letters,
            None => char::REPLACEMENT_CHARACTER.to_string(),
        };
        let goes_on = self.last.is_some_and(|(end, line, last_size)| {
            (line - y).abs() < 0.1 * last_size && (x - end).abs() < GAP * last_size
        });
        if !goes_on || said.chars().all(char::is_whitespace) {
            self.end_word();
        }
        self.word.extend(said.chars().filter(|letter| !letter.is_whitespace()));
        self.last = Some((x + advance, y, size));
    }

    fn set_soft_mask(&mut self, _: Option<SoftMask<'a>>) {}
    fn set_blend_mode(&mut self, _: BlendMode) {}
    fn draw_path(&mut self, _: &BezPath, _: Affine, _: &Paint<'a>, _: &PathDrawMode) {}
    fn push_clip_path(&mut self, _: &ClipPath) {}
    fn push_transparency_group(&mut self, _: f32, _: Option<SoftMask<'a>>, _: BlendMode) {}
    fn draw_image(&mut self, _: Image<'a, '_>, _: Affine) {}
    fn pop_clip_path(&mut self) {}
    fn pop_transparency_group(&mut self) {}
}
