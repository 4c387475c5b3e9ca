//! Readings taken at several settings: the map `at: {1000 rpm: …, 3450 rpm: …}`.

use std::sync::Arc;

use super::fields::{Fields, key_place};
use super::problem::{Place, Problem, Problems, SourceFile};
use super::tree::Node;
use crate::quantity::{Quantity, parse_number, parse_quantity};

/// One setting and what was written for it.
#[derive(Clone, Debug)]
pub struct Setting {
    /// The setting.
    pub quantity: Quantity,
    /// As findings name it: `3450 rpm`.
    pub at: String,
    /// What was read there.
    pub node: Node,
    /// Where the setting is written.
    pub place: Place,
}

/// A map of settings, in the order written. Two settings of one visit within 1 % of each other
/// could not be told apart when visits are paired, so they are an error.
pub fn settings_of(
    node: &Node,
    source: &Arc<SourceFile>,
    what: &str,
    problems: &mut Problems,
) -> Option<Vec<Setting>> {
    let entries = Fields::of(node, source, what, problems)?.entries();
    let mut settings: Vec<Setting> = Vec::new();
    let mut whole = true;
    for entry in &entries {
        let place = key_place(source, entry);
        let quantity = match parse_quantity(&entry.key, &[], None) {
            Ok(quantity) => quantity,
            Err(wrong) => {
                let bare = parse_number(&entry.key).is_ok();
                let help = if bare { format!("write for example: {} rpm", entry.key) } else { wrong.help };
                problems.push(
                    Problem::error(format!("the setting '{}': {}", entry.key, wrong.message), place)
                        .expected("expected a setting with its unit, such as 3450 rpm")
                        .help(help),
                );
                whole = false;
                continue;
            }
        };
        let near = |other: &&Setting| {
            quantity
                .to(other.quantity.unit())
                .is_ok_and(|value| (value - other.quantity.value()).abs() < 0.01 * value.abs())
        };
        if let Some(other) = settings.iter().find(near) {
            problems.push(
                Problem::error(
                    format!("'{}' and '{}' are one setting within 1 %", entry.key, other.at),
                    place,
                )
                .expected("settings of two visits pair when they differ by under 1 %")
                .help("write all readings of one setting in one list"),
            );
            whole = false;
            continue;
        }
        settings.push(Setting { quantity, at: quantity.to_string(), node: entry.node.clone(), place });
    }
    if settings.is_empty() && whole {
        problems.push(
            Problem::error(format!("{what} holds no setting"), super::fields::place(source, node))
                .expected("expected at least one setting with its readings")
                .help("write for example: at: {3450 rpm: [84.1, 84.4]}"),
        );
    }
    (whole && !settings.is_empty()).then_some(settings)
}
