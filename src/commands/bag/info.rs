//! What a bag tells of itself, so that a claim's dates can be read without the program (RFC 8493, 2.2.2: reserved labels
//! first, then our own).

use crate::session::{Coverage, Machine, Session};

/// Labels and values for `bag-info.txt`.
pub(super) fn info(session: &Session, number: &str) -> Vec<(String, String)> {
    let mut pairs = Vec::new();
    let mut tell = |label: &str, value: String| pairs.push((label.to_owned(), value));
    let asked = session.question.as_ref().map(|question| format!(". {question}")).unwrap_or_default();
    tell("External-Description", format!("{}{asked}", session.title));
    tell("External-Identifier", number.to_owned());
    if let Some(name) = &session.prepared_by {
        tell("Contact-Name", name.clone());
    }
    if let Some(email) = session.letter.from.as_ref().and_then(|from| from.email.clone()) {
        tell("Contact-Email", email);
    }
    tell("Internal-Sender-Identifier", session.name.clone());
    for machine in &session.machines {
        tell("Machine", machine_line(machine));
        for coverage in &machine.coverage {
            tell("Coverage", coverage_line(machine, coverage));
        }
    }
    for visit in &session.visits {
        let words = [visit.date.to_string(), visit.title.clone(), format!("(visits/{})", visit.id)];
        tell("Visit", words.join(" "));
    }
    if let Some(ask) = &session.ask {
        tell("Claim-Asks", ask.clone());
    }
    for event in &session.events {
        let file = event.file.as_ref().map(|file| format!(" ({file})")).unwrap_or_default();
        tell("Diary", format!("{} {}{file}", event.on, event.what));
    }
    pairs
}

fn machine_line(machine: &Machine) -> String {
    let mut parts = vec![machine.name.clone()];
    parts.extend(machine.kind.clone());
    parts.extend(machine.serial.as_ref().map(|serial| format!("serial {serial}")));
    parts.extend(machine.bought.map(|day| format!("bought {day}")));
    parts.extend(machine.seller.as_ref().map(|seller| format!("from {seller}")));
    parts.extend(machine.order.as_ref().map(|order| format!("order {order}")));
    parts.join(", ")
}

/// The dates as the calendar gives them: the day of purchase and the last day that is covered.
fn coverage_line(machine: &Machine, coverage: &Coverage) -> String {
    let mut line = format!("{}: {}, {}", machine.name, coverage.name, coverage.lasts);
    if let Some(bought) = machine.bought {
        line += &format!(", from {bought}");
        if let Some(last) = coverage.lasts.ends(bought) {
            line += &format!(" to {last}");
        }
    }
    if let Some(reference) = &coverage.reference {
        line += &format!(" ({reference})");
    }
    line
}
