//! Units after NIST SP 811 and dates after the calendar.

use asfound::quantity::{Difference, Kind, Quantity, Unit, parse_difference, parse_quantity};
use asfound::session::{Date, Lasts, days_between};

use crate::common::close;

fn unit(kind: Kind, symbol: &str) -> Unit {
    Unit::known(kind, symbol).unwrap()
}

#[test]
fn factors_are_those_of_nist_sp_811() {
    // NIST SP 811, appendix B; the same values in scipy.constants 1.17.1, which cites it.
    let cases = [
        (Kind::Length, "in", "mm", 25.4),
        (Kind::Length, "thou", "µm", 25.4),
        (Kind::Length, "tenth", "µm", 2.54),
        (Kind::Length, "ft", "m", 0.3048),
        (Kind::Acceleration, "g", "m/s²", 9.806_65),
        (Kind::Force, "lbf", "N", 4.448_221_615_260_5),
        (Kind::Power, "hp", "W", 745.699_871_582_270_1),
        (Kind::Mass, "lb", "kg", 0.453_592_37),
        (Kind::RotationalSpeed, "Hz", "rpm", 60.0),
        (Kind::Angle, "deg", "arcmin", 60.0),
        (Kind::Angle, "arcmin", "arcsec", 60.0),
        (Kind::Angle, "thou/in", "mm/m", 1.0),
        (Kind::Torque, "lbf·ft", "N·m", 1.355_817_948_331_400_4),
    ];
    for (kind, from, to, factor) in cases {
        close(Quantity::new(1.0, unit(kind, from)).to(unit(kind, to)).unwrap(), factor, 1e-14);
    }
}

#[test]
fn a_temperature_difference_of_36_f_is_20_k_and_212_f_is_100_c() {
    // NIST SP 811, B.8: t/°C = (t/°F − 32)/1.8; a difference has no 32.
    let (f, c, k) =
        (unit(Kind::Temperature, "°F"), unit(Kind::Temperature, "°C"), unit(Kind::Temperature, "K"));
    close(Difference::new(36.0, f).to(k).unwrap(), 20.0, 1e-14);
    close(Quantity::new(212.0, f).to(c).unwrap(), 100.0, 1e-12);
    close(Quantity::new(-40.0, f).to(c).unwrap(), -40.0, 1e-12);
    close(Quantity::new(98.6, f).to(c).unwrap(), 37.0, 1e-12);
    let rise = (Quantity::new(212.0, f) - Quantity::new(32.0, f)).unwrap();
    close(rise.to(c).unwrap(), 100.0, 1e-12);
}

#[test]
fn quantities_are_read_in_every_usual_spelling_and_of_the_right_kind_only() {
    for text in ["0.0005 in", "0.5 thou", "5 tenths", "12.7 µm", "12.7 um", "12.7 μm", "0.0127mm"] {
        let read = parse_quantity(text, &[Kind::Length], None).unwrap();
        close(read.to(unit(Kind::Length, "in")).unwrap(), 0.0005, 1e-12);
    }
    assert!(parse_quantity("66 °F", &[Kind::Length], None).unwrap_err().message.contains("a temperature"));
    assert!(parse_quantity("0,5 mm", &[Kind::Length], None).is_err());
    assert!(parse_quantity("nan mm", &[Kind::Length], None).is_err());
    assert!(parse_quantity("5", &[Kind::Length], None).is_err());
    assert_eq!(parse_difference("14:30", &[Kind::Time], None).unwrap().value(), 870.0);
    assert_eq!(parse_difference("1:02:30", &[Kind::Time], None).unwrap().value(), 3750.0);
}

fn date(year: i16, month: i8, day: i8) -> Date {
    Date::new(year, month, day).unwrap()
}

#[test]
fn coverage_runs_by_the_calendar() {
    // 2026 has 31 days in January and 28 in February (RFC 3339, 5.7): 11 + 28 + 21 = 60.
    assert_eq!(Lasts::parse("60 days").unwrap().ends(date(2026, 1, 20)), Some(date(2026, 3, 21)));
    // 29 February 2024 exists and 29 February 2027 does not (RFC 3339, appendix C).
    assert_eq!(Lasts::parse("3 years").unwrap().ends(date(2024, 2, 29)), Some(date(2027, 2, 28)));
    assert_eq!(Lasts::parse("1 month").unwrap().ends(date(2026, 1, 31)), Some(date(2026, 2, 28)));
    assert_eq!(Lasts::parse("2 weeks").unwrap().ends(date(2026, 12, 25)), Some(date(2027, 1, 8)));
    assert_eq!(days_between(date(2026, 3, 2), date(2026, 3, 21)), 19);
    assert_eq!(days_between(date(2026, 3, 24), date(2026, 3, 21)), -3);
    assert_eq!(Lasts::parse("three years"), None);
    assert_eq!(Lasts::parse("0 days"), None);
}
