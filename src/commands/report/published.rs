//! What a report publishes of a session's files, and what is said of that.

use crate::evidence::position::position;
use crate::evidence::{self, Item, Known, Publication};
use crate::session::withheld::Private;
use crate::session::{Problems, Session};

/// The session's files as they are published.
pub(super) fn files(
    session: &Session,
    (publication, known): (Publication, Known<'_>),
    problems: &mut Problems,
) -> Vec<Item> {
    let mut files = evidence::inventory_knowing(session, known, problems);
    if publication.strips_positions() {
        let shown = |path: &str| {
            session.visits.iter().flat_map(|visit| &visit.photos).any(|photo| photo.file == path)
        };
        files = evidence::without_positions(files, publication, &shown, problems);
    }
    if let Known::List(list) = known {
        return evidence::listed_as(files, list);
    }
    if session.masks.none() {
        return files;
    }
    evidence::listed_as(files, &evidence::list_of(session, &mut Problems::default()))
}

/// What is to be known of the files that travel: what was withheld, and where they tell of places.
pub(super) fn said(publication: Publication, files: &[Item]) -> Vec<String> {
    let pictures = |wanted: &dyn Fn(&&Item) -> bool| {
        files.iter().filter(|item| item.mime.starts_with("image/")).filter(wanted).count()
    };
    let mut said = Vec::new();
    if publication.public {
        let masked = files.iter().filter(|item| item.altered && !item.mime.starts_with("image/")).count();
        let travel = if masked == 1 { "1 file travels" } else { &format!("{masked} files travel") };
        said.push(format!(
            "a copy for publication: private values read 'withheld' in it, and {travel} masked; sound and other files \
             that are no text were not searched"
        ));
    }
    if publication.strips_positions() {
        match pictures(&|item| item.altered) {
            0 if publication.public => {}
            0 => said.push("no picture had to be changed: none holds a place".to_owned()),
            1 => said.push("1 picture is published without the place where it was taken".to_owned()),
            many => {
                said.push(format!("{many} pictures are published without the places where they were taken"));
            }
        }
        return said;
    }
    let option = "--strip-positions takes it out";
    match pictures(&|item| item.bytes.as_deref().is_some_and(|bytes| position(bytes).is_some())) {
        0 => {}
        1 => said.push(format!("1 picture in the report holds the place where it was taken; {option}")),
        many => {
            said.push(format!(
                "{many} pictures in the report hold the place where they were taken; {option}"
            ));
        }
    }
    said
}

/// Said where masking was not enough.
pub(in crate::commands) fn still_held(value: &Private) -> String {
    format!(
        "a private value ({}) would still be published, so nothing was written: it is written in some other way \
         there, or an own template has it; write it as in its own field, or take it out",
        value.what
    )
}
