//! A chart in a Typst document whose own text has another family.

use typst::foundations::Bytes;
use typst_as_lib::TypstEngine;
use typst_layout::PagedDocument;

use super::super::samples;
use super::super::text::{REGULAR, STRONG};

static SERIF: &[u8] = include_bytes!("../../../templates/fonts/SourceSerif4-Regular.ttf");

/// Typst takes the font of the surrounding text, without a word, where it does not find an SVG's family.
#[test]
fn the_text_of_a_chart_is_set_in_its_own_family() {
    let svg = samples::summary().draw().expect("drawn").text;
    let main = "#set text(font: \"Source Serif 4\")\n#image(\"chart.svg\")";
    let engine = TypstEngine::builder()
        .fonts([Bytes::new(REGULAR.as_slice()), Bytes::new(STRONG.as_slice()), Bytes::new(SERIF)])
        .with_static_source_file_resolver([("main.typ", main)])
        .with_static_file_resolver([("chart.svg", Bytes::from_string(svg))])
        .build();
    let world = engine.world_builder("main.typ").build().expect("a world");
    let document = typst::compile::<PagedDocument>(&world).output.expect("it compiles");
    let pdf = typst_pdf::pdf(&document, &typst_pdf::PdfOptions::default()).expect("it exports");
    let pdf = String::from_utf8_lossy(&pdf);
    assert!(pdf.contains("+SourceSans3-Regular") && pdf.contains("+SourceSans3-SemiBold"));
    assert!(!pdf.contains("SourceSerif4"), "nothing fell back to the page's font");
}
