//! Run-out unrolled: readings against the angle of the turn, a plot a visit, a row a station.

mod cell;

use self::cell::{bracket_lines, draw_bracket, draw_turns, extremes};
use super::canvas::{Anchor, Canvas, Type};
use super::clip::Rect;
use super::fit::{self, More};
use super::frame::{self, Frame, Scale, Values};
use super::marks::{self, Keys, Sign};
use super::sheet::{Course, Layer};
use super::style::{INK, MARK, SMALL, State, TEXT};
use super::text::{self, Face};
use super::{ChartError, Limit, Measured, Profile, Svg, TurnReading, Visit};

/// The turns of one check at its stations and visits; all plots share one scale.
#[derive(Debug, Clone, PartialEq)]
pub struct Unrolled {
    /// The width on the page in points.
    pub width_pt: f64,
    /// What was read: `Reading`.
    pub name: String,
    /// The unit of all values, as it is written.
    pub unit: String,
    /// The visits in the order of their dates: the columns.
    pub visits: Vec<Visit>,
    /// The stations in their order along the spindle: the rows.
    pub stations: Vec<UnrolledStation>,
    /// A limit on the total indicator reading, `AtMost`: a band of that height is left clear about the
    /// middle of the readings. Other bounds say nothing about a range and are not drawn.
    pub limit: Option<Limit>,
    /// The range of values to draw instead of one that fits the data. What lies outside is said.
    pub range: Option<(f64, f64)>,
}

/// One station.
#[derive(Debug, Clone, PartialEq)]
pub struct UnrolledStation {
    /// Its name, empty where there is only one.
    pub name: String,
    /// What was read at each visit, in the order of the visits; `None` where it was not.
    pub visits: Vec<Option<Turns>>,
}

/// The turns at one station and visit.
#[derive(Debug, Clone, PartialEq)]
pub struct Turns {
    /// The readings, a list a turn, in the order of their angles.
    pub turns: Vec<Vec<TurnReading>>,
    /// Subtracted from every reading and from the profile before drawing: the level to draw from,
    /// where set-ups had different zeros. 0 draws the readings as they were read.
    pub datum: f64,
    /// The fitted profile of all turns together.
    pub profile: Option<Profile>,
    /// The total indicator reading, drawn as a bracket of that height.
    pub tir: Option<Measured>,
}

const GAP: f64 = 10.0;
const HEAD: f64 = TEXT * text::LEADING;
/// The room between a plot and the next row's words: tick labels.
const UNDER: f64 = 15.0;

/// What all plots of a chart have in common.
struct Sheet {
    values: Values,
    left: f64,
    /// The width of a plot.
    plot: f64,
    /// The room right of a plot for the bracket and, where it is wide, its words.
    gutter: f64,
    /// Whether the words of the bracket stand in the gutter; else over the plot.
    beside: bool,
    height: f64,
}

impl Unrolled {
    /// Draws the chart.
    pub fn draw(&self) -> Result<Svg, ChartError> {
        self.draw_to(None)
    }

    /// Draws the chart with plots as high as it takes to fill a height.
    pub fn draw_to(&self, height: Option<f64>) -> Result<Svg, ChartError> {
        fit::to(height, self.stations.len(), |more| self.drawn(more))
    }

    fn drawn(&self, more: More) -> Result<Svg, ChartError> {
        self.check()?;
        let sheet = self.sheet(more)?;
        let mut canvas = Canvas::default();
        let mut y = self.draw_heads(&mut canvas, &sheet);
        for (row, station) in self.stations.iter().enumerate() {
            y = self.draw_station(&mut canvas, &sheet, station, y, row + 1 == self.stations.len());
        }
        let keys = self.keys(&sheet);
        keys.draw(&mut canvas, sheet.left, y);
        canvas.finish(self.width_pt, y + keys.height() + 2.0)
    }

    fn cells(&self) -> impl Iterator<Item = &Turns> {
        self.stations.iter().flat_map(|station| station.visits.iter().flatten())
    }

    fn check(&self) -> Result<(), ChartError> {
        super::sane_width(self.width_pt)?;
        super::finite_limit(self.limit.as_ref())?;
        for cell in self.cells() {
            super::finite(cell.datum, "a datum")?;
            if let Some(profile) = &cell.profile {
                profile.check()?;
            }
            if let Some(tir) = &cell.tir {
                tir.check("a total indicator reading")?;
            }
            for reading in cell.turns.iter().flatten() {
                super::finite(reading.angle, "an angle")?;
                if reading.value.is_finite() {
                    super::finite(reading.value, "a reading")?;
                }
            }
        }
        Ok(())
    }

    /// The limit's height, where it limits a range.
    fn limit_height(&self) -> Option<f64> {
        match self.limit.as_ref()?.bound {
            super::Bound::AtMost(height) if height > 0.0 => Some(height),
            _ => None,
        }
    }

    fn data_range(&self) -> Result<(f64, f64), ChartError> {
        let values = |struck: bool| {
            let readings = self.cells().flat_map(move |cell| {
                let kept = cell.turns.iter().flatten().filter(move |reading| reading.struck == struck);
                kept.map(|reading| reading.value - cell.datum)
            });
            readings.collect::<Vec<f64>>()
        };
        let curves = self.cells().flat_map(|cell| {
            let profile = cell.profile.iter();
            profile.flat_map(|profile| (0..72).map(|step| profile.at(f64::from(step) * 5.0) - cell.datum))
        });
        let kept: Vec<f64> = values(false).into_iter().chain(curves).collect();
        let (mut low, mut high) =
            frame::range(kept, values(true), None).ok_or(ChartError::Nothing("no reading is finite"))?;
        // A limit much wider than the readings would crush them; it is named beside the chart instead.
        let size = high - low;
        if let Some(height) = self.limit_height().filter(|height| *height <= 2.5 * size) {
            for (a, b) in self.cells().filter_map(extremes) {
                let room = 0.62 * height;
                let middle = f64::midpoint(a, b);
                (low, high) = (low.min(middle - room), high.max(middle + room));
            }
        }
        Ok((low, high))
    }

    fn sheet(&self, more: More) -> Result<Sheet, ChartError> {
        let height = more.of(match self.stations.len() {
            0 | 1 => 84.0,
            2 => 80.0,
            3 => 72.0,
            4 | 5 => 58.0,
            _ => 48.0,
        });
        let values = Values::new(self.data_range()?, self.range, if height > 70.0 { 7 } else { 5 })?;
        let left = values.label_width() + 5.0;
        let count = self.visits.len();
        let room = (self.width_pt - left - GAP * (count.max(1) - 1) as f64) / count.max(1) as f64;
        let words: Vec<String> =
            self.cells().filter_map(|cell| cell.tir.as_ref()).flat_map(bracket_lines).collect();
        let words_room = text::widest(words.iter().map(String::as_str), SMALL, Face::Regular) + 11.0;
        let beside = room - words_room >= 84.0;
        let has_bracket = self.cells().any(|cell| cell.tir.is_some());
        let gutter = match (has_bracket, beside) {
            (true, true) => words_room,
            (true | false, _) => 9.0,
        };
        let plot = room - gutter;
        if plot < 24.0 {
            return Err(ChartError::TooNarrow { width_pt: self.width_pt });
        }
        Ok(Sheet { values, left, plot, gutter, beside, height })
    }

    /// The name of the values and the names of the visits; returns where they end.
    fn draw_heads(&self, canvas: &mut Canvas, sheet: &Sheet) -> f64 {
        let name = sheet.values.name(&self.name, &self.unit);
        let mut y = 0.0;
        for line in text::wrap(&name, TEXT, Face::Regular, self.width_pt) {
            canvas.words(0.0, y + TEXT * text::ABOVE, &line, Type::new(TEXT, INK));
            y += HEAD;
        }
        y += 4.0;
        let mut bottom = y;
        for (index, visit) in self.visits.iter().enumerate() {
            let left = sheet.column(index);
            let kind = Type::new(TEXT, visit.state.word_colour()).strong();
            canvas.on(Layer::Visit(index));
            marks::mark(canvas, (left + MARK, y + HEAD / 2.0), visit.state, MARK);
            let room = sheet.plot + sheet.gutter - 8.0;
            let top = y;
            for (line, words) in text::wrap(&visit.name, TEXT, Face::Strong, room).iter().enumerate() {
                let middle = y + HEAD * (line as f64 + 0.5);
                canvas.words(left + 8.0, kind.centred_on(middle), words, kind);
                bottom = bottom.max(middle + HEAD / 2.0);
            }
            canvas.comes(Course::First(Rect { left: left - 2.0, top, right: left + room + 8.0, bottom }));
        }
        canvas.on(Layer::Frame);
        bottom + 4.0
    }

    /// One row of plots under its station's name; returns where it ends.
    fn draw_station(
        &self,
        canvas: &mut Canvas,
        sheet: &Sheet,
        station: &UnrolledStation,
        top: f64,
        last: bool,
    ) -> f64 {
        let mut y = top;
        let kind = Type::new(TEXT, INK).strong();
        for line in text::wrap(&station.name, TEXT, Face::Strong, self.width_pt - sheet.left) {
            canvas.words(sheet.left, kind.centred_on(y + HEAD / 2.0), &line, kind);
            y += HEAD;
        }
        y += self.draw_bracket_heads(canvas, sheet, station, y) + 3.0;
        for (index, visit) in self.visits.iter().enumerate() {
            let left = sheet.column(index);
            let area = Rect { left, top: y, right: left + sheet.plot, bottom: y + sheet.height };
            let x = Scale { low: -6.0, high: 366.0, from: area.left, to: area.right };
            let mut frame = Frame::new(area, x, sheet.values.upward(&area));
            let cell = station.visits.get(index).and_then(Option::as_ref);
            frame.grid(canvas, &sheet.values, index == 0);
            canvas.on(Layer::Visit(index));
            self.draw_cell(canvas, &mut frame, sheet, cell, visit.state);
            canvas.on(Layer::Frame);
            frame.floor(canvas, &angle_ticks(sheet.plot));
        }
        y + sheet.height + UNDER + if last { 0.0 } else { 4.0 }
    }

    /// Where gutters are narrow, the bracket's words stand over the plots; returns their height.
    fn draw_bracket_heads(
        &self,
        canvas: &mut Canvas,
        sheet: &Sheet,
        station: &UnrolledStation,
        y: f64,
    ) -> f64 {
        if sheet.beside {
            return 0.0;
        }
        let kind = Type::new(SMALL, INK).at(Anchor::End);
        let leading = SMALL * text::LEADING;
        let cells = station.visits.iter().take(self.visits.len()).enumerate();
        let rows: Vec<(usize, Vec<String>)> = cells
            .filter_map(|(index, cell)| Some((index, cell.as_ref()?.tir.as_ref()?)))
            .map(|(index, tir)| {
                let words = format!("TIR {}", tir.text);
                (index, text::wrap(&words, SMALL, Face::Regular, sheet.plot + sheet.gutter))
            })
            .collect();
        let most = rows.iter().map(|(_, lines)| lines.len()).max().unwrap_or(0);
        for (index, lines) in &rows {
            let right = sheet.column(*index) + sheet.plot + sheet.gutter - 1.0;
            canvas.on(Layer::Visit(*index));
            for (line, words) in lines.iter().enumerate() {
                let middle = y + leading * ((most - lines.len() + line) as f64 + 0.5);
                canvas.words(right, kind.centred_on(middle), words, kind);
            }
        }
        canvas.on(Layer::Frame);
        leading * most as f64
    }

    fn draw_cell(
        &self,
        canvas: &mut Canvas,
        frame: &mut Frame,
        sheet: &Sheet,
        cell: Option<&Turns>,
        state: State,
    ) {
        frame.comes_across(canvas);
        let band = cell.and_then(extremes).map(|(low, high)| f64::midpoint(low, high));
        if let (Some(middle), Some(height)) = (band, self.limit_height()) {
            let bound = super::Bound::Between(middle - height / 2.0, middle + height / 2.0);
            frame.forbid(canvas, &Limit { bound, text: String::new() });
        }
        let Some(cell) = cell else {
            let kind = Type::new(SMALL, super::style::SOFT_INK).at(Anchor::Middle);
            let middle = f64::midpoint(frame.area.left, frame.area.right);
            let y = f64::midpoint(frame.area.top, frame.area.bottom);
            for (line, words) in text::wrap("not read", SMALL, Face::Regular, sheet.plot).iter().enumerate() {
                canvas.words_on_white(middle, kind.centred_on(y) + line as f64 * HEAD, words, kind);
            }
            return;
        };
        draw_turns(canvas, frame, cell, state);
        if let (Some(tir), Some(middle)) = (&cell.tir, band) {
            draw_bracket(canvas, frame, sheet, tir, middle);
        }
        frame.say_beyond(canvas);
    }

    fn keys(&self, sheet: &Sheet) -> Keys {
        let mut keys = Vec::new();
        if let Some(visit) = self.visits.first() {
            let turns = self.cells().map(|cell| cell.turns.len()).max().unwrap_or(0);
            let words = if turns > 1 { "readings, a line a turn" } else { "readings" };
            keys.push((Sign::Joined(visit.state), words.to_owned()));
            if self.cells().any(|cell| cell.profile.is_some()) {
                keys.push((Sign::Curve(visit.state), "fitted profile".to_owned()));
            }
        }
        if self.cells().any(|cell| cell.turns.iter().flatten().any(|reading| reading.struck)) {
            keys.push((Sign::Cross, "struck".to_owned()));
        }
        if let (Some(limit), Some(height)) = (&self.limit, self.limit_height()) {
            let shown = self.cells().filter_map(extremes).any(|(low, high)| {
                let middle = f64::midpoint(low, high);
                middle + height / 2.0 <= sheet.values.high || middle - height / 2.0 >= sheet.values.low
            });
            let words = if shown {
                format!("beyond the limit, {}", limit.text)
            } else {
                format!("{}: beyond this scale", limit.text)
            };
            keys.push((if shown { Sign::Hatch } else { Sign::Limit }, words));
        }
        Keys::new(keys, self.width_pt - sheet.left)
    }
}

impl Sheet {
    /// The left edge of a column.
    fn column(&self, index: usize) -> f64 {
        self.left + index as f64 * (self.plot + self.gutter + GAP)
    }
}

/// Ticks each 45°, 90° or 180°, as there is room.
fn angle_ticks(width: f64) -> Vec<(f64, String)> {
    let step = if width > 210.0 {
        45
    } else if width > 84.0 {
        90
    } else {
        180
    };
    (0..=360).step_by(step).map(|angle| (f64::from(angle), format!("{angle}°"))).collect()
}
