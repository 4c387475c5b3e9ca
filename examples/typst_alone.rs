//! Typesets a document that `asfound report --source` wrote, and nothing else: the yardstick for
//! what the whole program may take. `typst_alone out/arbor-bearings/source report.pdf`.
#![allow(clippy::print_stderr, clippy::pedantic)]

use std::collections::BTreeMap;
use std::path::Path;
use std::process::ExitCode;

use asfound::typeset::{Bundle, Main, Meta, pdf};

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().collect();
    let [_, folder, target] = arguments.as_slice() else {
        eprintln!("typst_alone FOLDER TARGET");
        return ExitCode::from(2);
    };
    match run(Path::new(folder), Path::new(target)) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("{error}");
            ExitCode::FAILURE
        }
    }
}

fn run(folder: &Path, target: &Path) -> Result<(), Box<dyn std::error::Error>> {
    let mut bundle = Bundle { main: Main::default(), sources: BTreeMap::new(), assets: BTreeMap::new() };
    for entry in walkdir::WalkDir::new(folder) {
        let entry = entry?;
        if !entry.file_type().is_file() {
            continue;
        }
        let name = entry.path().strip_prefix(folder)?.display().to_string();
        let bytes = std::fs::read(entry.path())?;
        if name == "main.typ" {
            bundle.main.text = String::from_utf8(bytes)?;
        } else if name.ends_with(".typ") {
            bundle.sources.insert(name, String::from_utf8(bytes)?.into());
        } else {
            bundle.add_asset(name, bytes);
        }
    }
    let meta = Meta { ident: "alone".to_owned(), date: asfound::session::Date::new(2026, 4, 2)? };
    std::fs::write(target, pdf(&bundle, &meta)?.bytes)?;
    Ok(())
}
