//! What `temperature` reads, for the schemas.

use crate::quantity::Kind;
use crate::schema::{
    Form, Own, any, column, fraction, list, number_or_quantity, quantity, reading, recording, row,
    some_map_of, text, unit,
};

const AIR: &str = "The id of the instrument that read the ambient, where it was another.";
const SURFACE: &str = "The emissivity of the surface, 0 to 1: corrects what an infrared thermometer showed.";

pub(super) fn own() -> Own {
    let temperature = [Kind::Temperature];
    let moment = || quantity(&[Kind::Time]);
    let points = || {
        let point = row([moment(), reading(&temperature)]);
        let says = "Times with temperatures, in the order of time: [[\"0:00\", 66.2], [\"2:00\", 71.0]].";
        Form::new().need("points", list(point).at_least(1), says)
    };
    let recorded = || recording().need("value", column(), "The column of temperatures, by name or number.");
    let place = |form: Form| form.may("surface_emissivity", fraction(), SURFACE).shape();
    let speed = quantity(&[Kind::RotationalSpeed, Kind::Velocity]);
    let check = Form::new()
        .may("unit", unit(&temperature), "The unit of bare readings and of the results: °F.")
        .may("surface_emissivity", fraction(), SURFACE)
        .may("ambient_instrument", text(), AIR);
    let readings = Form::new()
        .need(
            "places",
            some_map_of(&text(), any([place(points()), place(recorded())])),
            "Each place with its readings: {motor: {points: [[\"0:00\", 66.2], [\"2:00\", 71.0]]}}.",
        )
        .may(
            "ambient",
            any([number_or_quantity(&temperature), points().shape(), recorded().shape()]),
            "The air round it: 66 °F, or readings with their times. Left out: the visit's condition 'ambient'.",
        )
        .may(
            "schedule",
            list(row([moment(), speed])),
            "When which speed was set: [[\"0:00\", 1000 rpm], [\"4:00\", 2000 rpm]].",
        )
        .may("ambient_instrument", text(), AIR);
    Own { says: "How warm places get, and how they settle.", check, readings: vec![readings] }
}
