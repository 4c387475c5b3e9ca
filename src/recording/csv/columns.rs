//! Which columns of a file are meant.

use super::dialect::Layout;
use crate::quantity::{Kind, Unit, parse_unit};
use crate::recording::Column;
use crate::session::{Problem, Problems, did_you_mean};

/// A column of the file.
#[derive(Clone, Debug)]
pub(super) struct Found {
    /// From 0.
    pub(super) index: usize,
    /// The header's name without its unit, or `column 3`.
    pub(super) name: String,
    /// The unit that the header gives.
    pub(super) unit: Option<String>,
}

/// A header's name and its unit in brackets: `ax (g)`.
fn parts(header: &str) -> (&str, Option<&str>) {
    let header = header.trim();
    for (open, close) in [('(', ')'), ('[', ']')] {
        if let Some(inner) = header.strip_suffix(close)
            && let Some((name, unit)) = inner.rsplit_once(open)
            && !unit.trim().is_empty()
        {
            return (name.trim(), Some(unit.trim()));
        }
    }
    (header, None)
}

/// The column at an index.
pub(super) fn at(layout: &Layout, index: usize) -> Found {
    let (name, unit) = layout.names.get(index).map_or(("", None), |header| parts(header));
    let below = layout.units.get(index).map(|unit| unit.trim_matches(['(', ')', '[', ']', ' ']));
    let name = if name.is_empty() { format!("column {}", index + 1) } else { name.to_owned() };
    let unit = unit.or(below).filter(|unit| !unit.is_empty()).map(str::to_owned);
    Found { index, name, unit }
}

/// The column that is meant; says where there is none, or more than one.
pub(super) fn find(layout: &Layout, column: &Column, file: &str, problems: &mut Problems) -> Option<Found> {
    match column {
        Column::Numbered(number, place) => {
            // A header may have numbers for names.
            let typed = number.to_string();
            let named: Vec<usize> = (0..layout.names.len())
                .filter(|index| parts(&layout.names[*index]).0 == typed && *index + 1 != *number)
                .collect();
            if !named.is_empty() {
                problems.push(
                    Problem::error(format!("'{number}' is a column's number and another one's name"), place.clone())
                        .expected("expected a column that can be one only")
                        .help("write 'header: false' and 'skip:' with the lines above the rows, and count the columns from 1"),
                );
                return None;
            }
            if *number <= layout.width {
                return Some(at(layout, number - 1));
            }
            problems.push(
                Problem::error(format!("'{file}' has no column {number}"), place.clone())
                    .expected(format!("expected a number from 1 to {}", layout.width))
                    .help(known(layout)),
            );
            None
        }
        Column::Named(name, place) => {
            let matches = matches(layout, name);
            match matches.as_slice() {
                [only] => Some(at(layout, *only)),
                [] => {
                    let names: Vec<&str> = layout
                        .names
                        .iter()
                        .map(|header| parts(header).0)
                        .filter(|name| !name.is_empty())
                        .collect();
                    let (message, help) = if names.is_empty() {
                        (
                            format!("'{file}' has no header, so no column '{name}'"),
                            format!("write the column's number, from 1 to {}", layout.width),
                        )
                    } else {
                        (format!("'{file}' has no column '{name}'"), did_you_mean(name, &names))
                    };
                    problems.push(
                        Problem::error(message, place.clone())
                            .expected("expected a column of the file")
                            .help(help),
                    );
                    None
                }
                several => {
                    let numbers: Vec<String> = several.iter().map(|index| (index + 1).to_string()).collect();
                    problems.push(
                        Problem::error(
                            format!("'{file}' has {} columns '{name}'", several.len()),
                            place.clone(),
                        )
                        .expected("expected one column")
                        .help(format!("write its number: {}", numbers.join(" or "))),
                    );
                    None
                }
            }
        }
    }
}

/// The columns of that name: exactly, else as letters go, else without their units.
fn matches(layout: &Layout, name: &str) -> Vec<usize> {
    let like = |test: &dyn Fn(&str) -> bool| -> Vec<usize> {
        (0..layout.names.len()).filter(|index| test(&layout.names[*index])).collect()
    };
    let plain = name.trim().to_lowercase();
    let tests: [&dyn Fn(&str) -> bool; 5] = [
        &|header| header == name,
        &|header| header.trim() == name.trim(),
        &|header| header.trim().to_lowercase() == plain,
        &|header| parts(header).0 == name.trim(),
        &|header| parts(header).0.to_lowercase() == plain,
    ];
    tests.iter().map(|test| like(test)).find(|found| !found.is_empty()).unwrap_or_default()
}

/// What columns there are.
pub(super) fn known(layout: &Layout) -> String {
    if layout.names.is_empty() {
        return format!("the file has no header and {} columns", layout.width);
    }
    let names: Vec<String> = (0..layout.width).map(|index| at(layout, index).name).collect();
    format!("its columns: {}", super::trouble::short_list(&names))
}

/// Seconds of one unit of a column of numbers: the session's word, else the header's, else seconds.
pub(super) fn seconds_of(
    found: &Found,
    given: Option<Unit>,
    column: &Column,
    problems: &mut Problems,
) -> Option<f64> {
    let in_header = found.unit.as_deref().and_then(|text| parse_unit(text, &[Kind::Time]).ok());
    if let (Some(given), Some(in_header)) = (given, in_header)
        && given != in_header
    {
        let (Column::Named(_, place) | Column::Numbered(_, place)) = column;
        problems.push(
            Problem::error(
                format!("'time_unit' is {given}, but the header gives {} in {in_header}", found.name),
                place.clone(),
            )
            .expected("expected one unit")
            .help("leave 'time_unit' out where the header is right"),
        );
        return None;
    }
    let unit = given.or(in_header).or_else(|| Unit::known(Kind::Time, "s"))?;
    crate::quantity::Difference::new(1.0, unit).to(Unit::known(Kind::Time, "s")?).ok()
}
