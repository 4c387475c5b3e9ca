//! Checks, their limits, and what is compared with what.

use super::fields::{Fields, Named, quantity_of, text_of};
use super::instrument::unit_field;
use super::problem::{Place, Problem, Problems};
use super::read::{Reader, title_of_id};
use super::tree::{Node, Value};
use crate::quantity::{Kind, Quantity, Unit};

/// Which way a finding gets better.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Better {
    /// Smaller is better.
    Lower,
    /// Larger is better.
    Higher,
    /// Nearer to zero, or to the middle of the limit, is better.
    Nearer,
}

/// What a limit allows, in the units it was written in.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum LimitKind {
    /// Up to and including this.
    AtMost(Quantity),
    /// This and above.
    AtLeast(Quantity),
    /// From the first to the second.
    Between(Quantity, Quantity),
}

/// A limit of a check.
#[derive(Clone, Debug)]
pub struct Limit {
    /// What it allows.
    pub kind: LimitKind,
    /// The finding that it applies to, where the check names one.
    pub of: Option<String>,
    /// Where the limit is written.
    pub source: Option<String>,
    /// A largest value as it was typed, where it is a length over a length: `0.05 mm over 90 mm`.
    pub typed: Option<String>,
    /// Where in the session.
    pub place: Place,
}

/// A check: one thing measured at every visit. The fields that only its measure knows stay in
/// [`Check::own`].
#[derive(Clone, Debug)]
pub struct Check {
    /// Its id.
    pub id: String,
    /// The measure's name.
    pub measure: String,
    /// Where the measure's name stands.
    pub measure_place: Place,
    /// Heading in the report.
    pub title: String,
    /// The id of the instrument used unless a visit says otherwise.
    pub instrument: Option<Named>,
    /// The unit of bare numbers, and of the results.
    pub unit: Option<Unit>,
    /// How it was done, in Markdown.
    pub procedure: Option<String>,
    /// What it is held against.
    pub limit: Option<Limit>,
    /// Which way is better, where the check says so.
    pub better: Option<Better>,
    /// The smallest change worth having.
    pub matters: Option<Quantity>,
    /// Conditions that must be the same for a fair comparison.
    pub must_match: Vec<String>,
    /// How far numeric conditions may differ and still match.
    pub about_the_same: Vec<(String, Quantity)>,
    /// What only the measure knows.
    pub own: Fields,
    /// Where it is written.
    pub place: Place,
}

/// One side of a comparison.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct VisitRef {
    /// The other session's folder, as it was named; none for this session.
    pub session: Option<String>,
    /// The visit's id there.
    pub visit: String,
    /// Where it is written; none for the default comparison.
    pub place: Option<Place>,
}

/// What is compared with what.
#[derive(Clone, Debug)]
pub struct Comparison {
    /// Its id; `as-found to as-left` for the default one.
    pub id: String,
    /// Heading in the report.
    pub title: String,
    /// The earlier or reference side.
    pub before: VisitRef,
    /// The later side.
    pub after: VisitRef,
    /// The checks it is about; every check that both have where none are named.
    pub checks: Option<Vec<Named>>,
    /// Where it is written; none for the default one.
    pub place: Option<Place>,
}

impl Check {
    pub(super) fn read(id: String, mut fields: Fields, problems: &mut Problems) -> Option<Self> {
        let place = fields.place();
        let measure = fields.need("measure", "run-out", problems);
        let measure_place = measure.as_ref().map_or(place.clone(), |node| fields.at(node));
        let measure = measure.and_then(|node| fields.text_of(&node, "'measure'", problems));
        let unit = unit_field(&mut fields, "unit", problems);
        let better = fields.one_of(
            "better",
            &[("lower", Better::Lower), ("higher", Better::Higher), ("nearer", Better::Nearer)],
            problems,
        );
        let title = fields.text("title", problems);
        let read = Self {
            title: title.unwrap_or_else(|| title_of_id(&id)),
            id,
            measure: measure.unwrap_or_default(),
            measure_place,
            instrument: fields.named("instrument", problems),
            unit,
            procedure: fields.text("procedure", problems),
            limit: limit(&mut fields, unit, problems),
            better,
            matters: fields.quantity("matters", &[], unit, problems),
            must_match: names(&mut fields, "must_match", problems).unwrap_or_default(),
            about_the_same: tolerances(&mut fields, problems),
            // With the common fields among them, whose names help to find the nearest to a typo; the
            // measure reads its own and finishes.
            own: fields,
            place,
        };
        (!read.measure.is_empty()).then_some(read)
    }
}

/// A field that lists names; one name may stand without brackets.
pub(super) fn names(fields: &mut Fields, name: &'static str, problems: &mut Problems) -> Option<Vec<String>> {
    let node = fields.get(name)?;
    if let Value::List(items) = &node.value {
        let source = fields.source();
        return Some(items.iter().filter_map(|item| text_of(item, source, "a name", problems)).collect());
    }
    fields.text_of(&node, &format!("'{name}'"), problems).map(|text| vec![text])
}

/// A field that lists ids.
fn named_list(fields: &mut Fields, name: &'static str, problems: &mut Problems) -> Option<Vec<Named>> {
    let nodes = fields.list(name, problems)?;
    Some(
        nodes
            .iter()
            .filter_map(|node| {
                let id = fields.text_of(node, "an id", problems)?;
                Some(Named { id, place: fields.at(node) })
            })
            .collect(),
    )
}

/// How far conditions may differ; a bare number is for a condition that is a bare number.
fn tolerances(fields: &mut Fields, problems: &mut Problems) -> Vec<(String, Quantity)> {
    let entries = fields.map("about_the_same", problems).unwrap_or_default();
    let bare = Unit::known(Kind::Number, "");
    let mut tolerances = Vec::new();
    for entry in entries {
        if let Some(value) = quantity_of(&entry.node, fields.source(), &[], bare, problems) {
            tolerances.push((entry.key, value));
        }
    }
    tolerances
}

fn limit(fields: &mut Fields, unit: Option<Unit>, problems: &mut Problems) -> Option<Limit> {
    let node = fields.get("limit")?;
    let place = fields.at(&node);
    let mut inner = Fields::of(&node, fields.source(), "a limit", problems)?;
    let at_most = inner.get("at_most");
    let at_least = inner.get("at_least");
    let between = inner.get("between");
    let of = inner.text("of", problems);
    let source = inner.text("source", problems);
    let given = [&at_most, &at_least, &between].iter().filter(|n| n.is_some()).count();
    if given != 1 {
        problems.push(
            Problem::error(
                if given == 0 {
                    "a limit that allows nothing and forbids nothing"
                } else {
                    "a limit of two kinds at once"
                },
                inner.place(),
            )
            .expected("expected one of at_most, at_least, between")
            .help("write for example: limit: {at_most: 1 thou, source: \"Owner's guide, p. 9\"}"),
        );
    }
    let mut one = |node: &Node| quantity_of(node, inner.source(), &[], unit, problems);
    let kind = if let Some(node) = &at_most {
        one(node).map(LimitKind::AtMost)
    } else if let Some(node) = &at_least {
        one(node).map(LimitKind::AtLeast)
    } else {
        between.and_then(|node| between_of(&node, &inner, unit, problems))
    };
    let typed = at_most.as_ref().and_then(|node| match &node.value {
        Value::Scalar(scalar) if scalar.text.contains(" over ") => Some(scalar.text.trim().to_owned()),
        _ => None,
    });
    inner.finish(problems);
    Some(Limit { kind: kind?, of, source, typed, place })
}

fn between_of(
    node: &Node,
    fields: &Fields,
    unit: Option<Unit>,
    problems: &mut Problems,
) -> Option<LimitKind> {
    let source = fields.source();
    if let Value::List(items) = &node.value
        && let [low, high] = items.as_slice()
    {
        let low = quantity_of(low, source, &[], unit, problems)?;
        let high = quantity_of(high, source, &[], unit, problems)?;
        if high.to(low.unit()).is_ok_and(|high| high >= low.value()) {
            return Some(LimitKind::Between(low, high));
        }
    }
    problems.push(
        Problem::error("'between' needs two quantities, the smaller first", fields.at(node))
            .expected("expected [smaller, larger]")
            .help("write for example: between: [8 s, 14 s]"),
    );
    None
}

impl Comparison {
    pub(super) fn read(
        id: String,
        mut fields: Fields,
        reader: &mut Reader,
        problems: &mut Problems,
    ) -> Option<Self> {
        let place = fields.place();
        let title = fields.text("title", problems);
        let before = fields
            .need("before", "as-found", problems)
            .and_then(|node| visit_ref(&node, &fields, reader, problems));
        let after = fields
            .need("after", "as-left", problems)
            .and_then(|node| visit_ref(&node, &fields, reader, problems));
        let checks = named_list(&mut fields, "checks", problems);
        fields.finish(problems);
        Some(Self {
            title: title.unwrap_or_else(|| title_of_id(&id)),
            id,
            before: before?,
            after: after?,
            checks,
            place: Some(place),
        })
    }
}

fn visit_ref(node: &Node, fields: &Fields, reader: &mut Reader, problems: &mut Problems) -> Option<VisitRef> {
    let source = fields.source();
    if let Value::Map(_) = node.value {
        let mut inner = Fields::of(node, source, "one side of a comparison", problems)?;
        let session = inner.get("session");
        let visit = inner.need_text("visit", "baseline", problems);
        inner.finish(problems);
        let path = match session {
            Some(node) => Some(reader.other_session(&node, source, problems)?),
            None => None,
        };
        return Some(VisitRef { session: path, visit: visit?, place: Some(fields.at(node)) });
    }
    let visit = text_of(node, source, "a visit", problems)?;
    Some(VisitRef { session: None, visit, place: Some(fields.at(node)) })
}
