//! Charts made to fit a height: a page is as long as it must be, a picture is not.

use super::{ChartError, Svg};

/// By how much each plot of a chart is higher than on paper, in points; lower where below zero.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct More(f64);

/// A plot is never made lower than this share of its height on paper, nor than so many points, if it was
/// higher: below that nothing would be told by it.
const LEAST: f64 = 0.42;
const LOWEST: f64 = 36.0;
/// Nor higher than this many times that height: lines would only grow steep.
const MOST: f64 = 1.9;
/// As near to the height asked as this is near enough, in points.
const NEAR: f64 = 0.25;

impl More {
    /// As on paper.
    pub(super) const NOTHING: Self = Self(0.0);

    /// The height of a plot that has this one on paper.
    pub(super) fn of(self, on_paper: f64) -> f64 {
        let least = (on_paper * LEAST).max(LOWEST.min(on_paper));
        (on_paper + self.0).clamp(least, on_paper * MOST)
    }

    /// The height of a strip that goes with the plots and need not be so high where they are lower.
    pub(super) fn of_strip(self, on_paper: f64) -> f64 {
        if self.0 < 0.0 { 0.72 * on_paper } else { on_paper }
    }

    /// What is added; nothing where plots are to be lower.
    pub(super) fn added(self) -> f64 {
        self.0.max(0.0)
    }
}

/// Draws a chart of so many plots one above the other as on paper, or, where a height is asked, with plots
/// as much higher or lower as it takes to fill it. It may stay higher or lower than asked.
pub(super) fn to(
    height: Option<f64>,
    plots: usize,
    draw: impl Fn(More) -> Result<Svg, ChartError>,
) -> Result<Svg, ChartError> {
    let mut more = More::NOTHING;
    let mut drawn = draw(more)?;
    let Some(height) = height else { return Ok(drawn) };
    // The words beside a plot may need another height than the plot: one more time takes that up.
    for _ in 0..3 {
        let lacking = height - drawn.height_pt;
        if lacking.abs() <= NEAR || plots == 0 {
            break;
        }
        // A little less, for what is rounded up.
        more = More(more.0 + (lacking - NEAR / 2.0) / plots as f64);
        drawn = draw(more)?;
    }
    Ok(drawn)
}
