//! `inspect`: findings, changes and warnings on the terminal; nothing is written.

use std::io::Write;
use std::path::Path;

use unicode_width::UnicodeWidthStr;

use super::{Outcome, read_and_analyse, show};
use crate::evidence::seal::{Standing, words};
use crate::findings::{BoundOn, CheckFindings, Findings, sentences};
use crate::quantity::{round_with_uncertainty, significant};
use crate::session::{Problems, Session};

pub(super) fn run(dir: &Path, quiet: bool, out: &mut dyn Write, err: &mut dyn Write) -> Outcome {
    let mut problems = Problems::default();
    let read = read_and_analyse(dir, &mut problems);
    let mut seals = Vec::new();
    if let Some((session, findings)) = &read {
        placeholders(session, findings, &mut problems);
        seals = crate::evidence::seal::check(session, &[], &mut problems);
    }
    show::problems(&problems, &dir.display().to_string(), err);
    let Some((session, findings)) = read else {
        return Outcome::SessionHasErrors;
    };
    if !quiet {
        // A reader that went away is no error of ours.
        let _ = out.write_all(show::plain(&told(&session, &findings, &seals)).as_bytes());
    }
    Outcome::Done
}

/// What `script` would refuse: worth saying here, and no hindrance to the findings.
fn placeholders(session: &Session, findings: &Findings, problems: &mut Problems) {
    let Some(script) = &session.script else { return };
    let mut wrong = Problems::default();
    crate::script::read(&script.source, session, findings, None, &mut wrong);
    for problem in &wrong {
        problems.push(problem.clone().warning());
    }
    problems.sort();
}

/// Everything found, as the terminal shows it.
pub(super) fn told(session: &Session, findings: &Findings, seals: &[Standing]) -> String {
    let mut text = format!("{}\n", session.title);
    if let Some(question) = &session.question {
        text += &format!("{question}\n");
    }
    for sentence in sentences::answer(session, findings) {
        text += &format!("{sentence}\n");
    }
    for check in &findings.checks {
        text += &format!("\n{}\n", check.title);
        text += &table(session, check);
        for sentence in sentences::of_check(session, check) {
            text += &format!("  {sentence}\n");
        }
        for pattern in &check.patterns {
            let visit = session.visit_title(&pattern.visit);
            text += &format!("  {visit}: {}\n", pattern.says);
        }
    }
    for comparison in &findings.comparisons {
        text += &format!("\n{}\n", comparison.title);
        for sentence in sentences::of_comparison(session, findings, comparison) {
            text += &format!("  {sentence}\n");
        }
        for check in comparison.checks.iter().filter(|check| !check.differs.is_empty()) {
            let title = session.check_title(&check.check);
            text += &format!("  {title}: {}\n", sentences::fairness(check).join(" "));
        }
    }
    if !findings.warnings.is_empty() {
        text += "\nWorth knowing\n";
        for warning in &findings.warnings {
            text += &format!("  {warning}\n");
        }
    }
    text += &words::told(session, seals);
    text
}

/// A check's findings in columns.
fn table(session: &Session, check: &CheckFindings) -> String {
    let mut rows: Vec<Vec<String>> = Vec::new();
    for visit in &check.visits {
        let title = session.visit_title(&visit.visit);
        for finding in visit.findings.iter().filter(|finding| !finding.aside) {
            let (value, expanded) = match (finding.value, finding.expanded()) {
                (None, _) => {
                    let bound = finding.bound.map(|bound| match bound {
                        BoundOn::AtMost(value) => format!("≤ {}", significant(value, 3)),
                        BoundOn::AtLeast(value) => format!("≥ {}", significant(value, 3)),
                    });
                    (bound.unwrap_or_else(|| "–".to_owned()), String::new())
                }
                (Some(value), None) => (significant(value, 4), String::new()),
                (Some(value), Some(e)) => {
                    let rounded = round_with_uncertainty(value, e.expanded);
                    (rounded.value, format!("± {}", rounded.uncertainty))
                }
            };
            let floor = if finding.at_floor() { "at the floor" } else { "" };
            let verdict = match finding.verdict.words() {
                "no limit" => floor,
                words => words,
            };
            rows.push(vec![
                title.to_owned(),
                finding.at.clone(),
                finding.what.to_owned(),
                value,
                expanded,
                finding.unit.symbol().to_owned(),
                verdict.to_owned(),
            ]);
        }
    }
    columns(&rows, &[3, 4])
}

/// Rows in columns two apart; the columns in `right` stand to the right.
pub(super) fn columns(rows: &[Vec<String>], right: &[usize]) -> String {
    let count = rows.iter().map(Vec::len).max().unwrap_or(0);
    let widths: Vec<usize> = (0..count)
        .map(|column| rows.iter().filter_map(|row| row.get(column)).map(|c| c.width()).max().unwrap_or(0))
        .collect();
    let mut text = String::new();
    for row in rows {
        let mut line = String::from("  ");
        for (column, cell) in row.iter().enumerate().filter(|(column, _)| widths[*column] > 0) {
            let gap = " ".repeat(widths[column] - cell.width());
            let padded =
                if right.contains(&column) { format!("{gap}{cell}") } else { format!("{cell}{gap}") };
            line += &padded;
            line += "  ";
        }
        text += line.trim_end();
        text.push('\n');
    }
    text
}
