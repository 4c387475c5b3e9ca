//! From rows of sessions to a typeset list.

mod page;

pub use page::{ShelfMachine, ShelfPage, ShelfRow};

use super::document::{DateShown, Fact, PaperFacts};
use super::report::facts::{paper_name, state};
use crate::session::{Paper, written_out};
use crate::shelf::{Day, Row, words};

/// What the list is made from.
pub struct Sources<'a> {
    /// The rows, in their order.
    pub rows: &'a [Row],
    /// The path of a session's report from the list's folder, where there is one.
    pub report: &'a dyn Fn(&Row) -> Option<String>,
    /// What a reader must know beside the rows, in sentences.
    pub said: &'a [String],
    /// The day that coverage is looked at.
    pub day: Day,
    /// How long "soon" is, as it was asked for.
    pub within: &'a str,
    /// The program's name and version.
    pub program: &'a str,
}

/// The list's values.
pub fn shelf(sources: &Sources<'_>) -> ShelfPage {
    let Sources { rows, day, .. } = *sources;
    let fact = |label: &str, value: String| Fact { label: label.to_owned(), value };
    let soon = rows.iter().filter(|row| !day.soon(row).is_empty()).count();
    let mut said = vec![
        "Verdict: the worst of all visits, and where it is another, the worst of the last ones.".to_owned(),
        format!(
            "Coverage: what ends within {} is named, else the day that coverage ends next.",
            sources.within
        ),
    ];
    if rows.iter().any(|row| (sources.report)(row).is_some()) {
        said.push("A blue title is a link to the session's report as it lay beside this list.".to_owned());
    }
    said.extend(sources.said.iter().map(|line| {
        let stopped = line.ends_with('.');
        let mut letters = line.chars();
        let first = letters.next().map(|letter| letter.to_uppercase().to_string()).unwrap_or_default();
        format!("{first}{}{}", letters.as_str(), if stopped { "" } else { "." })
    }));
    ShelfPage {
        document: PaperFacts {
            title: "Sessions".to_owned(),
            description: format!("List of {} sessions", rows.len()),
            number: format!("Sessions, {}", DateShown::from(day.on).text),
            author: None,
            date: DateShown::from(day.on),
            paper: paper_name(paper(rows)).to_owned(),
            language: "en".to_owned(),
            program: sources.program.to_owned(),
        },
        facts: vec![
            fact("Sessions", words::counted(rows)),
            fact("Coverage ends soon", format!("{soon}, until {}", written_out(day.soon))),
            fact("As of", written_out(day.on)),
        ],
        rows: rows.iter().map(|row| shown(row, sources)).collect(),
        said,
    }
}

/// The paper that most of the reports have.
fn paper(rows: &[Row]) -> Paper {
    let letter = rows.iter().filter(|row| row.paper == Paper::UsLetter).count();
    if 2 * letter > rows.len() { Paper::UsLetter } else { Paper::A4 }
}

fn shown(row: &Row, sources: &Sources<'_>) -> ShelfRow {
    let visits = if row.visits == 1 { "1 visit".to_owned() } else { format!("{} visits", row.visits) };
    let days = match (row.first, row.last) {
        (Some(first), Some(last)) if first != last => format!("{first} to {last}"),
        (Some(first), _) => first.to_string(),
        _ => String::new(),
    };
    ShelfRow {
        title: if row.title.is_empty() { row.name.clone() } else { row.title.clone() },
        path: row.path.clone(),
        report: (sources.report)(row).map(|path| address(&path)),
        machines: row
            .machines
            .iter()
            .map(|machine| ShelfMachine {
                name: machine.name.clone(),
                serial: machine.serial.clone().unwrap_or_default(),
            })
            .collect(),
        visits: if row.visits == 0 { String::new() } else { visits },
        days,
        state: row.state.map(state),
        verdict: words::verdict(row),
        coverage: words::coverage(row, sources.day),
        ends_soon: !sources.day.soon(row).is_empty(),
        seals: words::seals(row),
        calibration: words::calibration(row),
    }
}

/// A path as a relative reference (RFC 3986, 4.2): all but unreserved letters and `/` as `%XX`.
fn address(path: &str) -> String {
    let keeps = |byte: u8| byte.is_ascii_alphanumeric() || b"-._~/".contains(&byte);
    let letter = |byte: u8| if keeps(byte) { char::from(byte).to_string() } else { format!("%{byte:02X}") };
    path.bytes().map(letter).collect()
}

#[cfg(test)]
mod tests {
    use super::address;

    /// RFC 3986, 2.1 and 2.3; 4.2: a colon in the first part of a relative reference would be a scheme.
    #[test]
    fn a_name_with_any_letters_is_a_relative_reference() {
        assert_eq!(address("my-saw_2/report.pdf"), "my-saw_2/report.pdf");
        assert_eq!(address("a b:c#d?é/report.pdf"), "a%20b%3Ac%23d%3F%C3%A9/report.pdf");
    }
}
