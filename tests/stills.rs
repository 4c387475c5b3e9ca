//! Pictures for the screen: nothing outside the safe title area, no word too small, at the extremes too; what a
//! run leaves in its folder; frames that begin and end as whole pictures.
#![allow(clippy::pedantic, clippy::print_stderr, missing_docs, clippy::unwrap_used, clippy::panic)]

mod common;

use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};

use asfound::charts::ground::Ground;
use asfound::charts::sheet::Layer;
use asfound::compose::Templates;
use asfound::compose::still::{self, Laid, Look, Stage, Still};
use asfound::findings::Findings;
use asfound::session::{Date, Problems, Session};
use asfound::typeset::picture::{self, Pages, Picture};
use common::{Made, asfound, demo};

const DAY: Date = Date::constant(2026, 4, 2);

fn read(folder: &Path) -> (Session, Findings) {
    let mut problems = Problems::default();
    let session = asfound::session::read(folder, &mut problems).expect("a session");
    let findings = asfound::analysis::analyse(&session, &asfound::registry::measures(), &mut problems);
    assert!(!problems.any_error());
    (session, findings)
}

fn looks() -> Vec<Look> {
    let mut looks = Vec::new();
    for upright in [false, true] {
        for clear_below in [false, true] {
            looks.push(Look { ground: Ground::Dark, upright, clear_below });
        }
    }
    looks
}

fn typeset(session: &Session, stages: &[(&Laid, Stage)], look: Look) -> Pages {
    let (view, charts) = still::pages(stages, look, session, DAY);
    let mut bundle = Templates::embedded().compose("still.typ", &view).unwrap();
    for (path, svg) in charts {
        bundle.add_asset(path, svg.into_bytes());
    }
    let pages = picture::pages(&bundle, DAY).unwrap();
    assert!(pages.warnings.is_empty(), "{:?}", pages.warnings);
    assert_eq!(pages.len(), stages.len());
    pages
}

/// The columns and rows in which a picture differs from its ground: left, top, right, bottom.
fn inked(picture: &Picture) -> Option<[usize; 4]> {
    let ground: [u8; 4] = picture.pixels()[..4].try_into().unwrap();
    let width = picture.width as usize;
    let mut found: Option<[usize; 4]> = None;
    for (index, pixel) in picture.pixels().chunks_exact(4).enumerate() {
        let differs = (0..4).any(|n| pixel[n].abs_diff(ground[n]) > 2);
        if differs {
            let (x, y) = (index % width, index / width);
            let [left, top, right, bottom] = found.unwrap_or([x, y, x + 1, y + 1]);
            found = Some([left.min(x), top.min(y), right.max(x + 1), bottom.max(y + 1)]);
        }
    }
    found
}

/// Every picture of a session in every look: its words are large enough, and it keeps inside. Gives the names.
fn holds(session: &Session, findings: &Findings) -> Vec<String> {
    let stills = still::list(session, findings);
    for look in looks() {
        let laid = still::lay(session, findings, &stills, look);
        let stages: Vec<(&Laid, Stage)> = laid.iter().map(|laid| (laid, Stage::WHOLE)).collect();
        let (view, charts) = still::pages(&stages, look, session, DAY);
        for still in &view.stills {
            let number = still.number.as_ref().unwrap();
            let sentence = still.sentence.as_ref().unwrap();
            for size in [number.size, number.tail_size, number.caption_size, sentence.size] {
                assert!(size >= 7.5, "{} {look:?}: {size}", still.name);
            }
            assert!(!sentence.lines.is_empty() && !number.value.is_empty(), "{}", still.name);
            assert!(still.chart.is_some(), "{} {look:?} has no chart", still.name);
        }
        for (path, svg) in &charts {
            for size in svg.split("font-size=\"").skip(1) {
                let size: f64 = size.split('"').next().unwrap().parse().unwrap();
                assert!(size >= 7.5, "{path} {look:?}: {size}");
            }
        }
        let pages = typeset(session, &stages, look);
        let across = if look.upright { 270 } else { 480 };
        for (page, laid) in laid.iter().enumerate() {
            let picture = pages.picture(page, across).unwrap();
            let (width, height) = (f64::from(picture.width), f64::from(picture.height));
            assert_eq!(
                picture.width * if look.upright { 16 } else { 9 },
                picture.height * if look.upright { 9 } else { 16 }
            );
            let [left, top, right, bottom] = inked(&picture).unwrap().map(|n| n as f64);
            let below = if look.clear_below { 0.8 } else { 0.95 };
            let inside = left >= 0.05 * width
                && right <= 0.95 * width
                && top >= 0.05 * height
                && bottom <= below * height;
            keep(&laid.still.name, look, &pages, page);
            assert!(
                inside,
                "{} {look:?}: {left} {top} {right} {bottom} of {width} × {height}",
                laid.still.name
            );
        }
    }
    stills.into_iter().map(|still| still.name).collect()
}

/// Keeps a picture for looking at: ASFOUND_KEEP=/some/folder cargo test --test stills.
fn keep(name: &str, look: Look, pages: &Pages, page: usize) {
    if let Some(folder) = std::env::var_os("ASFOUND_KEEP") {
        let test = std::thread::current().name().unwrap_or("kept").replace("::", "-");
        let how = format!(
            "{}{}",
            if look.upright { "-upright" } else { "" },
            if look.clear_below { "-captions" } else { "" }
        );
        let said = picture::Said { title: name, number: "" };
        let png = pages.picture(page, if look.upright { 540 } else { 960 }).unwrap().png(said).unwrap();
        let name: String = name.chars().take(60).collect();
        std::fs::write(PathBuf::from(folder).join(format!("{test}-{name}{how}.png")), png).unwrap();
    }
}

#[test]
fn every_picture_of_the_demos_is_inside_and_large_enough() {
    for name in ["arbor-bearings", "table-and-fence", "old-saw"] {
        let (session, findings) = read(&demo(name));
        let names = holds(&session, &findings);
        assert_eq!(names.iter().collect::<BTreeSet<_>>().len(), names.len(), "{names:?}");
        insta::assert_snapshot!(format!("stills_of_{name}"), names.join("\n"));
    }
}

const INDICATOR: &str = "instruments:\n  i: {name: Dial indicator, resolution: 0.01 mm, accuracy: 0.01 mm}\n";
const LIMIT: &str = ", limit: {at_most: 0.05 mm, source: \"Guide, p. 4\"}";

fn head(title: &str) -> String {
    format!("title: \"{title}\"\nunits: metric\nmachines: {{m: {{name: Fernley L-3}}}}\n{INDICATOR}checks:\n")
}

fn turns(readings: usize, size: f64) -> String {
    let one = |index: usize| {
        format!("{:.2}", size * (std::f64::consts::TAU * index as f64 / readings as f64).cos())
    };
    let turn = format!("[{}]", (0..readings).map(one).collect::<Vec<_>>().join(", "));
    format!("[{turn}, {turn}]")
}

fn long(what: &str) -> String {
    let mut text = what.to_owned();
    while text.chars().count() < 200 {
        text.push_str(" and what it was read against on the bench");
    }
    text.chars().take(200).collect::<String>().trim_end().to_owned()
}

/// Run-out at several stations, a straightness and a number, each at so many visits.
fn many(visits: usize, stations: &[String], title: &str, check: &str, name: &str) -> Made {
    let mut session = head(title);
    let places =
        stations.iter().enumerate().map(|(n, id)| format!("\"{id}\": {{from: {} mm}}", 20 * (n + 1)));
    let places = places.collect::<Vec<_>>().join(", ");
    writeln!(session, "  spindle: {{title: \"{check}\", measure: run-out, direction: radial, instrument: i, unit: mm, stations: {{{places}}}{LIMIT}}}").unwrap();
    writeln!(session, "  gap: {{title: \"{check}\", measure: quantity, unit: mm, instrument: i{LIMIT}}}")
        .unwrap();
    let visits: Vec<(String, String)> = (0..visits)
        .map(|v| {
            let state = ["as-found", "as-left", "reference"][v % 3];
            let size = 0.08 / (v + 1) as f64;
            let mut text = format!("title: \"{name} {v}\"\nstate: {state}\ndate: 2026-03-{:02}\nreadings:\n  spindle:\n    stations:\n", v + 2);
            for station in stations {
                writeln!(text, "      \"{station}\": {{turns: {}}}", turns(8, size)).unwrap();
            }
            writeln!(text, "  gap: {{readings: [{size:.2}, {size:.2}, {:.2}]}}", size + 0.01).unwrap();
            (format!("v{v}"), text)
        })
        .collect();
    let visits: Vec<(&str, &str)> = visits.iter().map(|(id, text)| (id.as_str(), text.as_str())).collect();
    Made::new(&session, &visits)
}

#[test]
fn long_names_break_and_then_are_fewer_words_and_never_small_or_outside() {
    let stations: Vec<String> =
        ["near-the-shoulder", "far"].map(|name| long(name).to_lowercase().replace(' ', "-")).to_vec();
    let (session, findings) =
        many(2, &stations, &long("The report"), &long("The spindle"), &long("As found")).analysed();
    holds(&session, &findings);
}

#[test]
fn six_visits_and_seven_stations_are_pared_to_what_tells() {
    let stations: Vec<String> = (1..=7).map(|n| format!("station-{n}")).collect();
    let (session, findings) = many(6, &stations, "Many", "Spindle", "Visit number").analysed();
    let names = holds(&session, &findings);
    assert!(names.contains(&"spindle-unrolled".to_owned()), "{names:?}");
}

#[test]
fn names_without_spaces_in_other_scripts_and_with_signs_that_no_font_has_stay_inside() {
    let stations = vec!["unterbrechungsfreiheit".repeat(4), "a".to_owned()];
    let hebrew = "שלום עולם ".repeat(9);
    for (check, name) in [
        ("😀 #panic() {{ x }} <script>", "主軸と軸受を交換した後の測定結果について"),
        (hebrew.trim(), "Unterbrechungsfreiheitsmessung"),
    ] {
        let (session, findings) = many(2, &stations, "𝔘𝔫𝔤𝔢", check, name).analysed();
        holds(&session, &findings);
    }
}

#[test]
fn every_session_that_is_merely_strange_has_its_pictures() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/hostile");
    let table = fs::read_to_string(folder.join("README.md")).unwrap();
    let look = Look { ground: Ground::Clear, upright: false, clear_below: false };
    let mut made = 0;
    for line in table.lines() {
        let cells: Vec<&str> = line.split('|').map(str::trim).collect();
        let Some(name) = cells.get(1).and_then(|cell| cell.strip_prefix('`')?.strip_suffix('`')) else {
            continue;
        };
        if cells.get(2).map(|cell| cell.trim_matches('`')) != Some("report") {
            continue;
        }
        let (session, findings) = read(&folder.join(name));
        let stills = still::list(&session, &findings);
        let laid = still::lay(&session, &findings, &stills, look);
        let stages: Vec<(&Laid, Stage)> = laid.iter().map(|laid| (laid, Stage::WHOLE)).collect();
        if stages.is_empty() {
            continue;
        }
        for laid in &laid {
            assert!(laid.chart.is_some(), "{name}: {} has no chart", laid.still.name);
        }
        let pages = typeset(&session, &stages, look);
        made += pages.len();
    }
    assert!(made > 40, "{made}");
}

#[test]
fn a_session_with_errors_has_messages_and_no_pictures() {
    let home = tempfile::tempdir().unwrap();
    let out = home.path().display().to_string();
    let session =
        Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/hostile/bad-visit-id").display().to_string();
    for command in
        [vec!["stills", &session, "--out", &out], vec!["buildup", &session, "summary", "--out", &out]]
    {
        let (code, said, err) = asfound(&command);
        assert_eq!((code, said.as_str()), (1, ""));
        assert!(err.contains("As Found"), "{err}");
    }
    assert_eq!(fs::read_dir(home.path()).unwrap().count(), 0);
}

fn pixels(path: &Path) -> image::DynamicImage {
    image::open(path).unwrap()
}

#[test]
fn a_build_up_begins_with_its_axes_and_ends_as_the_still_pixel_for_pixel() {
    let home = tempfile::tempdir().unwrap();
    let out = home.path().display().to_string();
    let session = demo("arbor-bearings").display().to_string();
    let name = "arbor-runout-round";
    let arguments = ["--ground", "clear", "--out", &out, "--quiet"];
    let stills = [&["stills", session.as_str(), "--only", name], &arguments[..]].concat();
    assert_eq!(asfound(&stills).0, 0);
    let built =
        [&["buildup", session.as_str(), name, "--frames-a-second", "25", "--seconds", "0.8"], &arguments[..]]
            .concat();
    let (code, _, err) = asfound(&built);
    assert_eq!(code, 0, "{err}");
    let folder = home.path().join("arbor-bearings/buildups").join(name);
    let frames: Vec<PathBuf> = (1..=20).map(|n| folder.join(format!("{n:04}.png"))).collect();
    assert!(frames.iter().all(|path| path.exists()) && !folder.join("0021.png").exists());
    let last = pixels(&frames[19]);
    assert_eq!(last, pixels(&home.path().join(format!("arbor-bearings/stills/{name}.png"))));
    assert_eq!((last.width(), last.height(), last.color()), (1920, 1080, image::ColorType::Rgba8));

    // The first is the picture with nothing but what the readings stand in.
    let (session, findings) = read(&demo("arbor-bearings"));
    let look = Look { ground: Ground::Clear, upright: false, clear_below: false };
    let all = still::list(&session, &findings);
    let still: Vec<Still> = all.into_iter().filter(|still| still.name == name).collect();
    let laid = still::lay(&session, &findings, &still, look);
    let begin = Stage { layer: Some(Layer::Frame), words: false };
    let pages = typeset(&session, &[(&laid[0], begin)], look);
    let said = picture::Said { title: "", number: "" };
    let begun = pages.picture(0, 1920).unwrap().png(said).unwrap();
    let begun = image::load_from_memory(&begun).unwrap();
    assert_eq!(pixels(&frames[0]), begun);
    assert_ne!(pixels(&frames[0]), last);

    // In between nothing that is once there goes away again, but for the white behind words.
    let covered = |path: &PathBuf| pixels(path).to_rgba8().pixels().filter(|pixel| pixel[3] > 0).count();
    let counts: Vec<usize> = frames.iter().map(covered).collect();
    assert!(counts.windows(2).all(|pair| pair[1] >= pair[0]), "{counts:?}");

    // The animated file holds the same frames: it is read by the `image` crate.
    let bytes = fs::read(folder.join(format!("{name}.apng"))).unwrap();
    let decoder = image::codecs::png::PngDecoder::new(std::io::Cursor::new(bytes)).unwrap();
    assert!(decoder.is_apng().unwrap());
    let moving = image::AnimationDecoder::into_frames(decoder.apng().unwrap()).collect_frames().unwrap();
    assert_eq!(moving.len(), 20);
    for (frame, path) in moving.iter().zip(&frames) {
        assert_eq!(frame.buffer(), &pixels(path).to_rgba8(), "{path:?}");
        assert_eq!(frame.delay().numer_denom_ms(), (40, 1));
    }
}

#[test]
fn a_run_replaces_the_pictures_of_the_last_one_and_nobody_else_s() {
    let home = tempfile::tempdir().unwrap();
    let out = home.path().display().to_string();
    let session = demo("old-saw").display().to_string();
    let run =
        |more: &[&str]| asfound(&[&["stills", session.as_str(), "--out", &out, "--quiet"], more].concat());
    let folder = home.path().join("old-saw/stills");
    assert_eq!(run(&[]).0, 0);
    assert!(folder.join("summary.png").exists() && folder.join("summary.svg").exists());
    assert_eq!(run(&["--ground", "dark", "--ground", "clear", "--only", "summary"]).0, 0);
    assert!(!folder.join("summary.png").exists(), "the new output is the whole output");
    assert!(folder.join("dark/summary.png").exists() && folder.join("clear/summary.svg").exists());
    // A report that is made beside them leaves them where they are.
    assert_eq!(asfound(&["report", &session, "--out", &out, "--quiet"]).0, 0);
    assert!(folder.join("dark/summary.png").exists());
    fs::write(folder.join("dark/mine.png"), "mine").unwrap();
    let (code, _, err) = run(&[]);
    assert_eq!(code, 3);
    assert!(err.contains("did not make"), "{err}");
    assert!(folder.join("dark/mine.png").exists());
    // Nothing half-made is left beside the folder; the report's record is.
    let beside = fs::read_dir(home.path()).unwrap().map(|entry| entry.unwrap().file_name());
    assert_eq!(beside.filter(|name| name != ".built").count(), 1);
}

#[test]
fn a_name_that_no_picture_has_is_told_with_the_nearest() {
    let home = tempfile::tempdir().unwrap();
    let out = home.path().display().to_string();
    let session = demo("arbor-bearings").display().to_string();
    for command in ["stills", "buildup"] {
        let name =
            if command == "stills" { vec!["--only", "arbor-runout-rond"] } else { vec!["arbor-runout-rond"] };
        let (code, _, err) = asfound(&[&[command, session.as_str(), "--out", &out], &name[..]].concat());
        assert_eq!(code, 2, "{err}");
        assert!(err.contains("arbor-runout-round"), "{err}");
    }
    assert_eq!(fs::read_dir(home.path()).unwrap().count(), 0);
}

#[test]
fn the_same_session_gives_the_same_pictures_on_every_run() {
    let session = demo("table-and-fence").display().to_string();
    let run = || {
        let home = tempfile::tempdir().unwrap();
        let out = home.path().display().to_string();
        let (code, said, _) = asfound(&["stills", &session, "--out", &out, "--ground", "clear"]);
        assert_eq!(code, 0);
        let files = walkdir::WalkDir::new(home.path()).sort_by_file_name().into_iter().map(Result::unwrap);
        let files = files.filter(|entry| entry.file_type().is_file());
        let files: Vec<(String, Vec<u8>)> = files
            .map(|entry| (entry.file_name().to_string_lossy().into_owned(), fs::read(entry.path()).unwrap()))
            .collect();
        (said.replace(&out, "OUT"), files)
    };
    let (one, two) = (run(), run());
    assert!(one == two);
    insta::assert_snapshot!("stills_table_and_fence_said", one.0);
}

#[test]
fn a_picture_as_svg_has_its_words_as_outlines_and_no_picture_in_it() {
    let (session, findings) = read(&demo("arbor-bearings"));
    let look = Look { ground: Ground::Light, upright: false, clear_below: false };
    let stills = still::list(&session, &findings);
    let laid = still::lay(&session, &findings, &stills[..2], look);
    let stages: Vec<(&Laid, Stage)> = laid.iter().map(|laid| (laid, Stage::WHOLE)).collect();
    let pages = typeset(&session, &stages, look);
    for page in 0..2 {
        let svg = pages.svg(page).unwrap();
        roxmltree::Document::parse(&svg).unwrap();
        let tree = resvg::usvg::Tree::from_str(&svg, &resvg::usvg::Options::default()).unwrap();
        let mut drawn = resvg::tiny_skia::Pixmap::new(960, 540).unwrap();
        let scale = 960.0 / tree.size().width();
        let placed = resvg::tiny_skia::Transform::from_scale(scale, scale);
        resvg::render(&tree, placed, &mut drawn.as_mut());
        let picture = pages.picture(page, 960).unwrap();
        let pairs = drawn.data().iter().zip(picture.pixels());
        let far = pairs.filter(|(one, other)| one.abs_diff(**other) > 80).count();
        // Letters are filled by two programs in two ways; nothing else may differ.
        assert!(far < picture.pixels().len() / 400, "{far} of {}", picture.pixels().len());
        assert!(
            !svg.contains("<text") && !svg.contains("<image") && !svg.contains("font-family"),
            "{}",
            &svg[..400]
        );
    }
}
