//! A YAML file with its private values masked: private fields, other texts, keys and comments; numbers stay.

use std::ops::Range;
use std::sync::Arc;

use super::super::problem::{Problems, SourceFile};
use super::super::tree::{self, Node, Value};
use super::values::{Field, Private, is_text};
use super::{WITHHELD, text};

/// What is to be written in the place of some bytes.
struct Edit {
    range: Range<usize>,
    text: String,
}

/// The file's text, masked. `Ok(None)` where nothing is private in it; an error where a private value would remain.
pub(super) fn masked(
    source: &str,
    fields: &dyn Fn(&Node) -> Vec<Field>,
    values: &[&Private],
) -> Result<Option<String>, ()> {
    let root = parsed(source)?;
    let mut edits: Vec<Edit> = fields(&root)
        .into_iter()
        .map(|field| Edit { text: instead(&source[field.span.clone()]), range: field.span })
        .collect();
    scalars(&root, source, values, &mut edits);
    edits.sort_by_key(|edit| (edit.range.start, edit.range.end));
    // Fields come first where a place was found twice, through an alias.
    edits.dedup_by(|later, earlier| later.range.start < earlier.range.end);
    let mut nodes = Vec::new();
    spans(&root, &mut nodes);
    nodes.sort_by_key(|span| span.start);
    let mut out = String::with_capacity(source.len());
    let mut edits = edits.into_iter().peekable();
    let mut done = 0;
    let between = |from: usize, to: usize| {
        let text = source.get(from..to).unwrap_or_default();
        text::masked(text, values).unwrap_or_else(|| text.to_owned())
    };
    // Comments stand between the nodes.
    for span in nodes {
        if span.start < done {
            continue;
        }
        out.push_str(&between(done, span.start));
        match edits.next_if(|edit| edit.range.start == span.start) {
            Some(edit) => {
                out.push_str(&edit.text);
                done = edit.range.end;
            }
            None => {
                out.push_str(&source[span.clone()]);
                done = span.end;
            }
        }
    }
    out.push_str(&between(done, source.len()));
    if out == source {
        return Ok(None);
    }
    let private: Vec<Range<usize>> = fields(&root).into_iter().map(|field| field.span).collect();
    if agrees(&root, &parsed(&out)?, &private, values) { Ok(Some(out)) } else { Err(()) }
}

/// Whether a text cannot be read as YAML.
pub(super) fn is_faulty(source: &str) -> bool {
    parsed(source).is_err()
}

fn parsed(text: &str) -> Result<Node, ()> {
    let source = Arc::new(SourceFile::whole("", text));
    tree::read(&source, &mut Problems::default()).ok_or(())
}

/// `withheld` in the place of a field as it was written. What opened a block keeps the end of its line.
fn instead(written: &str) -> String {
    let ends = written.len() - written.trim_end().len();
    format!("{WITHHELD}{}", &written[written.len() - ends..])
}

/// Every scalar and key that holds a private value, with what is to stand there.
fn scalars(node: &Node, source: &str, values: &[&Private], edits: &mut Vec<Edit>) {
    let mut look = |span: &Range<usize>, value: &str| {
        let Some(wanted) = text::masked_on_one_line(value, values) else { return };
        let written = source.get(span.clone()).unwrap_or_default();
        // As it is written, where no quotes stand in the way; else as a text of its own.
        let plainly = text::masked_on_one_line(written, values).filter(|_| !written.starts_with(['"', '\'']));
        let text = plainly.unwrap_or_else(|| quoted(&wanted));
        edits.push(Edit { range: span.clone(), text });
    };
    match &node.value {
        Value::Scalar(scalar) if is_text(node) => look(&node.span, &scalar.text),
        Value::Scalar(_) | Value::Nothing => {}
        Value::List(nodes) => nodes.iter().for_each(|node| scalars(node, source, values, edits)),
        Value::Map(entries) => {
            for entry in entries {
                look(&entry.key_span, &entry.key);
            }
            for entry in entries {
                scalars(&entry.node, source, values, edits);
            }
        }
    }
}

/// A text in double quotes (YAML 1.2.2, 7.3.1).
fn quoted(text: &str) -> String {
    let mut out = String::from('"');
    for letter in text.chars() {
        match letter {
            '"' => out.push_str("\\\""),
            '\\' => out.push_str("\\\\"),
            '\n' => out.push_str("\\n"),
            '\t' => out.push_str("\\t"),
            other if other.is_control() => out.push_str(&format!("\\U{:08x}", u32::from(other))),
            other => out.push(other),
        }
    }
    out.push('"');
    out
}

/// Where keys and scalars stand.
fn spans(node: &Node, list: &mut Vec<Range<usize>>) {
    match &node.value {
        Value::Scalar(_) => list.push(node.span.clone()),
        Value::Nothing => {}
        Value::List(nodes) => nodes.iter().for_each(|node| spans(node, list)),
        Value::Map(entries) => {
            for entry in entries {
                list.push(entry.key_span.clone());
                spans(&entry.node, list);
            }
        }
    }
}

/// Whether a masked file says what the file says, but for what is private.
fn agrees(before: &Node, after: &Node, private: &[Range<usize>], values: &[&Private]) -> bool {
    let same = |before: &str, after: &str| {
        let wanted = text::masked_on_one_line(before, values).unwrap_or_else(|| before.to_owned());
        wanted.split_whitespace().eq(after.split_whitespace())
    };
    match (&before.value, &after.value) {
        (Value::Nothing, Value::Nothing) => true,
        (Value::Scalar(_), Value::Scalar(after)) if private.contains(&before.span) => {
            after.text.trim() == WITHHELD
        }
        (Value::Scalar(was), Value::Scalar(is)) if is_text(before) => same(&was.text, &is.text),
        (Value::Scalar(was), Value::Scalar(is)) => was.text == is.text,
        (Value::List(before), Value::List(after)) => {
            before.len() == after.len()
                && before.iter().zip(after).all(|(before, after)| agrees(before, after, private, values))
        }
        (Value::Map(before), Value::Map(after)) => {
            before.len() == after.len()
                && before.iter().zip(after).all(|(before, after)| {
                    same(&before.key, &after.key) && agrees(&before.node, &after.node, private, values)
                })
        }
        _ => false,
    }
}
