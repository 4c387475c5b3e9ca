//! Tables, footnotes, strikethrough and task lists, in one another and across pages.

use crate::press::Press;
use crate::syntax::complaint;

/// Each of these is set by itself and all of them in one document.
const NOTES: [&str; 17] = [
    "- [x] done\n- [ ] open\n\n1. [x] one\n   - [ ] two\n",
    "| a | b |\n|:--|--:|\n| ~~1~~ | `2` |\n",
    "| only a head |\n|-|\n",
    "| [a](http://b.example) | c[^t] |\n|-|-|\n| [d](http://e.example) | f[^t] |\n\n[^t]: g\n",
    "a[^a] again[^a]\n\n[^a]: first[^b]\n[^b]: second, back to [^a]\n",
    "a[^self]\n\n[^self]: in itself[^self]\n",
    "a[^x]\n\n[^x]: # head\n\n    > quote\n\n    - list\n\n    ```\n    code\n    ```\n\n    |t|\n    |-|\n    |c|\n\n    ![p](here.png)\n",
    "# head[^h]\n\n## [linked](http://x.example)\n\n[^h]: foot\n",
    "[words[^l] ![p](here.png)](http://x.example)\n\n[^l]: foot\n",
    "![p](here.png)\n\n![p](here.png \"caption\")\n\ntext ![p](here.png) text\n",
    "> # head\n> ![p](here.png \"caption\")\n>\n> |t|\n> |-|\n> |c|\n>\n> ---\n",
    "- # head\n- ![p](here.png)\n\n  ![p](here.png \"caption\")\n\n  |t|\n  |-|\n  |c|\n\n  ---\n-\n",
    "| ![p](here.png) | b |\n|-|-|\n| ![p](here.png) | a<br>b |\n",
    "# ![p](here.png)\n\n# [^f]\n\n#\n\n# &nbsp;\n\n# <!-- -->\n\n[^f]: foot\n",
    "[^never]: never\n\n[^never]: twice\n\n> [^quoted]: in a quote\n\n- [^listed]: in a list\n",
    "*a **b ~~c [d *e*](http://f.example) `g` ![h](here.png)~~***\n",
    "a  \nb\\\nc\n***\n\n```rust\nfn main() {}\n```\n\n    indented\n\n\tagain\n\n<div>\n\n</div>\n",
];

#[test]
fn extensions_are_set_within_one_another() {
    let press = Press::new();
    let texts: Vec<(String, String)> = NOTES
        .iter()
        .enumerate()
        .map(|(index, notes)| {
            let typst = press.convert(&format!("n{index}"), notes).typst;
            assert_eq!(complaint(&typst), None, "{notes}");
            ((*notes).to_owned(), typst)
        })
        .collect();
    press.must_set(&texts);
}

#[test]
fn what_is_typed_is_what_is_set() {
    let press = Press::new();
    for (notes, letters) in [
        ("- [x] done\n- [ ] open\n", "[x]done[]open"),
        ("| a | b |\n|-|-|\n| ~~1~~ |\n| 2 | 3 | 4 |\n", "ab123"),
        ("a[^n] b[^n]\n\n[^n]: c *d*\n", "a1b11cd"),
        ("<b>x</b> &lt;", "<b>x</b><"),
        ("[a](javascript:b)", "a(javascript:b)"),
        ("a\n\n[^n]: b\n", "a[^n]:b"),
        ("7) a\n8) b\n", "7)a8)b"),
    ] {
        let pages = press.set(&[&press.convert("n", notes).typst]).unwrap();
        assert_eq!(pages, [letters], "{notes}");
    }
}

#[test]
fn a_long_table_goes_over_pages_with_its_head() {
    let press = Press::new();
    for head in ["| a | b |", "| [a](http://b.example) | c[^t] |"] {
        let rows = "| 1 | 2 |\n".repeat(200);
        let notes = format!("{head}\n|-|-|\n{rows}\n[^t]: foot\n");
        let typst = press.convert("n", &notes).typst;
        press.must_set(&[(notes, format!("#set page(height: 20cm)\n{typst}"))]);
    }
}
