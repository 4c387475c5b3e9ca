//! The values that the template of pictures sees.

use serde::Serialize;

use super::super::document::DateShown;
use super::layout::{LONG, SHORT};
use super::words;
use crate::charts::ground::Ground;
use crate::charts::style::{INK, Rgb, SOFT_INK};

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
pub(super) fn chart_path(page: usize) -> String {
    format!("stills/{page}.svg")
}

impl BigNumber {
    /// Where its words end.
    pub(super) fn bottom(&self) -> f64 {
        self.caption_top + words::height(self.caption.len(), self.caption_size)
    }
}

impl Sentence {
    /// Where its letters end.
    pub(super) fn bottom(&self) -> f64 {
        self.top + words::height(self.lines.len(), self.size)
    }
}
