//! What `sound` reads, for the schemas.

use crate::quantity::Kind;
use crate::schema::{
    Form, Own, Shape, any, column, list, quantity, reading, recording, setting, some_map_of, text, unit,
};

const LEVEL: [Kind; 1] = [Kind::Level];
const BACKGROUND: &str = "The same without the machine running.";

pub(super) fn own() -> Own {
    let check = Form::new()
        .may("unit", unit(&LEVEL), "The unit of bare readings: dBA.")
        .may("position", text(), "Where the microphone was: 1 m, operator's ear.")
        .may("by", text(), "What the settings are. Left out: speed.");
    let listed = list(reading(&LEVEL)).at_least(1);
    let at = any([listed, reading(&LEVEL), read().shape(), recorded().shape()]);
    let at = Form::new().need(
        "at",
        some_map_of(&setting(), at),
        "What was read at each setting: {3450 rpm: [84.1, 84.4]}, or {3450 rpm: {readings: …, background: …}}.",
    );
    Own {
        says: "How loud it is: a meter's levels, or recordings with a calibration tone.",
        check,
        readings: vec![at, read(), recorded()],
    }
}

/// One reading or several.
fn levels() -> Shape {
    any([list(reading(&LEVEL)).at_least(1), reading(&LEVEL)])
}

/// Levels that a meter showed.
fn read() -> Form {
    let background = any([levels(), track().may("calibration", calibration(), TONE).shape()]);
    Form::new().need("readings", levels(), "What the meter showed, in the order taken.").may(
        "background",
        background,
        BACKGROUND,
    )
}

const TONE: &str = "A recorded tone of known level: {file: tone.wav, level: 94 dB}.";

fn track() -> Form {
    recording().may("channel", column(), "Which channel or column, by its name or its number from 1.")
}

fn calibration() -> Shape {
    track()
        .need("level", quantity(&LEVEL), "The level of the tone: 94 dB.")
        .may("accuracy", quantity(&LEVEL), "Half-width of the calibrator's stated error: 0.3 dB.")
        .shape()
}

/// A recording with its calibration.
fn recorded() -> Form {
    let background = any([levels(), track().may("calibration", calibration(), TONE).shape()]);
    track()
        .need("calibration", calibration(), TONE)
        .may("background", background, BACKGROUND)
        .empty(&["readings"])
}
