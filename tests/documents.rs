//! The report as a document: what its file claims, what its pages say, and what cannot break it.
//!
//! Checked from outside with qpdf and with poppler's `pdftotext`, `pdffonts` and `pdfdetach`.
#![allow(missing_docs, clippy::unwrap_used, clippy::panic, clippy::too_many_lines)]

#[path = "documents/mock.rs"]
mod mock;

use std::path::{Path, PathBuf};
use std::process::Command;

use asfound::compose::Templates;
use asfound::compose::document::Report;
use asfound::typeset::{self, Bundle, Meta, Pdf, TypesetError};

fn meta() -> Meta {
    Meta { ident: "3f9a1c5e7d20".to_owned(), date: jiff::civil::date(2026, 3, 20) }
}

fn bundle(templates: &Templates, report: &Report) -> Bundle {
    let mut bundle = templates.compose("report.typ", report).unwrap_or_else(|error| panic!("{error}"));
    for (path, bytes) in mock::assets() {
        bundle.add_asset(path, bytes);
    }
    bundle
}

fn typeset(report: &Report) -> Pdf {
    typeset::pdf(&bundle(&Templates::embedded(), report), &meta()).unwrap_or_else(|error| panic!("{error}"))
}

/// The file on disk, for the tools from outside.
fn written(pdf: &Pdf) -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("report.pdf");
    std::fs::write(&path, &pdf.bytes).unwrap();
    (folder, path)
}

fn run(tool: &str, arguments: &[&str], path: &Path) -> String {
    let output = Command::new(tool).args(arguments).arg(path).output();
    let output = output.unwrap_or_else(|error| panic!("{tool} is needed for this test (apt install qpdf poppler-utils): {error}"));
    assert!(output.status.success(), "{tool}: {}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8_lossy(&output.stdout).into_owned()
}

fn text_of(pdf: &Pdf) -> String {
    let (_folder, path) = written(pdf);
    let output = Command::new("pdftotext").arg("-layout").arg(&path).arg("-").output().unwrap();
    String::from_utf8_lossy(&output.stdout).into_owned()
}

#[test]
fn a_report_typesets_without_a_warning() {
    let pdf = typeset(&mock::report());
    assert!(pdf.warnings.is_empty(), "{:#?}", pdf.warnings);
    if let Some(path) = std::env::var_os("ASFOUND_KEEP") {
        std::fs::write(path, &pdf.bytes).unwrap();
    }
}
