//! The extremes: one reading and many, tiny and huge, equal and negative, long names.

use super::super::repeats::Repeats;
use super::super::summary::Summary;
use super::super::{Bound, ChartError, Reading, Svg};
use super::{
    COLUMN, LONG, at_most, both, limit, measured, repeats, row, spindle, summary, summary_of_all_kinds,
};

pub(super) fn summary_of_forty() -> Summary {
    let rows = (0..40)
        .map(|index| {
            let label = if index % 9 == 4 { LONG.to_owned() } else { format!("Check {index}") };
            let value = f64::from(index) * 0.11;
            let text = format!("{value:.2} ± 0.20 mm");
            row(
                &label,
                Some(at_most(1.5, "at most 1.5 mm")),
                true,
                vec![Some(measured(value, 0.2, &text)), Some(measured(value * 0.4, 0.2, "0.12 ± 0.20 mm"))],
            )
        })
        .collect();
    Summary { width_pt: COLUMN, visits: both(), rows }
}

fn repeats_of(values: &[f64], unit: &str) -> Repeats {
    let mut chart = repeats();
    chart.limit = None;
    chart.unit = unit.to_owned();
    chart.visits.truncate(1);
    chart.visits[0].readings = values.iter().map(|value| Reading { value: *value, struck: false }).collect();
    chart.visits[0].mean = None;
    chart
}

pub(super) fn extremes(all: &mut Vec<(&'static str, Result<Svg, ChartError>)>) {
    all.push(("repeats-one", repeats_of(&[0.3], "mm").draw()));
    all.push(("repeats-tiny", repeats_of(&[1e-9, 2e-9, 4e-9], "m").draw()));
    all.push(("repeats-huge", repeats_of(&[1e9, 3e9, -2e9], "rpm").draw()));
    all.push(("repeats-equal", repeats_of(&[5.5; 9], "A").draw()));
    all.push(("repeats-zero", repeats_of(&[0.0; 3], "A").draw()));
    all.push(("repeats-negative", repeats_of(&[-3.0, -7.5, -1.25], "thou").draw()));
    all.push((
        "repeats-many",
        repeats_of(&(0..200).map(|i| f64::from(i % 13)).collect::<Vec<_>>(), "A").draw(),
    ));
    let mut cut = repeats();
    cut.range = Some((12.05, 12.35));
    all.push(("repeats-beyond", cut.draw()));
    let mut long = repeats();
    long.name = LONG.repeat(2);
    for visit in &mut long.visits {
        visit.visit.name = LONG.to_owned();
    }
    long.limit = Some(limit(Bound::Between(11.0, 16.0), "between 11 s and 16 s, Owner's guide"));
    all.push(("repeats-long", long.draw()));
    let mut long = spindle();
    for station in long.visits.iter_mut().flat_map(|visit| visit.stations.iter_mut()) {
        LONG.clone_into(&mut station.name);
    }
    long.visits[1].visit.name = "主軸 <b>\u{202e}&\u{0}\u{1b}אבג".to_owned();
    all.push(("spindle-long", long.draw()));
    let mut one = spindle();
    one.visits.truncate(1);
    one.visits[0].stations.truncate(1);
    all.push(("spindle-one", one.draw()));
    let mut cut = spindle();
    cut.range = Some((0.0, 2.0));
    all.push(("spindle-beyond", cut.draw()));
    let mut long = summary_of_all_kinds();
    for row in &mut long.rows {
        LONG.clone_into(&mut row.label);
    }
    long.width_pt = COLUMN;
    all.push(("summary-long", long.draw()));
    let mut wide = summary_of_all_kinds();
    wide.width_pt = COLUMN;
    for found in wide.rows.iter_mut().flat_map(|row| row.found.iter_mut().flatten()) {
        found.text = "1000000000.00 ± 12000000.00 µm/m".to_owned();
    }
    all.push(("summary-wide", wide.draw()));
    let mut cut = super::unrolled_grid(2, 6, 12, 3, COLUMN);
    cut.range = Some((-0.5, 0.7));
    all.push(("unrolled-six-beyond", cut.draw()));
    let mut one = summary();
    one.rows.truncate(1);
    one.visits.truncate(1);
    all.push(("summary-one", one.draw()));
}
