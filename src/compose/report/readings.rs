//! Readings as they were written: one table a check, with all its visits and places.

use super::super::document::{Reading, ReadingRow, ReadingTable};
use super::facts::state;
use super::visit_name;
use crate::findings::{CheckFindings, RawTable, VisitFindings};
use crate::session::Session;

/// More rows than this, or more readings in a row, stand in the appendix alone.
const MOST_ROWS: usize = 24;
const MOST_COLUMNS: usize = 16;

/// The readings as far as they belong in the check's section.
pub(super) fn in_section(session: &Session, found: &CheckFindings) -> Vec<ReadingTable> {
    let mut tables = all(session, found);
    let rows: usize = tables.iter().map(|table| table.rows.len()).sum();
    if rows > MOST_ROWS || tables.iter().any(|table| table.value_heads.len() > MOST_COLUMNS) {
        return Vec::new();
    }
    for table in &mut tables {
        table.title = String::new();
    }
    tables
}

/// Every reading of a check: a table, or one for each unit where there are several.
pub(in crate::compose) fn all(session: &Session, found: &CheckFindings) -> Vec<ReadingTable> {
    let every: Vec<(&VisitFindings, &RawTable)> =
        found.visits.iter().flat_map(|visit| visit.raw.iter().map(move |raw| (visit, raw))).collect();
    let mut units = Vec::new();
    for (_, raw) in &every {
        if !units.contains(&raw.unit) {
            units.push(raw.unit);
        }
    }
    units
        .into_iter()
        .map(|unit| {
            let of_unit: Vec<_> = every.iter().filter(|(_, raw)| raw.unit == unit).copied().collect();
            table(session, found, &of_unit)
        })
        .collect()
}

fn table(session: &Session, found: &CheckFindings, read: &[(&VisitFindings, &RawTable)]) -> ReadingTable {
    let has_places = read.iter().any(|(_, raw)| !raw.at.is_empty());
    let has_names = read.iter().any(|(_, raw)| named(raw));
    let mut label_heads = vec!["visit".to_owned()];
    if has_places {
        label_heads.push("where".to_owned());
    }
    if has_names {
        let first = read.iter().find_map(|(_, raw)| raw.columns.first());
        label_heads.push(first.map_or_else(String::new, |name| name.to_lowercase()));
    }
    // The heads that serve most of the rows; the others say theirs above their own rows.
    let value_heads = read.iter().map(|(_, raw)| heads(raw)).max_by_key(|own| serves(read, own));
    let value_heads = value_heads.unwrap_or_default();
    let mut rows = Vec::new();
    for (visit, raw) in read {
        let own = heads(raw);
        let other = !starts(value_heads, own);
        let mut labels = vec![visit_name(session, &visit.visit)];
        if has_places {
            labels.push(raw.at.clone());
        }
        let row = |name: String, cells, is_head, follows| ReadingRow {
            state: Some(state(visit.state)),
            labels: labels.iter().cloned().chain(has_names.then_some(name)).collect(),
            cells,
            is_head,
            follows,
        };
        if other {
            let cells =
                own.iter().map(|head| Reading { shown: head.clone(), struck_because: None }).collect();
            rows.push(row(String::new(), cells, true, false));
        }
        for (index, (name, cells)) in raw.rows.iter().enumerate() {
            let cells = cells
                .iter()
                .map(|cell| Reading { shown: cell.text.clone(), struck_because: cell.struck.clone() })
                .collect();
            rows.push(row(name.clone(), cells, false, other || index > 0));
        }
    }
    ReadingTable {
        title: found.title.clone(),
        unit: read.first().map_or("", |(_, raw)| raw.unit.symbol()).to_owned(),
        label_heads,
        value_heads: value_heads.to_vec(),
        rows,
        note: String::new(),
    }
}

/// Whether its rows have names of their own: a single row that is called after its unit has none.
fn named(raw: &RawTable) -> bool {
    !matches!(raw.rows.as_slice(), [(name, _)] if name == raw.unit.symbol())
}

fn heads(raw: &RawTable) -> &[String] {
    raw.columns.get(1..).unwrap_or_default()
}

/// Whether heads stand for others too: the same, or the same and then some.
fn starts(heads: &[String], own: &[String]) -> bool {
    heads.starts_with(own)
}

/// How many tables these heads serve, and how long they are.
fn serves(raws: &[(&VisitFindings, &RawTable)], own: &[String]) -> (usize, usize) {
    (raws.iter().filter(|(_, raw)| starts(own, heads(raw))).count(), own.len())
}
