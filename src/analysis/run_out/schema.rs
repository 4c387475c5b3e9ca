//! What `run-out` reads, for the schemas.

use serde_json::json;

use super::turns::FEWEST;
use crate::quantity::Kind;
use crate::schema::{
    Form, Own, any, degrees, list, map_of, one_of, quantity, reading, station_id, truth, unit,
};

pub(super) fn own() -> Own {
    let length = [Kind::Length];
    let radial = Form::new().need("from", quantity(&length), "Distance along the axis from any one place.");
    let axial = Form::new().need("radius", quantity(&length), "Distance out from the axis.");
    let each =
        |needs: &str| json!({"properties": {"stations": {"additionalProperties": {"required": [needs]}}}});
    let check = Form::new()
        .need(
            "direction",
            one_of(&["radial", "axial"]),
            "Which way the indicator looks: at the axis (radial) or along it (axial).",
        )
        .may(
            "stations",
            map_of(&station_id(), any([radial.shape(), axial.shape()])),
            "Where it is read, each under an id: {tip: {from: 40 mm}}, axial {rim: {radius: 60 mm}}.",
        )
        .may("unit", unit(&length), "The unit of bare readings and of the results: thou.")
        .rule(json!({
            "if": {"properties": {"direction": {"const": "axial"}}},
            "then": each("radius"),
            "else": each("from"),
        }));
    let stations = map_of(&station_id(), round().shape());
    Own {
        says: "A dial indicator against a turning surface, read round the turn.",
        check,
        readings: vec![
            Form::new().need("stations", stations, "The turns at each station of the check."),
            round(),
        ],
    }
}

fn round() -> Form {
    let turn = list(reading(&[Kind::Length])).at_least(FEWEST);
    Form::new()
        .need(
            "turns",
            list(turn).at_least(1),
            "One list a turn, at equal steps from the index mark: [[0.0, 0.5, 1.5, 2.0, 1.5, 1.0, 0.5, 0.0]].",
        )
        .may("closes", truth(), "Whether each list ends with the index mark read again.")
        .may("angles", list(degrees()).at_least(FEWEST), "Degrees, only where not equally spaced.")
}
