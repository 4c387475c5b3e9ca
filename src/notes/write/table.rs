//! Tables.

use std::fmt::Write as _;

use pulldown_cmark::{Alignment, Event, Tag};

use super::{Nesting, Writer};

impl Writer<'_, '_> {
    pub(super) fn table(&mut self, alignments: &[Alignment]) {
        // Writing to a string cannot fail.
        let _ = write!(self.out, "#table(columns: {}, align: (", alignments.len());
        for alignment in alignments {
            self.out.push_str(match alignment {
                Alignment::None => "auto, ",
                Alignment::Left => "left, ",
                Alignment::Center => "center, ",
                Alignment::Right => "right, ",
            });
        }
        self.out.push_str("), ");
        self.push_closer(")\n", Nesting::Neither);
    }

    /// The row of heads. It comes again on each page, but not if there is a link in it: PDF/UA-1
    /// forbids links in what is repeated (typst-pdf 0.15.1 refuses it).
    pub(super) fn table_head(&mut self, index: usize) {
        let links =
            self.plan.within(index).iter().any(|(event, _)| {
                matches!(event, Event::Start(Tag::Link { .. }) | Event::FootnoteReference(_))
            });
        self.out.push_str("table.header(");
        if links {
            self.out.push_str("repeat: false, ");
        }
        self.push_closer("), ", Nesting::Neither);
    }

    /// A cell. The parser gives every row as many as the head has (GFM 0.29, 4.10).
    pub(super) fn table_cell(&mut self) {
        self.out.push('[');
        self.push_closer("], ", Nesting::Neither);
    }
}
