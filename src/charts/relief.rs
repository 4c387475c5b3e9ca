//! The plan of a surface: its heights as filled bands between round levels, before and after side by side
//! on one scale of heights.
//!
//! Between the places read the surface is drawn straight, on the triangles between neighbours: no height
//! is drawn that does not lie between three that were read, and nothing over a place without one. The
//! bands run from dark for low to light for high, so that a plan printed in grey still reads.

mod contour;
mod heights;
mod mesh;
mod places;
mod plan;
mod surface;

use self::heights::Heights;
use self::plan::Plan;
use self::surface::Shown;
use super::canvas::{Canvas, Type};
use super::marks::{self, Keys, Sign};
use super::sheet::Layer;
use super::style::{INK, MARK, SMALL, TEXT};
use super::text::{self, Face};
use super::{ChartError, Svg, Visit};

/// A surface at one visit or more.
///
/// x runs to the right and y up, both at one scale: a table is drawn in its own proportions, unless it is so
/// long that one side would be under 44 pt; then the chart says by how much it is stretched. Visits stand
/// in rows of two or three, those of a table over four times as long as deep one under the other.
#[derive(Debug, Clone, PartialEq)]
pub struct Relief {
    /// The width on the page in points.
    pub width_pt: f64,
    /// What the heights are: `Height above the middle of its zone`.
    pub name: String,
    /// The unit of the heights, as it is written: `thou`.
    pub unit: String,
    /// The unit of x and y, as it is written: `mm`.
    pub length_unit: String,
    /// The visits in the order of their dates.
    pub visits: Vec<ReliefVisit>,
    /// The lowest and highest height that the common scale holds at least, or from the data. Heights
    /// beyond it are drawn in its last bands, and the chart says so.
    pub range: Option<(f64, f64)>,
}

/// The surface at one visit.
#[derive(Debug, Clone, PartialEq)]
pub struct ReliefVisit {
    /// The visit.
    pub visit: Visit,
    /// The places, in any order: a grid where all have a cell, else scattered.
    pub points: Vec<ReliefPoint>,
    /// What to say under the plan: `Flat within 4.1 ± 0.6 thou`.
    pub caption: String,
}

/// A place on the surface.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ReliefPoint {
    /// Its distance to the right, in the unit of length.
    pub x: f64,
    /// Its distance up the plan, in the unit of length.
    pub y: f64,
    /// Its height. `None` for a hole in the table or a struck reading: nothing is drawn over it, nor over
    /// one that is not finite.
    pub height: Option<f64>,
    /// Its row and column in a grid; `None` for a scattered place.
    pub cell: Option<(usize, usize)>,
}

const HEAD: f64 = TEXT * text::LEADING;
/// Between two rows of plans, and between them and what stands below.
const BETWEEN: f64 = 9.0;

impl Relief {
    /// Draws the chart.
    pub fn draw(&self) -> Result<Svg, ChartError> {
        self.drawn(plan::HIGHEST, plan::NARROWEST)
    }

    /// Draws the chart with plans no larger than a height allows.
    pub fn draw_to(&self, height: Option<f64>) -> Result<Svg, ChartError> {
        let Some(height) = height else { return self.draw() };
        // One under the other if that fits, for so they are larger; else side by side, as narrow as can be.
        let mut drawn = self.lowered(height, plan::NARROWEST);
        if !drawn.as_ref().is_ok_and(|drawn| drawn.height_pt <= height) {
            drawn = self.lowered(height, plan::IN_PICTURE);
        }
        drawn
    }

    /// Plans in columns no narrower than that, and where they are too high, as much lower as it takes.
    fn lowered(&self, height: f64, narrowest: f64) -> Result<Svg, ChartError> {
        let drawn = self.drawn(plan::HIGHEST, narrowest)?;
        let over = drawn.height_pt - height;
        if over <= 0.0 {
            return Ok(drawn);
        }
        let plan = Plan::new(self, plan::HIGHEST, narrowest)?;
        let rows = self.visits.len().div_ceil(plan.columns).max(1) as f64;
        self.drawn(plan.height - (over + 0.1) / rows, narrowest)
    }

    fn drawn(&self, highest: f64, narrowest: f64) -> Result<Svg, ChartError> {
        self.check()?;
        let heights = Heights::new(self)?;
        let plan = Plan::new(self, highest, narrowest)?;
        let mut canvas = Canvas::default();
        let mut shown = Shown::default();
        let mut y = 0.0;
        for (line, row) in self.visits.chunks(plan.columns).enumerate() {
            let lines = row.iter().map(|visit| name_lines(visit, plan.cell).len()).max().unwrap_or(0);
            let top = y + HEAD * lines.max(1) as f64 + 3.0;
            let mut bottom = top;
            for (index, visit) in row.iter().enumerate() {
                let left = plan.column(index);
                let layer = canvas.on(Layer::Visit(line * plan.columns + index));
                draw_name(&mut canvas, visit, left, y, plan.cell);
                let frame = plan.frame(left, top);
                shown.add(
                    canvas.map(&frame.area, |canvas| {
                        surface::draw(canvas, &frame, visit, &heights, plan.stretch)
                    }),
                );
                let end = canvas.within(layer, |canvas| plan.draw_axes(canvas, &frame, self, index == 0));
                bottom = bottom.max(draw_caption(&mut canvas, visit, left, end, plan.cell));
                canvas.on(layer);
            }
            y = bottom + BETWEEN;
        }
        y = heights.draw_name(&mut canvas, self, y) + 1.0;
        if shown.bands {
            y = heights.draw_bar(&mut canvas, self.width_pt, y) + 2.0;
        }
        let keys = self.keys(&heights, &plan, shown);
        keys.draw(&mut canvas, 0.0, y);
        canvas.finish(self.width_pt, y + keys.height() + 2.0)
    }

    fn check(&self) -> Result<(), ChartError> {
        super::sane_width(self.width_pt)?;
        for point in self.visits.iter().flat_map(|visit| &visit.points) {
            super::finite(point.x, "a place")?;
            super::finite(point.y, "a place")?;
            if let Some(height) = point.height.filter(|height| height.is_finite()) {
                super::finite(height, "a height")?;
            }
        }
        if let Some((low, high)) = self.range {
            super::finite(low, "the range of heights")?;
            super::finite(high, "the range of heights")?;
        }
        Ok(())
    }

    fn keys(&self, heights: &Heights, plan: &Plan, shown: Shown) -> Keys {
        let mut keys = Vec::new();
        if shown.ends {
            keys.push((Sign::Highest, "highest".to_owned()));
            keys.push((Sign::Lowest, "lowest".to_owned()));
        }
        if shown.lines {
            let zero = if heights.shows_zero() { ", heavy at 0" } else { "" };
            keys.push((Sign::None, format!("a line every {}{zero}", heights.step(&self.unit))));
        }
        if shown.dots {
            keys.push((Sign::None, "dots: places read".to_owned()));
        }
        if shown.holes {
            keys.push((Sign::None, "white: nothing read".to_owned()));
        }
        if shown.means {
            keys.push((Sign::None, "bands drawn from means of neighbouring readings".to_owned()));
        }
        keys.extend(heights.say_beyond().map(|words| (Sign::None, words)));
        keys.push((Sign::None, plan.words()));
        Keys::new(keys, self.width_pt)
    }
}

fn name_lines(visit: &ReliefVisit, cell: f64) -> Vec<String> {
    text::wrap(&visit.visit.name, TEXT, Face::Strong, cell - 10.0)
}

fn draw_name(canvas: &mut Canvas, visit: &ReliefVisit, left: f64, top: f64, cell: f64) {
    let state = visit.visit.state;
    let kind = Type::new(TEXT, state.word_colour()).strong();
    marks::mark(canvas, (left + MARK + 1.0, top + HEAD / 2.0), state, MARK);
    for (index, line) in name_lines(visit, cell).iter().enumerate() {
        let y = top + HEAD * (index as f64 + 0.5);
        canvas.words(left + 10.0, kind.centred_on(y), line, kind);
    }
}

/// The words under a plan; returns where they end.
fn draw_caption(canvas: &mut Canvas, visit: &ReliefVisit, left: f64, top: f64, cell: f64) -> f64 {
    let mut bottom = top;
    for line in text::wrap(&visit.caption, SMALL, Face::Regular, cell) {
        canvas.words(left, bottom + SMALL * text::ABOVE, &line, Type::new(SMALL, INK));
        bottom += SMALL * text::LEADING;
    }
    bottom
}
