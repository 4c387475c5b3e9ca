//! How numbers are read: num2words 0.5.14 (PyPI) for cardinals, ordinals, years and decimals, asked by
//! `scripts/oracle_spoken.py`; NIST SP 811 (2008), chapter 9, for the names of units.

use asfound::quantity::spoken::{cardinal, decimal, names, ordinal, year};
use asfound::quantity::{Kind, Unit};

use super::common::published;

#[test]
fn numbers_are_read_as_num2words_reads_them() {
    let text = published("num2words_spoken.csv");
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let mut counted = std::collections::BTreeMap::new();
    for row in reader.records().map(Result::unwrap) {
        // A comma after a group of three is a pause, which the page has no need of.
        let wanted = row[2].replace(',', "");
        let number = || row[1].parse::<u64>().unwrap();
        let read = match &row[0] {
            "cardinal" => cardinal(number()),
            "ordinal" => ordinal(number()),
            "year" => year(number()),
            "decimal" => decimal(&row[1]),
            other => panic!("{other}"),
        };
        assert_eq!(read, wanted, "{} {}", &row[0], &row[1]);
        *counted.entry(row[0].to_owned()).or_insert(0) += 1;
    }
    assert!(counted.len() == 4 && counted.values().all(|count| *count > 100), "{counted:?}");
}

/// NIST SP 811 (2008): 9.1 (capitals: degree Celsius), 9.2 (hertz has no plural of its own), 9.4 (a space in a product:
/// newton metre), 9.5 ("per", no solidus), 9.6 (squared after the name, cubic before it). The spelling is British.
#[test]
fn units_are_named_as_the_guide_names_them() {
    let name = |kind, symbol| {
        let names = names(Unit::known(kind, symbol).unwrap());
        (names.one, names.many)
    };
    assert_eq!(name(Kind::Temperature, "°C"), ("degree Celsius", "degrees Celsius"));
    assert_eq!(name(Kind::Frequency, "Hz"), ("hertz", "hertz"));
    assert_eq!(name(Kind::Torque, "N·m"), ("newton metre", "newton metres"));
    assert_eq!(name(Kind::Velocity, "m/s"), ("metre per second", "metres per second"));
    assert_eq!(name(Kind::Acceleration, "m/s²"), ("metre per second squared", "metres per second squared"));
    assert_eq!(
        name(Kind::VolumeRate, "cm³/min"),
        ("cubic centimetre per minute", "cubic centimetres per minute")
    );
    for unit in Unit::all() {
        let names = names(unit);
        assert!(!names.many.contains('/') && !names.one.contains('/'), "{unit:?}");
    }
}
