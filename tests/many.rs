//! Reports of many sessions in one run: a line each, one bad one stops none, and only what changed is made again.
#![allow(clippy::pedantic, clippy::print_stderr, missing_docs, clippy::unwrap_used, clippy::panic)]

mod common;

use std::fs;
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};

use common::asfound;

struct Shop {
    home: tempfile::TempDir,
    dirs: Vec<PathBuf>,
}

impl Shop {
    /// Sessions of these names; one called "broken" is.
    fn of(names: &[&str]) -> Self {
        let home = tempfile::tempdir().unwrap();
        let dirs: Vec<PathBuf> = names.iter().map(|name| home.path().join("all").join(name)).collect();
        for (name, dir) in names.iter().zip(&dirs) {
            let visit = dir.join("visits/as-found");
            fs::create_dir_all(&visit).unwrap();
            let instrument = if *name == "broken" { "j" } else { "i" };
            let session = format!(
                "title: Gap of {name}\nunits: metric\nmachines: {{m: {{name: M}}}}\n\
                 instruments: {{i: {{name: Gauge, resolution: 0.01 mm}}}}\n\
                 checks: {{gap: {{measure: quantity, instrument: {instrument}, unit: mm}}}}\n"
            );
            fs::write(dir.join("session.yaml"), session).unwrap();
            let text = "state: as-found\ndate: 2026-03-02\nreadings: {gap: {readings: [0.52, 0.55, 0.51]}}\n";
            fs::write(visit.join("visit.yaml"), text).unwrap();
        }
        let shop = Self { home, dirs };
        shop.age();
        shop
    }

    /// Makes every file of the sessions look as if it had been saved a minute ago.
    fn age(&self) {
        let then = SystemTime::now() - Duration::from_secs(60);
        for entry in walkdir::WalkDir::new(self.home.path().join("all")) {
            let entry = entry.unwrap();
            if entry.file_type().is_file() {
                let file = fs::File::options().append(true).open(entry.path()).unwrap();
                file.set_modified(then).unwrap();
            }
        }
    }

    fn out(&self) -> PathBuf {
        self.home.path().join("out")
    }

    fn run(&self) -> (u8, String, String) {
        let out = self.out().display().to_string();
        let dirs: Vec<String> = self.dirs.iter().map(|dir| dir.display().to_string()).collect();
        let mut arguments = vec!["report"];
        arguments.extend(dirs.iter().map(String::as_str));
        arguments.extend(["--out", &out]);
        asfound(&arguments)
    }

    /// The last line: what came of all of them.
    fn summary(&self) -> String {
        self.run().1.lines().last().unwrap().to_owned()
    }

    fn pdf(&self, name: &str) -> PathBuf {
        self.out().join(name).join("report.pdf")
    }
}

#[test]
fn one_bad_session_stops_none_and_is_told_in_full() {
    let shop = Shop::of(&["a", "broken", "c"]);
    let (code, out, err) = shop.run();
    assert_eq!(code, 1);
    let lines: Vec<&str> = out.lines().collect();
    assert_eq!(lines.len(), 4, "{out}");
    assert!(lines[0].contains("/a: ") && lines[0].contains("a/report.pdf ("), "{out}");
    assert!(lines[1].ends_with("/broken: not made"), "{out}");
    assert_eq!(lines[3], "3 sessions: 2 made, 1 not made");
    assert!(err.contains("broken/session.yaml:5") && err.contains("help: "), "{err}");
    assert!(shop.pdf("a").is_file() && shop.pdf("c").is_file() && !shop.out().join("broken").exists());
}

#[test]
fn what_has_not_changed_is_not_made_again_and_what_has_is() {
    let shop = Shop::of(&["a", "b", "c"]);
    assert_eq!(shop.summary(), "3 sessions: 3 made");
    let made = |name: &str| fs::metadata(shop.pdf(name)).unwrap().modified().unwrap();
    let before = made("a");
    // The sessions were written just now, so their times vouch for nothing: their digests do.
    assert_eq!(shop.summary(), "3 sessions: 3 unchanged");
    assert_eq!(made("a"), before);

    // One digit, the same size, and the time set back.
    let visit = shop.dirs[1].join("visits/as-found/visit.yaml");
    let text = fs::read_to_string(&visit).unwrap();
    fs::write(&visit, text.replace("0.55", "0.56")).unwrap();
    shop.age();
    assert_eq!(shop.summary(), "3 sessions: 1 made, 2 unchanged");
    // Saved as it was: other times, the same bytes.
    let bytes = fs::read(&visit).unwrap();
    fs::write(&visit, bytes).unwrap();
    assert_eq!(shop.summary(), "3 sessions: 3 unchanged");
    // A new file is a change.
    fs::write(shop.dirs[2].join("notes.md"), "It stuck.\n").unwrap();
    assert_eq!(shop.summary(), "3 sessions: 1 made, 2 unchanged");
}

#[test]
fn what_was_made_is_made_again_where_it_is_gone_or_another() {
    let shop = Shop::of(&["a", "b"]);
    assert_eq!(shop.summary(), "2 sessions: 2 made");
    let whole = fs::read(shop.pdf("a")).unwrap();
    fs::remove_file(shop.pdf("a")).unwrap();
    assert_eq!(shop.summary(), "2 sessions: 1 made, 1 unchanged");
    fs::write(shop.out().join("b/findings.json"), "{\"program\": \"asfound 0\"}").unwrap();
    let (_, out, err) = shop.run();
    assert!(out.ends_with("2 sessions: 1 made, 1 unchanged\n"), "{out}{err}");
    assert_eq!(fs::read(shop.pdf("a")).unwrap(), whole, "the same bytes as ever");
}

#[test]
fn the_record_may_go_or_be_nonsense_and_nothing_is_taken_from_it() {
    let shop = Shop::of(&["a", "b"]);
    assert_eq!(shop.summary(), "2 sessions: 2 made");
    fs::remove_dir_all(shop.out().join(".built")).unwrap();
    assert_eq!(shop.summary(), "2 sessions: 2 made");
    let record = shop.out().join(".built/reports");
    for nonsense in ["", "asfound kept 1\n\"/a\"\t{}\n", "{\"how\": 1}"] {
        fs::write(&record, nonsense).unwrap();
        assert_eq!(shop.summary(), "2 sessions: 2 made", "{nonsense}");
    }
    // One of another session of the same name.
    let text = fs::read_to_string(&record).unwrap();
    fs::write(&record, text.replace("/all/a", "/elsewhere/a")).unwrap();
    assert_eq!(shop.summary(), "2 sessions: 1 made, 1 unchanged");
}

#[test]
fn a_session_that_another_is_compared_with_is_one_that_it_is_made_from() {
    let shop = Shop::of(&["a", "b"]);
    let session = shop.dirs[0].join("session.yaml");
    let text = fs::read_to_string(&session).unwrap();
    let compare = "compare: {c: {before: {session: ../b, visit: as-found}, after: as-found}}\n";
    fs::write(&session, text + compare).unwrap();
    let (_, out, err) = shop.run();
    assert!(out.ends_with("2 sessions: 2 made\n"), "{out}{err}");
    assert_eq!(shop.summary(), "2 sessions: 2 unchanged");
    touch(&shop.dirs[1].join("visits/as-found/visit.yaml"));
    assert_eq!(shop.summary(), "2 sessions: 2 made");
}

fn touch(path: &Path) {
    let text = fs::read_to_string(path).unwrap();
    fs::write(path, text.replace("0.51", "0.53")).unwrap();
}

#[test]
fn what_was_wrong_is_said_again_without_reading_it_again_until_it_is_mended() {
    let shop = Shop::of(&["a", "broken"]);
    let first = shop.run();
    let record = shop.out().join(".built/reports");
    let text = fs::read_to_string(&record).unwrap();
    let (code, out, err) = shop.run();
    assert_eq!((code, &err), (1, &first.2));
    assert!(out.ends_with("2 sessions: 1 unchanged, 1 not made\n"), "{out}");
    // It comes from what was kept.
    fs::write(&record, text.replace("there is no instrument", "there was no instrument")).unwrap();
    assert!(shop.run().2.contains("there was no instrument"));
    let session = shop.dirs[1].join("session.yaml");
    let text = fs::read_to_string(&session).unwrap();
    fs::write(&session, text.replace("instrument: j", "instrument: i")).unwrap();
    assert_eq!(shop.summary(), "2 sessions: 1 made, 1 unchanged");
    assert!(shop.pdf("broken").is_file());
}

#[test]
fn two_runs_at_once_keep_what_both_made() {
    let shop = Shop::of(&["a", "b", "c", "d"]);
    let out = shop.out().display().to_string();
    std::thread::scope(|scope| {
        for half in shop.dirs.chunks(2) {
            let dirs: Vec<String> = half.iter().map(|dir| dir.display().to_string()).collect();
            let out = out.as_str();
            scope.spawn(move || {
                let mut arguments = vec!["report"];
                arguments.extend(dirs.iter().map(String::as_str));
                arguments.extend(["--out", out, "--quiet"]);
                assert_eq!(asfound(&arguments).0, 0);
            });
        }
    });
    assert_eq!(shop.summary(), "4 sessions: 4 unchanged");
}

#[test]
fn the_list_of_sessions_has_what_reports_left_and_reads_none_of_them_again() {
    let shop = Shop::of(&["a", "b"]);
    assert_eq!(shop.summary(), "2 sessions: 2 made");
    let rows = shop.out().join(".built/rows");
    let text = fs::read_to_string(&rows).unwrap();
    fs::write(&rows, text.replace("Gap of b", "Gap of B")).unwrap();
    let (all, out) = (shop.home.path().join("all"), shop.out().display().to_string());
    let (code, said, err) =
        asfound(&["shelf", &all.display().to_string(), "--out", &out, "--on", "2026-03-10"]);
    assert_eq!(code, 0, "{err}");
    assert!(said.contains("Gap of a") && said.contains("Gap of B"), "{said}");
}
