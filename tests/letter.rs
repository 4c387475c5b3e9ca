//! The claim's letter: what it says, that it keeps to one page whatever the session holds, and what
//! becomes of the file. Looked at with poppler's and qpdf's tools.
#![allow(clippy::pedantic, clippy::print_stderr, missing_docs, clippy::unwrap_used, clippy::panic)]

mod common;

use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};

use common::{asfound, demo, flat, keep, tool};

/// A letter as it was written: its text in reading order, and what the command complained of.
struct Written {
    home: tempfile::TempDir,
    pdf: PathBuf,
    text: String,
    err: String,
}

fn letter(session: &Path, more: &[&str]) -> Written {
    let home = tempfile::tempdir().unwrap();
    let out = home.path().join("out").display().to_string();
    let shown = session.display().to_string();
    let mut arguments = vec!["letter", &shown, "--out", &out];
    arguments.extend(more);
    let (code, said, err) = asfound(&arguments);
    assert_eq!(code, 0, "{err}");
    let pdf = home.path().join("out").join(session.file_name().unwrap()).join("letter.pdf");
    assert!(said.contains("letter.pdf"), "{said}");
    keep(&pdf);
    let info = tool("pdfinfo", &[pdf.to_str().unwrap()]);
    assert!(info.lines().any(|line| line.starts_with("Pages:") && line.ends_with(" 1")), "{info}");
    let text = tool("pdftotext", &[pdf.to_str().unwrap(), "-"]);
    Written { home, pdf, text, err }
}

/// A session of gaps: the head of session.yaml, a check for each limit and title, and the readings
/// of each visit: state, date, a value for each check.
fn session(
    head: &str,
    checks: &[(&str, &str)],
    visits: &[(&str, &str, Vec<f64>)],
) -> (tempfile::TempDir, PathBuf) {
    let home = tempfile::tempdir().unwrap();
    let folder = home.path().join("job");
    let mut text = format!(
        "title: Gaps\n{head}instruments:\n  i: {{name: Gauge, resolution: 0.01 mm, accuracy: 0.02 mm}}\nchecks:\n"
    );
    for (n, (title, limit)) in checks.iter().enumerate() {
        writeln!(
            text,
            "  gap-{n}: {{title: \"{title}\", measure: quantity, instrument: i, unit: mm, better: lower{limit}}}"
        )
        .unwrap();
    }
    for (n, (state, date, values)) in visits.iter().enumerate() {
        let visit = folder.join(format!("visits/v{n}"));
        fs::create_dir_all(&visit).unwrap();
        let mut text = format!("state: {state}\ndate: {date}\nreadings:\n");
        for (n, value) in values.iter().enumerate() {
            writeln!(text, "  gap-{n}: {{readings: [{value}, {value}, {value}]}}").unwrap();
        }
        fs::write(visit.join("visit.yaml"), text).unwrap();
    }
    fs::write(folder.join("session.yaml"), text).unwrap();
    (home, folder)
}

const LIMIT: &str = ", limit: {at_most: 0.10 mm, source: \"Guide, p. 4\"}";
const PARTIES: &str = "letter:\n  from: {name: A. Okoro, address: [2 Quay Road, Lindmouth]}\n  \
                       to: {name: Fernley Works, address: [Kiln Lane, Harrowby]}\n";
const MACHINE: &str = "units: metric\npaper: a4\nask: Replace the spindle\nmachines:\n  m:\n    name: Fernley L-3\n    \
                       bought: 2026-01-20\n    coverage: [{name: Return, lasts: 30 days}, {name: Parts, lasts: 1 years}]\n";

#[test]
fn the_demo_s_letter_says_what_was_found_and_what_is_asked() {
    let made = letter(&demo("arbor-bearings"), &[]);
    assert_eq!(made.err, "");
    insta::assert_snapshot!("letter_arbor_bearings", made.text);
}

#[test]
fn the_letter_is_archival_and_accessible_as_the_report_is() {
    let made = letter(&demo("arbor-bearings"), &["--date", "2026-04-03"]);
    let pdf = made.pdf.to_str().unwrap();
    tool("qpdf", &["--check", pdf]);
    // The XMP of ISO 19005-3, 6.6.4 (pdfaid) and ISO 14289-1, clause 5 (pdfuaid).
    let metadata = tool("pdfinfo", &["-meta", pdf]);
    for claim in [
        "<pdfaid:part>3</pdfaid:part>",
        "<pdfaid:conformance>A</pdfaid:conformance>",
        "<pdfuaid:part>1</pdfuaid:part>",
        "Claim about a Marlstone CS-10, serial no. CS10-04417",
        "2026-04-03",
    ] {
        assert!(metadata.contains(claim), "{claim} is not in {metadata}");
    }
    let fonts = tool("pdffonts", &[pdf]);
    for line in fonts.lines().skip(2) {
        assert!(
            line.contains("SourceSans3") || line.contains("SourceSerif4") || line.contains("Fallback"),
            "{line}"
        );
    }
    assert!(made.text.contains("3 April 2026"), "{}", made.text);
}

#[test]
fn the_exhibits_point_to_the_sections_of_the_report_that_is_enclosed() {
    let session = demo("arbor-bearings").display().to_string();
    let made = letter(&demo("arbor-bearings"), &[]);
    let out = made.home.path().join("out").display().to_string();
    let before = fs::read(&made.pdf).unwrap();
    // A report leaves the letter as it is.
    let (code, _, err) = asfound(&["report", &session, "--out", &out, "--quiet"]);
    assert_eq!((code, err.as_str()), (0, ""));
    assert_eq!(before, fs::read(&made.pdf).unwrap());
    let report = tool("pdftotext", &[made.pdf.with_file_name("report.pdf").to_str().unwrap(), "-"]);
    let number = report.lines().find(|line| line.starts_with("AF-")).unwrap();
    assert!(made.text.contains(number), "{number} is not in {}", made.text);
    // "1 Run-out of the arbor, tip … 3": the first and the last column, in the layout's order.
    let layout = tool("pdftotext", &["-layout", made.pdf.to_str().unwrap(), "-"]);
    let headings = flat(&report);
    let mut checked = 0;
    for (title, start) in [
        ("Run-out of the arbor", "Run-out of the arbor, tip"),
        ("Wobble of the flange face", "Wobble of the flange face, rim"),
        ("Coast-down time", "Coast-down time"),
        ("Wobble of the blade", "Wobble of the blade, disc"),
    ] {
        let line =
            layout.lines().find(|line| line.contains(start)).unwrap_or_else(|| panic!("{start}: {layout}"));
        let section: usize =
            line.split_whitespace().last().unwrap().parse().unwrap_or_else(|_| panic!("{line}"));
        assert!(headings.contains(&format!("{section} {title}")), "{section} {title}");
        checked += 1;
    }
    assert_eq!(checked, 4);
}

#[test]
fn a_letter_that_belongs_to_other_readings_is_kept_and_said_to_be_stale() {
    let (_home, folder) =
        session(&format!("{MACHINE}{PARTIES}"), &[("Gap", LIMIT)], &[("as-found", "2026-03-02", vec![0.5])]);
    let made = letter(&folder, &[]);
    let out = made.home.path().join("out").display().to_string();
    let visit = folder.join("visits/v0/visit.yaml");
    fs::write(&visit, fs::read_to_string(&visit).unwrap().replace("0.5", "0.4")).unwrap();
    let before = fs::read(&made.pdf).unwrap();
    let (code, _, err) = asfound(&["report", &folder.display().to_string(), "--out", &out, "--quiet"]);
    assert_eq!(code, 0, "{err}");
    assert!(err.contains("letter.pdf belongs to other readings than this report"), "{err}");
    assert_eq!(before, fs::read(&made.pdf).unwrap());
    // Written again it belongs to them, and a report is silent.
    assert_eq!(asfound(&["letter", &folder.display().to_string(), "--out", &out, "--quiet"]).0, 0);
    let (_, _, err) = asfound(&["report", &folder.display().to_string(), "--out", &out, "--quiet"]);
    assert_eq!(err, "");
}

#[test]
fn a_letter_of_somebody_else_s_is_never_replaced() {
    let (_home, folder) =
        session(&format!("{MACHINE}{PARTIES}"), &[("Gap", LIMIT)], &[("as-found", "2026-03-02", vec![0.5])]);
    let home = tempfile::tempdir().unwrap();
    let out = home.path().display().to_string();
    let run = |command| asfound(&[command, &folder.display().to_string(), "--out", &out, "--quiet"]);
    assert_eq!(run("report").0, 0);
    let theirs = home.path().join("job/letter.pdf");
    fs::write(&theirs, "signed and scanned").unwrap();
    let (code, _, err) = run("letter");
    assert_eq!(code, 3, "{err}");
    assert!(err.contains("not made by this program"), "{err}");
    assert_eq!(run("report").0, 0);
    assert_eq!(fs::read_to_string(&theirs).unwrap(), "signed and scanned");
    // Nor is anything put into a folder of other things.
    let other = tempfile::tempdir().unwrap();
    fs::create_dir(other.path().join("job")).unwrap();
    fs::write(other.path().join("job/thesis.txt"), "mine").unwrap();
    let (code, _, _) =
        asfound(&["letter", &folder.display().to_string(), "--out", &other.path().display().to_string()]);
    assert_eq!(code, 3);
    assert_eq!(fs::read_dir(other.path().join("job")).unwrap().count(), 1);
    assert_eq!(fs::read_dir(other.path()).unwrap().count(), 1);
}

#[test]
fn the_same_session_gives_the_same_letter() {
    let runs = [letter(&demo("arbor-bearings"), &[]), letter(&demo("arbor-bearings"), &[])];
    assert_eq!(fs::read(&runs[0].pdf).unwrap(), fs::read(&runs[1].pdf).unwrap());
}

#[test]
fn where_nothing_is_beyond_its_limit_the_letter_says_so_and_claims_nothing() {
    let visits = [("as-found", "2026-03-02", vec![0.02, 0.11, 0.5])];
    let checks = [("Gap at the left", LIMIT), ("Gap at the right", LIMIT), ("Gap at the top", "")];
    let (_home, folder) = session(&format!("{MACHINE}{PARTIES}"), &checks, &visits);
    let made = letter(&folder, &[]);
    assert!(made.err.contains("no finding of Fernley L-3 is beyond its limit"), "{}", made.err);
    insta::assert_snapshot!("letter_nothing_over", made.text);
    assert!(
        !made.text.contains("Claim about") && !made.text.to_lowercase().contains("exhibit"),
        "{}",
        made.text
    );
}

#[test]
fn where_all_coverage_had_run_out_the_letter_says_so_with_the_date() {
    let visits = [("as-found", "2028-03-02", vec![0.5]), ("as-left", "2028-03-09", vec![0.02])];
    let (_home, folder) = session(&format!("{MACHINE}{PARTIES}"), &[("Gap", LIMIT)], &visits);
    let made = letter(&folder, &[]);
    assert!(made.err.contains("all coverage had run out"), "{}", made.err);
    insta::assert_snapshot!("letter_all_run_out", made.text);
}

#[test]
fn forty_checks_over_keep_to_one_page_the_worst_first_and_the_rest_counted() {
    let titles: Vec<String> =
        (1..=40).map(|n| format!("Gap number {n} under the long straightedge")).collect();
    let checks: Vec<(&str, &str)> = titles.iter().map(|title| (title.as_str(), LIMIT)).collect();
    let found: Vec<f64> = (1..=40).map(|n| 0.2 + f64::from(n) * 0.01).collect();
    let left: Vec<f64> = (1..=40).map(|n| if n % 3 == 0 { 0.5 } else { 0.02 }).collect();
    let visits = [("as-found", "2026-03-02", found), ("as-left", "2026-03-24", left)];
    for paper in ["a4", "us-letter"] {
        let head = format!("{}{PARTIES}", MACHINE.replace("paper: a4", &format!("paper: {paper}")));
        let (_home, folder) = session(&head, &checks, &visits);
        let text = flat(&letter(&folder, &[]).text);
        assert!(text.contains("40 checks were found beyond their limits"), "{text}");
        let (worst, next) = (text.find("Gap number 40 ").unwrap(), text.find("Gap number 39 ").unwrap());
        assert!(worst < next, "{text}");
        assert!(text.contains(" more in the report, sections 3 to "), "{text}");
        assert!(text.contains("are still beyond their limits"), "{text}");
    }
}

#[test]
fn titles_of_200_characters_keep_to_one_page() {
    let long = "gap under the straightedge ".repeat(8);
    let long = long.trim();
    let head = format!(
        "units: metric\npaper: us-letter\nask: {long} {long} {long}\nmachines:\n  m: {{name: {long}, serial: {long}, seller: {long}, \
         order: {long}, bought: 2026-01-20, coverage: [{{name: {long}, lasts: 3 years, reference: {long}}}]}}\n\
         letter:\n  from: {{name: {long}, address: [{long}, {long}, {long}, {long}]}}\n  \
         to: {{name: {long}, address: [{long}, {long}, {long}, {long}]}}\n"
    );
    let limit = format!(", limit: {{at_most: 0.10 mm, source: {long}}}");
    let checks: Vec<(&str, &str)> = (0..12).map(|_| (long, limit.as_str())).collect();
    let visits = [("as-found", "2026-03-02", vec![0.5; 12]), ("as-left", "2026-03-24", vec![0.11; 12])];
    let (_home, folder) = session(&head, &checks, &visits);
    let text = flat(&letter(&folder, &[]).text);
    assert!(text.contains("12 are too close to call"), "{text}");
    assert!(text.contains("What I ask"), "{text}");
    // However much is cut, what covers it and until when is said.
    assert!(text.contains("until 20 January 2029; 1055 days remained on 2 March 2026"), "{text}");
}

#[test]
fn without_parties_and_facts_there_are_lines_to_fill_in_and_a_warning() {
    let head = "units: inch\nmachines: {m: {name: Fernley L-3}}\n";
    let (_home, folder) = session(head, &[("Gap", LIMIT)], &[("as-found", "2026-03-02", vec![0.5])]);
    let made = letter(&folder, &[]);
    for warning in ["no addressee", "no sender", "asks for nothing in particular"] {
        assert!(made.err.contains(warning), "{warning}: {}", made.err);
    }
    insta::assert_snapshot!("letter_without_parties", made.text);
}

#[test]
fn a_letter_is_about_one_machine() {
    let shown = demo("table-and-fence").display().to_string();
    let home = tempfile::tempdir().unwrap();
    let out = home.path().display().to_string();
    let (code, said, err) = asfound(&["letter", &shown, "--out", &out]);
    assert_eq!((code, said.as_str()), (2, ""));
    assert!(err.contains("choose with --machine") && err.contains("  jointer  Wendlow J-200"), "{err}");
    assert_eq!(fs::read_dir(home.path()).unwrap().count(), 0);
    let made = letter(&demo("table-and-fence"), &["--machine", "saw"]);
    assert!(made.text.contains("Wendlow TS-250") && !made.text.contains("J-200"), "{}", made.text);
    let (code, _, err) = asfound(&["letter", &shown, "--machine", "lathe", "--out", &out]);
    assert_eq!(code, 2);
    assert!(err.contains("no machine 'lathe' was tested"), "{err}");
}

#[test]
fn a_date_that_is_none_and_one_before_the_visit_are_said() {
    let shown = demo("arbor-bearings").display().to_string();
    let (code, _, err) = asfound(&["letter", &shown, "--date", "2026-02-30"]);
    assert_eq!(code, 2);
    assert!(err.contains("expected a day of the calendar"), "{err}");
    let made = letter(&demo("arbor-bearings"), &["--date", "2026-03-03"]);
    assert!(made.err.contains("is before the visit of 24 March 2026"), "{}", made.err);
}

#[test]
fn what_the_letter_s_help_says() {
    let (code, out, _) = asfound(&["letter", "--help"]);
    assert_eq!(code, 0);
    insta::assert_snapshot!("letter_help", out);
}
