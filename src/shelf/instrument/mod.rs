//! One instrument over the years: where it was used, when its calibration ran out, and what was read with it after that.

mod table;
pub mod words;

pub use table::{to_csv, to_json};

use super::folded;
use super::row::{Calibration, InstrumentOn, Row, Use};
use crate::session::{Date, Paper};

/// An instrument's story, as the sessions tell it together.
#[derive(Clone, Debug)]
pub struct Instrument {
    /// What it is, as the last session writes it.
    pub name: String,
    /// Its serial number, where a session has it.
    pub serial: Option<String>,
    /// How many sessions have it.
    pub sessions: usize,
    /// The paper of the last session's report.
    pub paper: Paper,
    /// Its calibrations by date, each once.
    pub calibrations: Vec<Calibration>,
    /// Where it was used, by date.
    pub uses: Vec<Used>,
    /// What a reader must know beside it, in sentences.
    pub said: Vec<String>,
}

/// One visit at which it was used.
#[derive(Clone, Debug)]
pub struct Used {
    /// The session's folder.
    pub session: String,
    /// What it was used for.
    pub used: Use,
    /// How it stood with its calibration that day.
    pub stood: Stood,
}

/// How an instrument stood with its calibration on a day.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stood {
    /// It was calibrated, as the session itself says.
    Calibrated,
    /// It was calibrated, as another session says, and this one does not.
    CalibratedElsewhere,
    /// Its calibration had run out, on this day last.
    RanOut {
        /// The last day that it was good for.
        due: Date,
    },
    /// No session says until when it was calibrated.
    NotKnown,
}

impl Stood {
    /// In one word or two.
    pub fn words(self) -> &'static str {
        match self {
            Self::Calibrated => "calibrated",
            Self::CalibratedElsewhere => "calibrated, as another session says",
            Self::RanOut { .. } => "calibration had run out",
            Self::NotKnown => "not known",
        }
    }
}

/// Why no instrument can be told of.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum NotFound {
    /// None has this serial number, id or name; these serial numbers, or else ids, are known.
    Nothing(Vec<String>),
    /// Several have it, and are told apart by these serial numbers.
    Several(Vec<String>),
}

impl Instrument {
    /// Finds an instrument by its serial number or, where none has that, by its id or its name. Letter case does not count, nor
    /// does space around it.
    ///
    /// # Errors
    /// Where there is none, or the name is that of several.
    pub fn of(rows: &[Row], asked: &str) -> Result<Self, NotFound> {
        let wanted = folded(asked);
        let all = || rows.iter().flat_map(|row| row.instruments.iter().map(move |one| (row, one)));
        let is = |text: &str| folded(text) == wanted;
        let by_serial = |one: &InstrumentOn| one.serial.as_deref().is_some_and(is);
        let mut found: Vec<(&Row, &InstrumentOn)> = all().filter(|(_, one)| by_serial(one)).collect();
        if found.is_empty() {
            found = all().filter(|(_, one)| is(&one.id) || is(&one.name)).collect();
        }
        let mut serials = each_once(found.iter().filter_map(|(_, one)| one.serial.clone()));
        let mut spelt = Vec::new();
        serials.retain(|serial| {
            let new = !spelt.contains(&folded(serial));
            spelt.push(folded(serial));
            new
        });
        if serials.len() > 1 {
            return Err(NotFound::Several(serials));
        }
        let last = found.iter().max_by_key(|(row, _)| row.last);
        let Some((last, newest)) = last.copied() else {
            let known = each_once(all().filter_map(|(_, one)| one.serial.clone()));
            let known =
                if known.is_empty() { each_once(all().map(|(_, one)| one.id.clone())) } else { known };
            return Err(NotFound::Nothing(known));
        };
        let mut calibrations: Vec<Calibration> = found.iter().map(|(_, one)| one.calibration).collect();
        calibrations.retain(|one| *one != Calibration::default());
        calibrations.sort_unstable_by_key(|one| (one.made.or(one.due), one.due));
        calibrations.dedup();
        let mut uses: Vec<Used> = Vec::new();
        for (row, one) in &found {
            uses.extend(one.uses.iter().map(|used| Used {
                session: row.path.clone(),
                used: used.clone(),
                stood: stood(one.calibration, &calibrations, used.date),
            }));
        }
        // The sort is stable: what is of one day stays as the folders stand.
        uses.sort_by_key(|used| used.used.date);
        Ok(Self {
            name: newest.name.clone(),
            serial: newest.serial.clone().or_else(|| serials.pop()),
            sessions: found.len(),
            paper: last.paper,
            calibrations,
            uses,
            said: said(&found),
        })
    }

    /// Where it was used after its calibration had run out.
    pub fn after(&self) -> impl Iterator<Item = &Used> {
        self.uses.iter().filter(|used| matches!(used.stood, Stood::RanOut { .. }))
    }
}

fn each_once(texts: impl Iterator<Item = String>) -> Vec<String> {
    let mut list: Vec<String> = texts.collect();
    list.sort_unstable();
    list.dedup();
    list
}

/// How it stood on a day: by the session's own word, or by that of another that knows of a calibration which covers the day.
fn stood(own: Calibration, all: &[Calibration], on: Date) -> Stood {
    if own.covers(on) {
        return Stood::Calibrated;
    }
    if all.iter().any(|one| one.covers(on)) {
        return Stood::CalibratedElsewhere;
    }
    let ran_out = all.iter().filter(|one| one.ran_out(on)).filter_map(|one| one.due).max();
    // A later calibration that does not say until when leaves it open.
    let open = |due: Date| {
        all.iter().any(|one| one.due.is_none() && one.made.is_some_and(|made| due < made && made <= on))
    };
    match ran_out {
        Some(due) if !open(due) => Stood::RanOut { due },
        _ => Stood::NotKnown,
    }
}

fn said(found: &[(&Row, &InstrumentOn)]) -> Vec<String> {
    let mut said = Vec::new();
    let names = each_once(found.iter().map(|(_, one)| one.name.clone()));
    if names.len() > 1 {
        said.push(format!("Sessions call it by different names: {}.", names.join("; ")));
    }
    let without = found.iter().filter(|(_, one)| one.serial.is_none()).count();
    match (without, found.len() - without) {
        (0, _) | (1, 0) => {}
        (count, 0) => said.push(format!(
            "None of these {count} sessions names its serial number: that it is one and the same instrument is taken from its name."
        )),
        (count, _) => said.push(format!(
            "{count} of these sessions {} no serial number: that it is the same instrument is taken from its name.",
            if count == 1 { "names" } else { "name" }
        )),
    }
    let broken = found.iter().filter(|(row, _)| row.errors > 0).count();
    if broken > 0 {
        let have = if broken == 1 { "1 session has" } else { &format!("{broken} sessions have") };
        said.push(format!("{have} errors: what it was used for there is told as far as it can be read."));
    }
    said
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;

    use super::*;

    fn calibration(made: Option<Date>, due: Option<Date>) -> Calibration {
        Calibration { made, due }
    }

    #[test]
    fn a_day_is_covered_from_the_certificate_s_day_to_its_last_and_a_gap_between_two_is_a_gap() {
        let first = calibration(Some(date(2022, 1, 5)), Some(date(2023, 1, 5)));
        let second = calibration(Some(date(2023, 3, 10)), Some(date(2024, 3, 10)));
        let all = [first, second];
        assert_eq!(stood(first, &all, date(2022, 1, 5)), Stood::Calibrated);
        assert_eq!(stood(first, &all, date(2023, 1, 5)), Stood::Calibrated);
        let ran_out = Stood::RanOut { due: date(2023, 1, 5) };
        assert_eq!(stood(first, &all, date(2023, 1, 6)), ran_out);
        assert_eq!(stood(second, &all, date(2023, 3, 9)), ran_out);
        assert_eq!(stood(first, &all, date(2023, 3, 10)), Stood::CalibratedElsewhere);
        assert_eq!(stood(second, &all, date(2024, 3, 11)), Stood::RanOut { due: date(2024, 3, 10) });
        assert_eq!(stood(first, &all, date(2022, 1, 4)), Stood::NotKnown);
    }

    #[test]
    fn a_calibration_that_does_not_say_until_when_leaves_it_open() {
        let open = calibration(Some(date(2023, 3, 10)), None);
        let old = calibration(None, Some(date(2023, 1, 5)));
        assert_eq!(stood(open, &[open], date(2025, 1, 1)), Stood::NotKnown);
        assert_eq!(stood(old, &[old, open], date(2023, 2, 1)), Stood::RanOut { due: date(2023, 1, 5) });
        assert_eq!(stood(open, &[old, open], date(2024, 2, 1)), Stood::NotKnown);
    }
}
