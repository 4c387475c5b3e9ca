//! The fields that name a recording and say how it is written.

use super::quantities::{quantity, unit};
use super::shape::{Form, Shape, list, one_of, some_text, text, truth, whole_number};
use crate::quantity::Kind;

/// A column by its name in the header, or by its number from 1.
pub fn column() -> Shape {
    text()
}

/// `file`, its times, and how it is written where that cannot be told from the file itself.
pub fn recording() -> Form {
    let moment = || quantity(&[Kind::Time]);
    let stretch = Form::new()
        .need("from", moment(), "Where the bad stretch begins, from the recording's beginning: \"0:12\".")
        .need("to", moment(), "Where it ends.")
        .need("because", some_text(), "Why it does not count.")
        .shape();
    Form::new()
        .need("file", text(), "The recording, a CSV or WAV file, named from the folder of this visit.yaml.")
        .may("time", column(), "The column of times, by its name or its number from 1.")
        .may("time_unit", unit(&[Kind::Time]), "The unit of that column, where its head does not say it.")
        .may("rate", quantity(&[Kind::Frequency]), "Samples a second, where there is no column of times.")
        .may("struck", list(stretch), "Stretches that were bad; they are left out and said.")
        .may("encoding", one_of(&["latin-1", "utf-8"]), "How its letters are written; told from the file.")
        .may(
            "separator",
            one_of(&[",", ";", "|", "tab", "\\t", "\t", "space", "spaces", " ", ":", "/"]),
            "What stands between two cells; told from the file.",
        )
        .may("decimal", one_of(&[".", ","]), "The decimal sign; told from the file.")
        .may("skip", whole_number(0, 1_000_000), "How many lines stand above the header or the first row.")
        .may("header", truth(), "Whether the first row names the columns.")
        .may("clock", truth(), "Whether the times are times of day.")
}
