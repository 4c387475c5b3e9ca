//! How often do the intervals hold the truth, and the verdicts? Every measure on simulated machines whose truth is known,
//! by the program's own way from a session folder to its findings. Prints Markdown tables.
//!
//! `benches/coverage [TRIALS [WORD]]`: so many trials of a cheap study (4,000); only
//! studies whose name holds the word.
#![allow(
    clippy::pedantic,
    clippy::print_stdout,
    clippy::print_stderr,
    clippy::unwrap_used,
    clippy::panic,
    unreachable_pub
)]

mod alignments;
mod engine;
mod repeated;
mod running;
mod turning;
mod verdicts;

use asfound::analysis::trend::trend;
use engine::{Outcome, Rng, Study, wilson};

/// Every study of intervals.
fn intervals() -> Vec<Study> {
    [repeated::studies(), turning::studies(), running::studies(), alignments::studies()]
        .into_iter()
        .flatten()
        .collect()
}

fn main() {
    let mut arguments = std::env::args().skip(1);
    let trials: usize = arguments.next().map_or(4000, |text| text.parse().expect("a number of trials"));
    let only = arguments.next().unwrap_or_default();
    let wanted = |study: &Study| study.name().contains(&only);
    println!("Seed {}; {} trials of a cheap study, fewer of a dear one.", engine::SEED, trials);
    println!(
        "\n| measure | how it is measured | number | trials | of 100 hold the truth | too low, too high | U over what would do | why not 95 |"
    );
    println!("|---|---|---|---|---|---|---|---|");
    for study in intervals().iter().filter(|study| wanted(study)) {
        print_intervals(study, &run(study, trials));
    }
    if "history: the slope of a trend".contains(&only) {
        let (held, of) = slopes(trials);
        let (low, high) = wilson(held, of, 1.96);
        println!(
            "| history | 8 visits at odd days, straight line and scatter | slope | {of} | {:.1} ({low:.1} to {high:.1}) | | | |",
            100.0 * held as f64 / of as f64
        );
    }
    println!(
        "\n| measure | how it is measured | trials | `within`, though beyond | `over`, though within | decided |"
    );
    println!("|---|---|---|---|---|---|");
    for study in verdicts::verdicts().iter().filter(|study| wanted(study)) {
        print_verdicts(study, &run(study, trials));
    }
    println!("\n| measure | how it is measured | number | trials | of 100 above the floor, or seen |");
    println!("|---|---|---|---|---|");
    for study in verdicts::floors().iter().filter(|study| wanted(study)) {
        print_floors(study, &run(study, trials));
    }
}

fn run(study: &Study, trials: usize) -> Outcome {
    let started = std::time::Instant::now();
    let outcome = study.run((trials / study.cost).max(trials.min(400)));
    eprintln!("{:6.1} s  {}", started.elapsed().as_secs_f64(), study.name());
    outcome
}

fn print_intervals(study: &Study, outcome: &Outcome) {
    for ((row, count), width) in outcome.counts.iter().zip(&outcome.widths) {
        let (low, high) = count.interval(1.96);
        let refused = if count.refused > 0 { format!(" ({} refused)", count.refused) } else { String::new() };
        let share = |part: usize| 100.0 * part as f64 / count.trials.max(1) as f64;
        println!(
            "| {} | {} | `{}` | {}{refused} | {:.1} ({low:.1} to {high:.1}){} | {:.1}, {:.1} | {width:.2} | {} |",
            study.measure,
            study.how,
            row.what,
            count.trials,
            count.percent(),
            if high >= row.holds.0 && low <= row.holds.1 { "" } else { " **!**" },
            share(count.low),
            share(count.high),
            row.why
        );
    }
}

fn print_verdicts(study: &Study, outcome: &Outcome) {
    for (_, count) in &outcome.counts {
        let share = |wrong: usize, of: usize| {
            let (low, high) = wilson(wrong, of, 1.96);
            let mark = if low > 2.5 { " **!**" } else { "" };
            format!("{:.1} % ({low:.1} to {high:.1}){mark}", 100.0 * wrong as f64 / of.max(1) as f64)
        };
        println!(
            "| {} | {} | {} | {} | {} | {:.0} % |",
            study.measure,
            study.how,
            count.trials,
            share(count.wrongly_within, count.beyond),
            share(count.wrongly_beyond, count.keeping),
            100.0 * count.decided as f64 / count.trials.max(1) as f64
        );
    }
}

fn print_floors(study: &Study, outcome: &Outcome) {
    for (row, count) in &outcome.counts {
        // A line that is not seen has no value.
        let all = count.trials + count.refused;
        let (low, high) = wilson(count.above_floor, all, 1.96);
        println!(
            "| {} | {} | `{}` | {all} | {:.1} ({low:.1} to {high:.1}) |",
            study.measure,
            study.how,
            row.what,
            100.0 * count.above_floor as f64 / all.max(1) as f64
        );
    }
}

/// The slope of a line through values that drift, by the function that the history uses.
fn slopes(trials: usize) -> (usize, usize) {
    let mut rng = Rng::of("history");
    let mut held = 0;
    for _ in 0..trials {
        let slope = rng.within(0.1);
        let mut days: Vec<f64> = (0..8).map(|_| rng.between(0.0, 400.0).floor()).collect();
        days.sort_by(f64::total_cmp);
        let values: Vec<f64> = days.iter().map(|day| 10.0 + slope * day + rng.normal(3.0)).collect();
        let found = trend(&days, &values).expect("a trend");
        held += usize::from((found.line.slope - slope).abs() <= found.half);
    }
    (held, trials)
}
