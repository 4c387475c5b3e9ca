//! `schema`: what may stand in a session's files, for editors.

use std::io::Write;

use clap::ValueEnum;

use super::Outcome;
use crate::registry::measures;

/// The files that a person writes in YAML.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum Which {
    /// session.yaml
    Session,
    /// visit.yaml
    Visit,
}

pub(super) fn run(file: Which, out: &mut dyn Write) -> Outcome {
    let schema = match file {
        Which::Session => crate::schema::session(&measures()),
        Which::Visit => crate::schema::visit(&measures()),
    };
    // A reader that went away is no error of ours.
    let _ = writeln!(out, "{schema:#}");
    Outcome::Done
}
