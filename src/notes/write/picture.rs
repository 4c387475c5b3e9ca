//! Pictures: shown if they are in the session, else named in words.

use std::ops::Range;

use pulldown_cmark::{Event, Tag};

use super::Writer;
use super::inline::single_spaced;
use crate::notes::ImageUse;
use crate::notes::address;
use crate::notes::literal::push_literal;
use crate::notes::remark::RemarkKind;
use crate::notes::visible::visible;

impl Writer<'_, '_> {
    pub(super) fn holds_picture(&self, index: usize) -> bool {
        self.plan.within(index).iter().any(|(event, _)| matches!(event, Event::Start(Tag::Image { .. })))
    }

    /// Writes a paragraph that is one picture as a figure, its title as the caption; says whether
    /// it did. The caller goes on within the paragraph, where only the picture is.
    pub(super) fn lone_picture(&mut self, paragraph: usize) -> bool {
        let picture = paragraph + 1;
        let Some((Event::Start(Tag::Image { dest_url, .. }), _)) = self.plan.events.get(picture) else {
            return false;
        };
        let alone = self.plan.end(picture) + 1 == self.plan.end(paragraph);
        // Only a picture that can be shown makes a figure; the words for one are a paragraph.
        if !alone || self.found(&address::decode(dest_url)).is_none() {
            return false;
        }
        self.figure = true;
        true
    }

    /// The path of a picture in the Typst world.
    fn found(&self, target: &str) -> Option<String> {
        if target.is_empty() || address::is_remote(target) {
            return None;
        }
        (self.rules.image)(target)
    }

    /// Writes a picture where it stands.
    pub(super) fn picture(&mut self, index: usize, dest: &str, title: &str, place: &Range<usize>) {
        let target = address::decode(dest);
        let alt = single_spaced(self.plain_words(index).trim());
        let caption = std::mem::take(&mut self.figure).then_some(title);
        if !address::is_remote(&target) {
            self.images.push(ImageUse { target: target.clone(), alt: alt.clone(), offset: place.clone() });
        }
        match self.found(&target) {
            Some(path) => self.shown(&path, &target, &alt, caption, place),
            None => self.not_shown(&target, &alt, title, place),
        }
    }

    fn shown(&mut self, path: &str, target: &str, alt: &str, caption: Option<&str>, place: &Range<usize>) {
        let alt = visible(alt, self.rules.covers).text.trim().to_owned();
        let alt = if alt.is_empty() {
            let message = format!("the picture `{target}` has no description for those who cannot see it");
            self.remarks.add(RemarkKind::PictureUndescribed, place, message);
            format!("Picture {target}, not described")
        } else {
            alt
        };
        self.out.push_str(if caption.is_some() { "#figure(image(" } else { "#box(image(" });
        push_literal(&mut self.out, path);
        self.out.push_str(", alt: ");
        self.words(&alt, place);
        self.out.push(')');
        if let Some(caption) = caption {
            // No number: the figures of the report itself are counted.
            self.out.push_str(", numbering: none");
            if !caption.trim().is_empty() {
                self.out.push_str(", caption: [");
                self.text(caption, place);
                self.out.push(']');
            }
        }
        self.out.push_str(if caption.is_some() { ")\n" } else { ")" });
    }

    fn not_shown(&mut self, target: &str, alt: &str, title: &str, place: &Range<usize>) {
        let (kind, trouble, reason) = if address::is_remote(target) {
            (RemarkKind::PictureRemote, "Picture not fetched", "is on the network, which is never asked")
        } else {
            (RemarkKind::PictureMissing, "Picture not found", "was not found")
        };
        self.remarks.add(kind, place, format!("the picture `{target}` {reason}"));
        let words: Vec<&str> = [alt, target, title].into_iter().filter(|word| !word.is_empty()).collect();
        let sentence = if words.is_empty() {
            format!("[{trouble}]")
        } else {
            format!("[{trouble}: {}]", words.join(", "))
        };
        self.text(&sentence, place);
    }
}
