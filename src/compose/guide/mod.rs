//! The guide: what a person reads before and beside the machine, from the Markdown in `docs/guide`.
//!
//! What a measure gives, how it is computed and with which sources, and its cautions are the program's own words: they
//! are asked of the measures, as the report asks them. The figures of the worked claim are the demo session's; the
//! claim's text is written with placeholders and filled from the findings, and a test fills it anew (`tests/guide.rs`).

mod page;

use std::borrow::Cow;

pub use page::{Chapter, GuidePage, MeasureShown, ScreenPage};

use super::document::{DateShown, Markup, PaperFacts};
use super::page::{drawing, sealed};
use super::report::appendices::{general_methods, method};
use super::report::facts::paper_name;
use super::{ComposeError, Templates};
use crate::findings::sentences::{self, capital};
use crate::notes::{self, HtmlRules, Picture};
use crate::registry::{MEASURES, Registered};
use crate::session::{Date, Paper};
use crate::typeset::{Bundle, fonts};

/// The day of the guide, which is that of this version (`CHANGELOG.md`).
pub const DATE: Date = jiff::civil::date(2026, 11, 27);

/// The chapters up to the one of the measures, and after it.
const BEFORE: [&str; 4] = [
    include_str!("../../../docs/guide/begin.md"),
    include_str!("../../../docs/guide/filled/claim.md"),
    include_str!("../../../docs/guide/numbers.md"),
    include_str!("../../../docs/guide/measures.md"),
];
const AFTER: [&str; 1] = [include_str!("../../../docs/guide/keeping.md")];

/// The chapter to which what holds for every measure belongs.
const NUMBERS: &str = "What the numbers mean";

/// The demo session's charts that the guide shows, by the name that its text calls them by.
pub const FIGURES: [(&str, &str); 3] = [
    ("figures/arbor-runout-along.svg", include_str!("../../../docs/guide/figures/arbor-runout-along.svg")),
    ("figures/vibration-envelope.svg", include_str!("../../../docs/guide/figures/vibration-envelope.svg")),
    ("figures/summary.svg", include_str!("../../../docs/guide/figures/summary.svg")),
];

/// The guide's source for typesetting, with its figures.
pub fn paper(templates: &Templates, paper: Paper, program: &str) -> Result<Bundle, ComposeError> {
    let page = guide(paper, program, &|name, text, level| {
        let image = |target: &str| figure(target).map(|_| target.to_owned());
        let rules = notes::Rules { name, heading_level: level, image: &image, covers: &fonts::covers };
        Markup(notes::to_typst(text, &rules).typst)
    });
    let mut bundle = templates.compose("guide.typ", &page)?;
    for (name, svg) in FIGURES {
        bundle.add_asset(name, svg.as_bytes().to_vec());
    }
    Ok(bundle)
}

/// guide.html: the same in one file.
pub fn screen(templates: &Templates, program: &str) -> Result<String, ComposeError> {
    let guide = guide(Paper::A4, program, &|name, text, level| {
        let picture = |target: &str| match figure(target) {
            Some(_) => Picture::Shown(target.to_owned()),
            None => Picture::Unknown,
        };
        // A page's title is its first level, a chapter's is the second.
        let rules = HtmlRules { name, heading_level: level + 1, picture: &picture };
        Markup(drawn(notes::to_html(text, &rules)))
    });
    let sealed = sealed::sealed(templates)?;
    let page = ScreenPage {
        guide,
        faces: Markup(sealed.faces),
        style: Markup(sealed.style),
        script: Markup(sealed.script),
        policy: sealed.policy,
    };
    Ok(templates.fill("guide.html", &page)?.text)
}

fn figure(target: &str) -> Option<&'static str> {
    FIGURES.iter().find(|(name, _)| *name == target).map(|(_, svg)| *svg)
}

/// What becomes of a text: its name among all texts, itself, and the level of its highest heading.
type Convert<'a> = &'a dyn Fn(&str, &str, u8) -> Markup;

fn guide(paper: Paper, program: &str, convert: Convert<'_>) -> GuidePage {
    let mut chapters: Vec<Chapter> = BEFORE.iter().flat_map(|text| written(text, convert)).collect();
    for chapter in chapters.iter_mut().filter(|chapter| chapter.title == NUMBERS) {
        chapter.methods = general_methods();
    }
    if let Some(chapter) = chapters.last_mut() {
        chapter.measures = MEASURES.iter().map(|registered| measure(registered, convert)).collect();
    }
    chapters.extend(AFTER.iter().flat_map(|text| written(text, convert)));
    GuidePage {
        document: PaperFacts {
            title: "A guide to asfound".to_owned(),
            description:
                "From the first wobble to a settled claim: the worked demo session, the measures with their \
                          methods and sources, their limits"
                    .to_owned(),
            number: format!("Guide to {program}"),
            author: None,
            date: DateShown::from(DATE),
            paper: paper_name(paper).to_owned(),
            language: "en".to_owned(),
            program: program.to_owned(),
        },
        chapters,
    }
}

/// The chapters of a file: each begins with a heading of the first level.
fn written(text: &str, convert: Convert<'_>) -> Vec<Chapter> {
    let text = lines_as_typed(text);
    let parts = text.strip_prefix("# ").into_iter().flat_map(|rest| rest.split("\n# "));
    parts
        .map(|part| {
            let (title, body) = part.split_once('\n').unwrap_or((part, ""));
            let id = anchor(title);
            Chapter {
                title: title.to_owned(),
                body: convert(&id, body, 2),
                methods: Vec::new(),
                measures: Vec::new(),
                id,
            }
        })
        .collect()
}

/// A text with a line feed alone at the end of each line, also where it was checked out with another.
fn lines_as_typed(text: &str) -> Cow<'_, str> {
    if text.contains('\r') { Cow::Owned(text.replace("\r\n", "\n")) } else { Cow::Borrowed(text) }
}

fn measure(registered: &Registered, convert: Convert<'_>) -> MeasureShown {
    let measure = registered.measure;
    MeasureShown {
        id: measure.name().to_owned(),
        title: capital(measure.name()),
        body: convert(measure.name(), &lines_as_typed(registered.guide), 3),
        numbers: measure.whats().iter().map(|what| capital(what.words)).collect(),
        methods: measure.methods().iter().map(|text| method(text)).collect(),
        cautions: measure.cautions().iter().map(|text| sentences::full_stop(text)).collect(),
    }
}

/// A title as an address within the page.
fn anchor(title: &str) -> String {
    let plain = |c: char| if c.is_ascii_alphanumeric() { c.to_ascii_lowercase() } else { '-' };
    title.chars().map(plain).collect()
}

/// The pictures of a converted text as drawings: an image by its address would not have the page's faces.
fn drawn(mut html: String) -> String {
    for (name, svg) in FIGURES {
        let before = format!("<figure class=\"picture\"><img src=\"{name}\" alt=\"");
        let Some(start) = html.find(&before) else { continue };
        let Some((alt, after)) = html[start + before.len()..].split_once("\">") else { continue };
        let Some(drawing) = drawing::described(svg, alt) else { continue };
        let wide = if svg.starts_with("<svg width=\"504") { "full" } else { "text" };
        let figure = format!("<figure class=\"exhibit {wide}\"><div class=\"scroll\">{drawing}</div>{after}");
        html.replace_range(start.., &figure);
    }
    html
}
