//! What a visit, a machine and a coverage can be asked for.

use std::ops::Range;

use super::super::ask::{Asked, Words, folded};
use super::super::value::Value;
use super::{Answers, Named, Unanswered, nothing_more, words, wrong};
use crate::findings::CheckFindings;
use crate::session::{days_between, did_you_mean};

const OF_VISIT: [&str; 2] = ["date", "title"];
const OF_MACHINE: [&str; 6] = ["name", "kind", "serial", "bought", "seller", "price"];
const OF_COVERAGE: [&str; 2] = ["days left", "last day"];

impl<'a> Answers<'a> {
    /// A condition under which readings were taken: the check's own before the visit's.
    pub(super) fn condition(
        &self,
        asked: &Asked,
        check: Option<&'a CheckFindings>,
        named: &Words,
    ) -> Result<Named, Unanswered> {
        nothing_more(asked, usize::from(check.is_some()), false)?;
        let wanted = folded(&named.text);
        let all: Vec<&str> = self
            .session
            .visits
            .iter()
            .flat_map(|visit| {
                let own = check.and_then(|check| visit.readings_of(&check.check));
                let own = own.map(|own| own.conditions.as_slice()).unwrap_or_default();
                visit.conditions.iter().chain(own).map(|condition| condition.name.as_str())
            })
            .collect();
        if let Some(check) = check.filter(|_| !all.iter().any(|name| folded(name) == wanted)) {
            return Err(super::no_such_what(check, named));
        }
        let visit = match check {
            Some(check) => self.session.visit(&self.which_visit(asked, check)?.visit),
            None => self.visit(&folded(&asked.subject.text)),
        };
        let found = visit.and_then(|visit| {
            let own = check.and_then(|check| visit.readings_of(&check.check));
            let own = own.map(|own| own.conditions.as_slice()).unwrap_or_default();
            own.iter().chain(&visit.conditions).find(|condition| folded(&condition.name) == wanted)
        });
        let Some(condition) = found else {
            let mut known = all;
            known.extend(OF_VISIT);
            let message = format!("'{}' was not recorded there", named.text);
            return Err(wrong(
                &named.range,
                message,
                "expected a condition",
                did_you_mean(&named.text, &known),
            ));
        };
        let title = visit.map_or("", |visit| visit.title.as_str());
        Ok(Named { value: Value::condition(condition), from: format!("{}, {title}", condition.name) })
    }

    pub(super) fn of_visit(&self, asked: &Asked, visit: &crate::session::Visit) -> Result<Named, Unanswered> {
        nothing_more(asked, 0, false)?;
        match asked.what.as_slice() {
            [] => Ok(words(visit.title.clone(), "a visit's title")),
            [one] if folded(&one.text) == "title" => Ok(words(visit.title.clone(), "a visit's title")),
            [one] if folded(&one.text) == "date" => {
                Ok(Named { value: Value::Day(visit.date), from: format!("{}, date", visit.title) })
            }
            [one, ..] => self.condition(asked, None, one),
        }
    }

    pub(super) fn of_coverage(&self, asked: &Asked, name: &str) -> Result<Named, Unanswered> {
        nothing_more(asked, 1, false)?;
        let window = self.findings.coverage.iter().find(|window| folded(&window.name) == name);
        let form = asked.what.first().map_or(String::new(), |words| folded(&words.text));
        let unknown = |range: &Range<usize>| {
            let message = format!("of a coverage one may ask for {}", OF_COVERAGE.join(" or "));
            wrong(
                range,
                message,
                "not known here",
                "write {days left of Parts and labour, as-found}".to_owned(),
            )
        };
        let Some(window) = window else { return Err(unknown(&asked.range)) };
        match form.as_str() {
            "last day" => {
                Ok(Named { value: Value::Day(window.until), from: format!("{}, last day", window.name) })
            }
            "days left" => {
                let named = asked.rest.last();
                let visit = named.and_then(|named| self.visit(&folded(&named.text)));
                let Some(visit) = visit else {
                    let known: Vec<&str> =
                        self.session.visits.iter().map(|visit| visit.id.as_str()).collect();
                    let (range, typed) = named.map_or((&asked.range, ""), |n| (&n.range, n.text.as_str()));
                    let message = "on which visit's day?".to_owned();
                    return Err(wrong(
                        range,
                        message,
                        "expected a visit after a comma",
                        did_you_mean(typed, &known),
                    ));
                };
                let left = days_between(visit.date, window.until);
                Ok(Named {
                    value: Value::Days(left),
                    from: format!("{}, days left, {}", window.name, visit.title),
                })
            }
            _ => Err(unknown(asked.what.first().map_or(&asked.range, |words| &words.range))),
        }
    }
}

pub(super) fn of_machine(asked: &Asked, machine: &crate::session::Machine) -> Result<Named, Unanswered> {
    nothing_more(asked, 0, false)?;
    let asks = asked.what.first().map_or("name".to_owned(), |words| folded(&words.text));
    let text = match asks.as_str() {
        "name" => Some(machine.name.clone()),
        "kind" => machine.kind.clone(),
        "serial" => machine.serial.clone(),
        "seller" => machine.seller.clone(),
        "price" => machine.price.clone(),
        "bought" => {
            let from = format!("{}, bought", machine.name);
            if let Some(day) = machine.bought {
                return Ok(Named { value: Value::Day(day), from });
            }
            None
        }
        _ => None,
    };
    let range = asked.what.first().map_or(&asked.range, |words| &words.range);
    let missing = || {
        let message = format!("'{}' has no '{asks}'", machine.name);
        wrong(range, message, "not known", did_you_mean(&asks, &OF_MACHINE))
    };
    Ok(words(text.ok_or_else(missing)?, &format!("{}, {asks}", machine.name)))
}
