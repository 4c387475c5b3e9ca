//! What was found, in sentences: the same words on paper, on the screen and in the terminal.

use std::fmt::Write as _;

use super::{
    BoundOn, Change, CheckChanges, CheckFindings, ComparisonFindings, Conclusion, Finding, Findings, LimitOn,
    Verdict, VisitFindings,
};
use crate::quantity::{Unit, round_with_uncertainty, significant, with_unit};
use crate::session::{Session, State};

/// A value with its uncertainty and unit: "3.4 ± 0.8 thou".
pub fn said(finding: &Finding) -> String {
    match (finding.value, finding.expanded()) {
        (None, _) => {
            finding.bound.map_or_else(|| "no value".to_owned(), |bound| bound_words(bound, finding.unit))
        }
        (Some(value), None) => with_unit(&significant(value, 4), finding.unit),
        (Some(value), Some(expanded)) => {
            let rounded = round_with_uncertainty(value, expanded.expanded);
            with_unit(&format!("{} ± {}", rounded.value, rounded.uncertainty), finding.unit)
        }
    }
}

/// A limit's bound: "at most 1 thou".
pub fn limit_bound(limit: &LimitOn, unit: Unit) -> String {
    let number = |value: f64| significant(value, limit.digits());
    if let (Some(typed), Some(most)) = (&limit.typed, limit.at_most) {
        let most = with_unit(&number(most), unit);
        let either = if limit.at_least.is_some() { " either way" } else { "" };
        return format!("at most {typed}{either} ({most})");
    }
    match (limit.at_least, limit.at_most) {
        (Some(low), Some(high)) => with_unit(&format!("{} to {}", number(low), number(high)), unit),
        (Some(low), None) => with_unit(&format!("at least {}", number(low)), unit),
        (None, Some(high)) => with_unit(&format!("at most {}", number(high)), unit),
        (None, None) => "none".to_owned(),
    }
}

/// What can be said where no value can: "at most 61.2 dBA".
pub fn bound_words(bound: BoundOn, unit: Unit) -> String {
    match bound {
        BoundOn::AtMost(value) => with_unit(&format!("at most {}", significant(value, 3)), unit),
        BoundOn::AtLeast(value) => with_unit(&format!("at least {}", significant(value, 3)), unit),
    }
}

/// A limit in words: "the limit is 1 thou".
pub fn limit_words(limit: &LimitOn, unit: Unit) -> String {
    let bound = limit_bound(limit, unit);
    format!("the limit is {}", bound.strip_prefix("at most ").unwrap_or(&bound))
}

/// The main findings of a visit.
pub fn main_findings<'a>(
    check: &'a CheckFindings,
    visit: &'a VisitFindings,
) -> impl Iterator<Item = &'a Finding> {
    visit.findings.iter().filter(move |finding| finding.what == check.main && !finding.aside)
}

/// A visit's worst verdict over all places.
pub fn worst(check: &CheckFindings, visit: &VisitFindings) -> Verdict {
    main_findings(check, visit)
        .map(|finding| finding.verdict)
        .max_by_key(|verdict| verdict.weight())
        .unwrap_or(Verdict::NoLimit)
}

/// How far along to its limit a finding is; without a limit, its size.
fn strain(finding: &Finding) -> f64 {
    let value = finding.reached.or(finding.value).unwrap_or(0.0);
    match finding.limit.as_ref().map(|limit| (limit.at_least, limit.at_most)) {
        Some((Some(low), None)) => -(value - low),
        Some((Some(low), Some(high))) => (value - f64::midpoint(low, high)).abs(),
        _ => value.abs(),
    }
}

/// The place that speaks for a check: where its first visit found most.
pub fn telling_place(check: &CheckFindings) -> Option<&str> {
    let first = check.visits.first()?;
    main_findings(check, first)
        .max_by(|a, b| strain(a).total_cmp(&strain(b)))
        .map(|finding| finding.at.as_str())
}

/// Whether a place may not be left out of a summary: it is the telling place, or the last visit's
/// verdict there is worse than at the telling place.
pub fn speaks_for(check: &CheckFindings, at: &str) -> bool {
    let Some(telling) = telling_place(check) else { return true };
    let last = |at: &str| {
        let finding = check.visits.last().and_then(|visit| visit.finding(at, check.main));
        finding.map_or(0, |finding| finding.verdict.weight())
    };
    at == telling || last(at) > last(telling)
}

/// How badly a place stands: the weight of the verdict it was left with, of the worst it ever had, then
/// how much of the limit was used.
pub fn stands(check: &CheckFindings, at: &str) -> (u8, u8, f64) {
    let found = check.visits.iter().filter_map(|visit| visit.finding(at, check.main));
    found.fold((0, 0, f64::NEG_INFINITY), |(_, worst, used), finding| {
        let verdict = finding.verdict.weight();
        (verdict, worst.max(verdict), used.max(share_of_limit(finding)))
    })
}

/// The value as a share of an upper limit, or a lower limit as a share of the value; zero where
/// there is no such limit.
pub(super) fn share_of_limit(finding: &Finding) -> f64 {
    let value = finding.value.unwrap_or(0.0);
    let share = match finding.limit.as_ref().map(|limit| (limit.at_least, limit.at_most)) {
        Some((None, Some(high))) => value / high,
        Some((Some(low), None)) => low / value,
        Some((Some(low), Some(high))) => (value - f64::midpoint(low, high)).abs() / ((high - low) / 2.0),
        _ => 0.0,
    };
    if share.is_finite() { share } else { 0.0 }
}

/// A title as the start of a sentence, with the place: "Arbor run-out at the tip".
pub(super) fn subject(check: &CheckFindings, at: &str) -> String {
    if at.is_empty() { check.title.clone() } else { format!("{}, {at}", check.title) }
}

/// When: the state where it tells the visits apart, else the visit's title.
pub fn when(session: &Session, visit: &VisitFindings) -> String {
    let alone = session.visits.iter().filter(|other| other.state == visit.state).count() == 1;
    let stated = matches!(visit.state, State::AsFound | State::AsLeft);
    if alone && stated {
        return visit.state.spoken().to_owned();
    }
    let title = session.visit_title(&visit.visit);
    format!("at '{title}'")
}

pub(crate) fn listed(parts: &[String]) -> String {
    match parts {
        [] => String::new(),
        [only] => only.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

/// One number of a place at each visit: "3.3 ± 0.4 thou as found".
pub fn at_each_visit(session: &Session, check: &CheckFindings, at: &str, what: &str) -> Vec<String> {
    let one = |visit: &VisitFindings| {
        let finding = visit.finding(at, what)?;
        let floor = if finding.at_floor() { " (not distinguishable from zero)" } else { "" };
        let worst = finding.reached.map_or_else(String::new, |reached| {
            format!(" (at worst {})", with_unit(&significant(reached, 4), finding.unit))
        });
        Some(format!("{}{floor}{worst} {}", said(finding), when(session, visit)))
    };
    check.visits.iter().filter_map(one).collect()
}

/// One place of a check at all its visits, and the limit.
pub fn of_place(session: &Session, check: &CheckFindings, at: &str) -> Option<String> {
    let found: Vec<&Finding> =
        check.visits.iter().filter_map(|visit| visit.finding(at, check.main)).collect();
    let first = found.first()?;
    let values = at_each_visit(session, check, at, check.main);
    let Some(limit) = &first.limit else {
        return Some(format!("{}: {}; no limit is given.", subject(check, at), listed(&values)));
    };
    let verdicts: Vec<&str> = found.iter().map(|finding| finding.verdict.words()).collect();
    let source = limit.source.as_ref().map_or_else(String::new, |source| format!(" ({source})"));
    Some(format!(
        "{}: {}; {}{source}: {}.",
        subject(check, at),
        listed(&values),
        limit_words(limit, first.unit),
        in_turn(&verdicts)
    ))
}

/// Verdicts in the order of the visits: "over, then within", "within both times".
fn in_turn(verdicts: &[&str]) -> String {
    match verdicts {
        [first, rest @ ..] if !rest.is_empty() && rest.iter().all(|other| other == first) => {
            format!("{first} {}", if rest.len() == 1 { "both times" } else { "every time" })
        }
        _ => verdicts.join(", then "),
    }
}

/// A check's findings, the telling place first.
pub fn of_check(session: &Session, check: &CheckFindings) -> Vec<String> {
    telling_place(check).and_then(|at| of_place(session, check, at)).into_iter().collect()
}

/// A change: "−2.8 thou (95 % interval −3.9 to −1.7 thou): better".
pub fn of_change(change: &Change) -> String {
    let half = (change.high - change.low) / 2.0;
    let decimals = crate::quantity::decimals_for(half);
    let number = |value: f64| crate::quantity::fixed(value, decimals);
    let signed = |value: f64| {
        let text = number(value);
        if value > 0.0 { format!("+{text}") } else { text }
    };
    let percent = change.percent.map_or_else(String::new, |percent| {
        format!(", {} %", crate::quantity::fixed(percent, crate::quantity::Decimals(0)))
    });
    format!(
        "{}{percent} (95 % interval {})",
        with_unit(&signed(change.change), change.unit),
        with_unit(&format!("{} to {}", number(change.low), number(change.high)), change.unit)
    )
}

/// What both conclusions say, where the second differs.
pub fn conclusion_words(change: &Change) -> String {
    match change.adjusted {
        Some(adjusted) if adjusted != change.conclusion => format!(
            "{} (looked at together with the other changes: {})",
            change.conclusion.words(),
            adjusted.words()
        ),
        _ => change.conclusion.words().to_owned(),
    }
}

/// Why a check's comparison is not like for like, and what else differs.
pub fn fairness(check: &CheckChanges) -> Vec<String> {
    let tell = |decides: bool| -> Vec<String> {
        check
            .differs
            .iter()
            .filter(|d| d.decides == decides)
            .map(|d| format!("{} ({} / {})", d.condition, d.before, d.after))
            .collect()
    };
    let mut says = Vec::new();
    let (must, other) = (tell(true), tell(false));
    if !must.is_empty() {
        says.push(format!("Not like for like: {}.", must.join("; ")));
    }
    if !other.is_empty() {
        says.push(format!("Also different or not recorded: {}.", other.join("; ")));
    }
    says
}

/// The change of one check in a comparison that a summary speaks of: that of the place which speaks
/// for the check, else of the first that both sides have.
pub fn telling_change<'a>(findings: &Findings, check: &'a CheckChanges) -> Option<&'a Change> {
    let own = findings.check(&check.check)?;
    let telling = telling_place(own);
    let mains = || {
        check
            .changes
            .iter()
            .filter(|change| change.what == own.main && !change.aside && !change.over_all_places)
    };
    mains().find(|change| Some(change.at.as_str()) == telling).or_else(|| mains().next())
}

/// The change of a check over all places together, where there are several.
pub fn overall_change<'a>(findings: &Findings, check: &'a CheckChanges) -> Option<&'a Change> {
    let own = findings.check(&check.check)?;
    check.changes.iter().find(|change| change.what == own.main && change.over_all_places)
}

/// A comparison, a line a check: what changed, and whether it was like for like. The other
/// differences stand in a table of their own on paper.
pub fn of_comparison(session: &Session, findings: &Findings, comparison: &ComparisonFindings) -> Vec<String> {
    let checks = comparison.checks.iter();
    let mut says: Vec<String> = checks.filter_map(|check| of_check_in(session, findings, check)).collect();
    says.extend(comparison.left_out.iter().cloned());
    says
}

/// One check of a comparison: what changed, and whether it was like for like. None where nothing is compared.
pub fn of_check_in(session: &Session, findings: &Findings, check: &CheckChanges) -> Option<String> {
    let title = session.check_title(&check.check);
    let change = telling_change(findings, check)?;
    let at = if change.at.is_empty() { String::new() } else { format!(", {}", change.at) };
    let mut line = format!("{title}{at}: {}: {}", of_change(change), conclusion_words(change));
    if let Some(all) = overall_change(findings, check) {
        let _ = write!(line, "; {}: {}: {}", all.at, of_change(all), conclusion_words(all));
    }
    line.push('.');
    if !check.like_for_like {
        let _ = write!(line, " {}", deciding(check));
    }
    Some(line)
}

/// Why a check's comparison is not like for like; empty where it is.
pub fn deciding(check: &CheckChanges) -> String {
    fairness(check).into_iter().next().filter(|_| !check.like_for_like).unwrap_or_default()
}

/// The session's answer in two sentences: what the first check with a limit found, and how all
/// checks stand.
pub fn answer(session: &Session, findings: &Findings) -> Vec<String> {
    let mut says = Vec::new();
    if let Some(check) = leading(session, findings) {
        says.extend(telling_place(check).and_then(|at| of_place(session, check, at)));
    }
    says.push(standing(findings));
    says
}

/// The check that the answer speaks of first: the first with a limit, else the first that was read.
pub fn leading<'a>(session: &Session, findings: &'a Findings) -> Option<&'a CheckFindings> {
    let limited = |check: &&CheckFindings| {
        session.check(&check.check).is_some_and(|check| check.limit.is_some()) && !check.visits.is_empty()
    };
    let checks = &findings.checks;
    checks.iter().find(limited).or_else(|| checks.iter().find(|check| !check.visits.is_empty()))
}

pub(super) fn count(number: usize, one: &str, many: &str) -> String {
    let words = ["none", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"];
    let number_word = words.get(number).map_or_else(|| number.to_string(), |word| (*word).to_owned());
    format!("{number_word} {}", if number <= 1 { one } else { many })
}

/// How the checks stand at the last visit of each, and what the comparisons show.
fn standing(findings: &Findings) -> String {
    let last: Vec<Verdict> = findings
        .checks
        .iter()
        .filter_map(|check| Some(worst(check, check.visits.last()?)))
        .filter(|verdict| *verdict != Verdict::NoLimit)
        .collect();
    let tally = |wanted: &[Verdict]| last.iter().filter(|v| wanted.contains(v)).count();
    let within = tally(&[Verdict::Within]);
    let beyond = tally(&[Verdict::Over, Verdict::Under]);
    let close = tally(&[Verdict::TooCloseToCall]);
    let read =
        findings.checks.iter().any(|check| check.visits.iter().any(|visit| !visit.findings.is_empty()));
    let mut text = if !read {
        "No visit has readings yet: they are written into its visit.yaml".to_owned()
    } else if last.is_empty() {
        "No check has a limit, so there is no verdict; the numbers stand as a record".to_owned()
    } else {
        format!(
            "At the last visit {} within {} limit, {} beyond it and {} too close to call",
            if within == 0 { "no check is".to_owned() } else { count(within, "check is", "checks are") },
            if within <= 1 { "its" } else { "their" },
            count(beyond, "is", "are"),
            count(close, "is", "are"),
        )
    };
    text.push_str(&compared(findings));
    text + "."
}

/// How the checks that this session compares came out: all of its comparisons together.
fn compared(findings: &Findings) -> String {
    let here = || findings.comparisons.iter().filter(|comparison| comparison.before.session.is_none());
    if here().next().is_none() {
        return String::new();
    }
    let checks = || here().flat_map(|comparison| &comparison.checks);
    if checks().next().is_none() {
        return "; no check was read at both visits, so nothing is compared".to_owned();
    }
    let fair: Vec<Conclusion> = checks()
        .filter(|check| check.like_for_like)
        .filter_map(|check| telling_change(findings, check))
        .map(|change| change.adjusted.unwrap_or(change.conclusion))
        .collect();
    let tally = |wanted: Conclusion| fair.iter().filter(|conclusion| **conclusion == wanted).count();
    let mut text = format!(
        "; of {} compared like for like, {} better and {} worse",
        if fair.is_empty() { "no check".to_owned() } else { count(fair.len(), "check", "checks") },
        count(tally(Conclusion::Better), "is", "are"),
        count(tally(Conclusion::Worse), "is", "are"),
    );
    let unfair = checks().filter(|check| !check.like_for_like).count();
    if unfair > 0 {
        let _ = write!(text, ", and {} not like for like", count(unfair, "comparison is", "comparisons are"));
    }
    text
}

/// With a capital letter.
pub fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |first| first.to_uppercase().chain(chars).collect())
}

/// With a small letter, unless it begins with an abbreviation.
pub fn lower(text: &str) -> String {
    let mut chars = text.chars();
    match (chars.next(), chars.next()) {
        (Some(first), Some(second)) if !second.is_uppercase() => {
            first.to_lowercase().chain(text.chars().skip(1)).collect()
        }
        _ => text.to_owned(),
    }
}

/// With a full stop, unless it has one.
pub fn full_stop(text: &str) -> String {
    if text.ends_with(['.', '!', '?']) { text.to_owned() } else { format!("{text}.") }
}

/// The conclusion for a table: the adjusted one where it differs, with a word that says so.
pub fn short_conclusion(change: &Change) -> String {
    match change.adjusted {
        Some(adjusted) if adjusted != change.conclusion => {
            format!("{}; all together: {}", change.conclusion.words(), adjusted.words())
        }
        _ => change.conclusion.words().to_owned(),
    }
}
