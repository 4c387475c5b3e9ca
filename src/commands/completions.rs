//! `completions`: what makes a shell complete this program's commands and options, from their definitions.

use std::io::Write;

use super::Outcome;

pub(super) fn run(shell: clap_complete::Shell, mut program: clap::Command, out: &mut dyn Write) -> Outcome {
    let mut script = Vec::new();
    clap_complete::generate(shell, &mut program, "asfound", &mut script);
    // A reader that went away is no error of ours.
    let _ = out.write_all(&script);
    Outcome::Done
}
