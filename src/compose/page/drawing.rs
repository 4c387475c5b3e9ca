//! A drawing as HTML takes it: one element that scales with its box and says what it shows.

use std::collections::BTreeMap;

use super::super::document::{Exhibit, Markup, Report};
use super::super::report::{Drawings, chart_asset};
use crate::notes::{escaped, visible};

/// Every drawing of the report, by the path of its exhibit.
pub(super) fn all(report: &Report, drawings: &Drawings) -> BTreeMap<String, Markup> {
    let mut svgs: BTreeMap<String, &str> = BTreeMap::new();
    if let Some(exhibit) = &drawings.summary {
        svgs.insert(chart_asset("", exhibit.name), &exhibit.svg.text);
    }
    for (check, list) in &drawings.checks {
        for exhibit in list {
            svgs.insert(chart_asset(check, exhibit.name), &exhibit.svg.text);
        }
    }
    let exhibits = report.answer.chart.iter().chain(report.checks.iter().flat_map(|check| &check.exhibits));
    exhibits
        .filter_map(|exhibit| {
            Some((exhibit.path.clone(), Markup(inline(svgs.get(&exhibit.path)?, exhibit)?)))
        })
        .collect()
}

/// The SVG with its words for those who cannot see it. Its size in points goes, for the page gives it a
/// width; what every text and line repeats goes too, for the style sheet says it once.
fn inline(svg: &str, exhibit: &Exhibit) -> Option<String> {
    described(svg, &escaped(&visible(&exhibit.alt, &|_| true).text))
}

/// The same with words that are written as HTML already.
pub(in crate::compose) fn described(svg: &str, alt: &str) -> Option<String> {
    let (head, drawing) = svg.split_once('>')?;
    let size = head.split_once("viewBox=\"")?.1.split_once('"')?.0;
    let drawing = drawing
        .replace(" opacity=\"1\"", "")
        .replace(" font-family=\"&apos;Source Sans 3&apos;\"", "")
        .replace(" text-anchor=\"start\"", "");
    Some(format!(
        "<svg class=\"chart\" role=\"img\" aria-label=\"{alt}\" viewBox=\"{size}\" focusable=\"false\">{drawing}"
    ))
}

#[cfg(test)]
mod tests {
    use super::super::super::document::{Exhibit, Width};
    use super::inline;

    #[test]
    fn a_drawing_says_what_it_shows_and_names_no_address() {
        let svg = "<svg width=\"10pt\" height=\"5pt\" viewBox=\"0 0 100 50\" xmlns=\"http://www.w3.org/2000/svg\">\n\
                   <text x=\"1\" font-family=\"&apos;Source Sans 3&apos;\" opacity=\"1\">\n&lt;b&gt;\n</text>\n</svg>";
        let exhibit = Exhibit {
            path: String::new(),
            alt: "\"Run-out\" <tip>".to_owned(),
            title: String::new(),
            caption: String::new(),
            width: Width::Text,
        };
        assert_eq!(
            inline(svg, &exhibit).unwrap_or_default(),
            "<svg class=\"chart\" role=\"img\" aria-label=\"&quot;Run-out&quot; &lt;tip&gt;\" viewBox=\"0 0 100 50\" \
             focusable=\"false\">\n<text x=\"1\">\n&lt;b&gt;\n</text>\n</svg>"
        );
    }
}
