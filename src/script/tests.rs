//! Captions and clock on made-up speeches; what needs a session is tested with the demo in `tests/script.rs`.
#![allow(clippy::unwrap_used)]

use super::captions::{self, MOST_LETTERS};
use super::timing;
use super::{Cue, Speech, Step, Still, Token};

fn speech(text: &str) -> Step {
    let tokens = text
        .split_whitespace()
        .map(|word| Token { shown: word.to_owned(), spoken: word.to_owned(), glued: false })
        .collect();
    Step::Speech(Speech { markdown: text.to_owned(), tokens, answers: Vec::new() })
}

fn still(name: &str) -> Step {
    Step::Cue(Cue::Still(Still { name: name.to_owned(), build_up: false }))
}

#[test]
fn a_hundred_and_fifty_words_take_a_minute_at_the_usual_pace() {
    let steps = [speech(&"word ".repeat(150))];
    let timing = timing::lay(&steps, timing::USUAL_PACE);
    assert_eq!((timing.total, timing.words), (60_000, 150));
    assert_eq!(timing::lay(&steps, 75).total, 120_000);
}

#[test]
fn a_breath_a_section_and_a_pause_take_their_time() {
    let heading = Step::Heading { level: 1, text: "Next".to_owned() };
    let steps =
        [speech("one"), speech("two"), heading, speech("three"), Step::Cue(Cue::Pause(3000)), speech("four")];
    let timing = timing::lay(&steps, 60);
    let starts: Vec<u64> = timing.spans.iter().map(|span| span.start).collect();
    assert_eq!(starts, [0, 1500, 2500, 3500, 4500, 7500]);
}

#[test]
fn a_still_is_shown_until_the_next_cue() {
    let steps =
        [speech("a"), still("x"), speech("b"), Step::Cue(Cue::Camera), speech("c"), still("y"), speech("d")];
    let timing = timing::lay(&steps, 60);
    let uses: Vec<_> =
        timing::stills(&steps, &timing).into_iter().map(|shown| (shown.name, shown.shown)).collect();
    assert_eq!(uses, [("x".to_owned(), 1500..3000), ("y".to_owned(), 4500..5500)]);
}

#[test]
fn captions_keep_to_two_lines_and_to_the_time_of_their_words() {
    let text = "As found, the tip swung 3.3 thou. The guide allows one, and it was not the same all along, either: \
                it was two at the shoulder and more at the tip. No. A shaft that is merely off centre does not do that.";
    let steps = [speech(text)];
    let timing = timing::lay(&steps, 150);
    let captions = captions::captions(&steps, &timing);
    let joined: Vec<String> = captions.iter().flat_map(|caption| caption.lines.clone()).collect();
    assert_eq!(joined.join(" "), text.split_whitespace().collect::<Vec<_>>().join(" "));
    let mut last = 0;
    for caption in &captions {
        assert!(
            caption.lines.len() <= 2 && caption.lines.iter().all(|line| line.chars().count() <= MOST_LETTERS)
        );
        assert!(
            caption.shown.start == last && caption.shown.end - caption.shown.start <= 7_000,
            "{caption:?}"
        );
        last = caption.shown.end;
    }
    assert_eq!(last, timing.total);
    insta::assert_debug_snapshot!(
        captions.iter().map(|caption| caption.lines.join(" / ")).collect::<Vec<_>>()
    );
}

#[test]
fn a_word_longer_than_a_line_is_divided() {
    let steps = [speech(&"x".repeat(100))];
    let captions = captions::captions(&steps, &timing::lay(&steps, 150));
    assert!(captions.iter().flat_map(|caption| &caption.lines).all(|line| line.len() <= MOST_LETTERS));
}

#[test]
fn no_mark_of_webvtt_comes_out_of_a_text() {
    let steps = [speech("a --> b & <i>c</i>")];
    let vtt = captions::to_vtt(&captions::captions(&steps, &timing::lay(&steps, 150)), "x --> y");
    assert_eq!(
        vtt,
        "WEBVTT\n\nNOTE x --&gt; y\n\n1\n00:00:00.000 --> 00:00:01.200\na --&gt; b &amp; &lt;i&gt;c&lt;/i&gt;\n"
    );
}
