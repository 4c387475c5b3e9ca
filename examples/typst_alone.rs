//! Typesets a document that `asfound report --source` wrote, and nothing else: the yardstick for
//! what the whole program may take. `typst_alone out/arbor-bearings/source report.pdf`. With a number behind it, so many times
//! over with nothing kept, and it prints what the middle one took.
#![allow(clippy::print_stderr, clippy::print_stdout, clippy::pedantic)]

use std::collections::BTreeMap;
use std::path::Path;
use std::process::ExitCode;

use asfound::typeset::{Bundle, Main, Meta, pdf};

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().collect();
    let (folder, target, times) = match arguments.as_slice() {
        [_, folder, target] => (folder, target, 1),
        [_, folder, target, times] => (folder, target, times.parse().unwrap_or(1)),
        _ => {
            eprintln!("typst_alone FOLDER TARGET [TIMES]");
            return ExitCode::from(2);
        }
    };
    match run(Path::new(folder), Path::new(target), times) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("{error}");
            ExitCode::FAILURE
        }
    }
}

fn run(folder: &Path, target: &Path, times: usize) -> Result<(), Box<dyn std::error::Error>> {
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
    let mut taken = Vec::new();
    for _ in 0..times {
        typst::comemo::evict(0);
        let start = std::time::Instant::now();
        std::fs::write(target, pdf(&bundle, &meta)?.bytes)?;
        taken.push(start.elapsed());
    }
    taken.sort();
    if times > 1 {
        println!("{:.1} ms", taken[times / 2].as_secs_f64() * 1e3);
    }
    Ok(())
}
