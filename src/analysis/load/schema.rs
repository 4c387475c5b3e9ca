//! What `load` reads, for the schemas.

use serde_json::json;

use crate::quantity::Kind;
use crate::schema::{
    Form, Own, Shape, any, list, present, quantity, reading, reading_with_unit, some_map_of, some_text, text,
    truth, unit,
};

pub(super) fn own() -> Own {
    let length = || quantity(&[Kind::Length]);
    let struck = Form::new()
        .need("struck", run(), "The run that does not count, as it was read.")
        .need("because", some_text(), "Why it does not count.")
        .shape();
    let stock = Form::new()
        .need(
            "runs",
            list(any([run(), struck])).at_least(1),
            "The runs in their order: [{unloaded: 3455, loaded: 3010, length: 600 mm, time: 21 s}].",
        )
        .may("depth", length(), "How deep the cut was: 50 mm.")
        .shape();
    let readings = Form::new()
        .need(
            "cuts",
            some_map_of(&text(), stock),
            "Each stock by its name, with its runs: {red oak: {runs: …}}.",
        )
        .may("kerf", length(), "How wide the cut was: 2.4 mm.");
    Own {
        says: "How much speed is lost under a cut.",
        check: Form::new().may("unit", unit(&[Kind::RotationalSpeed]), "The unit of bare readings: rpm."),
        readings: vec![readings],
    }
}

fn run() -> Shape {
    let speed = || reading(&[Kind::RotationalSpeed]);
    let both = ["unloaded", "loaded"].map(present);
    Form::new()
        .may("unloaded", speed(), "The speed before the cut.")
        .may("loaded", speed(), "The speed under load.")
        .may("length", reading_with_unit(&[Kind::Length]), "How long the cut was: 600 mm.")
        .may("time", reading_with_unit(&[Kind::Time]), "How long it took: 21 s.")
        .may("stalled", truth(), "Whether the blade stopped; such a run has no loaded speed.")
        .rule(json!({
            "if": {"properties": {"stalled": {"const": true}}, "required": ["stalled"]},
            "then": {"properties": {"loaded": {"type": "null"}}},
            "else": {"allOf": both},
        }))
        .shape()
        .named("run")
}
