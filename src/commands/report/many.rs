//! Reports of many sessions: side by side, a line each, and only of those that changed. One bad session never stops the rest.

use std::io::Write;
use std::path::{Path, PathBuf};

use super::record::{self, Records};
use super::{Attempt, Kept, Options, attempt, two_of_one_name};
use crate::commands::kept::Seen;
use crate::commands::{Outcome, show, written};
use crate::shelf::{processors, side_by_side};

/// How many reports are made at once for each processor: one is written to the disk, and waited for, while another is set.
const WORKERS: usize = 2;

/// Runs the command on every folder.
pub(in super::super) fn run(
    dirs: &[PathBuf],
    options: &Options,
    out: &mut dyn Write,
    err: &mut dyn Write,
) -> Outcome {
    if two_of_one_name(dirs, err) {
        return Outcome::CouldNotWrite;
    }
    written::sweep(&options.out);
    let records = Records::of(options);
    let outcome = match dirs {
        [dir] => one(dir, options, &records, out, err),
        _ => many(dirs, options, &records, out, err),
    };
    records.save();
    outcome
}

/// One session: everything found is told, and the report is always made.
fn one(
    dir: &Path,
    options: &Options,
    records: &Records,
    out: &mut dyn Write,
    err: &mut dyn Write,
) -> Outcome {
    let seen = Seen::now(dir);
    let attempt = attempt(dir, options, &mut Kept::default());
    let _ = err.write_all(wrong(&attempt, dir).as_bytes());
    match attempt.made {
        Ok(made) => {
            if let Some(seen) = seen {
                records.keep(&seen, &made, attempt.problems.warnings(), options);
            }
            if !options.quiet {
                let _ = out.write_all(show::plain(&made.told()).as_bytes());
            }
            Outcome::Done
        }
        Err(outcome) => outcome,
    }
}

/// All that is said of an attempt beside its report, in whole lines.
fn wrong(attempt: &Attempt, dir: &Path) -> String {
    let mut said = attempt.before.clone().into_bytes();
    show::problems(&attempt.problems, &dir.display().to_string(), &mut said);
    said.extend(attempt.after.as_bytes());
    String::from_utf8_lossy(&said).into_owned()
}

/// What came of one of many.
struct Came {
    outcome: Outcome,
    unchanged: bool,
    /// For the terminal, in whole lines.
    line: String,
    /// Errors, in whole lines.
    wrong: String,
}

fn many(
    dirs: &[PathBuf],
    options: &Options,
    records: &Records,
    out: &mut dyn Write,
    err: &mut dyn Write,
) -> Outcome {
    let (mut made, mut unchanged, mut wrong) = (0_usize, 0_usize, 0_usize);
    let mut worst = Outcome::Done;
    let mut take = |came: Came| {
        // A reader that went away is no error of ours.
        let _ = err.write_all(came.wrong.as_bytes());
        if !options.quiet {
            let _ = out.write_all(show::plain(&came.line).as_bytes());
        }
        match (came.outcome, came.unchanged) {
            (Outcome::Done, true) => unchanged += 1,
            (Outcome::Done, false) => made += 1,
            _ => wrong += 1,
        }
        if came.outcome.code() > worst.code() {
            worst = came.outcome;
        }
    };
    side_by_side(dirs, WORKERS * processors(), &|kept, dir| came(dir, options, records, kept), &mut take);
    if !options.quiet {
        let said = [(made, "made"), (unchanged, "unchanged"), (wrong, "not made")];
        let parts: Vec<String> = said
            .iter()
            .filter(|(count, _)| *count > 0)
            .map(|(count, what)| format!("{count} {what}"))
            .collect();
        let _ = writeln!(out, "{} sessions: {}", dirs.len(), parts.join(", "));
    }
    worst
}

fn came(dir: &Path, options: &Options, records: &Records, kept: &mut Kept) -> Came {
    let shown = dir.display().to_string();
    let seen = Seen::now(dir);
    match seen.as_ref().and_then(|seen| records.still(seen)) {
        Some(record::Came::Made { warnings, .. }) => {
            let line = format!("{shown}: unchanged{}\n", also(warnings, &shown));
            return Came { outcome: Outcome::Done, unchanged: true, line, wrong: String::new() };
        }
        Some(record::Came::Wrong { dir, said, .. }) if dir == shown => {
            return not_made(Outcome::SessionHasErrors, &shown, said);
        }
        _ => {}
    }
    let attempt = attempt(dir, options, kept);
    kept.turn();
    match &attempt.made {
        Ok(made) => {
            let count = attempt.problems.warnings();
            let line =
                format!("{shown}: {} ({} pages){}\n", made.pdf.display(), made.pages, also(count, &shown));
            if let Some(seen) = &seen {
                records.keep(seen, made, count, options);
            }
            Came { outcome: Outcome::Done, unchanged: false, line, wrong: String::new() }
        }
        Err(outcome) => {
            let said = wrong(&attempt, dir);
            // Masked copies are made of more than is known here where they fail.
            let firm = attempt.problems.any_error() && attempt.problems.all_in_files();
            if let Some(seen) = seen.filter(|_| firm && !options.publication.public) {
                records.keep_wrong(&seen, (&shown, &said), &attempt.beside);
            }
            not_made(*outcome, &shown, said)
        }
    }
}

fn not_made(outcome: Outcome, shown: &str, wrong: String) -> Came {
    Came { outcome, unchanged: false, line: format!("{shown}: not made\n"), wrong }
}

fn also(warnings: usize, dir: &str) -> String {
    match warnings {
        0 => String::new(),
        1 => format!("; 1 warning, which `asfound inspect {dir}` says"),
        _ => format!("; {warnings} warnings, which `asfound inspect {dir}` says"),
    }
}
