//! How long a level may be borne in a day, as information: NIOSH's recommended limit and OSHA's
//! permitted one.
//!
//! These are limits of exposure, averaged over a working day at the ear of whoever works. A level at
//! one place, read for a minute, is no exposure.

use crate::quantity::significant;

/// The longest time in minutes at an A-weighted level under NIOSH's recommended exposure limit:
/// 480/2^((L − 85)/3) (NIOSH publication 98-126, 1998, 1.1.1: 85 dBA for 8 hours, 3 dB exchange).
pub fn niosh_minutes(level: f64) -> f64 {
    480.0 / 2f64.powf((level - 85.0) / 3.0)
}

/// The longest time in hours at an A-weighted level under OSHA's permissible exposure limit:
/// 8/2^((L − 90)/5) (29 CFR 1910.95, appendix A, I: 90 dBA for 8 hours, 5 dB exchange).
pub fn osha_hours(level: f64) -> f64 {
    8.0 / 2f64.powf((level - 90.0) / 5.0)
}

/// Below this NIOSH's limit leaves more than a day's work of any length.
const QUIET: f64 = 80.0;

/// What to say of the loudest level of a visit, in dBA; nothing where it is quiet.
pub fn note(at: &str, level: f64) -> Option<String> {
    if !(QUIET..200.0).contains(&level) {
        return None;
    }
    let place = if at.is_empty() { String::new() } else { format!(" at {at}") };
    let niosh = if level <= 85.0 {
        "would allow more than a working day of 8 h (85 dBA, 3 dB)".to_owned()
    } else if level > 140.0 {
        "allows none (no noise above 140 dBA)".to_owned()
    } else {
        format!("is used up in {} a day (85 dBA, 3 dB)", duration(niosh_minutes(level)))
    };
    let osha = if level < 90.0 {
        "is not reached in 8 h (90 dBA, 5 dB)".to_owned()
    } else if level > 115.0 {
        "allows none (no steady noise above 115 dBA)".to_owned()
    } else {
        format!("in {} (90 dBA, 5 dB)", duration(60.0 * osha_hours(level)))
    };
    Some(format!(
        "For information: at {} dBA{place} NIOSH's recommended exposure limit {niosh}; OSHA's permissible \
         limit {osha}.",
        crate::quantity::fixed(level, crate::quantity::Decimals(0))
    ))
}

/// What goes with every such note.
pub const CAUTION: &str = "A level at one place, read for a moment, is not an exposure; for compliance a \
                           licensed or certified hygienist measures.";

/// A time in the words of a table: `2 h`, `25 min`, `40 s`.
fn duration(minutes: f64) -> String {
    if minutes >= 60.0 {
        format!("{} h", significant(minutes / 60.0, 2))
    } else if minutes >= 1.5 {
        format!("{} min", significant(minutes, 2))
    } else {
        format!("{} s", significant(minutes * 60.0, 2))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_quiet_place_gets_no_note_and_a_loud_one_both_limits() {
        assert_eq!(note("3450 rpm", 72.0), None);
        let said = [("3450 rpm", 94.0), ("", 82.0), ("", 88.0), ("", 99.0), ("", 120.0), ("", 141.0)]
            .map(|(at, level)| note(at, level).unwrap_or_default());
        insta::assert_snapshot!(said.join("\n"));
    }
}
