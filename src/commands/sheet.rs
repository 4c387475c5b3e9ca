//! `sheet`: blank reading sheets that are taken to the machine and written on with a pen.

use std::io::Write;
use std::path::{Path, PathBuf};

use super::report::BuildError;
use super::{Outcome, PROGRAM, show};
use crate::compose::Templates;
use crate::compose::sheet::{Sources, date, sheets};
use crate::evidence;
use crate::findings::Findings;
use crate::registry::measures;
use crate::session::{Problem, Problems, Session, did_you_mean};
use crate::typeset::{self, Meta, Pdf};

/// What the file is called in the session's folder of outputs.
const NAME: &str = "sheet.pdf";

pub(super) struct Options {
    pub(super) visit_title: Option<String>,
    pub(super) checks: Vec<String>,
    pub(super) out: PathBuf,
    pub(super) templates: Option<PathBuf>,
    pub(super) quiet: bool,
}

/// Runs the command.
pub(super) fn run(dir: &Path, options: &Options, out: &mut dyn Write, err: &mut dyn Write) -> Outcome {
    let Some(templates) = super::templates(options.templates.as_deref(), dir, None, err) else {
        return Outcome::SessionHasErrors;
    };
    let shown = dir.display().to_string();
    let mut problems = Problems::default();
    let session = crate::session::read_planned(dir, &mut problems);
    let findings = session.as_ref().map(|s| crate::analysis::analyse(s, &measures(), &mut problems));
    problems.sort();
    let Some((session, findings)) = session.zip(findings).filter(|_| !problems.any_error()) else {
        show::problems(&problems, &shown, err);
        return Outcome::SessionHasErrors;
    };
    if let Err(why) = known(&session, &options.checks) {
        let _ = writeln!(err, "{}: {}", show::plain(&shown), show::plain(&why));
        return Outcome::WrongArguments;
    }
    let made = made(&session, &findings, options, &templates, &mut problems);
    if session.visits.is_empty() {
        let says = "there is no visit yet: the sheets have the usual layouts".to_owned();
        let help = "once a check has been read, its sheet follows the layout of its last visit";
        problems.push(Problem::folder(says).warning().help(help));
    }
    show::problems(&problems, &shown, err);
    if problems.any_error() {
        return Outcome::SessionHasErrors;
    }
    match made {
        Ok((pdf, sheets)) => write(&pdf, sheets, &session, options, out, err),
        Err(error) => {
            let _ = writeln!(err, "{}: {}", show::plain(&shown), show::plain(&error.to_string()));
            Outcome::SessionHasErrors
        }
    }
}

/// Whether the session has every check that was asked for.
fn known(session: &Session, wanted: &[String]) -> Result<(), String> {
    let ids: Vec<&str> = session.checks.iter().map(|check| check.id.as_str()).collect();
    match wanted.iter().find(|id| !ids.contains(&id.as_str())) {
        Some(id) => Err(format!("there is no check '{id}'; {}", did_you_mean(id, &ids))),
        None => Ok(()),
    }
}

/// The sheets, typeset, and how many there are.
fn made(
    session: &Session,
    findings: &Findings,
    options: &Options,
    templates: &Templates,
    problems: &mut Problems,
) -> Result<(Pdf, usize), BuildError> {
    let number = evidence::document_number(&evidence::inventory(session, problems));
    let date = date(session);
    let page = sheets(Sources {
        session,
        findings,
        checks: &options.checks,
        visit: options.visit_title.as_deref().unwrap_or_default(),
        number: &number,
        program: PROGRAM,
        date,
    });
    let meta = Meta { ident: format!("{number} sheet"), date };
    let pdf = typeset::pdf(&templates.compose("sheet.typ", &page)?, &meta)?;
    Ok((pdf, page.sheets.len()))
}

fn write(
    pdf: &Pdf,
    sheets: usize,
    session: &Session,
    options: &Options,
    out: &mut dyn Write,
    err: &mut dyn Write,
) -> Outcome {
    let path = match super::beside_report(pdf, NAME, session, &options.out, err) {
        Ok(path) => path,
        Err(outcome) => return outcome,
    };
    if !options.quiet {
        let count = |n: usize, what: &str| if n == 1 { format!("1 {what}") } else { format!("{n} {what}s") };
        let text = format!("{}\n{}, {}\n", path.display(), count(sheets, "check"), count(pdf.pages, "page"));
        let _ = out.write_all(show::plain(&text).as_bytes());
    }
    Outcome::Done
}
