//! Reports that stay whole at the extremes: few checks and many, long titles, dense turns, no limits,
//! nothing to compare, long notes; metric and inch, A4 and Letter. Read back with poppler's and qpdf's tools.
#![allow(clippy::pedantic, clippy::print_stderr, missing_docs, clippy::unwrap_used, clippy::panic)]

mod common;

use std::fmt::Write as _;
use std::fs;

use common::{Made, asfound, flat, keep, tool};

/// A report, read back.
struct Report {
    pages: usize,
    text: String,
    first: String,
}

impl Report {
    /// Makes it, and holds what every report must keep: whole, quiet, nothing outside its sheets.
    fn of(made: &Made) -> Self {
        let home = tempfile::tempdir().unwrap();
        let out = home.path().join("out").display().to_string();
        let session = made.folder.path().display().to_string();
        let (code, _, err) = asfound(&["report", &session, "--out", &out, "--quiet"]);
        assert_eq!((code, err.as_str()), (0, ""), "{err}");
        let pdf = home.path().join("out").join(made.folder.path().file_name().unwrap()).join("report.pdf");
        keep(&pdf);
        let pdf = pdf.to_str().unwrap();
        tool("qpdf", &["--check", pdf]);
        let boxes = tool("pdftotext", &["-bbox", pdf, "-"]);
        inside_their_sheets(&boxes);
        let text = tool("pdftotext", &[pdf, "-"]);
        let first = tool("pdftotext", &["-l", "1", pdf, "-"]);
        Self { pages: boxes.matches("<page ").count(), text: flat(&text), first: without_number(&first) }
    }
}

/// The document number changes with every byte of a session; here only its form matters.
fn without_number(text: &str) -> String {
    let is_number = |word: &str| word.starts_with("AF-") && word.len() == 17;
    let line = |line: &str| if is_number(line.trim()) { "AF-number".to_owned() } else { line.to_owned() };
    text.lines().map(line).collect::<Vec<_>>().join("\n")
}

fn attribute(tag: &str, name: &str) -> f64 {
    let rest = tag.split(&format!("{name}=\"")).nth(1).unwrap_or("0\"");
    rest.split('"').next().unwrap().parse().unwrap()
}

/// Every word lies within its page.
fn inside_their_sheets(boxes: &str) {
    let (mut width, mut height) = (0.0, 0.0);
    for line in boxes.lines() {
        if line.contains("<page ") {
            (width, height) = (attribute(line, "width"), attribute(line, "height"));
        }
        if line.contains("<word ") {
            let inside = attribute(line, "xMin") >= 0.0
                && attribute(line, "yMin") >= 0.0
                && attribute(line, "xMax") <= width
                && attribute(line, "yMax") <= height;
            assert!(inside, "{line} on {width} × {height}");
        }
    }
}

const INDICATOR: &str = "instruments:\n  i: {name: Dial indicator, resolution: 0.01 mm, accuracy: 0.01 mm}\n";

/// A head of session.yaml.
fn head(title: &str, more: &str) -> String {
    format!(
        "title: \"{title}\"\nmachines: {{m: {{name: Fernley L-3, kind: lathe}}}}\n{INDICATOR}{more}checks:\n"
    )
}

fn visit(state: &str, date: &str, readings: &str) -> String {
    format!("state: {state}\ndate: {date}\nreadings:\n{readings}")
}

fn turns(count: usize, readings: usize, size: f64) -> String {
    let turn = |turn: usize| {
        let one = |index: usize| {
            let angle = std::f64::consts::TAU * index as f64 / readings as f64;
            format!("{:.2}", size * angle.cos() + 0.01 * ((index * 7 + turn * 3) % 3) as f64)
        };
        format!("[{}]", (0..readings).map(one).collect::<Vec<_>>().join(", "))
    };
    format!("[{}]", (0..count).map(turn).collect::<Vec<_>>().join(", "))
}

fn one_check(units: &str, paper: &str, limit: &str) -> Made {
    let session = head("One check", &format!("units: {units}\npaper: {paper}\n"))
        + &format!("  spindle: {{measure: run-out, direction: radial, instrument: i, unit: mm{limit}}}\n");
    let found = visit("as-found", "2026-03-02", &format!("  spindle: {{turns: {}}}\n", turns(3, 8, 0.08)));
    let left = visit("as-left", "2026-03-20", &format!("  spindle: {{turns: {}}}\n", turns(3, 8, 0.01)));
    Made::new(&session, &[("as-found", &found), ("as-left", &left)])
}

const LIMIT: &str = ", limit: {at_most: 0.05 mm, source: \"Guide, p. 4\"}";

#[test]
fn one_check_and_two_visits_make_a_short_report() {
    let report = Report::of(&one_check("metric", "a4", LIMIT));
    insta::assert_snapshot!("extreme_one_check", format!("{} pages\n\n{}", report.pages, report.first));
}

#[test]
fn inch_and_letter_paper_change_the_numbers_and_the_sheet_and_nothing_else() {
    let report = Report::of(&one_check("inch", "us-letter", LIMIT));
    insta::assert_snapshot!("extreme_one_check_inch", format!("{} pages\n\n{}", report.pages, report.first));
}

#[test]
fn a_session_without_any_limit_judges_nothing() {
    let report = Report::of(&one_check("metric", "a4", ""));
    for word in ["over,", "within", "too close to call"] {
        assert!(!report.first.contains(word), "{word}: {}", report.first);
    }
    assert!(report.text.contains("no limit is given"), "{}", report.text);
}

#[test]
fn visits_that_share_no_check_are_not_compared() {
    let session = head("Nothing to compare", "units: metric\npaper: a4\n")
        + "  before: {measure: quantity, unit: mm, instrument: i}\n  after: {measure: quantity, unit: mm, instrument: i}\n";
    let found = visit("as-found", "2026-03-02", "  before: {readings: [1.0, 1.1, 1.0, 1.2]}\n");
    let left = visit("as-left", "2026-03-20", "  after: {readings: [2.0, 2.1, 2.0, 2.2]}\n");
    let report = Report::of(&Made::new(&session, &[("as-found", &found), ("as-left", &left)]));
    assert!(flat(&report.first).contains("nothing is compared"));
    assert!(!report.text.contains("better") && !report.text.contains("worse"), "{}", report.text);
    insta::assert_snapshot!(
        "extreme_nothing_compared",
        format!("{} pages\n\n{}", report.pages, report.first)
    );
}

#[test]
fn seventy_two_readings_a_turn_are_all_printed() {
    let session = head("Dense turns", "units: metric\npaper: a4\n")
        + "  spindle: {measure: run-out, direction: radial, instrument: i, unit: mm}\n";
    let found = visit("as-found", "2026-03-02", &format!("  spindle: {{turns: {}}}\n", turns(3, 72, 0.08)));
    let report = Report::of(&Made::new(&session, &[("as-found", &found)]));
    for angle in ["0°", "5°", "180°", "355°"] {
        assert!(report.text.split(' ').any(|word| word == angle), "{angle} heads no column");
    }
}

#[test]
fn titles_of_two_hundred_characters_break_and_are_whole() {
    let long = |what: &str| {
        let mut text = what.to_owned();
        while text.chars().count() < 200 {
            text.push_str(" and what it was read against on the bench");
        }
        text.chars().take(200).collect::<String>().trim_end().to_owned()
    };
    let (title, check, name) = (long("The report"), long("The spindle"), long("As found"));
    let session = head(&title, "units: metric\npaper: a4\n")
        + &format!(
            "  spindle: {{title: \"{check}\", measure: run-out, direction: radial, instrument: i, unit: mm}}\n"
        );
    let found = format!("title: \"{name}\"\n")
        + &visit("as-found", "2026-03-02", &format!("  spindle: {{turns: {}}}\n", turns(2, 8, 0.08)));
    let report = Report::of(&Made::new(&session, &[("as-found", &found)]));
    for text in [&title, &check] {
        assert!(report.text.contains(text.as_str()), "{text} is not whole in {}", report.text);
    }
}

#[test]
fn forty_checks_six_visits_and_three_comparisons_are_all_there() {
    let mut session = head(
        "Forty checks",
        "units: metric\npaper: a4\ncompare:\n  first: {before: v0, after: v1}\n  second: {before: v2, after: v3}\n  \
         third: {before: v4, after: v5}\n",
    );
    for n in 0..40 {
        writeln!(
            session,
            "  gap-{n}: {{title: Gap number {n}, measure: quantity, unit: mm, instrument: i{LIMIT}}}"
        )
        .unwrap();
    }
    let visits: Vec<(String, String)> = (0..6)
        .map(|v| {
            let mut readings = String::new();
            for n in 0..40 {
                let value = 0.01 * f64::from((n * 7 + v * 3) % 11);
                writeln!(readings, "  gap-{n}: {{readings: [{value:.2}, {value:.2}, {:.2}]}}", value + 0.01)
                    .unwrap();
            }
            let state = if v % 2 == 0 { "as-found" } else { "as-left" };
            (format!("v{v}"), visit(state, &format!("2026-03-{:02}", v + 2), &readings))
        })
        .collect();
    let visits: Vec<(&str, &str)> = visits.iter().map(|(id, text)| (id.as_str(), text.as_str())).collect();
    let report = Report::of(&Made::new(&session, &visits));
    for n in 0..40 {
        assert!(report.text.contains(&format!("Gap number {n}")), "gap {n}");
    }
    for comparison in ["First", "Second", "Third"] {
        assert!(report.text.contains(comparison), "{comparison}");
    }
    eprintln!("{} pages", report.pages);
}

#[test]
fn thirty_pages_of_notes_with_tables_and_pictures_are_set_whole() {
    let made = one_check("metric", "a4", LIMIT);
    let mut notes = String::from("# A long story\n\n");
    for n in 0..110 {
        write!(notes, "## Day {n}\n\n").unwrap();
        for _ in 0..3 {
            notes.push_str(
                "We set the indicator on the nose of the spindle, let the shop warm up and read it again, \
                 *turn by turn*, until two of us believed it.\n\n",
            );
        }
        write!(notes, "| hour | reading |\n|---|---|\n| 8 | {n} |\n| 9 | {} |\n\n", n + 1).unwrap();
        if n % 10 == 0 {
            notes.push_str("![The nose of the spindle](photos/nose.png)\n\n");
        }
    }
    notes.push_str("The last word.\n");
    fs::create_dir_all(made.folder.path().join("photos")).unwrap();
    image::RgbImage::from_fn(160, 90, |x, y| image::Rgb([x as u8, y as u8, 90]))
        .save(made.folder.path().join("photos/nose.png"))
        .unwrap();
    fs::write(made.folder.path().join("notes.md"), notes).unwrap();
    let report = Report::of(&made);
    assert!(report.text.contains("Day 109") && report.text.contains("The last word."), "{}", report.pages);
    assert!(report.pages >= 30, "{} pages", report.pages);
}
