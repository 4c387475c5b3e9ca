//! Where everything stands on the page of a picture.

use super::number::Number;
use super::page::{BigNumber, ChartPlace, Look, PageSize, Sentence, StillView};
use super::words;
use crate::charts::Svg;
use crate::charts::exhibit::Room;
use crate::charts::text::Face;

/// The sides of every page, in points. The house's smallest words, 7.5 pt, are a thirtieth of the shorter one.
pub(super) const SHORT: f64 = 225.0;
pub(super) const LONG: f64 = 400.0;
/// What is kept clear at each edge, as a share of the side: everything lies in the safe title area
/// (SMPTE ST 2046-1, 90 % of the width and the height), with room for the edges that words have on the clear ground.
const SAFE: f64 = 0.05;
const HAIR: f64 = 2.5;
/// Kept clear for captions.
const FIFTH: f64 = 0.2;
/// The column of words beside a chart, and the space between the two.
const COLUMN: f64 = 107.5;
const GAP: f64 = 11.25;
/// The band of words over a chart, at its highest, and the space below it.
const BAND: f64 = 50.0;
const BETWEEN: f64 = 8.75;
/// On an upright page: the greatest heights of the number and of the sentence over the chart.
const NUMBER: f64 = 55.0;
const SENTENCE: f64 = 62.5;
/// From the number to the sentence under it.
const UNDER: f64 = 11.0;
/// Lengths are whole multiples of this, three pixels of a picture 1080 pixels high.
const GRAIN: f64 = 0.625;

/// How words and chart share the page.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Layout {
    /// Words in a column left of the chart.
    Beside,
    /// Words in a band over the chart.
    Above,
    /// Number, sentence and chart one under the other, on an upright page.
    Stacked,
}

/// The part of the page in which everything stands.
#[derive(Clone, Copy, Debug)]
pub(super) struct Frame {
    left: f64,
    top: f64,
    right: f64,
    bottom: f64,
    upright: bool,
}

/// The words of a picture, laid out.
#[derive(Clone, Debug)]
pub(super) struct Words {
    number: BigNumber,
    sentence: Sentence,
}

impl Frame {
    pub(super) fn of(look: Look) -> Self {
        let PageSize { width, height } = PageSize::of(look);
        let below = if look.clear_below { FIFTH } else { SAFE };
        Self {
            left: width * SAFE + HAIR,
            top: height * SAFE + HAIR,
            right: width * (1.0 - SAFE) - HAIR,
            bottom: height * (1.0 - below) - HAIR,
            upright: look.upright,
        }
    }

    /// The layouts of the page, the one that a chart of this width likes first.
    pub(super) fn layouts(&self, wide: bool) -> &'static [Layout] {
        match (self.upright, wide) {
            (true, _) => &[Layout::Stacked],
            (false, true) => &[Layout::Above, Layout::Beside],
            (false, false) => &[Layout::Beside, Layout::Above],
        }
    }

    /// The room for a chart under the highest words that there can be.
    pub(super) fn room(&self, layout: Layout) -> Room {
        self.room_under(
            layout,
            self.top + if layout == Layout::Above { BAND } else { NUMBER + SENTENCE + UNDER },
        )
    }

    /// The room for a chart under words that end there; beside them their height is nothing to it.
    pub(super) fn room_under(&self, layout: Layout, words: f64) -> Room {
        let (left, top) = self.chart_at(layout, words);
        let width = self.right - left;
        Room { text: width, full: width, height: Some(self.bottom - top) }
    }

    fn chart_at(&self, layout: Layout, words: f64) -> (f64, f64) {
        match layout {
            Layout::Beside => (self.left + COLUMN + GAP, self.top),
            Layout::Above | Layout::Stacked => {
                (self.left, self.top + ((words - self.top + BETWEEN) / GRAIN).ceil() * GRAIN)
            }
        }
    }

    /// Lays out number and sentence.
    pub(super) fn words(&self, layout: Layout, number: &Number, sentence: &str) -> Words {
        let (width, height) = match layout {
            Layout::Beside => (COLUMN, 0.55 * (self.bottom - self.top)),
            Layout::Above => (COLUMN, BAND),
            Layout::Stacked => (self.right - self.left, NUMBER),
        };
        let number = number.fitted((self.left, self.top, width, height), layout == Layout::Beside);
        let under = number.bottom() + UNDER;
        let (left, top, right, room, sizes): (f64, f64, f64, f64, &[f64]) = match layout {
            Layout::Beside => (self.left, under, self.left + COLUMN, self.bottom - under, &words::LARGE),
            Layout::Above => (self.left + COLUMN + GAP, self.top, self.right, BAND, &words::MIDDLE),
            Layout::Stacked => (self.left, under, self.right, SENTENCE, &words::LARGE),
        };
        let fitted = words::fitted(sentence, Face::Strong, (right - left, room), sizes);
        let sentence = Sentence { left, top, width: right - left, lines: fitted.lines, size: fitted.size };
        Words { number, sentence }
    }

    /// Puts words and chart on the page.
    pub(super) fn view(
        &self,
        layout: Layout,
        name: &str,
        words: Words,
        svg: Option<(&Svg, &str)>,
    ) -> StillView {
        let Words { mut number, mut sentence } = words;
        let chart = svg.map(|(svg, alt)| {
            let (left, top) = self.chart_at(layout, number.bottom().max(sentence.bottom()));
            let spare = (self.bottom - top - svg.height_pt).max(0.0);
            let down = (spare / 2.0 / GRAIN).floor() * GRAIN;
            // A chart lower than its room stands in the middle beside words; over words both move.
            if layout != Layout::Beside {
                let down = 0.8 * down;
                number.top += down;
                number.caption_top += down;
                sentence.top += down;
            }
            let (width, height) = (svg.width_pt, svg.height_pt);
            ChartPlace { path: String::new(), alt: alt.to_owned(), left, top: top + down, width, height }
        });
        StillView { name: name.to_owned(), number: Some(number), sentence: Some(sentence), chart }
    }
}

impl Words {
    /// Where they end.
    pub(super) fn bottom(&self) -> f64 {
        self.number.bottom().max(self.sentence.bottom())
    }
}
