//! Which values of a session are private, and where they stand.

use std::fs;
use std::ops::Range;
use std::sync::Arc;

use super::super::problem::{Problems, SourceFile};
use super::super::tree::{self, Node, ScalarKind, Value};
use super::super::walls::Walls;

/// A YAML file larger than this is no hand-written session.
const MOST_YAML: u64 = 8 << 20;
/// Shorter values than this many letters and digits stand in too many texts by chance.
const SHORTEST: usize = 4;

/// A private value.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Private {
    /// The value, or another way to write it.
    pub text: String,
    /// What it is: `serial of saw`.
    pub what: String,
    /// Whether it is the name of a person, or of whom a letter goes to.
    pub is_name: bool,
}

impl Private {
    /// Whether it is looked for in texts other than its own field.
    pub fn is_searched(&self) -> bool {
        self.text.chars().filter(|c| c.is_alphanumeric()).count() >= SHORTEST
    }

    /// The words of a person's name by which they could be known alone: those with a capital letter and four letters.
    pub(super) fn names(&self) -> impl Iterator<Item = &str> {
        let is_name = |word: &&str| {
            self.is_name
                && word.chars().count() >= SHORTEST
                && word.starts_with(char::is_uppercase)
                && word.chars().all(char::is_alphabetic)
        };
        self.text.split(|c: char| !c.is_alphanumeric()).filter(is_name)
    }

    /// Whether it could be a reading: then it is not looked for among readings.
    pub(super) fn is_a_number(&self) -> bool {
        !self.text.contains(char::is_alphabetic)
    }
}

/// A field that holds a private value.
pub(super) struct Field {
    /// What it is.
    pub(super) what: String,
    /// The bytes that it stands on.
    pub(super) span: Range<usize>,
    /// What it holds.
    pub(super) text: String,
    kind: Kind,
}

/// What is done with a value beside looking for it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Kind {
    /// Parts of it are pointed out.
    Name,
    /// It is looked for in other spellings.
    Price,
    Other,
}

/// A YAML file of a session as a tree; `None` where there is none that can be read.
pub(super) fn parsed(walls: &Walls, path: &str) -> Option<(Arc<SourceFile>, Node)> {
    let bytes = walls.bytes(path, MOST_YAML).ok()?;
    let text = String::from_utf8(bytes).ok()?;
    let source = Arc::new(SourceFile::whole(path, text.trim_start_matches('\u{feff}')));
    let node = tree::read(&source, &mut Problems::default())?;
    Some((source, node))
}

/// The folders of a session's visits.
fn visits(walls: &Walls) -> Vec<String> {
    let entries = fs::read_dir(walls.root().join("visits")).into_iter().flatten().flatten();
    let mut names: Vec<String> =
        entries.map(|entry| entry.file_name().to_string_lossy().into_owned()).collect();
    names.sort();
    names
}

/// The sessions that a session is compared with.
pub(super) fn others(walls: &Walls) -> Vec<Walls> {
    let Some((_, root)) = parsed(walls, "session.yaml") else { return Vec::new() };
    let mut found: Vec<Walls> = Vec::new();
    for (_, comparison) in entries(get(&root, "compare")) {
        for side in ["before", "after"] {
            let named = get(comparison, side).and_then(|side| get(side, "session")).and_then(scalar);
            let other = named.and_then(|path| Walls::around(&walls.root().join(path)).ok());
            found.extend(other.filter(|other| other.root() != walls.root()));
        }
    }
    found.sort_by(|a, b| a.root().cmp(b.root()));
    found.dedup_by(|a, b| a.root() == b.root());
    found
}

/// Gathers the private values of a session, each once, the longest first: a value that holds another is found whole.
pub(super) fn gather(walls: &Walls, list: &mut Vec<Private>) {
    let mut fields = Vec::new();
    if let Some((_, root)) = parsed(walls, "session.yaml") {
        fields.extend(of_session(&root));
    }
    for visit in visits(walls) {
        if let Some((_, root)) = parsed(walls, &format!("visits/{visit}/visit.yaml")) {
            fields.extend(of_visit(&root));
        }
    }
    for field in fields {
        let texts = if field.kind == Kind::Price { prices(&field.text) } else { vec![field.text.clone()] };
        for text in texts {
            let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
            let known = list.iter().any(|known| known.text == text);
            if !known && !text.is_empty() && text != super::WITHHELD {
                list.push(Private { text, what: field.what.clone(), is_name: field.kind == Kind::Name });
            }
        }
    }
    list.sort_by(|a, b| (b.text.len(), &a.text).cmp(&(a.text.len(), &b.text)));
}

/// The private fields of session.yaml: who prepared it, both parties of the letter, of each machine its serial
/// number, seller, order number and price, and of each instrument its serial number.
pub(super) fn of_session(root: &Node) -> Vec<Field> {
    let mut fields = Vec::new();
    put(&mut fields, "who prepared it", get(root, "prepared_by"), Kind::Name);
    for (id, machine) in entries(get(root, "machines")) {
        for field in ["serial", "seller", "order", "price"] {
            put(
                &mut fields,
                &format!("{field} of {id}"),
                get(machine, field),
                if field == "price" { Kind::Price } else { Kind::Other },
            );
        }
    }
    for (id, instrument) in entries(get(root, "instruments")) {
        put(&mut fields, &format!("serial of {id}"), get(instrument, "serial"), Kind::Other);
    }
    if let Some(letter) = get(root, "letter") {
        for side in ["from", "to"] {
            for (field, node) in entries(get(letter, side)) {
                put(
                    &mut fields,
                    &format!("{field} in the letter"),
                    Some(node),
                    if field == "name" { Kind::Name } else { Kind::Other },
                );
            }
        }
    }
    fields
}

/// The private field of visit.yaml: who took the readings.
pub(super) fn of_visit(root: &Node) -> Vec<Field> {
    let mut fields = Vec::new();
    put(&mut fields, "who took the readings", get(root, "by"), Kind::Name);
    fields
}

/// Adds a scalar, or every scalar of a list.
fn put(fields: &mut Vec<Field>, what: &str, node: Option<&Node>, kind: Kind) {
    let Some(node) = node else { return };
    match &node.value {
        Value::Scalar(value) => fields.push(Field {
            what: what.to_owned(),
            span: node.span.clone(),
            text: value.text.clone(),
            kind,
        }),
        Value::List(nodes) => nodes.iter().for_each(|node| put(fields, what, Some(node), kind)),
        Value::Map(entries) => entries.iter().for_each(|entry| put(fields, what, Some(&entry.node), kind)),
        Value::Nothing => {}
    }
}

/// The ways in which a price is likely written in a text: `$1,849.00`, `$1,849`, `$1849`, `1,849.00`, `1849.00`.
fn prices(text: &str) -> Vec<String> {
    let is_of_number = |c: char| c.is_ascii_digit() || matches!(c, ',' | '.');
    let (Some(start), Some(end)) = (text.find(|c: char| c.is_ascii_digit()), text.rfind(is_of_number)) else {
        return vec![text.to_owned()];
    };
    let (before, number, after) = (&text[..start], &text[start..=end], &text[end + 1..]);
    let whole = [".00", ",00"].iter().find_map(|cents| number.strip_suffix(cents)).unwrap_or(number);
    let mut texts = vec![text.to_owned()];
    for number in [number.to_owned(), number.replace(',', ""), whole.to_owned(), whole.replace(',', "")] {
        texts.push(format!("{before}{number}{after}"));
        // A whole number alone could be anything.
        if number.contains(['.', ',']) {
            texts.push(number);
        }
    }
    texts
}

/// The names of a session's machines, which are not private.
pub(super) fn machines(walls: &Walls) -> String {
    let Some((_, root)) = parsed(walls, "session.yaml") else { return String::new() };
    let names =
        entries(get(&root, "machines")).into_iter().filter_map(|(_, machine)| scalar(get(machine, "name")?));
    names.collect::<Vec<_>>().join(" ")
}

fn get<'a>(node: &'a Node, name: &str) -> Option<&'a Node> {
    match &node.value {
        Value::Map(entries) => entries.iter().find(|entry| entry.key == name).map(|entry| &entry.node),
        _ => None,
    }
}

fn entries(node: Option<&Node>) -> Vec<(&str, &Node)> {
    match node.map(|node| &node.value) {
        Some(Value::Map(entries)) => entries.iter().map(|entry| (entry.key.as_str(), &entry.node)).collect(),
        _ => Vec::new(),
    }
}

fn scalar(node: &Node) -> Option<&str> {
    match &node.value {
        Value::Scalar(scalar) => Some(&scalar.text),
        _ => None,
    }
}

/// Whether a node is a text that a person wrote, and no number.
pub(super) fn is_text(node: &Node) -> bool {
    matches!(&node.value, Value::Scalar(scalar) if scalar.is == ScalarKind::Text)
}
