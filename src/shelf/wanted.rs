//! Which rows are asked for, in which order, and what of their coverage on a day.

use std::cmp::Reverse;

use super::row::{Row, Window};
use crate::findings::Verdict;
use crate::session::{Date, Lasts, days_between};

/// A day, and until when an end of coverage is soon.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Day {
    /// The day.
    pub on: Date,
    /// The last day that is soon.
    pub soon: Date,
}

impl Day {
    /// A day with a time by the calendar from it on; none where that leads out of the calendar.
    pub fn new(on: Date, within: Lasts) -> Option<Self> {
        Some(Self { on, soon: within.ends(on)? })
    }

    /// Whether coverage ends on that day or so soon after it.
    pub fn ends_soon(&self, window: &Window) -> bool {
        window.until >= self.on && window.until <= self.soon
    }

    /// Whole days left; negative where it is over. On the last day there are 0 left.
    pub fn days_left(&self, window: &Window) -> i64 {
        days_between(self.on, window.until)
    }

    /// The coverage that ends soon, the earliest first.
    pub fn soon<'a>(&self, row: &'a Row) -> Vec<&'a Window> {
        let mut windows: Vec<&Window> = row.coverage.iter().filter(|window| self.ends_soon(window)).collect();
        windows.sort_by_key(|window| window.until);
        windows
    }

    /// The coverage that ends next; none where all is over, or there is none.
    pub fn next<'a>(&self, row: &'a Row) -> Option<&'a Window> {
        row.coverage.iter().filter(|window| window.until >= self.on).min_by_key(|window| window.until)
    }
}

/// What rows are sorted by.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Order {
    /// As they were come by.
    #[default]
    Path,
    /// The day that coverage ends next; where none does, last.
    Ends,
    /// The first machine's name and serial.
    Machine,
    /// The title.
    Title,
    /// The last visit's day, the latest first.
    LastVisit,
    /// What stands worst at its last visit first, then what stood worst ever; what cannot be analysed before all.
    Verdict,
}

/// Sorts rows. What is alike stays in the order that it was come by.
pub fn sort(rows: &mut [Row], order: Order, day: Day) {
    let weight = |verdict: Option<Verdict>| Reverse(verdict.map_or(u8::MAX, Verdict::weight));
    match order {
        Order::Path => {}
        Order::Ends => rows.sort_by_key(|row| {
            let next = day.next(row).map(|window| window.until);
            (next.is_none(), next)
        }),
        Order::Machine => rows.sort_by_cached_key(|row| {
            let first = row.machines.first();
            let name = first.map(|machine| machine.name.to_lowercase());
            (name.is_none(), name, first.and_then(|machine| machine.serial.clone()))
        }),
        Order::Title => rows.sort_by_cached_key(|row| (row.title.is_empty(), row.title.to_lowercase())),
        Order::LastVisit => rows.sort_by_key(|row| Reverse(row.last)),
        Order::Verdict => rows.sort_by_key(|row| (weight(row.worst_last), weight(row.worst))),
    }
}

/// Which rows are wanted: those that everything asked for here is true of.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Wanted {
    /// A part of a machine's name; letter case does not count.
    pub machine: Option<String>,
    /// A part of a serial number; letter case does not count.
    pub serial: Option<String>,
    /// A measure.
    pub measure: Option<String>,
    /// The worst verdict, of all visits or of the last ones.
    pub verdict: Option<Verdict>,
    /// Whether coverage must end soon.
    pub ends_soon: bool,
    /// Whether something must have been read after an instrument's calibration had run out.
    pub ran_out: bool,
}

impl Wanted {
    /// Whether a row is wanted.
    pub fn takes(&self, row: &Row, day: Day) -> bool {
        let part = |text: &str, part: &str| text.to_lowercase().contains(&part.to_lowercase());
        let named = |wanted: &String| row.machines.iter().any(|machine| part(&machine.name, wanted));
        let serial = |wanted: &String| {
            row.machines.iter().filter_map(|machine| machine.serial.as_ref()).any(|known| part(known, wanted))
        };
        self.machine.as_ref().is_none_or(named)
            && self.serial.as_ref().is_none_or(serial)
            && self.measure.as_ref().is_none_or(|wanted| row.measures.contains(wanted))
            && self.verdict.is_none_or(|wanted| [row.worst, row.worst_last].contains(&Some(wanted)))
            && (!self.ran_out || row.ran_out().next().is_some())
            && (!self.ends_soon || row.coverage.iter().any(|window| day.ends_soon(window)))
    }
}
