//! What is said, word for word.
#![allow(clippy::unwrap_used)]

use super::*;

fn unit(symbol: &str) -> Unit {
    Unit::all().find(|unit| unit.symbol() == symbol).unwrap()
}

fn aloud(value: f64, uncertainty: f64, symbol: &str) -> Aloud<'static> {
    let uncertainty = (uncertainty > 0.0).then_some(uncertainty);
    Aloud { value, uncertainty, unit: unit(symbol), difference: false, brief: false, limits: &[] }
}

fn words(value: f64, uncertainty: f64, symbol: &str) -> String {
    aloud(value, uncertainty, symbol).words()
}

#[test]
fn the_shop_s_fractions_are_said_where_the_figure_s_rounding_holds_them() {
    assert_eq!(words(2.25, 0.4, "thou"), "two and a quarter thousandths of an inch");
    assert_eq!(words(2.28, 0.4, "thou"), "two and a quarter thousandths of an inch");
    assert_eq!(words(0.5, 0.3, "thou"), "half a thousandth of an inch");
    assert_eq!(words(0.3, 0.4, "thou"), "three tenths of a thousandth of an inch");
    assert_eq!(words(0.74, 0.4, "thou"), "seven tenths of a thousandth of an inch");
    assert_eq!(exactly(0.75, 6, unit("thou"), false), "three quarters of a thousandth of an inch");
    assert_eq!(words(1.75, 0.4, "thou"), "one and three-quarter thousandths of an inch");
    assert_eq!(words(6.5, 0.9, "%"), "six and a half per cent");
    assert_eq!(words(0.177, 0.018, "mm"), "one hundred and seventy-seven thousandths of a millimetre");
    assert_eq!(words(0.09, 0.017, "mm"), "nine hundredths of a millimetre");
    assert_eq!(words(0.2, 0.028, "mm"), "two tenths of a millimetre");
    assert_eq!(words(1.25, 0.28, "mm"), "one point two five millimetres");
    assert_eq!(words(-0.13, 0.2, "mm"), "minus thirteen hundredths of a millimetre");
    // 3.35 would be said "three and a quarter" by an ear that rounds twice.
    assert_eq!(words(3.35, 0.4, "thou"), "three point four thousandths of an inch");
    // Two decimals leave no room for a half that is not there.
    assert_eq!(words(0.48, 0.22, "thou"), "zero point four eight thousandths of an inch");
}

#[test]
fn a_unit_that_has_been_said_in_full_may_be_said_briefly() {
    let brief = Aloud { brief: true, ..aloud(8.5, 0.4, "thou") };
    assert_eq!(brief.words(), "eight and a half thousandths");
    assert_eq!(exactly(86.0, 6, unit("dBA"), true), "eighty-six decibels");
}

#[test]
fn what_was_rounded_once_is_not_rounded_again() {
    assert_eq!(aloud(4.347, 0.26, "thou").about(), "about four point three thousandths of an inch");
}

#[test]
fn one_is_one_and_everything_else_is_many() {
    assert_eq!(words(1.0, 0.3, "thou"), "one thousandth of an inch");
    assert_eq!(words(0.0, 0.3, "thou"), "zero thousandths of an inch");
    assert_eq!(words(-1.0, 0.3, "deg"), "minus one degree");
    assert_eq!(exactly(1.0, 6, unit("ft"), false), "one foot");
    assert_eq!(exactly(60.0, 6, unit("Hz"), false), "sixty hertz");
    assert_eq!(exactly(3.0, 6, unit("count"), false), "three");
}

#[test]
fn a_sound_level_is_said_in_decibels_and_how_they_are_weighted() {
    assert_eq!(words(88.8, 1.6, "dBA"), "eighty-eight point eight decibels, A-weighted");
    let change = Aloud { difference: true, ..aloud(5.0, 2.3, "dBA") };
    assert_eq!(change.words(), "five decibels");
}

#[test]
fn what_is_said_loses_no_more_than_the_uncertainty_allows() {
    assert_eq!(
        words(3417.25, 1.8, "rpm"),
        "three thousand four hundred and seventeen point two revolutions a minute"
    );
    assert_eq!(words(2990.4, 43.0, "rpm"), "two thousand nine hundred and ninety revolutions a minute");
    assert_eq!(aloud(41.6, 3.4, "°F").about(), "about forty degrees Fahrenheit");
    assert_eq!(aloud(77.2, 3.0, "°F").about(), "seventy-seven degrees Fahrenheit");
    assert_eq!(aloud(8.36, 0.4, "thou").about(), "about eight and a half thousandths of an inch");
    assert_eq!(aloud(11.59, 0.4, "s").about(), "about eleven and a half seconds");
    assert_eq!(aloud(0.1883, 0.006, "in/s").about(), "about zero point one nine inches per second");
    // Nothing is known of it: it stands as it is.
    assert_eq!(aloud(12.3, 0.0, "s").about(), "twelve point three seconds");
}

#[test]
fn no_rounding_carries_a_number_across_its_limit() {
    let near = Aloud { limits: &[1.0], ..aloud(0.96, 0.25, "thou") };
    assert_eq!(near.about(), "about zero point nine five thousandths of an inch");
    let clear = Aloud { limits: &[3.0], ..aloud(0.96, 0.25, "thou") };
    assert_eq!(clear.about(), "about one thousandth of an inch");
}

#[test]
fn what_is_left_open_is_given_or_taken() {
    assert_eq!(aloud(3.3, 0.5, "thou").give_or_take(), "give or take half a thousandth");
    assert_eq!(aloud(77.0, 3.0, "°F").give_or_take(), "give or take three degrees");
    assert_eq!(aloud(88.8, 1.6, "dBA").give_or_take(), "give or take one point six decibels");
    assert_eq!(aloud(1.9, 1.2, "thou").give_or_take(), "give or take one point two thousandths");
    assert_eq!(aloud(2.0, 0.0, "thou").give_or_take(), "");
}

#[test]
fn every_unit_has_a_name_that_can_be_said() {
    for unit in Unit::all() {
        let names = names(unit);
        for name in [names.one, names.many, names.short().one, names.short().many] {
            assert!(name.chars().all(|c| c.is_ascii_alphabetic() || " ,-".contains(c)), "{unit:?}: {name}");
        }
        assert_eq!(names.one.is_empty(), matches!(unit.symbol(), "" | "count"), "{unit:?}");
        let vowel = names.one.starts_with(['a', 'e', 'i', 'o', 'u']) && !names.one.starts_with('u');
        let wanted = if vowel || names.one.starts_with("hour") { "an" } else { "a" };
        assert!(names.one.is_empty() || names.article == wanted, "{} {}", names.article, names.one);
    }
}

#[test]
fn a_time_run_is_said_as_a_clock_shows_it() {
    assert_eq!(clock(270), "four minutes thirty");
    assert_eq!(clock(3600), "one hour");
    assert_eq!(clock(3720), "one hour two minutes");
    assert_eq!(clock(3605), "one hour five seconds");
    assert_eq!(clock(1), "one second");
    assert_eq!(clock(0), "zero seconds");
}
