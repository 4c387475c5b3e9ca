//! Text, emphasis, links and what else stands in a line.

use std::ops::Range;

use pulldown_cmark::{Event, LinkType};

use super::{DEEPEST, Nesting, Writer};
use crate::notes::address;
use crate::notes::literal::push_literal;
use crate::notes::remark::RemarkKind;
use crate::notes::together::together;
use crate::notes::visible::visible;

impl Writer<'_, '_> {
    /// Writes an event that has nothing in it.
    pub(super) fn leaf(&mut self, event: &Event<'_>, place: &Range<usize>) {
        match event {
            Event::Text(text) => {
                self.text(text, place);
                self.unknown_footnotes(place);
            }
            Event::Code(code) => self.raw_in_line(code, place),
            // The mark of a number that is meant is for the program and not for the page.
            Event::Html(html) | Event::InlineHtml(html) if crate::typed::is_meant(html) => {}
            Event::Html(html) | Event::InlineHtml(html) => {
                self.raw_in_line(html, place);
                self.html_remark(place);
            }
            Event::SoftBreak => self.out.push(' '),
            Event::HardBreak => self.out.push_str("#linebreak()"),
            Event::Rule => self.out.push_str("#line(length: 100%)\n"),
            Event::TaskListMarker(done) => self.task(*done),
            Event::FootnoteReference(label) => self.footnote(label, place),
            // Mathematics is not switched on; if it were, its letters would be text.
            Event::InlineMath(text) | Event::DisplayMath(text) => self.text(text, place),
            Event::Start(_) | Event::End(_) => {}
        }
    }

    /// Running text. Spaces in a row are one, as wherever `CommonMark` is shown.
    pub(super) fn text(&mut self, text: &str, place: &Range<usize>) {
        let shown = visible(text, self.rules.covers);
        self.remarks.named(shown.named, place);
        self.out.push('#');
        push_literal(&mut self.out, &together(&single_spaced(&shown.text)));
    }

    fn raw_in_line(&mut self, text: &str, place: &Range<usize>) {
        self.out.push_str("#raw(");
        self.words(text, place);
        self.out.push(')');
    }

    /// The box of a task, in letters that every typeface has and a reader for the blind speaks.
    fn task(&mut self, done: bool) {
        self.out.push_str(if done {
            "#box[#\"[x]\"]#label(\"task-done\") "
        } else {
            "#box[#\"[ ]\"]#label(\"task-open\") "
        });
    }

    /// Opens emphasis; too deep, its content stands in the emphasis around.
    pub(super) fn inline(&mut self, place: &Range<usize>, before: &str) {
        if self.depth.inlines < DEEPEST {
            self.out.push_str(before);
            self.push_closer("]", Nesting::Inline);
        } else {
            self.remarks.too_deep(place);
            self.open_plain();
        }
    }

    /// A link to the web or to a mailbox; any other address is written out after its words.
    pub(super) fn link(&mut self, index: usize, kind: LinkType, dest: &str, place: &Range<usize>) {
        let address = match kind {
            LinkType::Email => address::linkable(&format!("mailto:{dest}")),
            _ => address::linkable(dest),
        };
        let words = self.plain_words(index);
        let wordless = words.trim().is_empty() && !self.holds_picture(index);
        match address {
            Some(address) if self.depth.inlines < DEEPEST => {
                self.out.push_str("#link(");
                push_literal(&mut self.out, &address);
                self.out.push_str(")[");
                if wordless {
                    self.text(dest, place);
                }
                self.push_closer("]", Nesting::Inline);
            }
            _ => {
                self.link_remark(dest, place);
                self.push_closer(self.written_out(dest, &words), Nesting::Neither);
            }
        }
    }

    /// What follows the words of a link that is not followed: its address, unless it was the words.
    fn written_out(&self, dest: &str, words: &str) -> String {
        let dest = visible(dest, self.rules.covers);
        let mut after = String::new();
        if !dest.text.is_empty() && words != dest.text {
            after.push('#');
            push_literal(&mut after, &single_spaced(&format!(" ({})", dest.text)));
        }
        after
    }

    fn link_remark(&mut self, dest: &str, place: &Range<usize>) {
        let message = if dest.is_empty() {
            "the link has no address".to_owned()
        } else {
            format!("`{dest}` is written out and not linked: only http, https and mailto are")
        };
        self.remarks.add(RemarkKind::LinkNotFollowed, place, message);
        let shown = visible(dest, self.rules.covers);
        self.remarks.named(shown.named, place);
    }

    /// The parser takes `[^a]` for words if there is no such footnote: finds it in what was typed.
    fn unknown_footnotes(&mut self, place: &Range<usize>) {
        let markdown = self.markdown;
        let Some(typed) = markdown.get(place.clone()) else {
            return;
        };
        for (at, _) in typed.match_indices("[^") {
            let start = place.start + at;
            let escaped = markdown.get(..start).is_some_and(|s| s.ends_with('\\'));
            let label = typed.get(at..).and_then(|rest| rest.split_once(']'));
            match label {
                Some((label, _)) if !escaped && !label.contains(char::is_whitespace) => {
                    self.unknown_reference(&(start..start + label.len() + 1));
                }
                _ => {}
            }
        }
    }

    pub(super) fn unknown_reference(&mut self, place: &Range<usize>) {
        let written = self.markdown.get(place.clone()).unwrap_or_default();
        let message = format!("`{written}` refers to nothing in these notes");
        self.remarks.add(RemarkKind::ReferenceUnknown, place, message);
    }

    /// The words within an element, without their marks, as the description of a picture needs.
    pub(super) fn plain_words(&self, index: usize) -> String {
        let mut words = String::new();
        for (event, _) in self.plan.within(index) {
            match event {
                Event::Text(text) | Event::Code(text) | Event::InlineHtml(text) => {
                    words.push_str(text);
                }
                Event::SoftBreak | Event::HardBreak => words.push(' '),
                _ => {}
            }
        }
        words
    }
}

/// Makes one space of each run of spaces, tabs and line ends.
pub(super) fn single_spaced(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        let space = matches!(c, ' ' | '\t' | '\n');
        if !space {
            out.push(c);
        } else if !out.ends_with(' ') {
            out.push(' ');
        }
    }
    out
}
