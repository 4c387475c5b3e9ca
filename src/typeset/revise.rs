//! A source brought to a new text with as much of its tree left standing as can be.
//!
//! Typst keeps what it laid out under keys that hold the numbers of the syntax nodes. A node keeps its
//! number where only text beside it is edited. One edit from the first to the last changed line would
//! number everything between them anew; so each changed stretch is an edit of its own.

use std::ops::Range;

use similar::{Algorithm, DiffOp, capture_diff_slices};
use typst::syntax::Source;

/// With more changed stretches than this little is left to keep, and each edit costs a walk over the text.
const MOST_EDITS: usize = 200;

/// Gives a source a new text.
pub(super) fn revise(source: &mut Source, new: &str) {
    let edits = edits(source.text(), new);
    if edits.len() > MOST_EDITS {
        source.replace(new);
    } else {
        // From the last to the first, so that the places of those before still hold.
        for (old, made) in edits.into_iter().rev() {
            source.edit(old, &new[made]);
        }
    }
    // Typst parses only about an edit, and is mistaken now and then where brackets do not match (typst-syntax 0.15).
    if source.root().full_text() != new {
        *source = Source::new(source.id(), new.to_owned());
    }
}

/// The stretches that differ: their bytes in the old text and in the new one, in order.
fn edits(old: &str, new: &str) -> Vec<(Range<usize>, Range<usize>)> {
    let (before, after): (Vec<&str>, Vec<&str>) =
        (old.split_inclusive('\n').collect(), new.split_inclusive('\n').collect());
    let (old_starts, new_starts) = (starts(&before), starts(&after));
    capture_diff_slices(Algorithm::Patience, &before, &after)
        .into_iter()
        .filter(|op| !matches!(op, DiffOp::Equal { .. }))
        .map(|op| {
            let (lines, made) = (op.old_range(), op.new_range());
            let old_bytes = old_starts[lines.start]..old_starts[lines.end];
            let new_bytes = new_starts[made.start]..new_starts[made.end];
            narrowed(old, new, old_bytes, new_bytes)
        })
        .collect()
}

/// The byte that each line begins on, and the end of the text.
fn starts(lines: &[&str]) -> Vec<usize> {
    let mut at = 0;
    let mut starts = vec![0];
    for line in lines {
        at += line.len();
        starts.push(at);
    }
    starts
}

/// Without what both stretches begin and end with.
fn narrowed(old: &str, new: &str, before: Range<usize>, after: Range<usize>) -> (Range<usize>, Range<usize>) {
    let (was, is) = (&old[before.clone()], &new[after.clone()]);
    let letters = was.chars().zip(is.chars()).take_while(|(a, b)| a == b);
    let prefix: usize = letters.map(|(letter, _)| letter.len_utf8()).sum();
    let letters = was[prefix..].chars().rev().zip(is[prefix..].chars().rev()).take_while(|(a, b)| a == b);
    let suffix: usize = letters.map(|(letter, _)| letter.len_utf8()).sum();
    (before.start + prefix..before.end - suffix, after.start + prefix..after.end - suffix)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn two_words_far_apart_are_two_small_edits() {
        let old = "#let a = 1\nmiddle\nmore\n#let b = 2\n";
        let new = "#let a = 3\nmiddle\nmore\n#let b = 4\n";
        assert_eq!(edits(old, new), [(9..10, 9..10), (32..33, 32..33)]);
    }

    #[test]
    fn what_lies_between_two_edits_keeps_its_place_in_the_tree() {
        let mut source = Source::detached("#let a = 1\n\nThe *middle*.\n\n#let b = 2\n");
        let span = |source: &Source| {
            let node = source.root().children().find(|node| node.full_text().contains("middle"));
            node.map(typst::syntax::SyntaxNode::span)
        };
        let before = span(&source);
        revise(&mut source, "#let a = 10\n\nThe *middle*.\n\n#let b = 20\n");
        assert!(before.is_some());
        assert_eq!(span(&source), before);
    }

    #[test]
    fn a_tree_that_was_parsed_amiss_is_parsed_anew() {
        let mut source = Source::detached("[\n\n");
        revise(&mut source, "\n]\n\n");
        assert_eq!(source.root().full_text(), "\n]\n\n");
    }

    proptest! {
        #[test]
        fn the_new_text_stands_whatever_the_two_are(
            old in "([a-cé#\\[\\]* ]{0,4}\n?){0,12}",
            new in "([a-cé#\\[\\]* ]{0,4}\n?){0,12}",
        ) {
            let mut source = Source::detached(old);
            revise(&mut source, &new);
            prop_assert_eq!(source.text(), new.as_str());
            let tree = source.root().full_text();
            prop_assert_eq!(tree.as_str(), new.as_str());
        }
    }
}
