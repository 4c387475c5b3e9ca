//! session.yaml.

use serde_json::{Value, json};

use super::quantities::{number_or_quantity, quantity, reading, unit};
use super::shape::{
    Form, Shape, any, id, like, list, map_of, names, number, one_of, present, row, some_text, text,
};
use super::{Own, date, fraction};
use crate::analysis::Measure;
use crate::quantity::Kind;

/// The schema of a session.yaml.
pub fn session(measures: &[&dyn Measure]) -> Value {
    Form::new()
        .need("title", some_text(), "What the session is about: the report's title.")
        .may("question", text(), "What is to be found out.")
        .may("ask", text(), "What a claim asks for, for the letter.")
        .may("prepared_by", text(), "Who prepared the report.")
        .need("units", one_of(&["inch", "metric"]), "How results are shown.")
        .may(
            "paper",
            one_of(&["us-letter", "a4"]),
            "The report's paper. Left out: us-letter with inch, a4 with metric.",
        )
        .need(
            "machines",
            map_of(&id(), machine()),
            "The machines, each under an id: lower-case letters, digits and '-'.",
        )
        .may("instruments", map_of(&id(), instrument()), "What was measured with, each under an id.")
        .may("letter", letter(), "Who writes to whom, for the claim's letter.")
        .may("events", list(event()), "The claim's diary.")
        .need("checks", map_of(&id(), check(measures)), "What is measured at every visit, each under an id.")
        .may(
            "compare",
            map_of(&id(), comparison()),
            "What is compared with what, each under an id. Left out: as-found with as-left.",
        )
        .shape()
        .says("What is measured, with what, and against which limits. What was read stands in visits/*/visit.yaml.")
        .document("session.yaml")
}

fn machine() -> Shape {
    let coverage = Form::new()
        .need("name", some_text(), "What it is called: Parts and labour.")
        .need(
            "lasts",
            like(r"^\s*\+?0*[1-9][0-9]{0,4}\s+(?:days?|weeks?|months?|years?)\s*$"),
            "How long it lasts from the day of purchase: 30 days, 18 months, 3 years.",
        )
        .may("reference", text(), "Where that is written.")
        .shape();
    Form::new()
        .need("name", some_text(), "Maker and model as the plate says.")
        .may("kind", text(), "What it is: cabinet saw.")
        .may("serial", text(), "The serial number.")
        .may("bought", date(), "The day it was bought: 2026-01-20.")
        .may("seller", text(), "Who sold it.")
        .may("order", text(), "The order's number.")
        .may("price", text(), "What was paid, as it is to be printed.")
        .may("coverage", list(coverage), "What covers it, counted from 'bought'.")
        .rule(json!({"if": present("coverage"), "then": {"required": ["bought"]}}))
        .shape()
}

fn instrument() -> Shape {
    let any_kind = || quantity(&[]);
    let certificate = Form::new()
        .need("U", any_kind(), "The expanded uncertainty.")
        .need("k", number(0.5, true, 20.0), "Its coverage factor, mostly 2.")
        .shape();
    Form::new()
        .need("name", some_text(), "What it is.")
        .may("serial", text(), "Its serial number: it tells where else the instrument was used.")
        .need("resolution", any_kind(), "The smallest step it shows: 0.0005 in.")
        .may(
            "accuracy",
            any([list(any_kind()), any_kind()]),
            "Half-width of its maker's error band: 0.001 in. Of several the largest applies: [3.5 °F, 2 %].",
        )
        .may("tip_angle", quantity(&[Kind::Angle]), "Lever-type indicators: the tip's angle to the travel.")
        .may("calibrated", date(), "When it was last calibrated: 2026-01-05.")
        .may("calibration_due", date(), "The last day that this calibration is good for: 2027-01-05.")
        .may("correction", any_kind(), "A certificate's correction, added to what is shown.")
        .may("calibration_uncertainty", certificate, "A certificate's uncertainty; it replaces 'accuracy'.")
        .may(
            "repeat_readings",
            list(reading(&[])).at_least(1),
            "The same thing measured again and again: it tells how well the instrument repeats.",
        )
        .may("repeat_unit", unit(&[]), "The unit of these. Left out: that of 'resolution'.")
        .may("emissivity_set", fraction(), "The emissivity that an infrared thermometer was set to.")
        .may(
            "range",
            row([number_or_quantity(&[]), number_or_quantity(&[])]),
            "The smallest and the largest value that its maker states it for: [-58 °F, 536 °F].",
        )
        .shape()
}

fn letter() -> Shape {
    let party = || {
        Form::new()
            .need("name", some_text(), "Who.")
            .may("address", names(), "The lines of the postal address.")
            .may("email", text(), "Where an answer can go.")
            .shape()
    };
    Form::new().may("from", party(), "The sender.").may("to", party(), "The addressee.").shape()
}

fn event() -> Shape {
    Form::new()
        .need("on", date(), "The day: 2026-03-03.")
        .need("what", some_text(), "What happened.")
        .may("file", text(), "A file that shows it, named from the session folder.")
        .shape()
}

/// Each check is read by its measure, so the measure's name decides which fields it may have.
fn check(measures: &[&dyn Measure]) -> Shape {
    let names: Vec<&str> = measures.iter().map(|measure| measure.name()).collect();
    let checks: Vec<Shape> = measures.iter().map(|measure| check_of(*measure)).collect();
    let by_measure: Vec<Value> = names
        .iter()
        .zip(&checks)
        .map(|(name, check)| {
            let named = json!({"properties": {"measure": {"const": name}}, "required": ["measure"]});
            json!({"if": named, "then": check.value()})
        })
        .collect();
    Shape::of(json!({
        "type": "object",
        "properties": {"measure": {"description": "How it is measured.", "enum": names}},
        "required": ["measure"],
        "allOf": by_measure,
    }))
    .with_parts_of(&checks)
    .named("check")
}

fn check_of(measure: &dyn Measure) -> Shape {
    let Own { says, check, .. } = measure.schema();
    let common = Form::new()
        .need("measure", Shape::of(json!({"const": measure.name()})), says)
        .may("title", text(), "The heading in the report. Left out: the check's id, made readable.")
        .may("instrument", text(), "The id of the instrument used, unless a visit names another.")
        .may("unit", unit(&[]), "The unit of bare numbers in this check's readings, and of its results.")
        .may("procedure", text(), "How it was done, in Markdown.")
        .may("limit", limit(measure), "What the findings are held against.")
        .may(
            "better",
            one_of(&["lower", "higher", "nearer"]),
            "Which way is better; nearer: to zero, or to the middle of the limit.",
        )
        .may("matters", number_or_quantity(&[]), "The smallest change worth having.")
        .may("must_match", names(), "Conditions that must be the same for a fair comparison.")
        .may(
            "about_the_same",
            map_of(&text(), number_or_quantity(&[])),
            "How far a numeric condition may differ and still match: {ambient: 5 °F}.",
        );
    check.and(common).shape().says(says).named(&format!("check-of-{}", measure.name()))
}

fn limit(measure: &dyn Measure) -> Shape {
    let whats: Vec<&str> = measure.whats().iter().map(|what| what.name).collect();
    let one = || number_or_quantity(&[]);
    let kinds = ["at_most", "at_least", "between"].map(present);
    Form::new()
        .may("at_most", one(), "Up to and including this.")
        .may("at_least", one(), "This and above.")
        .may("between", row([one(), one()]), "From the first to the second.")
        .may("of", one_of(&whats), "The finding that it applies to. Left out: the measure's first.")
        .may("source", text(), "Where the limit is written; 'common practice' is an answer too.")
        .rule(json!({"oneOf": kinds}))
        .shape()
}

fn comparison() -> Shape {
    let elsewhere = Form::new()
        .may("session", text(), "Another session's folder, from this one: ../old-saw.")
        .need("visit", some_text(), "The visit's id there.")
        .shape();
    let side = || any([text(), elsewhere.clone()]);
    Form::new()
        .may("title", text(), "The heading in the report.")
        .need(
            "before",
            side(),
            "The earlier or reference visit's id, or {session: ../old-saw, visit: baseline}.",
        )
        .need("after", side(), "The later visit's id.")
        .may("checks", list(text()), "The ids of the checks to compare. Left out: all that both have.")
        .shape()
}
