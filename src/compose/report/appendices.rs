//! Budgets, raw readings, files, cautions, methods.

use super::super::document::{Appendices, Budget, BudgetRow, FileFacts, Method};
use super::numbers::{dof, grouped};
use super::{Sources, checks, visit_title, what_words};
use crate::findings::{CheckFindings, Component, Finding, VisitFindings, sentences};
use crate::quantity::{Decimals, fixed, significant};

/// Cautions that every report carries.
const ALWAYS: [&str; 2] = [
    "The maker's instructions, local codes and licensed practice come before anything in this report.",
    "A report informs a decision; it certifies nothing.",
];

pub(super) fn appendices(sources: Sources<'_>) -> Appendices {
    let (session, findings) = (sources.session, sources.findings);
    let mut budgets = Vec::new();
    let mut raw = Vec::new();
    for check in &findings.checks {
        for visit in &check.visits {
            let kept = visit.findings.iter().filter(|f| f.value.is_some() && !f.budget.components.is_empty());
            budgets.extend(kept.map(|finding| budget(sources, check, visit, finding)));
        }
        raw.extend(checks::readings(session, check));
    }
    let cautions = findings.cautions.iter().chain(&ALWAYS).map(|text| (*text).to_owned()).collect();
    Appendices {
        budgets,
        readings: raw,
        files: sources
            .files
            .iter()
            .map(|item| FileFacts {
                path: item.path.clone(),
                bytes: grouped(item.size),
                sha256: item.sha256.clone(),
                mime: item.mime.to_owned(),
            })
            .collect(),
        cautions,
        methods: methods(sources),
        warnings: findings.warnings.clone(),
    }
}

fn budget(sources: Sources<'_>, check: &CheckFindings, visit: &VisitFindings, finding: &Finding) -> Budget {
    let place = if finding.at.is_empty() { String::new() } else { format!(", {}", finding.at) };
    let expanded = finding.budget.expanded;
    let drawn = matches!(finding.what, "tir" | "once_per_turn" | "twice_per_turn" | "offset" | "tilt");
    Budget {
        title: format!(
            "{}{place}, {}: {}",
            check.title,
            visit_title(sources.session, &visit.visit),
            what_words(finding.what)
        ),
        unit: finding.unit.symbol().to_owned(),
        rows: finding.budget.components.iter().map(row).collect(),
        combined: significant(expanded.standard, 3),
        dof: dof(expanded.dof),
        k: fixed(expanded.k, Decimals(2)),
        expanded: significant(expanded.expanded, 3),
        note: if drawn {
            "Step and scatter carried through by Monte Carlo.".to_owned()
        } else {
            String::new()
        },
    }
}

fn row(component: &Component) -> BudgetRow {
    BudgetRow {
        component: component.name.clone(),
        value: significant(component.estimate, 3),
        distribution: component.distribution.word().to_owned(),
        divisor: divisor(component.divisor),
        contribution: significant(component.contribution, 3),
        dof: dof(component.dof),
    }
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

fn methods(sources: Sources<'_>) -> Vec<Method> {
    let method = |what: &str, text: &str, source: &str| Method {
        what: what.to_owned(),
        text: text.to_owned(),
        source: source.to_owned(),
    };
    let mut list = vec![
        method(
            "Uncertainty",
            "Components combine in quadrature: display step d/√12, stated accuracy a/√3 or a certificate's \
             U/k, scatter s. Effective degrees of freedom by Welch–Satterthwaite, cut down to a whole number; \
             U is Student's t at 97.5 % times the combined standard uncertainty.",
            "JCGM 100:2008, 4.3, 5.1, G.4",
        ),
        method(
            "Floor",
            "What the instrument would show on a perfect part 95 times in 100, from its display step and its \
             repeatability. A value at or below it is not distinguishable from zero.",
            "Monte Carlo, JCGM 101:2008; chi-square for standard deviations",
        ),
        method(
            "Verdict",
            "Within where value and uncertainty together keep the limit, over or under where they are beyond \
             it, else too close to call.",
            "JCGM 106:2012; ISO 14253-1:2017",
        ),
        method(
            "Change",
            "Difference with its 95 % interval; the instrument's errors at the two visits are taken as \
             independent, which is cautious. Over several places, the mean paired difference. Several changes \
             looked at together are adjusted.",
            "Welch (1947); JCGM 100:2008, G.4; Holm (1979)",
        ),
        method(
            "Rounding",
            "The uncertainty to two significant digits where it begins with 1 or 2, else to one; the value to \
             the same place. Once, at the page.",
            "JCGM 100:2008, 7.2.6",
        ),
    ];
    for text in &sources.findings.methods {
        let (what, rest) = text.split_once(": ").unwrap_or(("Method", text));
        let (body, source) = match rest.rsplit_once(" (") {
            Some((body, source)) if source.ends_with(").") => (body, source.trim_end_matches(").")),
            _ => (rest, ""),
        };
        list.push(method(what, &sentences::full_stop(body), source));
    }
    list
}
