//! A number over the years, few and many.

use super::super::history::{History, HistoryPoint};
use super::super::style::State;
use super::super::{ChartError, Svg};
use super::{COLUMN, LONG, at_most, measured};
use crate::session::Date;

fn point(year: i16, month: i8, state: State, value: f64) -> HistoryPoint {
    HistoryPoint { on: Date::constant(year, month, 12), state, measured: measured(value, 0.3, "") }
}

fn history() -> History {
    let points = vec![
        point(2022, 3, State::Reference, 0.8),
        point(2022, 9, State::AsFound, 3.4),
        point(2022, 10, State::AsLeft, 0.5),
        point(2023, 4, State::Reference, 0.7),
        point(2024, 4, State::Reference, 0.9),
        point(2025, 5, State::AsFound, 1.4),
        point(2026, 2, State::AsFound, 1.6),
    ];
    let line = Some([(points[2].on, 0.45), (points[6].on, 1.55)]);
    History {
        width_pt: COLUMN,
        name: "Run-out (TIR)".to_owned(),
        unit: "thou".to_owned(),
        points,
        limit: Some(at_most(2.0, "at most 2 thou")),
        from_zero: true,
        line,
    }
}

pub(super) fn extremes(all: &mut Vec<(&'static str, Result<Svg, ChartError>)>) {
    all.push(("history", history().draw()));
    let mut one = history();
    one.points.truncate(1);
    one.line = None;
    one.limit = None;
    all.push(("history-one", one.draw()));
    let mut many = history();
    many.points = (0..400_i16)
        .map(|index| {
            let states = [State::AsFound, State::AsLeft, State::Reference];
            let value = f64::from((index * 37) % 50);
            point(
                1900 + index / 2,
                1 + i8::try_from(index % 12).unwrap_or(0),
                states[usize::try_from(index).unwrap_or(0) % 3],
                value,
            )
        })
        .collect();
    many.line = None;
    all.push(("history-many", many.draw()));
    let mut long = history();
    LONG.repeat(3).clone_into(&mut long.name);
    long.limit = Some(at_most(1e9, LONG));
    all.push(("history-long", long.draw()));
}
