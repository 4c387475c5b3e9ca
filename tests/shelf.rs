//! Many sessions: what the walk finds, what a row says, and one machine over the years.
#![allow(clippy::pedantic, clippy::print_stderr, missing_docs, clippy::unwrap_used, clippy::panic)]

mod common;

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::LazyLock;

use asfound::registry::measures;
use asfound::shelf::{Row, walk};
use common::{demo, flat, keep, tool};
use serde_json::Value;

/// The program; where nothing else is said, what it keeps goes to one folder for all tests.
fn asfound(arguments: &[&str]) -> (u8, String, String) {
    static OUT: LazyLock<tempfile::TempDir> = LazyLock::new(|| tempfile::tempdir().unwrap());
    let out = OUT.path().display().to_string();
    let mut arguments = arguments.to_vec();
    if arguments[0] == "shelf" && !arguments.contains(&"--out") && !arguments.contains(&"--help") {
        arguments.extend(["--out", &out]);
    }
    common::asfound(&arguments)
}

/// A tree of folders, gone when this is dropped.
struct Tree {
    home: tempfile::TempDir,
}

impl Tree {
    fn new() -> Self {
        Self { home: tempfile::tempdir().unwrap() }
    }

    fn root(&self) -> &Path {
        self.home.path()
    }

    fn shown(&self) -> String {
        self.root().display().to_string()
    }

    fn file(&self, path: &str, text: &str) -> PathBuf {
        let whole = self.root().join(path);
        fs::create_dir_all(whole.parent().unwrap()).unwrap();
        fs::write(&whole, text).unwrap();
        whole
    }

    /// A session of one gap, measured in millimetres against at most 1 mm.
    fn session(&self, at: &str, machine: &str, visits: &[(&str, &str, &str, f64)]) {
        self.file(
            &format!("{at}/session.yaml"),
            &format!(
                "title: Gap of {at}\nunits: metric\nmachines: {{m: {{{machine}}}}}\n\
                 instruments: {{i: {{name: Feeler, resolution: 0.01 mm, accuracy: 0.02 mm}}}}\n\
                 checks: {{gap: {{title: Gap of the gib, measure: quantity, instrument: i, unit: mm, better: lower, \
                 limit: {{at_most: 1 mm}}, must_match: [oil]}}}}\n"
            ),
        );
        for (id, state, date, value) in visits {
            self.visit(at, id, state, date, "thin", *value);
        }
    }

    fn visit(&self, at: &str, id: &str, state: &str, date: &str, oil: &str, value: f64) {
        let (low, high) = (value - 0.01, value + 0.01);
        self.file(
            &format!("{at}/visits/{id}/visit.yaml"),
            &format!(
                "state: {state}\ndate: {date}\nconditions: {{oil: {oil}}}\n\
                 readings: {{gap: {{readings: [{low:.3}, {value:.3}, {high:.3}]}}}}\n"
            ),
        );
    }

    /// The command with `--as json`.
    fn json(&self, more: &[&str]) -> Value {
        let shown = self.shown();
        let mut arguments = vec!["shelf", &shown, "--as", "json"];
        arguments.extend(more);
        let (code, out, err) = asfound(&arguments);
        assert_eq!(code, 0, "{err}");
        serde_json::from_str(&out).unwrap()
    }

    /// The folders that are listed, from the root on.
    fn listed(&self, more: &[&str]) -> Vec<String> {
        let found = self.json(more);
        let sessions = found["sessions"].as_array().unwrap().iter();
        sessions
            .map(|row| {
                let path = Path::new(row["path"].as_str().unwrap());
                path.strip_prefix(self.root()).unwrap().display().to_string()
            })
            .collect()
    }
}

/// A table whose columns are wide as this machine's temporary folders are: two spaces between any two of them.
fn narrow(table: &str) -> String {
    let columns =
        |line: &str| line.split("  ").map(str::trim).filter(|c| !c.is_empty()).collect::<Vec<_>>().join("  ");
    table.lines().map(columns).collect::<Vec<_>>().join("\n")
}

const SAW: &str = "name: Marlstone CS-10, serial: CS10-04417, bought: 2026-01-20, \
                   coverage: [{name: Return window, lasts: 30 days}, {name: Parts, lasts: 3 years}]";
const JOINTER: &str =
    "name: Ferrow J6, serial: J6-220, bought: 2025-02-28, coverage: [{name: Parts, lasts: 12 months}]";

/// Two machines, four sessions, one of them broken.
fn shop() -> Tree {
    let tree = Tree::new();
    tree.session("saw", SAW, &[("a", "as-found", "2026-02-01", 1.6), ("b", "as-left", "2026-02-03", 0.3)]);
    tree.session("years/2025/jointer", JOINTER, &[("a", "as-found", "2025-06-01", 0.4)]);
    tree.session("years/2026/jointer", JOINTER, &[("a", "as-found", "2026-01-15", 1.5)]);
    tree.session("broken", SAW, &[("a", "as-found", "2026-02-20", 0.9)]);
    tree.file(
        "broken/visits/a/visit.yaml",
        "state: as-found\ndate: 2026-02-30\nreadings: {gap: {readings: [1]}}\n",
    );
    tree
}

#[test]
fn the_walk_finds_what_find_finds() {
    let tree = shop();
    // Junk of every kind, and a session where nobody would look for one.
    tree.session("years/.trash/deep/er/saw", SAW, &[]);
    tree.session("saw/photos/nested", SAW, &[]);
    tree.file("saw/visits/a/old/session.yaml", "a copy that somebody left in a visit");
    tree.file("letters and such/session.yaml.bak", "");
    tree.file("empty/session.yaml", "");
    tree.file("bytes/session.yaml", "\u{0}\u{1}\u{2}");
    fs::create_dir_all(tree.root().join("odd/session.yaml")).unwrap();
    for index in 0..200 {
        tree.file(&format!("junk/{}/file-{index}", index % 7), "");
    }
    // GNU or BSD find: files of that name; the visits of sessions are no place for one.
    let output =
        Command::new("find").arg(tree.root()).args(["-name", "session.yaml", "-type", "f"]).output().unwrap();
    let wanted: BTreeSet<PathBuf> = String::from_utf8(output.stdout)
        .unwrap()
        .lines()
        .map(|line| Path::new(line).parent().unwrap().to_owned())
        .filter(|dir| !dir.starts_with(tree.root().join("saw/visits")))
        .collect();
    let walked = walk(&[tree.root().to_owned()]);
    assert_eq!(walked.sessions.iter().cloned().collect::<BTreeSet<_>>(), wanted);
    assert_eq!(walked.sessions.len(), 8);
    assert_eq!(walked.unread, Vec::<String>::new());
}

#[cfg(unix)]
#[test]
fn links_are_not_followed_and_said_and_nothing_goes_round() {
    let tree = shop();
    std::os::unix::fs::symlink(tree.root(), tree.root().join("years/round")).unwrap();
    std::os::unix::fs::symlink("/", tree.root().join("everything")).unwrap();
    std::os::unix::fs::symlink(tree.root().join("nowhere"), tree.root().join("dangling")).unwrap();
    assert_eq!(tree.listed(&[]).len(), 4);
    let (code, _, err) = asfound(&["shelf", &tree.shown(), "--on", "2026-02-15"]);
    assert_eq!(code, 0);
    assert!(err.contains("links to folders are not followed"), "{err}");
    // A link that was named is another matter.
    let link = tree.root().join("years/round").display().to_string();
    let (_, out, _) = asfound(&["shelf", &link, "--as", "csv", "--on", "2026-02-15"]);
    assert_eq!(out.lines().count(), 5, "{out}");
}

#[cfg(unix)]
#[test]
fn a_folder_that_may_not_be_read_is_said_and_the_others_are_listed() {
    use std::os::unix::fs::PermissionsExt;
    let tree = shop();
    let shut = tree.root().join("years/2025");
    fs::set_permissions(&shut, fs::Permissions::from_mode(0o000)).unwrap();
    if fs::read_dir(&shut).is_ok() {
        eprintln!("skipped: this user may read every folder");
    } else {
        let (code, out, err) = asfound(&["shelf", &tree.shown(), "--on", "2026-02-15"]);
        assert_eq!(code, 0);
        assert!(err.contains("years/2025 could not be looked into"), "{err}");
        assert!(out.contains("3 sessions"), "{out}");
    }
    fs::set_permissions(&shut, fs::Permissions::from_mode(0o755)).unwrap();
}

#[test]
fn the_same_folder_named_twice_is_listed_once() {
    let tree = shop();
    let (saw, root) = (tree.root().join("saw").display().to_string(), tree.shown());
    let (code, out, _) = asfound(&["shelf", &saw, &root, &saw, "--as", "csv", "--on", "2026-02-15"]);
    assert_eq!((code, out.lines().count()), (0, 5), "{out}");
}

#[test]
fn what_lies_in_a_bag_is_a_copy_and_not_listed_unless_the_bag_is_named() {
    let tree = shop();
    tree.file("out/saw/bag/saw/bagit.txt", "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n");
    tree.session("out/saw/bag/saw/data/sessions/saw", SAW, &[("a", "as-found", "2026-02-01", 1.6)]);
    assert_eq!(tree.listed(&[]).len(), 4);
    let walked = walk(&[tree.root().join("out/saw/bag/saw")]);
    assert_eq!(walked.sessions.len(), 1);
}

#[test]
fn the_table_says_what_there_is_what_is_wrong_and_what_ends_soon() {
    let tree = shop();
    let (code, out, err) = asfound(&["shelf", &tree.shown(), "--on", "2026-02-15"]);
    assert_eq!(code, 0, "{err}");
    insta::assert_snapshot!("table", narrow(&format!("{out}\n{err}").replace(&tree.shown(), "shop")));
}

#[test]
fn json_and_csv_say_the_same_of_every_session() {
    let tree = shop();
    let found = tree.json(&["--on", "2026-02-15"]);
    let (_, csv, _) = asfound(&["shelf", &tree.shown(), "--as", "csv", "--on", "2026-02-15"]);
    insta::assert_snapshot!("csv", csv.replace(&tree.shown(), "shop"));
    let mut reader = csv::Reader::from_reader(csv.as_bytes());
    let rows: Vec<std::collections::BTreeMap<String, String>> =
        reader.deserialize().map(Result::unwrap).collect();
    let sessions = found["sessions"].as_array().unwrap();
    assert_eq!(rows.len(), sessions.len());
    for (row, session) in rows.iter().zip(sessions) {
        assert_eq!(row["path"], session["path"].as_str().unwrap());
        assert_eq!(row["worst_verdict"], session["worst"].as_str().unwrap_or_default());
        assert_eq!(row["worst_verdict_last"], session["worst_last"].as_str().unwrap_or_default());
        assert_eq!(row["errors"], session["errors"].to_string());
        let ends: Vec<i64> = session["coverage"]
            .as_array()
            .unwrap()
            .iter()
            .map(|window| window["days_left"].as_i64().unwrap())
            .filter(|left| *left >= 0)
            .collect();
        assert_eq!(row["days_left"], ends.iter().min().map(i64::to_string).unwrap_or_default());
    }
}

/// 30 days from 20 January 2026 end on 19 February, twelve months from 28 February 2025 on 28 February 2026
/// (dateutil 4.0.0: `published` holds more of them).
#[test]
fn coverage_ends_soon_up_to_its_last_day_and_not_after() {
    let tree = shop();
    let soon = |on: &str, within: [&str; 2]| {
        tree.listed(&["--on", on, "--within", within[0], within[1], "--ends-soon", "--machine", "marlstone"])
    };
    assert_eq!(soon("2026-02-15", ["4", "days"]), ["broken", "saw"]);
    assert_eq!(soon("2026-02-15", ["3", "days"]), Vec::<String>::new());
    assert_eq!(soon("2026-02-19", ["1", "day"]), ["broken", "saw"]);
    assert_eq!(soon("2026-02-20", ["1", "year"]), Vec::<String>::new());
    assert_eq!(soon("2026-02-20", ["3", "years"]), ["broken", "saw"]);
    let jointers = tree.listed(&["--on", "2026-02-27", "--within", "1", "day", "--ends-soon"]);
    assert_eq!(jointers, ["years/2025/jointer", "years/2026/jointer"]);
}

#[test]
fn a_claim_window_is_seen_also_where_a_reading_is_wrong() {
    let tree = shop();
    let row = Row::of(&tree.root().join("broken"), &measures());
    assert_eq!((row.errors, row.worst, row.coverage.len()), (1, None, 2));
    assert_eq!(row.machines[0].serial.as_deref(), Some("CS10-04417"));
}

#[test]
fn rows_are_sorted_and_chosen_as_asked() {
    let tree = shop();
    let on = ["--on", "2026-02-15"];
    let listed = |more: &[&str]| tree.listed(&[&on[..], more].concat());
    let by = |order: &str| listed(&["--sort", order]);
    assert_eq!(by("path"), ["broken", "saw", "years/2025/jointer", "years/2026/jointer"]);
    assert_eq!(by("ends"), ["broken", "saw", "years/2025/jointer", "years/2026/jointer"]);
    assert_eq!(by("machine"), ["years/2025/jointer", "years/2026/jointer", "broken", "saw"]);
    assert_eq!(by("verdict"), ["broken", "years/2026/jointer", "saw", "years/2025/jointer"]);
    assert_eq!(by("last-visit")[..2], ["saw", "years/2026/jointer"]);
    assert_eq!(by("title")[..2], ["broken", "saw"]);
    assert_eq!(listed(&["--serial", "j6"]), ["years/2025/jointer", "years/2026/jointer"]);
    assert_eq!(listed(&["--verdict", "over"]), ["saw", "years/2026/jointer"]);
    assert_eq!(listed(&["--verdict", "within", "--machine", "ferrow"]), ["years/2025/jointer"]);
    assert_eq!(listed(&["--measure", "quantity"]).len(), 4);
    assert_eq!(listed(&["--measure", "sound"]), Vec::<String>::new());
}

#[test]
fn what_was_asked_wrongly_is_said_all_at_once() {
    let tree = shop();
    let nowhere = tree.root().join("nowhere").display().to_string();
    let (code, out, err) = asfound(&["shelf", &nowhere, "--measure", "quantitty", "--within", "30", "moons"]);
    assert_eq!((code, out.as_str()), (2, ""));
    insta::assert_snapshot!("asked_wrongly", err.replace(&tree.shown(), "shop"));
}

#[test]
fn seals_are_told_and_so_is_an_edit_after_sealing() {
    let tree = shop();
    let saw = tree.root().join("saw").display().to_string();
    let sealed =
        |row: &Value| (row["seals"]["sealed"].as_i64().unwrap(), row["seals"]["changed"].as_i64().unwrap());
    let of_saw =
        || tree.json(&["--on", "2026-02-15", "--serial", "CS10", "--verdict", "over"])["sessions"][0].clone();
    assert_eq!(sealed(&of_saw()), (0, 0));
    let (code, _, err) = asfound(&["seal", &saw, "a", "b", "--at", "2026-02-04T09:00:00Z"]);
    assert_eq!(code, 0, "{err}");
    assert_eq!(sealed(&of_saw()), (2, 0));
    tree.visit("saw", "b", "as-left", "2026-02-03", "thin", 0.31);
    assert_eq!(sealed(&of_saw()), (2, 1));
    let (_, out, _) = asfound(&["shelf", &saw, "--on", "2026-02-15"]);
    assert!(out.contains("sealed, 1 changed since"), "{out}");
}

#[test]
fn the_demo_sessions_are_rows() {
    let sessions = demo("").display().to_string();
    let (code, out, err) = asfound(&["shelf", &sessions, "--on", "2026-04-01"]);
    assert_eq!((code, err.as_str()), (0, ""));
    insta::assert_snapshot!("demo", narrow(&out.replace(&sessions, "sessions/")));
}

#[test]
fn the_list_is_typeset_with_links_to_the_reports_that_are_there() {
    let tree = shop();
    let out = tree.root().join("out");
    let shown = out.display().to_string();
    // Two sessions are called jointer: nobody could say whose report that is.
    tree.file("out/saw/report.pdf", "");
    tree.file("out/jointer/report.pdf", "");
    let arguments = ["shelf", &tree.shown(), "--as", "pdf", "--out", &shown, "--on", "2026-02-15"];
    let (code, said, err) = asfound(&arguments);
    assert_eq!(code, 0, "{err}");
    assert!(said.contains("shelf.pdf (1 page)"), "{said}");
    let pdf = out.join("shelf.pdf");
    keep(&pdf);
    let text = flat(&tool("pdftotext", &["-raw", pdf.to_str().unwrap(), "-"]));
    for part in [
        "Gap of saw",
        "Marlstone CS-10",
        "over, at last within",
        "1 error",
        "Return window: 2026-02-19, 4 days left",
    ] {
        assert!(text.contains(part), "{part}: {text}");
    }
    let bytes = fs::read(&pdf).unwrap();
    let plain = tool("qpdf", &["--qdf", "--object-streams=disable", pdf.to_str().unwrap(), "-"]);
    assert!(plain.contains("/URI (saw/report.pdf)"));
    assert!(!plain.contains("jointer/report.pdf"));
    // Again: the same bytes, and what is not ours stays.
    assert_eq!(asfound(&arguments).0, 0);
    assert_eq!(fs::read(&pdf).unwrap(), bytes);
    fs::write(&pdf, "mine").unwrap();
    let (code, _, err) = asfound(&arguments);
    assert_eq!(code, 3);
    assert!(err.contains("was not made by this program"), "{err}");
    assert_eq!(fs::read(&pdf).unwrap(), b"mine");
}

#[test]
fn a_list_never_comes_to_lie_in_a_session() {
    let tree = shop();
    let inside = tree.root().join("saw/lists").display().to_string();
    let (code, _, err) =
        asfound(&["shelf", &tree.shown(), "--as", "pdf", "--out", &inside, "--on", "2026-02-15"]);
    assert_eq!(code, 3);
    assert!(err.contains("inside a session"), "{err}");
    assert!(!Path::new(&inside).exists());
}

/// Names and titles that are made to do harm, or only long.
#[test]
fn any_name_stays_text_and_stays_on_the_page() {
    let tree = Tree::new();
    let long = "x".repeat(120);
    tree.session(
        "a #emph[b] \"c\" \\ $d$",
        "name: \"#panic() *x* \\e[31m\"",
        &[("v", "baseline", "2026-01-01", 0.5)],
    );
    tree.session(&format!("{long}/{long}"), &format!("name: {long}, serial: {long}"), &[]);
    let out = tree.root().join("out").display().to_string();
    let (code, _, err) =
        asfound(&["shelf", &tree.shown(), "--as", "pdf", "--out", &out, "--on", "2026-02-15"]);
    assert_eq!(code, 0, "{err}");
    let pdf = tree.root().join("out/shelf.pdf");
    keep(&pdf);
    let text = tool("pdftotext", &["-raw", pdf.to_str().unwrap(), "-"]);
    assert!(text.contains("#panic() *x*"), "{text}");
    // poppler gives the places of words in points; US Letter and A4 are less than 612.1 wide.
    let boxes = tool("pdftotext", &["-bbox", pdf.to_str().unwrap(), "-"]);
    for line in boxes.lines().filter(|line| line.contains("<word")) {
        let right: f64 = line.split("xMax=\"").nth(1).unwrap().split('"').next().unwrap().parse().unwrap();
        assert!(right < 595.3 - 18.0 / 25.4 * 72.0 + 2.0, "{line}");
    }
    let (_, said, _) = asfound(&["shelf", &tree.shown(), "--on", "2026-02-15"]);
    assert!(!said.contains('\u{1b}'), "{said}");
}

/// A machine whose gap grows by about 0.1 mm a year after a repair in 2020, a session a year.
fn years() -> Tree {
    let tree = Tree::new();
    let saw = "name: Marlstone CS-10, serial: CS10-04417";
    tree.session("2020", saw, &[("a", "as-found", "2020-01-10", 1.4), ("b", "as-left", "2020-03-01", 0.20)]);
    for (year, value) in [(2021, 0.31), (2022, 0.39), (2023, 0.52), (2024, 0.60)] {
        tree.session(&year.to_string(), saw, &[("v", "baseline", &format!("{year}-03-01"), value)]);
    }
    // Another machine, which has no part in it.
    tree.session("other", JOINTER, &[("v", "baseline", "2022-01-01", 9.0)]);
    tree
}

#[test]
fn a_machine_s_history_has_every_visit_and_a_trend_since_the_repair() {
    let tree = years();
    let (code, out, err) = asfound(&["shelf", &tree.shown(), "--history", "cs10-04417"]);
    assert_eq!((code, err.as_str()), (0, ""));
    insta::assert_snapshot!("history", out.replace(&tree.shown(), "shop"));
    let found = tree.json(&["--history", "CS10-04417"]);
    let course = &found["courses"][0];
    assert_eq!(course["visits"].as_array().unwrap().len(), 6);
    let trend = &course["trend"];
    // scipy 1.17.1: linregress([0, 365, 730, 1095, 1461], [0.20, 0.31, 0.39, 0.52, 0.60]).
    let slope = trend["slope_a_day"].as_f64().unwrap();
    assert!((slope - SLOPE).abs() < 1e-12, "{slope}");
    assert_eq!((trend["visits"].as_i64(), trend["mann_kendall"]["s"].as_i64()), (Some(5), Some(10)));
    // The repair of 2020 and the visit before it have no part: from 0.6 to 1 mm are four years at 0.1 mm a year.
    let day = trend["extrapolated_to_limit"]["by_the_line"].as_str().unwrap();
    assert!(day.starts_with("2027") || day.starts_with("2028"), "{day}");
}

const SLOPE: f64 = 0.00027655620693781585;

#[test]
fn without_enough_visits_or_like_for_like_there_is_no_trend_and_it_is_said_why() {
    let tree = years();
    tree.visit("2022", "v", "baseline", "2022-03-01", "thick", 0.39);
    let found = tree.json(&["--history", "CS10-04417"]);
    let course = &found["courses"][0];
    assert_eq!(course["trend"], Value::Null);
    assert_eq!(
        course["no_trend"],
        "No trend: of 5 visits since the last repair only 4 can be held together with the last one, and a trend needs 5."
    );
    assert_eq!(course["visits"][3]["left_out_of_the_trend"], "oil: thick, at the last visit thin");
    // A repair begins anew.
    let tree = years();
    tree.session("2025", "name: Marlstone CS-10, serial: CS10-04417", &[("v", "as-left", "2025-03-01", 0.1)]);
    let found = tree.json(&["--history", "CS10-04417"]);
    assert_eq!(
        found["courses"][0]["no_trend"],
        "No trend: 1 visit since the last repair, and a trend needs 5."
    );
}

#[test]
fn a_copied_session_counts_once_and_a_broken_one_is_said() {
    let tree = years();
    tree.session(
        "copy/2021",
        "name: Marlstone CS-10, serial: CS10-04417",
        &[("v", "baseline", "2021-03-01", 0.31)],
    );
    tree.file(
        "2023/visits/v/visit.yaml",
        "state: baseline\ndate: 2023-03-01\nreadings: {gap: {readings: [wide]}}\n",
    );
    let found = tree.json(&["--history", "CS10-04417"]);
    assert_eq!(found["courses"][0]["visits"].as_array().unwrap().len(), 5);
    let notes = found["notes"].to_string();
    assert!(
        notes.contains("1 number is in more than one session") && notes.contains("2023 has 1 error"),
        "{notes}"
    );
}

#[test]
fn a_serial_number_that_nobody_has_is_answered_with_the_nearest() {
    let tree = years();
    let (code, out, err) = asfound(&["shelf", &tree.shown(), "--history", "CS10-04471"]);
    assert_eq!((code, out.as_str()), (2, ""));
    assert_eq!(err, "no machine has the serial number 'CS10-04471'; did you mean 'CS10-04417'?\n");
}

#[test]
fn a_history_is_typeset_with_a_chart_and_a_table_a_check() {
    let tree = years();
    let out = tree.root().join("out").display().to_string();
    let arguments = ["shelf", &tree.shown(), "--history", "CS10-04417", "--as", "pdf", "--out", &out];
    let (code, said, err) = asfound(&arguments);
    assert_eq!(code, 0, "{err}");
    assert!(said.contains("history-cs10-04417.pdf"), "{said}");
    let pdf = tree.root().join("out/history-cs10-04417.pdf");
    keep(&pdf);
    let text = flat(&tool("pdftotext", &["-raw", pdf.to_str().unwrap(), "-"]));
    for part in [
        "Gap of the gib",
        "CS10-04417",
        "An extrapolation, beyond all that was measured",
        "Mann–Kendall: S = 10",
        "Fig. 1",
    ] {
        assert!(text.contains(part), "{part}: {text}");
    }
    let bytes = fs::read(&pdf).unwrap();
    assert_eq!(asfound(&arguments).0, 0);
    assert_eq!(fs::read(&pdf).unwrap(), bytes);
}

#[test]
fn help_says_what_can_be_asked() {
    let (code, out, _) = asfound(&["shelf", "--help"]);
    assert_eq!(code, 0);
    insta::assert_snapshot!("help", out);
}

/// The file in which rows are kept, as a later run finds it.
fn kept(tree: &Tree) -> PathBuf {
    tree.root().join("out/.built/rows")
}

fn told(tree: &Tree, more: &[&str]) -> String {
    let (root, out) = (tree.shown(), tree.root().join("out").display().to_string());
    let mut arguments = vec!["shelf", &root, "--on", "2026-02-15", "--out", &out];
    arguments.extend(more);
    let (code, said, err) = asfound(&arguments);
    assert_eq!(code, 0, "{err}");
    said
}

#[test]
fn a_list_from_what_was_kept_is_the_list_that_was_made() {
    let tree = shop();
    let forms: [&[&str]; 3] = [&[], &["--as", "csv"], &["--as", "json"]];
    let first = forms.map(|form| told(&tree, form));
    let text = fs::read_to_string(kept(&tree)).unwrap();
    assert_eq!(text.lines().count(), 1 + 4, "{text}");
    assert_eq!(forms.map(|form| told(&tree, form)), first);
    // Rows are not taken from anywhere else: a word changed in what is kept shows.
    fs::write(kept(&tree), text.replace("Gap of saw", "Gap of sow")).unwrap();
    assert!(told(&tree, &[]).contains("Gap of sow"));
    // And they are never trusted over the session.
    tree.visit("saw", "b", "as-left", "2026-02-03", "thin", 1.7);
    let again = told(&tree, &[]);
    assert!(again.contains("Gap of saw") && !again.contains("at last within"), "{again}");
    fs::remove_dir_all(tree.root().join("out")).unwrap();
    assert_eq!(told(&tree, &[]), again);
}

#[test]
fn a_row_follows_a_session_that_was_only_looked_for() {
    let tree = shop();
    let session = tree.root().join("saw/session.yaml");
    let text = fs::read_to_string(&session).unwrap();
    let compare = "compare: {c: {before: {session: ../old, visit: v}, after: b}}\n";
    fs::write(&session, format!("{text}{compare}")).unwrap();
    let errors = |tree: &Tree| told(tree, &["--as", "csv", "--machine", "marlstone"]).contains("saw,,");
    let first = told(&tree, &["--as", "csv"]);
    assert!(
        !errors(&tree) && first.lines().any(|line| line.contains("/saw,") && line.contains(",1,")),
        "{first}"
    );
    assert_eq!(told(&tree, &["--as", "csv"]), first);
    tree.session("old", SAW, &[("v", "baseline", "2025-02-01", 0.5)]);
    let mended = told(&tree, &["--as", "json"]);
    let found: Value = serde_json::from_str(&mended).unwrap();
    let of = |name: &str| {
        let rows = found["sessions"].as_array().unwrap();
        rows.iter().find(|row| row["name"] == name).unwrap()["errors"].as_i64().unwrap()
    };
    assert_eq!((of("saw"), of("old"), of("broken")), (0, 0, 1));
}

#[test]
fn a_report_leaves_the_row_that_the_list_would_make() {
    let tree = shop();
    let (saw, out) = (tree.root().join("saw").display().to_string(), tree.root().join("out"));
    let made = told(&tree, &["--as", "json"]);
    let own = fs::read_to_string(kept(&tree)).unwrap();
    fs::remove_dir_all(&out).unwrap();
    let (code, _, err) = asfound(&["report", &saw, "--out", &out.display().to_string()]);
    assert_eq!(code, 0, "{err}");
    // What was made of it follows the inputs, which are told with the moment that they were looked at.
    let of_saw = |text: &str| {
        let line = text.lines().find(|line| line.contains("/saw\"\t")).unwrap().to_owned();
        let mut record: Value = serde_json::from_str(line.split_once('\t').unwrap().1).unwrap();
        // The way by which the folder was come by is the list's own.
        record["made"]["row"]["path"] = Value::Null;
        record["made"].clone()
    };
    let left = fs::read_to_string(kept(&tree)).unwrap();
    assert_eq!(of_saw(&left), of_saw(&own));
    assert_eq!(told(&tree, &["--as", "json"]), made);
}

/// One gauge with a serial number through three sessions, one without, and one that only shares its id.
fn bench() -> Tree {
    let tree = Tree::new();
    let session = |at: &str, instrument: &str, visits: &[(&str, &str, &str, f64)]| {
        tree.session(at, JOINTER, visits);
        let path = tree.root().join(at).join("session.yaml");
        let text = fs::read_to_string(&path).unwrap();
        fs::write(&path, text.replace("i: {name: Feeler, ", &format!("i: {{name: Feeler, {instrument}")))
            .unwrap();
    };
    let first = "serial: FG-7, calibrated: 2023-01-05, calibration_due: 2024-01-05, ";
    session("2023", first, &[("v", "baseline", "2023-06-01", 0.4)]);
    // The last day, and the day after it.
    session("2024", first, &[("a", "as-found", "2024-01-05", 1.4), ("b", "as-left", "2024-01-06", 0.4)]);
    let second = "serial: fg-7, calibrated: 2024-02-01, calibration_due: 2025-02-01, ";
    session("2025", second, &[("v", "baseline", "2024-05-01", 0.4), ("w", "baseline", "2025-02-11", 0.4)]);
    // Here nobody wrote down that it had been calibrated again.
    session("forgotten", "serial: FG-7, ", &[("v", "baseline", "2024-06-01", 0.4)]);
    session("other", "serial: FG-8, ", &[("v", "baseline", "2024-06-01", 0.4)]);
    tree
}

#[test]
fn an_instrument_is_followed_through_all_sessions_and_what_was_read_without_calibration_is_pointed_out() {
    let tree = bench();
    let (code, out, err) = asfound(&["shelf", &tree.shown(), "--instrument", "FG-7", "--on", "2025-03-01"]);
    assert_eq!((code, err.as_str()), (0, ""));
    insta::assert_snapshot!("instrument", narrow(&out.replace(&tree.shown(), "shop")));
    let found = tree.json(&["--instrument", " fg-7", "--on", "2025-03-01"]);
    let after: Vec<(&str, i64)> = found["uses"]
        .as_array()
        .unwrap()
        .iter()
        .filter_map(|used| Some((used["date"].as_str()?, used["days_after"].as_i64()?)))
        .collect();
    assert_eq!(after, [("2024-01-06", 1), ("2025-02-11", 10)]);
    assert_eq!(found["uses"].as_array().unwrap().len(), 6);
    let (_, csv, _) = asfound(&["shelf", &tree.shown(), "--instrument", "FG-7", "--as", "csv"]);
    insta::assert_snapshot!("instrument_csv", csv.replace(&tree.shown(), "shop"));
    // The list points it out too, by what each session says itself.
    assert_eq!(tree.listed(&["--calibration-ran-out"]), ["2024", "2025"]);
    let (_, _, err) = asfound(&["shelf", &tree.shown()]);
    assert!(err.contains("2 sessions have readings that were taken after"), "{err}");
}

#[test]
fn an_instrument_without_a_serial_number_goes_by_its_name_and_one_name_of_two_is_asked_about() {
    let tree = bench();
    let ask = |tree: &Tree, name: &str| asfound(&["shelf", &tree.shown(), "--instrument", name]);
    let (code, out, err) = ask(&tree, "feeler");
    assert_eq!((code, out.as_str()), (2, ""));
    assert_eq!(err, "several instruments are called 'feeler'; ask for one serial number: FG-7, FG-8\n");
    let (code, _, err) = ask(&tree, "FG-9");
    assert_eq!(code, 2);
    assert!(
        err.starts_with("no instrument has the serial number, id or name 'FG-9'; did you mean 'FG-"),
        "{err}"
    );
    let tree = shop();
    let (code, out, err) = ask(&tree, "Feeler");
    assert_eq!(code, 0);
    assert!(err.contains("None of these 4 sessions names its serial number"), "{err}");
    assert!(out.contains("No session says when it was calibrated."), "{out}");
}

#[test]
fn an_instrument_s_story_is_typeset_and_the_list_says_whose_calibration_had_run_out() {
    let tree = bench();
    let out = tree.root().join("out").display().to_string();
    let arguments =
        ["shelf", &tree.shown(), "--instrument", "FG-7", "--as", "pdf", "--out", &out, "--on", "2025-03-01"];
    let (code, said, err) = asfound(&arguments);
    assert_eq!(code, 0, "{err}");
    assert!(said.contains("instrument-fg-7.pdf (1 page)"), "{said}");
    let pdf = tree.root().join("out/instrument-fg-7.pdf");
    keep(&pdf);
    let text = flat(&tool("pdftotext", &["-raw", pdf.to_str().unwrap(), "-"]));
    for part in [
        "Calibrated on 5 January 2023; that ran out on 5 January 2024.",
        "calibration had run out 1 day before",
        "Gap of the gib",
        "at 2 of them its calibration had run out",
    ] {
        assert!(text.contains(part), "{part}: {text}");
    }
    let bytes = fs::read(&pdf).unwrap();
    assert_eq!(asfound(&arguments).0, 0);
    assert_eq!(fs::read(&pdf).unwrap(), bytes);
    let list = ["shelf", &tree.shown(), "--as", "pdf", "--out", &out, "--on", "2025-03-01"];
    assert_eq!(asfound(&list).0, 0);
    let text = flat(&tool("pdftotext", &["-raw", tree.root().join("out/shelf.pdf").to_str().unwrap(), "-"]));
    assert!(text.contains("FG-7: calibration had run out"), "{text}");
}

#[test]
fn a_report_says_that_a_calibration_had_run_out() {
    let tree = bench();
    let (code, out, _) = asfound(&["inspect", &tree.root().join("2024").display().to_string()]);
    assert_eq!(code, 0);
    assert!(
        out.contains(
            "Feeler: its calibration ran out on 5 January 2024; readings were taken with it after that: \
             B (6 January 2024)."
        ),
        "{out}"
    );
}
