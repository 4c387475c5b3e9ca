//! Second pass: the events become Typst markup.
//!
//! A flat loop with a stack of its own, so that no nesting in the notes can exhaust the call
//! stack; only footnotes within footnotes recurse, [`NOTES_DEEPEST`] levels at most.
//!
//! What is written is a run of `#call(…)[…]` and `#"literal"`, with nothing between them but
//! spaces and line ends. No letter of the notes is ever outside a literal.

mod footnote;
mod inline;
mod picture;
mod table;

use std::borrow::Cow;
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::ops::Range;

use pulldown_cmark::{Event, HeadingLevel, Tag};

use super::literal::push_literal;
use super::plan::Plan;
use super::remark::{RemarkKind, Remarks};
use super::visible::visible;
use super::{Converted, ImageUse, Rules};

/// How many quotes and lists, and how many emphases, may stand in one another. Typst gives up at
/// 64 show rules within one another (typst-library 0.15.1, `MAX_SHOW_RULE_DEPTH`) and needs some
/// four for a quote; the template needs some as well.
const DEEPEST: usize = 8;

/// How many footnotes may stand in one another.
const NOTES_DEEPEST: usize = 3;

/// The deepest heading that PDF 1.7 knows (ISO 32000-1, 14.8.4.3.2: H1 to H6).
const DEEPEST_HEADING: usize = 6;

/// Writes the notes as Typst markup.
pub(super) fn write(markdown: &str, plan: &Plan<'_>, rules: &Rules<'_>) -> Converted {
    let mut writer = Writer {
        markdown,
        plan,
        rules,
        out: String::with_capacity(markdown.len() * 2),
        images: Vec::new(),
        remarks: Remarks::default(),
        open: Vec::new(),
        depth: Depth::default(),
        headings: Vec::new(),
        figure: false,
        footnotes: BTreeMap::new(),
    };
    for &(start, end) in &plan.unknown {
        writer.unknown_reference(&(start..end));
    }
    writer.span(0..plan.events.len());
    writer.left_over_footnotes();
    Converted { typst: writer.out, images: writer.images, remarks: writer.remarks.finish(DEEPEST) }
}

/// What is to be written when an element ends.
struct Closer {
    text: Cow<'static, str>,
    kind: Nesting,
}

/// Which depth an element counts to.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Nesting {
    Neither,
    Block,
    Inline,
}

#[derive(Clone, Copy, Default)]
struct Depth {
    blocks: usize,
    inlines: usize,
    footnotes: usize,
}

struct Writer<'p, 'a> {
    markdown: &'p str,
    plan: &'p Plan<'a>,
    rules: &'p Rules<'p>,
    out: String,
    images: Vec<ImageUse>,
    remarks: Remarks,
    open: Vec<Closer>,
    depth: Depth,
    /// The levels, as written, of the headings that stand above this place.
    headings: Vec<HeadingLevel>,
    /// Whether the picture that comes next is a figure.
    figure: bool,
    /// The number of each footnote already written, by the start of its definition.
    footnotes: BTreeMap<usize, usize>,
}

impl<'p, 'a> Writer<'p, 'a> {
    /// Writes the events of a range that holds whole elements.
    fn span(&mut self, range: Range<usize>) {
        let plan: &'p Plan<'a> = self.plan;
        let mut index = range.start;
        while index < range.end {
            let Some((event, place)) = plan.events.get(index) else {
                return;
            };
            index = match event {
                Event::Start(tag) => self.start(index, tag, place),
                Event::End(_) => {
                    self.close();
                    index + 1
                }
                event => {
                    self.leaf(event, place);
                    index + 1
                }
            };
        }
    }

    /// Opens an element, or writes it whole; gives the index to go on from.
    fn start(&mut self, index: usize, tag: &Tag<'_>, place: &Range<usize>) -> usize {
        match tag {
            Tag::Paragraph => self.paragraph(index),
            Tag::Heading { level, .. } => self.heading(index, *level),
            Tag::BlockQuote(_) => self.block(place, "#quote(block: true)[", "]\n"),
            Tag::List(first) => self.list(index, *first, place),
            Tag::Item => self.item(),
            Tag::CodeBlock(_) => return self.code_block(index, place),
            Tag::HtmlBlock => return self.html_block(index, place),
            Tag::FootnoteDefinition(_) => return self.plan.end(index) + 1,
            Tag::Table(alignments) => self.table(alignments),
            Tag::TableHead => self.table_head(index),
            Tag::TableCell => self.table_cell(),
            Tag::Emphasis => self.inline(place, "#emph["),
            Tag::Strong => self.inline(place, "#strong["),
            Tag::Strikethrough => self.inline(place, "#strike["),
            Tag::Link { link_type, dest_url, .. } => self.link(index, *link_type, dest_url, place),
            Tag::Image { dest_url, title, .. } => {
                self.picture(index, dest_url, title, place);
                return self.plan.end(index) + 1;
            }
            // A row is the run of its cells. Extensions that are not switched on stand as they are.
            _ => self.open_plain(),
        }
        index + 1
    }

    fn push_closer(&mut self, text: impl Into<Cow<'static, str>>, kind: Nesting) {
        match kind {
            Nesting::Block => self.depth.blocks += 1,
            Nesting::Inline => self.depth.inlines += 1,
            Nesting::Neither => {}
        }
        self.open.push(Closer { text: text.into(), kind });
    }

    fn open_plain(&mut self) {
        self.push_closer("", Nesting::Neither);
    }

    fn close(&mut self) {
        let Some(closer) = self.open.pop() else {
            return;
        };
        match closer.kind {
            Nesting::Block => self.depth.blocks = self.depth.blocks.saturating_sub(1),
            Nesting::Inline => self.depth.inlines = self.depth.inlines.saturating_sub(1),
            Nesting::Neither => {}
        }
        self.out.push_str(&closer.text);
    }

    /// Opens a block that others may stand in; too deep, its content stands in the block around.
    fn block(&mut self, place: &Range<usize>, before: &str, after: &'static str) {
        if self.depth.blocks < DEEPEST {
            self.out.push_str(before);
            self.push_closer(after, Nesting::Block);
        } else {
            self.remarks.too_deep(place);
            self.open_plain();
        }
    }

    /// A paragraph; a picture that stands alone in one is a figure.
    fn paragraph(&mut self, index: usize) {
        if self.lone_picture(index) {
            self.open_plain();
        } else {
            self.out.push_str("#par[");
            self.push_closer("]\n", Nesting::Neither);
        }
    }

    fn heading(&mut self, index: usize, level: HeadingLevel) {
        let has_words = self.has_words(index);
        if !has_words {
            // PDF/UA-1 refuses a heading without words, and there is no outline entry to make.
            return if self.plan.within(index).is_empty() {
                self.open_plain();
            } else {
                self.out.push_str("#par[");
                self.push_closer("]\n", Nesting::Neither);
            };
        }
        if self.depth.footnotes > 0 {
            // At the foot of a page it heads nothing.
            self.out.push_str("#par[#strong[");
            return self.push_closer("]]\n", Nesting::Neither);
        }
        while self.headings.last().is_some_and(|&above| above >= level) {
            self.headings.pop();
        }
        let highest = usize::from(self.rules.heading_level.max(1));
        let level_in_report = (highest + self.headings.len()).min(DEEPEST_HEADING);
        self.headings.push(level);
        // Writing to a string cannot fail.
        let _ = write!(self.out, "#heading(level: {level_in_report}");
        if self.depth.blocks > 0 {
            // A heading that is quoted or listed is no part of the report's own outline.
            self.out.push_str(", numbering: none, outlined: false, bookmarked: false");
        }
        self.out.push_str(")[");
        self.push_closer("]\n", Nesting::Neither);
    }

    /// Whether any of the events within an element is a letter; those in a picture are not.
    fn has_words(&self, index: usize) -> bool {
        let end = self.plan.end(index);
        let mut at = index + 1;
        while at < end {
            match self.plan.events.get(at) {
                Some((Event::Text(text) | Event::Code(text) | Event::InlineHtml(text), _))
                    if !visible(text, self.rules.covers).text.trim().is_empty() =>
                {
                    return true;
                }
                Some((Event::Start(Tag::Image { .. }), _)) => at = self.plan.end(at),
                _ => {}
            }
            at += 1;
        }
        false
    }

    fn list(&mut self, index: usize, first: Option<u64>, place: &Range<usize>) {
        let tight = !self.plan.loose.contains(&index);
        let mut before = String::new();
        let _ = match first {
            None => write!(before, "#list(tight: {tight}, "),
            Some(first) => write!(before, "#enum(tight: {tight}, start: {first}, "),
        };
        if first.is_some() && self.ends_number_with_bracket(place) {
            before.push_str("numbering: \"1)\", ");
        }
        self.block(place, &before, ")\n");
    }

    /// Whether an ordered list is written `1)` and not `1.`.
    fn ends_number_with_bracket(&self, place: &Range<usize>) -> bool {
        self.markdown
            .get(place.clone())
            .and_then(|list| list.trim_start().chars().find(|c| !c.is_ascii_digit()))
            == Some(')')
    }

    fn item(&mut self) {
        // The list itself is the last element opened; if it was too deep it has no calls.
        let in_list = self.open.last().is_some_and(|closer| closer.kind == Nesting::Block);
        if in_list {
            self.out.push('[');
            self.push_closer("], ", Nesting::Neither);
        } else {
            self.out.push_str("#parbreak()");
            self.push_closer("#parbreak()", Nesting::Neither);
        }
    }

    fn code_block(&mut self, index: usize, place: &Range<usize>) -> usize {
        let code = self.joined(index);
        self.raw_block(&code, place);
        self.plan.end(index) + 1
    }

    fn html_block(&mut self, index: usize, place: &Range<usize>) -> usize {
        let html = self.joined(index);
        if crate::typed::is_meant(&html) {
            return self.plan.end(index) + 1;
        }
        self.raw_block(&html, place);
        self.html_remark(place);
        self.plan.end(index) + 1
    }

    /// The texts within a code or HTML block.
    fn joined(&self, index: usize) -> String {
        let texts = self.plan.within(index).iter();
        texts
            .filter_map(|(event, _)| match event {
                Event::Text(text) | Event::Html(text) => Some(text.as_ref()),
                _ => None,
            })
            .collect()
    }

    /// A block of letters as typed. No language is given: colouring by a grammar for programmers
    /// means nothing on this page, and its time is not bounded.
    fn raw_block(&mut self, text: &str, place: &Range<usize>) {
        self.out.push_str("#raw(block: true, ");
        self.words(text.strip_suffix('\n').unwrap_or(text), place);
        self.out.push_str(")\n");
    }

    /// Writes a literal of what is visible of `text`.
    fn words(&mut self, text: &str, place: &Range<usize>) {
        let shown = visible(text, self.rules.covers);
        self.remarks.named(shown.named, place);
        push_literal(&mut self.out, &shown.text);
    }

    fn html_remark(&mut self, place: &Range<usize>) {
        let message = "HTML is not interpreted, it is shown as typed".to_owned();
        self.remarks.add(RemarkKind::HtmlShown, place, message);
    }
}
