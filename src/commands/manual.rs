//! `manual`: a page for the program and one for each command, from their definitions.

use std::io::Write;
use std::path::Path;

use clap_mangen::Man;

use super::written::File;
use super::{Outcome, show, written};

pub(super) fn run(
    program: clap::Command,
    target: &Path,
    quiet: bool,
    out: &mut dyn Write,
    err: &mut dyn Write,
) -> Outcome {
    let written = pages(program).and_then(|pages| {
        written::put_among(target, &pages, is_ours).map_err(std::io::Error::other)?;
        Ok(pages)
    });
    match written {
        Ok(pages) => {
            for (name, _) in pages.iter().filter(|_| !quiet) {
                let _ = writeln!(out, "{}", show::plain(&target.join(name).display().to_string()));
            }
            Outcome::Done
        }
        Err(error) => {
            let _ = writeln!(err, "{}", show::plain(&error.to_string()));
            Outcome::CouldNotWrite
        }
    }
}

/// The pages with their names. They carry no date: the same program writes the same bytes.
fn pages(program: clap::Command) -> std::io::Result<Vec<File>> {
    let mut program = program.disable_help_subcommand(true);
    program.build();
    let mut commands: Vec<&clap::Command> = vec![&program];
    commands.extend(program.get_subcommands().filter(|command| !command.is_hide_set()));
    commands.into_iter().map(|command| page(command.clone())).collect()
}

fn page(command: clap::Command) -> std::io::Result<File> {
    let page = Man::new(command).source(super::PROGRAM);
    let mut bytes = Vec::new();
    page.render(&mut bytes)?;
    let text = String::from_utf8_lossy(&bytes);
    // The empty date of the title line needs its quotes, else what follows takes its place.
    let text = text.replacen(" 1  \"", " 1 \"\" \"", 1);
    // What comes last in every help of this program is an example.
    let text = text
        .replace(".SH EXTRA\n", ".SH EXAMPLES\n")
        .replace("\nExample:\n", "\n")
        .replace("\nExamples:\n", "\n");
    Ok((page.get_filename(), text.into_bytes()))
}

/// Whether a page was made by this program: its title line says so.
fn is_ours(bytes: &[u8]) -> bool {
    let begin = &bytes[..bytes.len().min(4096)];
    let title = begin.split(|byte| *byte == b'\n').find(|line| line.starts_with(b".TH asfound"));
    title.is_some_and(|title| written::holds(title, b"\"asfound "))
}
