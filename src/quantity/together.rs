//! What may not be parted by the end of a line.

use super::Unit;

/// A text in which no line ends between a number, its uncertainty and its unit, nor between `p.` and a page:
/// no-break spaces stand there.
pub fn kept_together(text: &str) -> String {
    let ends_in_figure = |word: &str| word.ends_with(|c: char| c.is_ascii_digit());
    let begins_with_figure = |word: &str| word.starts_with(|c: char| c.is_ascii_digit());
    let is_unit = |word: &str| Unit::is_spelled(word.trim_end_matches([',', '.', ';', ':', ')']));
    let mut out = String::with_capacity(text.len() + 8);
    let mut before: Option<&str> = None;
    for word in text.split(' ') {
        if let Some(before) = before {
            let uncertain =
                (word == "±" && ends_in_figure(before)) || (before == "±" && begins_with_figure(word));
            let measured = ends_in_figure(before) && is_unit(word);
            let page = before.trim_start_matches('(') == "p." && begins_with_figure(word);
            out.push(if uncertain || measured || page { '\u{a0}' } else { ' ' });
        }
        out.push_str(word);
        before = Some(word);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::kept_together;

    #[test]
    fn a_number_its_uncertainty_and_its_unit_are_never_on_two_lines() {
        assert_eq!(
            kept_together(
                "at tip: 0.265 ± 0.020 mm at 4000 rpm; the limit is 1 thou (Guide, p. 9), 3 times in all"
            ),
            "at tip: 0.265\u{a0}±\u{a0}0.020\u{a0}mm at 4000\u{a0}rpm; the limit is 1\u{a0}thou (Guide, p.\u{a0}9), 3 times in all"
        );
        assert_eq!(kept_together(""), "");
    }

    #[test]
    fn an_interval_s_share_is_a_unit_and_a_count_of_runs_has_none() {
        assert_eq!(
            kept_together("0.5 ± 0.3 thou as left, −81 % (95 % interval)"),
            "0.5\u{a0}±\u{a0}0.3\u{a0}thou as left, −81\u{a0}% (95\u{a0}% interval)"
        );
        assert_eq!(kept_together("1 of 5 runs in red oak"), "1 of 5 runs in red oak");
    }
}
