//! `shelf --instrument`: one instrument over time.

use std::io::Write;

use super::super::inspect::columns;
use super::super::report::BuildError;
use super::super::{Outcome, PROGRAM, show};
use super::{Asked, Form, paper};
use crate::compose::Templates;
use crate::compose::instrument::instrument;
use crate::evidence::sha256;
use crate::session::Date;
use crate::shelf::instrument::{Instrument, NotFound, to_csv, to_json, words};
use crate::shelf::{Row, Walked};
use crate::typeset::{self, Meta, Pdf};

/// Runs the command.
pub(super) fn run(
    named: &str,
    asked: &Asked,
    (walked, rows, on): (&Walked, &[Row], Date),
    quiet: bool,
    out: &mut dyn Write,
    err: &mut dyn Write,
) -> Outcome {
    let found = match Instrument::of(rows, named) {
        Ok(found) => found,
        Err(why) => {
            let _ = writeln!(err, "{}", show::plain(&not_found(named, &why)));
            return Outcome::WrongArguments;
        }
    };
    if !quiet {
        for line in walked.unread.iter().chain(&found.said) {
            let _ = writeln!(err, "{}", show::plain(line));
        }
    }
    let text = match asked.form {
        None => show::plain(&told(&found, on)),
        Some(Form::Csv) => to_csv(&found),
        Some(Form::Json) => to_json(&found, PROGRAM),
        Some(Form::Pdf) => {
            let name = paper::file_name("instrument", found.serial.as_deref().unwrap_or(&found.name));
            let make = |templates: &Templates| made(&found, on, templates);
            return paper::write((&name, &make), asked, walked, quiet, out, err);
        }
    };
    // A reader that went away is no error of ours.
    let _ = out.write_all(text.as_bytes());
    Outcome::Done
}

fn not_found(named: &str, why: &NotFound) -> String {
    match why {
        NotFound::Nothing(known) => {
            let why = format!("no instrument has the serial number, id or name '{named}'");
            paper::nearest_of(&why, named, known)
        }
        NotFound::Several(serials) => {
            format!(
                "several instruments are called '{named}'; ask for one serial number: {}",
                serials.join(", ")
            )
        }
    }
}

/// The story as the terminal shows it.
fn told(found: &Instrument, on: Date) -> String {
    let sessions = if found.sessions == 1 { "1 session" } else { &format!("{} sessions", found.sessions) };
    let mut text = format!("{}: {sessions}\n", words::title(found));
    for sentence in words::calibrations(found, on) {
        text += &format!("  {sentence}\n");
    }
    let rows: Vec<Vec<String>> = found
        .uses
        .iter()
        .map(|one| {
            let serial =
                one.used.machine_serial.as_ref().map_or_else(String::new, |serial| format!(", {serial}"));
            let cells = [
                one.used.date.to_string(),
                format!("{}{serial}", one.used.machine),
                one.used.checks.join("; "),
                words::stood(one),
                format!("{}, {}", one.session, one.used.visit),
            ];
            cells.map(|cell| cell.split_whitespace().collect::<Vec<_>>().join(" ")).to_vec()
        })
        .collect();
    text += &format!("\n{}{}\n", columns(&rows, &[]), words::after(found));
    text
}

fn made(found: &Instrument, on: Date, templates: &Templates) -> Result<Pdf, BuildError> {
    let page = instrument(found, on, PROGRAM);
    let meta = Meta { ident: format!("instrument {}", sha256(to_json(found, PROGRAM).as_bytes())), date: on };
    Ok(typeset::pdf(&templates.compose("instrument.typ", &page)?, &meta)?)
}
