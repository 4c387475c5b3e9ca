//! Numbers as they are printed.

use super::super::document::Number;
use crate::findings::Finding;
use crate::quantity::{Decimals, decimals_for, fixed, significant};

/// The places that all numbers of a column are rounded to: those of the finest uncertainty among
/// them would give the coarser ones digits they do not have, so each number keeps its own.
pub(in crate::compose) fn number(finding: &Finding) -> Option<Number> {
    let value = finding.value?;
    let unit = finding.unit.symbol().to_owned();
    Some(match finding.expanded() {
        None => Number { value: significant(value, 4), plus_minus: None, unit },
        Some(expanded) => {
            let decimals = decimals_for(expanded.expanded);
            Number {
                value: fixed(value, decimals),
                plus_minus: Some(fixed(expanded.expanded, decimals)),
                unit,
            }
        }
    })
}

/// A value to the place of an uncertainty.
pub(super) fn at(value: f64, decimals: Decimals) -> String {
    fixed(value, decimals)
}

/// With its sign, for a change.
pub(in crate::compose) fn signed(value: f64, decimals: Decimals) -> String {
    let text = fixed(value, decimals);
    if value > 0.0 && text.chars().any(|c| ('1'..='9').contains(&c)) { format!("+{text}") } else { text }
}

/// Degrees of freedom: `∞` where there is no end, or one so far off that nothing depends on it.
pub(super) fn dof(dof: f64) -> String {
    if dof < 1e6 { significant(dof, 3) } else { "∞".to_owned() }
}
