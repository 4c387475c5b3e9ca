//! Notes in Markdown, to Typst source and to HTML: what comes out is sound and calls nothing that the notes wrote.

use asfound::notes::{CALLS, HtmlRules, Picture, Rules, to_html, to_typst};
use typst::syntax::SyntaxNode;
use typst::syntax::ast::{self, AstNode};

/// Every function that is called in a piece of Typst source.
fn calls(node: &SyntaxNode, list: &mut Vec<String>) {
    if let Some(call) = node.cast::<ast::FuncCall>() {
        list.push(match call.callee() {
            ast::Expr::Ident(name) => name.as_str().to_owned(),
            ast::Expr::FieldAccess(access) => access.to_untyped().full_text().to_string(),
            other => format!("{other:?}"),
        });
    }
    for child in node.children() {
        calls(child, list);
    }
}

/// Tries what a fuzzer wrote.
pub fn run(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    let image = |target: &str| (target.len().is_multiple_of(2)).then(|| "/here.png".to_owned());
    let rules = Rules { name: "notes", heading_level: 2, image: &image, covers: &|c| c < '\u{3000}' };
    let converted = to_typst(text, &rules);
    let source = typst::syntax::parse(&converted.typst);
    assert!(!source.diagnosis().errors, "{}", converted.typst);
    let mut called = Vec::new();
    calls(&source, &mut called);
    for name in called {
        let known = CALLS.contains(&name.as_str()) || name == "table.header";
        assert!(known, "{name} is called in {}", converted.typst);
    }
    for remark in &converted.remarks {
        assert!(text.get(remark.range.clone()).is_some(), "{remark:?}");
    }
    let picture = |target: &str| {
        if target.len().is_multiple_of(2) { Picture::Shown("here.png".to_owned()) } else { Picture::Unknown }
    };
    let html = to_html(text, &HtmlRules { name: "notes", heading_level: 2, picture: &picture });
    assert!(!html.contains("<script"), "{html}");
    let _ = asfound::notes::prose::blocks(text);
    for line in text.lines().take(40) {
        let _ = (asfound::script::ask::placeholders(line), asfound::typed::find::numbers(line));
    }
}
