//! What is said to the writer of the notes.

use std::collections::BTreeMap;
use std::ops::Range;

use super::visible::code_point;

/// Something that the page does not show as the notes ask.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Remark {
    /// Where in the notes, in bytes.
    pub range: Range<usize>,
    /// What it is about.
    pub kind: RemarkKind,
    /// A sentence without a full stop.
    pub message: String,
}

/// What a [`Remark`] is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum RemarkKind {
    /// HTML is shown as the letters typed.
    HtmlShown,
    /// A picture on the network is not fetched.
    PictureRemote,
    /// A picture was not found.
    PictureMissing,
    /// A picture has no description.
    PictureUndescribed,
    /// An address is written out and not linked.
    LinkNotFollowed,
    /// A link or footnote refers to something that is not there.
    ReferenceUnknown,
    /// A footnote that nothing refers to stands at the end.
    FootnoteUnused,
    /// Quotes, lists or emphasis are nested too deep and shown less deep.
    TooDeep,
    /// Characters are shown by their numbers.
    CharactersNamed,
}

/// Collects remarks; those that would come in crowds are told once.
#[derive(Debug, Default)]
pub(super) struct Remarks {
    list: Vec<Remark>,
    named: BTreeMap<char, Range<usize>>,
    deep: Option<Range<usize>>,
}

impl Remarks {
    pub(super) fn add(&mut self, kind: RemarkKind, range: &Range<usize>, message: String) {
        self.list.push(Remark { range: range.clone(), kind, message });
    }

    /// Characters shown by their numbers; one remark tells of all of them.
    pub(super) fn named(&mut self, characters: impl IntoIterator<Item = char>, range: &Range<usize>) {
        for character in characters {
            self.named.entry(character).or_insert_with(|| range.clone());
        }
    }

    /// Something nested too deep; the first is told.
    pub(super) fn too_deep(&mut self, range: &Range<usize>) {
        self.deep.get_or_insert_with(|| range.clone());
    }

    /// All remarks in the order of the text.
    pub(super) fn finish(mut self, deepest: usize) -> Vec<Remark> {
        if let Some(range) = self.deep.take() {
            let message = format!("nested deeper than {deepest} levels, shown at level {deepest}");
            self.add(RemarkKind::TooDeep, &range, message);
        }
        if let Some(range) = self.named.values().min_by_key(|range| range.start) {
            let range = range.clone();
            let message = format!(
                "these characters cannot be printed and are shown by their numbers: {}",
                self.numbers()
            );
            self.add(RemarkKind::CharactersNamed, &range, message);
        }
        self.list.sort_by_key(|remark| (remark.range.start, remark.range.end, remark.kind));
        self.list
    }

    fn numbers(&self) -> String {
        const TOLD: usize = 12;
        let mut numbers: Vec<String> = self.named.keys().take(TOLD).map(|&c| code_point(c)).collect();
        if self.named.len() > TOLD {
            numbers.push(format!("and {} more", self.named.len() - TOLD));
        }
        numbers.join(", ")
    }
}
