//! What may stand at a place, and the maps that it is put together to.

use std::collections::BTreeMap;

use serde_json::{Map, Value, json};

/// What may stand at one place of a file, as JSON Schema, with the named parts that it refers to.
#[derive(Clone, Debug)]
#[must_use]
pub struct Shape {
    value: Map<String, Value>,
    parts: BTreeMap<String, Value>,
}

impl Shape {
    /// What these words of JSON Schema say.
    pub(super) fn of(words: Value) -> Self {
        let value = match words {
            Value::Object(value) => value,
            _ => Map::new(),
        };
        Self { value, parts: BTreeMap::new() }
    }

    /// The same, referring to the parts that others refer to.
    pub(super) fn with_parts_of<'a>(mut self, others: impl IntoIterator<Item = &'a Self>) -> Self {
        for other in others {
            self.parts.extend(other.parts.clone());
        }
        self
    }

    /// A reference to this under a name, so that it is written once however often it may stand.
    pub fn named(mut self, name: &str) -> Self {
        self.parts.insert(name.to_owned(), Value::Object(self.value));
        Self { value: as_map(json!({"$ref": format!("#/$defs/{name}")})), parts: self.parts }
    }

    /// With what an editor shows beside it.
    pub fn says(mut self, description: &str) -> Self {
        let mut value = as_map(json!({"description": description}));
        self.value.remove("description");
        value.append(&mut self.value);
        self.value = value;
        self
    }

    /// With texts that an editor may offer.
    pub fn such_as<T: Into<Value> + Clone>(mut self, examples: &[T]) -> Self {
        self.value.insert("examples".to_owned(), examples.iter().cloned().map(Into::into).collect());
        self
    }

    /// A list of no fewer than this.
    pub fn at_least(mut self, fewest: usize) -> Self {
        self.value.insert("minItems".to_owned(), fewest.into());
        self
    }

    /// A list of no more than this.
    pub fn at_most(mut self, most: usize) -> Self {
        self.value.insert("maxItems".to_owned(), most.into());
        self
    }

    /// The same, or nothing: a field that is written and left empty counts as left out.
    pub fn or_nothing(mut self) -> Self {
        let nothing = json!("null");
        // Rules are about maps, and would say of nothing what they should not.
        let ruled = self.value.contains_key("allOf");
        match self.value.get_mut("type").filter(|_| !ruled) {
            Some(Value::Array(types)) => types.push(nothing),
            Some(one) => *one = json!([one.take(), nothing]),
            None => {
                let alone = self.value.len() == 1;
                if let Some(Value::Array(ways)) = self.value.get_mut("anyOf").filter(|_| alone) {
                    ways.push(json!({"type": "null"}));
                } else {
                    let whole = Value::Object(self.value);
                    self.value = as_map(json!({"anyOf": [whole, {"type": "null"}]}));
                }
                return self;
            }
        }
        if let Some(Value::Array(words)) = self.value.get_mut("enum") {
            words.push(Value::Null);
        }
        self
    }

    pub(super) fn value(&self) -> Value {
        Value::Object(self.value.clone())
    }

    /// The whole of a file: this, with every part that it refers to.
    pub(super) fn document(self, title: &str) -> Value {
        let mut value = as_map(json!({
            "$schema": "https://json-schema.org/draft/2020-12/schema",
            "title": title,
        }));
        value.extend(self.value);
        value.insert("$defs".to_owned(), Value::Object(self.parts.into_iter().collect()));
        Value::Object(value)
    }
}

fn as_map(value: Value) -> Map<String, Value> {
    Shape::of(value).value
}

/// A map whose fields are known by name: what [`crate::session::Fields`] reads.
#[derive(Clone, Debug, Default)]
#[must_use]
pub struct Form {
    fields: Vec<(String, Shape)>,
    needed: Vec<String>,
    rules: Vec<Value>,
}

impl Form {
    /// A map without fields.
    pub fn new() -> Self {
        Self::default()
    }

    /// With a field that must be there, and what an editor says of it.
    pub fn need(mut self, name: &str, shape: Shape, says: &str) -> Self {
        self.needed.push(name.to_owned());
        self.fields.push((name.to_owned(), shape.says(says)));
        self
    }

    /// With a field that may be there.
    pub fn may(mut self, name: &str, shape: Shape, says: &str) -> Self {
        self.fields.push((name.to_owned(), shape.or_nothing().says(says)));
        self
    }

    /// With fields that may be written and must be left empty, because this is another way to write it.
    pub fn empty(mut self, names: &[&str]) -> Self {
        let nothing =
            |name: &&str| ((*name).to_owned(), nothing().says("Not beside the others: one way only."));
        self.fields.extend(names.iter().map(nothing));
        self
    }

    /// With something that lies between fields, in the words of JSON Schema.
    pub fn rule(mut self, rule: Value) -> Self {
        self.rules.push(rule);
        self
    }

    /// With the fields of another that this one has not itself.
    pub fn and(mut self, other: Self) -> Self {
        let own: Vec<String> = self.fields.iter().map(|(name, _)| name.clone()).collect();
        let is_new = |name: &String| !own.contains(name);
        self.fields.extend(other.fields.into_iter().filter(|(name, _)| is_new(name)));
        self.needed.extend(other.needed.into_iter().filter(is_new));
        self.rules.extend(other.rules);
        self
    }

    /// As what may stand at a place. A field that is not known is refused, as the reader does.
    pub fn shape(self) -> Shape {
        let mut value = as_map(json!({"type": "object"}));
        let fields: Map<String, Value> =
            self.fields.iter().map(|(name, shape)| (name.clone(), shape.value())).collect();
        value.insert("properties".to_owned(), Value::Object(fields));
        if !self.needed.is_empty() {
            value.insert("required".to_owned(), self.needed.into());
        }
        value.insert("additionalProperties".to_owned(), false.into());
        if !self.rules.is_empty() {
            value.insert("allOf".to_owned(), self.rules.into());
        }
        Shape { value, parts: BTreeMap::new() }.with_parts_of(self.fields.iter().map(|(_, shape)| shape))
    }
}

/// Nothing: for a field that may be written and left empty and no more.
pub(super) fn nothing() -> Shape {
    Shape::of(json!({"type": "null"}))
}

/// That a field is there and holds something.
pub fn present(name: &str) -> Value {
    json!({"required": [name], "properties": {name: {"not": {"type": "null"}}}})
}

/// Any text; YAML takes some for a number or for true or false, and the reader takes its letters.
pub fn text() -> Shape {
    Shape::of(json!({"type": ["string", "number", "boolean"]}))
}

/// A text that is not blank.
pub fn some_text() -> Shape {
    Shape::of(json!({"type": ["string", "number", "boolean"], "pattern": r"\S"}))
}

/// `true` or `false`.
pub fn truth() -> Shape {
    Shape::of(json!({"type": "boolean"}))
}

/// One of these words.
pub fn one_of(words: &[&str]) -> Shape {
    Shape::of(json!({"type": "string", "enum": words}))
}

/// A text of this pattern (ECMA-262, as JSON Schema has it).
pub(super) fn like(pattern: &str) -> Shape {
    Shape::of(json!({"type": "string", "pattern": pattern}))
}

/// A plain number above `low` (or from it on) and at most `high`, in quotes or not.
pub fn number(low: f64, low_too: bool, high: f64) -> Shape {
    let low_word = if low_too { "minimum" } else { "exclusiveMinimum" };
    Shape::of(json!({
        "type": ["number", "string"],
        low_word: low,
        "maximum": high,
        "pattern": format!("^\\s*{}\\s*$", super::quantities::NUMBER),
    }))
}

/// A whole number from `low` to `high`, in quotes or not.
pub fn whole_number(low: u32, high: u32) -> Shape {
    Shape::of(json!({
        "type": ["integer", "string"], "minimum": low, "maximum": high, "pattern": r"^\s*\+?[0-9]+\s*$",
    }))
}

/// A list of such.
pub fn list(of: Shape) -> Shape {
    Shape::of(json!({"type": "array", "items": of.value()})).with_parts_of([&of])
}

/// A list of exactly these. Draft 7 has other words for it and passes over `prefixItems`.
pub fn row<const N: usize>(of: [Shape; N]) -> Shape {
    let items: Vec<Value> = of.iter().map(Shape::value).collect();
    Shape::of(json!({"type": "array", "prefixItems": items, "minItems": N, "maxItems": N})).with_parts_of(&of)
}

/// A map whose keys are free.
pub fn map_of(keys: &Shape, of: Shape) -> Shape {
    Shape::of(json!({
        "type": "object", "propertyNames": keys.value(), "additionalProperties": of.value(),
    }))
    .with_parts_of([keys, &of])
}

/// The same with one entry or more.
pub fn some_map_of(keys: &Shape, of: Shape) -> Shape {
    let mut shape = map_of(keys, of);
    shape.value.insert("minProperties".to_owned(), 1.into());
    shape
}

/// Any one of these.
pub fn any<const N: usize>(of: [Shape; N]) -> Shape {
    any_of(&of)
}

/// Any one of these.
pub(super) fn any_of(of: &[Shape]) -> Shape {
    if let [only] = of {
        return only.clone();
    }
    let ways: Vec<Value> = of.iter().map(Shape::value).collect();
    Shape::of(json!({"anyOf": ways})).with_parts_of(of)
}

/// The id of a machine, an instrument, a check or a comparison, where it is made.
pub(super) fn id() -> Shape {
    like("^[a-z0-9-]{1,80}$")
}

/// The id of a station of a check.
pub fn station_id() -> Shape {
    like("^[a-z0-9-]*$")
}

/// Names; one may stand without brackets.
pub(super) fn names() -> Shape {
    any([list(text()), text()])
}
