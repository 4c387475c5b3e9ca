//! What `vibration` reads, for the schemas.

use serde_json::json;

use super::zones::Class;
use crate::quantity::Kind;
use crate::schema::{
    Form, Own, any, column, number_or_quantity, one_of, present, quantity, recording, row, some_map_of, text,
    unit, whole_number,
};

pub(super) fn own() -> Own {
    let acceleration = [Kind::Acceleration];
    let length = || quantity(&[Kind::Length]);
    let frequency = || quantity(&[Kind::Frequency]);
    let bearing = Form::new()
        .need("balls", whole_number(2, 500), "How many balls or rollers.")
        .need("ball", length(), "Their diameter: 7.94 mm.")
        .need("pitch", length(), "The diameter of the circle of their centres: 39.04 mm.")
        .may("contact", quantity(&[Kind::Angle]), "The contact angle: 0 deg.")
        .shape();
    let check = Form::new()
        .need("unit", unit(&acceleration), "The unit of the accelerations recorded: g.")
        .may("position", text(), "Where the sensor was: arbor housing.")
        .may("band", row([frequency(), frequency()]), "The band of velocities: [10 Hz, 1000 Hz].")
        .may("bearing", bearing, "The bearing's measures, for the frequencies that its faults have.")
        .may(
            "class",
            one_of(&Class::WORDS.map(|(word, _)| word)),
            "The machine's class by ISO 10816-1, annex B, for its zones.",
        );
    let recorded = recording().need(
        "axes",
        some_map_of(&text(), column()),
        "The column of each axis, by its name or its number from 1: {x: ax, y: ay, z: az}.",
    );
    let one = ["mean", "max", "frequency"].map(present);
    let figures = Form::new()
        .may("mean", number_or_quantity(&acceleration), "The mean that the meter gave.")
        .may("max", number_or_quantity(&acceleration), "The largest value that it gave.")
        .may("frequency", frequency(), "The frequency that it gave: 25.1 Hz.")
        .rule(json!({"anyOf": one}));
    let readings = Form::new().need(
        "at",
        some_map_of(&quantity(&[Kind::RotationalSpeed]), any([recorded.shape(), figures.shape()])),
        "What was recorded at each speed: {3450 rpm: {file: v3450.csv, time: t, axes: {z: az}}}.",
    );
    Own {
        says: "How it shakes: recordings of acceleration, or a meter's figures.",
        check,
        readings: vec![readings],
    }
}
