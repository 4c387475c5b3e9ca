//! Which days lie inside which coverage window, by the calendar.

use crate::findings::{CoverageDay, CoverageWindow};
use crate::session::{Session, days_between};

/// Holds every visit of a machine and every event of the diary against its windows. The last day
/// of a window is inside.
pub(super) fn windows(session: &Session) -> Vec<CoverageWindow> {
    let mut windows = Vec::new();
    for machine in &session.machines {
        let Some(from) = machine.bought else {
            continue;
        };
        for coverage in &machine.coverage {
            let Some(until) = coverage.lasts.ends(from) else {
                continue;
            };
            let visits = session
                .visits
                .iter()
                .filter(|visit| visit.machine == machine.id)
                .map(|visit| (visit.date, format!("Visit: {}", visit.title)));
            let events = session.events.iter().map(|event| (event.on, event.what.clone()));
            let mut days: Vec<CoverageDay> = visits
                .chain(events)
                .map(|(on, what)| CoverageDay { on, what, days_left: days_between(on, until) })
                .collect();
            days.sort_by_key(|day| day.on);
            windows.push(CoverageWindow {
                machine: machine.id.clone(),
                name: coverage.name.clone(),
                lasts: coverage.lasts.to_string(),
                reference: coverage.reference.clone(),
                from,
                until,
                days,
            });
        }
    }
    windows
}
