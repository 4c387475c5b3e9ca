//! Quantities, numbers, clocks, units and dates, as typed: what is read is finite, and read again as printed it is the same.

use asfound::quantity::{
    Kind, parse_clock, parse_difference, parse_number, parse_quantity, parse_unit, round_with_uncertainty,
    significant,
};
use asfound::session::Lasts;

/// Tries what a fuzzer wrote.
pub fn run(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    if let Ok(number) = parse_number(text) {
        assert!(number.is_finite());
        let _ = (significant(number, 3), round_with_uncertainty(number, number.abs()));
    }
    if let Ok(seconds) = parse_clock(text) {
        assert!(seconds.is_finite());
    }
    let _ = (parse_unit(text, &[]), Lasts::parse(text));
    for wanted in [&[][..], &[Kind::Length], &[Kind::Angle], &[Kind::Temperature], &[Kind::Time]] {
        if let Ok(quantity) = parse_quantity(text, wanted, None) {
            assert!(quantity.value().is_finite());
            for unit in asfound::quantity::units_of(quantity.unit().kind()) {
                let _ = quantity.to(unit);
            }
            // What is printed is read again as the same number to the digits that are printed, of which none stands beyond the
            // seventeenth place.
            let printed = quantity.to_string();
            let again = parse_quantity(&printed, &[quantity.unit().kind()], None)
                .unwrap_or_else(|problem| panic!("'{printed}' is printed and not read: {problem:?}"));
            let room = 1e-5 * quantity.value().abs() + 1e-17;
            assert!((again.value() - quantity.value()).abs() <= room, "{text} {printed}");
        }
        let _ = parse_difference(text, wanted, None);
    }
}
