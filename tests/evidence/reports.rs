//! Reports that prove themselves.

use std::fs;

use asfound::commands::Prover;
use proptest::prelude::*;
use proptest::strategy::ValueTree;
use proptest::test_runner::TestRunner;

use super::{Job, verify};

#[test]
fn a_report_sent_alone_is_proved_from_what_it_carries() {
    let job = Job::new();
    let report = job.bagged().join("report.pdf");
    // The session is gone; only the report is left.
    fs::remove_dir_all(&job.session).unwrap();
    let (stands, said) = verify(&report);
    assert!(stands, "{said}");
    for line in [
        "3 files of the session are what its list says",
        "come out the same from the readings",
        "every byte of it",
    ] {
        assert!(said.contains(line), "{said}");
    }
}

#[test]
fn a_copy_for_publication_proves_itself_without_what_is_private_and_has_the_bags_number() {
    let job = Job::new();
    let (code, _, err) = job.run("report", &job.out(), &["--public"]);
    assert_eq!(code, 0, "{err}");
    let report = job.out().join("door/report.pdf");
    let (stands, said) = verify(&report);
    assert!(stands, "{said}");
    assert!(said.contains("by asfound 0.1.0, a copy for publication"), "{said}");
    let number = said.split("report AF-").nth(1).unwrap()[..14].to_owned();
    // The bag keeps what the copy leaves out; the copy lies in it and is proved there too.
    let out = job.bagged();
    let info = fs::read_to_string(out.join("bag/door/bag-info.txt")).unwrap();
    assert!(
        info.contains(&format!("External-Identifier: AF-{number}")) && info.contains("serial F12-77"),
        "{info}"
    );
    let (stands, said) = verify(&out.join("bag/door"));
    assert!(stands, "{said}");
}

#[test]
fn the_demo_proves_itself_with_the_other_saw_that_it_is_compared_with() {
    let home = tempfile::tempdir().unwrap();
    let out = home.path().display().to_string();
    let demo = concat!(env!("CARGO_MANIFEST_DIR"), "/sessions/arbor-bearings");
    let (code, _, err) = crate::common::asfound(&["report", demo, "--out", &out, "--quiet"]);
    assert_eq!(code, 0, "{err}");
    let (stands, said) = verify(&home.path().join("arbor-bearings/report.pdf"));
    assert!(stands, "{said}");
}

#[test]
fn a_byte_changed_anywhere_in_a_report_is_noticed() {
    let job = Job::new();
    let bytes = fs::read(job.bagged().join("report.pdf")).unwrap();
    let mut prover = Prover::default();
    assert!(prover.prove(bytes.clone(), None).is_whole());
    let mut runner = TestRunner::deterministic();
    let places = prop::collection::vec((0..bytes.len(), 0..8_u32), 150);
    let places = places.new_tree(&mut runner).unwrap().current();
    for (at, bit) in places {
        let mut changed = bytes.clone();
        changed[at] ^= 1 << bit;
        assert!(!prover.prove(changed, None).is_whole(), "byte {at}, bit {bit}");
    }
}

#[test]
fn a_report_cut_short_or_followed_by_more_is_not_the_report() {
    let job = Job::new();
    let bytes = fs::read(job.bagged().join("report.pdf")).unwrap();
    let mut prover = Prover::default();
    for end in [9, bytes.len() / 2, bytes.len() - 1] {
        assert!(!prover.prove(bytes[..end].to_vec(), None).is_whole());
    }
    let answer = prover.prove([&bytes[..], b"\n% more"].concat(), None);
    assert!(!answer.is_whole(), "{answer:?}");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, ..ProptestConfig::default() })]

    #[test]
    fn what_only_begins_like_a_report_never_brings_the_program_down(
        parts in prop::collection::vec(prop::sample::select(vec![
            "1 0 obj ", "<<", ">>", "/Type/Catalog", "/Pages 1 0 R", "/Kids[1 0 R]", "/Names 1 0 R", "/EmbeddedFiles 1 0 R",
            "[(a) 1 0 R]", "/EF<</F 1 0 R>>", "stream\n", "endstream ", "endobj ", "xref\n0 2\n0000000000 65535 f \n",
            "trailer<</Root 1 0 R/Size 2>>", "startxref\n9\n", "%%EOF", "/Filter/FlateDecode", "/Length 99999999999", "(", "<",
        ]), 0..60),
    ) {
        let text = format!("%PDF-1.7\n{}", parts.concat());
        prop_assert!(!Prover::default().prove(text.into_bytes(), None).is_whole());
    }
}
