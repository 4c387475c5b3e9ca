//! `licences`: under which licence the program is, what it is made of, and what each part's licence asks to be passed on.

use std::io::Write;

use super::Outcome;
use crate::evidence::licences::{self, OWN};

pub(super) fn run(texts: bool, out: &mut dyn Write) -> Outcome {
    // A reader that went away is no error of ours.
    let _ = write!(out, "{OWN}\n{}", licences::LIST);
    if texts {
        let _ = write!(out, "\n{}", licences::texts());
    }
    Outcome::Done
}
