//! A claim in plain sentences. Nothing is said to have come about because of the repair.

use super::super::sentences::{capital, count, full_stop, limit_words, listed, said, subject};
use super::super::{Conclusion, CoverageWindow, Verdict};
use super::{Claims, Seen, Stand, is_beyond};
use crate::session::{Date, State, days_between, written_out};

/// How much a sentence may name: what a user wrote is cut, never what was found or its date.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Room {
    /// Names in a list at most; the rest is counted.
    pub names: usize,
    /// Letters of a title, a name or a source at most.
    pub letters: usize,
}

impl Room {
    fn cut(self, text: &str) -> String {
        shortened(text.trim(), self.letters)
    }
}

/// A number of things in words: "1 day", "12 days".
fn days(number: i64) -> String {
    if number == 1 { "1 day".to_owned() } else { format!("{number} days") }
}

/// What was bought, when, and from whom.
pub fn bought(claims: &Claims<'_>, room: Room) -> String {
    let machine = claims.machine;
    let told = |before: &str, text: Option<&String>, after: &str| {
        text.map_or_else(String::new, |text| format!("{before}{}{after}", room.cut(text)))
    };
    let name = room.cut(&machine.name);
    let kind = told(" (", machine.kind.as_ref(), ")");
    let on = machine.bought.map_or_else(String::new, |on| format!(" on {}", written_out(on)));
    let from = told(" from ", machine.seller.as_ref(), "");
    let price = told(" for ", machine.price.as_ref(), "");
    if on.is_empty() && from.is_empty() && price.is_empty() {
        return format!("I write about a {name}{kind}.");
    }
    format!("I bought a {name}{kind}{on}{from}{price}.")
}

/// When the claimed findings were made: "on 2 March 2026", "between … and …".
fn when(days: &[Date]) -> String {
    match days {
        [] => String::new(),
        [only] => format!("on {}", written_out(*only)),
        [first, .., last] => format!("between {} and {}", written_out(*first), written_out(*last)),
    }
}

/// How many checks are beyond their limits, and what that word means here.
pub fn found(claims: &Claims<'_>) -> Vec<String> {
    let number = claims.beyond.len();
    if number == 0 {
        return vec![nothing_beyond(claims)];
    }
    let beyond = if number == 1 {
        "one check was found beyond its limit".to_owned()
    } else {
        format!("{} were found beyond their limits", count(number, "check", "checks"))
    };
    vec![
        format!("In the readings taken {}, {beyond}.", when(&claims.days)),
        "A value is called over or under only where its whole 95 % interval, value ± uncertainty, lies beyond the limit."
            .to_owned(),
    ]
}

/// What to say where no limit is shown to be passed.
fn nothing_beyond(claims: &Claims<'_>) -> String {
    if claims.limited == 0 {
        return "No check has a limit, so the readings show no limit passed; the numbers stand in the report as a record."
            .to_owned();
    }
    let close = claims.limited.saturating_sub(claims.within);
    let mut parts = Vec::new();
    if claims.within > 0 {
        parts.push(count(claims.within, "is within", "are within"));
    }
    if close > 0 {
        parts.push(count(close, "is too close to call", "are too close to call"));
    }
    format!(
        "The readings do not show that a limit was passed: of {} held against a limit, {}.",
        count(claims.limited, "check", "checks"),
        listed(&parts)
    )
}

/// "After the repair, as left on 24 March 2026": the one day that these were seen again, or what
/// is true of each of them.
fn again(seen: &[Seen<'_>]) -> String {
    let Some(first) = seen.first() else { return String::new() };
    let repaired = seen.iter().all(|seen| seen.visit.state == State::AsLeft);
    let one = seen.iter().all(|seen| seen.visit.visit == first.visit.visit);
    match (repaired, one) {
        (true, true) => format!("After the repair, as left on {}", written_out(first.visit.date)),
        (true, false) => "After the repair, at the last visit of each".to_owned(),
        (false, true) => format!("At the later visit of {}", written_out(first.visit.date)),
        (false, false) => "At the last visit of each".to_owned(),
    }
}

/// How the claimed checks stood later, in the words of the verdicts, and how many were not
/// measured again. Empty where none was.
pub fn afterwards(claims: &Claims<'_>) -> Vec<String> {
    let seen: Vec<Seen<'_>> = claims.beyond.iter().filter_map(|stand| stand.after).collect();
    if seen.is_empty() {
        return Vec::new();
    }
    let tally = |wanted: fn(Verdict) -> bool| seen.iter().filter(|s| wanted(s.finding.verdict)).count();
    let within = tally(|verdict| verdict == Verdict::Within);
    let missing = claims.beyond.len() - seen.len();
    let head = again(&seen);
    let mut says = Vec::new();
    says.push(match (seen.len(), within) {
        (1, 1) if missing == 0 => format!("{head}, it is within its limit."),
        (all, within) if all == within && missing == 0 => {
            format!("{head}, {} within their limits.", count_all(all))
        }
        (_, within) => {
            let close = tally(|verdict| verdict == Verdict::TooCloseToCall);
            let beyond = tally(is_beyond);
            let parts: Vec<String> = [
                (within, "is within its limit", "are within their limits"),
                (close, "is too close to call", "are too close to call"),
                (beyond, "is still beyond its limit", "are still beyond their limits"),
            ]
            .into_iter()
            .filter(|(number, ..)| *number > 0)
            .map(|(number, one, many)| count(number, one, many))
            .collect();
            format!("{head}, {}.", listed(&parts))
        }
    });
    if missing > 0 {
        let sentence = count(missing, "was not measured again", "were not measured again");
        says.push(format!("{}.", capital(&sentence)));
    }
    says
}

fn count_all(number: usize) -> String {
    if number == 2 { "both are".to_owned() } else { format!("all {}", count(number, "is", "are")) }
}

/// What the comparisons that are like for like show of the claimed checks.
pub fn better(claims: &Claims<'_>) -> Option<String> {
    let fair: Vec<Conclusion> = claims.beyond.iter().filter_map(Stand::fair_conclusion).collect();
    let number = |wanted| fair.iter().filter(|conclusion| **conclusion == wanted).count();
    let parts: Vec<String> = [(number(Conclusion::Better), "better"), (number(Conclusion::Worse), "worse")]
        .into_iter()
        .filter(|(number, _)| *number > 0)
        .map(|(number, word)| count(number, &format!("is {word}"), &format!("are {word}")))
        .collect();
    let one = claims.beyond.len() == 1;
    match parts.as_slice() {
        [] => None,
        [only] if one => Some(format!(
            "Compared like for like with what was found, it {}.",
            only.trim_start_matches("one ")
        )),
        parts => Some(format!("Compared like for like with what was found, {}.", listed(parts))),
    }
}

/// The claimed checks whose comparison is not like for like, with what differs; as many of them
/// by name as there is room for.
pub fn not_alike(claims: &Claims<'_>, room: Room) -> Option<String> {
    let unlike: Vec<String> =
        claims.beyond.iter().filter(|stand| stand.unlike()).map(|stand| differing(stand, room)).collect();
    (!unlike.is_empty()).then(|| {
        format!(
            "Not like for like, so that nothing is claimed from the difference: {}.",
            some(&unlike, room.names)
        )
    })
}

/// "Droop in a rip (blade: old before, new after)".
fn differing(stand: &Stand<'_>, room: Room) -> String {
    let differs = stand.changes.map(|changes| changes.differs.as_slice()).unwrap_or_default();
    let parts: Vec<String> = differs
        .iter()
        .filter(|differs| differs.decides)
        .map(|d| {
            let [condition, before, after] = [&d.condition, &d.before, &d.after].map(|text| room.cut(text));
            format!("{condition}: {before} before, {after} after")
        })
        .collect();
    format!("{} ({})", room.cut(&stand.check.title), some(&parts, room.names.max(1)))
}

/// The first few, and how many more there are.
fn some(parts: &[String], most: usize) -> String {
    let named = parts.get(..most).unwrap_or(parts);
    let rest = parts.len() - named.len();
    match (named, rest) {
        (named, 0) => named.join("; "),
        ([], rest) => format!("{rest}, which the report names"),
        (named, rest) => format!("{}; and {rest} more, which the report names", named.join("; ")),
    }
}

/// What is too close to call and so not claimed, as many of them by name as there is room for.
pub fn not_claimed(claims: &Claims<'_>, room: Room) -> Option<String> {
    let one = |stand: &Stand<'_>| {
        let finding = stand.found.finding;
        let limit = finding.limit.as_ref().map_or_else(String::new, |limit| limit_words(limit, finding.unit));
        format!("{} ({}; {limit})", room.cut(&subject(stand.check, stand.at)), said(finding))
    };
    let parts: Vec<String> = claims.too_close.iter().map(one).collect();
    (!parts.is_empty()).then(|| format!("Too close to call, and not claimed: {}.", some(&parts, room.names)))
}

/// What covers the machine and how it stood on the days of the findings.
pub fn coverage(claims: &Claims<'_>, room: Room) -> Vec<String> {
    let Some(first) = claims.days.first() else { return Vec::new() };
    if claims.coverage.is_empty() {
        return vec!["My records name no warranty or other coverage of this machine.".to_owned()];
    }
    let noun = if claims.beyond.is_empty() { "visit" } else { "finding" };
    let mut says = Vec::new();
    if claims.all_run_out() {
        says.push(format!(
            "All coverage in my records had run out on the day of the first {noun}, {}; I put the findings before you all the same.",
            written_out(*first)
        ));
    }
    says.extend(claims.coverage.iter().map(|window| window_words(window, &claims.days, noun, room)));
    says
}

fn window_words(window: &CoverageWindow, on: &[Date], noun: &str, room: Room) -> String {
    let reference =
        window.reference.as_ref().map_or_else(String::new, |text| format!(", {}", room.cut(text)));
    let head = format!("{} ({}{reference})", room.cut(&window.name), window.lasts);
    let until = written_out(window.until);
    let inside: Vec<Date> =
        on.iter().copied().filter(|day| (window.from..=window.until).contains(day)).collect();
    let (Some(first), Some(last)) = (on.first(), on.last()) else { return head };
    match inside.as_slice() {
        [] if *last < window.from => {
            format!("{head}: from {} on, after the last {noun}.", written_out(window.from))
        }
        [] => {
            let late = days_between(window.until, *first);
            format!("{head}: its last day was {until}, {} before the first {noun}.", days(late))
        }
        [open, ..] => {
            let left = |day: Date| days_left(window, day);
            let mut text =
                format!("{head}: until {until}; {} remained on {}", days(left(*open)), written_out(*open));
            match inside.last() {
                Some(end) if end != open => {
                    text += &format!(" and {} on {}", left(*end), written_out(*end));
                }
                _ => {}
            }
            if *last > window.until {
                text += &format!("; over by the last {noun}, {}", written_out(*last));
            }
            text + "."
        }
    }
}

/// The days left as the findings count them.
fn days_left(window: &CoverageWindow, on: Date) -> i64 {
    let counted = window.days.iter().find(|day| day.on == on).map(|day| day.days_left);
    counted.unwrap_or_else(|| days_between(on, window.until))
}

/// What is asked.
pub fn asked(claims: &Claims<'_>, most: usize) -> String {
    match &claims.session.ask {
        Some(ask) => {
            let cut = shortened(ask.trim(), most);
            let whole =
                if cut.len() < ask.trim().len() { " (in full on the report's first page)" } else { "" };
            full_stop(&format!("{cut}{whole}"))
        }
        None => "Please tell me how you wish to proceed.".to_owned(),
    }
}

/// A text of no more than so many characters; one that is cut ends with "…", at a word if it can.
pub fn shortened(text: &str, most: usize) -> String {
    if text.chars().count() <= most {
        return text.to_owned();
    }
    let kept = most.saturating_sub(1);
    let cut: String = text.chars().take(kept).collect();
    let whole = text.chars().nth(kept).is_some_and(char::is_whitespace);
    let word = cut.rfind(' ').filter(|at| !whole && *at > cut.len() / 2);
    let cut = word.and_then(|at| cut.get(..at)).unwrap_or(&cut);
    format!("{}…", cut.trim_end_matches([' ', ',', ';', '.']))
}
