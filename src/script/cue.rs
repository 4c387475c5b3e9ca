//! Cues: what is shown while something is said, on a line of its own.
//!
//! ```text
//! [still: arbor-runout-unrolled]
//! [still: warm-up-curve, build-up]
//! [camera]
//! [pause: 2 s]
//! ```

use crate::quantity::{Kind, Unit, parse_quantity};

/// How a cue is mended.
pub(super) const HELP: &str =
    "write [still: NAME], [still: NAME, build-up], [camera] or [pause: 2 s] on a line of its own";

/// A still that is called.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Still {
    /// Its name.
    pub name: String,
    /// Whether it draws itself.
    pub build_up: bool,
}

/// What is shown or waited for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Cue {
    /// A still, until the next cue.
    Still(Still),
    /// No still: the maker's own picture.
    Camera,
    /// Silence, in milliseconds.
    Pause(u64),
}

/// What is wrong with a cue.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct CueProblem {
    pub(super) message: String,
    pub(super) expected: &'static str,
}

/// The cue that a line is; none where it is text.
pub(super) fn on_line(line: &str) -> Option<Result<Cue, CueProblem>> {
    let inner = line.trim().strip_prefix('[')?.strip_suffix(']')?.trim();
    let word_end = inner.find(|c: char| !c.is_ascii_alphabetic()).unwrap_or(inner.len());
    let (word, rest) = inner.split_at(word_end);
    let rest = rest.trim_start().strip_prefix(':').map(str::trim);
    let wrong = |message: &str, expected| Some(Err(CueProblem { message: message.to_owned(), expected }));
    match (word.to_ascii_lowercase().as_str(), rest) {
        ("camera", None) if word.len() == inner.len() => Some(Ok(Cue::Camera)),
        ("camera", Some(_)) => wrong("'camera' calls nothing by name", "expected [camera]"),
        ("still", Some(rest)) if !rest.is_empty() => Some(still(rest)),
        ("still", Some(_)) => wrong("a cue without the name of a still", "expected a name after the colon"),
        ("still", None) if !inner.contains(']') => wrong("a cue without its colon", "expected [still: NAME]"),
        ("pause", Some(rest)) => Some(pause(rest)),
        ("pause", None) if word.len() == inner.len() => {
            wrong("a pause of no length", "expected [pause: 2 s]")
        }
        _ => None,
    }
}

fn still(rest: &str) -> Result<Cue, CueProblem> {
    let mut parts = rest.split(',').map(str::trim);
    let name = parts.next().unwrap_or_default().to_owned();
    let mut build_up = false;
    for part in parts {
        match part.to_lowercase().replace([' ', '_'], "-").as_str() {
            "build-up" => build_up = true,
            _ => {
                let message = format!("'{part}' is nothing that a still can do");
                return Err(CueProblem { message, expected: "expected build-up, or nothing" });
            }
        }
    }
    Ok(Cue::Still(Still { name, build_up }))
}

/// Longer than this is no pause.
const LONGEST: f64 = 600.0;

fn pause(rest: &str) -> Result<Cue, CueProblem> {
    let seconds = Unit::known(Kind::Time, "s")
        .and_then(|unit| parse_quantity(rest, &[Kind::Time], None).ok()?.to(unit).ok())
        .filter(|seconds| (0.0..=LONGEST).contains(seconds));
    match seconds {
        // At most 600 000: the cast keeps it.
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        Some(seconds) => Ok(Cue::Pause((seconds * 1000.0).round() as u64)),
        None => Err(CueProblem {
            message: format!("'{rest}' is no length of a pause"),
            expected: "expected a time of at most ten minutes, such as 2 s",
        }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cue_is_a_line_of_its_own_and_other_brackets_are_text() {
        let still = |name: &str, build_up| Some(Ok(Cue::Still(Still { name: name.to_owned(), build_up })));
        assert_eq!(on_line(" [still: noise-speeds] "), still("noise-speeds", false));
        assert_eq!(on_line("[Still: warm-up-curve, build-up]"), still("warm-up-curve", true));
        assert_eq!(on_line("[camera]"), Some(Ok(Cue::Camera)));
        assert_eq!(on_line("[pause: 1.5 s]"), Some(Ok(Cue::Pause(1500))));
        for text in
            ["[sic]", "see [still: x] there", "[a][b]", "[ ]", "[stillness]", "[paused]", "[still life][pic]"]
        {
            assert_eq!(on_line(text), None, "{text}");
        }
        for wrong in [
            "[still]",
            "[still:]",
            "[still noise]",
            "[still: a, fade]",
            "[pause]",
            "[pause: long]",
            "[pause: 2 h]",
        ] {
            assert!(matches!(on_line(wrong), Some(Err(_))), "{wrong}");
        }
    }
}
