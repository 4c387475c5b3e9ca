//! Seals: what stands in them, what becomes of an edit, the chain, and what other programs say of it: coreutils'
//! sha256sum, OpenSSH's ssh-keygen, openssl (tests/run installs them).
#![allow(clippy::pedantic, clippy::print_stderr, missing_docs, clippy::unwrap_used, clippy::panic)]

mod common;

#[path = "seal/hostile.rs"]
mod hostile;
#[path = "seal/signed.rs"]
mod signed;
#[path = "seal/stamped.rs"]
mod stamped;

use std::collections::BTreeMap;
use std::fs;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

use common::{asfound, checkdata, tool};

const AT: &str = "2026-03-02T16:20:05-05:00";

/// A session of gaps with two visits and a photo, in a folder of its own.
struct Job {
    home: tempfile::TempDir,
    folder: PathBuf,
}

impl Job {
    fn new() -> Self {
        let home = tempfile::tempdir().unwrap();
        let folder = home.path().join("job");
        let job = Self { home, folder };
        job.write(
            "session.yaml",
            "title: Gap of a guard\nunits: metric\nmachines: {m: {name: M}}\n\
             instruments: {i: {name: Gauge, resolution: 0.01 mm, accuracy: 0.02 mm}}\n\
             checks: {gap: {measure: quantity, instrument: i, unit: mm}}\n",
        );
        for (visit, state, day, values) in [
            ("as-found", "as-found", "02", "[1.52, 1.53, 1.51]"),
            ("as-left", "as-left", "09", "[0.52, 0.53, 0.51]"),
        ] {
            job.write(
                &format!("visits/{visit}/visit.yaml"),
                &format!("state: {state}\ndate: 2026-03-{day}\nreadings: {{gap: {{readings: {values}}}}}\n"),
            );
        }
        job.write("visits/as-found/photos/dial.txt", "a note beside a photo\n");
        job
    }

    fn write(&self, path: &str, text: &str) {
        let path = self.folder.join(path);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, text).unwrap();
    }

    fn read(&self, path: &str) -> String {
        fs::read_to_string(self.folder.join(path)).unwrap()
    }

    fn seal(&self, more: &[&str]) -> (u8, String, String) {
        let folder = self.folder.display().to_string();
        asfound(&[&["seal", &folder, "--at", AT], more].concat())
    }

    /// Seals, which must succeed.
    fn sealed(&self, more: &[&str]) -> String {
        let (code, said, err) = self.seal(more);
        assert_eq!(code, 0, "{said}{err}");
        said
    }

    fn inspect(&self) -> (String, String) {
        let (code, said, err) = asfound(&["inspect", self.folder.to_str().unwrap()]);
        assert_eq!(code, 0, "{err}");
        (said, err)
    }

    /// Every file of the session with its bytes.
    fn files(&self) -> BTreeMap<String, Vec<u8>> {
        walkdir::WalkDir::new(&self.folder)
            .into_iter()
            .map(Result::unwrap)
            .filter(|entry| entry.file_type().is_file())
            .map(|entry| {
                let name = entry.path().strip_prefix(&self.folder).unwrap().display().to_string();
                (name, fs::read(entry.path()).unwrap())
            })
            .collect()
    }
}

/// Runs a program in a folder.
fn program(folder: &Path, name: &str, arguments: &[&str], input: &[u8]) -> Output {
    let mut child = Command::new(name)
        .args(arguments)
        .current_dir(folder)
        .env("DIGITS", "0")
        .env("NAMED_BY", "sha256")
        .envs(std::env::vars().filter(|(name, _)| name == "PATH"))
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap_or_else(|error| panic!("{name}: {error}; tests/run installs it"));
    // One that does not read what it is given is no error here.
    let _ = child.stdin.take().unwrap().write_all(input);
    child.wait_with_output().unwrap()
}

/// A message in one line, wherever it was broken.
fn flat(text: &str) -> String {
    common::flat(&text.replace('│', " "))
}

fn sha256sum(folder: &Path, file: &str) -> String {
    let output = program(folder, "sha256sum", &[file], b"");
    String::from_utf8(output.stdout).unwrap().split_whitespace().next().unwrap().to_owned()
}

#[test]
fn a_seal_names_every_file_of_its_visit_and_those_that_it_names_elsewhere_and_is_the_only_thing_written() {
    let job = Job::new();
    job.write("data/shake.csv", "t,a\n0,1\n");
    job.write("data/not-named.csv", "t,a\n0,1\n");
    job.write("visits/as-found/.hidden", "an editor's");
    job.write("visits/as-found/seal.txt.tsq", "somebody's query");
    job.write("visits/as-found/ two  spaces.txt", "a name with spaces");
    job.write("visits/as-found/seal.txt.csv", "no seal, whatever its name");
    job.write(
        "session.yaml",
        &format!(
            "{}\n",
            job.read("session.yaml").replace(
                "checks: {",
                "checks: {shake: {measure: vibration, unit: mm/s, band: [10 Hz, 1000 Hz]}, "
            )
        ),
    );
    job.write(
        "visits/as-found/visit.yaml",
        "state: as-found\ndate: 2026-03-02\nreadings:\n  gap: {readings: [1.52, 1.53, 1.51]}\n  shake: {at: {3450 rpm: {file: ../../data/shake.csv, time: t, axes: {x: a}}}}\n",
    );
    let before = job.files();
    let said = job.sealed(&["as-found"]);
    assert!(said.contains("As found: sealed 2 March 2026, 16:20:05 (UTC−05:00); 5 files"), "{said}");

    let visit = job.folder.join("visits/as-found");
    let mut lines = format!("# asfound seal 1\n# visit: as-found\n# sealed: {AT}\n# before: none\n");
    for file in [" two  spaces.txt", "../../data/shake.csv", "photos/dial.txt", "seal.txt.csv", "visit.yaml"]
    {
        lines += &format!("{}  {file}\n", sha256sum(&visit, file));
    }
    assert_eq!(job.read("visits/as-found/seal.txt"), lines);
    let checked = program(&visit, "sha256sum", &["--check", "--strict", "seal.txt"], b"");
    assert!(checked.status.success(), "{}", String::from_utf8_lossy(&checked.stderr));

    let mut after = job.files();
    after.remove("visits/as-found/seal.txt").unwrap();
    assert_eq!(before, after);
}

#[test]
fn seals_make_a_chain_in_the_order_of_the_visits_whatever_the_order_typed() {
    let job = Job::new();
    job.sealed(&["as-left", "as-found"]);
    let first = sha256sum(&job.folder, "visits/as-found/seal.txt");
    let wanted = format!("\n# before: {first}  visits/as-found/seal.txt\n");
    assert!(job.read("visits/as-left/seal.txt").contains(&wanted));
    assert!(job.read("visits/as-found/seal.txt").contains("\n# before: none\n"));

    let (said, err) = job.inspect();
    assert!(
        said.contains("As left: sealed 2 March 2026, 16:20:05 (UTC−05:00); 1 file, as it was sealed"),
        "{said}"
    );
    assert!(said.contains("Follows visits/as-found/seal.txt, which is as it was."), "{said}");
    assert_eq!(err, "");

    // The chain shows what a new list of hashes would hide.
    let forged = job.read("visits/as-found/seal.txt").replace(&AT[..10], "2026-03-01");
    job.write("visits/as-found/seal.txt", &forged);
    let (said, err) = job.inspect();
    let now = sha256sum(&job.folder, "visits/as-found/seal.txt");
    assert!(said.contains(&format!("SHA-256 {first} when it was followed, now {now}.")), "{said}");
    assert!(
        flat(&err).contains("job/visits/as-left is not in order: the seal before it")
            && err.contains("is not what it was"),
        "{err}"
    );

    fs::remove_file(job.folder.join("visits/as-found/seal.txt")).unwrap();
    let (said, err) = job.inspect();
    assert!(said.contains("As found: not sealed") && said.contains("seal.txt, which is gone."), "{said}");
    assert!(flat(&err).contains("seal.txt, is gone"), "{err}");
}

#[test]
fn an_edit_is_allowed_and_inspect_report_and_page_show_it_with_both_hashes() {
    let job = Job::new();
    job.sealed(&["as-found", "as-left"]);
    let visit = job.folder.join("visits/as-found");
    let (was, gone) = (sha256sum(&visit, "visit.yaml"), sha256sum(&visit, "photos/dial.txt"));
    job.write("visits/as-found/visit.yaml", &job.read("visits/as-found/visit.yaml").replace("1.51", "1.50"));
    job.write("visits/as-found/later.txt", "came later");
    fs::remove_file(visit.join("photos/dial.txt")).unwrap();
    let (is, new) = (sha256sum(&visit, "visit.yaml"), sha256sum(&visit, "later.txt"));

    let (said, err) = job.inspect();
    assert!(said.contains("2 files; since then 1 changed, 1 gone and 1 added"), "{said}");
    for line in [
        format!("changed  visit.yaml  {}, now {}", &was[..12], &is[..12]),
        format!("gone     photos/dial.txt  {} (there is no such file)", &gone[..12]),
        format!("added    later.txt  now {}", &new[..12]),
    ] {
        assert!(said.contains(&line), "{line}\n{said}");
    }
    assert!(
        flat(&err).contains(
            "is not as it was sealed: changed: visit.yaml; gone: photos/dial.txt; added: later.txt"
        ),
        "{err}"
    );

    let out = job.home.path().join("out");
    let (code, said, err) =
        asfound(&["report", job.folder.to_str().unwrap(), "--out", out.to_str().unwrap()]);
    assert_eq!(code, 0, "{err}");
    assert!(said.contains("since then 1 changed, 1 gone and 1 added"), "{said}");
    let pdf = out.join("job/report.pdf");
    let first = flat(&tool("pdftotext", &["-l", "1", pdf.to_str().unwrap(), "-"]));
    assert!(first.contains("Not as sealed As found: sealed 2 March 2026"), "{first}");
    assert!(first.contains("changed: visit.yaml; gone: photos/dial.txt; added: later.txt."), "{first}");
    let whole = tool("pdftotext", &["-layout", pdf.to_str().unwrap(), "-"]);
    let page = fs::read_to_string(out.join("job/page.html")).unwrap();
    for hash in [&was, &is, &gone, &new] {
        // The report prints a hash on two lines.
        assert!(whole.contains(&hash[..32]) && whole.contains(&hash[32..]), "{hash}\n{whole}");
        assert!(page.contains(hash.as_str()), "{hash}");
    }
    assert!(page.contains("<h3>Not as sealed</h3>"));
}

#[test]
fn names_that_are_too_long_for_a_line_and_files_that_are_too_many_for_a_sentence_stay_on_the_page() {
    let job = Job::new();
    job.sealed(&["as-found"]);
    for n in 0..40 {
        job.write(&format!("visits/as-found/{}{n:02}.txt", "long".repeat(50)), "x");
    }
    let out = job.home.path().join("out");
    let (code, _, err) = asfound(&["report", job.folder.to_str().unwrap(), "--out", out.to_str().unwrap()]);
    assert_eq!(code, 0, "{err}");
    let pdf = out.join("job/report.pdf");
    common::keep(&pdf);
    let first = flat(&tool("pdftotext", &["-l", "1", pdf.to_str().unwrap(), "-"]));
    assert!(first.contains("longlon… and 37 more."), "{first}");
    // Every word lies on its page.
    let boxes = tool("pdftotext", &["-bbox", pdf.to_str().unwrap(), "-"]);
    let number = |line: &str, name: &str| -> f64 {
        let after = line.split_once(&format!("{name}=\"")).unwrap().1;
        after.split_once('"').unwrap().0.parse().unwrap()
    };
    let mut width = 0.0;
    for line in boxes.lines().map(str::trim) {
        if line.starts_with("<page ") {
            width = number(line, "width");
        } else if line.starts_with("<word ") {
            assert!(number(line, "xMax") < width - 20.0, "{line}");
        }
    }
}

#[test]
fn a_report_of_what_is_as_it_was_sealed_says_when_and_has_no_word_of_it_on_the_first_page() {
    let job = Job::new();
    job.sealed(&["as-found"]);
    let out = job.home.path().join("out");
    let (code, _, err) = asfound(&["report", job.folder.to_str().unwrap(), "--out", out.to_str().unwrap()]);
    assert_eq!((code, err.as_str()), (0, ""));
    let pdf = out.join("job/report.pdf");
    let text = flat(&tool("pdftotext", &["-layout", pdf.to_str().unwrap(), "-"]));
    assert!(
        text.contains("2 March 2026, 16:20:05 (UTC−05:00)")
            && text.contains("2 files, all as they were sealed"),
        "{text}"
    );
    assert!(text.contains("As left not sealed"), "{text}");
    let first = tool("pdftotext", &["-l", "1", pdf.to_str().unwrap(), "-"]);
    assert!(!first.contains("sealed"), "{first}");
}

#[test]
fn a_session_that_nobody_sealed_says_nothing_of_seals() {
    let (said, err) = Job::new().inspect();
    assert!(!said.contains("eal"), "{said}");
    assert_eq!(err, "");
}

#[test]
fn a_seal_that_holds_stays_and_one_that_does_not_is_replaced_only_when_asked_and_kept() {
    let job = Job::new();
    job.sealed(&["as-found", "as-left"]);
    let all = job.files();
    let said = job.sealed(&["as-found"]);
    assert!(said.contains("As found: was sealed 2 March 2026") && said.contains("It stays."), "{said}");
    job.sealed(&["as-found", "--again"]);
    assert_eq!(job.files(), all);

    job.write("visits/as-found/visit.yaml", &job.read("visits/as-found/visit.yaml").replace("1.51", "1.50"));
    let edited = job.files();
    let (code, said, err) = job.seal(&["as-found"]);
    assert_eq!((code, said.as_str()), (1, ""));
    assert!(flat(&err).contains("is not as it was: changed: visit.yaml"), "{err}");
    assert!(err.contains("--again"), "{err}");
    assert_eq!(job.files(), edited);

    let old = job.read("visits/as-found/seal.txt");
    let said = job.sealed(&["as-found", "--again"]);
    assert!(said.contains("the seal before it was kept as seal-1.txt"), "{said}");
    assert_eq!(job.read("visits/as-found/seal-1.txt"), old);
    let hash = sha256sum(&job.folder, "visits/as-found/seal-1.txt");
    let new = job.read("visits/as-found/seal.txt");
    assert!(new.contains(&format!("# before: {hash}  visits/as-found/seal-1.txt\n")), "{new}");
    assert!(!new.contains("  seal"), "{new}");
    let (said, err) = job.inspect();
    assert!(said.contains("Follows visits/as-found/seal-1.txt, which is as it was."), "{said}");
    // The later visit follows the seal as it was then.
    assert!(
        said.contains("Follows a seal that was replaced since; it was kept as visits/as-found/seal-1.txt"),
        "{said}"
    );
    assert_eq!(err, "");

    job.write("visits/as-found/visit.yaml", &job.read("visits/as-found/visit.yaml").replace("1.50", "1.49"));
    job.sealed(&["as-found", "--again"]);
    assert_eq!(job.read("visits/as-found/seal-2.txt"), new);
    assert_eq!(job.read("visits/as-found/seal-1.txt"), old);
    // A link of the chain that is lost is missed, however far back.
    fs::remove_file(job.folder.join("visits/as-found/seal-1.txt")).unwrap();
    let (said, _) = job.inspect();
    assert!(said.contains("Follows visits/as-found/seal-1.txt, which is gone."), "{said}");
}

#[test]
fn a_run_of_again_that_was_broken_off_is_taken_up_where_it_stopped() {
    let job = Job::new();
    job.sealed(&["as-found"]);
    job.write("visits/as-found/visit.yaml", &job.read("visits/as-found/visit.yaml").replace("1.51", "1.50"));
    // The old seal was kept, and the new one not yet there.
    let old = job.read("visits/as-found/seal.txt");
    job.write("visits/as-found/seal-1.txt", &old);
    job.sealed(&["as-found", "--again"]);
    assert!(!job.folder.join("visits/as-found/seal-2.txt").exists());
    assert!(job.read("visits/as-found/seal.txt").contains("  visits/as-found/seal-1.txt\n"));
}

#[test]
fn a_seal_that_is_gone_is_missed_where_one_was_kept_or_a_signature_lies() {
    let job = Job::new();
    job.write("visits/as-found/seal.txt.sig", "of another seal");
    let (code, _, err) = job.seal(&["as-found"]);
    assert_eq!(code, 1);
    assert!(err.contains("seal.txt.sig lies there without its seal"), "{err}");
    let (said, err) = job.inspect();
    assert!(said.contains("As found: was sealed, and its seal.txt is gone"), "{said}");
    assert!(flat(&err).contains("its seal.txt is gone: seal.txt.sig is still there"), "{err}");
    fs::remove_file(job.folder.join("visits/as-found/seal.txt.sig")).unwrap();

    job.write("visits/as-found/seal-1.txt", "an old one");
    assert!(flat(&job.inspect().1).contains("its seal.txt is gone: seal-1.txt is still there"));
    let (code, _, err) = job.seal(&["as-found"]);
    assert_eq!(code, 1);
    assert!(err.contains("was sealed, and its seal.txt is gone"), "{err}");
    job.sealed(&["as-found", "--again"]);
    assert!(job.read("visits/as-found/seal.txt").contains("  visits/as-found/seal-1.txt\n"));
}

#[test]
fn nothing_is_sealed_where_one_of_several_visits_cannot_be() {
    let job = Job::new();
    job.write("visits/as-left/seal.txt", "no seal\n");
    let before = job.files();
    let (code, _, err) = job.seal(&["as-found", "as-left", "as-letf"]);
    assert_eq!(code, 1);
    for part in [
        "has no visit 'as-letf'",
        "did you mean 'as-left'?",
        "is no seal that can be read",
        "nothing was written",
    ] {
        assert!(err.contains(part), "{part}\n{err}");
    }
    assert_eq!(job.files(), before);
    job.write("session.yaml", "title: [");
    assert_eq!(job.seal(&["as-found"]).0, 1);
}

#[cfg(unix)]
#[test]
fn a_name_that_would_break_a_line_of_the_seal_is_refused_and_a_link_out_of_the_session_too() {
    use std::os::unix::ffi::OsStrExt;
    let job = Job::new();
    job.write("visits/as-found/two\nlines.txt", "x");
    job.write("visits/as-found/back\\slash.txt", "x");
    job.write("visits/as-found/-", "x");
    let visit = job.folder.join("visits/as-found");
    fs::write(visit.join(std::ffi::OsStr::from_bytes(b"latin-\xe9.txt")), "x").unwrap();
    std::os::unix::fs::symlink("/etc/hostname", visit.join("link.txt")).unwrap();
    let (code, _, err) = job.seal(&["as-found"]);
    assert_eq!(code, 1);
    for part in [
        "two\\nlines.txt: the path holds a backslash or a control character",
        "back\\slash.txt: the path holds a backslash or a control character",
        "sha256sum takes the name '-' for its own input",
        "the file's name is not UTF-8",
        "link.txt: the path leaves the session folder through a link",
        "5 errors",
    ] {
        assert!(flat(&err).contains(part), "{part}\n{err}");
    }
    assert!(!visit.join("seal.txt").exists());
}

#[cfg(unix)]
#[test]
fn names_that_mean_something_elsewhere_are_names_here() {
    let job = Job::new();
    for name in [
        "~",
        "~x",
        "c:y",
        "#z",
        "-n",
        "é.txt",
        "a\u{2028}b",
        "seal",
        "seal-0.txt",
        "seal.txt~",
        "* ? $(x)",
        "d/~/y",
    ] {
        job.write(&format!("visits/as-found/{name}"), name);
    }
    job.sealed(&["as-found"]);
    let visit = job.folder.join("visits/as-found");
    assert!(program(&visit, "sha256sum", &["--check", "--strict", "seal.txt"], b"").status.success());
    let (said, err) = job.inspect();
    assert!(said.contains("14 files, all as they were sealed"), "{said}");
    assert_eq!(err, "");
}

#[test]
fn without_a_moment_the_clock_is_asked_and_one_that_is_none_is_refused() {
    let job = Job::new();
    let folder = job.folder.to_str().unwrap();
    let (code, _, err) = asfound(&["seal", folder, "as-found"]);
    assert_eq!(code, 0, "{err}");
    let line = job.read("visits/as-found/seal.txt").lines().nth(2).unwrap().to_owned();
    let moment: jiff::Timestamp = line.strip_prefix("# sealed: ").unwrap().parse().unwrap();
    let apart = jiff::Timestamp::now().as_second() - moment.as_second();
    assert!((0..600).contains(&apart), "{line}");
    for none in [
        "2026-03-02",
        "2026-03-02T16:20:05",
        "2026-02-30T16:20:05Z",
        "2026-03-02 16:20:05Z",
        "2026-03-02T24:20:05Z",
        "2026-03-02T16:20:05-5:00",
        "now",
    ] {
        let (code, _, err) = asfound(&["seal", folder, "as-left", "--at", none]);
        assert_eq!(code, 2, "{none}");
        assert!(err.contains("RFC 3339"), "{err}");
    }
    // The day before the visit: worth saying.
    let (code, _, err) = asfound(&["seal", folder, "as-left", "--at", "2026-03-08T23:59:60Z"]);
    assert_eq!(code, 0);
    assert!(err.contains("as-left is sealed before the day of the visit"), "{err}");
}

/// NIST CAVP, SHA Test Vectors for Hashing Byte-Oriented Messages: `Len` in bits, `Msg`, `MD`. Where `Len` is 0, `Msg`
/// is written `00` and is empty.
#[test]
fn hashes_are_those_of_nist() {
    use sha2::Digest as _;
    let (Some(short), Some(long)) =
        (checkdata("hashes/SHA256ShortMsg.rsp"), checkdata("hashes/SHA512ShortMsg.rsp"))
    else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("message");
    let mut count = 0;
    for (text, wide) in [(short, false), (long, true)] {
        let fields: Vec<(&str, &str)> = text
            .lines()
            .filter_map(|line| line.trim().split_once(" = "))
            .filter(|(name, _)| !name.starts_with('['))
            .collect();
        for message in fields.chunks(3) {
            let [("Len", length), ("Msg", bytes), ("MD", wanted)] = message else { panic!("{message:?}") };
            let length: usize = length.parse().unwrap();
            let bytes: Vec<u8> = (0..length / 8)
                .map(|at| u8::from_str_radix(&bytes[2 * at..2 * at + 2], 16).unwrap())
                .collect();
            let hex = |digest: &[u8]| digest.iter().map(|byte| format!("{byte:02x}")).collect::<String>();
            if wide {
                // The hash that signatures are made over.
                assert_eq!(hex(&sha2::Sha512::digest(&bytes)), *wanted, "Len = {length}");
            } else {
                fs::write(&file, &bytes).unwrap();
                assert_eq!(asfound::evidence::digest::sha256_of(&file).unwrap(), *wanted, "Len = {length}");
                assert_eq!(asfound::evidence::sha256(&bytes), *wanted, "Len = {length}");
            }
            count += 1;
        }
    }
    assert_eq!(count, 65 + 129);
}
