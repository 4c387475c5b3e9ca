//! Texts that try to become code, to break the page or to exhaust the machine.

use std::time::{Duration, Instant};

use proptest::prelude::*;

use crate::press::{Press, without_spaces};
use crate::syntax::complaint;

/// Typst, template and PDF code that must come out as the letters typed.
const LETTERS: [&str; 24] = [
    "#import \"@preview/x:0.1.0\": y",
    "#include \"/etc/passwd\"",
    "#read(\"session.yaml\")",
    "$x^2$ $ x $",
    "{{ session.title }} {% include 'x' %} {# x #}",
    "#{ panic() }",
    "*/ /* // \\ comment",
    "] ] ) ) } }",
    "[ ( {",
    "\"quoted\" \\\"escaped\\\" \\u{41}",
    "@ref #label(\"x\") = heading / term",
    "#show: x => none",
    "#set page(fill: red)",
    "#eval(\"1\")",
    "'single' ... -- --- ~ non-breaking",
    "https://not.linked.example is words",
    "#let x = 1; #x",
    "#\"a\" + #\"b\"",
    "\\#raw \\",
    "%PDF-1.7 endstream endobj",
    "Wälzlager ø 40 µm ± 0,6 “quotes” — dash…",
    "x\u{200B}y\u{AD}z",
    "a\u{2003}b\u{3000}c",
    "𝄞 or whatever the typefaces lack",
];

/// The notes as they are shown: without marks of `CommonMark`, since none of the letters is one
/// when it stands in code.
fn as_code(text: &str) -> String {
    format!("``` \n{text}\n```\n")
}

#[test]
fn code_comes_out_as_the_letters_typed() {
    let press = Press::new();
    let notes: Vec<String> = LETTERS.iter().map(|text| as_code(text)).collect();
    let texts: Vec<(String, String)> = notes
        .into_iter()
        .map(|notes| {
            let typst = press.convert("n", &notes).typst;
            assert_eq!(complaint(&typst), None, "{notes}");
            (notes, typst)
        })
        .collect();
    for (page, letters) in press.must_set(&texts).iter().zip(LETTERS) {
        if letters.chars().all(|c| press.covers(c)) {
            assert_eq!(*page, without_spaces(letters));
        }
    }
}

#[test]
fn code_in_any_place_of_the_notes_stays_letters() {
    let press = Press::new();
    let mut texts = Vec::new();
    for (index, text) in LETTERS.iter().enumerate() {
        let line = text.replace('|', "");
        let notes = format!(
            "# {text}\n\n{text}\n\n> {text}\n\n- {text}\n\n1. {text}[^{index}]\n\n`{text}`\n\n    {text}\n\n\
             [{text}](<{line}>)\n\n![{text}](<{line}>)\n\n![{text}](here.png '{line}')\n\n\
             |{line}|\n|-|\n|{line}|\n\n[^{index}]: {text}\n\n<div {text}>\n\n<b {text}>\n\n[^un{text}]: x\n"
        );
        let typst = press.convert(&format!("n{index}"), &notes).typst;
        assert_eq!(complaint(&typst), None, "{notes}");
        texts.push((notes, typst));
    }
    press.must_set(&texts);
}

#[test]
fn every_odd_character_can_be_set() {
    let press = Press::new();
    let odd = ('\0'..='\u{2FF}')
        .chain('\u{600}'..='\u{6FF}')
        .chain('\u{2000}'..='\u{2BFF}')
        .chain('\u{3000}'..='\u{303F}')
        .chain('\u{FE00}'..='\u{FE2F}')
        .chain('\u{FFE0}'..='\u{FFFF}')
        .chain(['\u{E000}', '\u{1F527}', '\u{E0061}', '\u{E0100}', '\u{10FFFF}']);
    let texts: Vec<(String, String)> = odd
        .collect::<Vec<char>>()
        .chunks(64)
        .map(|chunk| {
            let words: Vec<String> = chunk.iter().map(|c| format!("a{c}b")).collect();
            let notes = format!("{}\n\n`{}`\n", words.join(" "), words.join(" "));
            let typst = press.convert("n", &notes).typst;
            assert_eq!(complaint(&typst), None);
            (notes, typst)
        })
        .collect();
    press.must_set(&texts);
}

#[test]
fn other_scripts_can_be_set() {
    let press = Press::new();
    let notes = "שלום **עולם** 0.6, العربية [رابط](http://x.example), 日本語のノート、中文 한국어\n\n\
                 - ไทย हिन्दी\n- 👨\u{200D}🔧 ⚙\u{FE0F} e\u{301}\n";
    let typst = press.convert("n", notes).typst;
    press.must_set(&[(notes.to_owned(), typst)]);
}

#[test]
fn the_deepest_nesting_that_is_written_can_be_set_in_a_template() {
    let press = Press::new();
    let emphasis = "*a **b ~~c ".repeat(5) + "end" + &"~~ ** *".repeat(5);
    let foot = |n: u32, mark: &str| format!("[^{n}]: {} {emphasis}{mark}\n\n", ">".repeat(12));
    for notes in [
        format!("{} {emphasis}\n", ">".repeat(10_000)),
        format!("{}{emphasis}\n", "- ".repeat(10_000)),
        format!("{}{emphasis}\n", "1. ".repeat(1_000)),
        format!("{}{emphasis}\n", "> - 1. ".repeat(1_000)),
        format!(
            "{} [^1]\n\n{}{}{}{}",
            ">".repeat(12),
            foot(1, "[^2]"),
            foot(2, "[^3]"),
            foot(3, "[^4]"),
            foot(4, "")
        ),
        format!("{}|a|\n{}|-|\n", "> ".repeat(12), "> ".repeat(12)),
        format!("{}![p](here.png 'c')\n", "> ".repeat(12)),
    ] {
        let typst = press.convert("n", &notes).typst;
        assert_eq!(complaint(&typst), None);
        let in_template = format!(
            "#show par: it => block(it)\n#show quote: it => block(inset: 2pt, it)\n\
             #grid(columns: (1fr, 3cm), block[#block[{typst}]])"
        );
        press.must_set(&[(notes.chars().take(60).collect(), in_template)]);
    }
}

#[test]
fn time_grows_with_the_length_of_the_notes() {
    let press = Press::new();
    let piece = "# h\n\nText *with* [link][r] and `code`[^1], ![p](here.png).\n\n> - a\n> - b\n\n\
                 |a|b|\n|-|-|\n|1|2|\n\n<b>x</b> [x][y] \u{7}\n\n";
    let foot = "[^1]: foot\n\n[r]: http://x.example\n";
    let convert = |times: usize| {
        let notes = piece.repeat(times) + foot;
        let start = Instant::now();
        let _ = press.convert("n", &notes);
        start.elapsed()
    };
    convert(10);
    let (short, long) = (convert(500), convert(5_000));
    // Ten times the length; an algorithm in its square would need a hundred times the time.
    assert!(long < short * 40 + Duration::from_millis(200), "{short:?} and {long:?}");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2_000))]

    #[test]
    fn no_text_becomes_code(notes in any::<String>()) {
        prop_assert_eq!(complaint(&convert_bare(&notes)), None);
    }

    #[test]
    fn no_text_in_the_marks_of_both_languages_becomes_code(
        notes in r#"([#*_~`\[\]()<>{}$@!&;:\\"'/|=+^0-9.\- \n\tax-]|\[\^a\]|!\[|\]\(|```|~~~|https://|<!--|-->|\| - \||&quot;|&#34;|\u{7}|\u{202e}|\u{0}){0,60}"#
    ) {
        prop_assert_eq!(complaint(&convert_bare(&notes)), None);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn any_text_can_be_set(
        notes in prop::collection::vec(
            r"([#*_~`\[\]()<>|=+^0-9.\- \n\tax-]|\[\^a\]|!\[a\]\(here\.png\)|\]\(http://x\)|```|\n\|a\|b\|\n\|-\|-\|\n|\n\n\[\^a\]: |\n> |\n- |\n1\. |\PC|\u{7}|\u{202e}){0,60}",
            20,
        )
    ) {
        let press = Press::new();
        let texts: Vec<(String, String)> = notes
            .into_iter()
            .enumerate()
            .map(|(index, notes)| {
                let typst = press.convert(&format!("n{index}"), &notes).typst;
                (notes, typst)
            })
            .collect();
        press.must_set(&texts);
    }
}

/// Converts without typefaces.
fn convert_bare(notes: &str) -> String {
    let rules = asfound::notes::Rules {
        name: "any name",
        heading_level: 2,
        image: &|target| (target.len() % 2 == 0).then(|| target.to_owned()),
        covers: &|c| !u32::from(c).is_multiple_of(3),
    };
    asfound::notes::to_typst(notes, &rules).typst
}
