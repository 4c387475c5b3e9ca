//! Out of parallel and out of square: the usual one and the extremes.

use super::super::lean::{Lean, LeanVisit};
use super::super::style::State;
use super::super::{Bound, ChartError, Reading, Svg, Visit};
use super::{COLUMN, LONG, at_most, limit, measured, visit};

fn leaning(visit: Visit, over: f64, value: f64, half: f64) -> LeanVisit {
    let text = format!("{value:.1} ± {half:.1} thou over {over} mm").replace('-', "−");
    let readings = [-0.5, 0.25, 0.5, -0.25];
    LeanVisit {
        visit,
        over,
        found: measured(value, half, &text),
        readings: readings.map(|off| Reading { value: value + off, struck: false }).to_vec(),
    }
}

/// A fence against the slot before and after it was set.
pub(in super::super) fn lean() -> Lean {
    let mut found = leaning(visit("As found", State::AsFound), 300.0, 5.0, 0.8);
    found.readings[1] = Reading { value: 7.0, struck: true };
    Lean {
        width_pt: COLUMN,
        name: "Rear less front".to_owned(),
        unit: "thou".to_owned(),
        along_name: "From front to rear".to_owned(),
        along_unit: "mm".to_owned(),
        reference: "the slot".to_owned(),
        visits: vec![found, leaning(visit("As left", State::AsLeft), 300.0, -0.8, 0.8)],
        limit: Some((at_most(2.0, "at most 2 thou over 300 mm"), 300.0)),
        range: None,
        unit_per_along: Some(1.0 / 0.0254),
    }
}

pub(super) fn extremes(all: &mut Vec<(&'static str, Result<Svg, ChartError>)>) {
    all.push(("lean", lean().draw()));
    let states = [State::Reference, State::AsFound, State::AsLeft];
    let named = |index: u32| visit(&format!("Visit {}", index + 1), states[index as usize % 3]);
    let mut six = lean();
    six.visits =
        (0..6).map(|i| leaning(named(i), 100.0 + 40.0 * f64::from(i), 3.0 - f64::from(i), 0.6)).collect();
    all.push(("lean-six", six.draw()));
    six.visits = (0..6).map(|i| leaning(named(i), 180.0, 0.3 - 0.1 * f64::from(i), 0.6)).collect();
    six.limit = None;
    all.push(("lean-six-together", six.draw()));
    let mut apart = lean();
    apart.visits[0].over = 180.0;
    apart.visits[0].found.text = "5.0 ± 0.8 thou over 180 mm".to_owned();
    apart.limit = Some((limit(Bound::Between(0.0, 2.0), "0 to 2 thou over 100 mm"), 100.0));
    all.push(("lean-apart", apart.draw()));
    let mut one = lean();
    one.visits = vec![leaning(visit("As found", State::AsFound), 90.0, 0.0, 0.3)];
    one.visits[0].readings.clear();
    one.limit = None;
    one.unit_per_along = None;
    all.push(("lean-zero", one.draw()));
    one.visits[0].found = measured(0.0, 0.0, "0 thou");
    all.push(("lean-nothing", one.draw()));
    let mut unsure = lean();
    unsure.visits[1].found = measured(-0.8, 25.0, "−1 ± 25 thou over 300 mm");
    all.push(("lean-unsure", unsure.draw()));
    let mut far = lean();
    far.limit = Some((at_most(90.0, "at most 90 thou over 300 mm"), 300.0));
    all.push(("lean-limit-far", far.draw()));
    let mut cut = lean();
    cut.range = Some((-1.0, 3.0));
    all.push(("lean-beyond", cut.draw()));
    cut.range = Some((4.0, 6.0));
    all.push(("lean-without-zero", cut.draw()));
    let mut long = lean();
    long.name = LONG.repeat(2);
    long.along_name = LONG.repeat(2);
    LONG.clone_into(&mut long.reference);
    for visit in &mut long.visits {
        LONG.clone_into(&mut visit.visit.name);
        visit.found.text = "1000000000.00 ± 12000000.00 µm over 1000000000 µm".to_owned();
    }
    all.push(("lean-long", long.draw()));
    let mut tiny = lean();
    for visit in &mut tiny.visits {
        visit.over *= 1e6;
        visit.found.value *= 1e-6;
        visit.found.uncertainty = Some(1e-6);
        visit.readings.iter_mut().for_each(|reading| reading.value *= 1e-6);
    }
    tiny.limit = Some((limit(Bound::AtLeast(-1e-6), "at least −1 nm"), 3e8));
    all.push(("lean-tiny", tiny.draw()));
}
