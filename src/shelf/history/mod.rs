//! One machine over the years: every visit of one serial number, in whatever session it stands, check by check.

mod gather;
mod table;
pub mod words;

use std::path::PathBuf;

pub use gather::{Gathered, gather, has};
pub use table::{to_csv, to_json};

use crate::analysis::fairness::between;
use crate::analysis::trend::{FEWEST, Trend, trend};
use crate::findings::{Differs, Finding, LimitOn};
use crate::quantity::Unit;
use crate::session::{Date, Paper, State, days_between};

use gather::Seen;

/// A machine's history.
#[derive(Clone, Debug)]
pub struct History {
    /// The serial number, as the last session writes it.
    pub serial: String,
    /// The machine's name, as the last session writes it.
    pub machine: String,
    /// The sessions that tell of it.
    pub sessions: usize,
    /// The paper of the last session's report.
    pub paper: Paper,
    /// Check by check and place by place, in the order of the first visits.
    pub courses: Vec<Course>,
    /// What a reader must know beside it, in sentences.
    pub said: Vec<String>,
}

/// The main finding of one check at one place over the years.
#[derive(Clone, Debug)]
pub struct Course {
    /// The check's id.
    pub check: String,
    /// Its heading, as the last session writes it.
    pub title: String,
    /// The measure.
    pub measure: &'static str,
    /// Which of the measure's numbers.
    pub what: &'static str,
    /// The station, place or setting; empty for a check read in one spot.
    pub at: String,
    /// The unit of all its numbers.
    pub unit: Unit,
    /// What was found, by date.
    pub points: Vec<Point>,
    /// The limit, as the last visit with one has it.
    pub limit: Option<LimitOn>,
    /// Whether another visit has another limit.
    pub other_limits: bool,
    /// The trend since the last repair, or why there is none.
    pub trend: Result<Trended, String>,
}

/// What was found at one visit.
#[derive(Clone, Debug)]
pub struct Point {
    /// The session's folder.
    pub session: PathBuf,
    /// The visit's id.
    pub visit: String,
    /// The visit's title.
    pub title: String,
    /// What it stands for.
    pub state: State,
    /// The day.
    pub date: Date,
    /// What was found.
    pub finding: Finding,
    /// Why the trend goes without it, where it would else have a part in it.
    pub left_out: Option<String>,
}

/// A trend and what it rests on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Trended {
    /// The trend; its days are counted from `first`.
    pub trend: Trend,
    /// The first day.
    pub first: Date,
    /// The last day.
    pub last: Date,
    /// How many visits.
    pub visits: usize,
    /// The day of the repair that it begins with, where there was one.
    pub repaired: Option<Date>,
}

impl Trended {
    /// A day of the trend as a date; none where that leads out of the calendar.
    pub fn date(&self, day: f64) -> Option<Date> {
        #[expect(
            clippy::cast_possible_truncation,
            reason = "a float cast saturates, and the calendar ends long before"
        )]
        let days = day.round() as i64;
        self.first.checked_add(jiff::Span::new().try_days(days).ok()?).ok()
    }
}

impl History {
    /// The history from all that was gathered; none where nothing was.
    pub fn of(gathered: Vec<Gathered>) -> Option<Self> {
        let told = gathered.iter().filter(|one| !one.machines.is_empty());
        let last = told.clone().max_by_key(|one| one.last)?;
        let (machine, serial) = last.machines.first()?.clone();
        let paper = last.paper;
        let mut said = Vec::new();
        let mut names: Vec<&str> =
            told.clone().flat_map(|one| &one.machines).map(|(name, _)| name.as_str()).collect();
        names.sort_unstable();
        names.dedup();
        if names.len() > 1 {
            said.push(format!(
                "The machines of this serial number have different names: {}.",
                names.join("; ")
            ));
        }
        for broken in gathered.iter().filter(|one| one.errors > 0 && !one.machines.is_empty()) {
            let them = if broken.errors == 1 { "1 error" } else { &format!("{} errors", broken.errors) };
            said.push(format!("{} has {them} and is left out.", broken.dir.display()));
        }
        let unread = |one: &&Gathered| one.errors > 0 && one.machines.is_empty() && one.serials.is_empty();
        match gathered.iter().filter(unread).count() {
            0 => {}
            1 => said.push(
                "1 session cannot be read: nobody can say whether it tells of this machine.".to_owned(),
            ),
            count => said.push(format!(
                "{count} sessions cannot be read: nobody can say whether they tell of this machine."
            )),
        }
        let sessions = told.filter(|one| one.errors == 0).count();
        let (mut seen, copies) = without_copies(gathered);
        if copies > 0 {
            let them = if copies == 1 { "1 number is" } else { &format!("{copies} numbers are") };
            said.push(format!("{them} in more than one session, visit and value alike, and counted once."));
        }
        // The sort is stable: what is of one moment stays as the folders stand.
        seen.sort_by_key(|seen| (seen.date, seen.time, seen.state));
        Some(Self { serial, machine, sessions, paper, courses: courses(seen), said })
    }
}

/// What was seen, a copied session's visits once.
fn without_copies(gathered: Vec<Gathered>) -> (Vec<Seen>, usize) {
    let mut kept: Vec<Seen> = Vec::new();
    let mut copies = 0;
    for seen in gathered.into_iter().flat_map(|one| one.seen) {
        if kept.iter().any(|known| known.is_copy_of(&seen)) {
            copies += 1;
        } else {
            kept.push(seen);
        }
    }
    (kept, copies)
}

fn courses(seen: Vec<Seen>) -> Vec<Course> {
    let mut groups: Vec<Vec<Seen>> = Vec::new();
    for one in seen {
        match groups.iter_mut().find(|group| group.first().is_some_and(|first| first.goes_with(&one))) {
            Some(group) => group.push(one),
            None => groups.push(vec![one]),
        }
    }
    // The places of a check stand together, where its first one came.
    let mut order: Vec<String> = Vec::new();
    for group in &groups {
        let id = group.first().map(|first| first.check.id.clone()).unwrap_or_default();
        if !order.contains(&id) {
            order.push(id);
        }
    }
    let mut courses: Vec<Course> = groups.into_iter().filter_map(course).collect();
    courses.sort_by_key(|course| order.iter().position(|id| *id == course.check));
    courses
}

fn course(seen: Vec<Seen>) -> Option<Course> {
    let last = seen.last()?;
    let limited = || seen.iter().rev().filter_map(|one| one.finding.limit.as_ref());
    let limit = limited().next().cloned();
    let same = |other: &LimitOn| {
        limit.as_ref().is_some_and(|limit| (limit.at_least, limit.at_most) == (other.at_least, other.at_most))
    };
    let other_limits = limited().any(|other| !same(other));
    let (title, id, unit, at) =
        (last.check.title.clone(), last.check.id.clone(), last.finding.unit, last.finding.at.clone());
    let (measure, what) = (last.measure, last.finding.what);
    let (left_out, trend) = trended(&seen);
    let points = seen
        .into_iter()
        .zip(left_out)
        .map(|(one, left_out)| Point {
            session: one.session,
            visit: one.visit,
            title: one.title,
            state: one.state,
            date: one.date,
            finding: one.finding,
            left_out,
        })
        .collect();
    Some(Course { check: id, title, measure, what, at, unit, points, limit, other_limits, trend })
}

/// The trend since the last repair among the visits that are like for like with the last one; beside it, for each visit, why it
/// has no part in it where that needs saying.
fn trended(seen: &[Seen]) -> (Vec<Option<String>>, Result<Trended, String>) {
    let mut left_out = vec![None; seen.len()];
    let begin = seen.iter().rposition(|one| one.state == State::AsLeft);
    let repaired = begin.and_then(|begin| seen.get(begin)).map(|one| one.date);
    let begin = begin.unwrap_or(0);
    let Some(last) = seen.iter().rfind(|one| one.finding.value.is_some()) else {
        return (left_out, Err("No visit has a value, so there is no trend.".to_owned()));
    };
    let mut taken: Vec<(&Seen, f64)> = Vec::new();
    for (index, one) in seen.iter().enumerate().skip(begin) {
        match one.finding.value {
            None => left_out[index] = Some("no value".to_owned()),
            Some(value) => match unlike(one, last) {
                Some(why) => left_out[index] = Some(why),
                None => taken.push((one, value)),
            },
        }
    }
    let count = seen.len() - begin;
    if taken.len() < FEWEST {
        let since = if repaired.is_some() { " since the last repair" } else { "" };
        let visits = |n: usize| if n == 1 { "1 visit".to_owned() } else { format!("{n} visits") };
        let why = if count < FEWEST || taken.len() == count {
            format!("No trend: {}{since}, and a trend needs {FEWEST}.", visits(count))
        } else {
            format!(
                "No trend: of {}{since} only {} can be held together with the last one, and a trend needs {FEWEST}.",
                visits(count),
                taken.len()
            )
        };
        return (left_out, Err(why));
    }
    let first = taken[0].0.date;
    let days: Vec<f64> = taken.iter().map(|(one, _)| days_between(first, one.date) as f64).collect();
    let values: Vec<f64> = taken.iter().map(|(_, value)| *value).collect();
    let found = trend(&days, &values).map(|trend| Trended {
        trend,
        first,
        last: taken.last().map_or(first, |(one, _)| one.date),
        visits: taken.len(),
        repaired,
    });
    let why = "No trend: all values are alike, or all are of one day.";
    (left_out, found.ok_or_else(|| why.to_owned()))
}

/// Why two visits cannot be held together: what must match, and does not.
fn unlike(one: &Seen, last: &Seen) -> Option<String> {
    let (differs, fair) = between(&last.check, &one.circumstances, &last.circumstances, last.deciding);
    let said = |differs: &Differs| {
        format!("{}: {}, at the last visit {}", differs.condition, differs.before, differs.after)
    };
    (!fair).then(|| differs.iter().filter(|one| one.decides).map(said).collect::<Vec<_>>().join("; "))
}
