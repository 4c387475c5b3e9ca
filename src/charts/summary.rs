//! Every check before and after against its limit, a row a check.
//!
//! Checks have different units, so each row is drawn to a scale of its own, and rows whose scales mean
//! the same stand together:
//!
//! - *share of the limit*: a quantity with a true zero and one limit over zero. Zero and the limit stand
//!   at the same two places in every row, so distances compare;
//! - *between two limits*: the limits stand at the same two places;
//! - *distance from the limit*: a level in dB, a temperature in °C, a limit of zero or less. A share
//!   would mean nothing; the limit stands in the middle and the farthest value near the edge, so only
//!   the side and the row itself can be read;
//! - *no limit*: from zero to the larger of the values, or where there is no true zero from the lowest
//!   to the highest.
//!
//! The group's heading says which. A value beyond the axis is an arrow at its edge with its words.

mod group;
mod row;

use self::group::Group;
use super::canvas::{Canvas, Type};
use super::fit::{self, More};
use super::marks::{self, Keys, Sign};
use super::sheet::Layer;
use super::style::{INK, SMALL, TEXT};
use super::text::{self, Face};
use super::{ChartError, Limit, Measured, Svg, Visit};

/// Every check at one visit or more.
#[derive(Debug, Clone, PartialEq)]
pub struct Summary {
    /// The width on the page in points.
    pub width_pt: f64,
    /// The visits in the order of their dates.
    pub visits: Vec<Visit>,
    /// The rows in the order of the report. Within a group the order is kept. About 35 fill a page.
    pub rows: Vec<SummaryRow>,
}

/// One check, or one place of a check.
#[derive(Debug, Clone, PartialEq)]
pub struct SummaryRow {
    /// What is compared: `Arbor run-out, tip`.
    pub label: String,
    /// The limit in the unit of the values.
    pub limit: Option<Limit>,
    /// Whether zero means none of the quantity (a length, a speed, a time), so that a share of the limit
    /// has a meaning. False for levels in dB and temperatures in °C or °F.
    pub true_zero: bool,
    /// What was found at each visit, in the order of the visits, all in one unit; `None` where the check
    /// was not made.
    pub found: Vec<Option<Measured>>,
}

/// The columns of the chart.
#[derive(Debug, Clone, Copy)]
struct Columns {
    /// The right edge of the labels starts here.
    plot_left: f64,
    plot_right: f64,
    /// The left edge of the limits.
    limit_left: f64,
    label_room: f64,
    limit_room: f64,
}

const HEAD: f64 = TEXT * text::LEADING;

impl Summary {
    /// Draws the chart.
    pub fn draw(&self) -> Result<Svg, ChartError> {
        self.draw_to(None)
    }

    /// Draws the chart with rows as much farther apart as it takes to fill a height.
    pub fn draw_to(&self, height: Option<f64>) -> Result<Svg, ChartError> {
        fit::to(height, self.rows.len(), |more| self.drawn(more))
    }

    fn drawn(&self, more: More) -> Result<Svg, ChartError> {
        self.check()?;
        let columns = self.columns()?;
        let groups = Group::all(self);
        let mut canvas = Canvas::default();
        let mut y = self.draw_heads(&mut canvas, &columns);
        let compact = self.rows.len() > 5;
        for group in &groups {
            if groups.len() > 1 || !group.is_share_of_limit() {
                y = group.draw_heading(&mut canvas, &columns, y);
            }
            y = group.draw(&mut canvas, self, &columns, y, (compact, more));
            y += 5.0;
        }
        let mut keys = Vec::new();
        if groups.iter().any(Group::has_limits) {
            keys.push((Sign::Hatch, "beyond the limit".to_owned()));
        }
        if self.found().any(|found| found.half() > 0.0) {
            keys.push((Sign::Whisker, "± U, 95 %".to_owned()));
        }
        let keys = Keys::new(keys, self.width_pt - columns.plot_left);
        keys.draw(&mut canvas, columns.plot_left, y);
        canvas.finish(self.width_pt, y + keys.height() + 2.0)
    }

    fn found(&self) -> impl Iterator<Item = &Measured> {
        self.rows.iter().flat_map(|row| row.found.iter().flatten())
    }

    fn check(&self) -> Result<(), ChartError> {
        super::sane_width(self.width_pt)?;
        if self.found().next().is_none() {
            return Err(ChartError::Nothing("no check has a value"));
        }
        for row in &self.rows {
            super::finite_limit(row.limit.as_ref())?;
            for found in row.found.iter().flatten() {
                found.check(&format!("a value of {}", row.label))?;
            }
        }
        Ok(())
    }

    fn columns(&self) -> Result<Columns, ChartError> {
        let labels = self.rows.iter().map(|row| row.label.as_str());
        let limits = self.rows.iter().filter_map(|row| row.limit.as_ref()).map(|limit| limit.text.as_str());
        let found = self.found().map(|found| found.text.as_str());
        let limit_room = text::widest(limits, SMALL, Face::Regular).min(self.width_pt * 0.2);
        let limit_left = self.width_pt - limit_room;
        let plot_right = limit_left - if limit_room > 0.0 { 6.0 } else { 2.0 };
        // The widest words of a value must fit into the plot; labels are broken into more lines for it.
        let needed = (text::widest(found, SMALL, Face::Regular) + 12.0).max(90.0);
        let label_room = text::widest(labels, TEXT, Face::Regular)
            .min(self.width_pt * 0.3)
            .min((plot_right - needed - 9.0).max(36.0));
        let plot_left = label_room + 9.0;
        if plot_right - plot_left < needed {
            return Err(ChartError::TooNarrow { width_pt: self.width_pt });
        }
        Ok(Columns { plot_left, plot_right, limit_left, label_room, limit_room })
    }

    /// The visits by name with their marks, and the head of the limits; returns where they end.
    fn draw_heads(&self, canvas: &mut Canvas, columns: &Columns) -> f64 {
        let mut x = columns.plot_left;
        let mut y = 0.0;
        for (index, visit) in self.visits.iter().enumerate() {
            canvas.on(Layer::Visit(index));
            let kind = Type::new(TEXT, visit.state.word_colour()).strong();
            let room = columns.plot_right - columns.plot_left - 9.0;
            let lines = text::wrap(&visit.name, TEXT, Face::Strong, room);
            let width = 9.0 + text::widest(lines.iter().map(String::as_str), TEXT, Face::Strong);
            if x + width > columns.plot_right && x > columns.plot_left {
                x = columns.plot_left;
                y += HEAD;
            }
            marks::mark(canvas, (x + 3.0, y + HEAD / 2.0), visit.state, super::style::MARK);
            for (index, line) in lines.iter().enumerate() {
                let middle = y + HEAD * (index as f64 + 0.5);
                canvas.words(x + 9.0, kind.centred_on(middle), line, kind);
            }
            y += HEAD * (lines.len().max(1) - 1) as f64;
            x += width + 14.0;
        }
        canvas.on(Layer::Frame);
        if columns.limit_room > 0.0 {
            let kind = Type::new(SMALL, INK).strong();
            let left = columns.limit_left.min(self.width_pt - text::width("Limit", SMALL, Face::Strong));
            canvas.within(Layer::Limit, |canvas| {
                canvas.words(left, kind.centred_on(HEAD / 2.0), "Limit", kind)
            });
        }
        y + HEAD + 4.0
    }
}
