//! What the notes say, and what comes of it.

use typst::syntax::parse;

use super::{Converted, RemarkKind, Rules, to_typst};

/// Converts with a picture `here.jpg` in the session.
fn convert(markdown: &str) -> Converted {
    to_typst(
        markdown,
        &Rules {
            name: "notes",
            heading_level: 2,
            image: &|target| (target == "here it is.jpg").then(|| "/session/1.jpg".to_owned()),
            covers: &|_| true,
        },
    )
}

fn typst(markdown: &str) -> String {
    convert(markdown).typst
}

fn kinds(markdown: &str) -> Vec<RemarkKind> {
    let remarks = convert(markdown).remarks;
    remarks.into_iter().map(|remark| remark.kind).collect()
}

#[test]
fn nothing_becomes_nothing() {
    for empty in ["", "\n\n", "   \t", "#", "[a]: /b"] {
        assert_eq!(typst(empty), "", "{empty:?}");
    }
}

#[test]
fn words_are_literals_and_marks_are_calls() {
    insta::assert_snapshot!(
        typst("The *arbor* ran __out__ ~~3~~ `0.6` thou  \nand\nmore &amp; \\*more\\*."),
        @r##"#par[#"The "#emph[#"arbor"]#" ran "#strong[#"out"]#" "#strike[#"3"]#" "#raw("0.6")#" thou"#linebreak()#"and" #"more & *more*."]"##
    );
}

#[test]
fn code_of_typst_and_of_templates_is_letters() {
    insta::assert_snapshot!(
        typst("#import \"x\": * $x$ {{ session.title }} {% raw %} #{ panic() } ] */ // @ref <tag> \\u{41}"),
        @r##"#par[#"#import \"x\": * $x$ {{ session.title }} {% raw %} #{ panic() } ] */ // @ref "#raw("<tag>")#" \\u{41}"]"##
    );
}

#[test]
fn headings_follow_without_a_gap_under_the_level_given() {
    let levels = |markdown: &str| -> Vec<String> {
        let typst = typst(markdown);
        let calls = typst.split("#heading(level: ").skip(1);
        calls.map(|call| call[..1].to_owned()).collect()
    };
    assert_eq!(levels("# a\n### b\n## c\n# d"), ["2", "3", "3", "2"]);
    assert_eq!(levels("#### a\n## b\n###### c"), ["2", "2", "3"]);
    assert_eq!(levels("# a\n## b\n### c\n#### d\n##### e\n###### f"), ["2", "3", "4", "5", "6", "6"]);
}

#[test]
fn a_heading_without_words_or_at_the_foot_of_a_page_is_no_heading() {
    assert_eq!(typst("# ![](x)"), "#par[#\"[Picture not found: x]\"]\n");
    assert!(!typst("a[^1]\n\n[^1]:\n    # b").contains("heading"));
    insta::assert_snapshot!(typst("> # quoted"), @r#"
    #quote(block: true)[#heading(level: 2, numbering: none, outlined: false, bookmarked: false)[#"quoted"]
    ]
    "#);
}

#[test]
fn lists_are_tight_or_loose_and_keep_their_numbers() {
    insta::assert_snapshot!(typst("- a\n- b\n  - c\n"), @r##"
    #list(tight: true, [#"a"], [#"b"#list(tight: true, [#"c"], )
    ], )
    "##);
    insta::assert_snapshot!(typst("- a\n\n- b\n"), @r#"
    #list(tight: false, [#par[#"a"]
    ], [#par[#"b"]
    ], )
    "#);
    insta::assert_snapshot!(typst("7. a\n8. b\n\n\n3) c\n"), @r#"
    #enum(tight: true, start: 7, [#"a"], [#"b"], )
    #enum(tight: true, start: 3, numbering: "1)", [#"c"], )
    "#);
    insta::assert_snapshot!(typst("- > a\n- b\n"), @r#"
    #list(tight: true, [#quote(block: true)[#par[#"a"]
    ]
    ], [#"b"], )
    "#);
}

#[test]
fn tasks_say_in_letters_whether_they_are_done() {
    insta::assert_snapshot!(typst("- [x] bearing\n- [ ] belt\n"), @r#"#list(tight: true, [#box[#"[x]"]#label("task-done") #"bearing"], [#box[#"[ ]"]#label("task-open") #"belt"], )"#);
}

#[test]
fn a_table_has_a_head_alignments_and_full_rows() {
    insta::assert_snapshot!(typst("|a|b|c|d|\n|-|:-|:-:|-:|\n|1|\n|1|2|3|4|5|\n"), @r#"#table(columns: 4, align: (auto, left, center, right, ), table.header([#"a"], [#"b"], [#"c"], [#"d"], ), [#"1"], [], [], [], [#"1"], [#"2"], [#"3"], [#"4"], )"#);
}

#[test]
fn a_head_with_a_link_is_not_repeated() {
    assert!(typst("|[a](http://b)|\n|-|\n").contains("table.header(repeat: false, "));
    assert!(typst("|a[^1]|\n|-|\n\n[^1]: b").contains("table.header(repeat: false, "));
}

#[test]
fn a_footnote_is_written_once_and_pointed_to_after() {
    insta::assert_snapshot!(typst("a[^n] b[^N]\n\n[^n]: words[^n]\n"), @r##"
    #par[#"a"#footnote[#"words"#footnote(label("notes-footnote-1"))
    ]#label("notes-footnote-1")#" b"#footnote(label("notes-footnote-1"))]
    "##);
}

#[test]
fn a_footnote_that_nothing_refers_to_is_not_lost() {
    insta::assert_snapshot!(typst("a\n\n[^n]: words\n\n[^n]: again\n\n[^m]: [^k]\n\n[^k]: k"), @r##"
    #par[#"a"]
    #par[#"[^n]: "#"words"]
    #par[#"[^n]: "#"again"]
    #par[#"[^m]: "#footnote[#"k"
    ]#label("notes-footnote-1")]
    "##);
    assert_eq!(
        kinds("[^n]: words\n\n[^n]: again\n"),
        [RemarkKind::FootnoteUnused, RemarkKind::FootnoteUnused]
    );
}

#[test]
fn only_web_and_mail_are_linked_and_other_addresses_are_written_out() {
    insta::assert_snapshot!(
        typst("[a](https://b.example/ü \"t\") <http://c.example> <d@e.example> [](http://f.example)"),
        @r##"#par[#link("https://b.example/%C3%BC")[#"a"]#" "#link("http://c.example")[#"http://c.example"]#" "#link("mailto:d@e.example")[#"d@e.example"]#" "#link("http://f.example")[#"http://f.example"]]"##
    );
    insta::assert_snapshot!(
        typst("[a](javascript:b) <javascript:c> [d](#e) [f]() [](g)"),
        @r##"#par[#"a"#" (javascript:b)"#" "#"javascript:c"#" "#"d"#" (#e)"#" "#"f"#" "#" (g)"]"##
    );
    assert_eq!(kinds("[a](javascript:b)"), [RemarkKind::LinkNotFollowed]);
}

#[test]
fn a_picture_alone_is_a_figure_and_in_a_line_a_box() {
    insta::assert_snapshot!(typst("![a *b*](here%20it%20is.jpg \"The #caption\")"), @r#"#figure(image("/session/1.jpg", alt: "a b"), numbering: none, caption: [#"The #caption"])"#);
    insta::assert_snapshot!(typst("see ![](<here it is.jpg>)"), @r##"#par[#"see "#box(image("/session/1.jpg", alt: "Picture here it is.jpg, not described"))]"##);
    assert_eq!(kinds("![](<here it is.jpg>)"), [RemarkKind::PictureUndescribed]);
}

#[test]
fn a_picture_that_is_not_there_is_named_in_words() {
    insta::assert_snapshot!(typst("![a](gone.jpg 't') ![b](https://c.example/d.png) ![]()"), @r##"#par[#"[Picture not found: a, gone.jpg, t]"#" "#"[Picture not fetched: b, https://c.example/d.png]"#" "#"[Picture not found]"]"##);
    let converted = convert("![a](gone.jpg) ![b](https://c.example/d.png)");
    let asked: Vec<_> = converted.images.iter().map(|image| &image.target).collect();
    assert_eq!(asked, ["gone.jpg"]);
    assert_eq!(converted.images[0].offset, 0..14);
}

#[test]
fn html_is_shown_as_typed() {
    insta::assert_snapshot!(typst("<div onclick=\"x\">\n  a\n</div>\n\nb <br> c"), @r##"
    #raw(block: true, "<div onclick=\"x\">\n  a\n</div>")
    #par[#"b "#raw("<br>")#" c"]
    "##);
    assert_eq!(kinds("<div>\n\nb <br>"), [RemarkKind::HtmlShown, RemarkKind::HtmlShown]);
}

#[test]
fn references_to_nothing_are_told_and_brackets_are_not() {
    assert_eq!(kinds("[a][b] [c][] [^d] [sic] [x](/y \\[^e] `[^f]`"), [RemarkKind::ReferenceUnknown; 3]);
}

#[test]
fn characters_that_cannot_be_printed_are_told_once() {
    let converted = convert("a\u{7} b\u{7} `c\u{202E}`");
    insta::assert_snapshot!(converted.typst, @r##"#par[#"a[U+0007] b[U+0007] "#raw("c[U+202E]")]"##);
    insta::assert_snapshot!(converted.remarks[0].message, @r#"these characters cannot be printed and are shown by their numbers: U+0007, U+202E"#);
    assert_eq!(converted.remarks.len(), 1);
}

#[test]
fn depth_is_bounded_and_nothing_is_lost() {
    for deep in [
        ">".repeat(10_000) + " end",
        "- ".repeat(10_000) + "end",
        "1. ".repeat(10_000) + "end",
        "> - ".repeat(5_000) + "end",
        "*a **b ".repeat(5_000) + "end" + &"** *".repeat(5_000),
        "[".repeat(10_000) + "end" + &"](http://x)".repeat(10_000),
        "![".repeat(10_000) + "end" + &"](x)".repeat(10_000),
    ] {
        let converted = convert(&deep);
        assert!(converted.typst.contains("end"), "{}", &deep[..20]);
        // Typst's parser gives up at 256 levels.
        let (errors, _) = parse(&converted.typst).errors_and_warnings();
        assert!(errors.is_empty(), "{}", &deep[..20]);
    }
    assert_eq!(kinds(&(">".repeat(8) + "a")), []);
    assert_eq!(kinds(&(">".repeat(9) + "a")), [RemarkKind::TooDeep]);
    insta::assert_snapshot!(typst(&("- ".repeat(10) + "end")), @r##"
    #list(tight: true, [#list(tight: true, [#list(tight: true, [#list(tight: true, [#list(tight: true, [#list(tight: true, [#list(tight: true, [#list(tight: true, [#parbreak()#parbreak()#"end"#parbreak()#parbreak()], )
    ], )
    ], )
    ], )
    ], )
    ], )
    ], )
    ], )
    "##);
}

#[test]
fn a_long_chain_of_footnotes_ends() {
    let chain: Vec<String> = (0..2_000).map(|n| format!("[^{n}]: to [^{}]\n\n", n + 1)).collect();
    let chain = chain.concat();
    let converted = convert(&format!("a[^0]\n\n{chain}"));
    assert_eq!(converted.typst.matches("#\"to ").count(), 2_000);
    let (errors, _) = parse(&converted.typst).errors_and_warnings();
    assert!(errors.is_empty(), "nested too deep for Typst");
}

#[test]
fn spaces_in_a_row_are_one_in_words_and_stay_in_code() {
    assert_eq!(typst("a  b\tc&#10;d `e  f`"), "#par[#\"a b c d \"#raw(\"e  f\")]\n");
}
