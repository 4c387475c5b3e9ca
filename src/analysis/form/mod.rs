//! The form of a line or a surface as findings: what straightness and flatness share.
//!
//! Heights are held against the minimum zone, the least-squares line (plane) and, along a line, its end
//! points. The three differ, so each is a finding of its own that names its reference.

mod shape;

use crate::findings::{Component, Finding};
use crate::quantity::{Difference, Kind, Quantity, Unit, UnitSystem};
use crate::schema::{Form, quantity, text, truth, unit};
use crate::session::{Check, Fields, Node, Problem, Problems, Reading, Session};

use super::size::{self, ReadingNoise};
use super::uncertainty::{Shown, UNNAMED};
use super::zone::{Against, Combined, Held, Observed, Places, combine, draw};

pub(super) use shape::BendKind;
use shape::{Bend, bends};

/// What can hurt whoever lays a straightedge or an indicator on a machine.
pub(super) const CAUTIONS: &[&str] = &[
    "Tables, fences and beds: pull the plug before a straightedge or an indicator goes near a blade or a \
     cutter head, and follow the maker's instructions before anything is loosened or shimmed.",
    "A saw blade cuts without turning: wear gloves to handle it, none near a running machine.",
];

/// How passes come together.
pub(super) const PASSES: &str = "Passes over the same places: each has a level and a slope of its own, fitted by \
     least squares together with the heights; what is left over is the scatter (JCGM 100:2008, 4.2, and \
     common practice).";

/// How a zone's uncertainty is found.
pub(super) const DRAWN: &str = "Widths of zones: uncertainty and floor by Monte Carlo seeded from the readings, with as many \
     draws (10 048 to 100 032) as it takes until two digits stand; the display step is drawn once a place, the scatter smaller by the root of the passes; \
     the instrument's accuracy and the trueness of what was read against enter once; a width that noise pushes up is over a \
     limit only by more than that and U (JCGM 101:2008, 7, 7.9; JCGM 100:2008, F.2.4.5).";

/// From this share on a simple form is worth a word (common practice).
const TELLING_SHARE: f64 = 0.7;

/// The simple form that explains most of a finding that stands clear of its floor and uncertainty.
pub(super) fn telling(finding: &Finding, points: &[(f64, f64)], heights: &[f64]) -> Option<Bend> {
    let clear =
        finding.expanded().is_some_and(|known| finding.value.is_some_and(|value| value > known.expanded));
    if !clear || finding.at_floor() {
        return None;
    }
    bends(points, heights).filter(|bend| bend.share >= TELLING_SHARE)
}

/// More passes than this nobody makes.
pub(super) const MOST_PASSES: usize = 60;

/// What a check's readings were taken against: a straightedge, a surface plate, a square.
#[derive(Clone, Debug, Default)]
pub(super) struct Reference {
    /// What it is called.
    pub name: Option<String>,
    /// How true it is known to be.
    pub within: Option<Difference>,
}

impl Reference {
    /// Reads the check's `reference: {name: …, within: …}`.
    pub(super) fn of(fields: &mut Fields, problems: &mut Problems) -> Self {
        let Some(node) = fields.get("reference") else { return Self::default() };
        let what = "the reference";
        let Some(mut inner) = Fields::of(&node, fields.source(), what, problems) else {
            return Self::default();
        };
        let name = inner.text("name", problems);
        let within = inner.difference("within", &[Kind::Length], problems);
        inner.finish(problems);
        if within.is_some_and(|within| within.value() < 0.0) {
            problems.push(
                Problem::error("a reference cannot be true to less than nothing", fields.at(&node))
                    .expected("expected 'within' to be above zero")
                    .help("write for example: reference: {name: 1 m straightedge, within: 12 µm}"),
            );
        }
        Self { name, within }
    }

    /// Its line in a budget, in `unit`, times `factor`.
    pub(super) fn line(&self, unit: Unit, factor: f64) -> Option<Component> {
        let within = self.within?.to(unit).ok()?;
        let name = self.name.as_deref().unwrap_or("reference");
        let mut line = Component::half_width(&format!("Trueness of the {name}"), within);
        line.contribution *= factor;
        Some(line)
    }

    /// As conditions to compare.
    pub(super) fn fact(&self) -> Option<(String, String)> {
        let within = self.within.map(|within| format!("within {within}"));
        let parts: Vec<String> = self.name.clone().into_iter().chain(within).collect();
        (!parts.is_empty()).then(|| ("read against".to_owned(), parts.join(", ")))
    }

    /// Said where nothing is known of it.
    pub(super) fn note(&self) -> Option<String> {
        self.within.is_none().then(|| {
            "How true the straightedge, plate or square is that was read against is not given, so its part \
             is not in the uncertainty."
                .to_owned()
        })
    }
}

/// A check of lengths that were read against something.
pub(super) fn against_schema() -> Form {
    let length = [Kind::Length];
    let reference = Form::new()
        .may("name", text(), "What it is called: 1 m straightedge.")
        .may("within", quantity(&length), "How true it is known to be: 12 µm.")
        .shape();
    Form::new()
        .may("reference", reference, "What was read against: a straightedge, a surface plate, a square.")
        .may("unit", unit(&length), "The unit of bare readings: thou.")
}

/// A check of form.
pub(super) fn check_schema() -> Form {
    against_schema().may(
        "gaps",
        truth(),
        "Whether gaps under a straightedge were read, large where it is low.",
    )
}

/// The unit of a check of lengths: its own, or the usual one.
pub(super) fn length_unit(session: &Session, check: &Check, problems: &mut Problems) -> Option<Unit> {
    let usual = match session.units {
        UnitSystem::Inch => "thou",
        UnitSystem::Metric => "mm",
    };
    let unit = check.unit.or(Unit::known(Kind::Length, usual))?;
    if unit.kind() == Kind::Length {
        return Some(unit);
    }
    problems.push(
        Problem::error(
            format!("{} needs a length, and {unit} is {}", check.measure, unit.kind().words()),
            check.place.clone(),
        )
        .expected("'unit' is the unit of bare readings, a length")
        .help("write for example: unit: thou"),
    );
    None
}

/// What a check of form says of itself.
pub(super) struct Frame {
    /// The unit of heights.
    pub unit: Unit,
    /// What was read against.
    pub reference: Reference,
    /// Whether gaps under a straightedge were read, which are large where the surface is low.
    pub gaps: bool,
}

impl Frame {
    /// Reads a check's own fields.
    pub(super) fn of(session: &Session, check: &Check, problems: &mut Problems) -> Option<Self> {
        let mut own = check.own.clone();
        let reference = Reference::of(&mut own, problems);
        let gaps = own.truth("gaps", problems).unwrap_or(false);
        own.finish(problems);
        length_unit(session, check, problems).map(|unit| Self { unit, reference, gaps })
    }

    /// A reading's height.
    pub(super) fn height(&self, reading: &Reading, shown: &Shown) -> Option<f64> {
        height(reading, self.unit, shown).map(|height| if self.gaps { -height } else { height })
    }

    /// As conditions to compare.
    pub(super) fn facts(&self) -> impl Iterator<Item = (String, String)> {
        let gaps = self.gaps.then(|| ("readings".to_owned(), "gaps under the straightedge".to_owned()));
        self.reference.fact().into_iter().chain(gaps)
    }
}

/// A length above zero that must be there.
pub(super) fn distance(
    fields: &mut Fields,
    name: &'static str,
    example: &str,
    problems: &mut Problems,
) -> Option<Quantity> {
    let node = fields.need(name, example, problems)?;
    let value = crate::session::quantity_of(&node, fields.source(), &[Kind::Length], None, problems)?;
    above_zero(value, name, fields, &node, problems)
}

/// A length, where it is above zero.
pub(super) fn above_zero(
    value: Quantity,
    name: &str,
    fields: &Fields,
    node: &Node,
    problems: &mut Problems,
) -> Option<Quantity> {
    if value.value() > 0.0 {
        return Some(value);
    }
    problems.push(
        Problem::error(format!("'{name}' is a distance of {value}"), fields.at(node))
            .expected("expected a distance above zero")
            .help("measure it on the machine; results are given over it"),
    );
    None
}

/// A reading's height in `unit`, a lever's tip angle considered.
pub(super) fn height(reading: &Reading, unit: Unit, shown: &Shown) -> Option<f64> {
    reading.quantity.to(unit).ok().map(|value| value * shown.scale)
}

/// How a line's or surface's readings were taken.
pub(super) struct Taken<'a, const B: usize> {
    /// Every place, whether anything counts there or not.
    pub places: Places<B>,
    /// Every reading.
    pub observed: Vec<Observed>,
    /// The instrument's part.
    pub shown: &'a Shown,
    /// The unit of heights.
    pub unit: Unit,
    /// What they were taken against.
    pub reference: &'a Reference,
}

/// Its findings and what charts and patterns need.
pub(super) struct Formed {
    /// One for each reference asked for.
    pub findings: Vec<Finding>,
    /// All passes as one.
    pub combined: Combined,
    /// Against the minimum zone; places are indices into [`Combined::places`].
    pub held: Held,
}

/// Works a form out. `None` where the places that count do not span a line (a plane).
pub(super) fn form<const B: usize>(
    taken: &Taken<'_, B>,
    whats: &[(&'static str, &str, Against)],
) -> Option<Formed> {
    let combined = combine(&taken.places, &taken.observed, false);
    let with_struck = combine(&taken.places, &taken.observed, true);
    let places = taken.places.only(&combined.places);
    let held = places.held(&combined.heights, Against::MinimumZone)?;
    let idle = ReadingNoise::idle(taken.shown, "Repeatability of the instrument");
    let noise = idle.with_scatter(combined.scatter, "Scatter from pass to pass");
    let n = taken.observed.iter().filter(|reading| !reading.struck).count();
    let struck = taken.observed.len() - n;
    let averaged = n as f64 / combined.places.len() as f64;
    let mut findings = Vec::new();
    for (what, words, against) in whats {
        let width = places.held(&combined.heights, *against)?.width;
        let drawn = draw(&places, &combined.heights, &combined.counts, *against, (&noise, &idle))?;
        let further = taken.shown.accuracy_line(width, 1.0).into_iter();
        let further = further.chain(taken.reference.line(taken.unit, 1.0)).collect();
        let mut made =
            size::size(("", what), taken.unit, width, drawn, (&noise, averaged), (taken.shown, further));
        made.n = n;
        made.struck = struck;
        if struck > 0 {
            let all = taken.places.only(&with_struck.places);
            made.with_struck = all.held(&with_struck.heights, *against).map(|held| held.width);
        }
        made.notes.extend(size::lift_note(words, drawn, taken.unit));
        if noise.spread.is_none() && !taken.shown.named {
            made.notes.push(UNNAMED.to_owned());
        }
        findings.push(made);
    }
    Some(Formed { findings, combined, held })
}

/// What the whole visit's readings leave unknown.
pub(super) fn notes<const B: usize>(taken: &Taken<'_, B>, formed: &Formed) -> Vec<String> {
    let mut notes = Vec::new();
    if formed.combined.scatter.is_none() {
        notes.push("Every place was read once: the readings have no scatter of their own.".to_owned());
    }
    if taken.shown.repeatability.is_none() {
        notes.push(
            "The instrument's repeatability is not given, so the floor rests on its display step alone."
                .to_owned(),
        );
    }
    notes.extend(taken.reference.note());
    notes
}
