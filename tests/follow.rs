//! A report that follows its session: made again at every save, and always what a single run makes.
#![cfg(unix)]
#![allow(
    clippy::pedantic,
    clippy::print_stderr,
    clippy::redundant_clone,
    missing_docs,
    clippy::unwrap_used,
    clippy::panic
)]

mod common;

use std::collections::BTreeMap;
use std::fs;
use std::io::{BufRead, BufReader, Read};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, ExitStatus, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::time::{Duration, Instant};

use common::{asfound, demo};

/// No test is about speed: this long is waited for a line before it counts as never said.
const PATIENCE: Duration = Duration::from_secs(90);

/// Enough for a line that must not come to come.
const A_WHILE: Duration = Duration::from_secs(3);

/// `asfound report --follow`, running.
struct Following {
    child: Child,
    lines: Receiver<(usize, String)>,
    said: Vec<String>,
    /// Lines that came and were not waited for yet, each with the number of its stream.
    unheard: Vec<(usize, String)>,
}

impl Following {
    fn start(home: &Path, arguments: &[&str]) -> Self {
        Self::start_by(Command::new(env!("CARGO_BIN_EXE_asfound")), home, arguments)
    }

    /// By a system that does not tell of saved files: in a user namespace of its own, where this limit of inotify's is 0
    /// (`namespaces(7)`). None where such a namespace cannot be had.
    fn start_untold(limit: &str, home: &Path, arguments: &[&str]) -> Option<Self> {
        let set = format!("echo 0 > /proc/sys/user/{limit}");
        let unshare = |script: &str| {
            let mut command = Command::new("unshare");
            command.args(["--user", "--map-root-user", "sh", "-c", script, "sh"]);
            command
        };
        if !unshare(&set).output().is_ok_and(|output| output.status.success()) {
            eprintln!("skipped: no user namespace with {limit} of its own can be had here");
            return None;
        }
        let mut command = unshare(&format!("{set}; exec \"$@\""));
        command.arg(env!("CARGO_BIN_EXE_asfound"));
        Some(Self::start_by(command, home, arguments))
    }

    fn start_by(mut program: Command, home: &Path, arguments: &[&str]) -> Self {
        let mut child = program
            .args(["report", "--follow"])
            .args(arguments)
            .current_dir(home)
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let (teller, lines) = channel();
        let streams: [Box<dyn Read + Send>; 2] =
            [Box::new(child.stdout.take().unwrap()), Box::new(child.stderr.take().unwrap())];
        for (stream, number) in streams.into_iter().zip(0_usize..) {
            let teller = teller.clone();
            std::thread::spawn(move || {
                for line in BufReader::new(stream).lines().map_while(Result::ok) {
                    let _ = teller.send((number, line));
                }
            });
        }
        Self { child, lines, said: Vec::new(), unheard: Vec::new() }
    }

    /// Waits for a line that holds this, after the last one heard from the same stream. Between the two
    /// streams there is no order.
    fn hears(&mut self, wanted: &str) -> String {
        let until = Instant::now() + PATIENCE;
        loop {
            if let Some(at) = self.unheard.iter().position(|(_, line)| line.contains(wanted)) {
                let (stream, line) = self.unheard.remove(at);
                let mut index = 0;
                self.unheard.retain(|(other, _)| {
                    index += 1;
                    *other != stream || index > at
                });
                return line;
            }
            match self.lines.recv_timeout(until.saturating_duration_since(Instant::now())) {
                Ok((stream, line)) => {
                    self.said.push(line.clone());
                    self.unheard.push((stream, line));
                }
                Err(_) => panic!("'{wanted}' was never said, but:\n{}", self.said.join("\n")),
            }
        }
    }

    /// What is said within a while.
    fn hears_within_a_while(&mut self) -> Vec<String> {
        let until = Instant::now() + A_WHILE;
        let mut heard = Vec::new();
        while let Ok((_, line)) = self.lines.recv_timeout(until.saturating_duration_since(Instant::now())) {
            self.said.push(line.clone());
            heard.push(line);
        }
        heard
    }

    fn signal(&self, signal: &str) {
        let sent = Command::new("kill").args([signal, &self.child.id().to_string()]).status().unwrap();
        assert!(sent.success());
    }

    fn ends(mut self, signal: &str) -> ExitStatus {
        self.signal(signal);
        self.ended()
    }

    fn ended(&mut self) -> ExitStatus {
        let until = Instant::now() + PATIENCE;
        while Instant::now() < until {
            if let Some(status) = self.child.try_wait().unwrap() {
                return status;
            }
            std::thread::sleep(Duration::from_millis(20));
        }
        panic!("it did not end");
    }
}

impl Drop for Following {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

const SESSION: &str = "title: A spindle\nunits: metric\nmachines: {m: {name: M}}\n\
    instruments: {i: {name: I, resolution: 1 µm, accuracy: 2 µm}}\n\
    checks:\n  c: {measure: run-out, direction: radial, instrument: i, unit: µm}\n\
    \x20 d: {measure: quantity, instrument: i, unit: µm}\n";

const VISIT: &str = "state: baseline\ndate: 2026-03-02\nreadings:\n\
    \x20 c: {turns: [[0, 3, 7, 9, 8, 6, 2, 1], [0, 3, 6, 9, 8, 5, 2, 1]]}\n\
    \x20 d: {readings: [10, 11, 12, 11, 10]}\n";

/// A home with a small session in it.
fn home() -> tempfile::TempDir {
    let home = tempfile::tempdir().unwrap();
    write_session(home.path(), "spindle");
    home
}

fn write_session(home: &Path, name: &str) -> PathBuf {
    let session = home.join(name);
    fs::create_dir_all(session.join("visits/now")).unwrap();
    fs::write(session.join("session.yaml"), SESSION).unwrap();
    fs::write(session.join("notes.md"), "It ran *quietly*.\n").unwrap();
    fs::write(session.join("visits/now/visit.yaml"), VISIT).unwrap();
    session
}

/// Every file below a folder.
fn files(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    walkdir::WalkDir::new(folder)
        .into_iter()
        .map(Result::unwrap)
        .filter(|entry| entry.file_type().is_file())
        .map(|entry| {
            let name = entry.path().strip_prefix(folder).unwrap().display().to_string();
            (name, fs::read(entry.path()).unwrap())
        })
        .collect()
}

/// That the output is what a single run makes, byte for byte.
fn equals_a_single_run(home: &Path, session: &str, more: &[&str]) {
    let alone = tempfile::tempdir().unwrap();
    let session_path = home.join(session).display().to_string();
    let out = alone.path().display().to_string();
    let arguments = [&["report", &session_path, "--quiet", "--out", &out], more].concat();
    let status = Command::new(env!("CARGO_BIN_EXE_asfound")).args(arguments).status().unwrap();
    assert!(status.success());
    let (followed, single) = (files(&home.join("out").join(session)), files(&alone.path().join(session)));
    assert_eq!(followed.keys().collect::<Vec<_>>(), single.keys().collect::<Vec<_>>());
    for (name, bytes) in &single {
        assert!(followed[name] == *bytes, "{name} is not what a single run makes");
    }
}

fn edit(path: &Path, from: &str, to: &str) {
    let text = fs::read_to_string(path).unwrap();
    assert!(text.contains(from), "{from} is not in {}", path.display());
    fs::write(path, text.replacen(from, to, 1)).unwrap();
}

#[test]
fn a_saved_file_makes_the_report_again_and_it_is_what_a_single_run_makes() {
    let home = home();
    let session = home.path().join("spindle");
    let mut following = Following::start(home.path(), &["spindle"]);
    following.hears("following spindle; Ctrl-C ends it");
    equals_a_single_run(home.path(), "spindle", &[]);

    edit(&session.join("notes.md"), "quietly", "loudly");
    following.hears("spindle: notes.md changed; ");
    equals_a_single_run(home.path(), "spindle", &[]);

    edit(&session.join("visits/now/visit.yaml"), "12, 11, 10", "14, 11, 10");
    following.hears("spindle: visits/now/visit.yaml changed; ");
    equals_a_single_run(home.path(), "spindle", &[]);

    edit(&session.join("session.yaml"), "A spindle", "Another spindle");
    following.hears("spindle: session.yaml changed; ");
    equals_a_single_run(home.path(), "spindle", &[]);

    // A line more above moves every place below it.
    edit(
        &session.join("visits/now/visit.yaml"),
        "readings:\n",
        "by: A hand\nconditions: {ambient: 18 °C}\nreadings:\n",
    );
    following.hears("spindle: visits/now/visit.yaml changed; ");
    equals_a_single_run(home.path(), "spindle", &[]);

    edit(&session.join("visits/now/visit.yaml"), "14, 11, 10", "12, 11, 10");
    following.hears("spindle: visits/now/visit.yaml changed; ");
    equals_a_single_run(home.path(), "spindle", &[]);
    assert_eq!(following.ends("-INT").code(), Some(0));
}

#[test]
fn the_demo_followed_through_edits_is_byte_for_byte_what_a_single_run_makes() {
    let home = tempfile::tempdir().unwrap();
    for name in ["arbor-bearings", "old-saw"] {
        for (file, bytes) in files(&demo(name)) {
            let path = home.path().join(name).join(file);
            fs::create_dir_all(path.parent().unwrap()).unwrap();
            fs::write(path, bytes).unwrap();
        }
    }
    let mut following = Following::start(home.path(), &["arbor-bearings", "--source", "--quiet"]);
    let pdf = home.path().join("out/arbor-bearings/report.pdf");
    let made_anew = |before: &[u8]| {
        let until = Instant::now() + PATIENCE;
        while fs::read(&pdf).map_or(true, |bytes| bytes == before) {
            assert!(Instant::now() < until, "no new report");
            std::thread::sleep(Duration::from_millis(50));
        }
        // Written whole: what is there is all there.
        fs::read(&pdf).unwrap()
    };
    let first = made_anew(&[]);
    let session = home.path().join("arbor-bearings");
    edit(&session.join("notes.md"), " the ", " that ");
    let second = made_anew(&first);
    equals_a_single_run(home.path(), "arbor-bearings", &["--source"]);
    edit(&session.join("session.yaml"), "title: Arbor bearings", "title: New arbor bearings");
    let third = made_anew(&second);
    equals_a_single_run(home.path(), "arbor-bearings", &["--source"]);
    // What it is compared with lies in another session.
    edit(&home.path().join("old-saw/session.yaml"), "title: Baseline of", "title: A baseline of");
    made_anew(&third);
    equals_a_single_run(home.path(), "arbor-bearings", &["--source"]);
    assert!(following.hears_within_a_while().is_empty(), "--quiet says errors only");
}

#[test]
fn an_error_is_shown_the_last_report_stays_and_mending_is_said() {
    let home = home();
    let visit = home.path().join("spindle/visits/now/visit.yaml");
    let mut following = Following::start(home.path(), &["spindle"]);
    following.hears("following spindle");
    let before = files(&home.path().join("out"));

    edit(&visit, "state: baseline", "state: basline");
    following.hears("'state' cannot be 'basline'");
    following.hears("did you mean 'baseline'?");
    following.hears("spindle: visits/now/visit.yaml changed; the last report stays until it is mended");
    assert!(files(&home.path().join("out")) == before, "the last report was touched");

    edit(&visit, "state: basline", "state: baseline");
    following.hears("spindle: visits/now/visit.yaml changed; mended; ");
    equals_a_single_run(home.path(), "spindle", &[]);
}

#[test]
fn a_session_that_begins_with_an_error_is_waited_for() {
    let home = home();
    let path = home.path().join("spindle/session.yaml");
    edit(&path, "units: metric", "units: metrical");
    let mut following = Following::start(home.path(), &["spindle"]);
    following.hears("'units' cannot be 'metrical'");
    following.hears("spindle: waiting until it is mended");
    assert!(!home.path().join("out/spindle").exists());
    edit(&path, "units: metrical", "units: metric");
    following.hears("mended; ");
    equals_a_single_run(home.path(), "spindle", &[]);
}

#[test]
fn editors_that_put_a_new_file_in_the_old_one_s_place_are_followed() {
    let home = home();
    let notes = home.path().join("spindle/notes.md");
    let mut following = Following::start(home.path(), &["spindle"]);
    following.hears("following spindle");
    for text in ["It hummed.\n", "It sang.\n", "It was still.\n"] {
        // One way: a new file renamed over the old one.
        let fresh = home.path().join("spindle/.notes.md.new");
        fs::write(&fresh, text).unwrap();
        fs::rename(&fresh, &notes).unwrap();
        following.hears("spindle: notes.md changed; ");
        equals_a_single_run(home.path(), "spindle", &[]);
        // Another: the old one steps aside, and goes when the new one is there.
        let aside = home.path().join("spindle/.notes.md~");
        fs::rename(&notes, &aside).unwrap();
        fs::write(&notes, text.to_uppercase()).unwrap();
        fs::remove_file(&aside).unwrap();
        following.hears("spindle: notes.md changed; ");
        equals_a_single_run(home.path(), "spindle", &[]);
    }
}

#[test]
fn a_folder_that_goes_away_is_waited_for_and_followed_when_it_is_back() {
    let home = home();
    let (session, elsewhere) = (home.path().join("spindle"), home.path().join("elsewhere"));
    let mut following = Following::start(home.path(), &["spindle"]);
    following.hears("following spindle");
    fs::rename(&session, &elsewhere).unwrap();
    following.hears("spindle: the folder is gone; waiting until it is back");
    assert!(home.path().join("out/spindle/report.pdf").is_file(), "the last report stays");
    edit(&elsewhere.join("notes.md"), "quietly", "loudly");
    fs::rename(&elsewhere, &session).unwrap();
    following.hears("spindle: the folder is back, notes.md changed; ");
    equals_a_single_run(home.path(), "spindle", &[]);
    edit(&session.join("notes.md"), "loudly", "evenly");
    following.hears("spindle: notes.md changed; ");
    equals_a_single_run(home.path(), "spindle", &[]);

    // Another folder in its place, as a checkout leaves it.
    fs::rename(&session, &elsewhere).unwrap();
    write_session(home.path(), "spindle");
    following.hears("notes.md changed");
    edit(&session.join("notes.md"), "quietly", "slowly");
    following.hears("spindle: notes.md changed; ");
    equals_a_single_run(home.path(), "spindle", &[]);
}

/// Neither a watcher nor, where there is one, a folder that it would watch.
#[test]
fn where_the_system_tells_nothing_the_folders_are_looked_at_instead() {
    for limit in ["max_inotify_instances", "max_inotify_watches"] {
        let home = home();
        let (session, elsewhere) = (home.path().join("spindle"), home.path().join("elsewhere"));
        let Some(mut following) = Following::start_untold(limit, home.path(), &["spindle"]) else { return };
        following.hears("; looking at the folders five times a second instead");
        following.hears("following spindle");
        edit(&session.join("notes.md"), "quietly", "loudly");
        following.hears("spindle: notes.md changed; ");
        equals_a_single_run(home.path(), "spindle", &[]);
        edit(&session.join("visits/now/visit.yaml"), "state: baseline", "state: basline");
        following.hears("the last report stays until it is mended");
        edit(&session.join("visits/now/visit.yaml"), "state: basline", "state: baseline");
        following.hears("spindle: visits/now/visit.yaml changed; mended; ");
        fs::rename(&session, &elsewhere).unwrap();
        following.hears("spindle: the folder is gone; waiting until it is back");
        edit(&elsewhere.join("notes.md"), "loudly", "evenly");
        fs::rename(&elsewhere, &session).unwrap();
        following.hears("spindle: the folder is back, notes.md changed; ");
        equals_a_single_run(home.path(), "spindle", &[]);
        let said = following.said.iter().filter(|line| line.contains("five times a second")).count();
        assert_eq!(said, 1, "{:?}", following.said);
        assert_eq!(following.ends("-INT").code(), Some(0));
    }
}

#[test]
fn a_session_that_is_deleted_and_written_anew_is_followed_and_so_is_its_session_yaml_alone() {
    let home = home();
    let session = home.path().join("spindle");
    let mut following = Following::start(home.path(), &["spindle"]);
    following.hears("following spindle");
    fs::remove_file(session.join("session.yaml")).unwrap();
    following.hears("spindle holds no session.yaml");
    following.hears("spindle: session.yaml gone; the last report stays until it is mended");
    fs::write(session.join("session.yaml"), SESSION).unwrap();
    following.hears("mended; ");
    fs::remove_dir_all(&session).unwrap();
    following.hears("spindle: the folder is gone; waiting until it is back");
    write_session(home.path(), "spindle");
    following.hears("spindle: the folder is back");
    edit(&session.join("notes.md"), "quietly", "loudly");
    following.hears("notes.md changed");
    equals_a_single_run(home.path(), "spindle", &[]);
}

#[test]
fn a_session_that_it_is_compared_with_may_go_and_come_back() {
    let home = home();
    let (old, away) = (write_session(home.path(), "old"), home.path().join("away"));
    let compare = "compare: {c: {before: {session: ../old, visit: now}, after: now}}\n";
    fs::write(home.path().join("spindle/session.yaml"), format!("{SESSION}{compare}")).unwrap();
    let mut following = Following::start(home.path(), &["spindle"]);
    following.hears("following spindle");
    fs::rename(&old, &away).unwrap();
    following.hears("there is no session folder there");
    following.hears("the last report stays until it is mended");
    fs::rename(&away, &old).unwrap();
    following.hears("mended; ");
    equals_a_single_run(home.path(), "spindle", &[]);
    edit(&old.join("visits/now/visit.yaml"), "12, 11, 10", "14, 11, 10");
    following.hears("../old/visits/now/visit.yaml changed; ");
    equals_a_single_run(home.path(), "spindle", &[]);
}

#[test]
fn a_visit_s_folder_renamed_away_and_back_is_followed() {
    let home = home();
    let visits = home.path().join("spindle/visits");
    let mut following = Following::start(home.path(), &["spindle"]);
    following.hears("following spindle");
    fs::create_dir(visits.join("later")).unwrap();
    fs::write(visits.join("later/visit.yaml"), VISIT.replace("03-02", "03-09")).unwrap();
    following.hears("spindle: visits/later/visit.yaml added; ");
    equals_a_single_run(home.path(), "spindle", &[]);
    fs::rename(visits.join("later"), visits.join("much-later")).unwrap();
    following.hears("spindle: visits/much-later/visit.yaml added, visits/later/visit.yaml gone; ");
    equals_a_single_run(home.path(), "spindle", &[]);
    edit(&visits.join("much-later/visit.yaml"), "03-09", "03-10");
    following.hears("spindle: visits/much-later/visit.yaml changed; ");
    equals_a_single_run(home.path(), "spindle", &[]);
}

#[test]
fn nothing_is_made_again_where_nothing_changed_and_an_output_that_lies_near_is_no_input() {
    let home = home();
    // The templates' folder holds the folder of outputs.
    fs::create_dir(home.path().join("house")).unwrap();
    let options = ["spindle", "--templates", "house", "--out", "house/out"];
    let mut following = Following::start(home.path(), &options);
    following.hears("following spindle");
    assert_eq!(following.hears_within_a_while(), Vec::<String>::new());
    let notes = home.path().join("spindle/notes.md");
    fs::write(&notes, fs::read(&notes).unwrap()).unwrap();
    assert_eq!(following.hears_within_a_while(), Vec::<String>::new());
    edit(&notes, "quietly", "loudly");
    following.hears("notes.md changed");
    assert_eq!(following.hears_within_a_while(), Vec::<String>::new());
}

#[test]
fn templates_are_followed_too_and_an_error_in_one_is_shown_where_it_stands() {
    let home = home();
    let house = home.path().join("house");
    fs::create_dir(&house).unwrap();
    let mut following = Following::start(home.path(), &["spindle", "--templates", "house"]);
    following.hears("following spindle");
    fs::create_dir(house.join("sections")).unwrap();
    let notes = house.join("sections/notes.typ");
    fs::write(&notes, "#section(\"Remarks\")\n{{ notes }}\n").unwrap();
    following.hears("spindle: house/sections/notes.typ added; ");
    equals_a_single_run(home.path(), "spindle", &["--templates", &house.display().to_string()]);
    fs::write(&notes, "#section(\"Remarks\")\n{{ note }}\n").unwrap();
    following.hears("sections/notes.typ:2:4: undefined value");
    following.hears("the last report stays until it is mended");
    fs::write(&notes, "#section(\"Remark\")\n{{ notes }}\n").unwrap();
    following.hears("house/sections/notes.typ changed; mended; ");
    equals_a_single_run(home.path(), "spindle", &["--templates", &house.display().to_string()]);
}

#[test]
fn several_sessions_are_followed_each_for_itself() {
    let home = home();
    write_session(home.path(), "lathe");
    let mut following = Following::start(home.path(), &["spindle", "lathe"]);
    following.hears("following spindle, lathe; Ctrl-C ends it");
    edit(&home.path().join("lathe/notes.md"), "quietly", "loudly");
    following.hears("lathe: notes.md changed; ");
    edit(&home.path().join("spindle/notes.md"), "quietly", "evenly");
    following.hears("spindle: notes.md changed; ");
    equals_a_single_run(home.path(), "spindle", &[]);
    equals_a_single_run(home.path(), "lathe", &[]);
    assert_eq!(following.ends("-TERM").code(), Some(0));
}

#[test]
fn a_warning_is_said_once_and_not_at_every_save() {
    let home = home();
    let notes = home.path().join("spindle/notes.md");
    fs::write(&notes, "A ![picture](gone.jpg).\n").unwrap();
    let mut following = Following::start(home.path(), &["spindle"]);
    following.hears("following spindle");
    following.hears_within_a_while();
    let warned = following.said.iter().filter(|line| line.contains("gone.jpg")).count();
    assert!(warned > 0, "{:?}", following.said);
    fs::write(&notes, "A line more.\n\nA ![picture](gone.jpg).\n").unwrap();
    following.hears("notes.md changed; ");
    following.hears_within_a_while();
    assert_eq!(following.said.iter().filter(|line| line.contains("gone.jpg")).count(), warned);
}

#[test]
fn a_folder_that_never_was_is_an_error_at_once_and_so_is_an_output_that_cannot_be_written() {
    let home = home();
    let mut following = Following::start(home.path(), &["spindel"]);
    assert_eq!(following.ended().code(), Some(1));
    fs::create_dir_all(home.path().join("out/spindle")).unwrap();
    fs::write(home.path().join("out/spindle/thesis.txt"), "mine").unwrap();
    let mut following = Following::start(home.path(), &["spindle"]);
    assert_eq!(following.ended().code(), Some(3));
    assert_eq!(fs::read_to_string(home.path().join("out/spindle/thesis.txt")).unwrap(), "mine");
}

#[test]
fn it_ends_when_its_reader_goes_away() {
    let home = home();
    let mut child = Command::new(env!("CARGO_BIN_EXE_asfound"))
        .args(["report", "--follow", "spindle"])
        .current_dir(home.path())
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let mut reader = BufReader::new(child.stdout.take().unwrap());
    let mut line = String::new();
    while !line.starts_with("following") {
        line.clear();
        assert!(reader.read_line(&mut line).unwrap() > 0);
    }
    drop(reader);
    edit(&home.path().join("spindle/notes.md"), "quietly", "loudly");
    let mut following = Following { child, lines: channel().1, said: Vec::new(), unheard: Vec::new() };
    assert_eq!(following.ended().code(), Some(0));
}

#[test]
fn the_help_says_what_follow_does() {
    let (code, out, _) = asfound(&["report", "--help"]);
    assert_eq!(code, 0);
    assert!(out.contains("--follow"), "{out}");
}
