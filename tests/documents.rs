//! The report as a document: what its file claims, what its pages say, and what cannot break it.
//!
//! Checked from outside with qpdf and with poppler's `pdftotext`, `pdffonts` and `pdfdetach`.
#![allow(missing_docs, clippy::unwrap_used, clippy::panic, clippy::too_many_lines)]

#[path = "documents/mock.rs"]
mod mock;

use std::path::{Path, PathBuf};
use std::process::Command;

use asfound::compose::Templates;
use asfound::compose::document::{Appendices, Report, State, Width};
use asfound::compose::environment::EMBEDDED;
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
    let output = output.unwrap_or_else(|error| {
        panic!("{tool} is needed for this test (apt install qpdf poppler-utils): {error}")
    });
    assert!(output.status.success(), "{tool}: {}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8_lossy(&output.stdout).into_owned()
}

fn text_of(pdf: &Pdf) -> String {
    let (_folder, path) = written(pdf);
    let output = Command::new("pdftotext").arg("-layout").arg(&path).arg("-").output().unwrap();
    String::from_utf8_lossy(&output.stdout).into_owned()
}

/// For looking at the pages: `ASFOUND_KEEP=/some/folder cargo test --test documents`.
fn keep(name: &str, pdf: &Pdf) {
    if let Some(folder) = std::env::var_os("ASFOUND_KEEP") {
        std::fs::write(Path::new(&folder).join(name), &pdf.bytes).unwrap();
    }
}

/// A report on one visit: a baseline, with nothing to compare.
fn one_visit() -> Report {
    let mut report = mock::report();
    "a4".clone_into(&mut report.document.paper);
    report.answer.unfair.clear();
    let table = report.answer.table.as_mut().unwrap();
    table.before = Some(State::Baseline);
    table.after = None;
    report.visits.truncate(1);
    report.visits[0].state = State::Baseline;
    for check in &mut report.checks {
        check.changes.clear();
        check.key_figures.truncate(1);
        check.key_figures[0].state = Some(State::Baseline);
        for group in &mut check.findings {
            group.rows.retain(|row| row.state == State::AsFound);
            for row in &mut group.rows {
                row.state = State::Baseline;
            }
        }
    }
    report.comparisons.clear();
    report.photos.clear();
    report.notes = None;
    report
}

#[test]
fn a_report_typesets_without_a_warning() {
    let pdf = typeset(&mock::report());
    assert!(pdf.warnings.is_empty(), "{:#?}", pdf.warnings);
    keep("report.pdf", &pdf);
}

#[test]
fn a_report_on_one_visit_is_whole_and_has_no_column_for_a_second() {
    let pdf = typeset(&one_visit());
    assert!(pdf.warnings.is_empty(), "{:#?}", pdf.warnings);
    keep("one-visit.pdf", &pdf);
    let text = text_of(&pdf);
    assert!(text.contains("baseline"));
    assert!(!text.contains("conclusion"), "{text}");
    let (_folder, path) = written(&pdf);
    assert!(run("pdfinfo", &[], &path).contains("(A4)"));
}

#[test]
fn an_empty_report_is_still_a_document() {
    let mut report = mock::report();
    report.answer.chart = None;
    report.answer.table = None;
    report.answer.unfair.clear();
    (report.machines, report.visits, report.diary, report.instruments) = (vec![], vec![], vec![], vec![]);
    (report.checks, report.comparisons, report.photos, report.attachments) = (vec![], vec![], vec![], vec![]);
    report.notes = None;
    report.appendices = Appendices::default();
    (report.document.question, report.document.ask, report.document.prepared_by) = (None, None, None);
    let pdf = typeset(&report);
    assert!(text_of(&pdf).contains("Arbor bearings on a 10-inch cabinet saw"));
}

#[test]
fn the_file_is_sound_and_claims_pdf_a_3a_and_pdf_ua_1() {
    let (folder, path) = written(&typeset(&mock::report()));
    run("qpdf", &["--check"], &path);
    let plain = folder.path().join("plain.pdf");
    let status = Command::new("qpdf")
        .args(["--qdf", "--object-streams=disable"])
        .arg(&path)
        .arg(&plain)
        .status()
        .unwrap();
    assert!(status.success());
    let bytes = std::fs::read(&plain).unwrap();
    let xmp = String::from_utf8_lossy(&bytes);
    for claim in [
        "<pdfaid:part>3</pdfaid:part>",
        "<pdfaid:conformance>A</pdfaid:conformance>",
        "<pdfuaid:part>1</pdfuaid:part>",
        "<xmp:CreatorTool>asfound 0.1.0</xmp:CreatorTool>",
        "Arbor bearings on a 10-inch cabinet saw",
        "2026-03-20",
    ] {
        assert!(xmp.contains(claim), "{claim}");
    }
    assert!(xmp.contains("/Lang (en"), "the language is set");
    assert!(xmp.contains("/Outlines"), "there are bookmarks");
}

#[test]
fn every_font_is_embedded_and_ours() {
    let (_folder, path) = written(&typeset(&mock::hostile()));
    let list = run("pdffonts", &[], &path);
    let fonts: Vec<&str> = list.lines().skip(2).collect();
    assert!(fonts.len() > 5, "{list}");
    for line in fonts {
        let name = line.split_whitespace().next().unwrap();
        let ours = [
            "SourceSans3-",
            "SourceSerif4-",
            "SourceCodePro-",
            "NotoSansHebrew",
            "NotoNaskhArabic",
            "Fallback",
        ];
        assert!(ours.iter().any(|family| name.contains(family)), "{line}");
        // The columns at the end: embedded, subset, with a table back to Unicode, object number.
        let columns: Vec<&str> = line.split_whitespace().rev().take(5).collect();
        assert_eq!(columns[2..], ["yes", "yes", "yes"], "{line}");
    }
}

#[test]
fn a_chart_s_letters_are_set_in_the_sans_family_and_stay_text() {
    let mut bundle = Bundle::default();
    let head = "#set document(title: \"T\")\n#set text(font: \"Source Serif 4\", lang: \"en\")\n";
    bundle.main.text = format!("{head}#image(\"charts/coast.svg\", alt: \"a\")");
    for (path, bytes) in mock::assets() {
        bundle.add_asset(path, bytes);
    }
    let (_folder, path) = written(&typeset::pdf(&bundle, &meta()).unwrap());
    let list = run("pdffonts", &[], &path);
    assert!(list.contains("SourceSans3-Regular") && !list.contains("SourceSerif4"), "{list}");
}

#[test]
fn the_session_s_files_travel_in_the_pdf_under_their_names() {
    let (_folder, path) = written(&typeset(&mock::report()));
    let list = run("pdfdetach", &["-list"], &path);
    assert!(list.starts_with("3 embedded files"), "{list}");
    for name in ["session.yaml", "visits/as-found/odd name %5C 测.csv", "findings.json"] {
        assert!(list.contains(name), "{list}");
    }
}

#[test]
fn the_same_report_gives_the_same_bytes() {
    let report = mock::report();
    assert!(typeset(&report).bytes == typeset(&report).bytes);
}

#[test]
fn what_means_to_break_out_comes_out_as_the_letters_typed() {
    let pdf = typeset(&mock::hostile());
    assert!(pdf.warnings.is_empty(), "{:#?}", pdf.warnings);
    keep("hostile.pdf", &pdf);
    let text = text_of(&pdf);
    assert!(text.contains(r#"#panic() {{ x }} {% y %} "quoted" \back\ [*b*] $m$ <l> @r `c` //"#), "{text}");
    assert!(text.contains("测量 ⟨U+1F600⟩ ⟨U+0007⟩⟨U+202E⟩"), "{text}");
}

#[test]
fn the_first_page_answers_and_every_page_says_which_it_is() {
    let pdf = typeset(&mock::report());
    let text = text_of(&pdf);
    let pages: Vec<&str> = text.split('\u{c}').filter(|page| !page.trim().is_empty()).collect();
    assert_eq!(pages.len(), pdf.pages, "no page is blank");
    for words in
        ["Does the arbor run true", "The arbor ran out 3.4", "Not like for like", "3F9A-1C5E-7D20", "1 of "]
    {
        assert!(pages[0].contains(words), "{words}: {}", pages[0]);
    }
    for (n, page) in pages.iter().enumerate().skip(1) {
        assert!(page.contains(&format!("sheet {} of {}", n + 1, pages.len())), "{page}");
    }
}

#[test]
fn numbers_of_a_column_meet_in_the_decimal_point() {
    let (folder, path) = written(&typeset(&mock::report()));
    let boxes = folder.path().join("boxes.html");
    let status = Command::new("pdftotext")
        .args(["-bbox", "-f", "1", "-l", "1"])
        .arg(&path)
        .arg(&boxes)
        .status()
        .unwrap();
    assert!(status.success());
    let html = std::fs::read_to_string(boxes).unwrap();
    // Right edge of "2.21", less its second place, is the right edge of "2.6" in the same column.
    let edge = |word: &str| -> f64 {
        let line =
            html.lines().find(|line| line.contains(&format!(">{word}<"))).unwrap_or_else(|| panic!("{word}"));
        line.split("xMax=\"").nth(1).unwrap().split('"').next().unwrap().parse().unwrap()
    };
    let digit = 0.497 * 8.0;
    assert!((edge("2.21") - digit - edge("2.6")).abs() < 0.05, "{} {}", edge("2.21"), edge("2.6"));
    assert!((edge("2.21") - digit - edge("11.8")).abs() < 0.05);
}

#[test]
fn a_crowded_margin_runs_into_nothing_that_is_wide() {
    let mut report = mock::report();
    report.checks[0].notes = (1..=14)
        .map(|n| format!("Note {n}: the stopwatch was worked by hand, and so was the switch."))
        .collect();
    report.checks[0].exhibits.retain(|exhibit| exhibit.width != Width::Text);
    let pdf = typeset(&report);
    // Typst warns where a layout does not settle.
    assert!(pdf.warnings.is_empty(), "{:#?}", pdf.warnings);
    keep("crowded.pdf", &pdf);
    let text = text_of(&pdf);
    let line = |words: &str| {
        text.lines().position(|line| line.contains(words)).unwrap_or_else(|| panic!("{words}: {text}"))
    };
    assert!(
        line("Note 14:") < line("As found: 1.6 thou off centre"),
        "the wide chart stands below the notes"
    );
}

/// A folder of one's own with one template replaced.
fn own(name: &str, text: &str) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join(name);
    std::fs::create_dir_all(path.parent().unwrap()).unwrap();
    std::fs::write(path, text).unwrap();
    folder
}

#[test]
fn an_error_in_a_template_names_the_template_the_line_and_the_column() {
    let folder = own(
        "sections/instruments.typ",
        "{% if instruments %}\n#section(\"Instruments\")\n  #no-such-function(3)\n{% endif %}\n",
    );
    let bundle = bundle(&Templates::with_folder(folder.path()).unwrap(), &mock::report());
    let error = typeset::pdf(&bundle, &meta()).unwrap_err();
    let TypesetError::Source(troubles) = &error else { panic!("{error}") };
    let place = troubles[0].place.as_ref().unwrap();
    assert_eq!((place.file.as_str(), place.line, place.column), ("sections/instruments.typ", 3, 4));
    assert!(error.to_string().contains("unknown variable: no-such-function"), "{error}");
}

#[test]
fn a_template_of_one_s_own_replaces_one_and_leaves_the_rest() {
    let folder = own("measures/quantity.typ", "#par([Our own words about ] + {{ check.title }})\n");
    let bundle = bundle(&Templates::with_folder(folder.path()).unwrap(), &mock::report());
    let text = text_of(&typeset::pdf(&bundle, &meta()).unwrap());
    assert!(text.contains("Our own words about Coast-down time") && text.contains("Reading the pattern"));
}

/// WCAG 2 relative luminance and contrast on white, as in the definition of "contrast ratio".
fn contrast_on_white(hex: &str) -> f64 {
    let channel = |at: usize| {
        let c = f64::from(u8::from_str_radix(&hex[at..at + 2], 16).unwrap()) / 255.0;
        if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
    };
    let luminance = 0.2126 * channel(0) + 0.7152 * channel(2) + 0.0722 * channel(4);
    1.05 / (luminance + 0.05)
}

#[test]
fn every_colour_that_a_word_carries_stands_4_5_to_1_on_white_and_every_mark_3_to_1() {
    // Values of CHECKVALUES 13, computed there from the same definition by other code.
    for (hex, ratio) in [
        ("767676", 4.542_224_959_605_253),
        ("D55E00", 3.867_183_789_866_913_5),
        ("0072B2", 5.185_446_345_779_855),
    ] {
        assert!((contrast_on_white(hex) - ratio).abs() < 1e-12, "{hex}");
    }
    let marks = include_str!("../templates/marks.typ");
    let mut words = 0;
    for line in marks.lines().filter(|line| line.contains("rgb(\"#")) {
        let hex = line.split("rgb(\"#").nth(1).unwrap().split('"').next().unwrap();
        if line.ends_with("// word") {
            words += 1;
            assert!(contrast_on_white(hex) >= 4.5, "{line}");
        } else {
            assert!(line.ends_with("// mark") || line.ends_with("// line"), "say what it is for: {line}");
            assert!(contrast_on_white(hex) >= 3.0, "{line}");
        }
    }
    assert_eq!(words, 5);
    for &(name, text) in EMBEDDED {
        assert!(name == "marks.typ" || !text.contains("rgb("), "{name} has a colour of its own");
    }
}

#[test]
fn every_table_has_a_header_which_pdf_ua_asks_for_and_nothing_else_checks() {
    let mut tables = 0;
    for &(name, text) in EMBEDDED {
        for (at, _) in text.match_indices("table(") {
            let before = text[..at].chars().next_back();
            if before.is_some_and(|c| c.is_alphanumeric() || c == '-' || c == '.')
                || text[..at].ends_with("set ")
            {
                continue; // a function of ours, or a style
            }
            tables += 1;
            let rest = &text[at..];
            let end = rest.find("\n  )").unwrap_or(rest.len());
            assert!(rest[..end].contains("table.header("), "{name}: {}", &rest[..60.min(end)]);
        }
    }
    assert_eq!(tables, 2, "tables to read are made in one place, tables to write on in another");
}

#[test]
fn no_template_reads_the_clock_a_package_or_the_machine() {
    for &(name, text) in EMBEDDED {
        for word in ["datetime.today", "@preview", "sys.inputs", "plugin("] {
            assert!(!text.contains(word), "{name}: {word}");
        }
    }
}
