//! From how a file is written and what is asked for to a plan, and to what is known when the first
//! samples come.

use super::cells::{Class, Shape, class, is_no_reading};
use super::columns::{self, Found};
use super::dialect::{Layout, SAMPLE};
use super::plan::{Clock, Field, Parsed, Plan, Slot};
use super::rows::{Cell, Row, cells};
use super::time::{Format, Moment, date_and_time};
use super::trouble;
use crate::recording::{Column, Recording, Request, Start, TimeBase};
use crate::session::{Problem, Problems};

/// A recording about to be heard.
#[derive(Debug)]
pub(super) struct Begun {
    pub(super) plan: Plan,
    pub(super) start: Start,
}

/// What the beginning gives to look into.
struct Sight<'a> {
    recording: &'a Recording,
    head: &'a [u8],
    layout: &'a Layout,
    problems: &'a mut Problems,
}

/// Bytes of rows from which the usual interval is taken.
const FIRST: usize = 128 << 10;

/// Plans the reading; says what stands in the way.
pub(super) fn begin(
    recording: &Recording,
    request: &Request,
    head: &[u8],
    layout: &Layout,
    problems: &mut Problems,
) -> Option<Begun> {
    let mut sight = Sight { recording, head, layout, problems };
    let channels: Vec<Option<Found>> = request
        .channels
        .iter()
        .map(|column| columns::find(layout, column, &recording.name, sight.problems))
        .collect();
    let time = sight.time_column(&request.time)?;
    let channels: Vec<Found> = channels.into_iter().collect::<Option<_>>()?;
    if channels.is_empty() {
        sight.say_no_channel();
        return None;
    }
    let mut plan = Plan {
        separator: layout.separator,
        line_end: layout.line_end,
        decimal: sight.decimal(&channels, time.as_ref().map(|(found, _)| found))?,
        slots: vec![Slot::Skip; layout.width],
        fields: Vec::new(),
        channels: Vec::new(),
        clock: None,
        struck: recording.struck.clone(),
    };
    for channel in &channels {
        let field = sight.take(channel, &mut plan);
        plan.channels.push(field);
    }
    if let (Some((found, column)), TimeBase::Column { unit, .. }) = (&time, &request.time) {
        if plan.slots.get(found.index) != Some(&Slot::Skip) {
            sight.say_time_is_channel(found, column);
            return None;
        }
        let numbers = columns::seconds_of(found, *unit, column, sight.problems)?;
        plan.clock = Some(sight.clock(found, numbers, plan.decimal)?);
        plan.slots[found.index] = Slot::Time;
    }
    let names = channels.iter().map(|channel| channel.name.clone()).collect();
    let start = sight.start(&plan, names, &request.time)?;
    Some(Begun { plan, start })
}

impl Sight<'_> {
    /// The column of times, where times come from one.
    #[expect(clippy::option_option, reason = "none: said what is wrong; some none: a rate is given")]
    fn time_column(&mut self, time: &TimeBase) -> Option<Option<(Found, Column)>> {
        match time {
            TimeBase::Rate(_) => Some(None),
            TimeBase::Column { column, .. } => {
                let found = columns::find(self.layout, column, &self.recording.name, self.problems)?;
                Some(Some((found, column.clone())))
            }
            TimeBase::OfFile => {
                self.problems.push(
                    Problem::error(
                        format!("'{}' needs 'time' or 'rate'", self.recording.name),
                        self.recording.place.clone(),
                    )
                    .expected("expected the column of times, or the samples a second")
                    .help(format!(
                        "write for example 'time: 1' or 'rate: 3200 Hz'; {}",
                        columns::known(self.layout)
                    )),
                );
                None
            }
        }
    }

    fn say_no_channel(&mut self) {
        self.problems.push(
            Problem::error(
                format!("no column of '{}' is named", self.recording.name),
                self.recording.place.clone(),
            )
            .expected("expected the columns of the readings")
            .help(columns::known(self.layout)),
        );
    }

    fn say_time_is_channel(&mut self, found: &Found, column: &Column) {
        let (Column::Named(_, place) | Column::Numbered(_, place)) = column;
        self.problems.push(
            Problem::error(format!("{} is given as the time and as a reading", found.name), place.clone())
                .expected("expected two columns")
                .help(columns::known(self.layout)),
        );
    }

    /// Each cell of a column in the first rows, with its row's number among them.
    fn column(&self, index: usize) -> Vec<(usize, Row, Cell)> {
        let mut scratch = Vec::new();
        let mut list = Vec::new();
        for (number, row) in self.layout.sample.iter().enumerate() {
            let line = &self.head[row.start..row.end];
            cells(line, self.layout.separator, &mut scratch);
            if let Some(cell) = scratch.get(index) {
                list.push((number, *row, *cell));
            }
        }
        list
    }

    fn content(&self, row: Row, cell: Cell) -> &[u8] {
        cell.of(&self.head[row.start..row.end])
    }

    /// The decimal sign that the columns show. A comma with three digits behind it in every number may
    /// stand between thousands, and is not guessed.
    fn decimal(&mut self, channels: &[Found], time: Option<&Found>) -> Option<u8> {
        if let Some(given) = self.recording.how.decimal {
            return Some(if given == ',' { b',' } else { b'.' });
        }
        let (mut points, mut doubtful) = (false, None);
        let mut comma = false;
        for found in channels.iter().chain(time) {
            for (_, row, cell) in self.column(found.index) {
                let content = self.content(row, cell);
                if class(content) != Class::Number || is_no_reading(content) {
                    continue;
                }
                let Some(shape) = Shape::of(content) else { continue };
                points |= shape.points == 1 && shape.commas == 0;
                if shape.commas == 1 && shape.points == 0 {
                    if shape.may_group() {
                        doubtful.get_or_insert((row, cell));
                    } else {
                        comma = true;
                    }
                }
            }
        }
        match (points, comma, doubtful) {
            (false, true, _) => Some(b','),
            (false, false, Some((row, cell))) => {
                let message = "a comma here may be decimal or stand between thousands";
                self.say_at(
                    row,
                    cell,
                    message,
                    "1.234 or 1234?",
                    "write decimal: \",\" beside 'file:', or export it without marks between thousands",
                );
                None
            }
            _ => Some(b'.'),
        }
    }

    fn say_at(&mut self, row: Row, cell: Cell, message: &str, expected: &str, help: &str) {
        let above = memchr::memchr_iter(self.layout.line_end, &self.head[..row.start]).count();
        let text = String::from_utf8_lossy(&self.head[row.start..row.end.min(row.start + 4000)]).into_owned();
        let span = cell.start.min(text.len())..cell.end.min(text.len());
        let place = trouble::place(&self.recording.shown(), above + 1, 0, text, span);
        self.problems.push(Problem::error(message, place).expected(expected).help(help));
    }

    /// Adds a column of readings to the plan; gives its field.
    fn take(&self, found: &Found, plan: &mut Plan) -> usize {
        if let Some(Slot::Value(field)) = plan.slots.get(found.index) {
            return *field;
        }
        let first = self.column(found.index).into_iter().find_map(|(_, row, cell)| {
            let shape = Shape::of(self.content(row, cell))?;
            Some(shape.unit.to_owned())
        });
        let unit = found.unit.clone().or_else(|| first.filter(|unit| !unit.is_empty()));
        plan.fields.push(Field { name: found.name.clone(), unit });
        let field = plan.fields.len() - 1;
        if let Some(slot) = plan.slots.get_mut(found.index) {
            *slot = Slot::Value(field);
        }
        field
    }

    /// How the column of times is written, and its first time.
    fn clock(&mut self, found: &Found, scale: f64, decimal: u8) -> Option<Clock> {
        let column = self.column(found.index);
        let first = column.iter().find_map(|(_, row, cell)| {
            let content = self.content(*row, *cell);
            let format = self.format(content, scale, decimal)?;
            Some(Clock { name: found.name.clone(), format, base: format.moment(content, decimal)? })
        });
        if first.is_none() {
            let none = Cell { start: 0, end: 0, quoted: false };
            let at = column.first().map(|(_, row, cell)| (*row, *cell));
            let (row, cell) = at.or_else(|| self.layout.sample.first().map(|row| (*row, none)))?;
            let (row, cell) = (&row, &cell);
            let typed = trouble::short(&String::from_utf8_lossy(self.content(*row, *cell)));
            self.say_at(
                *row,
                *cell,
                &format!("'{typed}' in {} is not a time", found.name),
                "expected seconds, 0:12.5, a time of day, or a date and time",
                "write dates as in ISO 8601, 2026-03-02 14:30:05, and 'clock: true' for times of day",
            );
        }
        first
    }

    fn format(&self, content: &[u8], scale: f64, decimal: u8) -> Option<Format> {
        let text = std::str::from_utf8(content).ok()?;
        let of_day = self.recording.how.clock;
        if let Some((_, zoned)) = date_and_time(text) {
            return Some(Format::Date { zoned });
        }
        let formats = [Format::Number(scale), Format::Elapsed, Format::OfDay];
        formats.into_iter().find(|format| {
            let wanted = match format {
                Format::Number(_) | Format::Elapsed => of_day != Some(true),
                _ => of_day != Some(false),
            };
            wanted && format.moment(content, decimal).is_some()
        })
    }

    /// The rate, the names and the jitter of the first rows.
    fn start(&mut self, plan: &Plan, names: Vec<String>, time: &TimeBase) -> Option<Start> {
        if let TimeBase::Rate(rate) = time {
            self.rate_fits(*rate)?;
            return Some(Start { names, rate: *rate, jitter: 0.0 });
        }
        let rows = self.head.get(self.layout.start..).unwrap_or_default();
        let end = rows.len().min(FIRST);
        let end = memchr::memrchr(self.layout.line_end, &rows[..end]).map_or(0, |at| at + 1);
        let mut parsed = Parsed::default();
        plan.parse(rows, 0..end, &mut parsed);
        let intervals: Vec<f64> = parsed
            .times
            .windows(2)
            .map(|pair| pair[1] - pair[0])
            .filter(|interval| *interval > 0.0)
            .collect();
        let Some(usual) = median(&intervals) else {
            if parsed.troubles.is_empty() {
                self.say_no_interval(&parsed, plan);
                return None;
            }
            // The troubles are said when the rows are read.
            return Some(Start { names, rate: 1.0, jitter: 0.0 });
        };
        let even: Vec<f64> = intervals.into_iter().filter(|interval| *interval <= 1.5 * usual).collect();
        let count = even.len() as f64;
        let mean = even.iter().sum::<f64>() / count;
        let squares: f64 = even.iter().map(|interval| (interval - mean).powi(2)).sum();
        let deviation = if even.len() > 1 { (squares / (count - 1.0)).sqrt() } else { 0.0 };
        Some(Start { names, rate: 1.0 / mean, jitter: deviation / mean })
    }

    fn say_no_interval(&mut self, parsed: &Parsed, plan: &Plan) {
        let column = plan.clock.as_ref().map_or_else(String::new, |clock| clock.name.clone());
        let (message, help) = match parsed.times.len() {
            0 => (
                format!(
                    "the first {} rows of '{}' have an empty cell each",
                    parsed.rows, self.recording.name
                ),
                "name columns that hold readings, and read columns that are filled at different times apart",
            ),
            1 => (
                format!("'{}' holds only one row with readings", self.recording.name),
                "a recording has two rows at least",
            ),
            _ => (
                format!("the times in {column} of '{}' do not go on", self.recording.name),
                "write 'rate:' in place of 'time:' where the times are too coarse",
            ),
        };
        self.problems.push(
            Problem::error(message, self.recording.place.clone())
                .expected("expected rows with times that go on")
                .help(help),
        );
    }

    /// A rate is refused where a column that is called a time says another.
    fn rate_fits(&mut self, rate: f64) -> Option<()> {
        const NAMES: [&str; 6] = ["t", "time", "elapsed", "seconds", "timestamp", "elapsed time"];
        for index in 0..self.layout.names.len() {
            let found = columns::at(self.layout, index);
            if !NAMES.contains(&found.name.to_lowercase().as_str()) {
                continue;
            }
            let place = self.recording.place.clone();
            let mut silent = Problems::default();
            let column = Column::Numbered(index + 1, place.clone());
            let Some(scale) = columns::seconds_of(&found, None, &column, &mut silent) else { continue };
            let moments: Vec<Moment> = self
                .column(index)
                .into_iter()
                .filter_map(|(_, row, cell)| {
                    let content = self.content(row, cell);
                    let decimal = if content.contains(&b',') { b',' } else { b'.' };
                    self.format(content, scale, decimal)?.moment(content, decimal)
                })
                .collect();
            let intervals: Vec<f64> = moments.windows(2).map(|pair| pair[1].since(pair[0])).collect();
            let own = median(&intervals).map_or(f64::NAN, |usual| 1.0 / usual);
            let says = intervals.len() >= 10 && own.is_finite() && own > 0.0;
            if !says || (own / rate - 1.0).abs() < 0.01 {
                continue;
            }
            self.problems.push(
                Problem::error(
                    format!(
                        "'rate' says {} samples a second, the column '{}' of '{}' says {}",
                        crate::quantity::significant(rate, 4),
                        found.name,
                        self.recording.name,
                        crate::quantity::significant(own, 4)
                    ),
                    place,
                )
                .expected("expected a rate that fits the times")
                .help(format!(
                    "write 'time: {}' in place of 'rate:', with 'time_unit:' where it is not seconds",
                    found.name
                )),
            );
            return None;
        }
        Some(())
    }
}

/// The median of some intervals.
fn median(intervals: &[f64]) -> Option<f64> {
    let mut sorted = intervals.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted.get(sorted.len() / 2).copied()
}

const _: () = assert!(SAMPLE > 10, "a rate is compared with some rows");
