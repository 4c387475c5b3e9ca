//! Of every measure: whatever is read gives finite numbers or says why not, units and zeros are free, and the order in
//! which files came to lie in a folder is nobody's business.

use std::fs;
use std::path::Path;

use asfound::compose::Templates;
use asfound::evidence::pdf::{Wanted, read as read_pdf};
use asfound::findings::{BoundOn, Findings};
use asfound::session::Problems;
use asfound::{analysis, commands, registry, session, typeset};
use proptest::prelude::*;

use crate::common::{Made, found};

/// The head of a session with one check `c`.
fn head(instrument: &str, check: &str) -> String {
    format!(
        "title: T\nunits: metric\nmachines: {{m: {{name: M}}}}\ninstruments: {{i: {{name: I, {instrument}}}}}\n\
         checks: {{c: {{instrument: i, {check}}}}}\n"
    )
}

fn visit(readings: &str) -> String {
    format!("state: baseline\ndate: 2026-03-02\nreadings: {{c: {{{readings}}}}}\n")
}

/// Reads and analyses; the messages where it has errors.
fn tried(made: &Made) -> Result<Findings, Vec<String>> {
    let mut problems = Problems::default();
    let session = session::read(made.folder.path(), &mut problems);
    let findings = session.map(|session| analysis::analyse(&session, &registry::measures(), &mut problems));
    if problems.any_error() {
        return Err(problems.iter().map(|problem| problem.message.clone()).collect());
    }
    Ok(findings.expect("without an error there is a session"))
}

/// A number as a hand types it, or as no hand would.
fn number() -> impl Strategy<Value = String> {
    prop_oneof![
        8 => (-400i32..400).prop_map(|n| format!("{}", f64::from(n) / 10.0)),
        2 => (0i32..50).prop_map(|n| n.to_string()),
        1 => Just("0".to_owned()),
        1 => (-1e12f64..1e12).prop_map(|n| format!("{n:e}")),
        1 => prop_oneof![
            Just("1e300"), Just("-1e300"), Just("1e-300"), Just("-0"), Just("1e-320"), Just("1.7976931348623157e308")
        ].prop_map(str::to_owned),
        1 => (0i32..90).prop_map(|n| format!("{{struck: {n}, because: a slip}}")),
    ]
}

fn numbers(least: usize, most: usize) -> impl Strategy<Value = String> {
    prop::collection::vec(number(), least..=most).prop_map(|list| format!("[{}]", list.join(", ")))
}

fn lists(many: usize, long: usize) -> impl Strategy<Value = String> {
    prop::collection::vec(numbers(long, long), 1..=many).prop_map(|lists| format!("[{}]", lists.join(", ")))
}

/// A measure's instrument, check and readings.
fn any_readings() -> impl Strategy<Value = (&'static str, &'static str, String)> {
    prop_oneof![
        lists(4, 8).prop_map(|turns| (
            "1 µm",
            "measure: run-out, direction: radial, unit: µm",
            format!("turns: {turns}")
        )),
        (3usize..9).prop_flat_map(|n| lists(3, n)).prop_map(|turns| {
            ("1 µm", "measure: run-out, direction: axial, unit: µm", format!("closes: true, turns: {turns}"))
        }),
        numbers(1, 9).prop_map(|read| ("0.1 K", "measure: temperature, unit: °C", {
            let points: Vec<String> = read
                .trim_matches(['[', ']'])
                .split(", ")
                .enumerate()
                .map(|(k, value)| {
                    format!(
                        "[\"{}:00\", {}]",
                        7 * k,
                        if value.contains('{') || value.contains("because") || value.contains('}') {
                            "20"
                        } else {
                            value
                        }
                    )
                })
                .collect();
            format!("ambient: 20 °C, places: {{p: {{points: [{}]}}}}", points.join(", "))
        })),
        (numbers(1, 5), numbers(1, 5)).prop_map(|(read, behind)| {
            (
                "0.1 dB",
                "measure: sound, unit: dBA",
                format!("at: {{1000 rpm: {{readings: {read}, background: {behind}}}}}"),
            )
        }),
        (number(), number()).prop_map(|(mean, max)| {
            (
                "0.01 g",
                "measure: vibration, unit: g",
                format!("at: {{1000 rpm: {{mean: {mean}, max: {max}}}}}"),
            )
        }),
        (number(), number(), number(), number()).prop_map(|(a, b, length, time)| {
            let run = format!("{{unloaded: {a}, loaded: {b}, length: {length} mm, time: {time} s}}");
            (
                "1 rpm",
                "measure: load, unit: rpm",
                format!("kerf: 2 mm, cuts: {{oak: {{depth: 20 mm, runs: [{run}, {run}]}}}}"),
            )
        }),
        numbers(1, 6).prop_map(|read| (
            "1 rpm",
            "measure: speed, unit: rpm",
            format!("at: {{1000 rpm: {read}}}")
        )),
        numbers(1, 12).prop_map(|read| (
            "0.1 s",
            "measure: quantity, unit: s, limit: {at_most: 20 s}",
            format!("readings: {read}")
        )),
        lists(3, 5).prop_map(|passes| {
            (
                "1 µm",
                "measure: straightness, unit: µm",
                format!("along: [0 mm, 10 mm, 20 mm, 35 mm, 40 mm], passes: {passes}"),
            )
        }),
        (3usize..5).prop_flat_map(|n| lists(4, n)).prop_map(|rows| {
            ("1 µm", "measure: flatness, unit: µm", format!("rows: {rows}, step: [100 mm, 90 mm]"))
        }),
        (1usize..6).prop_flat_map(|n| (numbers(n, n), numbers(n, n))).prop_map(|(front, rear)| {
            ("1 µm", "measure: parallelism, unit: µm, apart: 180 mm", format!("front: {front}, rear: {rear}"))
        }),
        (number(), number()).prop_map(|(near, far)| {
            (
                "0.01 mm",
                "measure: squareness, unit: mm",
                format!("five_cuts: [{{near: {near}, far: {far}, strip: 380 mm}}]"),
            )
        }),
        numbers(1, 5).prop_map(|gap| (
            "1 µm",
            "measure: squareness, unit: µm",
            format!("over: 300 mm, gap: {gap}")
        )),
    ]
}

/// Every number is one; where there is none, something says why.
fn sound(findings: &Findings) -> Result<(), TestCaseError> {
    for finding in findings.checks.iter().flat_map(|check| &check.visits).flat_map(|visit| &visit.findings) {
        match finding.value {
            Some(value) => prop_assert!(value.is_finite(), "{}: {value}", finding.what),
            None => prop_assert!(
                finding.bound.is_some() || !finding.notes.is_empty(),
                "{}: no word why",
                finding.what
            ),
        }
        let expanded = finding.budget.expanded;
        for number in [expanded.standard, expanded.expanded, expanded.k, finding.floor.unwrap_or(0.0)] {
            prop_assert!(
                number.is_finite() && number >= 0.0,
                "{}: {expanded:?} {:?}",
                finding.what,
                finding.floor
            );
        }
        if let Some(BoundOn::AtMost(bound) | BoundOn::AtLeast(bound)) = finding.bound {
            prop_assert!(bound.is_finite(), "{}", finding.what);
        }
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, ..ProptestConfig::default() })]

    #[test]
    fn any_readings_of_any_measure_give_finite_findings_or_a_named_refusal((step, check, readings) in any_readings()) {
        let made = Made::new(&head(&format!("resolution: {step}"), check), &[("v", &visit(&readings))]);
        match tried(&made) {
            Ok(findings) => sound(&findings)?,
            Err(said) => prop_assert!(!said.is_empty() && said.iter().all(|line| !line.is_empty())),
        }
    }
}

/// One check whose readings are lengths: how it is named, and its readings with every number times `scale` plus `moved`,
/// printed so that no digit is lost.
struct Lengths {
    check: &'static str,
    whats: &'static [&'static str],
    /// Whether its findings are lengths too, or ratios of them.
    is_length: bool,
    written: fn(&[f64]) -> String,
}

fn each(values: &[f64]) -> String {
    let texts: Vec<String> = values.iter().map(|value| format!("{value:.7}")).collect();
    format!("[{}]", texts.join(", "))
}

const OF_LENGTHS: [Lengths; 5] = [
    Lengths {
        check: "measure: run-out, direction: radial",
        whats: &["tir", "once_per_turn", "twice_per_turn", "residual"],
        is_length: true,
        written: |v| format!("turns: [{}, {}]", each(&v[..8]), each(&v[8..16])),
    },
    Lengths {
        check: "measure: straightness",
        whats: &["straightness", "straightness_least_squares", "straightness_end_points"],
        is_length: true,
        written: |v| {
            let along: Vec<String> = (0..8).map(|k| format!("{} mm", 50 * k)).collect();
            format!("along: [{}], passes: [{}, {}]", along.join(", "), each(&v[..8]), each(&v[8..16]))
        },
    },
    Lengths {
        check: "measure: flatness",
        whats: &["flatness", "flatness_least_squares"],
        is_length: true,
        written: |v| {
            format!(
                "rows: [{}, {}, {}, {}], step: [90 mm, 70 mm]",
                each(&v[..4]),
                each(&v[4..8]),
                each(&v[8..12]),
                each(&v[12..16])
            )
        },
    },
    Lengths {
        check: "measure: parallelism, apart: 180 mm",
        whats: &["out_of_parallel", "angle"],
        is_length: false,
        written: |v| format!("front: {}, rear: {}", each(&v[..8]), each(&v[8..16])),
    },
    Lengths {
        check: "measure: squareness",
        whats: &["out_of_square", "angle"],
        is_length: false,
        written: |v| {
            let along: Vec<String> = (0..8).map(|k| format!("{} mm", 20 * k)).collect();
            format!(
                "lines: [{{along: [{}], passes: [{}, {}]}}]",
                along.join(", "),
                each(&v[..8]),
                each(&v[8..16])
            )
        },
    },
];

/// value and U of each number, readings in `unit`.
fn numbers_of(lengths: &Lengths, step: &str, unit: &str, values: &[f64]) -> Vec<(&'static str, f64, f64)> {
    let check = format!("{}, unit: {unit}", lengths.check);
    let made = Made::new(
        &head(&format!("resolution: {step}"), &check),
        &[("v", &visit(&(lengths.written)(values)))],
    );
    let (_, findings) = made.analysed();
    let one = |what: &&'static str| {
        let found = found(&findings, "c", "v", "", what);
        (*what, found.value.expect("a value"), found.expanded().expect("an uncertainty").expanded)
    };
    lengths.whats.iter().map(one).collect()
}

/// The numbers of two sessions agree: a value to its last digits, an uncertainty to what draws allow.
fn agree(
    a: &[(&str, f64, f64)],
    b: &[(&str, f64, f64)],
    factor: f64,
    room: f64,
) -> Result<(), TestCaseError> {
    for (a, b) in a.iter().zip(b) {
        prop_assert!((factor * a.1 - b.1).abs() <= room, "{a:?} {b:?}");
        prop_assert!((factor * a.2 - b.2).abs() <= 0.06 * b.2 + room, "{a:?} {b:?}");
    }
    Ok(())
}

fn sixteen() -> impl Strategy<Value = Vec<f64>> {
    prop::collection::vec((-50i32..50).prop_map(f64::from), 16)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 6, ..ProptestConfig::default() })]

    #[test]
    fn the_same_lengths_in_another_unit_give_the_same_findings_in_that_unit(values in sixteen(), which in 0usize..5) {
        let lengths = &OF_LENGTHS[which];
        let in_mm: Vec<f64> = values.iter().map(|value| value / 1000.0).collect();
        let here = numbers_of(lengths, "1 µm", "µm", &values);
        let there = numbers_of(lengths, "0.001 mm", "mm", &in_mm);
        agree(&here, &there, if lengths.is_length { 1e-3 } else { 1.0 }, 1e-9)?;
    }

    #[test]
    fn a_constant_added_to_an_indicators_readings_changes_no_form_and_no_lean(
        values in sixteen(), constant in -300i32..300, which in 0usize..5,
    ) {
        let lengths = &OF_LENGTHS[which];
        let moved: Vec<f64> = values.iter().map(|value| value + f64::from(constant)).collect();
        agree(&numbers_of(lengths, "1 µm", "µm", &values), &numbers_of(lengths, "1 µm", "µm", &moved), 1.0, 1e-6)?;
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 32, ..ProptestConfig::default() })]

    #[test]
    fn a_number_read_in_another_unit_is_the_same_number(values in prop::collection::vec(10i32..400, 1..8)) {
        let list = |factor: f64| {
            let texts: Vec<String> = values.iter().map(|value| format!("{:.9}", f64::from(*value) / factor)).collect();
            format!("[{}]", texts.join(", "))
        };
        let of = |step: &str, check: &str, readings: &str, at: &str, what: &str| {
            let made = Made::new(&head(&format!("resolution: {step}"), check), &[("v", &visit(readings))]);
            let (_, findings) = made.analysed();
            let found = found(&findings, "c", "v", at, what).clone();
            (found.value.expect("a value"), found.expanded().expect("an uncertainty").expanded)
        };
        let seconds = of("1 s", "measure: quantity, unit: s", &format!("readings: {}", list(1.0)), "", "mean");
        let minutes = of("1 s", "measure: quantity, unit: min", &format!("readings: {}", list(60.0)), "", "mean");
        prop_assert!((seconds.0 - 60.0 * minutes.0).abs() < 1e-6 && (seconds.1 - 60.0 * minutes.1).abs() < 1e-6 * seconds.1);
        // A set speed's error is a share: in rpm or in turns a second it is the same.
        let rpm = of("1 rpm", "measure: speed, unit: rpm", &format!("at: {{120 rpm: {}}}", list(1.0)), "120 rpm", "error");
        let hertz = of("1 rpm", "measure: speed, unit: Hz", &format!("at: {{120 rpm: {}}}", list(60.0)), "120 rpm", "error");
        prop_assert!((rpm.0 - hertz.0).abs() < 1e-5 && (rpm.1 - hertz.1).abs() < 1e-5, "{rpm:?} {hertz:?}");
    }
}

/// The files of a small session with three visits, a recording and a photograph.
fn files() -> Vec<(String, Vec<u8>)> {
    let session = "title: T\nunits: metric\nmachines: {m: {name: M}}\n\
        instruments: {i: {name: I, resolution: 1 s, accuracy: 1 s}, a: {name: A, resolution: 0.001 g}}\n\
        checks:\n  c: {measure: quantity, instrument: i, unit: s, limit: {at_most: 20 s}}\n  \
        v: {measure: vibration, instrument: a, unit: g}\n";
    let csv: String = (0..400).map(|k| format!("{:.3}\n", 0.1 * (f64::from(k) * 0.7).sin())).collect();
    let mut png = std::io::Cursor::new(Vec::new());
    image::DynamicImage::new_rgb8(40, 30).write_to(&mut png, image::ImageFormat::Png).unwrap();
    let mut files = vec![("session.yaml".to_owned(), session.as_bytes().to_vec())];
    for (id, state, day) in [("first", "as-found", 2), ("second", "as-left", 9), ("third", "baseline", 20)] {
        let visit = format!(
            "state: {state}\ndate: 2026-03-{day:02}\nphotos: [{{file: p.png, caption: The dial}}]\nreadings:\n  \
             c: {{readings: [1{day}, 14]}}\n  v: {{at: {{1000 rpm: {{file: x.csv, rate: 400 Hz, axes: {{z: 1}}, header: false}}}}}}\n"
        );
        files.push((format!("visits/{id}/visit.yaml"), visit.into_bytes()));
        files.push((format!("visits/{id}/x.csv"), csv.clone().into_bytes()));
        files.push((format!("visits/{id}/p.png"), png.get_ref().clone()));
    }
    files
}

/// Everything that a report is made of, in text.
fn report_of(folder: &Path) -> String {
    let mut problems = Problems::default();
    let session = session::read(folder, &mut problems).expect("a session");
    let findings = analysis::analyse(&session, &registry::measures(), &mut problems);
    assert!(!problems.any_error(), "{:?}", problems.iter().collect::<Vec<_>>());
    let built =
        commands::build(&session, &findings, &Templates::embedded(), &mut problems).expect("a report");
    let charts: String = built.charts.iter().map(|(path, svg)| format!("{path}\n{svg}\n")).collect();
    let texts = [built.json, built.csv, built.made, built.page, built.bundle.main.text, charts];
    texts.join("\n") + &format!("{:?}", built.listed)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 5, ..ProptestConfig::default() })]

    #[test]
    fn files_that_came_in_another_order_make_the_same_bytes(files in Just(files()).prop_shuffle()) {
        let made = |files: &[(String, Vec<u8>)]| {
            let home = tempfile::tempdir().unwrap();
            let folder = home.path().join("job");
            for (name, bytes) in files {
                fs::create_dir_all(folder.join(name).parent().unwrap()).unwrap();
                fs::write(folder.join(name), bytes).unwrap();
            }
            report_of(&folder)
        };
        prop_assert!(made(&files) == made(&self::files()));
    }
}

/// Titles of checks on the pages of a report as PDF, set by the program and read back out of the PDF.
#[test]
fn any_title_prints_as_it_was_typed() {
    use proptest::strategy::ValueTree;
    let mut runner = proptest::test_runner::TestRunner::deterministic();
    let strange = "([A-Za-z0-9 #$*_`@<>\\[\\]{}()\\\\/\"'~=+:;,.!?%&|^-]|[äöüßéèñµ°±×½“”–—€Ωπ]){1,38}";
    let titles: Vec<String> = (0..18)
        .map(|_| proptest::string::string_regex(strange).unwrap().new_tree(&mut runner).unwrap().current())
        .map(|title| format!("x{}x", title.split_whitespace().collect::<Vec<_>>().join(" ")))
        .collect();
    let checks: String = titles
        .iter()
        .enumerate()
        .map(|(k, title)| {
            let title = serde_json::to_string(title).unwrap();
            format!("  c{k}: {{measure: quantity, instrument: i, unit: s, title: {title}}}\n")
        })
        .collect();
    let readings: String = (0..titles.len()).map(|k| format!("c{k}: {{readings: [1, 2]}}, ")).collect();
    let made = Made::new(
        &format!(
            "title: {}\nunits: metric\nmachines: {{m: {{name: M}}}}\ninstruments: {{i: {{name: I, resolution: 1 s}}}}\n\
             checks:\n{checks}",
            serde_json::to_string(&titles[0]).unwrap()
        ),
        &[("v", &format!("state: baseline\ndate: 2026-03-02\nreadings: {{{readings}}}\n"))],
    );
    let mut problems = Problems::default();
    let session = session::read(made.folder.path(), &mut problems).expect("a session");
    let findings = analysis::analyse(&session, &registry::measures(), &mut problems);
    assert!(!problems.any_error(), "{:?}", problems.iter().collect::<Vec<_>>());
    let built =
        commands::build(&session, &findings, &Templates::embedded(), &mut problems).expect("a report");
    let pdf = typeset::pdf(&built.bundle, &built.meta).expect("a document");
    let read = read_pdf(std::sync::Arc::new(pdf.bytes), Wanted::Pages).expect("a PDF");
    let plain = |text: &str| -> String {
        // Lines break where they must, with a hyphen of their own.
        text.chars()
            .filter(|c| {
                !c.is_whitespace() && !matches!(c, '-' | '\u{2010}' | '\u{ad}' | '\u{200b}' | '\u{2060}')
            })
            .collect()
    };
    let pages: String = read.pages.iter().flat_map(|page| &page.words).map(|word| plain(word)).collect();
    for title in &titles {
        assert!(pages.contains(&plain(title)), "'{title}' is not on the pages");
    }
}
