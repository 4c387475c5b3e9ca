//! Reports of many sessions: side by side, a line each, and only of those that changed. One bad session never stops the rest.

use std::io::Write;
use std::path::{Path, PathBuf};

use super::record::{self, Seen};
use super::{Options, attempt, two_of_one_name};
use crate::commands::{Outcome, show, written};
use crate::shelf::side_by_side;

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
    match dirs {
        [dir] => one(dir, options, out, err),
        _ => many(dirs, options, out, err),
    }
}

/// One session: everything found is told, and the report is always made.
fn one(dir: &Path, options: &Options, out: &mut dyn Write, err: &mut dyn Write) -> Outcome {
    let seen = Seen::now(dir, options);
    let attempt = attempt(dir, options, None);
    let _ = err.write_all(attempt.before.as_bytes());
    show::problems(&attempt.problems, &dir.display().to_string(), err);
    let _ = err.write_all(attempt.after.as_bytes());
    match attempt.made {
        Ok(made) => {
            record::keep(seen, &made, attempt.problems.warnings(), options);
            if !options.quiet {
                let _ = out.write_all(show::plain(&made.told()).as_bytes());
            }
            Outcome::Done
        }
        Err(outcome) => outcome,
    }
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

fn many(dirs: &[PathBuf], options: &Options, out: &mut dyn Write, err: &mut dyn Write) -> Outcome {
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
    side_by_side(dirs, &|dir| came(dir, options), &mut take);
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

fn came(dir: &Path, options: &Options) -> Came {
    let shown = dir.display().to_string();
    let seen = Seen::now(dir, options);
    if let Some(known) = seen.as_ref().and_then(|seen| record::still_holds(seen, options)) {
        let line = format!("{shown}: unchanged{}\n", warnings(known.warnings, &shown));
        return Came { outcome: Outcome::Done, unchanged: true, line, wrong: String::new() };
    }
    let attempt = attempt(dir, options, None);
    let mut wrong = Vec::new();
    match attempt.made {
        Ok(made) => {
            let count = attempt.problems.warnings();
            let line = format!(
                "{shown}: {} ({} pages){}\n",
                made.pdf.display(),
                made.pages,
                warnings(count, &shown)
            );
            record::keep(seen, &made, count, options);
            Came { outcome: Outcome::Done, unchanged: false, line, wrong: String::new() }
        }
        Err(outcome) => {
            wrong.extend(attempt.before.as_bytes());
            show::problems(&attempt.problems, &shown, &mut wrong);
            wrong.extend(attempt.after.as_bytes());
            let wrong = String::from_utf8_lossy(&wrong).into_owned();
            Came { outcome, unchanged: false, line: format!("{shown}: not made\n"), wrong }
        }
    }
}

fn warnings(count: usize, dir: &str) -> String {
    match count {
        0 => String::new(),
        1 => format!("; 1 warning, which `asfound inspect {dir}` says"),
        _ => format!("; {count} warnings, which `asfound inspect {dir}` says"),
    }
}
