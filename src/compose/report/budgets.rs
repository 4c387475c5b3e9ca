//! Uncertainty budgets: a table for findings of the same make-up, a line for each finding.

use super::super::document::{Budget, BudgetComponent, BudgetGroup, BudgetPart, BudgetRow, BudgetTable};
use super::facts::state;
use super::numbers::dof;
use super::{Sources, visit_name, what_words};
use crate::findings::{CheckFindings, Component, Finding, VisitFindings};
use crate::quantity::{Decimals, fixed, significant};

type Found<'a> = (&'a VisitFindings, &'a Finding);

/// A check's budgets; none where nothing is known of any uncertainty.
pub(super) fn of_check(sources: Sources<'_>, check: &CheckFindings) -> Option<Budget> {
    let mut kinds: Vec<(&str, Vec<Found<'_>>)> = Vec::new();
    for visit in &check.visits {
        for finding in visit.findings.iter().filter(|finding| !finding.aside && finding.expanded().is_some())
        {
            match kinds.iter_mut().find(|(what, _)| *what == finding.what) {
                Some((_, list)) => list.push((visit, finding)),
                None => kinds.push((finding.what, vec![(visit, finding)])),
            }
        }
    }
    let mut tables: Vec<(Vec<String>, Vec<Vec<Found<'_>>>)> = Vec::new();
    for (_, mut list) in kinds {
        by_place(&mut list);
        let names = names(&list);
        match tables.iter_mut().find(|(known, _)| *known == names) {
            Some((_, kinds)) => kinds.push(list),
            None => tables.push((names, vec![list])),
        }
    }
    (!tables.is_empty()).then(|| Budget {
        title: check.title.clone(),
        tables: tables.iter().map(|(names, kinds)| table(sources, names, kinds)).collect(),
    })
}

/// Place by place in the order first met, the visits beneath each other.
fn by_place(list: &mut [Found<'_>]) {
    let order: Vec<String> = list.iter().map(|(_, finding)| finding.at.clone()).collect();
    list.sort_by_key(|(_, finding)| order.iter().position(|at| *at == finding.at));
}

/// The names of all components, each once, in the order first met.
fn names(list: &[Found<'_>]) -> Vec<String> {
    let mut names = Vec::new();
    for component in list.iter().flat_map(|(_, finding)| &finding.budget.components) {
        if !names.contains(&component.name) {
            names.push(component.name.clone());
        }
    }
    names
}

fn table(sources: Sources<'_>, names: &[String], kinds: &[Vec<Found<'_>>]) -> BudgetTable {
    let component = |name: &String| {
        let all: Vec<&Component> =
            kinds.iter().flatten().filter_map(|(_, finding)| part(finding, name)).collect();
        let shared = |print: fn(&Component) -> String| {
            let first = all.first().map(|component| print(component)).unwrap_or_default();
            if all.iter().all(|component| print(component) == first) { first } else { String::new() }
        };
        BudgetComponent {
            name: name.clone(),
            distribution: shared(|component| component.distribution.word().to_owned()),
            divisor: shared(|component| divisor(component.divisor)),
            dof: shared(|component| dof(component.dof)),
        }
    };
    BudgetTable {
        components: names.iter().map(component).collect(),
        groups: kinds.iter().map(|list| group(sources, names, list)).collect(),
    }
}

/// The component of that name; an instrument may enter a budget once only.
fn part<'a>(finding: &'a Finding, name: &str) -> Option<&'a Component> {
    finding.budget.components.iter().find(|component| component.name == name)
}

fn group(sources: Sources<'_>, names: &[String], list: &[Found<'_>]) -> BudgetGroup {
    let first = list.first().map(|(_, finding)| *finding);
    let what = first.map_or("", |finding| finding.what);
    let drawn = first.is_some_and(|finding| finding.budget.drawn);
    // One place for all contributions of a group: three significant digits of the smallest U.
    // A rounding error of nothing (readings all alike) is none.
    let all = || list.iter().map(|(_, finding)| finding.budget.expanded.expanded);
    let nothing = NOTHING * all().fold(0.0, f64::max);
    let smallest = all().filter(|expanded| *expanded > nothing).fold(f64::INFINITY, f64::min);
    let decimals = if smallest.is_finite() { Decimals(2 - exponent(smallest)) } else { Decimals(3) };
    BudgetGroup {
        what: what_words(what),
        unit: first.map_or("", |finding| finding.unit.symbol()).to_owned(),
        note: match (drawn, list.iter().any(|(_, finding)| is_lifted(finding))) {
            (true, true) => {
                "step and scatter carried through by Monte Carlo; U is larger by what noise pushes the size \
                             up"
                .to_owned()
            }
            (true, false) => "step and scatter carried through by Monte Carlo".to_owned(),
            (false, _) => String::new(),
        },
        rows: list.iter().map(|(visit, finding)| row(sources, names, visit, finding, decimals)).collect(),
    }
}

fn row(
    sources: Sources<'_>,
    names: &[String],
    visit: &VisitFindings,
    finding: &Finding,
    decimals: Decimals,
) -> BudgetRow {
    let expanded = finding.budget.expanded;
    // Beside what the finding is about, or the largest line where that is nothing itself.
    let lines = finding.budget.components.iter().map(|line| line.estimate.abs());
    let scale = lines.fold(finding.value.map_or(0.0, f64::abs), f64::max);
    let printed = |component: &Component| BudgetPart {
        value: if component.estimate.abs() <= NOTHING * scale {
            "0".to_owned()
        } else {
            significant(component.estimate, 3)
        },
        divisor: divisor(component.divisor),
        contribution: fixed(component.contribution, decimals),
        dof: dof(component.dof),
    };
    BudgetRow {
        place: finding.at.clone(),
        state: state(visit.state),
        visit: visit_name(sources.session, &visit.visit),
        parts: names.iter().map(|name| part(finding, name).map(printed)).collect(),
        combined: fixed(expanded.standard, decimals),
        dof: dof(expanded.dof),
        k: fixed(expanded.k, Decimals(2)),
        expanded: fixed(expanded.expanded, decimals),
    }
}

/// Whether U is more than k times u, as of a size that noise pushes up.
fn is_lifted(finding: &Finding) -> bool {
    let found = finding.budget.expanded;
    found.expanded > found.k * found.standard * (1.0 + 1e-6)
}

/// Smaller shares than this are rounding errors of the computer's.
const NOTHING: f64 = 1e-9;

/// The power of ten that a number begins in.
fn exponent(value: f64) -> i32 {
    let text = format!("{value:e}");
    text.split_once('e').and_then(|(_, exponent)| exponent.parse().ok()).unwrap_or(0)
}

/// `√12` where it is one of the usual roots.
fn divisor(value: f64) -> String {
    let square = value * value;
    let whole = square.round();
    if (square - whole).abs() < 1e-9 && (value - value.round()).abs() > 1e-9 && whole < 1000.0 {
        return format!("√{whole:.0}");
    }
    significant(value, 3)
}
