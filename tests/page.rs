//! page.html: one file that asks nothing of any other, in which whatever a user typed is text and every number
//! is the report's. How it looks, sorts and prints is held by tests/page (a browser).
#![allow(clippy::pedantic, clippy::print_stderr, missing_docs, clippy::unwrap_used, clippy::panic)]

mod common;

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

use asfound::compose::Templates;
use asfound::compose::document::Report;
use asfound::compose::environment::FOR_SCREEN;
use asfound::compose::report::{Drawings, Sources, report};
use asfound::evidence;
use asfound::session::Problems;
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use common::{Made, asfound, demo, flat};
use sha2::{Digest, Sha256};

fn built(folder: &Path, templates: &Templates) -> String {
    let mut problems = Problems::default();
    let session = asfound::session::read(folder, &mut problems).expect("a session");
    let findings = asfound::analysis::analyse(&session, &asfound::registry::measures(), &mut problems);
    assert!(!problems.any_error(), "{:#?}", problems.iter().collect::<Vec<_>>());
    asfound::commands::build(&session, &findings, templates, &mut problems).unwrap().page
}

fn page(folder: &Path) -> String {
    built(folder, &Templates::embedded())
}

/// The report's values, without its drawings.
fn view(folder: &Path) -> Report {
    let mut problems = Problems::default();
    let session = asfound::session::read(folder, &mut problems).expect("a session");
    let findings = asfound::analysis::analyse(&session, &asfound::registry::measures(), &mut problems);
    let files = evidence::inventory(&session, &mut problems);
    let drawings = Drawings::default();
    let sources = Sources {
        session: &session,
        findings: &findings,
        drawings: &drawings,
        files: &files,
        seals: &[],
        publication: evidence::Publication::default(),
        number: "AF",
        program: "asfound",
    };
    report(sources, &mut problems)
}

/// A tag: its name, its attributes, and whether it closes.
#[derive(Debug)]
struct Tag<'a> {
    name: &'a str,
    attributes: Vec<(&'a str, &'a str)>,
    closes: bool,
}

/// Reads a page as tags and the texts between them. It knows no more of HTML than this page may use: attributes in
/// double quotes, and nothing in a style or a script but its end.
fn read(html: &str) -> Vec<(Option<Tag<'_>>, &str)> {
    let mut parts = Vec::new();
    let mut rest = html;
    let mut raw = None;
    while !rest.is_empty() {
        let start = match raw.take() {
            Some(name) => rest.find(&format!("</{name}")).expect("an end"),
            None => rest.find('<').unwrap_or(rest.len()),
        };
        if start > 0 {
            parts.push((None, &rest[..start]));
            rest = &rest[start..];
            continue;
        }
        let mut in_quotes = false;
        let end = rest.find(|c: char| {
            in_quotes ^= c == '"';
            c == '>' && !in_quotes
        });
        let inner = &rest[1..end.expect("the end of a tag")];
        rest = &rest[inner.len() + 2..];
        let (closes, inner) = inner.strip_prefix('/').map_or((false, inner), |inner| (true, inner));
        let (name, mut more) = inner.split_once([' ', '\n']).unwrap_or((inner, ""));
        assert!(name.chars().all(|c| c.is_ascii_alphanumeric() || c == '!'), "a tag called {name:?}");
        let mut attributes = Vec::new();
        while let Some((key, after)) = more.trim_start().split_once("=\"") {
            let (value, after) = after.split_once('"').unwrap();
            attributes.push((key, value));
            more = after;
        }
        assert!(
            more.trim().trim_end_matches('/').is_empty() || name == "!doctype",
            "{name}: {more:?} is left over"
        );
        if !closes && ["style", "script"].contains(&name) {
            raw = Some(name);
        }
        parts.push((Some(Tag { name, attributes, closes }), ""));
    }
    parts
}

fn unescaped(text: &str) -> String {
    let text = text.replace("&lt;", "<").replace("&gt;", ">").replace("&quot;", "\"");
    text.replace("&#39;", "'").replace("&apos;", "'").replace("&amp;", "&")
}

/// The text of a page; each table's row and each block on a line of its own.
fn text(html: &str) -> String {
    let mut out = String::new();
    let mut unseen = 0;
    for (tag, text) in read(html) {
        match tag {
            Some(tag) if ["style", "script", "title"].contains(&tag.name) => {
                unseen += if tag.closes { -1 } else { 1 };
            }
            Some(tag) if ["th", "td", "dt", "dd", "span", "b", "a", "s"].contains(&tag.name) => {
                if ["th", "td", "dt", "dd"].contains(&tag.name) {
                    out.push(' ');
                }
            }
            Some(_) => out.push('\n'),
            None if unseen > 0 => {}
            None => out.push_str(&unescaped(text).replace('\n', " ")),
        }
    }
    let lines = out.lines().map(flat).filter(|line| !line.is_empty());
    lines.map(|line| line + "\n").collect()
}

/// What holds for every page: tags that close each other, ids that are unique, links that lead somewhere, and not one
/// resource but those that it carries.
fn sound(html: &str) {
    const VOID: [&str; 8] = ["!doctype", "meta", "link", "br", "img", "hr", "circle", "input"];
    let (mut open, mut ids, mut targets) = (Vec::new(), BTreeSet::new(), Vec::new());
    for (tag, _) in read(html) {
        let Some(tag) = tag else { continue };
        for (key, value) in &tag.attributes {
            assert!(!key.starts_with("on") && *key != "style", "{} has {key}", tag.name);
            match *key {
                "id" => assert!(ids.insert(*value), "two of {value}"),
                "href" if value.starts_with('#') => targets.push(value.trim_start_matches('#')),
                "href" if tag.name == "a" => {
                    let fine = ["data:text/csv", "data:application/json", "https:", "http:", "mailto:"];
                    assert!(fine.iter().any(|start| value.to_lowercase().starts_with(start)), "{value}");
                }
                "href" | "src" => assert!(value.starts_with("data:"), "{} asks for {value}", tag.name),
                "srcset" | "action" | "data" | "poster" | "xmlns" => panic!("{} has {key}", tag.name),
                _ => assert!(
                    !value.contains("http:") || *key == "aria-label" || *key == "alt",
                    "{key}={value}"
                ),
            }
        }
        let drawn = ["polyline", "polygon", "line", "rect", "path", "circle"].contains(&tag.name);
        if VOID.contains(&tag.name) || drawn {
            continue;
        }
        if tag.closes {
            assert_eq!(open.pop(), Some(tag.name), "in {open:?}");
        } else {
            open.push(tag.name);
        }
    }
    assert_eq!(open, Vec::<&str>::new());
    for target in targets {
        assert!(ids.contains(target), "nothing is called {target}");
    }
    for (_, after) in html.match_indices("url(").map(|(at, _)| html.split_at(at)) {
        assert!(after.starts_with("url(data:"), "{}", &after[..60]);
    }
    sealed(html);
}

/// The policy allows the page's own style sheets and script by their SHA-256 and nothing else.
fn sealed(html: &str) {
    let policy =
        html.split("Content-Security-Policy\" content=\"").nth(1).unwrap().split('"').next().unwrap();
    let policy = unescaped(policy);
    assert!(policy.starts_with("default-src 'none'; "), "{policy}");
    let hash = |text: &str| format!("'sha256-{}'", STANDARD.encode(Sha256::digest(text.as_bytes())));
    let between = |start: &str, end: &str| -> Vec<String> {
        html.split(start).skip(1).map(|rest| hash(rest.split(end).next().unwrap())).collect()
    };
    let (styles, scripts) = (between("<style>", "</style>"), between("<script>", "</script>"));
    assert_eq!((styles.len(), scripts.len()), (2, 1));
    assert!(policy.contains(&format!("style-src {} {};", styles[0], styles[1])), "{policy}");
    assert!(policy.contains(&format!("script-src {};", scripts[0])), "{policy}");
    assert!(!policy.contains("unsafe") && !policy.contains('*') && !policy.contains("http"), "{policy}");
}

const SESSION: &str = "title: Spindle of a lathe\nquestion: Does it run true?\nunits: metric\npaper: a4\n\
    machines: {m: {name: Fernley L-3, kind: lathe, bought: 2026-01-20, coverage: [{name: Parts, lasts: 1 years}]}}\n\
    instruments: {i: {name: Dial indicator, resolution: 0.01 mm, accuracy: 0.01 mm}}\n\
    checks:\n  spindle: {measure: run-out, direction: radial, instrument: i, unit: mm, limit: {at_most: 0.05 mm, source: \"Guide, p. 4\"}}\n";
const FOUND: &str = "state: as-found\ndate: 2026-03-02\nreadings:\n  spindle: {turns: [[0, 0.04, 0.08, 0.04], \
    [0, 0.05, 0.08, {struck: 0.9, because: knocked the stand}]]}\n";
const LEFT: &str = "state: as-left\ndate: 2026-03-20\nreadings:\n  spindle: {turns: [[0, 0.01, 0.01, 0], [0, 0.01, 0, -0.01]]}\n";

fn small() -> Made {
    Made::new(SESSION, &[("as-found", FOUND), ("as-left", LEFT)])
}

#[test]
fn a_small_session_s_page_says_what_its_report_says() {
    let made = small();
    let html = page(made.folder.path());
    sound(&html);
    insta::with_settings!({ filters => vec![(r"AF(-[0-9A-F]{4}){3}", "AF-number"), (r"<[A-Z]+>", "")] }, {
        insta::assert_snapshot!("page_of_a_small_session", text(&html));
    });
}

#[test]
fn the_same_session_gives_the_same_bytes() {
    let made = small();
    assert_eq!(page(made.folder.path()), page(made.folder.path()));
}

#[test]
fn report_writes_the_page_beside_the_pdf_and_replaces_it() {
    let made = small();
    let home = tempfile::tempdir().unwrap();
    let out = home.path().join("out").display().to_string();
    let session = made.folder.path().display().to_string();
    let written = home.path().join("out").join(made.folder.path().file_name().unwrap()).join("page.html");
    for _ in 0..2 {
        let (code, said, err) = asfound(&["report", &session, "--out", &out]);
        assert_eq!((code, err.as_str()), (0, ""));
        assert!(said.contains("page.html"), "{said}");
        assert_eq!(fs::read_to_string(&written).unwrap(), page(made.folder.path()));
    }
}

/// Every row of findings and changes as the report has it, with the figures as they are printed.
fn rows(view: &Report) -> Vec<String> {
    let shown = |text: &str| match text.strip_prefix('-') {
        Some(rest) => format!("−{rest}"),
        None => text.to_owned(),
    };
    let asides = view.appendices.asides.iter().flat_map(|aside| &aside.findings);
    let groups = view.checks.iter().flat_map(|check| &check.findings).chain(asides);
    let mut list: Vec<String> = groups
        .flat_map(|group| &group.rows)
        .map(|row| {
            let value = row.value.as_deref().map_or("–".to_owned(), shown);
            let plus_minus = row.plus_minus.clone().unwrap_or_default();
            let parts =
                [&row.place, &row.visit, &value, &plus_minus, &row.k, &row.floor, &row.verdict, &row.note];
            flat(&parts.map(String::as_str).join(" "))
        })
        .collect();
    let changes = view.checks.iter().flat_map(|check| &check.changes).flat_map(|table| &table.groups);
    list.extend(changes.flat_map(|group| &group.rows).map(|row| {
        let numbers = [&row.before, &row.after, &row.change, &row.low, &row.high, &row.percent];
        let numbers = numbers.map(|text| shown(text)).join(" ");
        flat(&format!("{} {numbers} {} {}", row.place, row.conclusion, row.adjusted))
    }));
    list
}

#[test]
fn every_number_on_the_page_is_the_report_s() {
    for name in ["arbor-bearings", "table-and-fence", "old-saw"] {
        let html = page(&demo(name));
        sound(&html);
        assert!(html.len() < 3_500_000, "{name}: {} bytes", html.len());
        let text = text(&html);
        let lines: BTreeSet<&str> = text.lines().collect();
        let view = view(&demo(name));
        let rows = rows(&view);
        assert!(rows.len() > 5);
        for row in rows {
            assert!(lines.contains(row.as_str()), "{name} lacks: {row}");
        }
        let said = view.answer.sentences.iter().chain(view.checks.iter().flat_map(|check| &check.sentences));
        for sentence in said.chain(&view.appendices.cautions) {
            assert!(lines.contains(flat(sentence).as_str()), "{name} lacks: {sentence}");
        }
        let all = view.appendices.readings.iter().flat_map(|table| &table.rows).flat_map(|row| &row.cells);
        let cells = html.matches("<td class=\"n").count();
        assert!(cells >= all.count(), "every reading has its cell");
    }
}

#[test]
fn the_data_in_the_page_are_the_findings_and_the_readings() {
    let made = small();
    let html = page(made.folder.path());
    let file = |name: &str| {
        let rest = html.split(&format!("download=\"{name}\" href=\"")).nth(1).unwrap();
        let address = rest.split('"').next().unwrap();
        let (head, body) = address.split_once(',').unwrap();
        if head.ends_with(";base64") {
            return String::from_utf8(STANDARD.decode(body).unwrap()).unwrap();
        }
        let mut bytes = Vec::new();
        let mut rest = body.as_bytes().iter();
        while let Some(&byte) = rest.next() {
            let hex = |digit: Option<&u8>| char::from(*digit.unwrap()).to_digit(16).unwrap() as u8;
            bytes.push(if byte == b'%' { hex(rest.next()) * 16 + hex(rest.next()) } else { byte });
        }
        String::from_utf8(bytes).unwrap()
    };
    let (_, findings) = made.analysed();
    assert_eq!(file("findings.csv"), asfound::findings::to_csv(&findings));
    assert!(file("findings.json").contains("\"schema\": 1"));
    let readings = file("readings.csv");
    let lines: Vec<&str> = readings.split("\r\n").collect();
    assert_eq!(lines[0], "check,measure,visit,where,row,column,reading,unit,struck,because");
    assert_eq!(lines.len(), 1 + 16 + 1, "{readings}");
    assert!(lines.contains(&"spindle,run-out,as-found,,2,270°,0.9,mm,true,knocked the stand"), "{readings}");
    assert!(readings.contains(",-0.01,mm,false,"), "a sign is no formula: {readings}");
}

#[test]
fn what_a_user_typed_is_text_wherever_it_stands() {
    let nasty =
        "</title></style></script><script>alert(1)</script><img src=x onerror=alert(2)>\\\" onload=x '";
    let long = "Straightness of everything ".repeat(8);
    let rtl = "שלום עולם 3.5";
    let session = SESSION
        .replace("Spindle of a lathe", &format!("\"{nasty}\""))
        .replace("Does it run true?", rtl)
        .replace("name: Fernley L-3", &format!("name: \"{nasty}\""))
        .replace("name: Dial indicator", "name: \"{{ 7*7 }} {% x %}\"")
        .replace("source: \"Guide, p. 4\"", &format!("source: \"{nasty}\""))
        .replace(
            "measure: run-out",
            &format!("title: \"{}\", procedure: \"{nasty}\", measure: run-out", long.trim()),
        );
    let found =
        FOUND.replace("knocked the stand", &format!("\"{nasty}\"")) + &format!("title: \"{nasty}\"\n");
    let made = Made::new(&session, &[("as-found", &found), ("as-left", LEFT)]);
    let notes = "# <u>Notes</u>\n\n<script>alert(3)</script>\n\n[a](javascript:alert(4)) [b](JaVaScript:x) \
        <javascript:y> ![p](https://host.example/p.png) ![q](../../secret.png)\n\n[c](data:text/html,z)\n\n\
        a\u{202e}b {{ 7*7 }}\n\n| <td> | </table> |\n|---|---|\n| 1 | 2 |\n";
    fs::write(made.folder.path().join("notes.md"), notes).unwrap();
    let html = page(made.folder.path());
    sound(&html);
    for (tag, _) in read(&html) {
        let Some(tag) = tag else { continue };
        let known = tag.name != "u" && tag.name != "img";
        assert!(known, "{tag:?}");
    }
    let text = text(&html);
    assert!(
        text.contains("<script>alert(1)</script>") && text.contains("<script>alert(3)</script>"),
        "{text}"
    );
    assert!(text.contains("a (javascript:alert(4))") && text.contains("{{ 7*7 }} {% x %}"), "{text}");
    assert!(text.contains(rtl) && text.contains(long.trim()), "{text}");
    assert!(
        text.contains("[U+202E]") && !html.contains('\u{202e}'),
        "an order of letters that is not theirs"
    );
}

#[test]
fn a_style_sheet_of_one_s_own_cannot_end_its_element() {
    let made = small();
    let own = tempfile::tempdir().unwrap();
    fs::write(own.path().join("page.css"), "p::after { content: '</style><b>' }").unwrap();
    fs::write(own.path().join("page.js"), "const a = '</script><!--';\r\n").unwrap();
    fs::write(own.path().join("paje.html"), "").unwrap();
    let templates = Templates::with_folder(own.path()).unwrap();
    assert_eq!(templates.misnamed(), ["paje.html replaces no template; did you mean page.html?"]);
    sound(&built(made.folder.path(), &templates));
}

/// Relative luminance and contrast as WCAG 2.2 defines them.
fn contrast(a: &str, b: &str) -> f64 {
    let luminance = |hex: &str| {
        let channel = |at: usize| {
            let c = f64::from(u8::from_str_radix(&hex[at..at + 2], 16).unwrap()) / 255.0;
            if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
        };
        0.2126 * channel(1) + 0.7152 * channel(3) + 0.0722 * channel(5)
    };
    let (a, b) = (luminance(a), luminance(b));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

#[test]
fn colours_stand_in_one_place_and_words_can_be_read_by_day_and_by_night() {
    let css = FOR_SCREEN.iter().find(|(name, _)| *name == "page.css").unwrap().1;
    let mut ground = String::new();
    let mut counted = 0;
    for line in css.lines().filter(|line| line.contains('#') && !line.trim_start().starts_with("section#")) {
        let (name, rest) = line.trim().split_once(": ").unwrap_or_else(|| panic!("{line}"));
        assert!(name.starts_with("--"), "a colour of its own: {line}");
        let (hex, what) = rest.split_once("; /* ").unwrap();
        if name == "--ground" {
            ground = hex.to_owned();
        }
        let least = match what.trim_end_matches(" */") {
            "word" => 4.5,
            "mark" | "line" => 3.0,
            "ground" => continue,
            other => panic!("say what it is for: {other}"),
        };
        assert!(contrast(hex, &ground) >= least, "{line}: {:.2}", contrast(hex, &ground));
        counted += 1;
    }
    assert_eq!(counted, 18);
    for (name, text) in FOR_SCREEN {
        assert!(!text.contains("http:") && !text.contains("https:"), "{name} names an address");
        assert!(*name == "page.css" || !text.contains("style="), "{name}");
    }
}
