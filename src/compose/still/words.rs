//! Words that fit: as large as they can be, in lines; where the smallest are too many, fewer and an ellipsis.

use crate::charts::text::{self, Face};
use crate::findings::claim::words::shortened as cut;
use crate::quantity::kept_together;
use crate::session::Session;
use crate::typeset::fonts;

/// Sizes of a sentence that has a column, and of one that has a band, in points. None is below a thirtieth of
/// the picture's shorter side.
pub(super) const LARGE: [f64; 8] = [13.0, 12.0, 11.0, 10.0, 9.0, 8.5, 8.0, SMALLEST];
pub(super) const MIDDLE: [f64; 6] = [11.0, 10.0, 9.0, 8.5, 8.0, SMALLEST];
/// The house's smallest words, in points.
pub(super) const SMALLEST: f64 = 7.5;

/// A visit's name takes no more letters on a picture, and a check's no more than that.
const VISIT: usize = 28;

/// Lines of a size.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Fitted {
    pub(super) lines: Vec<String>,
    pub(super) size: f64,
}

/// The height of so many lines, from the top of the first one's capitals to the foot of the last one's letters.
pub(super) fn height(lines: usize, size: f64) -> f64 {
    if lines == 0 {
        return 0.0;
    }
    size * (text::CAP_HEIGHT + text::LEADING * (lines - 1) as f64 + text::BELOW)
}

/// Words in the largest of some sizes in which they fit a width and a height. Where they fit in none, as many
/// as do in the last one.
pub(super) fn fitted(words: &str, face: Face, (width, room): (f64, f64), sizes: &[f64]) -> Fitted {
    let words = kept_together(&text::clean(&fonts::printable(words)));
    let across = width - 0.5;
    for size in sizes {
        let is_whole = text::widest(words.split(' '), *size, face) <= across;
        let lines = text::wrap(&words, *size, face, across);
        if is_whole && height(lines.len(), *size) <= room {
            return Fitted { lines: even(&words, *size, face, across, lines), size: *size };
        }
    }
    // A word longer than a line is broken between its letters.
    let size = sizes.last().copied().unwrap_or(SMALLEST);
    let mut lines = text::wrap(&words, size, face, across);
    let most = (1..=lines.len()).take_while(|count| height(*count, size) <= room).last().unwrap_or(1);
    if lines.len() > most {
        lines.truncate(most);
        if let Some(last) = lines.last_mut() {
            while text::width(&format!("{last}…"), size, face) > across && !last.is_empty() {
                let shorter = last.trim_end().rfind(' ').unwrap_or(0);
                // A word by itself is cut between its letters.
                let end =
                    if shorter > 0 { shorter } else { last.char_indices().last().map_or(0, |(at, _)| at) };
                last.truncate(end);
            }
            let end = last.trim_end_matches([' ', ',', ';', ':', '.']).len();
            last.truncate(end);
            last.push('…');
        }
    }
    Fitted { lines, size }
}

/// The same words in as many lines, as nearly alike in length as can be: so no word is left alone on the last.
fn even(words: &str, size: f64, face: Face, across: f64, lines: Vec<String>) -> Vec<String> {
    const STEP: f64 = 2.0;
    let count = lines.len();
    let mut best = lines;
    let least = text::widest(words.split(' '), size, face);
    let mut narrower = across - STEP;
    while narrower > least {
        let lines = text::wrap(words, size, face, narrower);
        if lines.len() > count {
            break;
        }
        best = lines;
        narrower -= STEP;
    }
    best
}

/// The session with the names of its visits as short as a picture needs them.
pub(super) fn shortened(session: &Session) -> Session {
    let mut session = session.clone();
    for visit in &mut session.visits {
        visit.title = cut(&visit.title, VISIT);
    }
    session
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn few_words_are_set_large_and_many_small() {
        assert!((fitted("Within", Face::Strong, (110.0, 60.0), &LARGE).size - 13.0).abs() < 1e-9);
        let many = "Run-out at the tip: 3.3 ± 0.4 thou as found, 0.5 ± 0.4 thou as left, against 1 thou.";
        let fitted = fitted(many, Face::Strong, (110.0, 60.0), &LARGE);
        assert!(fitted.size < 13.0 && fitted.size >= SMALLEST);
        assert_eq!(fitted.lines.join(" ").replace('\u{a0}', " "), many);
    }

    #[test]
    fn words_that_fit_in_no_size_are_fewer_and_say_so() {
        for words in ["very long words ".repeat(40), "Unterbrechungsfreiheit".repeat(20), "主軸".repeat(120)]
        {
            let fitted = fitted(&words, Face::Strong, (110.0, 40.0), &LARGE);
            assert!((fitted.size - SMALLEST).abs() < 1e-9);
            assert!(height(fitted.lines.len(), fitted.size) <= 40.0);
            assert!(fitted.lines.last().is_some_and(|last| last.ends_with('…')), "{:?}", fitted.lines);
            for line in &fitted.lines {
                assert!(text::width(line, fitted.size, Face::Strong) <= 110.0, "{line}");
            }
        }
    }
}
