//! `shelf`: every session in a tree, a row each. It and `seal` are the only places below `main` that look at the clock.

mod history;
mod index;
mod instrument;
mod paper;

use std::io::Write;
use std::path::PathBuf;

use clap::{Args, ValueEnum};

use super::inspect::columns;
use super::{Outcome, PROGRAM, kept, show};
use crate::compose::Templates;
use crate::findings::Verdict;
use crate::registry::MEASURES;
use crate::session::{Date, Lasts, did_you_mean};
use crate::shelf::{Day, Order, Row, Said, Walked, Wanted, sort, to_csv, to_json, walk, words};

/// What the command is asked.
#[derive(Debug, Args)]
pub(super) struct Asked {
    /// Folders to look in, at any depth.
    #[arg(required = true, value_name = "DIR")]
    pub(super) dirs: Vec<PathBuf>,
    /// The day that coverage is looked at, as 2026-04-03. Default: today, by this machine's clock.
    #[arg(long, value_name = "DATE", value_parser = super::letter::date)]
    on: Option<Date>,
    /// How soon after that day an end of coverage is named: days, weeks, months or years by the calendar.
    #[arg(long, num_args = 2, value_names = ["COUNT", "UNIT"], default_values = ["30", "days"])]
    within: Vec<String>,
    /// One machine over time: every visit of this serial number in all sessions, check by check, with its trend.
    ///
    /// With --as pdf it is written to OUT/history-SERIAL.pdf, a chart a check.
    #[arg(long, value_name = "SERIAL", conflicts_with_all = ["on", "ends_soon", "machine", "serial", "verdict"])]
    history: Option<String>,
    /// One instrument over time: where this serial number, id or name was used in all sessions, when its calibration ran
    /// out, and what was read with it after that.
    ///
    /// With --as pdf it is written to OUT/instrument-SERIAL.pdf.
    #[arg(long, value_name = "SERIAL", conflicts_with_all = ["history", "ends_soon", "machine", "serial", "measure", "verdict", "ran_out"])]
    instrument: Option<String>,
    /// Only sessions with coverage that ends so soon.
    #[arg(long = "ends-soon")]
    ends_soon: bool,
    /// Only sessions with a machine whose name holds this text; letter case does not count.
    #[arg(long, value_name = "TEXT")]
    machine: Option<String>,
    /// Only sessions with a machine whose serial number holds this text; letter case does not count.
    #[arg(long, value_name = "TEXT")]
    serial: Option<String>,
    /// Only sessions with a check by this measure, as session.yaml names it.
    #[arg(long, value_name = "NAME")]
    measure: Option<String>,
    /// Only sessions where this is the worst verdict, of all visits or of the last ones.
    #[arg(long, value_name = "WORD", value_enum)]
    verdict: Option<Word>,
    /// Only sessions with readings that were taken after an instrument's calibration had run out.
    #[arg(long = "calibration-ran-out", conflicts_with = "history")]
    ran_out: bool,
    /// In which order they are listed.
    #[arg(long, value_name = "BY", value_enum, default_value = "path")]
    sort: By,
    /// What to make. Default: a table for the terminal.
    #[arg(long = "as", value_name = "FORM", value_enum)]
    form: Option<Form>,
    /// Where reports lie, and shelf.pdf is written: OUT/<session folder's name>/report.pdf, OUT/shelf.pdf.
    #[arg(long, value_name = "OUT", default_value = "out")]
    out: PathBuf,
    /// A folder whose templates replace the program's own by name.
    #[arg(long, value_name = "DIR")]
    templates: Option<PathBuf>,
}

/// What is made.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Form {
    /// To the terminal, all that is known of each.
    Json,
    /// To the terminal, a row each.
    Csv,
    /// OUT/shelf.pdf, a typeset list with links to the reports in OUT.
    Pdf,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum By {
    /// As their folders stand.
    Path,
    /// The day that coverage ends next.
    Ends,
    /// The machine's name.
    Machine,
    /// The title.
    Title,
    /// The last visit, the latest first.
    LastVisit,
    /// Errors first, then what stands worst at last.
    Verdict,
}

impl By {
    fn order(self) -> Order {
        match self {
            Self::Path => Order::Path,
            Self::Ends => Order::Ends,
            Self::Machine => Order::Machine,
            Self::Title => Order::Title,
            Self::LastVisit => Order::LastVisit,
            Self::Verdict => Order::Verdict,
        }
    }
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Word {
    Over,
    Under,
    TooCloseToCall,
    Within,
    NoLimit,
}

impl Word {
    fn verdict(self) -> Verdict {
        match self {
            Self::Over => Verdict::Over,
            Self::Under => Verdict::Under,
            Self::TooCloseToCall => Verdict::TooCloseToCall,
            Self::Within => Verdict::Within,
            Self::NoLimit => Verdict::NoLimit,
        }
    }
}

/// Runs the command.
pub(super) fn run(asked: &Asked, quiet: bool, out: &mut dyn Write, err: &mut dyn Write) -> Outcome {
    let within = asked.within.join(" ");
    let day = match checked(asked, &within) {
        Ok(day) => day,
        Err(wrong) => {
            for why in wrong {
                let _ = writeln!(err, "{}", show::plain(&why));
            }
            return Outcome::WrongArguments;
        }
    };
    let walked = walk(&asked.dirs);
    let all = kept::rows(&walked.sessions, &asked.out, quiet);
    if let Some(serial) = &asked.history {
        return history::run(serial, asked, (&walked, &all), quiet, out, err);
    }
    if let Some(named) = &asked.instrument {
        return instrument::run(named, asked, (&walked, &all, day.on), quiet, out, err);
    }
    let names: Vec<String> = all.iter().map(|row| row.name.clone()).collect();
    let (mut rows, aside) = taken(all, asked, day);
    sort(&mut rows, asked.sort.order(), day);
    let said = said(&walked, &rows, aside);
    if !quiet {
        for line in &said {
            let _ = writeln!(err, "{}", show::plain(line));
        }
    }
    let text = match asked.form {
        None => told(&rows, day, &within),
        Some(Form::Csv) => to_csv(&rows, day),
        Some(Form::Json) => {
            to_json(&rows, day, Said { program: PROGRAM, within: &within, unread: &walked.unread })
        }
        Some(Form::Pdf) => {
            let list = index::List { rows: &rows, names: &names, said: &said, day, within: &within };
            let make = |templates: &Templates| index::made(&list, &asked.out, templates);
            return paper::write((index::NAME, &make), asked, &walked, quiet, out, err);
        }
    };
    // A reader that went away is no error of ours. JSON escapes what steers a terminal, and CSV is data.
    let text = if asked.form.is_none() { show::plain(&text) } else { text };
    let _ = out.write_all(text.as_bytes());
    Outcome::Done
}

/// The day asked for, or everything that is wrong with what was asked.
fn checked(asked: &Asked, within: &str) -> Result<Day, Vec<String>> {
    let mut wrong: Vec<String> = Vec::new();
    let folders = asked.dirs.iter().filter(|dir| !dir.is_dir());
    wrong.extend(folders.map(|dir| format!("there is no folder {}", dir.display())));
    if let Some(named) = &asked.measure {
        let known: Vec<&str> = MEASURES.iter().map(|registered| registered.measure.name()).collect();
        if !known.contains(&named.as_str()) {
            wrong.push(format!("there is no measure '{named}'; {}", did_you_mean(named, &known)));
        }
    }
    let on = asked.on.unwrap_or_else(|| jiff::ZonedDateTime::now().date());
    let day = Lasts::parse(within).and_then(|lasts| Day::new(on, lasts));
    if day.is_none() {
        wrong.push(format!(
            "--within {within}: expected a whole number of days, weeks, months or years, for example: --within 6 weeks"
        ));
    }
    day.filter(|_| wrong.is_empty()).ok_or(wrong)
}

/// The rows that are wanted, and how many of those left aside cannot be read for certain.
fn taken(all: Vec<Row>, asked: &Asked, day: Day) -> (Vec<Row>, usize) {
    let wanted = Wanted {
        machine: asked.machine.clone(),
        serial: asked.serial.clone(),
        measure: asked.measure.clone(),
        verdict: asked.verdict.map(Word::verdict),
        ends_soon: asked.ends_soon,
        ran_out: asked.ran_out,
    };
    let (rows, others): (Vec<Row>, Vec<Row>) = all.into_iter().partition(|row| wanted.takes(row, day));
    (rows, others.iter().filter(|row| row.errors > 0).count())
}

/// What a reader of the list must know beside it.
fn said(walked: &Walked, rows: &[Row], aside: usize) -> Vec<String> {
    let mut said = walked.unread.clone();
    let list = |paths: &[PathBuf]| match paths {
        [only] => only.display().to_string(),
        [first, ..] => format!("{} and {} more", first.display(), paths.len() - 1),
        [] => String::new(),
    };
    if !walked.links.is_empty() {
        said.push(format!("links to folders are not followed: {}", list(&walked.links)));
    }
    if !walked.bags.is_empty() {
        said.push(format!("what lies in a bag is a copy and not listed: {}", list(&walked.bags)));
    }
    if aside > 0 {
        let them = if aside == 1 {
            "1 session with errors is"
        } else {
            &format!("{aside} sessions with errors are")
        };
        said.push(format!("{them} not listed: what was asked for is not known of them"));
    }
    let after = rows.iter().filter(|row| row.ran_out().next().is_some()).count();
    let first = rows.iter().find_map(|row| Some((row, row.ran_out().next()?)));
    if let Some((row, one)) = first {
        let have = if after == 1 { "1 session has" } else { &format!("{after} sessions have") };
        said.push(format!(
            "{have} readings that were taken after an instrument's calibration had run out, the first {}: \
             what there is to know of it is said by --instrument '{}'",
            row.path,
            one.called()
        ));
    }
    let broken = rows.iter().find(|row| row.errors > 0);
    if let Some(first) = broken {
        said.push(format!(
            "what is wrong in a session with errors is said by: asfound inspect {}",
            first.path
        ));
    }
    said
}

/// Longer titles and names are cut in the table; the other forms have them whole.
const LONGEST: usize = 36;

fn cut(text: &str) -> String {
    if text.chars().count() <= LONGEST {
        return text.to_owned();
    }
    let kept: String = text.chars().take(LONGEST - 1).collect();
    format!("{}…", kept.trim_end())
}

/// The table for the terminal.
fn told(rows: &[Row], day: Day, within: &str) -> String {
    let mut table = Vec::new();
    if !rows.is_empty() {
        let heads = [
            "session",
            "title",
            "machine",
            "visits",
            "last",
            "state",
            "verdict",
            "coverage ends",
            "seals",
            "calibration",
        ];
        let mut heads = heads.map(str::to_owned).to_vec();
        // Mostly there is nothing to say of it.
        if rows.iter().all(|row| row.ran_out().next().is_none()) {
            heads.pop();
        }
        table.push(heads);
    }
    for row in rows {
        table.push(vec![
            row.path.clone(),
            cut(&row.title),
            cut(&words::machines(row)),
            row.visits.to_string(),
            row.last.map_or_else(String::new, |date| date.to_string()),
            row.state.map_or_else(String::new, |state| state.word().to_owned()),
            words::verdict(row),
            words::coverage(row, day).join("; "),
            words::seals(row),
            words::calibration(row),
        ]);
    }
    // A title may hold a line's end, a cell may not.
    for cell in table.iter_mut().flatten() {
        *cell = cell.split_whitespace().collect::<Vec<_>>().join(" ");
    }
    format!("{}{}: {}\n", columns(&table, &[3]), words::counted(rows), words::day(day, within))
}
