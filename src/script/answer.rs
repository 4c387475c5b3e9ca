//! What a placeholder stands for.

mod changes;
mod others;

use std::ops::Range;

use super::ask::{Asked, How, Words, folded};
use super::value::{Value, number_of};
use crate::findings::sentences::{self, telling_place};
use crate::findings::{CheckFindings, Finding, Findings, VisitFindings};
use crate::session::{Session, did_you_mean};
use others::of_machine;

/// A placeholder's answer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Answer {
    /// What takes its place in the script.
    pub shown: String,
    /// The same as it is read aloud.
    pub spoken: String,
    /// As the report prints it; empty where that is no number.
    pub figure: String,
    /// What it is: "Run-out of the arbor, tip, as found".
    pub from: String,
}

impl Answer {
    /// With a capital letter, where its placeholder begins a sentence.
    pub(super) fn begin_sentence(&mut self) {
        self.shown = sentences::capital(&self.shown);
        self.spoken = sentences::capital(&self.spoken);
    }
}

/// Why a placeholder has no answer: where in the line, what, what was expected there, and how to mend it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unanswered {
    /// Bytes of the line.
    pub range: Range<usize>,
    /// What is wrong.
    pub message: String,
    /// What was expected there.
    pub expected: String,
    /// How to mend it.
    pub help: String,
}

fn wrong(range: &Range<usize>, message: String, expected: &str, help: String) -> Unanswered {
    Unanswered { range: range.clone(), message, expected: expected.to_owned(), help }
}

/// A value with what it is.
pub(super) struct Named {
    pub(super) value: Value,
    pub(super) from: String,
}

/// What a check can be asked for besides its numbers.
const OF_CHECK: [&str; 13] = [
    "change",
    "percent",
    "conclusion",
    "before",
    "after",
    "limit",
    "verdict",
    "uncertainty",
    "place",
    "instrument",
    "readings",
    "title",
    "source",
];

/// Answers placeholders from a session and its findings.
#[derive(Clone, Copy, Debug)]
pub struct Answers<'a> {
    /// The session.
    pub session: &'a Session,
    /// What was found.
    pub findings: &'a Findings,
}

impl<'a> Answers<'a> {
    /// The answer to a placeholder.
    pub fn answer(&self, asked: &Asked) -> Result<Answer, Unanswered> {
        let named = self.named(asked)?;
        let how = |how| asked.hows.contains(&how);
        if how(How::Size) && !matches!(named.value, Value::Change(_) | Value::Percent(_)) {
            let message = "'size' is asked of something that is no change".to_owned();
            return Err(wrong(
                &asked.range,
                message,
                "no direction to leave out",
                "leave 'size' out, or ask for '{change of …, size}'".to_owned(),
            ));
        }
        let form = super::value::Form {
            words: [How::InWords, How::About, How::GiveOrTake, How::Short].into_iter().any(how),
            about: how(How::About),
            spread: how(How::GiveOrTake)
                || ![How::Value, How::InWords, How::About, How::Short].into_iter().any(how),
            short: how(How::Short),
            size: how(How::Size),
        };
        Ok(Answer {
            shown: named.value.shown(form),
            spoken: named.value.spoken(form),
            figure: named.value.figure(),
            from: named.from,
        })
    }

    fn named(&self, asked: &Asked) -> Result<Named, Unanswered> {
        let subject = folded(&asked.subject.text);
        if let Some(check) = self.findings.checks.iter().find(|check| folded(&check.check) == subject) {
            return self.of_check(asked, check);
        }
        if let Some(visit) = self.visit(&subject) {
            return self.of_visit(asked, visit);
        }
        let machine = self.session.machines.iter().find(|machine| folded(&machine.id) == subject);
        let only = match self.session.machines.as_slice() {
            [only] if subject == "machine" => Some(only),
            _ => None,
        };
        if let Some(machine) = machine.or(only) {
            return of_machine(asked, machine);
        }
        if self.findings.coverage.iter().any(|window| folded(&window.name) == subject) {
            return self.of_coverage(asked, &subject);
        }
        if matches!(subject.as_str(), "title" | "question") {
            nothing_more(asked, 0, false)?;
        }
        match (subject.as_str(), asked.what.is_empty()) {
            ("title", true) => Ok(words(self.session.title.clone(), "the session's title")),
            ("question", true) => {
                Ok(words(self.session.question.clone().unwrap_or_default(), "the session's question"))
            }
            _ => Err(self.nothing_called_so(&asked.subject)),
        }
    }

    fn nothing_called_so(&self, subject: &Words) -> Unanswered {
        let session = self.session;
        let mut known: Vec<&str> = self.findings.checks.iter().map(|check| check.check.as_str()).collect();
        known.extend(session.visits.iter().map(|visit| visit.id.as_str()));
        known.extend(session.machines.iter().map(|machine| machine.id.as_str()));
        known.extend(self.findings.coverage.iter().map(|window| window.name.as_str()));
        wrong(
            &subject.range,
            format!("the session has nothing called '{}'", subject.text),
            "expected a check, a visit, a machine or a coverage",
            did_you_mean(&subject.text, &known),
        )
    }

    fn visit(&self, name: &str) -> Option<&'a crate::session::Visit> {
        self.session.visits.iter().find(|visit| folded(&visit.id) == name || folded(&visit.title) == name)
    }

    fn of_check(&self, asked: &Asked, check: &'a CheckFindings) -> Result<Named, Unanswered> {
        let form =
            asked.what.first().map(|words| folded(&words.text)).filter(|w| OF_CHECK.contains(&w.as_str()));
        let inner = asked.what.get(usize::from(form.is_some())..).unwrap_or_default();
        let what = match inner {
            [] => check.main,
            [one] => match what(check, one) {
                Some(what) => what,
                None if form.is_none() => return self.condition(asked, Some(check), one),
                None => return Err(no_such_what(check, one)),
            },
            [_, second, ..] => {
                let message = format!("'{}' stands between two 'of' and means nothing there", second.text);
                return Err(wrong(&second.range, message, "one number of one check", WRITE_ONE.to_owned()));
            }
        };
        match form.as_deref() {
            Some("title") => {
                nothing_more(asked, 0, false)?;
                Ok(words(check.title.clone(), "the check's title"))
            }
            Some("instrument") => self.instrument(asked, check),
            Some("change" | "percent" | "conclusion" | "before" | "after") => {
                self.of_change(asked, check, what, form.as_deref().unwrap_or_default())
            }
            other => self.of_finding(asked, check, what, other),
        }
    }

    /// The visit that a placeholder names; the check's only one where it names none.
    fn which_visit(&self, asked: &Asked, check: &'a CheckFindings) -> Result<&'a VisitFindings, Unanswered> {
        let known = || check.visits.iter().map(|visit| visit.visit.as_str()).collect::<Vec<_>>();
        let Some(named) = asked.rest.last() else {
            if let [only] = check.visits.as_slice() {
                return Ok(only);
            }
            let message = format!("'{}' was read at more than one visit", check.title);
            let help = format!("name one: {}", known().join(", "));
            return Err(wrong(&asked.range, message, "expected a visit after a comma", help));
        };
        let of = |named: &Words| {
            let wanted = folded(&named.text);
            check.visits.iter().find(|visit| {
                folded(&visit.visit) == wanted || folded(self.session.visit_title(&visit.visit)) == wanted
            })
        };
        // A form with a slip in it is told as such, whatever else stands there.
        let slip = asked.rest.iter().find(|named| of(named).is_none()).unwrap_or(named);
        of(slip).ok_or_else(|| {
            let mut all = known();
            all.extend(How::NAMES.iter().map(|(name, _)| *name));
            let message = format!("'{}' is neither a visit of '{}' nor a form", slip.text, check.title);
            let expected = "expected a visit, or how the number is wanted";
            wrong(&slip.range, message, expected, did_you_mean(&slip.text, &all))
        })
    }

    fn of_finding(
        &self,
        asked: &Asked,
        check: &'a CheckFindings,
        what: &'static str,
        form: Option<&str>,
    ) -> Result<Named, Unanswered> {
        let mut asked = asked.clone();
        let places: Vec<&str> = places(check.visits.iter().flat_map(|visit| &visit.findings), what);
        let at = which_place(&mut asked, &places)?;
        let at = chosen(&asked, check, at, &places)?;
        // A limit and a place are the same at every visit.
        let visit = match self.which_visit(&asked, check) {
            Err(_) if matches!(form, Some("limit" | "place" | "source")) && asked.rest.is_empty() => {
                check.visits.iter().find(|visit| visit.finding(&at, what).is_some())
            }
            visit => Some(visit?),
        };
        nothing_more(&asked, 1, true)?;
        let found = visit.and_then(|visit| Some((visit, visit.finding(&at, what)?)));
        let Some((visit, finding)) = found else {
            let visit = visit.map_or("", |visit| self.session.visit_title(&visit.visit));
            let message = format!("'{visit}' has no such number of '{}'", check.title);
            return Err(wrong(
                &asked.range,
                message,
                "nothing was found here",
                other_visits(check, &at, what),
            ));
        };
        let from = self.told(check, &at, what, Some(visit), form);
        let value = value_of(finding, form, &at).ok_or_else(|| {
            let message = format!("'{}' has no {} here", check.title, form.unwrap_or("value"));
            wrong(
                &asked.range,
                message,
                "nothing to be said",
                "ask for another number, or take it out".to_owned(),
            )
        })?;
        Ok(Named { value, from })
    }

    /// "Run-out of the arbor, tip, as found".
    fn told(
        &self,
        check: &CheckFindings,
        at: &str,
        what: &str,
        visit: Option<&VisitFindings>,
        form: Option<&str>,
    ) -> String {
        let mut parts = vec![check.title.clone()];
        if what != check.main {
            parts.extend(what_words(check, what));
        }
        parts.extend(Some(at.to_owned()).filter(|at| !at.is_empty()));
        parts.extend(form.map(str::to_owned));
        let of_visit = form.is_none_or(|form| !matches!(form, "limit" | "place" | "source"));
        parts.extend(visit.filter(|_| of_visit).map(|visit| sentences::when(self.session, visit)));
        parts.join(", ")
    }

    fn instrument(&self, asked: &Asked, check: &'a CheckFindings) -> Result<Named, Unanswered> {
        nothing_more(asked, 1, false)?;
        let visit = match check.visits.as_slice() {
            [first, ..] if asked.rest.is_empty() => first,
            _ => self.which_visit(asked, check)?,
        };
        let used = self.session.check(&check.check).and_then(|of| {
            let readings = self.session.visit(&visit.visit)?.readings_of(&check.check)?;
            self.session.instrument_used(of, readings)
        });
        let missing = || {
            let message = format!("'{}' names no instrument", check.title);
            wrong(&asked.range, message, "nothing to be said", "name it in session.yaml".to_owned())
        };
        Ok(words(used.ok_or_else(missing)?.name.clone(), "an instrument"))
    }
}

fn what(check: &CheckFindings, typed: &Words) -> Option<&'static str> {
    let wanted = folded(&typed.text);
    let measure = crate::registry::registered(check.measure)?.measure;
    let whats = measure.whats();
    whats
        .iter()
        .find(|what| folded(what.name) == wanted || folded(what.words) == wanted)
        .map(|what| what.name)
}

fn no_such_what(check: &CheckFindings, typed: &Words) -> Unanswered {
    let mut known: Vec<&str> = crate::registry::registered(check.measure)
        .map(|known| known.measure.whats().iter().map(|what| what.name).collect())
        .unwrap_or_default();
    known.extend(OF_CHECK);
    let help = if OF_CHECK.contains(&folded(&typed.text).as_str()) {
        format!("ask for one thing at a time: '{{{} of {}}}'", typed.text, check.check)
    } else {
        did_you_mean(&typed.text, &known)
    };
    wrong(
        &typed.range,
        format!("'{}' has no '{}'", check.title, typed.text),
        "expected one of the check's numbers, a condition, or what can be asked of a check",
        help,
    )
}

/// The place that a placeholder names among those that there are: with the commas that belong to its name.
fn which_place(asked: &mut Asked, known: &[&str]) -> Result<Option<String>, Unanswered> {
    let Some(place) = asked.place.clone() else { return Ok(None) };
    // The longest run of parts that is a place: `3450 rpm, x` before `3450 rpm`.
    for taken in (0..=asked.rest.len()).rev() {
        let mut name = place.text.clone();
        for part in &asked.rest[..taken] {
            name = format!("{name}, {}", part.text);
        }
        if let Some(found) = known.iter().find(|known| folded(known) == folded(&name)) {
            asked.rest.drain(..taken);
            return Ok(Some((*found).to_owned()));
        }
    }
    if known.is_empty() {
        return Err(nothing_read(&place.range));
    }
    let message = format!("'{}' is no place or setting of this number", place.text);
    Err(wrong(
        &place.range,
        message,
        "expected a station, a place or a setting",
        did_you_mean(&place.text, known),
    ))
}

/// That no reading gives what is asked for.
fn nothing_read(range: &Range<usize>) -> Unanswered {
    let help = "write its readings into visit.yaml first".to_owned();
    wrong(range, "nothing was read that gives this number".to_owned(), "a number that no reading gives", help)
}

/// The place named; else the one that speaks for the check, or the number's only one.
fn chosen(
    asked: &Asked,
    check: &CheckFindings,
    named: Option<String>,
    places: &[&str],
) -> Result<String, Unanswered> {
    if let Some(at) = named {
        return Ok(at);
    }
    let telling = telling_place(check).filter(|at| places.contains(at));
    match (telling, places) {
        (Some(at), _) => Ok(at.to_owned()),
        (None, [at]) => Ok((*at).to_owned()),
        (None, []) => Err(nothing_read(&asked.range)),
        (None, places) => {
            let message = format!("this number of '{}' has more than one place", check.title);
            let help = format!("name one after 'at': {}", places.join(", "));
            Err(wrong(&asked.range, message, "expected a place after 'at'", help))
        }
    }
}

/// No more words than were asked for: a slip is not passed over.
fn nothing_more(asked: &Asked, parts: usize, place: bool) -> Result<(), Unanswered> {
    let extra = asked.rest.len().saturating_sub(parts);
    let idle = asked.place.as_ref().filter(|_| !place).or(asked.rest.first().filter(|_| extra > 0));
    match idle {
        Some(idle) => {
            let message = format!("'{}' says nothing here", idle.text);
            Err(wrong(&idle.range, message, "one word too many", "take it out".to_owned()))
        }
        None => Ok(()),
    }
}

const WRITE_ONE: &str = "write for example {change of arbor-runout at tip, repair}";

fn words(text: String, from: &str) -> Named {
    Named { value: Value::Words(text), from: from.to_owned() }
}

/// The places of a number, each once.
fn places<'a>(findings: impl Iterator<Item = &'a Finding>, what: &str) -> Vec<&'a str> {
    let mut known: Vec<&str> = Vec::new();
    for finding in findings.filter(|finding| finding.what == what) {
        if !known.contains(&finding.at.as_str()) {
            known.push(&finding.at);
        }
    }
    known
}

fn other_visits(check: &CheckFindings, at: &str, what: &str) -> String {
    let others: Vec<&str> = check
        .visits
        .iter()
        .filter(|visit| visit.finding(at, what).is_some())
        .map(|visit| visit.visit.as_str())
        .collect();
    if others.is_empty() { String::new() } else { format!("it was found at: {}", others.join(", ")) }
}

fn what_words(check: &CheckFindings, what: &str) -> Option<String> {
    let whats = crate::registry::registered(check.measure)?.measure.whats();
    whats.iter().find(|known| known.name == what).map(|known| known.words.to_owned())
}

fn value_of(finding: &Finding, form: Option<&str>, at: &str) -> Option<Value> {
    let unit = finding.unit;
    match form {
        None => Some(number_of(finding)),
        Some("verdict") => Some(Value::Words(finding.verdict.words().to_owned())),
        Some("place") => Some(Value::Words(at.to_owned())),
        Some("readings") => Some(Value::Count(finding.n)),
        Some("source") => finding.limit.as_ref()?.source.clone().map(Value::Words),
        Some("limit") => Some(Value::Limit(finding.limit.clone()?, unit)),
        Some("uncertainty") => {
            let expanded = finding.expanded()?.expanded;
            Some(Value::Spread { uncertainty: expanded, unit, difference: true })
        }
        Some(_) => None,
    }
}
