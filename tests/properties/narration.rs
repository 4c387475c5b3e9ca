//! What must hold of every narration, whatever was typed, and of every number that is read aloud.

use std::sync::{Arc, OnceLock};

use asfound::findings::Findings;
use asfound::quantity::Unit;
use asfound::quantity::spoken::{Aloud, names};
use asfound::script::{Script, captions, read, timing};
use asfound::session::{Problems, Session, SourceFile};
use asfound::typed;
use proptest::prelude::*;

use super::common::{Made, asfound};

/// A session that is read once: one check, two places, two visits.
fn session() -> &'static (Made, Session, Findings) {
    static SESSION: OnceLock<(Made, Session, Findings)> = OnceLock::new();
    SESSION.get_or_init(|| {
        let yaml = "title: T\nunits: inch\nmachines: {saw: {name: M}}\n\
            instruments: {i: {name: I, resolution: 0.5 thou}}\n\
            checks: {runout: {measure: run-out, direction: radial, instrument: i, unit: thou, \
            stations: {tip: {from: 40 mm}, root: {from: 0 mm}}}}\n";
        let visit = |state: &str, day: u8| {
            format!(
                "state: {state}\ndate: 2026-03-{day:02}\nreadings: {{runout: {{stations: {{tip: {{turns: [[0, 1, 2, 3, 2, 1]]}}, \
                 root: {{turns: [[0, 1, 1, 2, 1, 0]]}}}}}}}}\n"
            )
        };
        let (found, left) = (visit("as-found", 2), visit("as-left", 9));
        let made = Made::new(yaml, &[("as-found", &found), ("as-left", &left)]);
        let (session, findings) = made.analysed();
        (made, session, findings)
    })
}

fn script(text: &str) -> (Script, Problems) {
    let (_, session, findings) = session();
    let source = Arc::new(SourceFile::whole("job/script.md", text));
    let mut problems = Problems::default();
    let script = read(&source, session, findings, None, &mut problems);
    (script, problems)
}

/// Pieces of `CommonMark`, of placeholders and of cues, in any order.
fn piece() -> impl Strategy<Value = String> {
    prop_oneof![
        "[ \\t\\n#>*_`~|<&\\[\\]()!:+.\\\\-]{1,6}",
        "[a-z]{1,8} ",
        "\\PC{0,4}",
        Just("\r\n".to_owned()),
        Just("[still: summary]\n".to_owned()),
        Just("[pause: 1 s]".to_owned()),
        Just("3.4 thou ".to_owned()),
        Just("half a thou and two and a quarter thousandths of an inch ".to_owned()),
        Just("<!-- meant -->".to_owned()),
    ]
}

fn asked() -> impl Strategy<Value = String> {
    prop_oneof![
        piece(),
        Just("{runout, as-found}".to_owned()),
        Just("{change of runout at tip, in words}".to_owned()),
        Just("{verdict of runout,\nas-left}".to_owned()),
        "[{},]{1,3}",
        Just("\\{".to_owned()),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn a_script_without_placeholders_comes_out_as_it_was_typed(pieces in prop::collection::vec(piece(), 0..24)) {
        let text: String = pieces.concat().replace(['{', '}'], "");
        prop_assert_eq!(script(&text).0.filled, text);
    }

    #[test]
    fn no_script_is_too_strange_to_be_read_and_its_captions_keep_their_rules(
        pieces in prop::collection::vec(asked(), 0..24), pace in 60_u32..400,
    ) {
        let text = pieces.concat();
        let (script, _) = script(&text);
        let timing = timing::lay(&script.steps, pace);
        let mut last = 0;
        for caption in captions::captions(&script.steps, &timing) {
            prop_assert!(caption.shown.start >= last && caption.shown.end > caption.shown.start);
            prop_assert!((1..=2).contains(&caption.lines.len()));
            for line in &caption.lines {
                prop_assert!(line.chars().count() <= captions::MOST_LETTERS && !line.trim().is_empty(), "{:?}", line);
            }
            last = caption.shown.end;
        }
        prop_assert!(last <= timing.total);
        let vtt = captions::to_vtt(&captions::captions(&script.steps, &timing), "x");
        let arrows = vtt.matches("-->").count();
        let stamps = vtt.lines().filter(|line| line.contains(" --> ")).count();
        prop_assert_eq!(arrows, stamps);
    }

    #[test]
    fn numbers_are_looked_for_in_any_line_and_lie_within_it(line in "(\\PC|[0-9 .,/a-z-]){0,40}") {
        for number in typed::find::numbers(&line) {
            prop_assert!(line.get(number.range.clone()).is_some() && number.low <= number.high, "{:?}", number);
        }
    }

    #[test]
    fn a_number_in_words_is_the_number_to_the_figure_s_last_digit(
        value in -9999.0_f64..9999.0, uncertainty in 0.01_f64..50.0, unit in prop::sample::select(vec!["thou", "mm", "rpm", "%", "in/s"]),
    ) {
        let unit = Unit::all().find(|known| known.symbol() == unit).unwrap();
        let aloud = Aloud { value, uncertainty: Some(uncertainty), unit, difference: false, brief: false, limits: &[] };
        let words = aloud.words();
        let decimals = asfound::quantity::decimals_for(uncertainty).0;
        let half_step = 10f64.powi(-decimals) / 2.0;
        let read = heard(&words, names(unit).one, names(unit).many);
        prop_assert!((read - value).abs() <= half_step * (1.0 + 1e-6), "{} read as {}, not {}", words, read, value);
        let about = aloud.about();
        let read = heard(about.trim_start_matches("about "), names(unit).one, names(unit).many);
        prop_assert!((read - value).abs() <= (uncertainty / 2.0).max(half_step) * (1.0 + 1e-6), "{} is not about {}", about, value);
    }
}

/// A small reader of numbers in words that shares nothing with the program's: what a listener hears.
fn heard(words: &str, one: &str, many: &str) -> f64 {
    let (sign, words) = words.strip_prefix("minus ").map_or((1.0, words), |rest| (-1.0, rest));
    let number =
        words.strip_suffix(many).or_else(|| words.strip_suffix(one)).unwrap_or_else(|| panic!("{words}"));
    let number = number.trim();
    // "half a", "three tenths of a", "forty-three thousandths of a"
    let shares = [
        ("half a", 0.5),
        ("half an", 0.5),
        ("a quarter of a", 0.25),
        ("a quarter of an", 0.25),
        ("three quarters of a", 0.75),
        ("three quarters of an", 0.75),
    ];
    if let Some((_, share)) = shares.iter().find(|(name, _)| *name == number) {
        return sign * share;
    }
    for (name, share) in [("tenth", 0.1), ("hundredth", 0.01), ("thousandth", 0.001)] {
        for end in [format!(" {name} of a"), format!(" {name}s of a")] {
            if let Some(count) = number.strip_suffix(end.as_str()) {
                return sign * whole(count) * share;
            }
        }
    }
    for (name, share) in [(" and a quarter", 0.25), (" and a half", 0.5), (" and three-quarter", 0.75)] {
        if let Some(count) = number.strip_suffix(name) {
            return sign * (whole(count) + share);
        }
    }
    let (count, digits) = number.split_once(" point ").unwrap_or((number, ""));
    let after: String = digits.split_whitespace().map(|digit| whole(digit).to_string()).collect();
    sign * (whole(count) + if after.is_empty() { 0.0 } else { format!("0.{after}").parse::<f64>().unwrap() })
}

fn whole(words: &str) -> f64 {
    let names = "zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen \
                 seventeen eighteen nineteen";
    let tens = ["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"];
    let (mut total, mut group) = (0.0, 0.0);
    for word in words.replace('-', " ").split_whitespace() {
        if let Some(n) = names.split_whitespace().position(|name| name == word) {
            group += n as f64;
        } else if let Some(n) = tens.iter().position(|name| *name == word) {
            group += 10.0 * (n + 2) as f64;
        } else {
            match word {
                "hundred" => group *= 100.0,
                "thousand" => {
                    total += group * 1000.0;
                    group = 0.0;
                }
                "and" => {}
                other => panic!("{other} in {words}"),
            }
        }
    }
    total + group
}

#[test]
fn notes_of_any_kind_are_looked_through_for_numbers_without_a_fall() {
    let (made, ..) = session();
    let strange = "1 1 1 mm 9e9 in .5. 3/0 in 3/ in 1/2/3 in ½ in −5 °F 5°5° 5 ° - 5 half a half a three three hundred\u{0}\n";
    std::fs::write(made.folder.path().join("notes.md"), strange.repeat(50)).unwrap();
    let (code, _, _) = asfound(&["inspect", &made.folder.path().display().to_string(), "--quiet"]);
    assert_eq!(code, 0);
}
