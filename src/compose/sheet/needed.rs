//! How many readings could show the change that matters, in words.

use crate::analysis::Measure;
use crate::analysis::blank::Grows;
use crate::analysis::readings_needed::{Answer, Needed, Repeated};
use crate::findings::sentences::{listed, lower};
use crate::quantity::{Unit, significant, with_unit};

/// More than so many nobody takes.
const MANY: usize = 200;

/// A table gets no room for more than so many.
const ROOM: usize = 24;

/// For how many turns, passes or readings a sheet must have room.
pub(super) fn room(needed: &Needed) -> Option<(Grows, usize)> {
    match needed.answer {
        Answer::Enough { n, .. } if n <= ROOM => Some((needed.repeated?.grows, n)),
        _ => None,
    }
}

/// Sentences: the number, then what was taken for it.
pub(super) fn sentences(needed: &Needed, measure: &dyn Measure) -> Vec<String> {
    let whats = measure.whats();
    let what = whats.iter().find(|known| known.name == needed.what).map_or(needed.what, |known| known.words);
    let change = format!("a change in {what} of {}", said(needed.matters, needed.unit));
    let mut says = vec![answer(needed, &change)];
    if matches!(needed.answer, Answer::Unknown) {
        return says;
    }
    let place = if needed.at.is_empty() {
        String::new()
    } else {
        let why = if matches!(needed.answer, Answer::Enough { .. }) {
            "most are needed"
        } else {
            "it leaves the most"
        };
        format!(" at {}, where {why}", needed.at)
    };
    let spread = if needed.seen {
        format!("the spread as last time{place}")
    } else {
        "the spread of the instrument's repeat readings".to_owned()
    };
    says.push(format!(
        "Taken: both visits alike, with the same instrument, its errors independent; {spread}; 95 %."
    ));
    says
}

fn answer(needed: &Needed, change: &str) -> String {
    let left = |half: f64| format!("±\u{a0}{}", said(half, needed.unit));
    match (needed.answer, needed.repeated) {
        (Answer::Unknown, _) if needed.seen => format!(
            "How many readings could show {change} cannot be said: nothing is known of the scatter. Read each place \
             several times, or give the instrument's repeat readings."
        ),
        (Answer::Unknown, _) => format!(
            "How many readings could show {change} cannot be said before a first visit has shown the scatter."
        ),
        (Answer::Never { least }, repeated) => format!(
            "No number of {} with this instrument can show {change}: {} alone leave {}.",
            repeated.map_or("readings", |repeated| repeated.words.1),
            listed(&needed.lasting.iter().map(|name| lower(name)).collect::<Vec<_>>()),
            left(least)
        ),
        (Answer::Fixed { half }, _) if half <= needed.matters => {
            format!("Two visits like the last can show {change}: they leave {}.", left(half))
        }
        (Answer::Fixed { half }, _) => {
            format!("Two visits like the last cannot show {change}: they leave {}.", left(half))
        }
        (Answer::Enough { n, half, now }, repeated) => {
            let repeated = repeated.unwrap_or(Repeated::readings(1));
            enough(&repeated, change, (n, half), now.filter(|_| needed.seen), left)
        }
    }
}

fn enough(
    repeated: &Repeated,
    change: &str,
    (n, half): (usize, f64),
    now: Option<f64>,
    left: impl Fn(f64) -> String,
) -> String {
    let counted = |n: usize| format!("{n}\u{a0}{}", if n == 1 { repeated.words.0 } else { repeated.words.1 });
    let had = counted(repeated.n);
    let rest = now.map_or_else(String::new, |now| format!(" (the {had} of last time leave {})", left(now)));
    if n > MANY {
        return format!(
            "More than {MANY} {} at each visit would be needed to show {change}{rest}: steady the set-up or take a \
             finer instrument.",
            repeated.words.1
        );
    }
    match now {
        Some(now) if n == repeated.n => {
            format!(
                "{} at each visit, as last time, can show {change} and fewer cannot: they leave {}.",
                counted(n),
                left(now)
            )
        }
        _ => format!(
            "The smallest number that could show {change} is {} at each visit, which leave {}{rest}.",
            counted(n),
            left(half)
        ),
    }
}

fn said(value: f64, unit: Unit) -> String {
    with_unit(&significant(value, 2), unit).replace(' ', "\u{a0}")
}
