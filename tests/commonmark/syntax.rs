//! Reads converted notes with Typst's own parser and proves that there is no code in them but
//! calls of known functions, and no text outside string literals.

use asfound::notes::CALLS;
use typst::syntax::{SyntaxKind, SyntaxNode, parse};

/// The kinds of syntax that converted notes are made of. There is no `Text`, no `Escape`, no
/// `Raw`, no `Equation`, no `Ref`, no `Label`, no `CodeBlock`, no keyword.
const KINDS: [SyntaxKind; 22] = [
    SyntaxKind::Markup,
    SyntaxKind::Space,
    SyntaxKind::Parbreak,
    SyntaxKind::Hash,
    SyntaxKind::FuncCall,
    SyntaxKind::FieldAccess,
    SyntaxKind::Dot,
    SyntaxKind::Ident,
    SyntaxKind::Args,
    SyntaxKind::LeftParen,
    SyntaxKind::RightParen,
    SyntaxKind::ContentBlock,
    SyntaxKind::LeftBracket,
    SyntaxKind::RightBracket,
    SyntaxKind::Named,
    SyntaxKind::Colon,
    SyntaxKind::Comma,
    SyntaxKind::Str,
    SyntaxKind::Array,
    SyntaxKind::Int,
    SyntaxKind::Numeric,
    SyntaxKind::Auto,
];

/// What is against the rule, or nothing.
pub(crate) fn complaint(typst: &str) -> Option<String> {
    let root = parse(typst);
    if let Some(error) = root.errors_and_warnings().0.first() {
        return Some(error.message.to_string());
    }
    look(&root)
}

fn look(node: &SyntaxNode) -> Option<String> {
    let kind = node.kind();
    let known = KINDS.contains(&kind) || matches!(kind, SyntaxKind::Bool | SyntaxKind::None);
    if !known {
        return Some(format!("{kind:?}: {}", node.clone().full_text()));
    }
    if kind == SyntaxKind::FuncCall {
        let callee = node.children().next()?.clone().full_text();
        if !CALLS.contains(&callee.as_str()) && callee != "table.header" {
            return Some(format!("calls {callee}"));
        }
    }
    // A name that is not called names an argument or a side.
    let bare = matches!(kind, SyntaxKind::Args | SyntaxKind::Array);
    let names = node.children().filter(|child| child.kind() == SyntaxKind::Ident);
    for name in names.filter(|_| bare) {
        let name = name.clone().full_text();
        if !["left", "center", "right"].contains(&name.as_str()) {
            return Some(format!("names {name}"));
        }
    }
    node.children().find_map(look)
}

#[test]
fn code_and_bare_text_are_complained_of() {
    for bad in [
        "text",
        "#par[text]",
        "#panic()",
        "#{1}",
        "$x$",
        "<a>",
        "@a",
        "`a`",
        "\\a",
        "#import \"x\"",
        "#par[#\"a\"#read(\"x\")]",
        "#raw(sys)",
        "#par[#\"a",
    ] {
        assert!(complaint(bad).is_some(), "{bad}");
    }
    assert_eq!(complaint("#par[#\"a\" #emph[#raw(\"b\")]]\n"), None);
}
