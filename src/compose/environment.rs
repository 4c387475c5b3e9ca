//! The templates: minijinja's environment as this program sets it up.
//!
//! `report.typ` and what it includes are filled in by minijinja; what they import (`house.typ`) is
//! plain Typst. Every value is written as a Typst literal, so that what a user typed is never code.
//! Only a value that is marked safe is written as it is: notes that `notes/` has turned into Typst,
//! and what a template's own macro made. In a template that ends in `.html` every value is written as
//! HTML's text instead.

use std::borrow::Cow;
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::Path;

use minijinja::syntax::SyntaxConfig;
use minijinja::value::Serde;
use minijinja::{AutoEscape, Environment, Error, OutputSpanKind, UndefinedBehavior, Value};
use serde::Serialize;

use super::html;
use super::own::Own;
use super::values;
use crate::typeset::{Bundle, Main, Origin};

macro_rules! embedded {
    ($($name:literal),* $(,)?) => {
        &[$(($name, include_str!(concat!("../../templates/", $name)))),*]
    };
}

/// The templates that the program brings along, by name.
pub const EMBEDDED: &[(&str, &str)] = embedded![
    "report.typ",
    "letter.typ",
    "sheet.typ",
    "script.typ",
    "shelf.typ",
    "history.typ",
    "guide.typ",
    "instrument.typ",
    "house.typ",
    "tables.typ",
    "blocks.typ",
    "listings.typ",
    "sections/answer.typ",
    "sections/machine.typ",
    "sections/instruments.typ",
    "sections/check.typ",
    "sections/comparisons.typ",
    "sections/notes.typ",
    "sections/photos.typ",
    "sections/appendices.typ",
    "sections/attachments.typ",
    "measures/run-out.typ",
    "measures/temperature.typ",
    "measures/sound.typ",
    "measures/vibration.typ",
    "measures/load.typ",
    "measures/speed.typ",
    "measures/quantity.typ",
    "measures/straightness.typ",
    "measures/flatness.typ",
    "measures/parallelism.typ",
    "measures/squareness.typ",
    "measures/parts.typ",
    "marks.typ",
    "correspondence.typ",
    "writable.typ",
    "cues.typ",
    "catalogue.typ",
    "handbook.typ",
    "still.typ",
    "screen.typ",
];

/// The templates of the page, which no PDF is made of. `page.html` is filled in; the other two stand in it
/// as they are.
pub const FOR_SCREEN: &[(&str, &str)] =
    embedded!["page.html", "page/parts.html", "page/tables.html", "page.css", "page.js", "guide.html"];

/// The program's own template of a name.
fn shipped(name: &str) -> Option<&'static str> {
    let mut all = EMBEDDED.iter().chain(FOR_SCREEN);
    all.find(|(known, _)| *known == name).map(|(_, text)| *text)
}

/// The names of all templates.
pub(super) fn names() -> impl Iterator<Item = &'static str> {
    EMBEDDED.iter().chain(FOR_SCREEN).map(|(name, _)| *name)
}

/// Why a document could not be composed.
#[derive(Debug, thiserror::Error)]
pub enum ComposeError {
    /// A template is at fault, or asks for a value that is not there.
    #[error("{}", described(.0))]
    Template(#[from] Error),
    /// The folder of one's own templates cannot be read.
    #[error("the templates folder {folder} cannot be read: {cause}")]
    Folder {
        /// The folder as it was given.
        folder: String,
        /// What the system says.
        cause: std::io::Error,
    },
}

/// An error of minijinja where it arose: template, line, column, the line itself, a caret; then the
/// templates that include it.
fn described(error: &Error) -> String {
    let mut chain = vec![error];
    let mut cause = std::error::Error::source(error);
    let mut causes = Vec::new();
    while let Some(inner) = cause {
        match inner.downcast_ref::<Error>() {
            Some(inner) if inner.name().is_some() => chain.push(inner),
            _ => causes.push(inner.to_string()),
        }
        cause = inner.source();
    }
    let innermost = chain.pop().unwrap_or(error);
    let mut text = at(innermost).map_or_else(String::new, |at| format!("{at}: "));
    let _ = write!(text, "{}", innermost.kind());
    if let Some(detail) = innermost.detail() {
        let _ = write!(text, ": {detail}");
    }
    if let (Some(source), Some(range)) = (innermost.template_source(), innermost.range()) {
        let (line, column) = place(source, range.start);
        let shown = source.lines().nth(line - 1).unwrap_or_default();
        let indent = shown.chars().take_while(|letter| letter.is_whitespace()).count();
        let before: String = " ".repeat((column - 1).saturating_sub(indent));
        let _ = write!(text, "\n  {}\n  {before}^", shown.trim());
    } else if let Some(line) = innermost
        .line()
        .zip(innermost.template_source())
        .and_then(|(n, source)| source.lines().nth(n.checked_sub(1)?))
    {
        let _ = write!(text, "\n  {}", line.trim());
    }
    for outer in chain.iter().rev().filter_map(|outer| at(outer)) {
        let _ = write!(text, "\n  included at {outer}");
    }
    for cause in causes {
        let _ = write!(text, "\n  because: {cause}");
    }
    text
}

/// `template:line:column` of an error.
fn at(error: &Error) -> Option<String> {
    let mut text = error.name()?.to_owned();
    if let Some(line) = error.line() {
        let _ = write!(text, ":{line}");
        if let (Some(source), Some(range)) = (error.template_source(), error.range()) {
            let _ = write!(text, ":{}", place(source, range.start).1);
        }
    }
    Some(text)
}

/// The line and column, both counted from 1, of a byte in a text.
fn place(text: &str, byte: usize) -> (usize, usize) {
    place_among(text, &line_begins(text), byte)
}

/// The bytes at which the lines of a text begin.
fn line_begins(text: &str) -> Vec<usize> {
    std::iter::once(0).chain(text.match_indices('\n').map(|(at, _)| at + 1)).collect()
}

fn place_among(text: &str, begins: &[usize], byte: usize) -> (usize, usize) {
    let line = begins.partition_point(|begin| *begin <= byte).max(1);
    let begin = begins.get(line - 1).copied().unwrap_or(0);
    let column = text.get(begin..byte).map_or(0, |before| before.chars().count()) + 1;
    (line, column)
}

/// The templates in use: those embedded, each replaced by one of the same name in a folder of one's own.
pub struct Templates {
    environment: Environment<'static>,
    own: Own,
}

impl std::fmt::Debug for Templates {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Templates").field("own", &self.own).finish_non_exhaustive()
    }
}

impl Templates {
    /// The program's own templates.
    pub fn embedded() -> Self {
        Self::with(Own::default())
    }

    /// The program's own templates, each replaced by one of the same name in this folder.
    pub fn with_folder(folder: &Path) -> Result<Self, ComposeError> {
        Self::with_folders(&[folder])
    }

    /// The program's own templates, each replaced by one of the same name in the first of these folders
    /// that has one. Nothing outside the folders is ever read, links followed.
    pub fn with_folders(folders: &[&Path]) -> Result<Self, ComposeError> {
        Ok(Self::with(Own::of(folders)?))
    }

    /// What a person should know of the folders: templates that replace nothing.
    pub fn misnamed(&self) -> Vec<String> {
        self.own.misnamed()
    }

    /// Every file of the folders in use that lie outside of `root` (a session's folder, resolved), with its SHA-256.
    pub fn outside(&self, root: &Path) -> Vec<(String, String)> {
        self.own.outside(root)
    }

    fn with(own: Own) -> Self {
        let mut environment = Environment::new();
        environment.set_undefined_behavior(UndefinedBehavior::Strict);
        environment.set_syntax(syntax());
        // What a macro or a captured block made is then marked safe, and nothing else is.
        environment.set_auto_escape_callback(|name| {
            let for_screen = Path::new(name).extension().is_some_and(|ending| ending == "html");
            if for_screen { AutoEscape::Html } else { AutoEscape::Custom("typst".into()) }
        });
        environment.set_formatter(|out, state, value| match state.auto_escape() {
            AutoEscape::Html => html::write(out, value),
            _ => values::write(out, value),
        });
        environment.add_filter("exact", values::exact);
        environment.add_filter("attachment_name", values::attachment_name);
        html::add_helpers(&mut environment);
        let folders = own.clone();
        environment.set_loader(move |name| source(&folders, name));
        Self { environment, own }
    }

    /// Fills in a template with the values of a view model.
    pub fn fill(&self, name: &str, view: &impl Serialize) -> Result<Main, ComposeError> {
        let template = self.environment.get_template(name)?;
        let (text, spans) = template.render_with_spans(Value::from(Serde(view)))?;
        let mut origins = Vec::with_capacity(spans.len());
        // A template is in hundreds of places: where its lines begin is looked up once.
        let mut begins: BTreeMap<String, Vec<usize>> = BTreeMap::new();
        for span in spans {
            let source = self.environment.get_template(span.name())?;
            let begins = begins.entry(span.name().to_owned()).or_insert_with(|| line_begins(source.source()));
            let (line, column) = place_among(source.source(), begins, span.source_range().start);
            origins.push(Origin {
                template: span.name().to_owned(),
                made: span.output_range(),
                line,
                column,
                verbatim: span.kind() == OutputSpanKind::Raw,
            });
        }
        Ok(Main { text, origins })
    }

    /// The text of a template as it stands, such as a style sheet; empty where there is none.
    pub fn text(&self, name: &str) -> Result<String, ComposeError> {
        Ok(source(&self.own, name)?.unwrap_or_default())
    }

    /// Fills in a template and puts beside it the plain Typst sources that it may import. The
    /// caller adds the assets.
    pub fn compose(&self, name: &str, view: &impl Serialize) -> Result<Bundle, ComposeError> {
        let main = self.fill(name, view)?;
        let mut sources = BTreeMap::new();
        let beside = self.own.beside();
        for (name, text) in beside.sources {
            sources.insert(name, Cow::Owned(text));
        }
        for &(name, text) in EMBEDDED {
            let text = self.own.source(name)?.map_or(Cow::Borrowed(text), Cow::Owned);
            sources.insert(name.to_owned(), text);
        }
        let mut bundle = Bundle { main, sources, assets: BTreeMap::new() };
        for (name, bytes) in beside.assets {
            bundle.add_asset(name, bytes);
        }
        Ok(bundle)
    }
}

/// Tags on lines of their own leave no blank line, which would end a paragraph in Typst.
fn syntax() -> SyntaxConfig {
    SyntaxConfig::builder()
        .keep_trailing_newline(true)
        .trim_blocks(true)
        .lstrip_blocks(true)
        .build()
        .expect("the usual delimiters do not clash")
}

fn source(own: &Own, name: &str) -> Result<Option<String>, Error> {
    if let Some(text) = own.source(name)? {
        return Ok(Some(text));
    }
    Ok(shipped(name).map(str::to_owned))
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use minijinja::context;

    /// A folder with one template in it.
    fn folder(name: &str, text: &str) -> tempfile::TempDir {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join(name);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(path, text).unwrap();
        folder
    }

    fn fill(template: &str, values: &Value) -> Result<String, ComposeError> {
        let folder = folder("t.typ", template);
        Templates::with_folder(folder.path())?.fill("t.typ", &values).map(|main| main.text)
    }

    #[test]
    fn every_value_is_written_as_a_literal() {
        let values = context! {
            text => "#panic()", n => 3, less => -3, x => 0.5, yes => true, nothing => (),
            list => vec!["a"], empty => Vec::<u8>::new(), map => context! { k => "]" },
        };
        let template =
            "{{ text }} {{ n }} {{ less }} {{ x }} {{ yes }} {{ nothing }} {{ list }} {{ empty }} {{ map }}";
        assert_eq!(
            fill(template, &values).unwrap(),
            r#""\u{23}panic()" 3 (-3) 0.5 true none ("a", ) () ("k": "\u{5d}", )"#
        );
    }

    #[test]
    fn template_code_in_a_value_is_text() {
        assert_eq!(
            fill("{{ x }}", &context! { x => "{{ 7*7 }}" }).unwrap(),
            r#""\u{7b}\u{7b} 7\u{2a}7 \u{7d}\u{7d}""#
        );
    }

    #[test]
    fn what_is_marked_safe_is_written_as_it_is_and_as_content_within_a_value() {
        let safe = Value::from_safe_string("*bold*".to_owned());
        assert_eq!(
            fill("{{ x }} {{ y }}", &context! { x => safe.clone(), y => vec![safe] }).unwrap(),
            "*bold* ([*bold*], )"
        );
    }

    #[test]
    fn a_macro_s_output_is_code_and_its_arguments_are_literals() {
        let template = "{% macro f(x) %}#f({{ x }}){% endmacro %}{{ f(x) }}";
        assert_eq!(fill(template, &context! { x => "]#g()" }).unwrap(), r#"#f("\u{5d}\u{23}g()")"#);
    }

    #[test]
    fn text_joined_to_safe_text_is_a_literal_beside_it() {
        let safe = Value::from_safe_string("#a".to_owned());
        let made = fill("{{ safe ~ x }}", &context! { safe, x => "#b" }).unwrap();
        assert_eq!(made, "#a\"\\u{23}b\"");
    }

    #[test]
    fn a_value_that_is_not_there_is_an_error_with_its_place() {
        let error = fill("first\n  {{ session.titel }}", &context! { session => context! {} }).unwrap_err();
        assert_eq!(
            error.to_string(),
            "t.typ:2:6: undefined value: `session.titel` is undefined\n  {{ session.titel }}\n     ^"
        );
    }

    #[test]
    fn an_unknown_number_is_an_error_and_never_printed() {
        assert!(fill("{{ x }}", &context! { x => f64::NAN }).is_err());
    }

    #[test]
    fn a_template_outside_the_folder_is_refused() {
        for name in ["../secret.typ", "/etc/hostname", "a/../../b.typ", "..\\b.typ"] {
            let folder = folder("t.typ", &format!("{{% include {name:?} %}}"));
            let error = Templates::with_folder(folder.path()).unwrap().fill("t.typ", &()).unwrap_err();
            assert!(error.to_string().contains("inside the templates folder"), "{error}");
        }
    }

    #[test]
    fn an_error_in_what_is_included_is_shown_where_it_stands() {
        let folder = folder("sections/in.typ", "a\n    {{ gone }}");
        std::fs::write(folder.path().join("t.typ"), "b {% include 'sections/in.typ' %}").unwrap();
        let error =
            Templates::with_folder(folder.path()).unwrap().fill("t.typ", &()).unwrap_err().to_string();
        assert!(
            error.starts_with("sections/in.typ:2:8: undefined value")
                && error.contains("\n  {{ gone }}\n     ^"),
            "{error}"
        );
        assert!(error.contains("included at t.typ:1"), "{error}");
    }

    #[test]
    fn the_first_folder_wins_and_what_replaces_nothing_stands_ready() {
        let (first, second) = (folder("marks.typ", "first"), folder("marks.typ", "second"));
        std::fs::write(second.path().join("logo.png"), [1, 2, 3]).unwrap();
        std::fs::write(second.path().join("mine.typ"), "#let x = 1").unwrap();
        std::fs::write(first.path().join("report.typ"), "r").unwrap();
        let templates = Templates::with_folders(&[first.path(), second.path()]).unwrap();
        let bundle = templates.compose("report.typ", &()).unwrap();
        assert_eq!(bundle.sources["marks.typ"], "first");
        assert_eq!(bundle.sources["mine.typ"], "#let x = 1");
        assert_eq!(bundle.assets["logo.png"].as_slice(), [1, 2, 3]);
        assert_eq!(bundle.main.text, "r");
    }

    #[test]
    fn a_template_called_nearly_like_one_is_pointed_out() {
        let folder = folder("sections/anser.typ", "");
        let said = Templates::with_folder(folder.path()).unwrap().misnamed();
        assert_eq!(said, ["sections/anser.typ replaces no template; did you mean sections/answer.typ?"]);
    }

    #[cfg(unix)]
    #[test]
    fn a_link_that_leads_out_of_the_folder_is_refused() {
        let outside = folder("secret.typ", "secret");
        let folder = folder("t.typ", "{% include 'link.typ' %}");
        std::os::unix::fs::symlink(outside.path().join("secret.typ"), folder.path().join("link.typ"))
            .unwrap();
        let error = Templates::with_folder(folder.path()).unwrap().fill("t.typ", &()).unwrap_err();
        assert!(error.to_string().contains("leads out of the templates folder"), "{error}");
    }

    #[test]
    fn each_stretch_of_the_composed_source_is_led_back_to_its_template() {
        let folder = folder("t.typ", "one\n#f({{ x }}) two");
        let main =
            Templates::with_folder(folder.path()).unwrap().fill("t.typ", &context! { x => "é" }).unwrap();
        let places: Vec<_> = main
            .origins
            .iter()
            .map(|origin| (&main.text[origin.made.clone()], origin.line, origin.column, origin.verbatim))
            .collect();
        assert_eq!(places, [("one\n#f(", 1, 1, true), ("\"é\"", 2, 7, false), (") two", 2, 11, true)]);
    }

    #[test]
    fn no_minijinja_tag_stands_in_a_template_that_is_plain_typst() {
        for &(name, text) in EMBEDDED {
            let filled = [
                "report.typ",
                "letter.typ",
                "sheet.typ",
                "script.typ",
                "shelf.typ",
                "history.typ",
                "instrument.typ",
                "guide.typ",
                "still.typ",
            ];
            if !name.contains('/') && !filled.contains(&name) {
                assert!(!text.contains("{{") && !text.contains("{%") && !text.contains("{#"), "{name}");
            }
        }
    }
}
