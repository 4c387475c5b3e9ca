//! A machine's history in sentences.

use super::{Course, Trended};
use crate::analysis::trend::{MannKendall, Reach, Way};
use crate::findings::sentences;
use crate::quantity::{decimals_for, fixed, significant};
use crate::session::{Date, written_out};

/// The mean length of a calendar year in days (the Gregorian rule: 97 leap years in 400).
const YEAR: f64 = 365.2425;

/// The check's heading with the place.
pub fn title(course: &Course) -> String {
    if course.at.is_empty() { course.title.clone() } else { format!("{}, {}", course.title, course.at) }
}

/// What the history of one number shows, in sentences: the trend or why there is none, and when it would reach its limit.
pub fn told(course: &Course) -> Vec<String> {
    let mut said = match &course.trend {
        Err(why) => vec![why.clone()],
        Ok(trended) => {
            let mut said = vec![line(course, trended), test(&trended.trend.test)];
            said.extend(extrapolated(course, trended));
            said
        }
    };
    let apart = course.points.iter().filter(|point| point.left_out.is_some()).count();
    if apart > 0 && course.trend.is_ok() {
        let them = if apart == 1 { "1 visit is" } else { &format!("{apart} visits are") };
        said.push(format!("{them} left out of the trend: the table says why."));
    }
    if course.other_limits {
        said.push("Not every visit has the same limit; the last one is drawn.".to_owned());
    }
    said
}

fn since(trended: &Trended) -> String {
    let begin = if trended.repaired.is_some() { "Since the last repair" } else { "Over all" };
    format!(
        "{begin} ({} visits, {} to {})",
        trended.visits,
        written_out(trended.first),
        written_out(trended.last)
    )
}

/// "Since the last repair (6 visits, …) it rises by 0.12 ± 0.05 thou a year."
fn line(course: &Course, trended: &Trended) -> String {
    let (slope, half) = (trended.trend.line.slope * YEAR, trended.trend.half * YEAR);
    let unit = course.unit.symbol();
    let decimals = decimals_for(half);
    let number = |value: f64| {
        if half > 0.0 { fixed(value, decimals) } else { significant(value, 4) }
    };
    let since = since(trended);
    match trended.trend.way() {
        Some(way) => {
            let goes = if way == Way::Rises { "rises" } else { "falls" };
            let amount = number(slope.abs());
            format!(
                "{since} it {goes} by {amount} ± {} {unit} a year (line by least squares, 95 %).",
                number(half)
            )
        }
        None => format!(
            "{since} the line by least squares may be level: {} ± {} {unit} a year (95 %).",
            number(slope),
            number(half)
        ),
    }
}

fn test(test: &MannKendall) -> String {
    let shown =
        if test.p < 0.0001 { "p < 0.0001".to_owned() } else { format!("p = {}", significant(test.p, 2)) };
    let how = if test.exact { "counted over all orders" } else { "by the normal distribution" };
    let way = match test.way() {
        Some(Way::Rises) => "a rise is shown",
        Some(Way::Falls) => "a fall is shown",
        None => "no direction is shown",
    };
    format!("Mann–Kendall: S = {}, {shown}, {how}: {way}.", significant(test.s as f64, 9))
}

/// Nobody plans further ahead than this, in days.
const FARTHEST: f64 = 50.0 * YEAR;

/// When the line would reach the limit, said as what it is.
fn extrapolated(course: &Course, trended: &Trended) -> Option<String> {
    let limit = course.limit.as_ref()?;
    let last = crate::session::days_between(trended.first, trended.last) as f64;
    let Reach { earliest, likely, latest } = trended.trend.reaches(limit, last)?;
    let date = |day: f64| if day - last > FARTHEST { None } else { trended.date(day) };
    let bound = sentences::limit_bound(limit, course.unit);
    let far = "An extrapolation, beyond all that was measured:";
    let Some(first) = date(earliest) else {
        return Some(format!("{far} if it went on so, it would not reach its limit ({bound}) for 50 years."));
    };
    let by = |day: Option<Date>| day.map_or_else(|| "more than 50 years on".to_owned(), written_out);
    Some(format!(
        "{far} if it went on so, it would reach its limit ({bound}) between {} and {}, by the line itself {}.",
        written_out(first),
        by(date(latest)),
        match date(likely) {
            Some(day) => format!("on {}", written_out(day)),
            None => "more than 50 years on".to_owned(),
        }
    ))
}
