//! Numbers that stay with their uncertainty and their unit where a line ends.

use std::borrow::Cow;

/// Units that a number is written with in the text of a report.
const UNITS: [&str; 20] = [
    "thou", "mm", "cm", "µm", "in", "ft", "s", "min", "A", "V", "W", "°C", "°F", "rpm", "Hz", "dBA", "dB",
    "%", "g", "m",
];

/// The text with a space that does not break where a line must not end: about the `±` of a number, before its
/// unit, and after the `p.` of a page (common practice).
///
/// ```
/// assert_eq!(asfound::notes::together("is 3.4 ± 0.8 thou"), "is 3.4\u{a0}±\u{a0}0.8\u{a0}thou");
/// assert_eq!(asfound::notes::together("3 instruments"), "3 instruments");
/// ```
pub fn together(text: &str) -> Cow<'_, str> {
    let mut out = String::new();
    let mut done = 0;
    for (at, _) in text.match_indices(' ') {
        let (before, after) = (&text[..at], &text[at + 1..]);
        if holds(before, after) {
            out.push_str(&text[done..at]);
            out.push('\u{a0}');
            done = at + 1;
        }
    }
    if done == 0 {
        return Cow::Borrowed(text);
    }
    out.push_str(&text[done..]);
    Cow::Owned(out)
}

/// Whether what stands before and after a space must stand on one line.
fn holds(before: &str, after: &str) -> bool {
    let number_follows = after.starts_with(|c: char| c.is_ascii_digit());
    if before.ends_with('±') {
        return number_follows;
    }
    if let Some(word) = before.strip_suffix("p.") {
        return number_follows && !word.ends_with(char::is_alphanumeric);
    }
    if !ends_in_digit(before) {
        return false;
    }
    let uncertainty_follows =
        || after.strip_prefix("± ").is_some_and(|rest| rest.starts_with(|c: char| c.is_ascii_digit()));
    // Whatever its unit is.
    let is_uncertainty = || {
        before.trim_end_matches(|c: char| c.is_ascii_digit() || c == '.').ends_with("± ")
            && after.starts_with(|c: char| !c.is_whitespace())
    };
    unit_follows(after) || uncertainty_follows() || is_uncertainty()
}

fn ends_in_digit(text: &str) -> bool {
    text.ends_with(|c: char| c.is_ascii_digit())
}

fn unit_follows(text: &str) -> bool {
    UNITS.iter().any(|unit| {
        text.strip_prefix(unit).is_some_and(|rest| !rest.starts_with(|c: char| c.is_alphanumeric()))
    })
}

#[cfg(test)]
mod tests {
    use super::together;

    fn seen(text: &str) -> String {
        together(text).replace('\u{a0}', "~")
    }

    #[test]
    fn a_number_stays_with_its_uncertainty_and_its_unit() {
        for (typed, set) in [
            ("3.4 ± 0.8 thou at the tip", "3.4~±~0.8~thou at the tip"),
            ("−0.802 ± 0.017 mm/m", "−0.802~±~0.017~mm/m"),
            ("12 ± 2 saws", "12~±~2~saws"),
            ("accuracy ± 0.005 g or ± 5 % of reading", "accuracy ±~0.005~g or ±~5~% of reading"),
            ("between 5 mm and 6 mm.", "between 5~mm and 6~mm."),
            ("Owner's guide, p. 11", "Owner's guide, p.~11"),
            ("85 dBA, 95 % of 3 min", "85~dBA, 95~% of 3~min"),
            ("20 °C", "20~°C"),
        ] {
            assert_eq!(seen(typed), set);
        }
    }

    #[test]
    fn words_that_only_begin_like_a_unit_may_go_to_the_next_line() {
        for text in
            ["5 inserts", "3 saws", "2 minutes", "step. 4", "a ± b", "no number", "7 Allen keys", " ", ""]
        {
            assert_eq!(seen(text), text);
        }
    }
}
