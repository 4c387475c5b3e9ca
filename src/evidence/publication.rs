//! What a report publishes of a session's files, and what it says of that to a program that reads it again.

use std::collections::BTreeMap;

use serde_json::{Value, json};

use super::position::{Cleaned, People, cleaned};
use super::{Item, Listed};
use crate::session::{Problem, Problems};

/// What becomes of the places where photographs were taken, as far as cameras wrote them into the files.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Positions {
    /// The files travel with what they hold; no page shows it.
    #[default]
    AsTheyAre,
    /// Printed under the photographs.
    Shown,
    /// Taken out of the files that travel.
    Stripped,
}

impl Positions {
    const WORDS: [(&'static str, Self); 3] =
        [("as they are", Self::AsTheyAre), ("shown", Self::Shown), ("stripped", Self::Stripped)];

    /// As made.json says it.
    pub fn word(self) -> &'static str {
        match self {
            Self::AsTheyAre => "as they are",
            Self::Shown => "shown",
            Self::Stripped => "stripped",
        }
    }

    /// What made.json said.
    pub fn of(word: &str) -> Option<Self> {
        Self::WORDS.iter().find(|(known, _)| *known == word).map(|(_, positions)| *positions)
    }
}

/// How a report was asked to be published.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Publication {
    /// Without what is private: the session that it is made from is then a masked one.
    pub public: bool,
    /// What becomes of positions.
    pub positions: Positions,
}

impl Publication {
    /// Whether positions are taken out of what travels: they are private.
    pub fn strips_positions(self) -> bool {
        self.public || self.positions == Positions::Stripped
    }
}

/// The files without the places where photographs were taken. One that cannot be published without does not travel;
/// where it is `shown` in the report, that is an error.
pub fn without_positions(
    items: Vec<Item>,
    publication: Publication,
    shown: &dyn Fn(&str) -> bool,
    problems: &mut Problems,
) -> Vec<Item> {
    let people = if publication.public { People::LeftOut } else { People::Kept };
    let published = items.into_iter().map(|item| {
        let made = item.bytes.as_deref().and_then(|bytes| cleaned(bytes, people));
        match made {
            None | Some(Cleaned::AsItWas) => item,
            Some(Cleaned::Without(bytes)) => Item { bytes: Some(bytes), altered: true, ..item },
            Some(Cleaned::Bare(bytes)) => {
                problems.push(
                    Problem::folder(format!(
                        "what {} holds beside its picture cannot be understood; it is published without any of it",
                        item.path
                    ))
                    .warning()
                    .help("if it now lies on its side, turn it with an image program and save it again"),
                );
                Item { bytes: Some(bytes), altered: true, ..item }
            }
            Some(Cleaned::Unsafe) => {
                let said = format!("{} may hold a position that cannot be taken out", item.path);
                problems.push(if shown(&item.path) {
                    Problem::folder(said).help("export the picture again as .jpg or .png")
                } else {
                    Problem::folder(said + "; it is listed and does not travel in the report").warning()
                });
                Item { bytes: None, ..item }
            }
        }
    });
    published.collect()
}

/// A session's files as they are published: listed as the list has them, with the bytes that were found. Without a
/// list, they are what they were found to be. A file of the list that was not found does not travel; one that was
/// found and is not listed is left out.
pub fn listed_as(found: Vec<Item>, list: &[Listed]) -> Vec<Item> {
    let mut found: BTreeMap<String, Item> = found.into_iter().map(|item| (item.path.clone(), item)).collect();
    let published = list.iter().map(|listed| {
        let item = found.remove(&listed.path);
        let altered = item.as_ref().is_some_and(|item| item.altered || item.sha256 != listed.sha256);
        Item {
            path: listed.path.clone(),
            size: listed.size.or(item.as_ref().map(|item| item.size)).unwrap_or_default(),
            sha256: listed.sha256.clone(),
            mime: super::mime_of(&listed.path),
            altered,
            bytes: item.and_then(|item| item.bytes),
        }
    });
    published.collect()
}

/// made.json: what a report says of its own making. `sizes` has the files whose size does not follow from the bytes
/// that travel. `templates` are those that the session does not hold itself, with their hashes.
pub fn made_json(
    program: &str,
    number: &str,
    publication: Publication,
    files: &[Item],
    templates: &[(String, String)],
) -> String {
    let altered: Vec<&str> =
        files.iter().filter(|item| item.altered).map(|item| item.path.as_str()).collect();
    let sizes: serde_json::Map<String, Value> = files
        .iter()
        .filter(|item| item.altered || item.bytes.is_none())
        .map(|item| (item.path.clone(), item.size.into()))
        .collect();
    let templates: Vec<Value> =
        templates.iter().map(|(name, sha256)| json!({"name": name, "sha256": sha256})).collect();
    let made = json!({
        "program": program,
        "number": number,
        "public": publication.public,
        "positions": if publication.strips_positions() { Positions::Stripped } else { publication.positions }.word(),
        "altered": altered,
        "sizes": sizes,
        "templates": templates,
    });
    format!("{made:#}\n")
}
