//! Two PDFs of one report held against each other: the one that was sent, and the one that follows from the readings.

use std::sync::Arc;

use similar::{ChangeTag, TextDiff};

use super::answer::Answer;
use crate::evidence::pdf::{self, Page, Wanted};

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
        (_, Err(error)) => answer.differ(format!("the pages that follow from the readings cannot be read: {error}")),
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
    for (number, (sent, again)) in sent.iter().zip(again).enumerate() {
        if sent.drawn == again.drawn && sent.words == again.words {
            continue;
        }
        let page = number + 1;
        let changes = changes(&sent.words, &again.words);
        if changes.is_empty() {
            answer.differ(format!("page {page} is drawn otherwise, with the same words"));
        }
        for (has, should) in changes {
            answer.differ(match (has.is_empty(), should.is_empty()) {
                (false, false) => format!("page {page} says '{has}' where the readings give '{should}'"),
                (false, true) => format!("page {page} says '{has}', which the readings do not give there"),
                _ => format!("page {page} lacks '{should}'"),
            });
        }
    }
}

/// Stretches of words that differ: as sent, and as they follow.
fn changes(sent: &[String], again: &[String]) -> Vec<(String, String)> {
    let sent: Vec<&str> = sent.iter().map(String::as_str).collect();
    let again: Vec<&str> = again.iter().map(String::as_str).collect();
    let diff = TextDiff::from_slices(&sent, &again);
    let mut changes: Vec<(Vec<&str>, Vec<&str>)> = Vec::new();
    let mut going_on = false;
    for change in diff.iter_all_changes() {
        if change.tag() == ChangeTag::Equal {
            going_on = false;
            continue;
        }
        if !going_on {
            changes.push((Vec::new(), Vec::new()));
        }
        going_on = true;
        if let Some((has, should)) = changes.last_mut() {
            let list = if change.tag() == ChangeTag::Delete { has } else { should };
            list.push(change.value());
        }
    }
    changes.into_iter().map(|(has, should)| (shown(&has), shown(&should))).collect()
}

fn shown(words: &[&str]) -> String {
    let mut text = words.iter().take(MOST_WORDS).copied().collect::<Vec<_>>().join(" ");
    if words.len() > MOST_WORDS {
        text.push_str(" …");
    }
    text
}
