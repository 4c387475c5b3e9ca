//! What all studies share: numbers that depend on a seed alone, sessions written and analysed as a person's are, and the
//! count of intervals that hold the truth.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::fs;
use std::path::Path;

use asfound::findings::{Findings, Verdict};
use asfound::session::Problems;
use asfound::{analysis, registry, session};
use rand_pcg::Pcg64Mcg;
use rand_pcg::rand_core::{Rng as _, SeedableRng};

/// The seed of a study, with what is simulated mixed in.
pub const SEED: u64 = 20_261_127;
/// Trials that are written into one session: visits of one check.
const TOGETHER: usize = 200;

/// Numbers that depend on a seed alone.
pub struct Rng(Pcg64Mcg);

impl Rng {
    /// A stream of its own for each study, so that one more study changes no other.
    pub fn of(name: &str) -> Self {
        let mut seed = SEED;
        for byte in name.bytes() {
            seed = (seed ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3);
        }
        Self(Pcg64Mcg::seed_from_u64(seed))
    }

    /// Equally likely between two numbers.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        let share = (self.0.next_u64() >> 11) as f64 / (1u64 << 53) as f64;
        low + (high - low) * share
    }

    /// Equally likely within so much to either side of zero.
    pub fn within(&mut self, half: f64) -> f64 {
        self.between(-half, half)
    }

    /// Normal about zero (Box and Muller 1958).
    pub fn normal(&mut self, deviation: f64) -> f64 {
        let radius = (-2.0 * self.between(f64::MIN_POSITIVE, 1.0).ln()).sqrt();
        deviation * radius * self.between(0.0, std::f64::consts::TAU).cos()
    }

    /// So many normal numbers.
    pub fn normals(&mut self, many: usize, deviation: f64) -> Vec<f64> {
        (0..many).map(|_| self.normal(deviation)).collect()
    }
}

/// What an instrument with this step shows.
pub fn shown(value: f64, step: f64) -> f64 {
    if step > 0.0 { (value / step).round() * step } else { value }
}

/// A number as it would be typed: no more digits than the step has.
pub fn typed(value: f64, step: f64) -> String {
    let decimals = if step > 0.0 { (-step.log10()).ceil().max(0.0) as usize + 1 } else { 9 };
    format!("{:.decimals$}", shown(value, step))
}

/// A list of numbers as it would be typed.
pub fn list(values: impl IntoIterator<Item = f64>, step: f64) -> String {
    let each: Vec<String> = values.into_iter().map(|value| typed(value, step)).collect();
    format!("[{}]", each.join(", "))
}

/// What a finding or a change must hold.
pub struct Truth {
    /// Whether it is the change between the trial's two visits, and not a finding of its first.
    pub of_change: bool,
    /// The place.
    pub at: String,
    /// The number.
    pub what: &'static str,
    /// What it is in truth, in the unit of the finding.
    pub value: f64,
}

impl Truth {
    /// Of a finding.
    pub fn of(at: &str, what: &'static str, value: f64) -> Self {
        Self { of_change: false, at: at.to_owned(), what, value }
    }

    /// Of a change.
    pub fn change(at: &str, what: &'static str, value: f64) -> Self {
        Self { of_change: true, at: at.to_owned(), what, value }
    }
}

/// One simulated measurement.
#[derive(Default)]
pub struct Trial {
    /// The instrument, as the inside of its map in session.yaml.
    pub instrument: String,
    /// The readings of the check, as the inside of its map: at one visit, or at two that are compared.
    pub visits: Vec<String>,
    /// Recordings that the first visit names.
    pub files: Vec<(&'static str, Vec<u8>)>,
    /// What is true.
    pub truths: Vec<Truth>,
}

/// What is asked of one number of a study.
#[derive(Clone, Copy)]
pub struct Row {
    /// The number.
    pub what: &'static str,
    /// How many of 100 intervals are to hold the truth, from and to.
    pub holds: (f64, f64),
    /// Why not 95 ± 1.
    pub why: &'static str,
}

/// What is to be held where nothing stands against it.
pub const PLAIN: (f64, f64) = (94.0, 96.0);

/// A row that is to hold 95 ± 1.
pub const fn plain(what: &'static str) -> Row {
    Row { what, holds: PLAIN, why: "" }
}

/// A row that is known to be otherwise.
pub const fn row(what: &'static str, holds: (f64, f64), why: &'static str) -> Row {
    Row { what, holds, why }
}

/// An instrument's map: step, accuracy and repeat readings (how many, their scatter, and what they are about) in one unit.
pub fn instrument(
    rng: &mut Rng,
    unit: &str,
    step: f64,
    accuracy: f64,
    (repeats, noise, about): (usize, f64, f64),
) -> String {
    let mut text = format!("resolution: {step} {unit}");
    if accuracy > 0.0 {
        text += &format!(", accuracy: {accuracy} {unit}");
    }
    if repeats > 0 {
        let list = list(rng.normals(repeats, noise).into_iter().map(|r| about + r), step);
        text += &format!(", repeat_readings: {list}, repeat_unit: {unit}");
    }
    text
}

/// From the least to the most.
pub fn range(values: &[f64]) -> f64 {
    values.iter().copied().fold(f64::NEG_INFINITY, f64::max)
        - values.iter().copied().fold(f64::INFINITY, f64::min)
}

/// A way of measuring, simulated.
pub struct Study {
    /// The measure.
    pub measure: &'static str,
    /// How it is measured, in words.
    pub how: &'static str,
    /// The check's own fields, the unit among them.
    pub check: &'static str,
    /// What is asked.
    pub rows: Vec<Row>,
    /// How many times as long a trial takes as a cheap one.
    pub cost: usize,
    /// Makes one measurement.
    pub trial: Box<dyn Fn(&mut Rng) -> Trial>,
}

/// What came of one row.
#[derive(Clone, Copy, Debug, Default)]
pub struct Count {
    /// Trials with a value.
    pub trials: usize,
    /// Trials without one.
    pub refused: usize,
    /// Intervals that hold the truth.
    pub held: usize,
    /// Intervals that lie below it.
    pub low: usize,
    /// Intervals that lie above it.
    pub high: usize,
    /// Trials whose truth keeps the limit.
    pub keeping: usize,
    /// Trials whose truth is beyond the limit.
    pub beyond: usize,
    /// Verdicts `within` of what is beyond.
    pub wrongly_within: usize,
    /// Verdicts `over` or `under` of what keeps it.
    pub wrongly_beyond: usize,
    /// Verdicts that decide.
    pub decided: usize,
    /// Values above their floor.
    pub above_floor: usize,
    /// Sum of the half-widths.
    half: f64,
}

/// Errors of one row, kept for the half-width that would have done.
type Errors = Vec<f64>;

impl Count {
    /// How many of 100 hold the truth.
    pub fn percent(&self) -> f64 {
        100.0 * self.held as f64 / self.trials.max(1) as f64
    }

    /// The interval of that, by Wilson (J. Amer. Stat. Assoc. 22, 1927), `z` standard deviations wide.
    pub fn interval(&self, z: f64) -> (f64, f64) {
        wilson(self.held, self.trials, z)
    }
}

/// Wilson's interval of a share, in percent.
pub fn wilson(held: usize, trials: usize, z: f64) -> (f64, f64) {
    let (n, p) = (trials.max(1) as f64, held as f64 / trials.max(1) as f64);
    let middle = (p + z * z / (2.0 * n)) / (1.0 + z * z / n);
    let half = z / (1.0 + z * z / n) * (p * (1.0 - p) / n + z * z / (4.0 * n * n)).sqrt();
    (100.0 * (middle - half).max(0.0), 100.0 * (middle + half).min(1.0))
}

/// A study's rows with what came of them.
pub struct Outcome {
    /// In the order of the study's rows.
    pub counts: Vec<(Row, Count)>,
    /// Mean half-width over the one that would have held 95 of 100.
    pub widths: Vec<f64>,
}

impl Study {
    /// Its name, which its numbers hang on.
    pub fn name(&self) -> String {
        format!("{}: {}", self.measure, self.how)
    }

    /// Runs it.
    pub fn run(&self, trials: usize) -> Outcome {
        let mut rng = Rng::of(&self.name());
        let mut counts: BTreeMap<&str, (Count, Errors)> = BTreeMap::new();
        let mut left = trials;
        while left > 0 {
            let many = left.min(TOGETHER);
            left -= many;
            let made: Vec<Trial> = (0..many).map(|_| (self.trial)(&mut rng)).collect();
            let folder = tempfile::tempdir().expect("a folder for temporary files");
            self.write(folder.path(), &made);
            let findings = analysed(folder.path());
            for (index, trial) in made.iter().enumerate() {
                for truth in &trial.truths {
                    let (count, errors) = counts.entry(truth.what).or_default();
                    tally(&findings, index, truth, count, errors);
                }
            }
        }
        let mut outcome = Outcome { counts: Vec::new(), widths: Vec::new() };
        for row in &self.rows {
            let (count, mut errors) = counts.remove(row.what).unwrap_or_default();
            errors.sort_by(f64::total_cmp);
            let enough = errors.get(errors.len() * 95 / 100).copied().unwrap_or(f64::NAN);
            outcome.widths.push(count.half / count.trials.max(1) as f64 / enough);
            outcome.counts.push((*row, count));
        }
        outcome
    }

    /// Writes trials as the visits of one session, each with an instrument of its own.
    fn write(&self, folder: &Path, trials: &[Trial]) {
        let mut session = format!(
            "title: Simulated\nunits: metric\nmachines: {{m: {{name: M}}}}\nchecks:\n  c: {{measure: {}, {}}}\n\
             instruments:\n",
            self.measure, self.check
        );
        let mut compared = String::from("compare:\n");
        for (index, trial) in trials.iter().enumerate() {
            let _ = writeln!(session, "  i{index}: {{name: I, {}}}", trial.instrument);
            for (number, readings) in trial.visits.iter().enumerate() {
                let visit = folder.join(format!("visits/v{index}-{number}"));
                fs::create_dir_all(&visit).expect("a folder");
                let text = format!(
                    "state: baseline\ndate: 2026-03-02\nreadings:\n  c: {{instrument: i{index}, {readings}}}\n"
                );
                fs::write(visit.join("visit.yaml"), text).expect("a visit");
                for (name, bytes) in trial.files.iter().filter(|_| number == 0) {
                    fs::write(visit.join(name), bytes).expect("a recording");
                }
            }
            if trial.visits.len() > 1 {
                let _ = writeln!(compared, "  d{index}: {{before: v{index}-0, after: v{index}-1}}");
            }
        }
        if trials.iter().any(|trial| trial.visits.len() > 1) {
            session.push_str(&compared);
        }
        fs::write(folder.join("session.yaml"), session).expect("a session");
    }
}

/// The program's own way from a folder to findings.
fn analysed(folder: &Path) -> Findings {
    let mut problems = Problems::default();
    let session = session::read(folder, &mut problems);
    let findings = session.map(|session| analysis::analyse(&session, &registry::measures(), &mut problems));
    if problems.any_error() {
        let first = problems.iter().find(|problem| !problem.message.is_empty());
        panic!("a simulated session has errors: {first:?}");
    }
    findings.expect("a session")
}

/// Counts whether the interval of a finding, or of a change, holds the truth.
fn tally(findings: &Findings, index: usize, truth: &Truth, count: &mut Count, errors: &mut Errors) {
    let interval = if truth.of_change {
        let named = format!("d{index}");
        let comparison = findings.comparisons.iter().find(|one| one.id == named).expect("a comparison");
        let changes = comparison.checks.iter().flat_map(|check| &check.changes);
        let found = changes.into_iter().find(|change| change.at == truth.at && change.what == truth.what);
        found.map(|change| (change.change, change.low, change.high))
    } else {
        let check = findings.check("c").expect("the check");
        let visit = check.visit(&format!("v{index}-0")).expect("the visit");
        let found = visit.finding(&truth.at, truth.what);
        let found = found.unwrap_or_else(|| panic!("no {} at '{}'", truth.what, truth.at));
        if let Some(limit) = &found.limit {
            let keeps = limit.at_most.is_none_or(|most| truth.value <= most)
                && limit.at_least.is_none_or(|least| truth.value >= least);
            count.keeping += usize::from(keeps);
            count.beyond += usize::from(!keeps);
            match found.verdict {
                Verdict::Within => {
                    count.decided += 1;
                    count.wrongly_within += usize::from(!keeps);
                }
                Verdict::Over | Verdict::Under => {
                    count.decided += 1;
                    count.wrongly_beyond += usize::from(keeps);
                }
                Verdict::TooCloseToCall | Verdict::NoLimit => {}
            }
        }
        count.above_floor +=
            usize::from(found.floor.zip(found.value).is_some_and(|(floor, value)| value > floor));
        // No uncertainty at all is an interval of no width.
        let half = found.expanded().map_or(0.0, |expanded| expanded.expanded);
        found.value.map(|value| (value, value - half, value + half))
    };
    let Some((value, low, high)) = interval else {
        count.refused += 1;
        return;
    };
    // Numbers that are typed are rounded in binary: an end that is the truth holds it.
    let room = 1e-9 * truth.value.abs().max(high - low);
    count.trials += 1;
    count.half += (high - low) / 2.0;
    errors.push((value - truth.value).abs());
    if high + room < truth.value {
        count.low += 1;
    } else if low - room > truth.value {
        count.high += 1;
    } else {
        count.held += 1;
    }
}
