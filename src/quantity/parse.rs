//! From the text `0.0005 in` to a quantity.

use super::{Difference, Kind, Quantity, Unit};

/// What is wrong with a quantity's text, and how it should have been written.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{message}")]
pub struct ParseProblem {
    /// What is wrong, in lower case and without a full stop.
    pub message: String,
    /// How to mend it.
    pub help: String,
}

fn problem(message: impl Into<String>, help: impl Into<String>) -> ParseProblem {
    ParseProblem { message: message.into(), help: help.into() }
}

/// Numbers are smaller than that: what is written with more digits is a slip, or in too small a unit.
const TOO_LARGE: f64 = 1e15;

fn too_large(text: &str) -> ParseProblem {
    problem(format!("the number '{text}' is too large"), "write the quantity in a larger unit")
}

/// Reads a plain decimal number: sign, digits with a point, exponent. A comma, NaN and infinity
/// are errors, not guesses.
pub fn parse_number(text: &str) -> Result<f64, ParseProblem> {
    let trimmed = text.trim();
    let ascii = trimmed.replace('\u{2212}', "-");
    if ascii.contains(',') {
        return Err(problem(
            format!("a comma in the number '{trimmed}'"),
            "write a decimal point, and no separators between thousands: 1234.5",
        ));
    }
    let shaped = ascii.chars().all(|c| c.is_ascii_digit() || matches!(c, '+' | '-' | '.' | 'e' | 'E'));
    if !shaped || !ascii.contains(|c: char| c.is_ascii_digit()) {
        let lower = ascii.to_lowercase();
        let message = if lower.trim_start_matches(['.', '+', '-']).starts_with("nan")
            || lower.trim_start_matches(['.', '+', '-']).starts_with("inf")
        {
            format!("'{trimmed}' is not a reading")
        } else {
            format!("'{trimmed}' is not a number")
        };
        return Err(problem(
            message,
            "write a number such as 0.5; leave out or strike a reading that was not made",
        ));
    }
    match ascii.parse::<f64>() {
        Ok(value) if value.is_finite() && value.abs() < TOO_LARGE => Ok(value),
        Ok(_) => Err(too_large(trimmed)),
        Err(_) => {
            Err(problem(format!("'{trimmed}' is not a number"), "write a number such as 0.5 or 1.5e-3"))
        }
    }
}

/// Where the number ends and the unit begins.
fn split(text: &str) -> (&str, &str) {
    let text = text.trim();
    let mut end = 0;
    let mut previous = ' ';
    for (index, c) in text.char_indices() {
        let exponent = matches!(c, 'e' | 'E')
            && previous.is_ascii_digit()
            && text[index + 1..].trim_start_matches(['+', '-']).starts_with(|c: char| c.is_ascii_digit());
        let number = c.is_ascii_digit()
            || matches!(c, '.' | ',')
            || exponent
            || (matches!(c, '+' | '-' | '\u{2212}') && matches!(previous, ' ' | 'e' | 'E'));
        if !number {
            break;
        }
        end = index + c.len_utf8();
        previous = c;
    }
    if !text[..end].contains(|c: char| c.is_ascii_digit()) {
        return ("", text);
    }
    (&text[..end], text[end..].trim())
}

/// The unit that a text spells, of one of the wanted kinds.
pub fn parse_unit(text: &str, wanted: &[Kind]) -> Result<Unit, ParseProblem> {
    let text = text.trim();
    let mut found = None;
    for unit in Unit::spelled(text) {
        if wanted.is_empty() || wanted.contains(&unit.kind()) {
            return Ok(unit);
        }
        found = Some(unit);
    }
    let names = |kinds: &[Kind]| {
        let mut symbols: Vec<&str> = Vec::new();
        for kind in kinds {
            symbols.extend(super::units_of(*kind).map(Unit::symbol));
        }
        symbols.join(", ")
    };
    let expected = wanted.iter().map(|kind| kind.words()).collect::<Vec<_>>().join(" or ");
    if let Some(unit) = found {
        return Err(problem(
            format!("expected {expected}, found {} ({unit})", unit.kind().words()),
            format!("units that fit here: {}", names(wanted)),
        ));
    }
    let nearest = Unit::spellings()
        .filter(|(_, unit)| wanted.is_empty() || wanted.contains(&unit.kind()))
        .map(|(spelling, unit)| {
            let distance = strsim::osa_distance(&spelling.to_lowercase(), &text.to_lowercase());
            (distance, spelling, unit)
        })
        .min_by_key(|(distance, spelling, _)| (*distance, spelling.len()))
        .filter(|(distance, spelling, _)| *distance <= 2 && *distance < spelling.chars().count());
    let help = match nearest {
        Some((_, spelling, unit)) if spelling == unit.symbol() => format!("did you mean '{unit}'?"),
        Some((_, spelling, unit)) => format!("did you mean '{spelling}' ({unit})?"),
        None if matches!(text, "\"" | "″" | "''") => "inches are written as in: 0.5 in".to_owned(),
        None if matches!(text, "'" | "′") => "feet are written as ft, minutes as min".to_owned(),
        None if wanted.is_empty() => {
            "some that are known: in, thou, mm, µm, °F, °C, rpm, s, min, days, g, mm/s, dBA, Hz, V, A, %"
                .to_owned()
        }
        None => format!("units that fit here: {}", names(wanted)),
    };
    Err(problem(format!("the unit '{text}' is not known"), help))
}

fn parse_parts(text: &str, wanted: &[Kind], bare: Option<Unit>) -> Result<(f64, Unit), ParseProblem> {
    // Where any kind will do, a text with a colon need not be a time.
    if text.contains(':') && (wanted.is_empty() || wanted.contains(&Kind::Time)) {
        match (parse_clock(text), Unit::known(Kind::Time, "s")) {
            (Ok(seconds), Some(unit)) => return Ok((seconds, unit)),
            (Err(wrong), _) if !wanted.is_empty() => return Err(wrong),
            _ => {}
        }
    }
    if let Some((rise, run)) = text.split_once(" over ")
        && (wanted.is_empty() || wanted.contains(&Kind::Angle))
    {
        return parse_slope(rise, run);
    }
    let (number, unit) = split(text);
    let value = parse_number(if number.is_empty() { text } else { number })?;
    if unit.is_empty() {
        return match bare {
            Some(unit) => Ok((value, unit)),
            None => Err(problem(
                format!("the number '{}' has no unit", text.trim()),
                format!("write it with its unit, such as '{} {}'", text.trim(), example(wanted)),
            )),
        };
    }
    Ok((value, parse_unit(unit, wanted)?))
}

/// A length over a length, `3 thou over 180 mm`: a slope in the unit that goes with the first.
fn parse_slope(rise: &str, run: &str) -> Result<(f64, Unit), ParseProblem> {
    let (rise, rise_unit) = parse_parts(rise, &[Kind::Length], None)?;
    let (run, run_unit) = parse_parts(run, &[Kind::Length], None)?;
    if run <= 0.0 {
        return Err(problem(
            "a length over a distance of zero",
            "write a length over a distance, such as '0.1 mm over 300 mm'",
        ));
    }
    let inch = matches!(rise_unit.symbol(), "in" | "thou" | "tenth" | "ft");
    let symbol = if inch { "thou/in" } else { "mm/m" };
    let unit = Unit::known(Kind::Angle, symbol)
        .ok_or_else(|| problem("no unit for slopes is known", "write the slope in mm/m"))?;
    let slope = rise * rise_unit.factor() / (run * run_unit.factor());
    Ok((slope / unit.factor(), unit))
}

fn example(wanted: &[Kind]) -> &'static str {
    wanted.first().and_then(|kind| super::units_of(*kind).next()).map_or("mm", Unit::symbol)
}

/// Reads `NUMBER UNIT` of one of the wanted kinds (any kind where the list is empty). A bare
/// number takes the unit `bare`, where there is one.
pub fn parse_quantity(text: &str, wanted: &[Kind], bare: Option<Unit>) -> Result<Quantity, ParseProblem> {
    parse_parts(text, wanted, bare).map(|(value, unit)| Quantity::new(value, unit))
}

/// Reads `NUMBER UNIT` as a difference: `5 °F` is 2.78 K.
pub fn parse_difference(text: &str, wanted: &[Kind], bare: Option<Unit>) -> Result<Difference, ParseProblem> {
    parse_parts(text, wanted, bare).map(|(value, unit)| Difference::new(value, unit))
}

/// Reads a clock form, `14:30` (minutes and seconds) or `1:02:30`, to seconds.
pub fn parse_clock(text: &str) -> Result<f64, ParseProblem> {
    let wrong = || {
        problem(
            format!("'{}' is not a time", text.trim()),
            "write minutes and seconds as \"14:30\", or hours too as \"1:02:30\", in quotes",
        )
    };
    let parts: Vec<&str> = text.trim().split(':').collect();
    if !(2..=3).contains(&parts.len()) {
        return Err(wrong());
    }
    let mut seconds = 0.0;
    for (index, part) in parts.iter().enumerate() {
        let last = index + 1 == parts.len();
        let shaped = part.chars().all(|c| c.is_ascii_digit() || (last && c == '.'));
        let value = part.parse::<f64>().map_err(|_| wrong())?;
        if !shaped || (index > 0 && value >= 60.0) {
            return Err(wrong());
        }
        seconds = seconds * 60.0 + value;
    }
    if seconds < TOO_LARGE { Ok(seconds) } else { Err(too_large(text.trim())) }
}
