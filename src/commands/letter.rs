//! `letter`: the claim's covering letter, one page, beside the report that it points into.

use std::io::Write;
use std::path::{Path, PathBuf};

use super::report::BuildError;
use super::{Outcome, PROGRAM, read_and_analyse, show};
use crate::compose::Templates;
use crate::compose::letter::{Fit, Sources, letter};
use crate::compose::report::{self, Drawings, report};
use crate::evidence;
use crate::findings::Findings;
use crate::findings::claim::{Claims, beyond_their_limits, tested};
use crate::session::{Date, Machine, Problem, Problems, Session, written_out};
use crate::typeset::{self, Meta, Pdf};

/// What the file is called in the session's folder of outputs.
pub(super) const NAME: &str = "letter.pdf";

pub(super) struct Options {
    pub(super) machine: Option<String>,
    pub(super) date: Option<Date>,
    pub(super) out: PathBuf,
    pub(super) templates: Option<PathBuf>,
    pub(super) quiet: bool,
}

/// Reads `--date`: a day as 2026-04-03 (RFC 3339 full-date).
pub(super) fn date(text: &str) -> Result<Date, String> {
    let read = (text.len() == 10).then(|| text.parse().ok()).flatten();
    read.ok_or_else(|| "expected a day of the calendar, written as 2026-04-03".to_owned())
}

/// Runs the command.
pub(super) fn run(dir: &Path, options: &Options, out: &mut dyn Write, err: &mut dyn Write) -> Outcome {
    let Some(templates) = super::templates(options.templates.as_deref(), dir, None, err) else {
        return Outcome::SessionHasErrors;
    };
    let shown = dir.display().to_string();
    let mut problems = Problems::default();
    let Some((session, findings)) = read_and_analyse(dir, &mut problems) else {
        show::problems(&problems, &shown, err);
        return Outcome::SessionHasErrors;
    };
    let machine = match chosen(&session, &findings, options.machine.as_deref()) {
        Ok(machine) => machine,
        Err(why) => {
            let _ = writeln!(err, "{}: {}", show::plain(&shown), show::plain(&why));
            return Outcome::WrongArguments;
        }
    };
    let claims = Claims::of(&session, &findings, machine);
    let made = made(&claims, &findings, &templates, options.date, &mut problems);
    warn(&claims, options.date, &mut problems);
    if let Ok(made) = &made
        && made.pdf.pages > 1
    {
        let says = format!("the letter takes {} pages: its texts are too long for one", made.pdf.pages);
        problems.push(Problem::folder(says).warning());
    }
    show::problems(&problems, &shown, err);
    if problems.any_error() {
        return Outcome::SessionHasErrors;
    }
    match made {
        Ok(made) => write(&made, &claims, options, out, err),
        Err(error) => {
            let _ = writeln!(err, "{}: {}", show::plain(&shown), show::plain(&error.to_string()));
            Outcome::SessionHasErrors
        }
    }
}

fn write(
    made: &Made,
    claims: &Claims<'_>,
    options: &Options,
    out: &mut dyn Write,
    err: &mut dyn Write,
) -> Outcome {
    let path = match super::beside_report(&made.pdf, NAME, claims.session, &options.out, err) {
        Ok(path) => path,
        Err(outcome) => return outcome,
    };
    if !options.quiet {
        let checks = match claims.beyond.len() {
            0 => "no check".to_owned(),
            1 => "1 check".to_owned(),
            many => format!("{many} checks"),
        };
        let rest = claims.beyond.len().saturating_sub(made.rows);
        let more = if rest == 0 { String::new() } else { format!(" ({rest} of them left to the report)") };
        let text = format!(
            "{}\n{checks} of {} beyond the limit{more}; goes with report.pdf, {}\n",
            path.display(),
            claims.machine.name,
            made.number
        );
        let _ = out.write_all(show::plain(&text).as_bytes());
    }
    Outcome::Done
}

/// The machine that the letter is about: the one named, else the one that has findings beyond their
/// limits, else the only one tested.
fn chosen<'a>(
    session: &'a Session,
    findings: &'a Findings,
    named: Option<&str>,
) -> Result<&'a Machine, String> {
    let tested = tested(session);
    let list = |machines: &[&Machine]| {
        let names: Vec<String> = machines.iter().map(|m| format!("  {}  {}", m.id, m.name)).collect();
        names.join("\n")
    };
    if let Some(id) = named {
        let found = tested.iter().find(|machine| machine.id == id).copied();
        return found.ok_or_else(|| format!("no machine '{id}' was tested; there is\n{}", list(&tested)));
    }
    let beyond = beyond_their_limits(session, findings);
    match (beyond.as_slice(), tested.as_slice()) {
        ([only], _) | ([], [only]) => Ok(only),
        ([], []) => Err("no machine was tested".to_owned()),
        ([], _) => Err(format!(
            "a letter is about one machine, and none has a finding beyond its limit; choose with --machine\n{}",
            list(&tested)
        )),
        _ => Err(format!(
            "a letter is about one machine, and several have findings beyond their limits; choose with --machine\n{}",
            list(&beyond)
        )),
    }
}

/// What the letter's writer should know before it is sent.
fn warn(claims: &Claims<'_>, date: Option<Date>, problems: &mut Problems) {
    let session = claims.session;
    let mut say = |message: String, help: &str| {
        problems.push(Problem::folder(message).warning().help(help));
    };
    if claims.beyond.is_empty() {
        say(
            format!(
                "no finding of {} is beyond its limit: the letter says so and claims nothing",
                claims.machine.name
            ),
            "look at the verdicts with `asfound inspect` before you send it",
        );
    } else if claims.all_run_out() {
        say(
            "all coverage had run out on the day of the first finding: the letter says so".to_owned(),
            "correct `bought` or `coverage` in session.yaml if this is wrong",
        );
    }
    if session.letter.to.is_none() {
        say(
            "the letter has no addressee: lines are left to fill in by hand".to_owned(),
            "write in session.yaml: letter: {to: {name: …, address: […]}}",
        );
    }
    if session.letter.from.is_none() {
        say(
            "the letter has no sender: lines are left to fill in by hand".to_owned(),
            "write in session.yaml: letter: {from: {name: …, address: […]}}",
        );
    }
    if session.ask.is_none() {
        say(
            "the letter asks for nothing in particular".to_owned(),
            "write in session.yaml what you ask for, as `ask: Replace the arbor assembly`",
        );
    }
    let last = session.visits.iter().filter(|v| v.machine == claims.machine.id).map(|v| v.date).max();
    if let Some((date, last)) = date.zip(last).filter(|(date, last)| date < last) {
        say(
            format!("the letter's date, {}, is before the visit of {}", written_out(date), written_out(last)),
            "",
        );
    }
}

/// A letter, typeset.
struct Made {
    pdf: Pdf,
    /// How many findings it shows by name.
    rows: usize,
    /// The number of the report that it points into.
    number: String,
}

fn made(
    claims: &Claims<'_>,
    findings: &Findings,
    templates: &Templates,
    date: Option<Date>,
    problems: &mut Problems,
) -> Result<Made, BuildError> {
    let session = claims.session;
    let files = evidence::inventory(session, problems);
    let number = evidence::document_number(&files);
    let drawings = Drawings::default();
    let sources = report::Sources {
        session,
        findings,
        drawings: &drawings,
        files: &files,
        seals: &[],
        publication: evidence::Publication::default(),
        number: &number,
        program: PROGRAM,
    };
    // What is wrong with the notes is for the report to say.
    let report = report(sources, &mut Problems::default());
    let issued = &report.document.date;
    let issued = Date::new(issued.year, issued.month, issued.day).unwrap_or_default();
    let date = date.unwrap_or(issued);
    let meta = Meta { ident: format!("{number} letter {}", claims.machine.id), date };
    let set = |fit: Fit| one(Sources { claims, report: &report, date }, fit, templates, &meta);
    let (pdf, rows) = fitted(claims.beyond.len(), set)?;
    Ok(Made { pdf, rows, number: number.clone() })
}

fn one(sources: Sources<'_>, fit: Fit, templates: &Templates, meta: &Meta) -> Result<Pdf, BuildError> {
    let page = letter(sources, fit);
    Ok(typeset::pdf(&templates.compose("letter.typ", &page)?, meta)?)
}

/// The fullest letter that keeps to one page, with the number of its rows. Shorter texts are tried
/// where fewer than eight rows would be left.
fn fitted(all: usize, set: impl Fn(Fit) -> Result<Pdf, BuildError>) -> Result<(Pdf, usize), BuildError> {
    const ENOUGH: usize = 8;
    let mut best: Option<(Pdf, usize)> = None;
    let mut shortest = None;
    for step in Fit::STEPS {
        let (mut fits, mut too_many) = (0, step.rows.min(all) + 1);
        let mut kept = None;
        // The most rows first: mostly it fits, and one try is enough.
        let mut rows = too_many - 1;
        while fits < too_many {
            let pdf = set(Fit { rows, ..step })?;
            if pdf.pages <= 1 {
                kept = Some((pdf, rows));
                fits = rows + 1;
            } else {
                shortest = Some((pdf, rows));
                too_many = rows;
            }
            rows = usize::midpoint(fits, too_many);
        }
        if let Some((pdf, rows)) = kept
            && best.as_ref().is_none_or(|(_, most)| rows > *most)
        {
            best = Some((pdf, rows));
        }
        if best.as_ref().is_some_and(|(_, rows)| *rows >= all.min(ENOUGH)) {
            break;
        }
    }
    Ok(best.or(shortest).unwrap_or((Pdf { bytes: Vec::new(), pages: 0, warnings: Vec::new() }, 0)))
}
