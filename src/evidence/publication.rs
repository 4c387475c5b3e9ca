//! What a report publishes of a session's files, and what it says of that to a program that reads it again.

use std::collections::BTreeMap;

use serde_json::{Value, json};

use super::{Item, Listed};

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

/// A session's files as they are published: listed as the list has them, with the bytes that were found. Without a
/// list, they are what they were found to be. A file of the list that was not found does not travel; one that was
/// found and is not listed is left out.
pub fn listed_as(found: Vec<Item>, list: Option<&[Listed]>) -> Vec<Item> {
    let Some(list) = list else {
        return found;
    };
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
        "positions": publication.positions.word(),
        "altered": altered,
        "sizes": sizes,
        "templates": templates,
    });
    format!("{made:#}\n")
}
