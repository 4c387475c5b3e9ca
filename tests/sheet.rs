//! Blank reading sheets: what stands on them, that there is room to write, and that nothing is cut at the
//! extremes. Looked at with poppler's and qpdf's tools.
#![allow(clippy::pedantic, clippy::print_stderr, missing_docs, clippy::unwrap_used, clippy::panic)]

mod common;

use std::fs;
use std::path::{Path, PathBuf};

use common::{Made, asfound, demo, flat, keep, tool};

/// Sheets as they were written: their text in reading order, and what the command said.
struct Written {
    home: tempfile::TempDir,
    pdf: PathBuf,
    text: String,
    pages: usize,
    said: String,
    err: String,
}

fn sheet(session: &Path, more: &[&str]) -> Written {
    let home = tempfile::tempdir().unwrap();
    let out = home.path().join("out").display().to_string();
    let shown = session.display().to_string();
    let mut arguments = vec!["sheet", &shown, "--out", &out];
    arguments.extend(more);
    let (code, said, err) = asfound(&arguments);
    assert_eq!(code, 0, "{err}");
    let pdf = home.path().join("out").join(session.file_name().unwrap()).join("sheet.pdf");
    keep(&pdf);
    let info = tool("pdfinfo", &[pdf.to_str().unwrap()]);
    let pages = info.lines().find_map(|line| line.strip_prefix("Pages:")).unwrap().trim().parse().unwrap();
    let text = tool("pdftotext", &["-raw", pdf.to_str().unwrap(), "-"]);
    let said = said.replace(&home.path().display().to_string(), "");
    Written { home, pdf, text, pages, said, err }
}

/// The small numbers of the cells, by page: each with its left and upper edge in millimetres.
fn cells(pdf: &Path) -> Vec<(usize, usize, f64, f64)> {
    let boxes = tool("pdftotext", &["-bbox", pdf.to_str().unwrap(), "-"]);
    let mut page = 0;
    let mut found = Vec::new();
    for line in boxes.lines() {
        page += usize::from(line.trim_start().starts_with("<page"));
        let edge = |name: &str| -> Option<f64> {
            line.split(&format!("{name}=\"")).nth(1)?.split('"').next()?.parse().ok()
        };
        let Some((left, top, bottom)) =
            edge("xMin").zip(edge("yMin")).zip(edge("yMax")).map(|((a, b), c)| (a, b, c))
        else {
            continue;
        };
        let word = line.split('>').nth(1).unwrap_or("").split('<').next().unwrap_or("");
        // Nothing else that is a number is set so small.
        if let Some(number) = word.parse().ok().filter(|_| bottom - top < 8.2) {
            found.push((page, number, left * 25.4 / 72.0, top * 25.4 / 72.0));
        }
    }
    found
}

/// Every cell from 1 to `count` is there once, and each is at least 13 mm wide and 7 mm high as far as the
/// numbers of its neighbours tell.
fn there_is_room(pdf: &Path, count: usize) {
    let cells = cells(pdf);
    let mut numbers: Vec<usize> = cells.iter().map(|cell| cell.1).collect();
    numbers.sort_unstable();
    assert_eq!(numbers, (1..=count).collect::<Vec<_>>());
    let mut checked = 0;
    for (page, number, x, y) in &cells {
        for (other_page, other, other_x, other_y) in &cells {
            let same_row = (y - other_y).abs() < 0.1;
            if page != other_page || number == other {
                continue;
            }
            if same_row {
                assert!((x - other_x).abs() > 12.9, "{number} and {other}: {x} and {other_x} mm");
            } else {
                assert!((y - other_y).abs() > 6.9, "{number} and {other}: {y} and {other_y} mm");
            }
            checked += 1;
        }
    }
    assert!(count < 2 || checked > 0);
}

fn pages_of(written: &Written) -> Vec<String> {
    written.text.split('\u{c}').map(flat).collect()
}

#[test]
fn the_demo_s_sheets_have_all_that_is_taken_to_the_machine() {
    let made = sheet(&demo("arbor-bearings"), &[]);
    assert_eq!(made.err, "");
    insta::assert_snapshot!("sheet_arbor_bearings_said", made.said);
    insta::assert_snapshot!("sheet_arbor_bearings", made.text);
}

#[test]
fn the_alignments_sheets_follow_the_layout_of_the_last_visit() {
    let made = sheet(&demo("table-and-fence"), &[]);
    assert_eq!((made.err.as_str(), made.pages), ("", 7));
    insta::assert_snapshot!("sheet_table_and_fence", made.text);
}

#[test]
fn every_reading_of_the_last_visit_has_a_cell_large_enough_to_write_in() {
    // Three stations of three turns: 9, 8 and 9 readings a turn.
    let made = sheet(&demo("arbor-bearings"), &["--check", "arbor-runout"]);
    there_is_room(&made.pdf, 78);
    assert_eq!(made.pages, 1);
    // Two passes of 5 rows by 8, less six holes.
    there_is_room(&sheet(&demo("table-and-fence"), &["--check", "saw-table"]).pdf, 68);
}

#[test]
fn where_more_is_needed_than_was_read_there_is_room_for_it() {
    let made = sheet(&demo("table-and-fence"), &["--check", "saw-blade"]);
    let text = flat(&made.text);
    assert!(text.contains("of 0.1 mm/m is 16 pairs at each visit"), "{text}");
    there_is_room(&made.pdf, 32);
}

#[test]
fn the_sheets_are_archival_and_accessible_as_the_report_is() {
    let made = sheet(&demo("arbor-bearings"), &[]);
    let pdf = made.pdf.to_str().unwrap();
    tool("qpdf", &["--check", pdf]);
    // The XMP of ISO 19005-3, 6.6.4 (pdfaid) and ISO 14289-1, clause 5 (pdfuaid).
    let metadata = tool("pdfinfo", &["-meta", pdf]);
    for claim in [
        "<pdfaid:part>3</pdfaid:part>",
        "<pdfaid:conformance>A</pdfaid:conformance>",
        "<pdfuaid:part>1</pdfuaid:part>",
        "Reading sheets: Arbor bearings on a 10-inch cabinet saw",
    ] {
        assert!(metadata.contains(claim), "{claim} is not in {metadata}");
    }
    for line in tool("pdffonts", &[pdf]).lines().skip(2) {
        let house = ["SourceSans3", "SourceSerif4", "SourceCodePro", "Fallback"];
        assert!(house.iter().any(|family| line.contains(family)), "{line}");
    }
    let again = sheet(&demo("arbor-bearings"), &[]);
    assert_eq!(fs::read(&made.pdf).unwrap(), fs::read(&again.pdf).unwrap());
}

/// A session that nobody has been to the machine for yet: a check of every kind.
fn planned() -> Made {
    Made::new(
        "title: Before the first visit\nunits: metric\npaper: a4\nmachines: {m: {name: Fernley L-3, serial: F-0031}}\n\
         instruments:\n  i: {name: Dial indicator, resolution: 0.01 mm, accuracy: 0.01 mm, \
         repeat_readings: [0.00, 0.04, -0.03, 0.01, -0.04, 0.02], repeat_unit: mm}\n  \
         t: {name: Infrared thermometer, resolution: 0.1 °C}\nchecks:\n  \
         run-out: {measure: run-out, direction: radial, instrument: i, unit: µm, matters: 10 µm, \
         must_match: [spindle height], stations: {nose: {from: 0 mm}, end: {from: 50 mm}}}\n  \
         backlash: {measure: quantity, instrument: i, unit: mm, matters: 0.05 mm, about_the_same: {ambient: 5 °C}, \
         limit: {at_most: 0.2 mm, source: \"Guide, p. 4\"}}\n  \
         play: {measure: quantity, unit: mm, matters: 0.05 mm}\n  \
         warm-up: {measure: temperature, instrument: t, unit: °C}\n  \
         noise: {measure: sound, unit: dBA}\n  vibration: {measure: vibration, unit: g}\n  \
         cut: {measure: load, unit: rpm}\n  speed: {measure: speed, unit: rpm}\n  \
         bed: {measure: straightness, unit: mm}\n  table: {measure: flatness, unit: mm}\n  \
         slot: {measure: parallelism, unit: mm, apart: 200 mm}\n  gauge: {measure: squareness, unit: mm}\n",
        &[],
    )
}

#[test]
fn before_the_first_visit_there_are_the_usual_layouts_and_nothing_is_invented() {
    let session = planned();
    let made = sheet(session.folder.path(), &["--visit-title", "First visit"]);
    assert!(made.err.contains("there is no visit yet: the sheets have the usual layouts"), "{}", made.err);
    insta::assert_snapshot!("sheet_before_the_first_visit", made.text);
    let pages = pages_of(&made);
    let of = |title: &str| pages.iter().find(|page| page.contains(&format!("Readings of {title}"))).unwrap();
    // 0.05 mm from an indicator that repeats to 0.033 mm: said from its repeat readings.
    assert!(of("Backlash").contains("the spread of the instrument's repeat readings"), "{}", of("Backlash"));
    for unknown in ["Run out", "Play"] {
        assert!(
            of(unknown).contains("cannot be said before a first visit has shown the scatter"),
            "{}",
            of(unknown)
        );
    }
    // Two stations of three turns at eight angles.
    let run_out = sheet(session.folder.path(), &["--check", "run-out"]);
    there_is_room(&run_out.pdf, 48);
    // A report still wants a visit.
    let (code, _, err) = asfound(&["inspect", &session.folder.path().display().to_string()]);
    assert_eq!(code, 1);
    assert!(err.contains("has no visits"), "{err}");
}

#[test]
fn seventy_two_readings_a_turn_and_titles_of_200_characters_wrap_and_nothing_is_lost() {
    let long = "run-out of the long arbor with its collar ".repeat(5);
    let long: String = long.trim().chars().take(200).collect();
    let turn: Vec<String> = (0..72).map(|n| format!("{}", (n * 7) % 9)).collect();
    let turn = turn.join(", ");
    for (units, paper) in [("metric", "a4"), ("inch", "us-letter")] {
        let session = Made::new(
            &format!(
                "title: {long}\nunits: {units}\npaper: {paper}\nmachines: {{m: {{name: {long}, serial: {long}}}}}\n\
                 instruments: {{i: {{name: {long}, resolution: 1 µm, accuracy: 2 µm, calibrated: 2026-01-05}}}}\n\
                 checks: {{c: {{title: {long}, measure: run-out, direction: radial, instrument: i, unit: µm, matters: 5 µm, \
                 must_match: [{long}], procedure: {long}, limit: {{at_most: 20 µm, source: {long}}}}}}}\n"
            ),
            &[(
                "v",
                &format!(
                    "title: {long}\nstate: baseline\ndate: 2026-03-02\nconditions: {{\"{long}\": {long}}}\n\
                     readings: {{c: {{turns: [[{turn}], [{turn}], [{turn}]]}}}}\n"
                ),
            )],
        );
        let made = sheet(session.folder.path(), &["--visit-title", &long]);
        there_is_room(&made.pdf, 216);
        let text = flat(&made.text);
        for angle in (0..72).map(|n| format!("{}°", n * 5)) {
            assert_eq!(text.split(' ').filter(|word| **word == angle).count(), 1, "{angle} in {text}");
        }
        // The heads' first stands again with every piece of the table: six pieces of twelve.
        assert_eq!(text.split(' ').filter(|word| *word == "Turn").count(), 6, "{text}");
        assert!(text.contains(&format!("Readings of {long}")), "{text}");
        assert!(made.pages <= 3, "{} pages", made.pages);
        let size = tool("pdfinfo", &[made.pdf.to_str().unwrap()]);
        assert!(size.contains(if paper == "a4" { "(A4)" } else { "(letter)" }), "{size}");
    }
}

#[test]
fn checks_are_chosen_by_their_ids() {
    let made = sheet(
        &demo("arbor-bearings"),
        &["--check", "noise", "--check", "coast-down", "--visit-title", "A year on"],
    );
    assert!(made.said.ends_with("sheet.pdf\n2 checks, 2 pages\n"), "{}", made.said);
    assert!(pages_of(&made).iter().filter(|page| page.contains("A year on")).count() == 2, "{}", made.text);
    let home = tempfile::tempdir().unwrap();
    let shown = demo("arbor-bearings").display().to_string();
    let out = home.path().display().to_string();
    let (code, said, err) = asfound(&["sheet", &shown, "--check", "noice", "--out", &out]);
    assert_eq!((code, said.as_str()), (2, ""));
    assert!(err.contains("there is no check 'noice'; did you mean 'noise'?"), "{err}");
    assert_eq!(fs::read_dir(home.path()).unwrap().count(), 0);
}

#[test]
fn the_sheets_lie_beside_the_report_and_somebody_else_s_are_never_replaced() {
    let made = sheet(&demo("table-and-fence"), &[]);
    let out = made.home.path().join("out").display().to_string();
    let before = fs::read(&made.pdf).unwrap();
    let (code, _, err) =
        asfound(&["report", &demo("table-and-fence").display().to_string(), "--out", &out, "--quiet"]);
    assert_eq!(code, 0, "{err}");
    assert_eq!(before, fs::read(&made.pdf).unwrap());
    fs::write(&made.pdf, "filled in and scanned").unwrap();
    let (code, _, err) = asfound(&["sheet", &demo("table-and-fence").display().to_string(), "--out", &out]);
    assert_eq!(code, 3, "{err}");
    assert!(err.contains("not made by this program"), "{err}");
    assert_eq!(fs::read_to_string(&made.pdf).unwrap(), "filled in and scanned");
}

#[test]
fn what_the_sheet_s_help_says() {
    let (code, out, _) = asfound(&["sheet", "--help"]);
    assert_eq!(code, 0);
    insta::assert_snapshot!("sheet_help", out);
}
