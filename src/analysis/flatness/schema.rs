//! What `flatness` reads, for the schemas.

use super::super::form::{MOST_PASSES, check_schema};
use crate::quantity::Kind;
use crate::schema::{Form, Own, list, or_hole, quantity, reading, row};

pub(super) fn own() -> Own {
    let length = [Kind::Length];
    let grid = || list(list(or_hole(reading(&length))).at_least(1)).at_least(1);
    let step = |form: Form| {
        let both = row([quantity(&length), quantity(&length)]);
        form.need("step", both, "From place to place along a row, and from row to row: [250 mm, 200 mm].")
    };
    let rows = Form::new().need(
        "rows",
        grid(),
        "Rows of readings, each equally long; '~' where nothing can be read: [[0, 2, 1], [3, 6, 2], [1, 4, 0]].",
    );
    let passes = Form::new().need(
        "passes",
        list(grid()).at_least(1).at_most(MOST_PASSES),
        "Such rows several times, one grid a pass.",
    );
    let point = row([quantity(&length), quantity(&length), reading(&length)]);
    let points = Form::new().need(
        "points",
        list(point).at_least(1),
        "Places anywhere, each [x, y, height]: [[0 mm, 0 mm, 1.5], [250 mm, 0 mm, 2.0]].",
    );
    Own {
        says: "Heights over a surface: a table, a wing.",
        check: check_schema(),
        readings: vec![
            step(rows).empty(&["passes", "points"]),
            step(passes).empty(&["rows", "points"]),
            points.empty(&["rows", "passes"]),
        ],
    }
}
