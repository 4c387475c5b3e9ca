//! From a map of YAML to typed fields: each field asked for by name, each mistake said with its
//! place, and what nobody asked for pointed out with the nearest known name.

use std::ops::Range;
use std::sync::Arc;

use crate::quantity::{Difference, Kind, ParseProblem, Quantity, Unit, parse_difference, parse_quantity};

use super::problem::{Place, Problem, Problems, SourceFile, did_you_mean};
use super::tree::{Entry, Node, ScalarKind, Value};

/// The id of something, and where it is named.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Named {
    /// The id.
    pub id: String,
    /// Where it stands.
    pub place: Place,
}

/// A map being read. Call [`Fields::finish`] when every known field was asked for.
#[derive(Clone, Debug)]
pub struct Fields {
    source: Arc<SourceFile>,
    what: String,
    span: Range<usize>,
    entries: Vec<Entry>,
    asked: Vec<&'static str>,
}

impl Fields {
    /// A node as a map; `what` names it in messages ("an instrument").
    pub fn of(node: &Node, source: &Arc<SourceFile>, what: &str, problems: &mut Problems) -> Option<Self> {
        let entries = match &node.value {
            Value::Map(entries) => entries.clone(),
            _ => {
                problems.push(
                    Problem::error(
                        format!("{what} should be a map, found {}", node.words()),
                        place(source, node),
                    )
                    .expected("expected 'name: value' lines")
                    .help("write each field on a line of its own, as 'name: value'; 'asfound start DIR' lays out an example"),
                );
                return None;
            }
        };
        Some(Self {
            source: Arc::clone(source),
            what: what.to_owned(),
            span: node.span.clone(),
            entries,
            asked: Vec::new(),
        })
    }

    /// Everything that is written in it, asked for or not.
    pub fn written_entries(&self) -> &[Entry] {
        &self.entries
    }

    /// The file it stands in.
    pub fn source(&self) -> &Arc<SourceFile> {
        &self.source
    }

    /// The place of the whole map, for a field that is missing from it: its first line.
    pub fn place(&self) -> Place {
        let text = self.source.text.get(self.span.clone()).unwrap_or("");
        let line = text.find('\n').unwrap_or(text.len());
        Place { source: Arc::clone(&self.source), span: self.span.start..self.span.start + line }
    }

    /// The place of a node in the same file.
    pub fn at(&self, node: &Node) -> Place {
        place(&self.source, node)
    }

    /// The field's node, where it is there and holds something.
    pub fn get(&mut self, name: &'static str) -> Option<Node> {
        if !self.asked.contains(&name) {
            self.asked.push(name);
        }
        self.entries
            .iter()
            .find(|entry| entry.key == name)
            .map(|entry| entry.node.clone())
            .filter(|node| !matches!(node.value, Value::Nothing))
    }

    /// Whether the field is written at all, even without a value.
    pub fn written(&self, name: &str) -> bool {
        self.entries.iter().any(|entry| entry.key == name)
    }

    /// The field's node, or a message that it is missing.
    pub fn need(&mut self, name: &'static str, example: &str, problems: &mut Problems) -> Option<Node> {
        let node = self.get(name);
        if node.is_none() {
            let empty = self.entries.iter().find(|entry| entry.key == name);
            let (message, at) = match empty {
                Some(entry) => (
                    format!("'{name}' is empty"),
                    Place { source: Arc::clone(&self.source), span: entry.key_span.clone() },
                ),
                None => (format!("{} has no '{name}'", self.what), self.place()),
            };
            problems.push(
                Problem::error(message, at)
                    .expected(format!("expected '{name}'"))
                    .help(format!("write it, for example: {name}: {example}")),
            );
        }
        node
    }

    /// A text field.
    pub fn text(&mut self, name: &'static str, problems: &mut Problems) -> Option<String> {
        let node = self.get(name)?;
        self.text_of(&node, &format!("'{name}'"), problems)
    }

    /// A text field that must be there.
    pub fn need_text(
        &mut self,
        name: &'static str,
        example: &str,
        problems: &mut Problems,
    ) -> Option<String> {
        let node = self.need(name, example, problems)?;
        let text = self.text_of(&node, &format!("'{name}'"), problems)?;
        if text.trim().is_empty() {
            problems.push(
                Problem::error(format!("'{name}' is empty"), self.at(&node))
                    .expected("expected a text")
                    .help(format!("write it, for example: {name}: {example}")),
            );
            return None;
        }
        Some(text)
    }

    /// A node as a text (a number's characters are taken as they were typed).
    pub fn text_of(&self, node: &Node, what: &str, problems: &mut Problems) -> Option<String> {
        text_of(node, &self.source, what, problems)
    }

    /// A field that names something by its id.
    pub fn named(&mut self, name: &'static str, problems: &mut Problems) -> Option<Named> {
        let node = self.get(name)?;
        let id = self.text_of(&node, &format!("'{name}'"), problems)?;
        Some(Named { id, place: self.at(&node) })
    }

    /// A field that is true or false.
    pub fn truth(&mut self, name: &'static str, problems: &mut Problems) -> Option<bool> {
        let node = self.get(name)?;
        if let Value::Scalar(scalar) = &node.value
            && let ScalarKind::Truth(truth) = scalar.is
        {
            return Some(truth);
        }
        problems.push(
            Problem::error(
                format!("'{name}' should be true or false, found {}", node.words()),
                self.at(&node),
            )
            .expected("expected true or false")
            .help(format!("write '{name}: true' or '{name}: false'")),
        );
        None
    }

    /// A field that is one of a few words.
    pub fn one_of<T: Copy>(
        &mut self,
        name: &'static str,
        words: &[(&'static str, T)],
        problems: &mut Problems,
    ) -> Option<T> {
        let node = self.get(name)?;
        let text = self.text_of(&node, &format!("'{name}'"), problems)?;
        let found = words.iter().find(|(word, _)| *word == text);
        if found.is_none() {
            let known: Vec<&str> = words.iter().map(|(word, _)| *word).collect();
            problems.push(
                Problem::error(format!("'{name}' cannot be '{text}'"), self.at(&node))
                    .expected(format!("expected {}", known.join(", ")))
                    .help(did_you_mean(&text, &known)),
            );
        }
        found.map(|(_, value)| *value)
    }

    /// A plain number above 0 and at most 1.
    pub fn fraction(&mut self, name: &'static str, problems: &mut Problems) -> Option<f64> {
        let node = self.get(name)?;
        let text = self.text_of(&node, &format!("'{name}'"), problems)?;
        let value = text.trim().parse::<f64>().ok().filter(|v| *v > 0.0 && *v <= 1.0);
        if value.is_none() {
            problems.push(
                Problem::error(format!("'{name}' cannot be '{text}'"), self.at(&node))
                    .expected("expected a number above 0 and at most 1")
                    .help("write for example: 0.95"),
            );
        }
        value
    }

    /// A quantity of one of these kinds; a bare number takes `bare` as its unit.
    pub fn quantity(
        &mut self,
        name: &'static str,
        kinds: &[Kind],
        bare: Option<Unit>,
        problems: &mut Problems,
    ) -> Option<Quantity> {
        let node = self.get(name)?;
        quantity_of(&node, &self.source, kinds, bare, problems)
    }

    /// A difference (a resolution, an accuracy, a tolerance).
    pub fn difference(
        &mut self,
        name: &'static str,
        kinds: &[Kind],
        problems: &mut Problems,
    ) -> Option<Difference> {
        let node = self.get(name)?;
        difference_of(&node, &self.source, kinds, problems)
    }

    /// A list field's items.
    pub fn list(&mut self, name: &'static str, problems: &mut Problems) -> Option<Vec<Node>> {
        let node = self.get(name)?;
        list_of(&node, &self.source, &format!("'{name}'"), problems)
    }

    /// A map field's entries, in the order written.
    pub fn map(&mut self, name: &'static str, problems: &mut Problems) -> Option<Vec<Entry>> {
        let node = self.get(name)?;
        let fields = Self::of(&node, &self.source, &format!("'{name}'"), problems)?;
        Some(fields.entries)
    }

    /// All entries, in the order written, for a map whose keys are free.
    pub fn entries(self) -> Vec<Entry> {
        self.entries
    }

    /// Says what was written and never asked for, with the nearest known name.
    pub fn finish(self, problems: &mut Problems) {
        for entry in &self.entries {
            if self.asked.contains(&entry.key.as_str()) {
                continue;
            }
            problems.push(
                Problem::error(
                    format!("{} has no field '{}'", self.what, entry.key),
                    Place { source: Arc::clone(&self.source), span: entry.key_span.clone() },
                )
                .expected("not known here")
                .help(
                    if matches!(entry.node.value, Value::Nothing) && entry.key.contains(' ') {
                        "a text that holds a comma needs quotes between braces".to_owned()
                    } else {
                        did_you_mean(&entry.key, &self.asked)
                    },
                ),
            );
        }
    }
}

/// The place of a node.
pub fn place(source: &Arc<SourceFile>, node: &Node) -> Place {
    Place { source: Arc::clone(source), span: node.span.clone() }
}

/// The place of an entry's key.
pub fn key_place(source: &Arc<SourceFile>, entry: &Entry) -> Place {
    Place { source: Arc::clone(source), span: entry.key_span.clone() }
}

/// A node as a text.
pub fn text_of(node: &Node, source: &Arc<SourceFile>, what: &str, problems: &mut Problems) -> Option<String> {
    if let Value::Scalar(scalar) = &node.value {
        return Some(scalar.text.clone());
    }
    problems.push(
        Problem::error(format!("{what} should be a text, found {}", node.words()), place(source, node))
            .expected("expected a text")
            .help("write the text after the ':'; put it in quotes if it holds ':', '#', '{' or '['"),
    );
    None
}

/// A node as a list.
pub fn list_of(
    node: &Node,
    source: &Arc<SourceFile>,
    what: &str,
    problems: &mut Problems,
) -> Option<Vec<Node>> {
    if let Value::List(items) = &node.value {
        return Some(items.clone());
    }
    problems.push(
        Problem::error(format!("{what} should be a list, found {}", node.words()), place(source, node))
            .expected("expected a list")
            .help("write it in brackets, with commas between: [1, 2, 3]"),
    );
    None
}

fn say(
    result: Result<Quantity, ParseProblem>,
    node: &Node,
    source: &Arc<SourceFile>,
    problems: &mut Problems,
) -> Option<Quantity> {
    match result {
        Ok(value) => Some(value),
        Err(wrong) => {
            problems.push(
                Problem::error(wrong.message, place(source, node))
                    .expected("this cannot be read as a quantity")
                    .help(wrong.help),
            );
            None
        }
    }
}

/// A node as a quantity.
pub fn quantity_of(
    node: &Node,
    source: &Arc<SourceFile>,
    kinds: &[Kind],
    bare: Option<Unit>,
    problems: &mut Problems,
) -> Option<Quantity> {
    let text = text_of(node, source, "a quantity", problems)?;
    say(parse_quantity(&text, kinds, bare), node, source, problems)
}

/// A node as a difference.
pub fn difference_of(
    node: &Node,
    source: &Arc<SourceFile>,
    kinds: &[Kind],
    problems: &mut Problems,
) -> Option<Difference> {
    let text = text_of(node, source, "a quantity", problems)?;
    let read = parse_difference(&text, kinds, None);
    let as_quantity = read.map(|d| Quantity::new(d.value(), d.unit()));
    say(as_quantity, node, source, problems).map(|q| Difference::new(q.value(), q.unit()))
}
