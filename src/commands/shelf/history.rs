//! `shelf --history`: one machine over time.

use std::collections::BTreeMap;
use std::io::Write;
use std::path::Path;

use super::super::inspect::columns;
use super::super::report::{BuildError, room};
use super::super::{Outcome, PROGRAM, show};
use super::{Asked, Form, paper};
use crate::compose::Templates;
use crate::compose::history::history;
use crate::evidence::sha256;
use crate::findings::sentences;
use crate::registry::measures;
use crate::shelf::history::{Course, Gathered, History, gather, has, to_csv, to_json, words};
use crate::shelf::{Row, Walked, processors, side_by_side};
use crate::typeset::{self, Meta, Pdf};

/// Runs the command.
pub(super) fn run(
    serial: &str,
    asked: &Asked,
    (walked, rows): (&Walked, &[Row]),
    quiet: bool,
    out: &mut dyn Write,
    err: &mut dyn Write,
) -> Outcome {
    let measures = measures();
    // The rows know whose sessions these are, so that only the machine's own are read.
    let known: BTreeMap<&str, &Row> = rows.iter().map(|row| (row.path.as_str(), row)).collect();
    let of = |(): &mut (), dir: &Path| match known.get(dir.display().to_string().as_str()) {
        Some(row) if !has(row, serial) => Gathered::aside(dir, row),
        _ => gather(dir, serial, &measures),
    };
    let mut gathered = Vec::new();
    side_by_side(&walked.sessions, processors(), &of, &mut |one| gathered.push(one));
    let mut serials: Vec<String> = gathered.iter().flat_map(|one| one.serials.clone()).collect();
    serials.sort_unstable();
    serials.dedup();
    let Some(mut found) = History::of(gathered) else {
        let why = format!("no machine has the serial number '{serial}'");
        let _ = writeln!(err, "{}", show::plain(&paper::nearest_of(&why, serial, &serials)));
        return Outcome::WrongArguments;
    };
    if let Some(measure) = &asked.measure {
        found.courses.retain(|course| course.measure == measure);
    }
    if !quiet {
        for line in walked.unread.iter().chain(&found.said) {
            let _ = writeln!(err, "{}", show::plain(line));
        }
    }
    let text = match asked.form {
        None => show::plain(&told(&found)),
        Some(Form::Csv) => to_csv(&found),
        Some(Form::Json) => to_json(&found, PROGRAM),
        Some(Form::Pdf) => {
            let name = paper::file_name("history", &found.serial);
            let make = |templates: &Templates| made(&found, templates);
            return paper::write((&name, &make), asked, walked, quiet, out, err);
        }
    };
    // A reader that went away is no error of ours.
    let _ = out.write_all(text.as_bytes());
    Outcome::Done
}

/// The history as the terminal shows it.
fn told(history: &History) -> String {
    let sessions =
        if history.sessions == 1 { "1 session" } else { &format!("{} sessions", history.sessions) };
    let mut text = format!("{}, {}: {sessions}\n", history.machine, history.serial);
    for course in &history.courses {
        text += &format!("\n{}\n{}", words::title(course), table(course));
        for sentence in words::told(course) {
            text += &format!("  {sentence}\n");
        }
    }
    text
}

fn table(course: &Course) -> String {
    let rows: Vec<Vec<String>> = course
        .points
        .iter()
        .map(|point| {
            let verdict = match point.finding.verdict.words() {
                "no limit" => String::new(),
                words => words.to_owned(),
            };
            let left_out =
                point.left_out.as_ref().map_or_else(String::new, |why| format!("not in the trend: {why}"));
            vec![
                point.date.to_string(),
                point.state.word().to_owned(),
                sentences::said(&point.finding),
                verdict,
                point.session.display().to_string(),
                left_out,
            ]
        })
        .collect();
    columns(&rows, &[])
}

fn made(found: &History, templates: &Templates) -> Result<Pdf, BuildError> {
    let drawn = history(found, room(found.paper).text, PROGRAM);
    let (page, drawings) = drawn.map_err(|error| BuildError::Chart { check: found.serial.clone(), error })?;
    let date = page.document.date.clone();
    let date = crate::session::Date::new(date.year, date.month, date.day).unwrap_or_default();
    let meta = Meta { ident: format!("history {}", sha256(to_json(found, PROGRAM).as_bytes())), date };
    let mut bundle = templates.compose("history.typ", &page)?;
    for (path, svg) in drawings {
        bundle.add_asset(path, svg.text.into_bytes());
    }
    Ok(typeset::pdf(&bundle, &meta)?)
}
