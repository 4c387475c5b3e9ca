//! Two PDFs of one report held against each other: the one that was sent, and the one that follows from the readings.

use std::collections::BTreeSet;
use std::sync::Arc;

use serde_json::Value;
use similar::{Algorithm, DiffTag, capture_diff_slices};

use super::answer::Answer;
use crate::evidence::pdf::{self, Page, Wanted};
use crate::quantity::round_with_uncertainty;

/// Words of a difference that are shown at most.
const MOST_WORDS: usize = 12;

/// Says where the pages of a report differ from those that follow from the readings.
pub(super) fn compare(sent: &Arc<Vec<u8>>, again: &Arc<Vec<u8>>, answer: &mut Answer) {
    let Some(at) = first_difference(sent, again) else {
        answer.hold("every byte of it follows from the readings in it");
        return;
    };
    let before = answer.differs.len();
    match (pdf::read(Arc::clone(sent), Wanted::Pages), pdf::read(Arc::clone(again), Wanted::Pages)) {
        (Ok(sent), Ok(again)) => pages(&sent.pages, &again.pages, answer),
        (Err(error), _) => answer.differ(format!("its pages cannot be read: {error}")),
        (_, Err(error)) => {
            answer.differ(format!("the pages that follow from the readings cannot be read: {error}"));
        }
    }
    if answer.differs.len() == before {
        answer.differ(format!(
            "its pages draw what follows from the readings, and yet the file is not the one that asfound makes of them; \
             they first differ at byte {at} (metadata, fonts, structure, or what is attached)"
        ));
    }
}

fn first_difference(one: &[u8], other: &[u8]) -> Option<usize> {
    let same = one.iter().zip(other).take_while(|(a, b)| a == b).count();
    (same < one.len().max(other.len())).then_some(same)
}

fn pages(sent: &[Page], again: &[Page], answer: &mut Answer) {
    if sent.len() != again.len() {
        answer.differ(format!("it has {} pages; from the readings there are {}", sent.len(), again.len()));
    }
    let mut lines = Vec::new();
    for (number, (sent, again)) in sent.iter().zip(again).enumerate() {
        if sent.drawn == again.drawn && sent.words == again.words {
            continue;
        }
        let page = number + 1;
        let changes = changes(&sent.words, &again.words);
        if changes.is_empty() {
            lines.push(format!("page {page} is drawn otherwise, with the same words"));
        }
        for (has, should) in changes {
            lines.push(match (has.is_empty(), should.is_empty()) {
                (false, false) => format!("page {page} says '{has}' where the readings give '{should}'"),
                (false, true) => format!("page {page} says '{has}', which the readings do not give there"),
                _ => format!("page {page} lacks '{should}'"),
            });
        }
    }
    answer.differ_all(lines, "places on pages differ");
}

/// Stretches of words that differ: as sent, and as they follow.
fn changes(sent: &[String], again: &[String]) -> Vec<(String, String)> {
    let mut changes: Vec<(String, String)> = Vec::new();
    for change in capture_diff_slices(Algorithm::Myers, sent, again) {
        let (tag, has, should) = change.as_tag_tuple();
        if tag != DiffTag::Equal {
            changes.push((shown(&sent[has]), shown(&again[should])));
        }
    }
    changes
}

fn shown(words: &[String]) -> String {
    let mut text = words.iter().take(MOST_WORDS).map(String::as_str).collect::<Vec<_>>().join(" ");
    if words.len() > MOST_WORDS {
        text.push_str(" …");
    }
    text
}

/// Whether every finding that a report of another version carries stands on its pages, as it would be printed: its value
/// and its uncertainty side by side somewhere.
pub(super) fn said(sent: &Arc<Vec<u8>>, findings: &Value, answer: &mut Answer) {
    let pages = match pdf::read(Arc::clone(sent), Wanted::Pages) {
        Ok(read) => read.pages,
        Err(error) => {
            answer.differ(format!("its pages cannot be read: {error}"));
            return;
        }
    };
    let known: BTreeSet<&str> = pages.iter().flat_map(|page| &page.words).map(String::as_str).collect();
    let (mut stand, mut lines) = (0, Vec::new());
    for row in findings.get("findings").and_then(Value::as_array).into_iter().flatten() {
        let number = |field: &str| row.get(field).and_then(Value::as_f64);
        let (Some(value), Some(uncertainty)) = (number("value"), number("uncertainty")) else { continue };
        let rounded = round_with_uncertainty(value, uncertainty);
        if known.contains(rounded.value.as_str()) && known.contains(rounded.uncertainty.as_str()) {
            stand += 1;
        } else {
            let word = |field: &str| row.get(field).and_then(Value::as_str).unwrap_or_default();
            let name = ["check", "visit", "where", "what"].map(word).join(" ");
            lines.push(format!("{name}: {} ± {} stands on no page", rounded.value, rounded.uncertainty));
        }
    }
    if lines.is_empty() {
        answer.hold(format!("{stand} findings stand on its pages as it carries them"));
    }
    answer.differ_all(lines, "findings stand on no page");
}
