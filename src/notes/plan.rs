//! First pass: the events of the notes, and what must be known before they are written.

use std::cell::RefCell;
use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;

use pulldown_cmark::{BrokenLink, CowStr, Event, LinkType, Options, Parser, Tag, TextMergeWithOffset};

/// The notes as a list of events with marks on it.
pub(super) struct Plan<'a> {
    /// The events, each with its place in the notes; neighbouring texts are one.
    pub(super) events: Vec<(Event<'a>, Range<usize>)>,
    /// For the start of an element, the index of its end; for other events, their own index.
    pub(super) ends: Vec<usize>,
    /// The starts of lists that hold paragraphs ("loose" in the specification).
    pub(super) loose: BTreeSet<usize>,
    /// The starts of footnote definitions, in order.
    pub(super) definitions: Vec<usize>,
    /// For a footnote's label, as [`Plan::definition`] folds it, the start of its definition.
    first_definitions: BTreeMap<String, usize>,
    /// Where a reference is written whose definition is not there.
    pub(super) unknown: BTreeSet<(usize, usize)>,
}

impl Plan<'_> {
    /// The start of the definition that a footnote's label refers to. Letter case does not count.
    pub(super) fn definition(&self, label: &str) -> Option<usize> {
        self.first_definitions.get(&fold(label)).copied()
    }

    /// The events within the element that starts at `start`.
    pub(super) fn within(&self, start: usize) -> &[(Event<'_>, Range<usize>)] {
        self.events.get(start + 1..self.end(start)).unwrap_or_default()
    }

    /// The index of the end of the element that starts at `start`.
    pub(super) fn end(&self, start: usize) -> usize {
        self.ends.get(start).copied().unwrap_or(start)
    }
}

/// Reads the notes.
pub(super) fn read(markdown: &str) -> Plan<'_> {
    let unknown = RefCell::new(BTreeSet::new());
    let note_unknown = |link: BrokenLink<'_>| -> Option<(CowStr<'_>, CowStr<'_>)> {
        // `[sic]` is a word in brackets; `[a][b]` and `[a][]` are meant as references.
        let meant = matches!(link.link_type, LinkType::Reference | LinkType::Collapsed);
        if meant {
            unknown.borrow_mut().insert((link.span.start, link.span.end));
        }
        None
    };
    let options = Options::ENABLE_TABLES
        | Options::ENABLE_FOOTNOTES
        | Options::ENABLE_STRIKETHROUGH
        | Options::ENABLE_TASKLISTS;
    let parser = Parser::new_with_broken_link_callback(markdown, options, Some(note_unknown));
    let events: Vec<_> = TextMergeWithOffset::new(parser.into_offset_iter()).collect();
    mark(events, unknown.into_inner())
}

fn mark(events: Vec<(Event<'_>, Range<usize>)>, unknown: BTreeSet<(usize, usize)>) -> Plan<'_> {
    let mut plan = Plan {
        ends: (0..events.len()).collect(),
        events,
        loose: BTreeSet::new(),
        definitions: Vec::new(),
        first_definitions: BTreeMap::new(),
        unknown,
    };
    let mut open: Vec<usize> = Vec::new();
    for (index, (event, _)) in plan.events.iter().enumerate() {
        match event {
            Event::Start(tag) => {
                match tag {
                    Tag::Paragraph => {
                        plan.loose.extend(list_of_paragraph(&plan.events, &open));
                    }
                    Tag::FootnoteDefinition(label) => {
                        plan.definitions.push(index);
                        plan.first_definitions.entry(fold(label)).or_insert(index);
                    }
                    _ => {}
                }
                open.push(index);
            }
            Event::End(_) => {
                if let Some(end) = open.pop().and_then(|start| plan.ends.get_mut(start)) {
                    *end = index;
                }
            }
            _ => {}
        }
    }
    plan
}

/// The list in whose item a paragraph stands directly.
fn list_of_paragraph(events: &[(Event<'_>, Range<usize>)], open: &[usize]) -> Option<usize> {
    let [.., list, item] = open else { return None };
    let (parent, _) = events.get(*item)?;
    matches!(parent, Event::Start(Tag::Item)).then_some(*list)
}

fn fold(label: &str) -> String {
    label.to_lowercase()
}
