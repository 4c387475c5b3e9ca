//! The report as other programs see it: Debian's qpdf and poppler-utils on the demo's PDF, and the
//! letters that hostile sessions typed.
#![allow(
    clippy::pedantic,
    clippy::approx_constant,
    clippy::print_stderr,
    clippy::redundant_clone,
    missing_docs,
    clippy::unwrap_used,
    clippy::panic
)]

use std::ffi::OsString;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::OnceLock;

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// Makes a session's report in a folder of its own and gives the PDF's path.
fn report(session: &Path) -> (tempfile::TempDir, PathBuf) {
    let home = tempfile::tempdir().unwrap();
    let arguments = [
        "asfound".into(),
        "report".into(),
        session.as_os_str().to_owned(),
        "--out".into(),
        home.path().as_os_str().to_owned(),
        "--quiet".into(),
    ];
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let code = asfound::commands::run(arguments.map(OsString::from), &mut out, &mut err);
    assert_eq!(code, 0, "{}", String::from_utf8_lossy(&err));
    let pdf = home.path().join(session.file_name().unwrap()).join("report.pdf");
    (home, pdf)
}

/// The demo's report, made once for all tests.
fn demo() -> &'static Path {
    static DEMO: OnceLock<(tempfile::TempDir, PathBuf)> = OnceLock::new();
    &DEMO.get_or_init(|| report(&root().join("sessions/arbor-bearings"))).1
}

/// Runs a program of poppler-utils or qpdf (tests/run installs them) and gives what it prints.
fn tool(name: &str, arguments: &[&str]) -> String {
    let output = Command::new(name)
        .args(arguments)
        .output()
        .unwrap_or_else(|error| panic!("{name}: {error}; tests/run installs it"));
    let text = String::from_utf8_lossy(&output.stdout).into_owned();
    // qpdf ends with 3 on warnings, which are failures here.
    assert!(output.status.success(), "{name}: {text}{}", String::from_utf8_lossy(&output.stderr));
    text
}

fn text_of(pdf: &Path) -> String {
    tool("pdftotext", &["-layout", pdf.to_str().unwrap(), "-"])
}

#[test]
fn the_file_is_sound_and_claims_archival_and_accessible_form() {
    let pdf = demo().to_str().unwrap();
    tool("qpdf", &["--check", pdf]);
    // The XMP of ISO 19005-3, 6.6.4 (pdfaid) and ISO 14289-1, clause 5 (pdfuaid).
    let metadata = tool("pdfinfo", &["-meta", pdf]);
    for claim in [
        "<pdfaid:part>3</pdfaid:part>",
        "<pdfaid:conformance>A</pdfaid:conformance>",
        "<pdfuaid:part>1</pdfuaid:part>",
    ] {
        assert!(metadata.contains(claim), "{claim} is not in {metadata}");
    }
    let info = tool("pdfinfo", &[pdf]);
    for line in
        ["Tagged:          yes", "Title:           Arbor bearings on a 10-inch cabinet saw", "612 x 792 pts"]
    {
        assert!(info.contains(line), "{line} is not in {info}");
    }
}

#[test]
fn every_font_is_embedded_and_one_of_ours() {
    let listed = tool("pdffonts", &[demo().to_str().unwrap()]);
    let mut fonts = 0;
    for line in listed.lines().skip(2) {
        let cells: Vec<&str> = line.split_whitespace().collect();
        let ours = ["SourceSans3", "SourceSerif4", "SourceCodePro", "Fallback", "Noto"];
        assert!(ours.iter().any(|family| cells[0].contains(family)), "{line}");
        // name type encoding emb sub uni object ID
        assert_eq!(cells[cells.len() - 5], "yes", "not embedded: {line}");
        fonts += 1;
    }
    assert!(fonts >= 4, "{listed}");
}

#[test]
fn every_file_of_the_session_travels_inside_with_its_bytes() {
    let session = root().join("sessions/arbor-bearings");
    let home = tempfile::tempdir().unwrap();
    let folder = home.path().to_str().unwrap();
    tool("pdfdetach", &["-saveall", "-o", folder, demo().to_str().unwrap()]);
    let listed = tool("pdfdetach", &["-list", demo().to_str().unwrap()]);
    let mut checked = 0;
    for entry in walkdir::WalkDir::new(&session).into_iter().map(Result::unwrap) {
        if !entry.file_type().is_file() {
            continue;
        }
        let name = entry.path().strip_prefix(&session).unwrap().display().to_string();
        // The narration is told from the readings and is none of them.
        if name == "script.md" {
            continue;
        }
        let name = name.replace('/', "~");
        assert!(listed.contains(&name), "{name} is not in {listed}");
        let inside = home.path().join(&name);
        assert_eq!(fs::read(&inside).unwrap(), fs::read(entry.path()).unwrap(), "{name}");
        checked += 1;
    }
    assert!(checked >= 9, "{checked}");
    let findings = fs::read(home.path().join("findings.json")).unwrap();
    assert_eq!(findings, fs::read(demo().parent().unwrap().join("findings.json")).unwrap());
}

#[test]
fn attachments_say_their_type_and_their_relationship() {
    // ISO 19005-3, 6.8: MIME type, AFRelationship, referenced from an AF array.
    let shown = tool("qpdf", &["--qdf", "--object-streams=disable", demo().to_str().unwrap(), "-"]);
    for key in [
        "/AFRelationship /Source",
        "/AFRelationship /Data",
        "/AFRelationship /Supplement",
        "/Subtype /text#2fcsv",
    ] {
        let found = shown.to_lowercase().contains(&key.to_lowercase());
        assert!(found, "{key} is missing");
    }
    assert!(shown.contains("/AF ["), "no AF array");
}

#[test]
fn the_first_page_answers_alone() {
    let page = tool("pdftotext", &["-layout", "-l", "1", demo().to_str().unwrap(), "-"]);
    for words in [
        "Does the arbor run true, cool and quiet after its bearings were",
        "over, then within",
        "not like for like",
        "CS10-04417",
        "as found",
        "as left",
    ] {
        assert!(page.to_lowercase().contains(&words.to_lowercase()), "{words} is not in {page}");
    }
}

#[test]
fn every_figure_has_an_alternative_text_that_states_its_finding() {
    let shown = tool("qpdf", &["--qdf", "--object-streams=disable", demo().to_str().unwrap(), "-"]);
    let figures = shown.matches("/S /Figure").count();
    let alternatives = shown.matches("/Alt ").count();
    assert!(figures >= 15, "{figures} figures");
    assert!(alternatives >= figures, "{alternatives} alternative texts for {figures} figures");
}

#[test]
fn struck_readings_are_printed_with_their_reason() {
    let text = text_of(demo());
    assert!(text.contains("9.5"), "the struck reading itself");
    assert!(text.contains("knocked the stand with my sleeve"), "{text}");
}

#[test]
fn typst_and_template_code_come_out_as_the_letters_typed() {
    for (session, letters) in [
        ("raw-typst-in-title", "#panic("),
        ("raw-typst-in-notes", "#import"),
        ("raw-minijinja-in-notes", "{{"),
    ] {
        let (_home, pdf) = report(&root().join("tests/hostile").join(session));
        tool("qpdf", &["--check", pdf.to_str().unwrap()]);
        let text = text_of(&pdf);
        assert!(text.contains(letters), "{session}: {letters} is not in {text}");
    }
}

#[test]
fn other_scripts_and_control_characters_make_a_report() {
    for (session, letters) in [
        ("right-to-left-and-cjk", "主轴跳动检查"),
        ("control-characters", ""),
        ("long-texts", ""),
        ("formula-in-a-text", "="),
    ] {
        let (_home, pdf) = report(&root().join("tests/hostile").join(session));
        tool("qpdf", &["--check", pdf.to_str().unwrap()]);
        let text = text_of(&pdf);
        assert!(text.contains(letters), "{session}: {letters}");
        assert!(!text.contains('\u{7}') && !text.contains('\u{1b}'), "{session}: a control character");
    }
}

#[test]
fn nothing_in_findings_csv_is_a_formula_to_a_spreadsheet() {
    let (_home, pdf) = report(&root().join("tests/hostile/formula-in-a-text"));
    let csv = fs::read_to_string(pdf.parent().unwrap().join("findings.csv")).unwrap();
    let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(csv.as_bytes());
    for record in reader.records().map(Result::unwrap) {
        for cell in &record {
            let formula = cell.starts_with(['=', '+', '-', '@', '\t', '\r']) && cell.parse::<f64>().is_err();
            assert!(!formula, "{cell}");
        }
    }
}

/// How far down each page its words reach, those in charts among them and the foot left out: 1 is the
/// lower end of the paper.
fn depths(pdf: &Path) -> Vec<f64> {
    let boxes = tool("pdftotext", &["-bbox", pdf.to_str().unwrap(), "-"]);
    let number = |text: &str, name: &str| {
        let (_, rest) = text.split_once(&format!("{name}=\"")).unwrap();
        rest.split('"').next().unwrap().parse::<f64>().unwrap()
    };
    let page = |text: &str| {
        let height = number(text, "height");
        // templates/house.typ: the lower margin is 24 mm.
        let foot = height - 24.0 / 25.4 * 72.0;
        let words = text.lines().filter(|line| line.trim_start().starts_with("<word "));
        let within = words.filter(|word| number(word, "yMin") < foot).map(|word| number(word, "yMax"));
        within.fold(0.0, f64::max) / height
    };
    boxes.split("<page ").skip(1).map(page).collect()
}

#[test]
fn no_page_but_the_last_is_more_than_half_empty() {
    let (_home, other) = report(&root().join("sessions/table-and-fence"));
    for pdf in [demo(), other.as_path()] {
        let depths = depths(pdf);
        let (_, all_but_last) = depths.split_last().unwrap();
        assert!(all_but_last.len() > 5, "{depths:?}");
        for (index, depth) in all_but_last.iter().enumerate() {
            assert!(*depth > 0.5, "page {} of {} ends at {depth:.2} of its height", index + 1, pdf.display());
        }
    }
}
