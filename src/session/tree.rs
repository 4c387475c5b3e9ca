//! YAML as a tree whose every node knows where it stands.
//!
//! `saphyr-parser` gives the events with their places; what a plain scalar is (a number or a
//! text) is `serde_yaml`'s word, so that the rules of YAML are nobody's guess. Anchors may be
//! used; a file that grows through them beyond [`MOST_NODES`] is refused.

use std::collections::BTreeMap;
use std::ops::Range;
use std::sync::Arc;

use saphyr_parser::{Event, Marker, Parser, ScalarStyle, Span};

use super::problem::{Place, Problem, Problems, SourceFile};

/// Nesting deeper than this is no session.
pub(super) const MOST_DEPTH: usize = 32;
/// More nodes than this, anchors followed, are no session: about 200,000 typed readings.
pub(super) const MOST_NODES: usize = 400_000;

/// A value in a YAML file and the bytes it stands on.
#[derive(Clone, Debug)]
pub struct Node {
    /// Bytes of the file.
    pub span: Range<usize>,
    /// What stands there.
    pub value: Value,
}

/// What stands at a node.
#[derive(Clone, Debug)]
pub enum Value {
    /// Nothing, `~` or `null`.
    Nothing,
    /// A text or a number, as it was written.
    Scalar(Scalar),
    /// A list.
    List(Vec<Node>),
    /// A map, in the order written, each key once.
    Map(Vec<Entry>),
}

/// A text or a number.
#[derive(Clone, Debug)]
pub struct Scalar {
    /// The characters written, escapes resolved.
    pub text: String,
    /// What YAML takes it for.
    pub is: ScalarKind,
}

/// What YAML takes a scalar for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ScalarKind {
    /// A text (all quoted scalars are).
    Text,
    /// A number.
    Number(f64),
    /// `true` or `false`.
    Truth(bool),
}

/// A key with its value.
#[derive(Clone, Debug)]
pub struct Entry {
    /// The key's text.
    pub key: String,
    /// Where the key stands.
    pub key_span: Range<usize>,
    /// What it holds.
    pub node: Node,
}

impl Node {
    /// In words, for "expected …, found …".
    pub fn words(&self) -> &'static str {
        match &self.value {
            Value::Nothing => "nothing",
            Value::Scalar(scalar) => match scalar.is {
                ScalarKind::Text => "a text",
                ScalarKind::Number(_) => "a number",
                ScalarKind::Truth(_) => "true or false",
            },
            Value::List(_) => "a list",
            Value::Map(_) => "a map",
        }
    }

    fn count(&self) -> usize {
        1 + match &self.value {
            Value::Nothing | Value::Scalar(_) => 0,
            Value::List(list) => list.iter().map(Self::count).sum(),
            Value::Map(entries) => entries.iter().map(|entry| 1 + entry.node.count()).sum(),
        }
    }

    fn depth(&self) -> usize {
        1 + match &self.value {
            Value::Nothing | Value::Scalar(_) => 0,
            Value::List(list) => list.iter().map(Self::depth).max().unwrap_or(0),
            Value::Map(entries) => entries.iter().map(|e| e.node.depth()).max().unwrap_or(0),
        }
    }
}

/// Reads a file's text to a tree. What is wrong goes to `problems`; the tree is given where the
/// text could be understood at all.
pub(super) fn read(source: &Arc<SourceFile>, problems: &mut Problems) -> Option<Node> {
    let mut builder = Builder {
        source,
        bytes: byte_offsets(&source.text),
        open: Vec::new(),
        anchors: BTreeMap::new(),
        nodes: 0,
        root: None,
        problems,
    };
    for event in Parser::new_from_str(&source.text) {
        match event {
            Ok((event, span)) => {
                if !builder.take(event, span) {
                    return None;
                }
            }
            Err(error) => {
                let at = builder.at(*error.marker());
                builder.say_syntax(at, error.info());
                return None;
            }
        }
    }
    builder.root
}

/// The byte at which each character begins; empty where every character is one byte.
fn byte_offsets(text: &str) -> Vec<usize> {
    if text.is_ascii() {
        return Vec::new();
    }
    text.char_indices().map(|(index, _)| index).collect()
}

enum Open {
    List {
        start: usize,
        anchor: usize,
        items: Vec<Node>,
    },
    Map {
        start: usize,
        anchor: usize,
        entries: Vec<Entry>,
        /// Where each key stands among the entries.
        seen: BTreeMap<String, usize>,
        key: Option<(String, Range<usize>)>,
    },
}

struct Builder<'a> {
    source: &'a Arc<SourceFile>,
    bytes: Vec<usize>,
    open: Vec<Open>,
    anchors: BTreeMap<usize, Node>,
    nodes: usize,
    root: Option<Node>,
    problems: &'a mut Problems,
}

impl Builder<'_> {
    fn at(&self, marker: Marker) -> usize {
        if self.bytes.is_empty() {
            return marker.index().min(self.source.text.len());
        }
        self.bytes.get(marker.index()).copied().unwrap_or(self.source.text.len())
    }

    fn range(&self, span: Span) -> Range<usize> {
        let start = self.at(span.start);
        start..self.at(span.end).max(start)
    }

    fn place(&self, span: Range<usize>) -> Place {
        Place { source: Arc::clone(self.source), span }
    }

    fn say_syntax(&mut self, at: usize, info: &str) {
        let line_start = self.source.text[..at].rfind('\n').map_or(0, |index| index + 1);
        let indent_tab = self.source.text[line_start..]
            .chars()
            .take_while(|c| c.is_whitespace() && *c != '\n')
            .any(|c| c == '\t');
        let help = if indent_tab {
            "indent with spaces: YAML does not allow tabs there"
        } else {
            "look for a missing quote, bracket or colon, or lines indented differently, here or just above"
        };
        let place = self.place(at..at);
        self.problems.push(
            Problem::error(format!("this is not YAML: {info}"), place)
                .expected("the reader stopped here")
                .help(help),
        );
    }

    /// Takes one event; `false` where reading must stop.
    fn take(&mut self, event: Event<'_>, span: Span) -> bool {
        let range = self.range(span);
        self.nodes += 1;
        if self.nodes > MOST_NODES {
            return self.too_large(range);
        }
        match event {
            Event::Scalar(text, style, anchor, _) => {
                let closer = match style {
                    ScalarStyle::DoubleQuoted => '"',
                    ScalarStyle::SingleQuoted => '\'',
                    _ => ' ',
                };
                let node = Node {
                    span: range.start..self.closed(range.start, range.end, closer),
                    value: scalar(&text, style),
                };
                return self.keep(anchor, node);
            }
            Event::Alias(anchor) => return self.follow(anchor, range),
            Event::SequenceStart(anchor, _) => {
                self.open.push(Open::List { start: range.start, anchor, items: Vec::new() });
            }
            Event::MappingStart(anchor, _) => {
                self.open.push(Open::Map {
                    start: range.start,
                    anchor,
                    entries: Vec::new(),
                    seen: BTreeMap::new(),
                    key: None,
                });
            }
            Event::SequenceEnd | Event::MappingEnd => return self.close(range.end),
            Event::DocumentStart(_) if self.root.is_some() => {
                let place = self.place(range);
                self.problems.push(
                    Problem::error("a second YAML document in one file", place)
                        .expected("the file should end above")
                        .help("remove the '---' and what follows, or put it in a file of its own"),
                );
                return false;
            }
            Event::Nothing
            | Event::StreamStart
            | Event::StreamEnd
            | Event::DocumentStart(_)
            | Event::DocumentEnd => {}
        }
        self.shallow(range)
    }

    fn shallow(&mut self, range: Range<usize>) -> bool {
        if self.open.len() <= MOST_DEPTH {
            return true;
        }
        let place = self.place(range);
        self.problems.push(
            Problem::error(format!("nested more than {MOST_DEPTH} levels deep"), place)
                .expected("too deep for a session")
                .help("look for brackets that are not closed"),
        );
        false
    }

    fn too_large(&mut self, range: Range<usize>) -> bool {
        let place = self.place(range);
        self.problems.push(
            Problem::error("this file is too large", place)
                .expected("more values than a session can hold")
                .help("keep long recordings in CSV or WAV files that the visit names"),
        );
        false
    }

    fn follow(&mut self, anchor: usize, range: Range<usize>) -> bool {
        let Some(node) = self.anchors.get(&anchor) else {
            let place = self.place(range);
            self.problems.push(
                Problem::error("an alias of something that is not finished", place)
                    .expected("this would hold itself")
                    .help("write the values out"),
            );
            return false;
        };
        if node.depth() + self.open.len() > MOST_DEPTH || self.nodes + node.count() > MOST_NODES {
            let place = self.place(range);
            self.problems.push(
                Problem::error("aliases make this file too large", place)
                    .expected("too much once written out")
                    .help("write the values out, without '*' and '&'"),
            );
            return false;
        }
        let node = Node { span: range, value: node.value.clone() };
        self.nodes += node.count();
        self.keep(0, node)
    }

    fn close(&mut self, end: usize) -> bool {
        let (anchor, node) = match self.open.pop() {
            Some(Open::List { start, anchor, items }) => {
                (anchor, Node { span: start..self.closed(start, end, ']'), value: Value::List(items) })
            }
            Some(Open::Map { start, anchor, entries, .. }) => {
                (anchor, Node { span: start..self.closed(start, end, '}'), value: Value::Map(entries) })
            }
            None => return true,
        };
        self.keep(anchor, node)
    }

    /// An end is reported at the next token: cut the white space before it, and a comment after
    /// the closing mark of what was opened with one.
    fn closed(&self, start: usize, end: usize, closer: char) -> usize {
        let Some(mut text) = self.source.text.get(start..end).map(str::trim_end) else {
            return end;
        };
        let opened = matches!(
            (text.chars().next(), closer),
            (Some('['), ']') | (Some('{'), '}') | (Some('"'), '"') | (Some('\''), '\'')
        );
        while opened && !text.ends_with(closer) {
            let Some(comment) = text.rfind('#') else {
                break;
            };
            text = text[..comment].trim_end();
        }
        start + text.len()
    }

    fn keep(&mut self, anchor: usize, node: Node) -> bool {
        if anchor > 0 {
            self.anchors.insert(anchor, node.clone());
        }
        match self.open.last_mut() {
            None => self.root = Some(node),
            Some(Open::List { items, .. }) => items.push(node),
            Some(Open::Map { entries, seen, key, .. }) => match key.take() {
                None => return self.key(node),
                Some((name, key_span)) => {
                    let twice = seen.get(&name).and_then(|index| entries.get(*index));
                    if let Some(first) = twice {
                        let line =
                            Place { source: Arc::clone(self.source), span: first.key_span.clone() }.line();
                        let place = self.place(key_span);
                        self.problems.push(
                            Problem::error(format!("'{name}' is written twice"), place)
                                .expected(format!("it stands on line {line} already"))
                                .help("keep one of the two"),
                        );
                    } else {
                        seen.insert(name.clone(), entries.len());
                        entries.push(Entry { key: name, key_span, node });
                    }
                }
            },
        }
        true
    }

    fn key(&mut self, node: Node) -> bool {
        let Value::Scalar(scalar) = node.value else {
            let place = self.place(node.span);
            self.problems.push(
                Problem::error("a key must be a plain text", place)
                    .expected("expected a name, then ':'")
                    .help("put a text that holds brackets or braces in quotes"),
            );
            return false;
        };
        if let Some(Open::Map { key, .. }) = self.open.last_mut() {
            *key = Some((scalar.text, node.span));
        }
        true
    }
}

/// What a scalar is: quoted is a text; plain is what `serde_yaml` takes it for.
fn scalar(text: &str, style: ScalarStyle) -> Value {
    let is = if style == ScalarStyle::Plain {
        match serde_yaml::from_str::<serde_yaml::Value>(text) {
            Ok(serde_yaml::Value::Null) => return Value::Nothing,
            Ok(serde_yaml::Value::Bool(truth)) => ScalarKind::Truth(truth),
            Ok(serde_yaml::Value::Number(number)) => {
                number.as_f64().map_or(ScalarKind::Text, ScalarKind::Number)
            }
            _ => ScalarKind::Text,
        }
    } else {
        ScalarKind::Text
    };
    Value::Scalar(Scalar { text: text.to_owned(), is })
}
