//! Readings round a turn: stations, turns, angles, the index mark read again.

use crate::quantity::{Kind, Quantity, Unit, parse_number};
use crate::session::{Entry, Fields, Node, Problem, Problems, Reading, did_you_mean, key_place, readings_of};

/// Fewer readings than this show no harmonic.
pub(super) const FEWEST: usize = 3;

/// Where a station is: along the axis, or out from it.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Station {
    /// Its id.
    pub id: String,
    /// Radial: distance along the axis. Axial: radius.
    pub distance: Option<Quantity>,
}

/// One turn's readings; the angle of each is [`Round::angles`].
#[derive(Clone, Debug)]
pub(super) struct Turn {
    /// One for each angle.
    pub readings: Vec<Reading>,
    /// The index mark read again at the end.
    pub closing: Option<Reading>,
}

/// All turns at one station.
#[derive(Clone, Debug)]
pub(super) struct Round {
    /// The station.
    pub station: Station,
    /// Degrees from the index mark.
    pub angles: Vec<f64>,
    /// Whether the angles are equal steps.
    pub equal: bool,
    /// The turns.
    pub turns: Vec<Turn>,
}

/// Reads the check's `stations`: `from` for a radial check, `radius` for an axial one.
pub(super) fn stations(fields: &mut Fields, distance: &'static str, problems: &mut Problems) -> Vec<Station> {
    let source = fields.source().clone();
    let mut list = Vec::new();
    for entry in fields.map("stations", problems).unwrap_or_default() {
        if !is_id(&entry, fields, problems) {
            continue;
        }
        let what = format!("the station '{}'", entry.key);
        let Some(mut inner) = Fields::of(&entry.node, &source, &what, problems) else {
            continue;
        };
        let node = inner.need(distance, "40 mm", problems);
        let value = inner.quantity(distance, &[Kind::Length], None, problems);
        if let (Some(node), Some(radius)) = (&node, value)
            && distance == "radius"
            && radius.value() <= 0.0
        {
            problems.push(
                Problem::error("a face is not read at its centre", inner.at(node))
                    .expected("expected a radius above zero")
                    .help("give the distance of the indicator from the axis, such as 60 mm"),
            );
        }
        inner.finish(problems);
        list.push(Station { id: entry.key, distance: value });
    }
    list
}

fn is_id(entry: &Entry, fields: &Fields, problems: &mut Problems) -> bool {
    let fine = entry.key.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-');
    if !fine {
        problems.push(
            Problem::error(format!("'{}' is no id", entry.key), key_place(fields.source(), entry))
                .expected("expected lower-case letters, digits and '-'")
                .help("write it in lower case, with '-' for a space"),
        );
    }
    fine
}

/// Reads what a visit has for these stations; without any, the turns stand in the readings
/// themselves.
pub(super) fn rounds(
    fields: &mut Fields,
    stations: &[Station],
    unit: Unit,
    problems: &mut Problems,
) -> Vec<Round> {
    if stations.is_empty() {
        let nowhere = Station { id: String::new(), distance: None };
        return round(fields, nowhere, unit, problems).into_iter().collect();
    }
    let Some(node) = fields.need("stations", "\n  tip: {turns: [[0, 1, 2, 1]]}", problems) else {
        return Vec::new();
    };
    let source = fields.source().clone();
    let known: Vec<&str> = stations.iter().map(|station| station.id.as_str()).collect();
    let mut list = Vec::new();
    if Fields::of(&node, &source, "'stations'", problems).is_none() {
        return list;
    }
    for entry in fields.map("stations", problems).unwrap_or_default() {
        let Some(station) = stations.iter().find(|station| station.id == entry.key) else {
            problems.push(
                Problem::error(
                    format!("the check has no station '{}'", entry.key),
                    key_place(&source, &entry),
                )
                .expected("expected a station of the check in session.yaml")
                .help(did_you_mean(&entry.key, &known)),
            );
            continue;
        };
        let what = format!("the station '{}'", entry.key);
        if let Some(mut inner) = Fields::of(&entry.node, &source, &what, problems) {
            list.extend(round(&mut inner, station.clone(), unit, problems));
            inner.finish(problems);
        }
    }
    // In the check's order, whatever the visit's.
    list.sort_by_key(|round| known.iter().position(|id| *id == round.station.id));
    list
}

fn round(fields: &mut Fields, station: Station, unit: Unit, problems: &mut Problems) -> Option<Round> {
    let closes = fields.truth("closes", problems).unwrap_or(false);
    let given = fields.list("angles", problems).and_then(|nodes| angles(&nodes, fields, problems));
    let written = fields.get("angles").is_some();
    let node = fields.need("turns", "[[0.0, 0.5, 1.5, 2.0, 1.5, 1.0, 0.5, 0.0]]", problems)?;
    let lists = crate::session::list_of(&node, fields.source(), "'turns'", problems)?;
    if lists.is_empty() {
        problems.push(
            Problem::error("'turns' is an empty list", fields.at(&node))
                .expected("expected a list for each turn")
                .help("write for example: turns: [[0.0, 0.5, 1.5, 1.0]]"),
        );
        return None;
    }
    let source = fields.source().clone();
    let mut turns = Vec::new();
    let mut faulty = written && given.is_none();
    for list in &lists {
        let kinds = [Kind::Length];
        match readings_of(list, &source, "a turn", &kinds, Some(unit), problems) {
            Some(mut readings) => {
                let closing = if closes { readings.pop() } else { None };
                turns.push((Turn { readings, closing }, list));
            }
            None => faulty = true,
        }
    }
    if faulty {
        return None;
    }
    let count =
        given.as_ref().map_or_else(|| turns.first().map_or(0, |(turn, _)| turn.readings.len()), Vec::len);
    let mut fits = true;
    for (turn, node) in &turns {
        fits &= fits_angles(turn, node, count, given.is_some(), fields, problems);
    }
    if !fits {
        return None;
    }
    let equal = given.is_none();
    let angles =
        given.unwrap_or_else(|| (0..count).map(|index| 360.0 * index as f64 / count as f64).collect());
    let turns: Vec<Turn> = turns.into_iter().map(|(turn, _)| turn).collect();
    Some(Round { station, angles, equal, turns })
}

/// Says what is wrong with a turn's number of readings, if anything is.
fn fits_angles(
    turn: &Turn,
    node: &Node,
    count: usize,
    angles_given: bool,
    fields: &Fields,
    problems: &mut Problems,
) -> bool {
    let n = turn.readings.len();
    let closing = if turn.closing.is_some() { ", the closing one not counted" } else { "" };
    if n < FEWEST {
        problems.push(
            Problem::error(
                format!("{n} {} in a turn{closing}", if n == 1 { "reading" } else { "readings" }),
                fields.at(node),
            )
            .expected(format!("expected at least {FEWEST}, better 8"))
            .help("read the indicator at equal steps round the turn, eight or more of them"),
        );
        return false;
    }
    if n == count {
        return true;
    }
    let (message, help) = if angles_given {
        (
            format!("{n} readings in a turn, but {count} angles{closing}"),
            "give every reading its angle; 'angles' does not list the closing reading",
        )
    } else {
        (
            format!("turns of {count} and of {n} readings{closing}"),
            "turns at equal steps have equally many readings; else list the 'angles', and strike what is missing. A comma \
             parts two readings: write 0.5 and not 0,5",
        )
    };
    problems.push(
        Problem::error(message, fields.at(node)).expected(format!("expected {count} readings")).help(help),
    );
    false
}

fn angles(nodes: &[Node], fields: &Fields, problems: &mut Problems) -> Option<Vec<f64>> {
    let mut list: Vec<f64> = Vec::new();
    for node in nodes {
        let Some(text) = fields.text_of(node, "an angle", problems) else {
            continue;
        };
        let plain = text.trim().trim_end_matches("deg").trim_end_matches('°');
        let angle = match parse_number(plain) {
            Ok(angle) if (0.0..=360.0).contains(&angle) => angle,
            _ => {
                problems.push(
                    Problem::error(format!("the angle cannot be '{text}'"), fields.at(node))
                        .expected("expected degrees from 0 to 360")
                        .help("angles are counted in degrees from the index mark"),
                );
                continue;
            }
        };
        let twice = list.iter().any(|known| ((known - angle).rem_euclid(360.0)).abs() < 1e-9);
        if twice {
            problems.push(
                Problem::error(format!("the angle {text} stands twice"), fields.at(node))
                    .expected("expected another angle")
                    .help("read the index mark again with 'closes: true', not with a second 0 or a 360"),
            );
            continue;
        }
        list.push(angle);
    }
    (list.len() == nodes.len()).then_some(list)
}
