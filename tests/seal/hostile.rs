//! Seals that somebody else wrote.

use std::sync::Arc;

use asfound::evidence::seal::{Seal, parse, signature, stamp, text};
use asfound::session::{Problems, SourceFile, Walls};
use proptest::prelude::*;

use super::{AT, Job};

const HASH: &str = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";

fn read(text: &str) -> (Option<Seal>, Problems) {
    let walls = Walls::around(&std::env::temp_dir()).unwrap();
    let mut problems = Problems::default();
    let source = Arc::new(SourceFile::whole("job/visits/as-found/seal.txt", text));
    let seal = parse(&source, "as-found", &walls, &mut problems);
    (seal, problems)
}

fn good() -> String {
    format!(
        "# asfound seal 1\n# visit: as-found\n# sealed: {AT}\n# before: {HASH}  visits/earlier/seal-2.txt\n\
         {HASH}  ../../data/x.csv\n{HASH}  photos/dial.jpg\n{HASH}  visit.yaml\n"
    )
}

#[test]
fn a_seal_is_read_as_it_was_written() {
    let (seal, problems) = read(&good());
    assert!(problems.is_empty());
    assert_eq!(text::of(&seal.unwrap()), good());
}

#[test]
fn what_is_not_as_a_seal_is_written_is_named_with_its_line() {
    let good = good();
    let with = |from: &str, to: &str| good.replacen(from, to, 1);
    for (text, line, message) in [
        (String::new(), 1, "this is no seal"),
        (with("seal 1", "seal 2"), 1, "this is no seal that this program reads"),
        (with("# visit: as-found\n", ""), 2, "does not say the visit's id"),
        (
            with("as-found", "as-left"),
            2,
            "the seal is of the visit 'as-left' and lies in the folder of 'as-found'",
        ),
        (with(AT, "yesterday"), 3, "'yesterday' is not a moment"),
        (with("-05:00", ""), 3, "is not a moment"),
        (with("visits/earlier/seal-2.txt", "visits/earlier/../seal.txt"), 4, "the seal before is not named"),
        (with("visits/earlier/seal-2.txt", "visits/earlier/seal-02.txt"), 4, "the seal before is not named"),
        (with("visits/earlier/seal-2.txt", "/etc/passwd"), 4, "the seal before is not named"),
        (with("../../data/x.csv", "../../../data/x.csv"), 5, "the path leaves the session folder"),
        (with("../../data/x.csv", "/etc/passwd"), 5, "is not written as a seal writes a path"),
        (with("../../data/x.csv", "../as-found/x.csv"), 5, "is not written as a seal writes a path"),
        (with("photos/dial.jpg", "./photos/dial.jpg"), 6, "is not written as a seal writes a path"),
        (with("photos/dial.jpg", "photos\\dial.jpg"), 6, "backslash or a control character"),
        (with("photos/dial.jpg", "visit.yaml"), 7, "named twice or out of its order"),
        (with("photos/dial.jpg", "zoo.jpg"), 7, "named twice or out of its order"),
        (with("  visit.yaml", " *visit.yaml"), 7, "this line of the seal cannot be read"),
        (with(&format!("{HASH}  visit.yaml"), &format!("{}  visit.yaml", &HASH[1..])), 7, "cannot be read"),
        (
            with(&format!("{HASH}  visit.yaml"), &format!("{}  visit.yaml", HASH.to_uppercase())),
            7,
            "cannot be read",
        ),
        (good.replace('\n', "\r\n"), 1, "this is no seal"),
        (format!("{good}\n"), 8, "this line of the seal cannot be read"),
        (good.trim_end().to_owned(), 7, "the last line has no end"),
    ] {
        let (seal, problems) = read(&text);
        assert_eq!(seal, None, "{text}");
        let first = problems.iter().next().unwrap_or_else(|| panic!("{text}"));
        assert!(first.message.contains(message), "{}\n{text}", first.message);
        assert_eq!(first.place.as_ref().unwrap().line(), line, "{}\n{text}", first.message);
        assert!(!problems.any_error(), "a seal is no finding: {text}");
    }
}

#[test]
fn a_seal_that_is_none_hinders_no_report_and_is_said_on_its_first_page() {
    let job = Job::new();
    for bytes in [&b"\xff\xfe"[..], b"", b"# asfound seal 9\n"] {
        std::fs::write(job.folder.join("visits/as-found/seal.txt"), bytes).unwrap();
        let (said, err) = job.inspect();
        assert!(said.contains("As found: seal.txt is no seal that can be read"), "{said}");
        assert!(err.contains("no seal"), "{err}");
    }
    let huge = std::fs::File::create(job.folder.join("visits/as-found/seal.txt")).unwrap();
    huge.set_len(1 << 40).unwrap();
    let (_, err) = job.inspect();
    assert!(super::flat(&err).contains("it has 1099511627776 bytes, more than the 4194304"), "{err}");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 2000, ..ProptestConfig::default() })]

    #[test]
    fn any_text_is_read_or_named(text in "(?s).{0,400}") {
        let (seal, problems) = read(&text);
        prop_assert!(seal.is_some() || !problems.is_empty());
    }

    /// What is read is what is written: no text is read as a seal that would be written otherwise.
    #[test]
    fn a_seal_with_any_stretch_put_elsewhere_is_read_to_the_byte_or_not_at_all(
        from in 0usize..400, length in 0usize..90, put in "[ -~\n#é]{0,8}",
    ) {
        let mut text = good();
        let start = from.min(text.len());
        let end = (start + length).min(text.len());
        text.replace_range(start..end, &put);
        let (seal, problems) = read(&text);
        match seal {
            Some(seal) => prop_assert_eq!(text::of(&seal), text),
            None => prop_assert!(!problems.is_empty()),
        }
    }

    #[test]
    fn any_bytes_are_no_signature_and_no_time_stamp(bytes in proptest::collection::vec(any::<u8>(), 0..600)) {
        prop_assert!(!signature::check(b"x", Ok(bytes.clone())).is_good());
        prop_assert!(!stamp::check(b"x", Ok(bytes)).is_good());
    }
}
