//! visit.yaml.

use serde_json::Value;

use super::shape::{Form, Shape, any_of, id, like, list, map_of, one_of, text};
use super::{Own, date};
use crate::analysis::Measure;

/// The schema of a visit.yaml. Which measure a check has stands in session.yaml, so its readings may be those of any.
pub fn visit(measures: &[&dyn Measure]) -> Value {
    let readings: Vec<Shape> =
        measures.iter().map(|measure| readings_of(measure.name(), &measure.schema())).collect();
    let photo = Form::new()
        .need("file", text(), "A .jpg or .png file, named from the folder of this visit.yaml.")
        .may("caption", text(), "What it shows.")
        .may("check", text(), "The id of the check it belongs to.")
        .shape();
    Form::new()
        .may("title", text(), "The heading in the report. Left out: the folder's name, made readable.")
        .need(
            "state",
            one_of(&["as-found", "as-left", "reference", "baseline"]),
            "What the visit stands for: before anything was done (as-found), after it (as-left), something to \
             compare with (reference), or how it is, for later (baseline).",
        )
        .may("machine", text(), "The machine's id in session.yaml. Needed where there are several.")
        .need("date", date(), "The day: 2026-03-02.")
        .may(
            "time",
            like(r"^\s*(?:[0-9]|[01][0-9]|2[0-3]):[0-5][0-9]\s*$"),
            "The time of day, in quotes: \"14:30\".",
        )
        .may("by", text(), "Who took the readings.")
        .may("conditions", conditions(), "What it was like, for all checks of this visit: {ambient: 66 °F}.")
        .may("photos", list(photo), "Photographs, in the order in which they are shown.")
        .may(
            "readings",
            map_of(&id(), any_of(&readings)),
            "What was read: the id of each check, with its readings.",
        )
        .shape()
        .says("One occasion: its date, its conditions, its readings.")
        .document("visit.yaml")
}

fn conditions() -> Shape {
    map_of(&text(), text().or_nothing()).named("conditions")
}

fn readings_of(measure: &str, own: &Own) -> Shape {
    let common = || {
        Form::new()
            .may(
                "conditions",
                conditions(),
                "Conditions of these readings, beside or instead of the visit's.",
            )
            .may("instrument", text(), "The id of the instrument, where another than the check's was used.")
    };
    let ways: Vec<Shape> = own.readings.iter().map(|form| form.clone().and(common()).shape()).collect();
    let says = format!("Readings of {measure}. {}", own.says);
    // With the description of its own, so that an editor can tell the ways apart.
    any_of(&ways).says(&says).named(&format!("readings-of-{measure}"))
}
