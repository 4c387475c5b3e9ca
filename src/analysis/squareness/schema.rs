//! What `squareness` reads, for the schemas.

use super::super::form::against_schema;
use super::super::straightness::line_schema;
use crate::quantity::Kind;
use crate::schema::{Form, Own, list, quantity, reading};

pub(super) fn own() -> Own {
    let length = [Kind::Length];
    let cut = Form::new()
        .need("near", reading(&length), "The width of the fifth strip at its near end.")
        .need("far", reading(&length), "Its width at its far end.")
        .need("strip", quantity(&length), "Its length: 380 mm.")
        .shape();
    let cuts = Form::new().need(
        "five_cuts",
        list(cut).at_least(1),
        "Five cuts of one board, a test each: [{near: 31.02, far: 31.47, strip: 380 mm}].",
    );
    let gap = Form::new()
        .need("gap", list(reading(&length)).at_least(1), "The gap between square and machine: [0.10, 0.12].")
        .need("over", quantity(&length), "How far from where the square touches it was read: 300 mm.");
    let lines = Form::new()
        .need(
            "lines",
            list(line_schema().shape()).at_least(1).at_most(2),
            "One line up a square, or two: [{along: [0 mm, 100 mm, 200 mm], passes: [[0, 1, 2]]}].",
        )
        .may("square_error", quantity(&[Kind::Angle]), "The square's own error, from its certificate.");
    Own {
        says: "A right angle, by five cuts, by a gap over a distance, or by an indicator run up a square.",
        check: against_schema(),
        readings: vec![
            cuts.empty(&["gap", "lines"]),
            gap.empty(&["five_cuts", "lines"]),
            lines.empty(&["five_cuts", "gap"]),
        ],
    }
}
