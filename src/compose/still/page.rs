//! The values that the template of pictures sees, and where everything stands on the page.

use serde::Serialize;

use super::super::document::DateShown;
use super::choose::Chosen;
use super::words::{self, Fitted};
use super::{Still, is_beside};
use crate::charts::exhibit::Room;
use crate::charts::ground::Ground;
use crate::charts::style::{INK, Rgb, SOFT_INK};
use crate::charts::text::Face;

/// How pictures are to look.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Look {
    /// What they stand on.
    pub ground: Ground,
    /// 9 wide to 16 high, for a telephone held upright; else 16 to 9.
    pub upright: bool,
    /// Whether the lower fifth is kept clear, for captions.
    pub clear_below: bool,
}

/// Pages of pictures.
#[derive(Clone, Debug, Serialize)]
pub struct StillPages {
    /// The session's title.
    pub title: String,
    /// The day of the last visit or event.
    pub date: DateShown,
    /// The size of every page.
    pub page: PageSize,
    /// The colours on its ground.
    pub colours: Colours,
    /// The pictures, a page each.
    pub stills: Vec<StillView>,
}

/// The size of a page, in points.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct PageSize {
    /// From left to right.
    pub width: f64,
    /// From top to bottom.
    pub height: f64,
}

/// Colours as `#RRGGBB`.
#[derive(Clone, Debug, Serialize)]
pub struct Colours {
    /// The ground; none where the picture is laid over another.
    pub ground: Option<String>,
    /// The number and the sentence.
    pub ink: String,
    /// What stands beside the number.
    pub soft: String,
    /// The edge round words where there is no ground; else none.
    pub edge: Option<String>,
    /// What shows through an open mark.
    pub behind: String,
}

/// One picture. Lengths are points from the page's upper left corner.
#[derive(Clone, Debug, Serialize)]
pub struct StillView {
    /// What it is called by.
    pub name: String,
    /// The number; none while a picture that builds itself up has not come so far.
    pub number: Option<BigNumber>,
    /// The sentence; none likewise.
    pub sentence: Option<Sentence>,
    /// The chart; none where none has room.
    pub chart: Option<ChartPlace>,
}

/// The one big number, with what it is.
#[derive(Clone, Debug, Serialize)]
pub struct BigNumber {
    /// Its left edge.
    pub left: f64,
    /// Its upper edge: that of the figures.
    pub top: f64,
    /// The room across.
    pub width: f64,
    /// The value, rounded.
    pub value: String,
    /// The size of its figures.
    pub size: f64,
    /// `± 0.4 thou`, or the unit.
    pub tail: String,
    /// The size of the tail.
    pub tail_size: f64,
    /// Whether the tail stands under the value and not beside it.
    pub tail_below: bool,
    /// Where the words begin that say what it is.
    pub caption_top: f64,
    /// What it is, in lines: `Run-out (TIR), tip`, `as left: within`.
    pub caption: Vec<String>,
    /// Their size.
    pub caption_size: f64,
    /// `as-found`, `as-left`, `reference` or `baseline`, whose mark stands before the words; none for a change.
    pub state: Option<String>,
    /// The mark's colour.
    pub colour: String,
}

/// The sentence, in lines.
#[derive(Clone, Debug, Serialize)]
pub struct Sentence {
    /// Its left edge.
    pub left: f64,
    /// Its upper edge: that of the capitals.
    pub top: f64,
    /// The room across.
    pub width: f64,
    /// Its lines.
    pub lines: Vec<String>,
    /// Its size.
    pub size: f64,
}

/// Where the chart stands.
#[derive(Clone, Debug, Serialize)]
pub struct ChartPlace {
    /// Its path among the document's files.
    pub path: String,
    /// What it shows, in words.
    pub alt: String,
    /// Its left edge.
    pub left: f64,
    /// Its upper edge.
    pub top: f64,
    /// From left to right.
    pub width: f64,
    /// From top to bottom.
    pub height: f64,
}

/// The shorter side of every page. The house's smallest words, 7.5 pt, are a thirtieth of it.
const SHORT: f64 = 225.0;
const LONG: f64 = 400.0;
/// What is kept clear at each edge, as a share of the side: everything lies in the safe title area
/// (SMPTE ST 2046-1, 90 % of the width and the height), by a hair's breadth.
const SAFE: f64 = 0.05;
const HAIR: f64 = 1.25;
/// Kept clear for captions.
const FIFTH: f64 = 0.2;
/// The column of words beside a chart, the band of words over one, and the space between words and chart.
const COLUMN: f64 = 113.75;
const BAND: f64 = 50.0;
const GAP: f64 = 13.75;
const BETWEEN: f64 = 7.5;
/// On an upright page: the heights of the number and the sentence over the chart.
const NUMBER: f64 = 52.5;
const SENTENCE: f64 = 60.0;

impl PageSize {
    /// The page of a look.
    pub(super) fn of(look: Look) -> Self {
        if look.upright { Self { width: SHORT, height: LONG } } else { Self { width: LONG, height: SHORT } }
    }
}

impl Colours {
    /// The colours on a ground.
    pub(super) fn of(ground: Ground) -> Self {
        let on = |colour: Rgb| hex(ground.colour(colour));
        let behind = hex(ground.behind());
        let is_clear = ground == Ground::Clear;
        Self {
            ground: (!is_clear).then(|| behind.clone()),
            ink: on(INK),
            soft: on(SOFT_INK),
            edge: is_clear.then(|| behind.clone()),
            behind,
        }
    }
}

/// `#RRGGBB`.
pub(super) fn hex(Rgb(red, green, blue): Rgb) -> String {
    format!("#{red:02X}{green:02X}{blue:02X}")
}

/// The path of a page's chart.
pub(super) fn keyed(page: usize) -> String {
    format!("stills/{page}.svg")
}

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

    /// The room for a chart.
    pub(super) fn room(&self, layout: Layout) -> Room {
        let (left, top) = self.chart_at(layout);
        let width = self.right - left;
        Room { text: width, full: width, height: Some(self.bottom - top) }
    }

    fn chart_at(&self, layout: Layout) -> (f64, f64) {
        match layout {
            Layout::Beside => (self.left + COLUMN + GAP, self.top),
            Layout::Above => (self.left, self.top + BAND + BETWEEN),
            Layout::Stacked => (self.left, self.top + NUMBER + SENTENCE + 2.0 * BETWEEN),
        }
    }

    /// The room of the number: left, top, width, height.
    fn number_at(&self, layout: Layout) -> (f64, f64, f64, f64) {
        match layout {
            Layout::Beside => (self.left, self.top, COLUMN, 0.5 * (self.bottom - self.top)),
            Layout::Above => (self.left, self.top, COLUMN, BAND),
            Layout::Stacked => (self.left, self.top, self.right - self.left, NUMBER),
        }
    }
}

/// Lays out the words beside or over a chart.
pub(super) fn view(
    still: &Still,
    chosen: &Chosen,
    number: number::Number,
    frame: Frame,
    layout: Layout,
) -> StillView {
    let (left, top, width, height) = frame.number_at(layout);
    let big = number.fitted((left, top, width, height), is_beside(layout));
    let under = big.bottom();
    let (left, top, width, height, sizes): (f64, f64, f64, f64, &[f64]) = match layout {
        Layout::Beside => (left, under + 11.0, width, frame.bottom - under - 11.0, &words::LARGE),
        Layout::Above => {
            let left = frame.left + COLUMN + GAP;
            (left, frame.top, frame.right - left, BAND, &words::MIDDLE)
        }
        Layout::Stacked => (left, under + BETWEEN + 2.0, width, SENTENCE, &words::LARGE),
    };
    let Fitted { lines, size } = words::fitted(&chosen.sentence, Face::Strong, (width, height), sizes);
    let sentence = Sentence { left, top, width, lines, size };
    let room = frame.room(layout);
    let (left, top) = frame.chart_at(layout);
    let chart = chosen.svg.as_ref().map(|svg| {
        // A chart lower than its room stands in its middle beside words, and under words right below them.
        let spare = (room.height.unwrap_or(0.0) - svg.height_pt).max(0.0);
        let down = if is_beside(layout) { spare / 2.0 } else { 0.0 };
        let whole = |points: f64| (points / 0.625).floor() * 0.625;
        let (width, height) = (svg.width_pt, svg.height_pt);
        ChartPlace {
            path: String::new(),
            alt: still.title.clone(),
            left,
            top: whole(top + down),
            width,
            height,
        }
    });
    StillView { name: still.name.clone(), number: Some(big), sentence: Some(sentence), chart }
}

use super::number;

impl BigNumber {
    /// Where its words end.
    pub(super) fn bottom(&self) -> f64 {
        self.caption_top + words::height(self.caption.len(), self.caption_size)
    }
}
