//! One number over the years: a mark and its whisker at each visit, against the calendar.

use super::canvas::{Canvas, Pen, Type};
use super::clip::Rect;
use super::frame::{self, Frame, Scale, Values};
use super::labels::LimitLabel;
use super::marks::{Keys, Sign};
use super::style::{DATA, HAIRLINE, INK, MARK, SOFT_INK, State, TEXT};
use super::text::{self, Face};
use super::{ChartError, Limit, Measured, Svg};
use crate::session::{Date, days_between};

/// What was found at each visit, by date.
#[derive(Debug, Clone, PartialEq)]
pub struct History {
    /// The width on the page in points.
    pub width_pt: f64,
    /// What was found: `Level`.
    pub name: String,
    /// The unit of the values, as it is written.
    pub unit: String,
    /// The visits in the order of their dates.
    pub points: Vec<HistoryPoint>,
    /// The limit on the values.
    pub limit: Option<Limit>,
    /// Whether the axis of values begins at zero (or ends there), as sizes are seen.
    pub from_zero: bool,
    /// The straight line of a trend, from its first day to its last.
    pub line: Option<[(Date, f64); 2]>,
}

/// What was found at one visit.
#[derive(Debug, Clone, PartialEq)]
pub struct HistoryPoint {
    /// The day.
    pub on: Date,
    /// The visit's state, which gives the mark; after a repair an upright line stands there too.
    pub state: State,
    /// The value.
    pub measured: Measured,
}

const PLOT_HEIGHT: f64 = 104.0;
/// No more dates than this stand under the plot.
const MOST_DATES: usize = 7;

impl History {
    /// Draws the chart.
    pub fn draw(&self) -> Result<Svg, ChartError> {
        self.check()?;
        let (first, last) = self.ends().ok_or(ChartError::Nothing("no visit has a value"))?;
        let values = Values::new(self.data_range()?, None, 7)?;
        let left = values.label_width() + 5.0;
        let limit_label = LimitLabel::new(self.limit.as_ref());
        let right = self.width_pt - limit_label.room - 4.0;
        if right - left < 80.0 {
            return Err(ChartError::TooNarrow { width_pt: self.width_pt });
        }
        let leading = TEXT * text::LEADING;
        let head = text::wrap(&values.name(&self.name, &self.unit), TEXT, Face::Regular, self.width_pt);
        let top = leading * head.len() as f64 + 8.0;
        let words = limit_label.lines().len() as f64 * leading;
        let area = Rect { left, top, right, bottom: top + PLOT_HEIGHT.max(words) };
        let mut canvas = Canvas::default();
        for (index, line) in head.iter().enumerate() {
            let baseline = TEXT * text::ABOVE + leading * index as f64;
            canvas.words(0.0, baseline, line, Type::new(TEXT, INK));
        }
        let days = days_between(first, last) as f64;
        let mut frame = Frame::new(area, across(days, &area), values.upward(&area));
        self.draw_plot(&mut canvas, &mut frame, &values, first);
        if let Some(limit) = self.limit.as_ref().filter(|limit| frame.shows(limit)) {
            let edges = limit.edges();
            let y = edges.iter().map(|edge| frame.y.at(*edge)).sum::<f64>() / edges.len() as f64;
            limit_label.draw(&mut canvas, &frame, y);
        }
        frame.floor(&mut canvas, &dates(first, last));
        let under = frame::floor_baseline(area.bottom) + 8.0;
        let keys = self.keys(&frame);
        keys.draw(&mut canvas, left, under);
        canvas.finish(self.width_pt, under + keys.height() + 4.0)
    }

    fn ends(&self) -> Option<(Date, Date)> {
        let days = || self.points.iter().map(|point| point.on);
        days().min().zip(days().max())
    }

    fn check(&self) -> Result<(), ChartError> {
        super::sane_width(self.width_pt)?;
        super::finite_limit(self.limit.as_ref())?;
        for point in &self.points {
            point.measured.check("a value")?;
        }
        for (_, value) in self.line.iter().flatten() {
            super::finite(*value, "the line of a trend")?;
        }
        Ok(())
    }

    fn data_range(&self) -> Result<(f64, f64), ChartError> {
        let found = self.points.iter().flat_map(|point| {
            let (value, half) = (point.measured.value, point.measured.half());
            [value - half, value + half]
        });
        let line = self.line.iter().flatten().map(|(_, value)| *value);
        let zero = self.from_zero.then_some(0.0);
        frame::range(found.chain(line).chain(zero), [], self.limit.as_ref())
            .ok_or(ChartError::Nothing("no visit has a value"))
    }

    fn draw_plot(&self, canvas: &mut Canvas, frame: &mut Frame, values: &Values, first: Date) {
        let day = |on: Date| days_between(first, on) as f64;
        frame.grid(canvas, values, true);
        if let Some(limit) = &self.limit {
            frame.forbid(canvas, limit);
        }
        let upright = Pen { dashed: true, ..Pen::solid(State::AsLeft.colour(), HAIRLINE * 1.5) };
        for point in self.points.iter().filter(|point| point.state == State::AsLeft) {
            let x = frame.x.at(day(point.on));
            canvas.line(&[(x, frame.area.top), (x, frame.area.bottom)], upright);
        }
        if let Some(line) = &self.line {
            let line = line.map(|(on, value)| (day(on), value));
            frame.line(canvas, &line, Pen::solid(SOFT_INK, DATA));
        }
        for point in &self.points {
            let at = (day(point.on), point.measured.value);
            frame.whisker(canvas, at, point.measured.half(), point.state.colour());
            frame.mark(canvas, at, point.state, MARK);
        }
        frame.say_beyond(canvas);
    }

    fn keys(&self, frame: &Frame) -> Keys {
        let mut keys = Vec::new();
        let states = [
            (State::AsFound, "as found"),
            (State::AsLeft, "as left, after a repair (upright line)"),
            (State::Reference, "reference or baseline"),
        ];
        for (state, words) in states {
            if self.points.iter().any(|point| point.state == state) {
                keys.push((Sign::Mark(state), words.to_owned()));
            }
        }
        if self.points.iter().any(|point| point.measured.half() > 0.0) {
            keys.push((Sign::Whisker, "± U, 95 %".to_owned()));
        }
        if self.line.is_some() {
            keys.push((Sign::None, "straight line: the trend".to_owned()));
        }
        if let Some(limit) = self.limit.as_ref().filter(|limit| !frame.shows(limit)) {
            keys.push((Sign::Limit, format!("{}: beyond this scale", limit.text)));
        }
        Keys::new(keys, frame.area.width())
    }
}

/// The scale of the days, with a little room beside the first and the last.
fn across(days: f64, area: &Rect) -> Scale {
    let days = days.max(1.0);
    let room = 12.0 * days / (area.width() - 24.0);
    Scale { low: -room, high: days + room, from: area.left, to: area.right }
}

/// The beginnings of months or years between two days, as few as fit, in days from the first. Where none or one lies between,
/// the two days themselves.
fn dates(first: Date, last: Date) -> Vec<(f64, String)> {
    const STEPS: [i32; 11] = [1, 2, 3, 6, 12, 24, 60, 120, 240, 600, 1200];
    let month_of = |date: Date| i32::from(date.year()) * 12 + i32::from(date.month()) - 1;
    let begin = |month: i32| {
        let year = i16::try_from(month.div_euclid(12)).ok()?;
        let of_year = i8::try_from(month.rem_euclid(12) + 1).ok()?;
        Date::new(year, of_year, 1).ok()
    };
    let of_step = |step: i32| -> Vec<(f64, String)> {
        let from = month_of(first).div_euclid(step) * step;
        (from..=month_of(last))
            .step_by(usize::try_from(step).unwrap_or(1))
            .filter_map(|month| Some((month, begin(month)?)))
            .filter(|(_, day)| *day >= first && *day <= last)
            .map(|(month, day)| {
                let text = if step % 12 == 0 {
                    day.year().to_string()
                } else {
                    format!("{}-{:02}", day.year(), month.rem_euclid(12) + 1)
                };
                (days_between(first, day) as f64, text)
            })
            .collect()
    };
    let fits = |ticks: &Vec<(f64, String)>| ticks.len() <= MOST_DATES;
    let ticks = STEPS.into_iter().map(of_step).find(fits).unwrap_or_default();
    if ticks.len() > 1 {
        return ticks;
    }
    let mut ends = vec![(0.0, first.to_string())];
    if last > first {
        ends.push((days_between(first, last) as f64, last.to_string()));
    }
    ends
}

#[cfg(test)]
mod tests {
    use super::*;

    fn named(first: Date, last: Date) -> Vec<String> {
        dates(first, last).into_iter().map(|(_, text)| text).collect()
    }

    /// Counted on a calendar: 1 March 2024 is 29 days after 1 February, for 2024 has a leap day.
    #[test]
    fn dates_under_the_plot_are_the_beginnings_of_months_and_years() {
        let day = Date::constant;
        assert_eq!(
            dates(day(2024, 1, 15), day(2024, 4, 2)),
            [(17.0, "2024-02".to_owned()), (46.0, "2024-03".to_owned()), (77.0, "2024-04".to_owned())]
        );
        assert_eq!(named(day(2020, 6, 1), day(2024, 2, 1)), ["2021", "2022", "2023", "2024"]);
        assert_eq!(named(day(2026, 3, 2), day(2026, 3, 24)), ["2026-03-02", "2026-03-24"]);
        assert_eq!(named(day(2026, 3, 2), day(2026, 3, 2)), ["2026-03-02"]);
        assert!(named(day(-9999, 1, 1), day(9999, 12, 31)).len() <= 20);
    }
}
