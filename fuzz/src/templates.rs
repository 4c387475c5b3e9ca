//! What a session types into every place of a report, filled into the templates: the source can be read by Typst, names
//! nothing that a harmless session's does not, and no text becomes code; the page has no script but its own.

use std::collections::BTreeSet;
use std::sync::OnceLock;

use super::{in_folder, quoted, read, texts};
use asfound::compose::Templates;
use asfound::notes::CALLS;
use typst::syntax::{SyntaxKind, SyntaxNode};

/// A session with these texts wherever a text may stand.
fn session(texts: &[String]) -> (String, String) {
    let at = |index: usize| quoted(texts.get(index % texts.len().max(1)).map_or("plain", String::as_str));
    let session = format!(
        "title: {}\nquestion: {}\nask: {}\nprepared_by: {}\nunits: metric\n\
         machines: {{m: {{name: {}, kind: {}, serial: {}, bought: 2026-01-20, seller: {}, coverage: [{{name: {}, lasts: 30 days, reference: {}}}]}}}}\n\
         instruments: {{i: {{name: {}, resolution: 0.1 s, accuracy: 0.2 s}}}}\n\
         events: [{{on: 2026-03-03, what: {}}}]\n\
         checks: {{c: {{measure: quantity, title: {}, instrument: i, unit: s, procedure: {}, limit: {{at_most: 5 s, source: {}}}}}}}\n",
        at(0),
        at(1),
        at(2),
        at(3),
        at(4),
        at(5),
        at(6),
        at(7),
        at(8),
        at(9),
        at(10),
        at(11),
        at(12),
        at(13),
        at(14)
    );
    let visit = format!(
        "title: {}\nstate: baseline\ndate: 2026-03-02\nby: {}\nconditions: {{stand: {}, {}: 20 \u{b0}C}}\n\
         readings: {{c: {{readings: [4.1, {{struck: 9, because: {}}}, 4.2]}}}}\n",
        at(15),
        at(16),
        at(17),
        at(18),
        at(19)
    );
    (session, visit)
}

/// Every name that stands in code, but for those that only say which argument a value is: a list that begins at 4 has one more.
fn names(node: &SyntaxNode, list: &mut BTreeSet<String>) {
    if matches!(node.kind(), SyntaxKind::Ident | SyntaxKind::MathIdent) {
        list.insert(node.leaf_text().to_string());
    }
    let of_argument = usize::from(node.kind() == SyntaxKind::Named);
    for child in node.children().skip(of_argument) {
        names(child, list);
    }
}

/// The names in the report's source, and its page; none where the session has errors.
fn composed(given: &[String]) -> Option<(BTreeSet<String>, String)> {
    let (session, visit) = session(given);
    in_folder(&[("session.yaml", session.as_bytes()), ("visits/v/visit.yaml", visit.as_bytes())], |folder| {
        let (session, findings, mut problems) = read(folder)?;
        let built = asfound::commands::build(&session, &findings, &Templates::embedded(), &mut problems);
        let built = built.unwrap_or_else(|error| panic!("a session without errors has no report: {error}"));
        let source = typst::syntax::parse(&built.bundle.main.text);
        assert!(!source.diagnosis().errors, "{}", built.bundle.main.text);
        let mut list = BTreeSet::new();
        names(&source, &mut list);
        Some((list, built.page))
    })
}

static PLAIN: OnceLock<(BTreeSet<String>, String)> = OnceLock::new();

/// Tries what a fuzzer wrote.
pub fn run(bytes: &[u8]) {
    let (plain, plain_page) =
        PLAIN.get_or_init(|| composed(&["plain".to_owned()]).expect("a harmless session"));
    let Some((names, page)) = composed(&texts(bytes)) else { return };
    for name in names {
        assert!(plain.contains(&name) || CALLS.contains(&name.as_str()), "'{name}' stands in code");
    }
    let scripts = |page: &str| page.to_lowercase().matches("<script").count();
    assert_eq!(scripts(&page), scripts(plain_page), "the page has a script of somebody else's");
}
