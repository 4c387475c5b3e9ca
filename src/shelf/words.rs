//! Rows in words, for the terminal and the typeset list alike.

use super::row::{InstrumentOn, Row, Seals, Window};
use super::wanted::Day;

/// "1 day", "12 days".
fn days(count: i64) -> String {
    if count == 1 { "1 day".to_owned() } else { format!("{count} days") }
}

/// The machines with their serial numbers: "Marlstone CS-10, CS10-04417; Ferrow T9".
pub fn machines(row: &Row) -> String {
    let named: Vec<String> = row
        .machines
        .iter()
        .map(|machine| match &machine.serial {
            Some(serial) => format!("{}, {serial}", machine.name),
            None => machine.name.clone(),
        })
        .collect();
    named.join("; ")
}

/// The verdict: "over, at last within"; "3 errors" where the session cannot be analysed.
pub fn verdict(row: &Row) -> String {
    match (row.errors, row.worst, row.worst_last) {
        (0, _, _) if row.visits == 0 => "no visit yet".to_owned(),
        (0, Some(worst), Some(last)) if worst != last => {
            format!("{}, at last {}", worst.words(), last.words())
        }
        (0, Some(worst), _) => worst.words().to_owned(),
        (1, ..) => "1 error".to_owned(),
        (count, ..) => format!("{count} errors"),
    }
}

/// How a window stands on the day: "Parts and labour: 2026-04-01, 12 days left".
pub fn left(window: &Window, day: Day) -> String {
    let stands = match day.days_left(window) {
        0 => "its last day".to_owned(),
        left => format!("{} left", days(left)),
    };
    format!("{}: {}, {stands}", window.name, window.until)
}

/// What ends soon, a sentence each; else the day that coverage ends next, or that it is over; empty where there is none.
pub fn coverage(row: &Row, day: Day) -> Vec<String> {
    let soon = day.soon(row);
    if !soon.is_empty() {
        return soon.into_iter().map(|window| left(window, day)).collect();
    }
    match day.next(row) {
        Some(window) => vec![window.until.to_string()],
        None if row.coverage.is_empty() => Vec::new(),
        None => vec!["over".to_owned()],
    }
}

/// How the visits stand with their seals; empty where none was ever sealed.
pub fn seals(row: &Row) -> String {
    let Seals { sealed, changed, lost } = row.seals;
    let mut parts = Vec::new();
    if sealed > 0 && sealed == row.visits {
        parts.push("sealed".to_owned());
    } else if sealed > 0 {
        parts.push(format!("{sealed} of {} sealed", row.visits));
    }
    if changed > 0 {
        parts.push(format!("{changed} changed since"));
    }
    if lost > 0 {
        parts.push(if lost == 1 { "1 seal lost".to_owned() } else { format!("{lost} seals lost") });
    }
    parts.join(", ")
}

/// The instruments that were used after their calibration had run out: "FG-101: calibration had run out"; empty without one.
pub fn calibration(row: &Row) -> String {
    let names: Vec<&str> = row.ran_out().map(InstrumentOn::called).collect();
    if names.is_empty() { String::new() } else { format!("{}: calibration had run out", names.join(", ")) }
}

/// "2 sessions, 1 of them with errors".
pub fn counted(rows: &[Row]) -> String {
    let broken = rows.iter().filter(|row| row.errors > 0).count();
    let all = if rows.len() == 1 { "1 session".to_owned() } else { format!("{} sessions", rows.len()) };
    if broken > 0 { format!("{all}, {broken} of them with errors") } else { all }
}

/// On which day the list looks at coverage, and what it calls soon.
pub fn day(day: Day, within: &str) -> String {
    format!("coverage as of {}; what ends within {within} (until {}) is named", day.on, day.soon)
}
