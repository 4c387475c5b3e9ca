//! What the papers of a shelf share: their names, and how they are written.

use std::io::Write;

use super::super::report::{BuildError, lies_in};
use super::super::{Outcome, show, written};
use super::Asked;
use crate::compose::Templates;
use crate::evidence::sha256;
use crate::session::nearest;
use crate::shelf::{Walked, folded};
use crate::typeset::Pdf;

/// What the file is called: `history-` and the serial number in small letters and digits. Where others in it were written as
/// `-`, a part of its hash keeps two of them apart.
pub(super) fn file_name(what: &str, serial: &str) -> String {
    let serial = folded(serial);
    let plain: String = serial
        .chars()
        .map(|c| if c.is_ascii_alphanumeric() || c == '-' { c } else { '-' })
        .take(60)
        .collect();
    let whole = plain == serial;
    let mark = if whole { String::new() } else { format!("-{}", &sha256(serial.as_bytes())[..6]) };
    format!("{what}-{plain}{mark}.pdf")
}

/// Why something was not found, and what comes nearest of what is known.
pub(super) fn nearest_of(why: &str, wanted: &str, known: &[String]) -> String {
    /// More names than this help nobody.
    const MOST: usize = 12;
    let known: Vec<&str> = known.iter().map(String::as_str).collect();
    match (nearest(wanted, known.iter().copied()), known.as_slice()) {
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

/// How a paper is made with these templates.
type Make<'a> = &'a dyn Fn(&Templates) -> Result<Pdf, BuildError>;

/// Writes a paper into the folder of outputs. It must not lie in one of the sessions, where it would count as evidence.
pub(super) fn write(
    (name, make): (&str, Make<'_>),
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
        let why = format!("{}: {name} would lie inside a session; choose another --out", asked.out.display());
        return refuse(why, Outcome::CouldNotWrite);
    }
    let own = asked.templates.as_deref();
    let templates = match own.map_or_else(|| Ok(Templates::embedded()), Templates::with_folder) {
        Ok(templates) => templates,
        Err(error) => return refuse(error.to_string(), Outcome::SessionHasErrors),
    };
    let pdf = match make(&templates) {
        Ok(pdf) => pdf,
        Err(error) => return refuse(error.to_string(), Outcome::SessionHasErrors),
    };
    let path = asked.out.join(name);
    if let Err(error) = written::put_alone(&path, &pdf.bytes) {
        return refuse(error.to_string(), Outcome::CouldNotWrite);
    }
    if !quiet {
        let pages = if pdf.pages == 1 { "1 page".to_owned() } else { format!("{} pages", pdf.pages) };
        let _ = out.write_all(show::plain(&format!("{} ({pages})\n", path.display())).as_bytes());
    }
    Outcome::Done
}
