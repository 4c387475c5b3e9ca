//! What is claimed of lines, tables, fences and gauges, and what is not.

use asfound::analysis::blank::{self, Slot};
use asfound::findings::Verdict;

use crate::common::{Made, close, found};

const INDICATOR: &str = "i: {name: I, resolution: 0.5 thou, accuracy: 1 thou, \
     repeat_readings: [0, 0.5, 0, 0, 0.5, 0, 0, 0.5], repeat_unit: thou}";

fn one_visit(check: &str, readings: &str) -> Made {
    two_visits(check, &[readings])
}

fn two_visits(check: &str, readings: &[&str]) -> Made {
    let session = format!(
        "title: T\nunits: inch\nmachines: {{m: {{name: M}}}}\ninstruments: {{{INDICATOR}}}\n\
         checks: {{c: {{{check}, instrument: i}}}}\n"
    );
    let states = ["as-found", "as-left"];
    let visits: Vec<(String, String)> = readings
        .iter()
        .zip(states)
        .zip(1..)
        .map(|((own, state), day)| {
            (state.to_owned(), format!("state: {state}\ndate: 2026-03-0{day}\nreadings: {{c: {{{own}}}}}\n"))
        })
        .collect();
    let visits: Vec<(&str, &str)> = visits.iter().map(|(id, text)| (id.as_str(), text.as_str())).collect();
    Made::new(&session, &visits)
}

#[test]
fn a_fence_of_rounding_noise_is_not_called_straight_nor_bent() {
    let made = one_visit(
        "measure: straightness, unit: thou",
        "along: [0 in, 6 in, 12 in, 18 in, 24 in], passes: [[0, 0.5, 0, 0.5, 0]]",
    );
    let (_, findings) = made.analysed();
    let straightness = found(&findings, "c", "as-found", "", "straightness");
    assert!(straightness.at_floor(), "{straightness:?}");
    assert!(findings.checks[0].patterns.is_empty(), "noise has no pattern");
}

#[test]
fn laying_the_straightedge_otherwise_changes_nothing() {
    let check = "measure: straightness, unit: thou";
    let along = "along: [0 in, 6 in, 12 in, 18 in, 24 in]";
    let level = one_visit(check, &format!("{along}, passes: [[0, 3, 4, 3, 0], [0, 3, 4, 3, 0]]"));
    let tilted = one_visit(check, &format!("{along}, passes: [[0, 3, 4, 3, 0], [5, 10, 13, 14, 13]]"));
    for what in ["straightness", "straightness_least_squares", "straightness_end_points"] {
        let of = |made: &Made| found(&made.analysed().1, "c", "as-found", "", what).value.unwrap();
        close(of(&level), of(&tilted), 1e-9);
    }
}

#[test]
fn a_table_with_a_slot_is_judged_by_what_was_read() {
    let made = one_visit(
        "measure: flatness, unit: thou",
        "rows: [[0, ~, 2, 3], [0, ~, 2, {struck: 40, because: a chip}], [0, ~, 2, 3]], step: [4 in, 4 in]",
    );
    let (_, findings) = made.analysed();
    let flatness = found(&findings, "c", "as-found", "", "flatness");
    assert_eq!((flatness.n, flatness.struck), (8, 1));
    // Columns at 0, 8 and 12 in read 0, 2 and 3: they lie in a plane.
    close(flatness.value.unwrap(), 0.0, 1e-9);
    assert!(flatness.with_struck.unwrap() > 10.0, "the chip would have made it another table");
}

#[test]
fn a_twisted_table_is_said_to_be_consistent_with_a_twist() {
    let made = one_visit(
        "measure: flatness, unit: thou",
        "rows: [[8, 4, 0, -4, -8], [4, 2, 0, -2, -4], [0, 0, 0, 0, 0], [-4, -2, 0, 2, 4], [-8, -4, 0, 4, 8]], \
         step: [4 in, 4 in]",
    );
    let (_, findings) = made.analysed();
    let says = &findings.checks[0].patterns[0].says;
    assert!(says.contains("consistent with a twist") && says.contains("16 thou"), "{says}");
}

#[test]
fn points_read_twice_are_one_place_with_a_scatter() {
    let points: Vec<String> = (0..9)
        .flat_map(|i| {
            let (x, y) = (i % 3, i / 3);
            [0.0, 0.5]
                .map(|noise| format!("[{x} in, {y} in, {}]", f64::from(i) * f64::from(i) * 0.25 + noise))
        })
        .collect();
    let made = one_visit("measure: flatness, unit: thou", &format!("points: [{}]", points.join(", ")));
    let (session, findings) = made.analysed();
    let flatness = found(&findings, "c", "as-found", "", "flatness");
    assert_eq!(flatness.n, 18);
    let scatter = flatness.budget.components.iter().find(|line| line.name.starts_with("Scatter")).unwrap();
    // Nine pairs half a thou apart: s² = 0.5²/2 with nine degrees of freedom.
    close(scatter.estimate, 0.5 / 2f64.sqrt(), 1e-12);
    close(scatter.dof, 9.0, 0.0);
    drop(session);
}

#[test]
fn a_blade_read_at_other_teeth_carries_its_own_run_out_and_the_page_says_so() {
    let made = one_visit(
        "measure: parallelism, unit: thou, apart: 7 in",
        "front: [0, 0.5], rear: [3, 3.5], same_tooth: false",
    );
    let (_, findings) = made.analysed();
    let lean = found(&findings, "c", "as-found", "", "out_of_parallel");
    assert!(lean.notes.iter().any(|note| note.contains("run-out")), "{:?}", lean.notes);
}

#[test]
fn teeth_that_were_the_same_before_and_not_after_are_no_like_for_like() {
    let made = two_visits(
        "measure: parallelism, unit: thou, apart: 7 in",
        &[
            "front: [0, 0.5], rear: [3, 3.5], same_tooth: true",
            "front: [0, 0], rear: [0, 0.5], same_tooth: false",
        ],
    );
    let (_, findings) = made.analysed();
    assert!(!findings.comparisons[0].checks[0].like_for_like);
}

#[test]
fn a_fence_that_leans_the_other_way_by_as_much_is_no_better() {
    let made = two_visits(
        "measure: parallelism, unit: thou, apart: 7 in",
        &["front: [0, 0], rear: [3, 3.5]", "front: [0, 0], rear: [-3, -3.5]"],
    );
    let (_, findings) = made.analysed();
    let change = &findings.comparisons[0].checks[0].changes[0];
    assert!(change.conclusion.words() != "better", "{change:?}");
}

#[test]
fn a_limit_over_a_length_is_held_either_way() {
    let made = one_visit(
        "measure: parallelism, unit: thou, apart: 7 in, limit: {at_most: 3 thou over 7 in}",
        "front: [0, 0, 0, 0], rear: [-9, -9, -9.5, -9]",
    );
    let (_, findings) = made.analysed();
    let lean = found(&findings, "c", "as-found", "", "out_of_parallel");
    close(lean.limit.as_ref().unwrap().at_most.unwrap(), 3.0 / 7.0, 1e-12);
    assert_eq!(lean.verdict, Verdict::Under);
}

#[test]
fn two_strips_that_disagree_in_sign_are_not_averaged_into_a_square_gauge() {
    let made = one_visit(
        "measure: squareness, unit: in",
        "five_cuts: [{near: 1.020, far: 1.060, strip: 15 in}, {near: 1.060, far: 1.020, strip: 15 in}]",
    );
    let (_, findings) = made.analysed();
    let lean = found(&findings, "c", "as-found", "", "out_of_square");
    assert!(lean.notes.iter().any(|note| note.contains("swapped")), "{:?}", lean.notes);
    assert!(lean.expanded().unwrap().expanded > 1.0, "their own scatter counts: {lean:?}");
}

#[test]
fn an_untrue_straightedge_is_in_the_uncertainty() {
    let readings = "along: [0 in, 6 in, 12 in, 18 in, 24 in], passes: [[0, 3, 4, 3, 0]]";
    let plain = one_visit("measure: straightness, unit: thou", readings);
    let known = one_visit(
        "measure: straightness, unit: thou, reference: {name: straightedge, within: 2 thou}",
        readings,
    );
    let standard = |made: &Made| {
        found(&made.analysed().1, "c", "as-found", "", "straightness").expanded().unwrap().standard
    };
    let added = standard(&known).powi(2) - standard(&plain).powi(2);
    close(added, 4.0 / 3.0, 1e-9);
}

/// The numbers that say when each place of a check is read.
fn order_of(made: &Made) -> Vec<Vec<Vec<Option<usize>>>> {
    let (_, findings) = made.analysed();
    let check = &findings.checks[0];
    let measure = asfound::registry::registered(check.measure).unwrap().measure;
    let slot = |slot: &Slot| match slot {
        Slot::Read(number) => Some(*number),
        Slot::Hole => None,
    };
    blank::like(&check.visits[0].raw, measure.order())
        .iter()
        .map(|table| table.rows.iter().map(|(_, row)| row.iter().map(slot).collect()).collect())
        .collect()
}

#[test]
fn a_table_is_read_there_and_back_around_its_slot() {
    let made = one_visit(
        "measure: flatness, unit: thou",
        "rows: [[0, ~, 2, 3], [0, ~, 2, 3], [0, ~, 2, 4]], step: [4 in, 4 in]",
    );
    let rows = [
        [Some(1), None, Some(2), Some(3)],
        [Some(6), None, Some(5), Some(4)],
        [Some(7), None, Some(8), Some(9)],
    ];
    assert_eq!(order_of(&made), [rows.map(|row| row.to_vec()).to_vec()]);
}

#[test]
fn front_and_rear_are_read_in_turn() {
    let made =
        one_visit("measure: parallelism, unit: thou, apart: 7 in", "front: [0, 0, 0], rear: [1, 1, 1]");
    assert_eq!(
        order_of(&made),
        [[[Some(1), Some(3), Some(5)].to_vec(), [Some(2), Some(4), Some(6)].to_vec()].to_vec()]
    );
}
