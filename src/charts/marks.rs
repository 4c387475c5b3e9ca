//! Marks by state, the cross of a struck reading, and the line of keys that names them.

use super::canvas::{Canvas, Pen, Type};
use super::clip::Point;
use super::sheet::Layer;
use super::style::{DATA, FINE, INK, MARK, Rgb, SMALL, SOFT_INK, State, WHITE};
use super::text::{self, Face};

/// The weight of a cross and of a reference's bar, in points.
const STROKE: f64 = 1.0;
/// A third of the height of the mark of a highest or lowest place, in points.
const PEAK: f64 = 1.8;
/// The radius of a single reading's dot, in points.
pub(super) const DOT: f64 = 1.0;

/// Draws the mark of a state. `size` is the radius in points.
pub(super) fn mark(canvas: &mut Canvas, centre: Point, state: State, size: f64) {
    let colour = state.colour();
    match state {
        State::AsFound => {
            canvas.disc(centre, size, WHITE);
            canvas.ring(centre, size, Pen::solid(colour, (size * 0.45).clamp(0.5, STROKE)));
        }
        State::AsLeft => canvas.disc(centre, size + 0.2, colour),
        State::Reference => {
            let half = size * 1.4;
            let bar = [(centre.0, centre.1 - half), (centre.0, centre.1 + half)];
            canvas.line(&bar, Pen::solid(colour, (size * 0.6).clamp(0.7, 1.5)));
        }
    }
}

/// Draws the cross of a struck reading.
pub(super) fn cross(canvas: &mut Canvas, (x, y): Point, colour: Rgb) {
    let half = MARK * 0.95;
    let pen = Pen::solid(colour, STROKE);
    canvas.line(&[(x - half, y - half), (x + half, y + half)], pen);
    canvas.line(&[(x - half, y + half), (x + half, y - half)], pen);
}

/// What a key shows before its words.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Sign {
    /// Readings joined by a thin line.
    Joined(State),
    /// A fitted curve.
    Curve(State),
    /// The mark of a state.
    Mark(State),
    /// Single readings as small dots.
    Dots(State),
    /// The pale ground of a state.
    Tint(State),
    /// A struck reading.
    Cross,
    /// A whisker.
    Whisker,
    /// The hatching.
    Hatch,
    /// The high spot's pointer.
    Pointer,
    /// The highest place of a surface.
    Highest,
    /// The lowest place of a surface.
    Lowest,
    /// Only words.
    None,
    /// Only words, and those of the limit.
    Limit,
}

impl Sign {
    fn width(self) -> f64 {
        match self {
            Self::Cross | Self::Pointer | Self::Mark(_) | Self::Highest | Self::Lowest => 7.0,
            Self::Joined(_) | Self::Curve(_) | Self::Hatch | Self::Tint(_) => 15.0,
            Self::Whisker | Self::Dots(_) => 12.0,
            Self::None | Self::Limit => 0.0,
        }
    }

    /// The room before the words.
    fn indent(self) -> f64 {
        if matches!(self, Self::None | Self::Limit) { 0.0 } else { self.width() + 3.0 }
    }

    /// What the words that go with it belong to.
    fn layer(self) -> Layer {
        if matches!(self, Self::Hatch | Self::Limit) { Layer::Limit } else { Layer::Frame }
    }

    /// What stands before words that are broken to another line.
    fn silent(self) -> Self {
        if self.layer() == Layer::Limit { Self::Limit } else { Self::None }
    }

    fn draw(self, canvas: &mut Canvas, left: f64, y: f64) {
        let right = left + self.width();
        let middle = f64::midpoint(left, right);
        match self {
            Self::Joined(state) => {
                canvas.line(&[(left, y), (right, y)], joining(state));
                mark(canvas, (middle, y), state, MARK * 0.8);
            }
            Self::Curve(state) => canvas.line(&[(left, y), (right, y)], curve(state)),
            Self::Mark(state) => mark(canvas, (middle, y), state, MARK),
            Self::Dots(state) => {
                for x in [left + 2.0, middle, right - 2.0] {
                    canvas.disc((x, y), DOT, dot_colour(state));
                }
            }
            Self::Tint(state) => {
                let (top, bottom) = (y - 3.5, y + 3.5);
                canvas.ground(&super::clip::Rect { left, top, right, bottom }, ground_colour(state));
            }
            Self::Cross => cross(canvas, (middle, y), SOFT_INK),
            Self::Whisker => canvas.line(&[(left, y), (right, y)], Pen::solid(INK, FINE)),
            Self::Hatch => {
                let (top, bottom) = (y - 3.5, y + 3.5);
                canvas.hatch(&super::clip::Rect { left, top, right, bottom });
            }
            Self::Pointer => pointer(canvas, (middle, y + 2.5), (0.0, -1.0), INK),
            Self::Highest => peak(canvas, (middle, y + 1.0), true),
            Self::Lowest => peak(canvas, (middle, y - 1.0), false),
            Self::None | Self::Limit => {}
        }
    }
}

/// A triangle about the highest place of a surface, point up, or the lowest, point down, with a white edge
/// so that it is seen on any ground. Its centre of area is the place.
pub(super) fn peak(canvas: &mut Canvas, (x, y): Point, up: bool) {
    let down = if up { 1.0 } else { -1.0 };
    for (size, colour) in [(PEAK + 0.9, WHITE), (PEAK, INK)] {
        let half = 3f64.sqrt() * size;
        let foot = y + down * size;
        canvas.fill(&[(x, y - 2.0 * down * size), (x + half, foot), (x - half, foot)], colour);
    }
}

/// The colour of a single reading's dot.
pub(super) fn dot_colour(state: State) -> Rgb {
    state.colour().tint(150)
}

/// The pale ground of a state, under everything.
pub(super) fn ground_colour(state: State) -> Rgb {
    state.colour().tint(30)
}

/// The thin line that joins the readings of a turn.
pub(super) fn joining(state: State) -> Pen {
    Pen::solid(state.colour().tint(150), 0.5)
}

/// The line of a fitted curve.
pub(super) fn curve(state: State) -> Pen {
    Pen { colour: state.colour(), weight: DATA, dashed: state.is_dashed() }
}

/// A small filled triangle whose tip lies 5 pt from its foot in a direction (a unit vector).
pub(super) fn pointer(canvas: &mut Canvas, foot: Point, (dx, dy): Point, colour: Rgb) {
    let tip = (foot.0 + 5.0 * dx, foot.1 + 5.0 * dy);
    let left = (foot.0 - 2.2 * dy, foot.1 + 2.2 * dx);
    let right = (foot.0 + 2.2 * dy, foot.1 - 2.2 * dx);
    canvas.fill(&[tip, left, right], colour);
}

/// Keys in lines no wider than the chart.
#[derive(Debug)]
pub(super) struct Keys {
    rows: Vec<Vec<(f64, Sign, String)>>,
}

/// From one row of keys to the next, in points.
const ROW: f64 = 11.0;

impl Keys {
    /// Places the keys, from the left, in as many rows as they need.
    pub(super) fn new(keys: Vec<(Sign, String)>, room: f64) -> Self {
        let mut rows: Vec<Vec<(f64, Sign, String)>> = vec![Vec::new()];
        let mut x = 0.0;
        for (sign, words) in keys {
            let indent = sign.indent();
            for (index, line) in
                text::wrap(&words, SMALL, Face::Regular, room - indent).into_iter().enumerate()
            {
                let width = indent + text::width(&line, SMALL, Face::Regular);
                if (x + width > room && x > 0.0) || index > 0 {
                    rows.push(Vec::new());
                    x = 0.0;
                }
                let sign = if index == 0 { sign } else { sign.silent() };
                let at = if index == 0 { x } else { indent };
                if let Some(row) = rows.last_mut() {
                    row.push((at, sign, line));
                }
                x += width + 12.0;
            }
        }
        rows.retain(|row| !row.is_empty());
        Self { rows }
    }

    /// The height that the rows take.
    pub(super) fn height(&self) -> f64 {
        self.rows.len() as f64 * ROW
    }

    /// Draws the rows below `top`, starting at `left`.
    pub(super) fn draw(&self, canvas: &mut Canvas, left: f64, top: f64) {
        let kind = Type::new(SMALL, SOFT_INK);
        for (index, row) in self.rows.iter().enumerate() {
            let y = top + ROW * (index as f64 + 0.5);
            for (x, sign, words) in row {
                let before = canvas.on(sign.layer());
                sign.draw(canvas, left + x, y);
                canvas.words(left + x + sign.indent(), kind.centred_on(y), words, kind);
                canvas.on(before);
            }
        }
    }
}
