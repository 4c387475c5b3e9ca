//! What a comparison shows of a check.

use super::super::ask::{Asked, How, folded};
use super::super::value::{Value, number_of_change};
use super::{Answers, Named, Unanswered, WRITE_ONE, nothing_more, wrong};
use crate::findings::sentences::{self, telling_place};
use crate::findings::{Change, CheckChanges, CheckFindings, ComparisonFindings};
use crate::quantity::{Decimals, fixed};
use crate::session::did_you_mean;

impl<'a> Answers<'a> {
    pub(super) fn of_change(
        &self,
        asked: &Asked,
        check: &'a CheckFindings,
        what: &'static str,
        form: &str,
    ) -> Result<Named, Unanswered> {
        let compared: Vec<(&ComparisonFindings, &CheckChanges)> = self
            .findings
            .comparisons
            .iter()
            .flat_map(|comparison| comparison.checks.iter().map(move |changes| (comparison, changes)))
            .filter(|(_, changes)| changes.check == check.check)
            .collect();
        let mut asked = asked.clone();
        let all =
            compared.iter().flat_map(|(_, changes)| &changes.changes).filter(|change| change.what == what);
        let mut known: Vec<&str> = Vec::new();
        for change in all {
            if !known.contains(&change.at.as_str()) {
                known.push(&change.at);
            }
        }
        let at = super::which_place(&mut asked, &known)?;
        nothing_more(&asked, 1, true)?;
        let (comparison, changes) = which_comparison(&asked, check, &compared)?;
        let change = match &at {
            Some(at) => changes.changes.iter().find(|change| change.what == what && change.at == *at),
            None if what == check.main => sentences::telling_change(self.findings, changes),
            None => {
                let of_what = |change: &&Change| change.what == what;
                let telling = telling_place(check);
                let mut list = changes.changes.iter().filter(of_what);
                let same = changes.changes.iter().filter(of_what).find(|c| Some(c.at.as_str()) == telling);
                same.or_else(|| list.next())
            }
        };
        let Some(change) = change else {
            let message = format!("'{}' does not compare this number of '{}'", comparison.title, check.title);
            return Err(wrong(&asked.range, message, "no change is known", WRITE_ONE.to_owned()));
        };
        let mut from = self.told(check, &change.at, what, None, Some(form));
        let unlike = if changes.like_for_like { "" } else { ", not like for like" };
        from = format!("{from}, {}{unlike}", comparison.title);
        let missing = || {
            let message = format!("the change of '{}' has no {form}", check.title);
            wrong(&asked.range, message, "nothing to be said", "ask for '{change of …}'".to_owned())
        };
        let value = match form {
            "percent" => Value::Percent(fixed(change.percent.ok_or_else(missing)?, Decimals(0))),
            "conclusion" => Value::Words(sentences::conclusion_words(change)),
            "before" | "after" => number_of_change(change, form == "before", is_difference(check, change)),
            _ => Value::Change(change.clone()),
        };
        Ok(Named { value, from })
    }
}

/// Whether the check's findings of a change are distances on their scale.
fn is_difference(check: &CheckFindings, change: &Change) -> bool {
    let mut findings = check.visits.iter().flat_map(|visit| &visit.findings);
    findings.any(|finding| finding.what == change.what && finding.difference)
}

/// The comparison that a placeholder names; where it names none, the only one, or the only one between the session's own
/// visits.
fn which_comparison<'b>(
    asked: &Asked,
    check: &CheckFindings,
    compared: &[(&'b ComparisonFindings, &'b CheckChanges)],
) -> Result<(&'b ComparisonFindings, &'b CheckChanges), Unanswered> {
    let ids: Vec<&str> = compared.iter().map(|(comparison, _)| comparison.id.as_str()).collect();
    match (asked.rest.last(), compared) {
        (_, []) => {
            let message = format!("'{}' is in no comparison", check.title);
            Err(wrong(&asked.subject.range, message, "nothing was compared", WRITE_ONE.to_owned()))
        }
        (None, [only]) => Ok(*only),
        (None, _) => {
            // The session's own visits, before those of another session.
            let mut own = compared.iter().filter(|(comparison, _)| comparison.before.session.is_none());
            if let (Some(one), None) = (own.next(), own.next()) {
                return Ok(*one);
            }
            let message = format!("'{}' is in more than one comparison", check.title);
            let help = format!("name one: {}", ids.join(", "));
            Err(wrong(&asked.range, message, "expected a comparison after a comma", help))
        }
        (Some(named), _) => {
            let wanted = folded(&named.text);
            let found = compared.iter().find(|(c, _)| folded(&c.id) == wanted || folded(&c.title) == wanted);
            found.copied().ok_or_else(|| {
                let mut known = ids.clone();
                known.extend(How::NAMES.iter().map(|(name, _)| *name));
                let message =
                    format!("'{}' is neither a comparison of '{}' nor a form", named.text, check.title);
                let help = did_you_mean(&named.text, &known);
                wrong(&named.range, message, "expected a comparison, or how the number is wanted", help)
            })
        }
    }
}
