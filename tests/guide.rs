//! The guide: its figures are the demo session's, its measures are the program's, its commands are there.
#![allow(clippy::pedantic, clippy::print_stderr, missing_docs, clippy::unwrap_used, clippy::panic)]

mod common;

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::{Arc, OnceLock};

use asfound::compose::Templates;
use asfound::findings::Findings;
use asfound::registry::MEASURES;
use asfound::session::{Notes, Problems, Session, SourceFile, written_out};
use asfound::{commands, script};
use common::asfound;

const DEMO: &str = "sessions/arbor-bearings";

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).to_owned()
}

fn text(path: &str) -> String {
    fs::read_to_string(root().join(path)).unwrap()
}

/// Holds a file that is made against what would be made now; renews it where the snapshots are renewed.
fn holds(path: &str, made: &str) {
    let kept = fs::read_to_string(root().join(path)).unwrap_or_default();
    if std::env::var("INSTA_UPDATE").is_ok_and(|how| how == "always") && kept != made {
        fs::write(root().join(path), made).unwrap();
        eprintln!("renewed {path}");
        return;
    }
    assert!(
        kept == made,
        "{path} is not what the demo gives: renew it with INSTA_UPDATE=always, and read the difference"
    );
}

/// The demo session without its own notes and script.
fn demo() -> &'static (Session, Findings) {
    static DEMO_FOUND: OnceLock<(Session, Findings)> = OnceLock::new();
    DEMO_FOUND.get_or_init(|| {
        let mut problems = Problems::default();
        let session = asfound::session::read(&root().join(DEMO), &mut problems).unwrap();
        let findings = asfound::analysis::analyse(&session, &asfound::registry::measures(), &mut problems);
        assert!(!problems.any_error());
        (session, findings)
    })
}

fn source(text: &str) -> Arc<SourceFile> {
    Arc::new(SourceFile::whole("claim.md", text))
}

/// The worked claim with every placeholder filled.
fn claim() -> String {
    let (session, findings) = demo();
    let mut problems = Problems::default();
    let filled =
        script::read(&source(&text("docs/guide/claim.md")), session, findings, None, &mut problems).filled;
    let said: Vec<&str> = problems.iter().map(|problem| problem.message.as_str()).collect();
    assert!(said.is_empty(), "{said:#?}");
    filled
}

#[test]
fn the_worked_claim_has_the_figures_that_the_demo_session_gives() {
    let filled = claim();
    assert!(filled.contains("± ") && !filled.contains("{arbor"));
    holds("docs/guide/filled/claim.md", &filled);
}

#[test]
fn no_number_of_the_worked_claim_is_a_stranger_to_the_session() {
    let (session, findings) = demo();
    let with = |text: &str| {
        let mut session = session.clone();
        session.notes = Some(Notes { source: source(text) });
        session.script = None;
        let mut problems = Problems::default();
        asfound::typed::point_out(&session, findings, &mut problems);
        problems.iter().map(|problem| problem.message.clone()).collect::<Vec<_>>()
    };
    assert_eq!(with(&claim()), Vec::<String>::new());
    assert_eq!(with("It ran out 7.7 thou.").len(), 1, "a stranger is seen");
}

#[test]
fn every_day_that_a_hand_typed_into_the_worked_claim_is_in_the_diary() {
    let (session, _) = demo();
    let mut days: Vec<String> = session.events.iter().map(|event| written_out(event.on)).collect();
    days.extend(session.visits.iter().map(|visit| written_out(visit.date)));
    let claim = text("docs/guide/claim.md");
    let words: Vec<&str> = claim.split_whitespace().collect();
    let mut seen = 0;
    for three in words.windows(3).filter(|three| three[2].starts_with("20") && three[0].parse::<u8>().is_ok())
    {
        let day = three.join(" ");
        let day = day.trim_end_matches(['.', ',', ';', ':']);
        assert!(days.iter().any(|known| known == day), "{day} is in no diary");
        seen += 1;
    }
    assert!(seen >= 1, "{seen}");
}

#[test]
fn the_figures_are_those_of_the_demo_s_report() {
    let (session, findings) = demo();
    let built = commands::build(session, findings, &Templates::embedded(), &mut Problems::default()).unwrap();
    for (name, _) in asfound::compose::guide::FIGURES {
        let wanted = name.replace("figures/", "charts/");
        let (_, svg) =
            built.charts.iter().find(|(path, _)| *path == wanted).unwrap_or_else(|| panic!("{wanted}"));
        holds(&format!("docs/guide/{name}"), svg);
    }
}

#[test]
fn lines_of_a_session_in_the_worked_claim_stand_in_the_demo() {
    let mut session = text(&format!("{DEMO}/session.yaml"));
    session += &text(&format!("{DEMO}/visits/as-found/visit.yaml"));
    let known: Vec<&str> = session.lines().map(str::trim).collect();
    let mut lines = 0;
    for line in text("docs/guide/claim.md").lines().filter(|line| line.starts_with("      ")) {
        assert!(known.contains(&line.trim()), "{line}");
        lines += 1;
    }
    assert!(lines > 15, "{lines}");
}

#[test]
fn every_command_of_the_guide_is_one() {
    let mut commands = 0;
    for file in ["begin.md", "claim.md", "numbers.md", "keeping.md"] {
        for line in text(&format!("docs/guide/{file}")).lines() {
            let Some(rest) = line.trim().strip_prefix("asfound ").filter(|_| line.starts_with("    ")) else {
                continue;
            };
            let mut arguments: Vec<&str> = rest.split_whitespace().collect();
            arguments.push("--help");
            let (code, _, err) = asfound(&arguments);
            assert_eq!((code, err.as_str()), (0, ""), "{line}");
            commands += 1;
        }
    }
    assert!(commands > 9, "{commands}");
}

fn words_of(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn the_guide_holds_every_measure_s_numbers_methods_sources_and_cautions() {
    let out = tempfile::tempdir().unwrap();
    let folder = out.path().to_str().unwrap();
    let (code, said, err) = asfound(&["guide", "--out", folder]);
    assert_eq!((code, err.as_str()), (0, ""));
    assert!(said.contains("guide.pdf (") && said.contains("guide.html"), "{said}");
    let html = fs::read_to_string(out.path().join("guide.html")).unwrap();
    let plain = html
        .replace("&#x27;", "'")
        .replace("&#39;", "'")
        .replace("&quot;", "\"")
        .replace("&lt;", "<")
        .replace("&amp;", "&")
        .replace("&#x2f;", "/");
    let plain = words_of(&plain);
    for registered in MEASURES {
        let measure = registered.measure;
        for what in measure.whats() {
            assert!(plain.to_lowercase().contains(&what.words.to_lowercase()), "{}", what.words);
        }
        for method in measure.methods() {
            let (_, rest) = method.split_once(": ").unwrap();
            let (body, source) = rest.rsplit_once(" (").unwrap();
            // The first letter became a capital.
            let body: String = body.chars().skip(1).collect();
            assert!(plain.contains(&words_of(&body)), "{method}");
            assert!(plain.contains(&words_of(source.trim_end_matches(")."))), "{source}");
        }
        for caution in measure.cautions() {
            assert!(plain.contains(&words_of(caution)), "{caution}");
        }
        let page = registered.guide;
        assert!(
            page.contains("### How it is read") && page.contains("### What it cannot tell"),
            "{}",
            measure.name()
        );
    }
    // Nothing is loaded, no picture is missing, and no mark-up was left as it was typed.
    for wrong in ["src=\"http", "not found", "**", "figures/", "[Picture"] {
        assert!(!html.split("<style>").last().unwrap().contains(wrong), "{wrong}");
    }
    assert_eq!(html.matches("<svg class=\"chart\"").count(), asfound::compose::guide::FIGURES.len());
}

#[test]
fn the_guide_is_the_same_bytes_each_time_and_leaves_others_files_alone() {
    let out = tempfile::tempdir().unwrap();
    let folder = out.path().to_str().unwrap();
    assert_eq!(asfound(&["guide", "--out", folder, "--quiet"]), (0, String::new(), String::new()));
    let read = |name: &str| fs::read(out.path().join(name)).unwrap();
    let before = (read("guide.pdf"), read("guide.html"));
    assert_eq!(asfound(&["guide", "--out", folder, "--quiet"]).0, 0);
    assert!(before == (read("guide.pdf"), read("guide.html")));
    fs::write(out.path().join("guide.html"), "mine").unwrap();
    assert_eq!(asfound(&["guide", "--out", folder, "--paper", "us-letter"]).0, 3);
    assert_eq!(read("guide.html"), b"mine");
    assert!(read("guide.pdf") == before.0, "nothing is written where one of the two cannot be");
}

#[test]
fn the_day_of_the_guide_is_that_of_the_version_in_the_changelog() {
    let day = written_out(asfound::compose::guide::DATE);
    let head = format!("## {}, {day}", env!("CARGO_PKG_VERSION"));
    assert!(text("CHANGELOG.md").lines().any(|line| line == head), "{head}");
}
