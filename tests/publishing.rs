//! What is published: photographs with their dates, and with their places only where that was asked for; and copies
//! for publication, in which nothing private is left anywhere.
#![allow(clippy::pedantic, missing_docs, clippy::unwrap_used, clippy::panic)]

mod common;

use std::collections::BTreeMap;
use std::fs;
use std::io::Cursor;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

use asfound::evidence::position::position;
use asfound::evidence::{Known, document_number_of_list, list, sha256};
use asfound::session::Problems;
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use common::{asfound, demo, flat, tool};
use exif::experimental::Writer;
use exif::{Field, In, Tag, Value};

/// Every value that the demo session keeps private, and the parts of them that say as much.
const PRIVATE: [&str; 14] = [
    "Adeyemi",
    "CS10-04417",
    "04417",
    "Weir Lane",
    "WL-20931",
    "20931",
    "1,849",
    "1849.00",
    "Mill Row",
    "Overwick",
    "radeyemi",
    "service desk",
    "Foundry Way",
    "Castleby",
];

fn run(arguments: &[&str]) -> (u8, String, String) {
    asfound(arguments)
}

/// A report and what came of it.
struct Report {
    _home: tempfile::TempDir,
    folder: PathBuf,
    out: String,
    err: String,
}

impl Report {
    fn of(session: &Path, options: &[&str]) -> Self {
        let home = tempfile::tempdir().unwrap();
        let (session_path, to) = (session.display().to_string(), home.path().display().to_string());
        let (code, out, err) = run(&[&["report", &session_path, "--out", &to], options].concat());
        assert_eq!(code, 0, "{err}");
        let folder = home.path().join(session.file_name().unwrap());
        Self { _home: home, folder, out, err }
    }

    fn pdf(&self) -> String {
        self.folder.join("report.pdf").display().to_string()
    }

    fn text(&self) -> String {
        tool("pdftotext", &["-layout", &self.pdf(), "-"])
    }

    fn page(&self) -> String {
        fs::read_to_string(self.folder.join("page.html")).unwrap()
    }

    /// The attached files by their names.
    fn attached(&self) -> BTreeMap<String, Vec<u8>> {
        let into = tempfile::tempdir().unwrap();
        tool("pdfdetach", &["-saveall", "-o", &into.path().display().to_string(), &self.pdf()]);
        let entries = fs::read_dir(into.path()).unwrap().map(Result::unwrap);
        entries
            .map(|entry| (entry.file_name().to_string_lossy().into_owned(), fs::read(entry.path()).unwrap()))
            .collect()
    }

    fn made(&self) -> serde_json::Value {
        serde_json::from_slice(&self.attached()["made.json"]).unwrap()
    }
}

/// The demo's reports, each made once.
fn report(kind: &'static str) -> &'static Report {
    static PLAIN: OnceLock<Report> = OnceLock::new();
    static SHOWN: OnceLock<Report> = OnceLock::new();
    static PUBLIC: OnceLock<Report> = OnceLock::new();
    let (made, options): (_, &[&str]) = match kind {
        "plain" => (&PLAIN, &[]),
        "shown" => (&SHOWN, &["--show-positions"]),
        _ => (&PUBLIC, &["--public"]),
    };
    made.get_or_init(|| Report::of(&demo("arbor-bearings"), options))
}

/// A small session with a visit on 2 March 2026 and one photograph.
struct Small {
    home: tempfile::TempDir,
}

impl Small {
    fn new(photo: &str, bytes: &[u8]) -> Self {
        let home = tempfile::tempdir().unwrap();
        let small = Self { home };
        let more = format!("photos:\n  - {{file: {photo}, caption: The saw}}\n");
        small.write(
            "session.yaml",
            b"title: T\nunits: metric\nprepared_by: M. Tannahill\nmachines: {m: {name: M}}\n\
              instruments: {i: {name: I, resolution: 0.1 s}}\nchecks: {c: {measure: quantity, instrument: i, unit: s}}\n",
        );
        small.write(
            "visits/v/visit.yaml",
            format!("state: baseline\ndate: 2026-03-02\n{more}readings: {{c: {{readings: [16.1, 16.3]}}}}\n")
                .as_bytes(),
        );
        small.write(&format!("visits/v/{photo}"), bytes);
        small
    }

    fn folder(&self) -> PathBuf {
        self.home.path().join("small")
    }

    fn write(&self, path: &str, bytes: &[u8]) {
        let path = self.folder().join(path);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, bytes).unwrap();
    }
}

/// A picture as a camera would write it.
fn picture(format: image::ImageFormat, taken: &str, offset: Option<&str>) -> Vec<u8> {
    let mut plain = Cursor::new(Vec::new());
    image::RgbImage::new(32, 24).write_to(&mut plain, format).unwrap();
    let plain = plain.into_inner();
    let ascii = |tag, text: &str| Field {
        tag,
        ifd_num: In::PRIMARY,
        value: Value::Ascii(vec![text.as_bytes().to_vec()]),
    };
    let mut fields = vec![ascii(Tag::DateTimeOriginal, taken)];
    fields.extend(offset.map(|offset| ascii(Tag::OffsetTimeOriginal, offset)));
    let mut writer = Writer::new();
    fields.iter().for_each(|field| writer.push_field(field));
    let mut data = Cursor::new(Vec::new());
    writer.write(&mut data, false).unwrap();
    let data = data.into_inner();
    match format {
        image::ImageFormat::Png => {
            let mut sum = crc32fast::Hasher::new();
            sum.update(b"eXIf");
            sum.update(&data);
            let (length, sum) = ((data.len() as u32).to_be_bytes(), sum.finalize().to_be_bytes());
            [&plain[..33], &length, b"eXIf", &data, &sum, &plain[33..]].concat()
        }
        _ => {
            let length = (data.len() as u16 + 8).to_be_bytes();
            [&plain[..2], &[0xFF, 0xE1], &length[..], b"Exif\0\0", &data, &plain[2..]].concat()
        }
    }
}

#[test]
fn a_photograph_stands_with_the_date_and_time_of_its_camera_s_clock() {
    let text = flat(&report("plain").text()).replace('\u{a0}', " ");
    assert!(text.contains("As found, 2 March 2026, 14:41"), "without an offset, where none is known");
    assert!(text.contains("As left, 24 March 2026, 09:52 (UTC−05:00)"), "with it, where it is");
    let page = report("plain").page().replace('\u{a0}', " ");
    assert!(page.contains("24 March 2026, 09:52 (UTC−05:00)"));
    let small = Small::new("a.png", &picture(image::ImageFormat::Png, "2026:03:02 08:15:00", Some("+01:00")));
    let made = Report::of(&small.folder(), &[]);
    assert!(
        flat(&made.text()).replace('\u{a0}', " ").contains("2 March 2026, 08:15 (UTC+01:00)"),
        "PNG eXIf"
    );
}

#[test]
fn a_place_is_printed_only_where_that_is_asked_for() {
    let place = "12.5050° S, 25.2600° W";
    let has = |report: &Report| {
        let text = flat(&report.text()).replace('\u{a0}', " ");
        (text.contains(place), report.page().replace('\u{a0}', " ").contains(place))
    };
    assert_eq!(has(report("shown")), (true, true));
    assert_eq!(has(report("plain")), (false, false));
    assert_eq!(has(report("public")), (false, false));
    assert!(report("plain").out.contains("2 pictures in the report hold the place"));
}

#[test]
fn a_photograph_dated_outside_its_visit_is_pointed_out_and_nobody_is_accused() {
    let jpeg = |taken: &str, offset| picture(image::ImageFormat::Jpeg, taken, offset);
    let small = Small::new("a.jpg", &jpeg("2025:12:24 18:00:00", None));
    let made = Report::of(&small.folder(), &[]);
    for words in [
        "visits/v/a.jpg' is dated 24 December 2025, 18:00",
        "visit.yaml:4:",
        "clocks in cameras are often wrong",
    ] {
        assert!(flat(&made.err).contains(words), "{words} is not in {}", made.err);
    }
    let text = flat(&made.text()).replace('\u{a0}', " ");
    assert!(
        text.contains("Its date is not that of the visit, 2 March 2026; clocks in cameras are often wrong."),
        "{text}"
    );
    assert!(made.page().contains("clocks in cameras are often wrong"));
    for (taken, offset) in [
        ("2026:03:02 23:59:00", None),
        ("2026:03:03 01:30:00", None),
        ("2026:03:03 01:30:00", Some("+00:00")),
    ] {
        let small = Small::new("a.jpg", &jpeg(taken, offset));
        let made = Report::of(&small.folder(), &[]);
        assert!(!made.err.contains("is dated"), "{taken}: {}", made.err);
    }
}

#[test]
fn a_picture_of_an_event_may_be_later_than_it_but_not_earlier() {
    for (taken, said) in [("2026:03:01 08:00:00", true), ("2026:03:09 08:00:00", false)] {
        let jpeg = picture(image::ImageFormat::Jpeg, taken, None);
        let small = Small::new("a.jpg", &picture(image::ImageFormat::Jpeg, "2026:03:02 08:00:00", None));
        small.write("letter.jpg", &jpeg);
        let session = fs::read_to_string(small.folder().join("session.yaml")).unwrap();
        small.write(
            "session.yaml",
            format!("{session}events: [{{on: 2026-03-05, what: A letter, file: letter.jpg}}]\n").as_bytes(),
        );
        let (code, _, err) = run(&["inspect", &small.folder().display().to_string()]);
        assert_eq!((code, flat(&err).contains("'letter.jpg' is dated 1 March 2026")), (0, said), "{err}");
    }
}

#[test]
fn stripped_of_places_the_pictures_are_the_same_pictures_and_the_list_says_so() {
    let made = Report::of(&demo("arbor-bearings"), &["--strip-positions"]);
    assert!(
        made.out.contains("2 pictures are published without the places where they were taken"),
        "{}",
        made.out
    );
    let attached = made.attached();
    for name in ["bearing.jpg", "dial.jpg"] {
        let before = fs::read(demo("arbor-bearings").join("visits/as-left/photos").join(name)).unwrap();
        let after = &attached[&format!("visits~as-left~photos~{name}")];
        assert!(position(&before).is_some() && position(after).is_none(), "{name}");
        let differs: Vec<usize> = (0..before.len()).filter(|at| before[*at] != after[*at]).collect();
        let exif = 20..20 + 0x105;
        assert!(differs.iter().all(|at| exif.contains(at)), "{name}: bytes outside its Exif data changed");
        assert!(made.page().contains(&STANDARD.encode(after)), "the page shows what is published");
        assert!(!made.page().contains(&STANDARD.encode(&before)));
        let listed = format!("{}  visits/as-left/photos/{name}\n", sha256(&before));
        assert!(
            String::from_utf8_lossy(&attached["files.sha256"]).contains(&listed),
            "the session's own hash"
        );
    }
    assert_eq!(made.made()["altered"].as_array().unwrap().len(), 2);
    assert!(flat(&made.text()).contains("attached: without position"));
    assert!(made.text().contains("Adeyemi"), "nothing else is left out");
}

#[test]
fn a_file_that_may_hold_a_place_and_cannot_be_looked_into_does_not_travel() {
    let small = Small::new("a.jpg", &picture(image::ImageFormat::Jpeg, "2026:03:02 08:00:00", None));
    small.write("saw.heic", b"\0\0\0\x18ftypheic....");
    let made = Report::of(&small.folder(), &["--strip-positions"]);
    assert!(
        flat(&made.err).contains("saw.heic may hold a position that cannot be taken out"),
        "{}",
        made.err
    );
    assert!(!made.attached().contains_key("saw.heic"));
    assert!(made.text().contains("saw.heic"), "it is listed");
    assert!(Report::of(&small.folder(), &[]).attached().contains_key("saw.heic"));
}

#[test]
fn every_report_carries_the_list_from_which_its_number_follows_and_how_it_was_made() {
    let numbers: Vec<String> = ["plain", "shown", "public"]
        .map(|kind| {
            let report = report(kind);
            let attached = report.attached();
            let listed = list::read(std::str::from_utf8(&attached["files.sha256"]).unwrap()).unwrap();
            let made = report.made();
            let number = document_number_of_list(&listed);
            assert_eq!(made["number"].as_str(), Some(number.as_str()));
            assert!(report.text().contains(&number));
            let positions = ["as they are", "shown", "stripped"];
            assert!(positions.contains(&made["positions"].as_str().unwrap()));
            for file in &listed {
                let name = file.path.replace('/', "~");
                let altered =
                    made["altered"].as_array().unwrap().iter().any(|path| path == file.path.as_str());
                assert_eq!(sha256(&attached[&name]) != file.sha256, altered, "{kind}: {name}");
            }
            number
        })
        .to_vec();
    assert!(numbers.iter().all(|number| *number == numbers[0]), "{numbers:?}");
}

#[test]
fn nothing_private_is_in_a_report_for_publication_nor_in_any_file_it_carries() {
    let report = report("public");
    let mut texts = vec![
        ("the pages".to_owned(), report.text()),
        ("XMP".to_owned(), tool("pdfinfo", &["-meta", &report.pdf()])),
    ];
    texts.push(("the information".to_owned(), tool("pdfinfo", &[&report.pdf()])));
    texts.push((
        "the objects".to_owned(),
        tool("qpdf", &["--qdf", "--object-streams=disable", &report.pdf(), "-"]),
    ));
    let lossy = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    texts.extend(report.attached().iter().map(|(name, bytes)| (name.clone(), lossy(bytes))));
    for entry in walkdir::WalkDir::new(&report.folder).into_iter().map(Result::unwrap) {
        if entry.file_type().is_file() && entry.path().extension().is_none_or(|end| end != "pdf") {
            texts.push((entry.path().display().to_string(), lossy(&fs::read(entry.path()).unwrap())));
        }
    }
    none_in(&texts);
    assert!(texts.len() > 50, "{}", texts.len());
    let first = tool("pdftotext", &["-layout", "-l", "1", &report.pdf(), "-"]);
    assert!(flat(&first).contains("A copy for publication. Withheld: people's names"), "{first}");
    assert!(report.page().contains("A copy for publication."));
    assert!(flat(&report.text()).contains("attached: masked copy"));
    // The test can fail: the plain report has them.
    assert!(self::report("plain").text().contains(PRIVATE[0]));
}

fn none_in(texts: &[(String, String)]) {
    for (name, text) in texts {
        let text = text.to_lowercase();
        for private in PRIVATE {
            // Digits that stand in the middle of a longer number, of a hash or a table, are not the order's.
            let lower = private.to_lowercase();
            let alone = text.match_indices(&lower).find(|(at, _)| {
                let before = text[..*at].chars().next_back();
                let after = text[at + lower.len()..].chars().next();
                private.contains(char::is_alphabetic)
                    || ![before, after].iter().flatten().any(|c| c.is_ascii_alphanumeric() || *c == '.')
            });
            assert!(alone.is_none(), "{private} is in {name}");
        }
    }
}

#[test]
fn nothing_private_is_in_the_narration_nor_in_pictures() {
    let home = tempfile::tempdir().unwrap();
    let copy = home.path().join("arbor-bearings");
    for entry in walkdir::WalkDir::new(demo("arbor-bearings")).into_iter().map(Result::unwrap) {
        let target = copy.join(entry.path().strip_prefix(demo("arbor-bearings")).unwrap());
        if entry.file_type().is_dir() {
            fs::create_dir_all(target).unwrap()
        } else {
            fs::copy(entry.path(), target).map(|_| ()).unwrap()
        }
    }
    let old = home.path().join("old-saw");
    fs::create_dir_all(old.join("visits/baseline")).unwrap();
    for file in ["session.yaml", "visits/baseline/visit.yaml", "visits/baseline/v3450.csv"] {
        fs::copy(demo("old-saw").join(file), old.join(file)).unwrap();
    }
    // A careless narrator, and a check called after the shop.
    let script = fs::read_to_string(copy.join("script.md")).unwrap();
    fs::write(
        copy.join("script.md"),
        format!("{script}\nThe serial number is CS10-04417, from *Weir\nLane Tools*, for $1849.\n"),
    )
    .unwrap();
    let session = fs::read_to_string(copy.join("session.yaml")).unwrap();
    fs::write(
        copy.join("session.yaml"),
        session.replace("title: Run-out of the arbor", "title: Run-out as Weir Lane Tools sold it"),
    )
    .unwrap();
    let (folder, out) = (copy.display().to_string(), home.path().join("out").display().to_string());
    let (code, _, err) = run(&["stills", &folder, "--public", "--out", &out, "--only", "arbor-runout-round"]);
    assert_eq!(code, 0, "{err}");
    let (code, _, err) = run(&["script", &folder, "--public", "--out", &out]);
    assert_eq!(code, 0, "{err}");
    let made = home.path().join("out/arbor-bearings");
    let read = |name: &str| {
        (name.to_owned(), String::from_utf8_lossy(&fs::read(made.join(name)).unwrap()).into_owned())
    };
    let mut texts: Vec<(String, String)> = [
        "script.md",
        "script.vtt",
        "stills.txt",
        "stills/contents.json",
        "stills/arbor-runout-round.svg",
        "stills/arbor-runout-round.png",
    ]
    .map(read)
    .to_vec();
    texts.push((
        "script.pdf".to_owned(),
        tool("pdftotext", &[&made.join("script.pdf").display().to_string(), "-"]),
    ));
    assert!(
        texts[0].1.contains("The serial number is withheld, from *withheld\n*, for withheld."),
        "{}",
        texts[0].1
    );
    none_in(&texts);
}

#[test]
fn the_masked_session_is_a_session_and_gives_the_same_findings() {
    let home = tempfile::tempdir().unwrap();
    let session = home.path().join("arbor-bearings");
    for (name, bytes) in report("public").attached() {
        let path = session.join(name.replace('~', "/"));
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, bytes).unwrap();
    }
    let old = home.path().join("old-saw");
    fs::create_dir_all(old.join("visits/baseline")).unwrap();
    for file in ["session.yaml", "visits/baseline/visit.yaml", "visits/baseline/v3450.csv"] {
        fs::copy(demo("old-saw").join(file), old.join(file)).unwrap();
    }
    let mut problems = Problems::default();
    let read = asfound::session::read(&session, &mut problems).unwrap();
    let findings = asfound::analysis::analyse(&read, &asfound::registry::measures(), &mut problems);
    assert!(!problems.any_error(), "{:#?}", problems.iter().collect::<Vec<_>>());
    let json = |folder: &Path| fs::read_to_string(folder.join("findings.json")).unwrap();
    let again = asfound::findings::to_json(&findings, "arbor-bearings", "asfound 0.1.0");
    assert_eq!(json(&report("public").folder), json(&report("plain").folder), "no finding speaks of anybody");
    assert_eq!(again, json(&report("public").folder));
}

#[test]
fn a_report_for_publication_is_built_again_from_what_it_carries() {
    use asfound::compose::Templates;
    use asfound::evidence::{Listed, Positions, Publication};
    let small = Small::new("a.jpg", &picture(image::ImageFormat::Jpeg, "2026:03:02 08:00:00", None));
    small.write("notes.md", b"Read by M. Tannahill.\n");
    let made = Report::of(&small.folder(), &["--public"]);
    let attached = made.attached();
    let home = tempfile::tempdir().unwrap();
    let sizes = &made.made()["sizes"];
    let listed: Vec<Listed> = list::read(std::str::from_utf8(&attached["files.sha256"]).unwrap())
        .unwrap()
        .into_iter()
        .map(|file| Listed { size: sizes[file.path.as_str()].as_u64(), ..file })
        .collect();
    let session = home.path().join("small");
    for file in &listed {
        let path = session.join(&file.path);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, &attached[&file.path.replace('/', "~")]).unwrap();
    }
    let mut problems = Problems::default();
    let session = asfound::session::read(&session, &mut problems).unwrap();
    let findings = asfound::analysis::analyse(&session, &asfound::registry::measures(), &mut problems);
    let publication = Publication { public: true, positions: Positions::Stripped };
    let built = asfound::commands::build_as(
        &session,
        &findings,
        &Templates::embedded(),
        publication,
        Known::List(&listed),
        &mut problems,
    )
    .unwrap();
    assert_eq!(built.page, made.page());
    assert_eq!(built.made.as_bytes(), attached["made.json"]);
    let pdf = asfound::typeset::pdf(&built.bundle, &built.meta).unwrap();
    assert!(pdf.bytes == fs::read(made.pdf()).unwrap(), "the same report, byte for byte");
}

#[test]
fn a_private_value_that_would_still_be_published_stops_everything() {
    let small = Small::new("a.jpg", &picture(image::ImageFormat::Jpeg, "2026:03:02 08:00:00", None));
    small.write("notes.md", b"Read by M. **Tannahill**, M&#46; Tannahill.\n");
    let out = small.home.path().join("out").display().to_string();
    let (code, _, err) = run(&["report", &small.folder().display().to_string(), "--public", "--out", &out]);
    assert_eq!(code, 1, "{err}");
    assert!(flat(&err).contains("a private value (who prepared it) would still be published"), "{err}");
    assert!(!Path::new(&out).exists());
}

#[test]
fn a_private_value_that_the_session_needs_as_a_word_is_said_to_be_one() {
    let small = Small::new("a.jpg", &picture(image::ImageFormat::Jpeg, "2026:03:02 08:00:00", None));
    let session = fs::read_to_string(small.folder().join("session.yaml")).unwrap();
    small.write("session.yaml", session.replace("{name: M}", "{name: M, seller: Metric}").as_bytes());
    let out = small.home.path().join("out").display().to_string();
    let (code, _, err) = run(&["report", &small.folder().display().to_string(), "--public", "--out", &out]);
    assert_eq!(code, 1, "{err}");
    assert!(flat(&err).contains("the session can be read, and its masked copy cannot"), "{err}");
}

#[test]
fn places_cannot_be_both_shown_and_withheld() {
    for other in ["--strip-positions", "--public"] {
        let (code, _, err) = run(&["report", "x", "--show-positions", other]);
        assert_eq!(code, 2, "{err}");
    }
}
