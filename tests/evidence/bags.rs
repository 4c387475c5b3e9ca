//! Bags of our own.

use std::fs;

use super::{Job, copy, verify};
use crate::common::asfound;

#[test]
fn the_same_session_makes_the_same_bag_byte_for_byte_wherever_it_is_made() {
    let job = Job::new();
    let one = job.bagged();
    let elsewhere = job.home.path().join("elsewhere");
    let (code, _, err) = job.run("bag", &elsewhere, &[]);
    assert_eq!(code, 0, "{err}");
    let zip = |out: &std::path::Path| fs::read(out.join("bag/door.zip")).unwrap();
    assert_eq!(zip(&one), zip(&elsewhere.join("door")));
    // A second run finds the same and writes nothing.
    let before = fs::metadata(one.join("bag/door.zip")).unwrap().modified().unwrap();
    let (code, out, err) = job.run("bag", &job.out(), &[]);
    assert_eq!((code, err.as_str()), (0, ""));
    assert_eq!(out.matches("is there already, the same in every byte").count(), 2, "{out}");
    assert_eq!(fs::metadata(one.join("bag/door.zip")).unwrap().modified().unwrap(), before);
}

#[test]
fn what_a_bag_tells_of_itself_can_be_read_without_the_program() {
    let out = Job::new().bagged_info();
    for line in [
        "External-Description: Gap of a door",
        "Contact-Name: N. Okoro",
        "Machine: Ferrow 12, drill press, serial F12-77, bought 2026-01-20",
        // Two years after 20 January 2026, by the calendar.
        "Coverage: Ferrow 12: Parts, 2 years, from 2026-01-20 to 2028-01-20",
        "Visit: 2026-03-02 As found (visits/as-found)",
        "Diary: 2026-03-05 Wrote to the maker",
    ] {
        assert!(out.lines().any(|known| known == line), "{line} is not in\n{out}");
    }
}

impl Job {
    fn bagged_info(&self) -> String {
        fs::read_to_string(self.bagged().join("bag/door/bag-info.txt")).unwrap()
    }
}

#[test]
fn a_bag_that_differs_is_never_replaced_and_the_difference_is_named() {
    let job = Job::new();
    let out = job.bagged();
    let zip = fs::read(out.join("bag/door.zip")).unwrap();
    let visit = job.session.join("visits/as-left/visit.yaml");
    let text = fs::read_to_string(&visit).unwrap().replace("0.14", "0.13");
    fs::write(visit, text).unwrap();
    let (code, _, err) = job.run("bag", &job.out(), &[]);
    assert_eq!(code, 3, "{err}");
    assert!(err.contains("bag/door/data/sessions/door/visits/as-left/visit.yaml differs"), "{err}");
    assert!(err.contains("bag/door.zip is not the bag of these files"), "{err}");
    assert!(err.contains("a bag is never replaced"), "{err}");
    assert_eq!(fs::read(out.join("bag/door.zip")).unwrap(), zip);
    assert!(verify(&out.join("bag/door")).0);
    // A new report leaves the bag where it lies.
    let (code, _, err) = job.run("report", &job.out(), &[]);
    assert_eq!(code, 0, "{err}");
    assert!(verify(&out.join("bag/door.zip")).0);
}

#[test]
fn what_was_made_from_other_readings_stays_out_of_the_bag() {
    let job = Job::new();
    assert_eq!(job.run("report", &job.out(), &[]).0, 0);
    assert_eq!(job.run("sheet", &job.out(), &[]).0, 0);
    let visit = job.session.join("visits/as-left/visit.yaml");
    let text = fs::read_to_string(&visit).unwrap().replace("0.14", "0.13");
    fs::write(visit, text).unwrap();
    let (code, _, err) = job.run("bag", &job.out(), &[]);
    assert_eq!(code, 0, "{err}");
    assert!(err.contains("sheet.pdf was made from other readings and is left out of the bag"), "{err}");
    let bag = job.out().join("door/bag/door");
    assert!(bag.join("data/out/door/report.pdf").is_file());
    assert!(!bag.join("data/out/door/sheet.pdf").exists());
    let (stands, said) = verify(&bag);
    assert!(stands, "{said}");
}

#[test]
fn every_kind_of_tampering_with_a_bag_is_named() {
    let job = Job::new();
    let bag = job.bagged().join("bag/door");
    let reading = "data/sessions/door/visits/as-found/visit.yaml";
    let tampered = |change: &dyn Fn(&std::path::Path)| {
        let home = tempfile::tempdir().unwrap();
        let other = home.path().join("door");
        copy(&bag, &other);
        change(&other);
        let (stands, said) = verify(&other);
        assert!(!stands, "{said}");
        said
    };
    let said = tampered(&|bag| {
        let text = fs::read_to_string(bag.join(reading)).unwrap();
        fs::write(bag.join(reading), text.replace("0.52", "0.92")).unwrap();
    });
    assert!(said.contains(&format!("differs: {reading} is not what manifest-sha256.txt lists")), "{said}");
    let said = tampered(&|bag| fs::remove_file(bag.join(reading)).unwrap());
    assert!(said.contains(&format!("differs: {reading} is missing")), "{said}");
    let said = tampered(&|bag| fs::write(bag.join("data/more.txt"), "x").unwrap());
    assert!(said.contains("differs: data/more.txt is in the bag and in no manifest"), "{said}");
    let said = tampered(&|bag| fs::write(bag.join("more.txt"), "x").unwrap());
    assert!(said.contains("differs: more.txt is in the bag and in no manifest"), "{said}");
    // Letters that a reader would take for the same.
    let said = tampered(&|bag| {
        let tags = bag.join("tagmanifest-sha256.txt");
        let text = fs::read_to_string(&tags).unwrap();
        fs::write(&tags, text.to_uppercase().replace(".TXT", ".txt")).unwrap();
    });
    assert!(said.contains("tagmanifest-sha256.txt"), "{said}");
}

#[test]
fn a_forger_who_mends_every_digest_is_betrayed_by_the_readings() {
    let job = Job::new();
    let out = job.bagged();
    // The forger changes a finding where it is printed for programs, and makes a new bag around it.
    let findings = out.join("findings.json");
    let text = fs::read_to_string(&findings).unwrap();
    let value: serde_json::Value = serde_json::from_str(&text).unwrap();
    let mean = value["findings"].as_array().unwrap().iter().find(|row| row["what"] == "mean").unwrap();
    let (was, name) = (
        mean["value"].to_string(),
        format!("{}, {}, mean", mean["check"].as_str().unwrap(), mean["visit"].as_str().unwrap()),
    );
    fs::write(&findings, text.replacen(&format!("\"value\": {was}"), "\"value\": 0.2", 1)).unwrap();
    fs::remove_dir_all(out.join("bag")).unwrap();
    assert_eq!(job.run("bag", &job.out(), &[]).0, 0);
    let (stands, said) = verify(&out.join("bag/door"));
    assert!(!stands, "{said}");
    let wanted = format!("findings.json: {name}: value is 0.2 in the report and {was} from the readings");
    assert!(said.contains(&wanted), "{wanted}\n{said}");
}

#[test]
fn links_and_names_of_one_machine_alone_do_not_enter_a_bag() {
    let job = Job::new();
    let out = job.bagged();
    #[cfg(unix)]
    {
        std::os::unix::fs::symlink("/etc/hostname", out.join("bag/door/data/link")).unwrap();
        let (stands, said) = verify(&out.join("bag/door"));
        assert!(
            !stands && said.contains("data/link this is a link or a device, and was not followed"),
            "{said}"
        );
    }
    let other = tempfile::tempdir().unwrap();
    copy(&job.session, &other.path().join("old"));
    let text = fs::read_to_string(job.session.join("session.yaml")).unwrap();
    let named = other.path().join("old").display().to_string();
    let compare =
        format!("compare: {{c: {{before: {{session: {named}, visit: as-found}}, after: as-left}}}}\n");
    fs::write(job.session.join("session.yaml"), text + &compare).unwrap();
    let (code, _, err) = job.run("bag", &job.out(), &[]);
    assert_eq!(code, 1, "{err}");
    assert!(err.contains("named by a path of this machine alone"), "{err}");
}

#[test]
fn what_is_no_bag_and_no_report_is_told_so() {
    let home = tempfile::tempdir().unwrap();
    let file = home.path().join("x.pdf");
    for (bytes, wanted) in [
        (&b""[..], "neither a bag"),
        (b"%PDF-1.7\nnothing", "this is no PDF that can be read"),
        (b"PK\x03\x04nothing", "this is no zip that can be read"),
        (b"hello", "neither a bag"),
    ] {
        fs::write(&file, bytes).unwrap();
        let (stands, said) = verify(&file);
        assert!(!stands && said.contains(wanted), "{said}");
    }
    let (code, _, err) = asfound(&["verify", home.path().join("none").to_str().unwrap()]);
    assert_eq!(code, 1);
    assert!(err.contains("it cannot be read: "), "{err}");
    let (stands, said) = verify(home.path());
    assert!(!stands && said.contains("there is no bagit.txt: this is no bag"), "{said}");
}
