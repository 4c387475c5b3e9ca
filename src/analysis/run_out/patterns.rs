//! Reading the pattern of run-out: what the readings are consistent with, always with the figure
//! that says so. A pattern never names a culprit on its own.

use crate::findings::{CheckFindings, Finding, Pattern, VisitFindings};
use crate::quantity::{Difference, Kind, Unit, round_with_uncertainty};
use crate::session::Session;

use super::{Direction, RunOutDetails};

/// Twice per turn is worth a word from this share of the once-per-turn part (common practice).
const NOTABLE_SHARE: f64 = 0.5;

/// Everything that the patterns of one run-out check are consistent with.
pub(super) fn read(session: &Session, own: &CheckFindings, all: &[CheckFindings]) -> Vec<Pattern> {
    let mut patterns = Vec::new();
    for visit in &own.visits {
        let Some(details) = visit.details.of::<RunOutDetails>() else {
            continue;
        };
        let says = match details.direction {
            Direction::Radial => radial(visit, details),
            Direction::Axial => axial(session, visit, details, all),
        };
        // A floor that rests on the display step alone cannot accuse a bearing.
        let loose = if details.repeatability_known { loose(visit) } else { Vec::new() };
        let common = out_of_round(visit, details.direction).into_iter().chain(loose);
        patterns
            .extend(says.into_iter().chain(common).map(|says| Pattern { visit: visit.visit.clone(), says }));
    }
    patterns
}

fn of_kind<'a>(visit: &'a VisitFindings, what: &'static str) -> impl Iterator<Item = &'a Finding> {
    visit.findings.iter().filter(move |finding| finding.what == what && finding.value.is_some())
}

/// "3.4 ± 0.8 thou", or "0.4 thou, at or below the floor".
fn said(finding: &Finding) -> String {
    let value = finding.value.unwrap_or(f64::NAN);
    match finding.expanded() {
        Some(expanded) => with(value, expanded.expanded, finding.unit),
        None => format!("{} {}", crate::quantity::significant(value, 3), finding.unit),
    }
}

fn with(value: f64, expanded: f64, unit: Unit) -> String {
    let rounded = round_with_uncertainty(value, expanded);
    format!("{} ± {} {unit}", rounded.value, rounded.uncertainty)
}

/// Off-centre seat, tilt, or both: the line through the stations.
fn radial(visit: &VisitFindings, details: &RunOutDetails) -> Vec<String> {
    let (Some(offset), Some(tilt), Some(spindle)) =
        (of_kind(visit, "offset").next(), of_kind(visit, "tilt").next(), details.spindle)
    else {
        return Vec::new();
    };
    let tilts = !tilt.at_floor() && exceeds(tilt);
    let offsets = !offset.at_floor() && exceeds(offset);
    let says = match (offsets, tilts) {
        (true, false) => format!(
            "The same size and angle at every station, as far as can be told (offset {}; tilt {}, not \
             shown to differ from zero): consistent with a seat that is off centre.",
            said(offset),
            said(tilt)
        ),
        (false, true) => format!(
            "The run-out grows with distance (tilt {}; offset {}, not shown to differ from zero): \
             consistent with a tilted or bent axis.",
            said(tilt),
            said(offset)
        ),
        (true, true) => format!(
            "An offset of {} and a growth with distance of {}, {:.0}° apart: consistent with an \
             off-centre seat together with a tilted or bent axis.",
            said(offset),
            said(tilt),
            spindle.between
        ),
        (false, false) => format!(
            "Neither offset ({}) nor tilt ({}) is shown to differ from zero.",
            said(offset),
            said(tilt)
        ),
    };
    vec![says]
}

fn exceeds(finding: &Finding) -> bool {
    match (finding.value, finding.expanded()) {
        (Some(value), Some(expanded)) => value > expanded.expanded,
        _ => false,
    }
}

/// How much of an axial wobble the spindle's tilt, found by a radial check of the same visit,
/// explains.
fn axial(
    session: &Session,
    visit: &VisitFindings,
    details: &RunOutDetails,
    all: &[CheckFindings],
) -> Vec<String> {
    let mut says = Vec::new();
    for station in &details.stations {
        let Some(found) = visit.finding(&station.id, "once_per_turn") else {
            continue;
        };
        let (Some(wobble), Some(radius)) = (found.value, station.distance) else {
            continue;
        };
        for check in all {
            let other = check.visit(&visit.visit).and_then(|visit| {
                let details = visit.details.of::<RunOutDetails>()?;
                let tilt = of_kind(visit, "tilt").next()?;
                Some((details.spindle?, tilt))
            });
            let same_machine = session.visit(&visit.visit).is_some();
            let Some((spindle, tilt)) = other.filter(|_| same_machine) else {
                continue;
            };
            // 2·r·tan(tilt): the radius is in this check's unit already, so is the product.
            let explained = 2.0 * radius * spindle.tilt.value;
            let radian = Unit::known(Kind::Angle, "rad");
            let to_radians =
                radian.and_then(|rad| Difference::new(1.0, tilt.unit).to(rad).ok()).unwrap_or(0.0);
            let expanded = tilt.expanded().map_or(0.0, |e| 2.0 * radius * e.expanded * to_radians);
            says.push(explain(found, wobble, explained, expanded, &check.title));
        }
    }
    says
}

fn explain(found: &Finding, wobble: f64, explained: f64, expanded: f64, check: &str) -> String {
    let unit = found.unit;
    let tilt = with(explained, expanded, unit);
    let own = found.expanded().map_or(0.0, |expanded| expanded.expanded);
    let rest = wobble - explained;
    let start = format!(
        "Of the once-per-turn wobble of {} at this radius, the axis's tilt ('{check}') accounts for {tilt}",
        said(found)
    );
    let together = own.hypot(expanded);
    if explained <= expanded && rest <= together {
        return format!(
            "{start}, which is not shown to differ from nothing; how much the disc makes cannot be told apart."
        );
    }
    if rest > together {
        let share = 100.0 * explained / wobble;
        format!(
            "{start}, about {share:.0} % of it: at least {} must come from the disc or its seat.",
            with(rest, together, unit)
        )
    } else if rest < -together {
        format!("{start}, more than was found: disc and axis partly cancel, or were not read alike.")
    } else {
        format!("{start}: in size, consistent with the axis's tilt alone (its direction was not compared).")
    }
}

/// Twice per turn: out of round, or a saddle.
fn out_of_round(visit: &VisitFindings, direction: Direction) -> Vec<String> {
    of_kind(visit, "twice_per_turn")
        .filter(|twice| !twice.at_floor() && exceeds(twice))
        .filter(|twice| {
            let once = visit.finding(&twice.at, "once_per_turn").and_then(|once| once.value);
            once.is_some_and(|once| twice.value.is_some_and(|twice| twice > NOTABLE_SHARE * once))
        })
        .map(|twice| {
            let shape = match direction {
                Direction::Radial => "a surface out of round",
                Direction::Axial => "a face bent to a saddle",
            };
            format!("{}{} twice per turn: consistent with {shape}.", at(twice), said(twice))
        })
        .collect()
}

/// What does not repeat from turn to turn.
fn loose(visit: &VisitFindings) -> Vec<String> {
    of_kind(visit, "non_repeating")
        .filter(|part| !part.at_floor() && part.floor.is_some_and(|floor| floor > 0.0))
        .max_by(|a, b| a.value.unwrap_or(0.0).total_cmp(&b.value.unwrap_or(0.0)))
        .map(|part| {
            let floor = part.floor.unwrap_or(0.0);
            format!(
                "{}{} does not repeat from turn to turn, above the floor of {} {}: consistent with a \
                 loose or damaged bearing.",
                at(part),
                said(part),
                crate::quantity::significant(floor, 2),
                part.unit
            )
        })
        .into_iter()
        .collect()
}

fn at(finding: &Finding) -> String {
    if finding.at.is_empty() { String::new() } else { format!("At '{}', ", finding.at) }
}
