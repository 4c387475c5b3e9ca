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
        self.footnote_text(definition, "\n");
        self.out.push_str("]#");
        self.footnote_label(number);
    }

    /// The text of a footnote. It is set apart from the other, so its depth starts anew.
    ///
    /// The first paragraph is written without a call, so that it stands in the line of what is
    /// before it, the number of the footnote; `after_first` is written behind it.
    fn footnote_text(&mut self, definition: usize, after_first: &str) {
        let depth = Depth { footnotes: self.depth.footnotes + 1, ..Depth::default() };
        let around = std::mem::replace(&mut self.depth, depth);
        let first = definition + 1;
        let mut blocks = first;
        if let Some((Event::Start(Tag::Paragraph), _)) = self.plan.events.get(first) {
            let end = self.plan.end(first);
            self.span(first + 1..end);
            blocks = end + 1;
        }
        self.out.push_str(after_first);
        self.span(blocks..self.plan.end(definition));
        self.depth = around;
    }

    fn footnote_label(&mut self, number: usize) {
        self.out.push_str("label(\"");
        self.out.extend(self.rules.name.chars().map(|c| if c.is_ascii_alphanumeric() { c } else { '-' }));
        // Writing to a string cannot fail.
        let _ = write!(self.out, "-footnote-{number}\")");
    }

    /// Footnotes that no reference brought stand at the end, so that nothing written is lost.
    pub(super) fn left_over_footnotes(&mut self) {
        let plan: &'p _ = self.plan;
        for &definition in &plan.definitions {
            let Some((Event::Start(Tag::FootnoteDefinition(label)), place)) = plan.events.get(definition)
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
            self.text(&format!("[^{label}]: "), place);
            self.footnote_text(definition, "]\n");
        }
    }
}
