//! The range that an instrument's maker states it for.

use super::uncertainty::combine;
use crate::findings::Finding;
use crate::quantity::{Quantity, significant, with_unit};
use crate::session::Instrument;

/// Readings outside the range that is stated for the instrument.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Outside {
    /// How many.
    pub count: usize,
    /// The one farthest outside.
    pub farthest: Quantity,
    /// The stated range.
    pub range: (Quantity, Quantity),
}

/// Whether a number that an instrument showed lies outside its stated range. Without a stated range,
/// or where the kinds differ, nothing is outside.
pub fn is_outside(instrument: Option<&Instrument>, shown: Quantity) -> bool {
    excess(instrument, shown).is_some_and(|excess| excess > 0.0)
}

/// How far beyond the nearer end a number lies, in the range's unit; negative inside.
fn excess(instrument: Option<&Instrument>, shown: Quantity) -> Option<f64> {
    let (low, high) = instrument?.range?;
    let value = shown.to(low.unit()).ok()?;
    let high = high.to(low.unit()).ok()?;
    Some((low.value() - value).max(value - high))
}

/// The readings outside the range; none where all are inside.
pub fn outside(
    instrument: Option<&Instrument>,
    shown: impl IntoIterator<Item = Quantity>,
) -> Option<Outside> {
    let range = instrument?.range?;
    let mut found: Option<(f64, Outside)> = None;
    for farthest in shown {
        let Some(excess) = excess(instrument, farthest).filter(|excess| *excess > 0.0) else { continue };
        found = Some(match found {
            Some((most, so_far)) if most >= excess => (most, Outside { count: so_far.count + 1, ..so_far }),
            Some((_, so_far)) => (excess, Outside { count: so_far.count + 1, farthest, range }),
            None => (excess, Outside { count: 1, farthest, range }),
        });
    }
    found.map(|(_, outside)| outside)
}

impl Outside {
    /// In a sentence's words: "612 °F is outside the range stated for it, −58 to 536 °F".
    pub fn words(&self) -> String {
        let (low, high) = self.range;
        let high_number = high.to(low.unit()).unwrap_or(high.value());
        let range = with_unit(
            &format!("{} to {}", significant(low.value(), 6), significant(high_number, 6)),
            low.unit(),
        );
        format!("{} is outside the range stated for it, {range}", self.farthest)
    }
}

/// Takes a finding's uncertainty away: what an instrument shows outside its range it vouches for with
/// nothing, so no verdict can rest on it but `too close to call`.
pub fn not_vouched_for(finding: &mut Finding, outside: &Outside) {
    finding.budget = combine(Vec::new());
    finding.notes.push(format!(
        "The instrument vouches for nothing here: {}. No uncertainty is given.",
        outside.words()
    ));
}
