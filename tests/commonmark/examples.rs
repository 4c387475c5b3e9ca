//! Every example of the `CommonMark` specification 0.31.2 (source and licence: README.md here).

use std::sync::LazyLock;

use asfound::notes::RemarkKind;

use crate::press::{Press, without_spaces};
use crate::syntax::complaint;

struct Example {
    number: u32,
    markdown: String,
    html: String,
}

static EXAMPLES: LazyLock<Vec<Example>> = LazyLock::new(|| {
    let rows: Vec<(u32, String, String, String)> =
        serde_json::from_str(include_str!("spec-0.31.2.json")).unwrap();
    rows.into_iter().map(|(number, _section, markdown, html)| Example { number, markdown, html }).collect()
});

#[test]
fn all_652_examples_are_set_and_read_as_the_specification_says() {
    assert_eq!(EXAMPLES.len(), 652);
    let press = Press::new();
    let mut texts = Vec::new();
    let mut expected = Vec::new();
    for example in EXAMPLES.iter() {
        let converted = press.convert(&format!("n{}", example.number), &example.markdown);
        assert_eq!(complaint(&converted.typst), None, "{}", example.markdown);
        let unlike_html = converted
            .remarks
            .iter()
            .any(|r| matches!(r.kind, RemarkKind::HtmlShown | RemarkKind::CharactersNamed));
        expected.push((!unlike_html).then(|| words_of_html(&example.html)));
        // The numbers of a list are not among the letters of the HTML: none is drawn here.
        let unnumbered = converted.typst.replace("numbering: \"1)\", ", "");
        texts.push((example.markdown.clone(), unnumbered));
    }
    let pages = press.must_set(&texts);
    assert_eq!(pages.len(), 652, "one page for each example");
    let mut wrong = Vec::new();
    let mut compared = 0;
    for ((example, page), expected) in EXAMPLES.iter().zip(&pages).zip(&expected) {
        let Some(expected) = expected else { continue };
        compared += 1;
        let found = decoded(page);
        if found != decoded(expected) {
            wrong.push(format!("{}: {found}\n instead of {expected}", example.number));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert!(compared > 550, "only {compared} examples could be compared");
}

/// The letters that the specification's HTML shows, without spaces, with addresses that a report
/// does not link to and pictures written out as the notes write them.
fn words_of_html(html: &str) -> String {
    let mut out = String::new();
    let mut link: Option<(String, usize)> = None;
    let mut rest = html;
    while let Some((text, tail)) = rest.split_once('<') {
        out.push_str(&unescaped(text));
        let (tag, tail) = tail.split_once('>').unwrap();
        rest = tail;
        if tag.starts_with("a ") {
            link = Some((attribute(tag, "href"), out.len()));
        } else if tag == "/a" {
            let (href, start) = link.take().unwrap();
            let words = without_spaces(&out[start..]);
            let linked =
                ["http:", "https:", "mailto:"].iter().any(|scheme| href.to_lowercase().starts_with(scheme));
            if linked && words.is_empty() {
                out.push_str(&href);
            } else if !linked && !href.is_empty() && decoded(&href) != decoded(&words) {
                out.extend(["(", &href, ")"]);
            }
        } else if tag.starts_with("img ") {
            out.push_str(&picture(["alt", "src", "title"].map(|name| attribute(tag, name))));
        }
    }
    out.push_str(&unescaped(rest));
    without_spaces(&out)
}

fn picture(words: [String; 3]) -> String {
    let trouble = if words[1].contains(':') { "fetched" } else { "found" };
    let words: Vec<String> = words.into_iter().filter(|w| !w.is_empty()).collect();
    format!("[Picture not {trouble}: {}]", words.join(", "))
}

/// The value of an attribute, empty if there is none.
fn attribute(tag: &str, name: &str) -> String {
    let value = tag.split_once(&format!(" {name}=\""));
    value.map_or_else(String::new, |(_, value)| unescaped(value.split('"').next().unwrap()))
}

fn unescaped(html: &str) -> String {
    html.replace("&lt;", "<").replace("&gt;", ">").replace("&quot;", "\"").replace("&amp;", "&")
}

/// Addresses in HTML are percent-encoded, on paper they are as typed: read both alike.
fn decoded(text: &str) -> String {
    let mut bytes = Vec::new();
    let mut rest = text.as_bytes();
    while let [first, tail @ ..] = rest {
        let hex = tail
            .get(..2)
            .filter(|_| *first == b'%')
            .and_then(|digits| u8::from_str_radix(std::str::from_utf8(digits).ok()?, 16).ok());
        bytes.push(hex.unwrap_or(*first));
        rest = if hex.is_some() { &tail[2..] } else { tail };
    }
    without_spaces(&String::from_utf8_lossy(&bytes))
}
