//! From a machine's history to a typeset paper.

mod page;

pub use page::{HistoryCourse, HistoryPage, HistoryRow};

use super::document::{self, DateShown, Fact, PaperFacts, Width};
use super::report::facts::{paper_name, state};
use super::report::numbers::number;
use super::report::what_words;
use crate::charts::exhibit::{self, Exhibit, Measure, measured};
use crate::charts::history::{History as Chart, HistoryPoint};
use crate::charts::{ChartError, Svg};
use crate::findings::sentences;
use crate::session::{Date, days_between, written_out};
use crate::shelf::history::{Course, History, words};

/// The drawing of one number: its asset's path and the SVG.
pub type Drawing = (String, Svg);

/// The paper's values and its drawings. `width_pt` is that of the text column.
pub fn history(
    history: &History,
    width_pt: f64,
    program: &str,
) -> Result<(HistoryPage, Vec<Drawing>), ChartError> {
    let dates = || history.courses.iter().flat_map(|course| &course.points).map(|point| point.date);
    let last = dates().max().unwrap_or_default();
    let mut courses = Vec::new();
    let mut drawings = Vec::new();
    for (index, course) in history.courses.iter().enumerate() {
        let told = words::told(course);
        let drawn = draw(course, width_pt)?;
        let path = format!("charts/history-{}.svg", index + 1);
        courses.push(HistoryCourse {
            title: words::title(course),
            chart: drawn.as_ref().map(|drawn| document::Exhibit {
                path: path.clone(),
                alt: format!("{} {}", drawn.alt(), told.join(" ")),
                title: drawn.title.clone(),
                caption: drawn.caption.clone(),
                width: Width::Text,
            }),
            told,
            unit: course.unit.symbol().to_owned(),
            rows: rows(course),
        });
        drawings.extend(drawn.map(|drawn| (path, drawn.svg)));
    }
    let fact = |label: &str, value: String| Fact { label: label.to_owned(), value };
    let mut days: Vec<Date> = dates().collect();
    days.sort_unstable();
    days.dedup();
    let mut said = vec![
        "±: expanded uncertainty, 95 %, of one visit's value. A trend's line takes every value alike, whatever its uncertainty; \
         it begins with the last repair, and visits that are not like for like with the last one have no part in it."
            .to_owned(),
    ];
    said.extend(history.said.iter().cloned());
    let page = HistoryPage {
        document: PaperFacts {
            title: format!("{} over time", history.machine),
            description: format!("All visits of serial number {}", history.serial),
            number: format!("{}, until {}", history.serial, DateShown::from(last).text),
            author: None,
            date: DateShown::from(last),
            paper: paper_name(history.paper).to_owned(),
            language: "en".to_owned(),
            program: program.to_owned(),
        },
        facts: vec![
            fact("Machine", history.machine.clone()),
            fact("Serial no.", history.serial.clone()),
            fact("Sessions", history.sessions.to_string()),
            fact("From", days.first().copied().map_or_else(String::new, written_out)),
            fact("Until", written_out(last)),
        ],
        courses,
        said,
    };
    Ok((page, drawings))
}

fn rows(course: &Course) -> Vec<HistoryRow> {
    course
        .points
        .iter()
        .map(|point| HistoryRow {
            date: DateShown::from(point.date).text,
            visit: point.title.clone(),
            state: state(point.state),
            number: number(&point.finding),
            verdict: match point.finding.verdict.words() {
                "no limit" => String::new(),
                words => words.to_owned(),
            },
            session: point.session.display().to_string(),
            left_out: point.left_out.clone().unwrap_or_default(),
        })
        .collect()
}

/// The drawing of a course; none where no visit has a value.
fn draw(course: &Course, width_pt: f64) -> Result<Option<Exhibit>, ChartError> {
    let points: Vec<HistoryPoint> = course
        .points
        .iter()
        .filter_map(|point| {
            Some(HistoryPoint {
                on: point.date,
                state: exhibit::state(point.state),
                measured: measured(&point.finding)?,
            })
        })
        .collect();
    if points.is_empty() {
        return Ok(None);
    }
    let chart = Chart {
        width_pt,
        name: what_words(course.what),
        unit: course.unit.symbol().to_owned(),
        from_zero: course.points.iter().all(|point| point.finding.floor.is_some()),
        points,
        limit: course.limit.as_ref().and_then(|limit| exhibit::limit(limit, course.unit)),
        line: course.trend.as_ref().ok().map(|trended| {
            let last = days_between(trended.first, trended.last) as f64;
            [(trended.first, trended.trend.line.at(0.0)), (trended.last, trended.trend.line.at(last))]
        }),
    };
    let first = course.points.first().map(|point| sentences::said(&point.finding)).unwrap_or_default();
    let last = course.points.last().map(|point| sentences::said(&point.finding)).unwrap_or_default();
    let title = match course.points.as_slice() {
        [_] => format!("{first} at the only visit."),
        _ => format!("{first} at the first visit, {last} at the last."),
    };
    let caption = format!("{} at each visit, against its date.", what_words(course.what));
    Ok(Some(Exhibit { name: "history", svg: chart.draw()?, title, caption, measure: Measure::Text }))
}
