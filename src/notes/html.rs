//! Notes for a page that is read on a screen: `CommonMark` becomes HTML.
//!
//! What holds for paper holds here: HTML is shown as typed, only `http`, `https` and `mailto` are linked,
//! nothing is fetched, and nothing typed is left out. The tags come from pulldown-cmark's own writer;
//! what it would write with an attribute of style, an unsafe address or an id of the user's choosing is
//! written here, with every letter of the notes escaped.

use std::fmt::Write as _;
use std::ops::Range;

use pulldown_cmark::{Alignment, CodeBlockKind, CowStr, Event, HeadingLevel, LinkType, Tag};

use super::address;
use super::plan::{self, Plan};
use super::visible::visible;

/// What a page asks of the notes that are set in it.
pub struct HtmlRules<'a> {
    /// A name that no other notes of the same page have; it keeps their footnotes apart. Letters, digits
    /// and hyphens only.
    pub name: &'a str,
    /// The level, 1 to 6, that the highest heading of the notes becomes.
    pub heading_level: u8,
    /// What becomes of a picture, by its target as written.
    pub picture: &'a dyn Fn(&str) -> Picture,
}

/// What becomes of a picture.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Picture {
    /// It stands in the page, under this address.
    Shown(String),
    /// It does not; this says where it is.
    Elsewhere(String),
    /// There is none of that name.
    Unknown,
}

/// Converts `markdown` to HTML that may stand in a block. Takes any text.
pub fn to_html(markdown: &str, rules: &HtmlRules<'_>) -> String {
    let plan = plan::read(markdown);
    let mut writer = Writer {
        plan: &plan,
        rules,
        out: Vec::with_capacity(plan.events.len()),
        closers: Vec::new(),
        headings: Vec::new(),
        table: TableAt::default(),
        footnotes: Vec::new(),
    };
    writer.span(0..plan.events.len());
    writer.footnotes_at_the_end();
    let mut html = String::with_capacity(markdown.len() * 2);
    pulldown_cmark::html::push_html(&mut html, writer.out.into_iter());
    html
}

/// The five characters that mean something in HTML, written so that they mean themselves.
pub(crate) fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + 8);
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            c => out.push(c),
        }
    }
    out
}

/// Where in a table the writer is.
#[derive(Default)]
struct TableAt {
    aligned: Vec<Alignment>,
    in_head: bool,
    column: usize,
}

struct Writer<'p> {
    plan: &'p Plan<'p>,
    rules: &'p HtmlRules<'p>,
    out: Vec<Event<'p>>,
    /// What ends each element that is open.
    closers: Vec<Vec<Event<'p>>>,
    /// The levels, as written, of the headings that stand above this place.
    headings: Vec<HeadingLevel>,
    table: TableAt,
    /// The starts of the footnotes' definitions, in the order in which they are referred to.
    footnotes: Vec<usize>,
}

/// HTML of the program's own. The parser's events of this kind, which hold a user's, never get here.
fn own<'e>(html: impl Into<CowStr<'e>>) -> Event<'e> {
    Event::InlineHtml(html.into())
}

fn text<'e>(text: &str) -> Event<'e> {
    Event::Text(CowStr::from(visible(text, &|_| true).text.into_owned()))
}

impl<'p> Writer<'p> {
    fn span(&mut self, range: Range<usize>) {
        let plan = self.plan;
        let mut index = range.start;
        while index < range.end {
            let Some((event, _)) = plan.events.get(index) else {
                return;
            };
            index = match event {
                Event::Start(tag) => self.start(index, tag),
                Event::End(_) => {
                    let closer = self.closers.pop().unwrap_or_default();
                    self.out.extend(closer);
                    index + 1
                }
                event => {
                    self.leaf(event);
                    index + 1
                }
            };
        }
    }

    fn open(&mut self, tag: Tag<'p>) {
        let end = tag.to_end();
        self.out.push(Event::Start(tag));
        self.closers.push(vec![Event::End(end)]);
    }

    fn open_own(&mut self, before: impl Into<CowStr<'p>>, after: &'static str) {
        self.out.push(own(before));
        self.closers.push(vec![own(after)]);
    }

    /// Opens an element, or writes it whole; gives the index to go on from.
    fn start(&mut self, index: usize, tag: &'p Tag<'p>) -> usize {
        match tag {
            Tag::Paragraph => return self.paragraph(index),
            Tag::Heading { level, .. } => self.heading(index, *level),
            Tag::BlockQuote(_) => self.open(Tag::BlockQuote(None)),
            Tag::CodeBlock(_) | Tag::HtmlBlock => self.open(Tag::CodeBlock(CodeBlockKind::Indented)),
            Tag::List(first) => self.open(Tag::List(*first)),
            Tag::Item => self.open(Tag::Item),
            Tag::Emphasis => self.open(Tag::Emphasis),
            Tag::Strong => self.open(Tag::Strong),
            Tag::Strikethrough => self.open(Tag::Strikethrough),
            Tag::Link { link_type, dest_url, .. } => self.link(index, *link_type, dest_url),
            Tag::Image { dest_url, title, .. } => {
                self.picture(index, dest_url, title, false);
                return self.plan.end(index) + 1;
            }
            // They stand together at the end.
            Tag::FootnoteDefinition(_) => return self.plan.end(index) + 1,
            Tag::Table(aligned) => {
                self.table = TableAt { aligned: aligned.clone(), in_head: false, column: 0 };
                let box_of_its_own = "<div class=\"scroll\" role=\"group\" tabindex=\"0\" aria-label=\"Table in the text\"><table>";
                self.open_own(box_of_its_own, "</tbody></table></div>\n");
            }
            Tag::TableHead => {
                (self.table.in_head, self.table.column) = (true, 0);
                self.open_own("<thead><tr>", "</tr></thead><tbody>\n");
            }
            Tag::TableRow => {
                (self.table.in_head, self.table.column) = (false, 0);
                self.open_own("<tr>", "</tr>\n");
            }
            Tag::TableCell => self.cell(index),
            // Not switched on; if one were, its text would stand.
            _ => self.closers.push(Vec::new()),
        }
        index + 1
    }

    /// A paragraph; one that is a picture alone is a figure, with its title as the caption.
    fn paragraph(&mut self, index: usize) -> usize {
        let plan = self.plan;
        if let Some((Event::Start(Tag::Image { dest_url, title, .. }), _)) = plan.events.get(index + 1) {
            if plan.end(index + 1) + 1 == plan.end(index) && self.shown(dest_url).is_some() {
                self.picture(index + 1, dest_url, title, true);
                return plan.end(index) + 1;
            }
        }
        self.open(Tag::Paragraph);
        index + 1
    }

    /// A heading below the page's own, without a gap in the levels; one without words is a paragraph.
    fn heading(&mut self, index: usize, level: HeadingLevel) {
        if self.words(index).trim().is_empty() {
            return self.open(Tag::Paragraph);
        }
        while self.headings.last().is_some_and(|&above| above >= level) {
            self.headings.pop();
        }
        let shown = usize::from(self.rules.heading_level.max(1)) + self.headings.len();
        self.headings.push(level);
        let level = HeadingLevel::try_from(shown).unwrap_or(HeadingLevel::H6);
        self.open(Tag::Heading { level, id: None, classes: Vec::new(), attrs: Vec::new() });
    }

    fn cell(&mut self, index: usize) {
        let side = match self.table.aligned.get(self.table.column) {
            Some(Alignment::Right) => " class=\"right\"",
            Some(Alignment::Center) => " class=\"centre\"",
            _ => "",
        };
        self.table.column += 1;
        // A head without words heads nothing.
        if self.table.in_head && !self.plan.within(index).is_empty() {
            self.open_own(format!("<th scope=\"col\"{side}>"), "</th>");
        } else {
            self.open_own(format!("<td{side}>"), "</td>");
        }
    }

    /// A link to the web or to a mailbox; any other address is written out after its words.
    fn link(&mut self, index: usize, kind: LinkType, dest: &str) {
        let address = match kind {
            LinkType::Email => address::linkable(&format!("mailto:{dest}")),
            _ => address::linkable(dest),
        };
        let words = self.words(index);
        let holds_picture =
            self.plan.within(index).iter().any(|(e, _)| matches!(e, Event::Start(Tag::Image { .. })));
        match address {
            Some(address) => {
                self.open_own(format!("<a href=\"{}\" rel=\"noreferrer\">", escaped(&address)), "</a>");
                if words.trim().is_empty() && !holds_picture {
                    self.out.push(text(dest));
                }
            }
            None if dest.is_empty() || words == dest => self.closers.push(Vec::new()),
            None => self.closers.push(vec![text(&format!(" ({dest})"))]),
        }
    }

    fn shown(&self, dest: &str) -> Option<String> {
        let target = address::decode(dest);
        if target.is_empty() || address::is_remote(&target) {
            return None;
        }
        match (self.rules.picture)(&target) {
            Picture::Shown(address) => Some(address),
            _ => None,
        }
    }

    fn picture(&mut self, index: usize, dest: &str, title: &str, alone: bool) {
        let target = address::decode(dest);
        let mut alt = self.words(index).trim().to_owned();
        if alt.is_empty() {
            alt = format!("Picture {target}, not described");
        }
        let alt = escaped(&visible(&alt, &|_| true).text);
        if let Some(address) = self.shown(dest) {
            let image = format!("<img src=\"{}\" alt=\"{alt}\">", escaped(&address));
            let title = escaped(&visible(title, &|_| true).text);
            self.out.push(own(match (alone, title.is_empty()) {
                (false, _) => image,
                (true, true) => format!("<figure class=\"picture\">{image}</figure>\n"),
                (true, false) => {
                    format!("<figure class=\"picture\">{image}<figcaption>{title}</figcaption></figure>\n")
                }
            }));
            return;
        }
        let why = if address::is_remote(&target) {
            "a picture on the network, which is not fetched".to_owned()
        } else {
            match (self.rules.picture)(&target) {
                Picture::Elsewhere(place) => place,
                _ => "a picture that was not found".to_owned(),
            }
        };
        self.out.push(own(format!("[{alt}: ")));
        self.out.push(text(&format!("{target}, {why}")));
        self.out.push(own("]"));
    }

    fn leaf(&mut self, event: &'p Event<'p>) {
        let event = match event {
            Event::Text(words)
            | Event::Html(words)
            | Event::InlineMath(words)
            | Event::DisplayMath(words) => text(words),
            Event::Code(code) | Event::InlineHtml(code) => {
                Event::Code(CowStr::from(visible(code, &|_| true).text.into_owned()))
            }
            Event::TaskListMarker(done) => own(if *done {
                "<span class=\"task\">[x]</span> "
            } else {
                "<span class=\"task\">[ ]</span> "
            }),
            Event::FootnoteReference(label) => return self.footnote(label),
            Event::SoftBreak => Event::SoftBreak,
            Event::HardBreak => Event::HardBreak,
            Event::Rule => Event::Rule,
            Event::Start(_) | Event::End(_) => return,
        };
        self.out.push(event);
    }

    /// The number of a footnote, which leads to its text; the first such number is led back to.
    fn footnote(&mut self, label: &str) {
        let Some(definition) = self.plan.definition(label) else {
            return self.out.push(text(&format!("[^{label}]")));
        };
        let name = self.rules.name;
        let known = self.footnotes.iter().position(|known| *known == definition);
        let number = known.unwrap_or(self.footnotes.len()) + 1;
        let mut html = String::from("<sup><a");
        if known.is_none() {
            self.footnotes.push(definition);
            // Writing to a string cannot fail.
            let _ = write!(html, " id=\"{name}-footnote-{number}-from\"");
        }
        let _ = write!(
            html,
            " href=\"#{name}-footnote-{number}\" aria-label=\"Footnote {number}\">{number}</a></sup>"
        );
        self.out.push(own(html));
    }

    /// The footnotes in the order of their numbers, then those that nothing refers to.
    fn footnotes_at_the_end(&mut self) {
        let mut done = 0;
        while let Some(&definition) = self.footnotes.get(done) {
            let name = self.rules.name;
            done += 1;
            let opening = if done == 1 { "<ol class=\"footnotes\">\n" } else { "" };
            self.out.push(own(format!("{opening}<li id=\"{name}-footnote-{done}\">")));
            self.span(definition + 1..self.plan.end(definition));
            self.out.push(own(format!(
                "<a class=\"back\" href=\"#{name}-footnote-{done}-from\" aria-label=\"Back to footnote {done} in the text\">back</a></li>\n"
            )));
        }
        if done > 0 {
            self.out.push(own("</ol>\n"));
        }
        let plan = self.plan;
        for &definition in &plan.definitions {
            if self.footnotes.contains(&definition) {
                continue;
            }
            let Some((Event::Start(Tag::FootnoteDefinition(label)), _)) = plan.events.get(definition) else {
                continue;
            };
            self.out.push(own("<p>"));
            self.out.push(text(&format!("[^{label}]:")));
            self.out.push(own("</p>\n"));
            self.span(definition + 1..plan.end(definition));
        }
    }

    /// The words within an element, without their marks.
    fn words(&self, index: usize) -> String {
        let mut words = String::new();
        for (event, _) in self.plan.within(index) {
            match event {
                Event::Text(text) | Event::Code(text) | Event::InlineHtml(text) => words.push_str(text),
                Event::SoftBreak | Event::HardBreak => words.push(' '),
                _ => {}
            }
        }
        words
    }
}

#[cfg(test)]
mod tests {
    use super::{HtmlRules, Picture, to_html};

    fn html(markdown: &str) -> String {
        let picture = |target: &str| match target {
            "photos/a.jpg" => Picture::Shown("data:image/jpeg;base64,AA==".to_owned()),
            "photos/large.jpg" => Picture::Elsewhere("in report.pdf".to_owned()),
            _ => Picture::Unknown,
        };
        to_html(markdown, &HtmlRules { name: "notes", heading_level: 3, picture: &picture })
    }

    #[test]
    fn html_that_was_typed_is_shown_and_never_a_tag() {
        for typed in [
            "<script>alert(1)</script>",
            "a <b onclick=x>b</b>",
            "<!-- gone? -->\n\n<style>*{}</style>",
            "    <i>",
            "`</code><script>`",
            "[a](<https://x.example/\"onclick=x>)",
            "![<img onerror=x>](no.png)",
            "x[^1]\n\n[^1]: <svg onload=x>",
            "| <u> |\n|---|\n| </table> |",
        ] {
            let made = html(typed);
            for tag in
                ["<script", "<b ", "<!--", "<style", "<i>", "<svg", "<u>", "onclick=x>b</b>", "\"onclick"]
            {
                assert!(!made.contains(tag), "{typed}: {made}");
            }
            assert_eq!(made.matches("</table>").count(), made.matches("<table>").count(), "{made}");
        }
    }

    #[test]
    fn only_web_and_mail_are_linked() {
        assert_eq!(
            html("[a](https://shop.example/?a=1&b=2)"),
            "<p><a href=\"https://shop.example/?a=1&amp;b=2\" rel=\"noreferrer\">a</a></p>\n"
        );
        assert!(html("<a@shop.example>").contains("href=\"mailto:a@shop.example\""));
        for dest in
            ["javascript:alert(1)", "JAVASCRIPT:x", "data:text/html,x", "#part", "//host/x", "file:///x"]
        {
            let made = html(&format!("[a]({dest})"));
            assert_eq!(made, format!("<p>a ({dest})</p>\n"));
        }
    }

    #[test]
    fn a_picture_stands_in_the_page_or_is_named() {
        assert_eq!(
            html("![Two \"flats\"](photos/a.jpg \"Front\")"),
            "<figure class=\"picture\"><img src=\"data:image/jpeg;base64,AA==\" alt=\"Two &quot;flats&quot;\">\
             <figcaption>Front</figcaption></figure>\n"
        );
        assert!(html("![A](photos/large.jpg)").contains("[A: photos/large.jpg, in report.pdf]"));
        assert!(html("![A](gone.jpg)").contains("not found"));
        assert!(!html("![A](https://x.example/a.png)").contains("<img"));
    }

    #[test]
    fn headings_go_on_below_the_page_s_own_without_a_gap() {
        let made = html("# One\n\n### Three\n\n## Two\n\n# \n");
        assert_eq!(made, "<h3>One</h3>\n<h4>Three</h4>\n<h4>Two</h4>\n<p></p>\n");
    }

    #[test]
    fn a_footnote_is_numbered_where_it_is_referred_to_and_leads_back() {
        let made =
            html("One[^b], two[^a], again[^b], none[^c].\n\n[^a]: A\n[^b]: B\n[^d]: D\n").replace('\n', "");
        assert_eq!(made.matches("id=\"notes-footnote-1-from\"").count(), 1);
        assert!(made.contains("<li id=\"notes-footnote-1\"><p>B</p>"), "{made}");
        assert!(made.contains("<li id=\"notes-footnote-2\"><p>A</p>"), "{made}");
        assert!(made.contains("none[^c]") && made.contains("[^d]:"), "{made}");
    }

    #[test]
    fn nothing_is_styled_in_place_and_a_table_can_be_scrolled() {
        let made = html("| a | | c |\n|:-:|---|--:|\n| 1 | 2 | 3 |\n\n- [x] done\n- [ ] open\n");
        assert!(!made.contains("style=") && !made.contains("<input"), "{made}");
        assert!(
            made.contains(
                "<th scope=\"col\" class=\"centre\">a</th><td></td><th scope=\"col\" class=\"right\">c</th>"
            ),
            "{made}"
        );
        assert!(made.contains("tabindex=\"0\"") && made.contains("[x]</span> done"), "{made}");
    }

    #[test]
    fn signs_that_turn_the_order_of_letters_are_named() {
        assert_eq!(html("a\u{202e}b"), "<p>a[U+202E]b</p>\n");
    }
}
