//! Footnotes: written where they are first referred to.

use std::fmt::Write as _;
use std::ops::Range;

use pulldown_cmark::{Event, Tag};

use super::{Depth, NOTES_DEEPEST, Writer};
use crate::notes::remark::RemarkKind;

impl<'p> Writer<'p, '_> {
    /// A reference to a footnote: the first brings its text, others point to it.
    pub(super) fn footnote(&mut self, label: &str, place: &Range<usize>) {
        let Some(definition) = self.plan.definition(label) else {
            self.unknown_reference(place);
            return self.text(&format!("[^{label}]"), place);
        };
        if let Some(&number) = self.footnotes.get(&definition) {
            self.out.push_str("#footnote(");
            self.footnote_label(number);
            self.out.push(')');
        } else if self.depth.footnotes < NOTES_DEEPEST {
            self.first_reference(definition);
        } else {
            self.remarks.too_deep(place);
            self.text(&format!("[^{label}]"), place);
        }
    }

    fn first_reference(&mut self, definition: usize) {
        // Counted before its text is written, so that a footnote which refers to itself ends.
        let number = self.footnotes.len() + 1;
        self.footnotes.insert(definition, number);
        self.out.push_str("#footnote[");
        self.footnote_text(definition);
        self.out.push_str("]#");
        self.footnote_label(number);
    }

    /// The blocks of a footnote. It is set apart from the text, so its depth starts anew.
    fn footnote_text(&mut self, definition: usize) {
        let depth = Depth {
            footnotes: self.depth.footnotes + 1,
            ..Depth::default()
        };
        let around = std::mem::replace(&mut self.depth, depth);
        self.span(definition + 1..self.plan.end(definition));
        self.depth = around;
    }

    fn footnote_label(&mut self, number: usize) {
        self.out.push_str("label(\"");
        self.out.extend(
            self.rules
                .name
                .chars()
                .map(|c| if c.is_ascii_alphanumeric() { c } else { '-' }),
        );
        // Writing to a string cannot fail.
        let _ = write!(self.out, "-footnote-{number}\")");
    }

    /// Footnotes that no reference brought stand at the end, so that nothing written is lost.
    pub(super) fn left_over_footnotes(&mut self) {
        let plan: &'p _ = self.plan;
        for &definition in &plan.definitions {
            let Some((Event::Start(Tag::FootnoteDefinition(label)), place)) =
                plan.events.get(definition)
            else {
                continue;
            };
            if self.footnotes.contains_key(&definition) {
                continue;
            }
            let message = if plan.definition(label) == Some(definition) {
                format!("nothing refers to the footnote `{label}`; it stands at the end")
            } else {
                format!("a second footnote `{label}`; it stands at the end")
            };
            self.remarks.add(RemarkKind::FootnoteUnused, place, message);
            self.out.push_str("#par[");
            self.text(&format!("[^{label}]:"), place);
            self.out.push_str("]\n");
            self.footnote_text(definition);
        }
    }
}
