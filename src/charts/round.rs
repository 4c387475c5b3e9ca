//! Run-out in the round: magnified about a base circle, with the fitted circle, its centre and the
//! high spot.
//!
//! The radius on the page is that of the base circle plus the magnified deviation from the mean level.
//! In such a plot an off-centre circle is r = R + e·cos(θ − φ), a limaçon that is all but a circle; it
//! is drawn as it is, so that readings of a perfect once-per-turn run-out lie on it.

use super::canvas::{Anchor, Canvas, Pen, Type};
use super::clip::Point;
use super::clip::Rect;
use super::fit::{self, More};
use super::frame;
use super::labels;
use super::marks::{self, Keys, Sign};
use super::sheet::{Course, Layer};
use super::style::{DATA, FINE, HAIRLINE, HAIRLINE_GREY, INK, MARK, SMALL, SOFT_INK, State, TEXT};
use super::text::{self, Face};
use super::ticks::Ticks;
use super::{ChartError, Profile, Svg, TurnReading, Visit};

/// One station at one visit or more, side by side at one magnification.
///
/// 0°, the index mark, is at the top and angles grow clockwise, as on a dial.
#[derive(Debug, Clone, PartialEq)]
pub struct Round {
    /// The width on the page in points.
    pub width_pt: f64,
    /// The unit of all values, as it is written.
    pub unit: String,
    /// The unit in millimetres, where it is a length: then the magnification is said as a number.
    pub unit_mm: Option<f64>,
    /// The visits in the order of their dates.
    pub visits: Vec<RoundVisit>,
}

/// The turns of one visit.
#[derive(Debug, Clone, PartialEq)]
pub struct RoundVisit {
    /// The visit.
    pub visit: Visit,
    /// The readings, a list a turn.
    pub turns: Vec<Vec<TurnReading>>,
    /// The fitted profile; its constant is the base circle, its first harmonic the fitted circle.
    pub profile: Profile,
    /// The angle of the high spot in degrees, where there is one.
    pub high_spot: Option<f64>,
    /// What to say under the plot: `High spot 130°; centre off by 1.7 thou`.
    pub caption: String,
}

/// The farthest that a deviation may go, as a share of the base circle's radius.
const DEVIATION: f64 = 0.42;
/// The room round the plot for angles.
const ROUND_ABOUT: f64 = 24.0;
/// On paper a plot is not drawn larger than with this radius.
const LARGEST: f64 = 54.0;
/// The room across that a plot has at least, with its angles: 2 in on paper; in a picture, which has no second
/// row, as little as can be.
const ON_PAPER: f64 = 144.0;
const IN_PICTURE: f64 = 98.0;
const HEAD: f64 = TEXT * text::LEADING;

/// Where and how large the plot of a visit is.
#[derive(Debug, Clone, Copy)]
struct Dial {
    centre: Point,
    /// The base circle's radius.
    base: f64,
    /// Nothing is drawn beyond this radius.
    outer: f64,
    /// Points for each unit of deviation.
    magnified: f64,
}

impl Dial {
    /// The place at an angle in degrees and a radius in points.
    fn place(&self, degrees: f64, radius: f64) -> Point {
        let (sin, cos) = degrees.to_radians().sin_cos();
        (self.centre.0 + radius * sin, self.centre.1 - radius * cos)
    }

    /// The radius of a deviation; `None` where it would be through the centre or off the plot.
    fn radius(&self, deviation: f64) -> Option<f64> {
        let radius = self.base + self.magnified * deviation;
        (radius >= 0.0 && radius <= self.outer + 1e-9).then_some(radius)
    }
}

impl Round {
    /// Draws the chart.
    pub fn draw(&self) -> Result<Svg, ChartError> {
        self.draw_to(None)
    }

    /// Draws the chart with circles as large as it takes to fill a height, and its width allows.
    pub fn draw_to(&self, height: Option<f64>) -> Result<Svg, ChartError> {
        let narrowest = if height.is_some() { IN_PICTURE } else { ON_PAPER };
        let rows = self.visits.len().div_ceil(self.per_row(narrowest));
        fit::to(height, rows, |more| self.drawn(more, narrowest))
    }

    fn drawn(&self, more: More, narrowest: f64) -> Result<Svg, ChartError> {
        self.check()?;
        let per_row = self.per_row(narrowest);
        let cell = self.width_pt / per_row as f64;
        let room = cell / 2.0 - ROUND_ABOUT;
        let outer = room.min(more.of(2.0 * room.min(LARGEST)) / 2.0);
        if outer < 24.0 {
            return Err(ChartError::TooNarrow { width_pt: self.width_pt });
        }
        let largest = self.largest_deviation();
        let base = outer / (1.0 + DEVIATION * 1.08);
        let magnified = DEVIATION * base / largest;
        let mut canvas = Canvas::default();
        let mut y = 0.0;
        for (line, row) in self.visits.chunks(per_row).enumerate() {
            let heads = row.iter().map(|visit| name_lines(visit, cell).len()).max().unwrap_or(0);
            let middle = y + HEAD * heads as f64 + ROUND_ABOUT - 6.0 + outer;
            let mut bottom: f64 = 0.0;
            for (index, visit) in row.iter().enumerate() {
                let left = cell * index as f64;
                let dial = Dial { centre: (left + cell / 2.0, middle), base, outer, magnified };
                let layer = Layer::Visit(line * per_row + index);
                canvas.within(layer, |canvas| draw_name(canvas, visit, left, y, cell));
                draw_ground(&mut canvas, &dial, visit, largest);
                canvas.on(layer);
                draw_dial(&mut canvas, &dial, visit);
                bottom = bottom.max(draw_caption(&mut canvas, visit, &dial, cell));
                canvas.on(Layer::Frame);
            }
            y = bottom + 6.0;
        }
        y = self.draw_bar(&mut canvas, magnified, largest, y);
        let keys = self.keys();
        keys.draw(&mut canvas, 0.0, y);
        canvas.finish(self.width_pt, y + keys.height() + 2.0)
    }

    fn check(&self) -> Result<(), ChartError> {
        super::sane_width(self.width_pt)?;
        if self.visits.is_empty() {
            return Err(ChartError::Nothing("no visit"));
        }
        for visit in &self.visits {
            visit.profile.check()?;
            if let Some(angle) = visit.high_spot {
                super::finite(angle, "the high spot's angle")?;
            }
            for reading in visit.turns.iter().flatten() {
                super::finite(reading.angle, "an angle")?;
                if reading.value.is_finite() {
                    super::finite(reading.value, "a reading")?;
                }
            }
        }
        if let Some(mm) = self.unit_mm {
            super::finite(mm, "the unit in millimetres")?;
        }
        Ok(())
    }

    /// As many plots in a row as have at least so much width each.
    fn per_row(&self, narrowest: f64) -> usize {
        let fitting = [4, 3, 2].into_iter().find(|count| self.width_pt / f64::from(*count) >= narrowest);
        let fitting = fitting.map_or(1, |count| usize::try_from(count).unwrap_or(1));
        let count = self.visits.len();
        // Four are set two by two rather than three and one.
        if count == 4 && fitting == 3 { 2 } else { fitting.min(count).max(1) }
    }

    /// The largest deviation of a reading that counts or of a fitted circle; 1 where all are zero.
    fn largest_deviation(&self) -> f64 {
        let kept = self.visits.iter().flat_map(|visit| {
            let readings = visit.turns.iter().flatten().filter(|reading| !reading.struck);
            let first = visit.profile.harmonics.first().map_or(0.0, |(a, b)| a.hypot(*b));
            readings.map(|reading| (reading.value - visit.profile.constant).abs()).chain([first])
        });
        let largest = frame::span(kept).map_or(0.0, |(_, high)| high);
        if largest > 1e-150 { largest } else { 1.0 }
    }

    /// The bar that says how large a deviation is drawn; returns where it ends.
    fn draw_bar(&self, canvas: &mut Canvas, magnified: f64, largest: f64, top: f64) -> f64 {
        let step = Ticks::step_below(largest);
        let length = step.step() * magnified;
        let y = top + 5.0;
        let pen = Pen::solid(INK, DATA * 0.8);
        canvas.line(&[(1.0, y), (1.0 + length, y)], pen);
        for x in [1.0, 1.0 + length] {
            canvas.line(&[(x, y - 2.5), (x, y + 2.5)], Pen::solid(INK, FINE));
        }
        let label = step.labels().pop().unwrap_or_default();
        let mut words =
            format!("{label} {}, the step of the rings", step.unit(&self.unit)).replace(" ,", ",");
        if let Some(mm) = self.unit_mm.filter(|mm| *mm > 0.0) {
            let times = magnified * (25.4 / 72.0) / mm;
            words = format!("{words}; deviations drawn {} times their size", two_digits(times));
        }
        let kind = Type::new(SMALL, SOFT_INK);
        let mut baseline = kind.centred_on(y);
        for line in text::wrap(&words, SMALL, Face::Regular, self.width_pt - length - 8.0) {
            canvas.words(length + 6.0, baseline, &line, kind);
            baseline += SMALL * text::LEADING;
        }
        baseline - SMALL * text::LEADING + 5.0
    }

    fn keys(&self) -> Keys {
        let mut keys = Vec::new();
        if let Some(visit) = self.visits.first() {
            let state = visit.visit.state;
            keys.push((Sign::Joined(state), "readings".to_owned()));
            keys.push((Sign::Curve(state), "fitted circle, with its centre".to_owned()));
        }
        if self.visits.iter().any(|visit| visit.high_spot.is_some()) {
            keys.push((Sign::Pointer, "high spot".to_owned()));
        }
        if self.visits.iter().any(|visit| visit.turns.iter().flatten().any(|reading| reading.struck)) {
            keys.push((Sign::Cross, "struck".to_owned()));
        }
        keys.push((Sign::None, "thin circle: mean level".to_owned()));
        Keys::new(keys, self.width_pt)
    }
}

/// What lies under the readings: rings, the base circle, angles.
fn draw_ground(canvas: &mut Canvas, dial: &Dial, visit: &RoundVisit, largest: f64) {
    let bar = Ticks::step_below(largest).step();
    for ring in [-2.0, -1.0, 1.0, 2.0] {
        let radius = dial.base + ring * bar * dial.magnified;
        if radius > dial.base * 0.3 && radius <= dial.outer {
            canvas.ring(dial.centre, radius, Pen::solid(HAIRLINE_GREY, HAIRLINE));
        }
    }
    canvas.ring(dial.centre, dial.base, Pen { colour: SOFT_INK, weight: FINE, dashed: false });
    draw_angles(canvas, dial, visit.high_spot);
}

/// The plot of one visit.
fn draw_dial(canvas: &mut Canvas, dial: &Dial, visit: &RoundVisit) {
    let state = visit.visit.state;
    canvas.comes(Course::Round { centre: dial.centre, radius: dial.outer + 2.0 });
    if let Some(high) = visit.high_spot {
        draw_high_spot(canvas, dial, high.rem_euclid(360.0));
    }
    draw_circle(canvas, dial, &visit.profile, state);
    let mut beyond: Vec<f64> = Vec::new();
    let most = visit.turns.iter().map(Vec::len).max().unwrap_or(1).max(1) as f64;
    let size = (dial.base * std::f64::consts::TAU / most * 0.36).clamp(0.9, MARK * 0.8);
    for turn in &visit.turns {
        draw_turn(canvas, dial, turn, visit.profile.constant, state);
    }
    for reading in visit.turns.iter().flatten().filter(|reading| reading.value.is_finite()) {
        let Some(radius) = dial.radius(reading.value - visit.profile.constant) else {
            draw_beyond(canvas, dial, reading, visit.profile.constant, state);
            beyond.push(reading.value);
            continue;
        };
        let place = dial.place(reading.turned(), radius);
        if reading.struck {
            marks::cross(canvas, place, state.word_colour());
        } else {
            marks::mark(canvas, place, state, size);
        }
    }
    say_beyond(canvas, dial, &beyond);
}

fn name_lines(visit: &RoundVisit, cell: f64) -> Vec<String> {
    text::wrap(&visit.visit.name, TEXT, Face::Strong, cell - 16.0)
}

fn draw_name(canvas: &mut Canvas, visit: &RoundVisit, left: f64, top: f64, cell: f64) {
    let state = visit.visit.state;
    let kind = Type::new(TEXT, state.word_colour()).strong();
    marks::mark(canvas, (left + MARK + 1.0, top + HEAD / 2.0), state, MARK);
    let lines = name_lines(visit, cell);
    for (index, line) in lines.iter().enumerate() {
        let y = top + HEAD * (index as f64 + 0.5);
        canvas.words(left + 10.0, kind.centred_on(y), line, kind);
    }
    let bottom = top + HEAD * lines.len() as f64;
    canvas.comes(Course::First(Rect { left, top, right: left + cell, bottom }));
}

/// The words under a plot; returns where they end.
fn draw_caption(canvas: &mut Canvas, visit: &RoundVisit, dial: &Dial, cell: f64) -> f64 {
    let kind = Type::new(SMALL, INK).at(Anchor::Middle);
    let mut bottom = dial.centre.1 + dial.outer + ROUND_ABOUT - 6.0;
    for line in text::wrap(&visit.caption, SMALL, Face::Regular, cell - 8.0) {
        canvas.words(dial.centre.0, bottom + SMALL * text::ABOVE, &line, kind);
        bottom += SMALL * text::LEADING;
    }
    bottom
}

/// Ticks and angles round the plot, and the high spot's pointer. An angle under the pointer's is left out.
fn draw_angles(canvas: &mut Canvas, dial: &Dial, high_spot: Option<f64>) {
    let high = high_spot.map(|angle| angle.rem_euclid(360.0));
    let apart = |a: f64, b: f64| {
        let off = (a - b).rem_euclid(360.0);
        off.min(360.0 - off)
    };
    let kind = Type::new(SMALL, SOFT_INK);
    for step in 0..8 {
        let angle = f64::from(step) * 45.0;
        let pen = Pen::solid(HAIRLINE_GREY, if step % 2 == 0 { FINE } else { HAIRLINE });
        canvas.line(&[dial.place(angle, dial.base * 0.3), dial.place(angle, dial.outer)], pen);
        let is_clear = high.is_none_or(|high| apart(angle, high) > 20.0);
        if step % 2 == 0 && is_clear {
            label_angle(canvas, dial, angle, dial.outer + 3.0, kind);
        }
    }
}

/// The pointer at the high spot, and its angle.
fn draw_high_spot(canvas: &mut Canvas, dial: &Dial, high: f64) {
    let (sin, cos) = high.to_radians().sin_cos();
    marks::pointer(canvas, dial.place(high, dial.outer + 7.0), (-sin, cos), INK);
    label_angle(canvas, dial, high, dial.outer + 8.5, Type::new(SMALL, INK).strong());
}

/// An angle in whole degrees outside a radius.
fn label_angle(canvas: &mut Canvas, dial: &Dial, angle: f64, radius: f64, kind: Type) {
    let (sin, cos) = angle.to_radians().sin_cos();
    let words = format!("{:.0}°", angle.round().rem_euclid(360.0));
    let width = text::width(&words, kind.size, kind.face);
    let height = text::CAP_HEIGHT * kind.size;
    // The middle of the text lies so far out that its box is clear of the circle.
    let (x, y) = dial.place(angle, radius + sin.abs() * width / 2.0 + cos.abs() * height / 2.0);
    canvas.words(x, kind.centred_on(y), &words, kind.at(Anchor::Middle));
}

/// The fitted circle, both centres and the line between them.
fn draw_circle(canvas: &mut Canvas, dial: &Dial, profile: &Profile, state: State) {
    let (a, b) = profile.harmonics.first().copied().unwrap_or((0.0, 0.0));
    let circle: Vec<Point> = (0..=180)
        .map(|step| f64::from(step) * 2.0)
        .map(|angle| {
            let (sin, cos) = angle.to_radians().sin_cos();
            dial.place(angle, dial.base + dial.magnified * (a * cos + b * sin))
        })
        .collect();
    canvas.line(&circle, marks::curve(state));
    let arm = 3.0;
    let (x, y) = dial.centre;
    let pen = Pen::solid(SOFT_INK, FINE);
    canvas.line(&[(x - arm, y), (x + arm, y)], pen);
    canvas.line(&[(x, y - arm), (x, y + arm)], pen);
    let centre = (x + dial.magnified * b, y - dial.magnified * a);
    canvas.line(&[dial.centre, centre], Pen::solid(state.colour(), DATA));
    canvas.disc(centre, 1.7, state.colour());
}

/// The readings of a turn joined along the turn: the radius runs evenly from one to the next.
fn draw_turn(canvas: &mut Canvas, dial: &Dial, turn: &[TurnReading], level: f64, state: State) {
    let mut kept: Vec<(f64, Option<f64>)> = turn
        .iter()
        .filter(|reading| !reading.struck)
        .map(|reading| {
            let finite = Some(reading.value - level).filter(|deviation| deviation.is_finite());
            (reading.turned(), finite.and_then(|deviation| dial.radius(deviation)))
        })
        .collect();
    kept.sort_by(|a, b| a.0.total_cmp(&b.0));
    for pair in kept.windows(2) {
        let &[(from, Some(inner)), (to, Some(outer))] = pair else {
            continue;
        };
        let steps = ((to - from) / 3.0).ceil().clamp(1.0, 120.0);
        let shares = (0..=120).map(f64::from).take_while(|step| *step <= steps).map(|step| step / steps);
        let arc: Vec<Point> = shares
            .map(|share| dial.place(from + share * (to - from), inner + share * (outer - inner)))
            .collect();
        canvas.line(&arc, marks::joining(state));
    }
}

/// An arrow at the edge for a reading that lies off the plot.
fn draw_beyond(canvas: &mut Canvas, dial: &Dial, reading: &TurnReading, level: f64, state: State) {
    let (sin, cos) = reading.turned().to_radians().sin_cos();
    let (radius, out) =
        if reading.value > level { (dial.outer - 5.0, 1.0) } else { (dial.base * 0.3 + 5.0, -1.0) };
    marks::pointer(canvas, dial.place(reading.turned(), radius), (out * sin, -out * cos), state.colour());
}

/// Says what lies off the plot, inside the circle.
fn say_beyond(canvas: &mut Canvas, dial: &Dial, beyond: &[f64]) {
    let Some((low, high)) = frame::span(beyond.iter().copied()) else {
        return;
    };
    let (low, high) = (labels::plain_number(low), labels::plain_number(high));
    let words = match beyond.len() {
        1 => format!("off this plot: {high}"),
        count => format!("{count} off this plot: {low} to {high}"),
    };
    let kind = Type::new(SMALL, SOFT_INK).at(Anchor::Middle);
    let mut y = dial.centre.1 + dial.base * 0.3;
    for line in text::wrap(&words, SMALL, Face::Regular, dial.base * 1.7) {
        canvas.words_on_white(dial.centre.0, kind.centred_on(y), &line, kind);
        y += SMALL * text::LEADING;
    }
}

/// A magnification to two digits.
fn two_digits(times: f64) -> String {
    if !times.is_finite() || times <= 0.0 {
        return "0".to_owned();
    }
    let place = 10f64.powf(times.log10().floor() - 1.0);
    let rounded = (times / place).round() * place;
    if rounded >= 10.0 { format!("{rounded:.0}") } else { format!("{rounded:.2}") }
}
