//! A drawing with the words that go with it: what a page or a picture is made of.

use super::{ChartError, Limit, Measured, Svg, Visit, style};
use crate::findings::{CheckFindings, Finding, LimitOn, VisitFindings, sentences};
use crate::quantity::Unit;
use crate::session::{Session, State};

/// How much of the page's width a drawing takes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Measure {
    /// The text column.
    Text,
    /// Text and margin together.
    Full,
}

/// The room that a page or a picture has for drawings, in points.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Room {
    /// The width of the text column.
    pub text: f64,
    /// The width of text and margin together.
    pub full: f64,
    /// The height of a picture, which a drawing fills as far as it can; none on paper, where a page follows a
    /// page.
    pub height: Option<f64>,
}

impl Room {
    /// Draws all of something, or, where that is too high for a picture, the part that tells.
    pub(super) fn all_or<T>(
        self,
        all: T,
        telling: T,
        draw: impl Fn(&T) -> Result<Svg, ChartError>,
    ) -> Result<Svg, ChartError> {
        let whole = draw(&all);
        let Some(height) = self.height else { return whole };
        match whole {
            Ok(svg) if svg.height_pt <= height => Ok(svg),
            _ => draw(&telling),
        }
    }
}

/// A drawing with its words.
#[derive(Clone, Debug)]
pub struct Exhibit {
    /// A short name, unique in its check: `unrolled`.
    pub name: &'static str,
    /// The drawing.
    pub svg: Svg,
    /// The finding, which is the chart's title.
    pub title: String,
    /// How to read it.
    pub caption: String,
    /// How wide it stands.
    pub measure: Measure,
}

impl Exhibit {
    /// For those who cannot see it: the finding, and what kind of drawing it is.
    pub fn alt(&self) -> String {
        format!("{} {}", self.title, self.caption)
    }
}

/// Draws a check's exhibits. Each measure has one of these.
pub type Draw = fn(&Session, &CheckFindings, Room) -> Result<Vec<Exhibit>, ChartError>;

/// A state as charts mark it.
pub(crate) fn state(state: State) -> style::State {
    match state {
        State::AsFound => style::State::AsFound,
        State::AsLeft => style::State::AsLeft,
        State::Reference | State::Baseline => style::State::Reference,
    }
}

/// A visit as charts name it.
pub(crate) fn visit(session: &Session, found: &VisitFindings) -> Visit {
    let title = session.visit_title(&found.visit);
    Visit { name: title.to_owned(), state: state(found.state) }
}

/// A finding as charts draw it.
pub(crate) fn measured(finding: &Finding) -> Option<Measured> {
    Some(Measured {
        value: finding.value?,
        uncertainty: finding.expanded().map(|expanded| expanded.expanded),
        text: sentences::said(finding),
    })
}

/// A limit as charts draw it.
pub(crate) fn limit(limit: &LimitOn, unit: Unit) -> Option<Limit> {
    let bound = match (limit.at_least, limit.at_most) {
        (Some(low), Some(high)) => super::Bound::Between(low, high),
        (Some(low), None) => super::Bound::AtLeast(low),
        (None, Some(high)) => super::Bound::AtMost(high),
        (None, None) => return None,
    };
    Some(Limit { bound, text: sentences::limit_bound(limit, unit) })
}

/// The limit of a check's main finding.
pub(super) fn main_limit(check: &CheckFindings) -> Option<Limit> {
    let mut findings = check.visits.iter().flat_map(|visit| sentences::main_findings(check, visit));
    let finding = findings.find(|finding| finding.limit.is_some())?;
    limit(finding.limit.as_ref()?, finding.unit)
}
