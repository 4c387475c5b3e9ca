//! `shelf --history`: one machine over time.

use std::io::Write;
use std::path::Path;

use super::super::inspect::columns;
use super::super::progress::Progress;
use super::super::report::{BuildError, lies_in, room};
use super::super::{Outcome, PROGRAM, show, written};
use super::{Asked, Form};
use crate::compose::Templates;
use crate::compose::history::history;
use crate::evidence::sha256;
use crate::findings::sentences;
use crate::registry::measures;
use crate::session::nearest;
use crate::shelf::history::{Course, History, gather, to_csv, to_json, words};
use crate::shelf::{Walked, side_by_side};
use crate::typeset::{self, Meta, Pdf};

/// Runs the command.
pub(super) fn run(
    serial: &str,
    asked: &Asked,
    walked: &Walked,
    quiet: bool,
    out: &mut dyn Write,
    err: &mut dyn Write,
) -> Outcome {
    let measures = measures();
    let progress = Progress::of(walked.sessions.len(), "sessions", quiet);
    let of = |dir: &Path| {
        let one = gather(dir, serial, &measures);
        progress.step();
        one
    };
    let mut gathered = Vec::new();
    side_by_side(&walked.sessions, &of, &mut |one| gathered.push(one));
    drop(progress);
    let mut serials: Vec<String> = gathered.iter().flat_map(|one| one.serials.clone()).collect();
    serials.sort_unstable();
    serials.dedup();
    let Some(mut found) = History::of(gathered) else {
        let _ = writeln!(err, "{}", show::plain(&nobody_s(serial, &serials)));
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
        Some(Form::Pdf) => return write(&found, asked, walked, quiet, out, err),
    };
    // A reader that went away is no error of ours.
    let _ = out.write_all(text.as_bytes());
    Outcome::Done
}

/// Said of a serial number that no machine has.
fn nobody_s(serial: &str, serials: &[String]) -> String {
    /// More names than this help nobody.
    const MOST: usize = 12;
    let known: Vec<&str> = serials.iter().map(String::as_str).collect();
    let why = format!("no machine has the serial number '{serial}'");
    match (nearest(serial, known.iter().copied()), known.as_slice()) {
        (Some(name), _) => format!("{why}; did you mean '{name}'?"),
        (None, []) => format!("{why}: no session here names any"),
        (None, known) if known.len() > MOST => format!(
            "{why}; known here: {} and {} more",
            known.iter().take(MOST).copied().collect::<Vec<_>>().join(", "),
            known.len() - MOST
        ),
        (None, known) => format!("{why}; known here: {}", known.join(", ")),
    }
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

/// What the file is called: the serial number in small letters and digits. Where others in it were written as `-`, a part of its
/// hash keeps two of them apart.
fn file_name(serial: &str) -> String {
    let plain: String = serial
        .trim()
        .to_lowercase()
        .chars()
        .map(|c| if c.is_ascii_alphanumeric() || c == '-' { c } else { '-' })
        .take(60)
        .collect();
    let whole = plain == serial.trim().to_lowercase();
    let mark = if whole {
        String::new()
    } else {
        format!("-{}", &sha256(serial.trim().to_lowercase().as_bytes())[..6])
    };
    format!("history-{plain}{mark}.pdf")
}

fn write(
    found: &History,
    asked: &Asked,
    walked: &Walked,
    quiet: bool,
    out: &mut dyn Write,
    err: &mut dyn Write,
) -> Outcome {
    let mut refuse = |why: String, outcome: Outcome| {
        let _ = writeln!(err, "{}", show::plain(&why));
        outcome
    };
    if walked.sessions.iter().any(|session| lies_in(&asked.out, session)) {
        let why =
            format!("{}: the history would lie inside a session; choose another --out", asked.out.display());
        return refuse(why, Outcome::CouldNotWrite);
    }
    let own = asked.templates.as_deref();
    let templates = match own.map_or_else(|| Ok(Templates::embedded()), Templates::with_folder) {
        Ok(templates) => templates,
        Err(error) => return refuse(error.to_string(), Outcome::SessionHasErrors),
    };
    let pdf = match made(found, &templates) {
        Ok(pdf) => pdf,
        Err(error) => return refuse(error.to_string(), Outcome::SessionHasErrors),
    };
    let path = asked.out.join(file_name(&found.serial));
    if let Err(error) = written::put_alone(&path, &pdf.bytes) {
        return refuse(error.to_string(), Outcome::CouldNotWrite);
    }
    if !quiet {
        let pages = if pdf.pages == 1 { "1 page".to_owned() } else { format!("{} pages", pdf.pages) };
        let _ = out.write_all(show::plain(&format!("{} ({pages})\n", path.display())).as_bytes());
    }
    Outcome::Done
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
