//! The one big number of a picture: the main finding of the last visit that has it, or the change.

use super::super::report::numbers;
use super::super::report::what_words;
use super::choose::Drawer;
use super::page::{BigNumber, hex};
use super::words::{self, SMALLEST};
use super::{Still, Subject};
use crate::charts::exhibit;
use crate::charts::ground::Ground;
use crate::charts::style::INK;
use crate::charts::text::{self, Face};
use crate::findings::claim::words::shortened;
use crate::findings::{CheckFindings, Verdict, sentences};
use crate::quantity::{decimals_for, fixed};
use crate::session::{Session, State};

/// A place's name takes no more letters beside the number.
const PLACE: usize = 24;

/// A number with its words, not laid out yet.
#[derive(Clone, Debug, Default)]
pub(super) struct Number {
    value: String,
    tail: String,
    caption: String,
    state: Option<String>,
    colour: String,
}

/// The number of a picture.
pub(super) fn of(drawer: &Drawer<'_>, still: &Still, ground: Ground) -> Number {
    let number = match &still.subject {
        Subject::Summary => sentences::leading(drawer.session, drawer.findings)
            .and_then(|check| of_check(drawer.session, check, ground)),
        Subject::Exhibit { check, .. } => {
            drawer.findings.checks.get(*check).and_then(|check| of_check(drawer.session, check, ground))
        }
        Subject::Change { comparison, check } => of_change(drawer, *comparison, *check),
    };
    number.unwrap_or_else(|| Number { value: "no value".to_owned(), ..Number::default() })
}

/// The main finding of the telling place at the last visit that has it.
fn of_check(session: &Session, check: &CheckFindings, ground: Ground) -> Option<Number> {
    let at = sentences::telling_place(check)?;
    let found = |visit| Some((visit, crate::findings::VisitFindings::finding(visit, at, check.main)?));
    let (visit, finding) = check.visits.iter().rev().find_map(found)?;
    // The verdict stands at the end and may not be what is cut.
    let place = if at.is_empty() { String::new() } else { format!(", {}", shortened(at, PLACE)) };
    let verdict = match finding.verdict {
        Verdict::NoLimit => String::new(),
        verdict => format!(": {}", verdict.words()),
    };
    let when = sentences::when(session, visit);
    let (value, tail) = match numbers::number(finding) {
        Some(number) => (number.value, tail(number.plus_minus.as_deref(), &number.unit)),
        None => (sentences::said(finding), String::new()),
    };
    let colour = exhibit::state(visit.state).colour();
    Some(Number {
        value,
        tail,
        caption: format!("{}{place}, {when}{verdict}", what_words(check.main)),
        state: Some(state(visit.state).to_owned()),
        colour: hex(ground.colour(colour)),
    })
}

fn state(state: State) -> &'static str {
    match state {
        State::AsFound => "as-found",
        State::AsLeft => "as-left",
        State::Reference => "reference",
        State::Baseline => "baseline",
    }
}

fn of_change(drawer: &Drawer<'_>, comparison: usize, check: usize) -> Option<Number> {
    let comparison = drawer.findings.comparisons.get(comparison)?;
    let changes = comparison.checks.get(check)?;
    let change = sentences::telling_change(drawer.findings, changes)?;
    let half = (change.high - change.low) / 2.0;
    let decimals = decimals_for(half);
    let place =
        if change.at.is_empty() { String::new() } else { format!(", {}", shortened(&change.at, PLACE)) };
    let unit = change.unit.symbol();
    Some(Number {
        value: numbers::signed(change.change, decimals),
        tail: tail(Some(&fixed(half, decimals)), unit),
        caption: format!(
            "change of {}{place}: {}",
            sentences::lower(&what_words(change.what)),
            sentences::short_conclusion(change)
        ),
        state: None,
        colour: hex(INK),
    })
}

/// `± 0.4 thou`, or the unit alone.
fn tail(plus_minus: Option<&str>, unit: &str) -> String {
    let half = plus_minus.map_or_else(String::new, |half| format!("± {half} "));
    format!("{half}{unit}").trim_end().to_owned()
}

/// Sizes of the figures, in points.
const SIZES: [f64; 13] = [42.0, 38.0, 34.0, 30.0, 27.0, 24.0, 21.0, 18.0, 15.0, 12.0, 10.0, 9.0, SMALLEST];
/// From the figures to what stands under them.
const UNDER: f64 = 7.0;

impl Number {
    /// Lays it out in a room: left, top, width, height.
    pub(super) fn fitted(&self, (left, top, width, height): (f64, f64, f64, f64), column: bool) -> BigNumber {
        let caption_room = if column { 5 } else { 3 };
        let mark = if self.state.is_some() { 9.0 } else { 0.0 };
        let size = if column { 8.5 } else { SMALLEST };
        let caption_height = words::height(caption_room, size);
        let caption =
            words::fitted(&self.caption, Face::Regular, (width - mark, caption_height), &[size, SMALLEST]);
        let room = height - UNDER - words::height(caption.lines.len(), caption.size);
        let tail_size = |size: f64| (0.4 * size).clamp(9.0, 15.0).min(size.max(SMALLEST));
        let value_width = |size: f64| text::width(&self.value, size, Face::Strong);
        let tail_width = |size: f64| text::width(&self.tail, tail_size(size), Face::Regular);
        let beside =
            |size: f64| value_width(size) + 0.14 * size + tail_width(size) <= width && figures(size) <= room;
        let below = |size: f64| {
            value_width(size) <= width
                && tail_width(size) <= width
                && figures(size) + 1.5 * tail_size(size) <= room
        };
        // On one line where the figures stay large; else the tail goes below them.
        let mut sizes = SIZES.iter().copied();
        let found = sizes.find_map(|size| match (beside(size), below(size)) {
            (true, _) => Some((size, false)),
            (false, true) if size <= 27.0 => Some((size, true)),
            _ => None,
        });
        let (size, tail_below) = found.unwrap_or((SMALLEST, true));
        let under = if tail_below && !self.tail.is_empty() { 1.5 * tail_size(size) } else { 0.0 };
        BigNumber {
            left,
            top,
            width,
            size,
            tail_size: tail_size(size),
            tail_below,
            caption_top: top + figures(size) + under + UNDER,
            caption: caption.lines,
            caption_size: caption.size,
            value: self.value.clone(),
            tail: self.tail.clone(),
            state: self.state.clone(),
            colour: self.colour.clone(),
        }
    }
}

/// How high figures of a size stand.
fn figures(size: f64) -> f64 {
    text::CAP_HEIGHT * size
}
