//! What is said of reports that are made again and again: once what is new, and nothing twice.

use std::collections::BTreeSet;
use std::io::{self, Write};
use std::time::Duration;

use super::{Followed, State};
use crate::commands::report::Attempt;
use crate::commands::show;
use crate::session::{Problem, Problems};

pub(super) struct Teller<'a> {
    out: &'a mut dyn Write,
    err: &'a mut dyn Write,
    quiet: bool,
}

impl<'a> Teller<'a> {
    pub(super) fn new(out: &'a mut dyn Write, err: &'a mut dyn Write, quiet: bool) -> Self {
        Self { out, err, quiet }
    }

    /// Of the first report: all that a single one says.
    pub(super) fn first(&mut self, one: &mut Followed, attempt: &Attempt) -> io::Result<()> {
        self.trouble(one, attempt);
        match &attempt.made {
            Ok(made) => self.say(&show::plain(&made.told())),
            Err(super::Outcome::SessionHasErrors) => {
                let _ = writeln!(self.err, "{}: waiting until it is mended", one.shown);
                Ok(())
            }
            Err(_) => Ok(()),
        }
    }

    /// That it goes on from here.
    pub(super) fn following(&mut self, names: &[&str]) -> io::Result<()> {
        self.say(&format!("following {}; Ctrl-C ends it\n", names.join(", ")))
    }

    /// Of a report made again: what changed, what came of it and how long it took, in a line.
    pub(super) fn again(&mut self, one: &mut Followed, attempt: &Attempt, took: Duration) -> io::Result<()> {
        self.trouble(one, attempt);
        let mut what = Vec::new();
        if one.state == State::Away {
            what.push("the folder is back".to_owned());
        }
        if !one.changes.is_empty() {
            what.push(one.changes.said());
        }
        let what = show::plain(&what.join(", "));
        let Ok(made) = &attempt.made else {
            let _ = writeln!(self.err, "{}: {what}; the last report stays until it is mended", one.shown);
            return Ok(());
        };
        let mended = if one.state == State::Faulty { "mended; " } else { "" };
        let (pages, seconds) = (made.pages, took.as_secs_f64());
        self.say(&format!("{}: {what}; {mended}{pages} pages in {seconds:.2} s\n", one.shown))
    }

    /// That a session's folder is not there.
    pub(super) fn away(&mut self, one: &Followed) {
        let _ = writeln!(self.err, "{}: the folder is gone; waiting until it is back", one.shown);
    }

    /// That the system does not tell of saved files.
    pub(super) fn alone(&mut self, why: &str) {
        let _ =
            writeln!(self.err, "{}; looking at the folders five times a second instead", show::plain(why));
    }

    /// Errors and what else should be known, but nothing that was said of the last report and is no error.
    fn trouble(&mut self, one: &mut Followed, attempt: &Attempt) {
        let fails = attempt.made.is_err();
        let mut said = BTreeSet::new();
        self.lines(&attempt.before, fails, &one.said, &mut said);
        let mut new = Problems::default();
        for problem in &attempt.problems {
            let key = key(problem);
            if !one.said.contains(&key) {
                new.push(problem.clone());
            }
            said.insert(key);
        }
        let shown = if attempt.problems.any_error() { &attempt.problems } else { &new };
        show::problems(shown, &one.shown, self.err);
        self.lines(&attempt.after, fails, &one.said, &mut said);
        one.said = said;
    }

    fn lines(&mut self, text: &str, all: bool, before: &BTreeSet<String>, said: &mut BTreeSet<String>) {
        for line in text.lines() {
            if all || !before.contains(line) {
                let _ = writeln!(self.err, "{line}");
            }
            said.insert(line.to_owned());
        }
    }

    fn say(&mut self, text: &str) -> io::Result<()> {
        if self.quiet {
            return Ok(());
        }
        self.out.write_all(text.as_bytes())?;
        self.out.flush()
    }
}

/// The same problem stays the same when its line moves.
fn key(problem: &Problem) -> String {
    let file = problem.place.as_ref().map_or("", |place| place.source.name.as_str());
    format!("{file}: {}", problem.message)
}
