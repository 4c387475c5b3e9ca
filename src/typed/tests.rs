//! What is taken for a number with a unit, and what is not.
#![allow(clippy::unwrap_used, clippy::float_cmp)]

use super::find::{Claim, numbers};
use super::is_meant;

/// The numbers of a line: low to high, and the first unit that it can mean.
fn found(line: &str) -> Vec<String> {
    let one = |typed: super::Typed| {
        let unit = typed.units.first().map_or("", |unit| unit.symbol());
        let range = if typed.low == typed.high {
            typed.low.to_string()
        } else {
            format!("{}..{}", typed.low, typed.high)
        };
        format!("{range} {unit}")
    };
    numbers(line).into_iter().map(one).collect()
}

#[test]
fn numbers_in_figures_are_found_with_the_unit_behind_them() {
    assert_eq!(found("It swung 3.4 thou, then 0.001 in."), ["3.4 thou", "0.001 in"]);
    assert_eq!(found("a 10-inch saw at 3450 rpm and -2 °C"), ["10 in", "3450 rpm", "-2 °C"]);
    assert_eq!(found("45° and 12% and 1,849 rpm, 3 mm/s"), ["45 deg", "12 %", "1849 rpm", "3 mm/s"]);
    assert_eq!(found("1/2 in deep, 86 dBA"), ["0.5 in", "86 dBA"]);
    assert_eq!(found("2–3 thou, 5 or 6 dB, 8 to 14 s"), ["2..3 thou", "5..6 dB", "8..14 s"]);
}

#[test]
fn numbers_in_words_are_found_too() {
    assert_eq!(found("more than four thou"), ["4 thou"]);
    assert_eq!(
        found("half a thou, two and a half thou, three quarters of an inch"),
        ["0.5 thou", "2.5 thou", "0.75 in"]
    );
    assert_eq!(found("four tenths of a millimetre"), ["0.4 mm"]);
    assert_eq!(found("nine hundredths of a millimetre"), ["0.09 mm"]);
    assert_eq!(found("quieter by five or six decibels"), ["5..6 dB"]);
    assert_eq!(found("three thousand four hundred and fifty revolutions a minute"), ["3450 rpm"]);
    assert_eq!(found("two and a quarter thousandths of an inch"), ["2.25 thou"]);
    assert_eq!(found("twenty-five seconds"), ["25 s"]);
}

#[test]
fn what_is_no_measure_is_left_alone() {
    for line in [
        "page 9, the 3rd of 5 boards",
        "it came back 2 in the shop and 3 in maple",
        "CS10-04417 and J-200 m",
        "the 1990s, 2nd",
        "$20 or €5 m",
        "one of them, a whole one",
        "an A-weighted meter, 3 A-weighted readings",
        "at 14:30",
        "v1.2.3 s",
        "356 times a second",
    ] {
        assert_eq!(found(line), Vec::<String>::new(), "{line}");
    }
}

#[test]
fn the_words_before_a_number_say_how_near_it_is() {
    let claim = |line: &str| numbers(line).first().unwrap().claim;
    assert_eq!(claim("it is 3 thou"), Claim::Digits);
    assert_eq!(claim("about 3 thou"), Claim::About);
    assert_eq!(claim("more than three thou"), Claim::MoreThan);
    assert_eq!(claim("it stayed under 3 thou"), Claim::LessThan);
}

#[test]
fn the_digits_typed_say_how_exact_a_number_is() {
    let half = |line: &str| numbers(line).first().unwrap().half_step;
    assert_eq!(half("3.40 thou"), 0.005);
    assert_eq!(half("3 thou"), 0.5);
    // The zeros may be idle, but not by more than a fortieth.
    assert_eq!(half("2400 Hz"), 50.0);
    assert_eq!(half("2000 rpm"), 50.0);
    assert_eq!(half("40 °F"), 1.0);
}

#[test]
fn the_mark_is_a_comment_and_nothing_else() {
    assert!(is_meant("<!-- meant -->") && is_meant("<!--meant-->\n"));
    assert!(!is_meant("<!-- mean -->") && !is_meant("meant"));
}
