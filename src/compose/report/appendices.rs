//! Files, cautions, methods; with the budgets and the raw readings.

use super::super::document::{Appendices, Aside, FileFacts, Method, SealChange, SealFacts};
use super::facts::state;
use super::{Sources, budgets, checks, readings};
use crate::evidence::seal::{Found, Standing, What, words};
use crate::findings::sentences;
use crate::quantity::grouped;

/// Cautions that every report carries.
const ALWAYS: [&str; 2] = [
    "The maker's instructions, local codes and licensed practice come before anything in this report.",
    "A report informs a decision; it certifies nothing.",
];

pub(super) fn appendices(sources: Sources<'_>) -> Appendices {
    let (session, findings) = (sources.session, sources.findings);
    let mut budgets = Vec::new();
    let mut raw = Vec::new();
    let mut shown = Vec::new();
    let mut asides = Vec::new();
    for check in &findings.checks {
        budgets.extend(budgets::of_check(sources, check));
        if readings::in_section(session, check).is_empty() {
            raw.extend(readings::all(session, check));
        } else {
            shown.push(check.title.clone());
        }
        let aside = checks::groups(session, check, true);
        if !aside.is_empty() {
            asides.push(Aside { title: check.title.clone(), findings: aside });
        }
    }
    let cautions = findings.cautions.iter().chain(&ALWAYS).map(|text| (*text).to_owned()).collect();
    Appendices {
        budgets,
        asides,
        readings_elsewhere: elsewhere(&shown, raw.is_empty()),
        readings: raw,
        files: sources
            .files
            .iter()
            .map(|item| FileFacts {
                path: item.path.clone(),
                bytes: grouped(item.size, '\u{202f}'),
                sha256: item.sha256.clone(),
                mime: item.mime.to_owned(),
                altered: super::altered(item).to_owned(),
            })
            .collect(),
        seals: seals(sources),
        files_note: files_note(sources),
        cautions,
        methods: methods(sources),
        warnings: findings.warnings.clone(),
    }
}

/// Every visit with its seal, where any has one.
fn seals(sources: Sources<'_>) -> Vec<SealFacts> {
    if !words::any(sources.seals) {
        return Vec::new();
    }
    let facts = |standing: &Standing| {
        let visit = sources.session.visit(&standing.visit)?;
        let mut facts = SealFacts {
            visit: visit.title.clone(),
            state: state(visit.state),
            sealed: String::new(),
            standing: words::without_seal(&standing.found),
            remarks: Vec::new(),
            changes: Vec::new(),
        };
        if let Found::Seal(checked) = &standing.found {
            facts.sealed = checked.seal.sealed.to_string();
            facts.standing = words::holds(checked);
            facts.remarks = words::remarks(checked);
            facts.changes = checked.changes.iter().map(seal_change).collect();
        }
        Some(facts)
    };
    sources.seals.iter().filter_map(facts).collect()
}

fn seal_change(change: &crate::evidence::seal::Change) -> SealChange {
    let (was, is) = match &change.what {
        What::Changed { was, is } => (was.as_str(), is.as_str()),
        What::Missing { was, .. } => (was.as_str(), ""),
        What::Added { is } => ("", is.as_str()),
    };
    SealChange { path: change.path.clone(), was: was.to_owned(), is: is.to_owned() }
}

/// What is to be said of files that do not travel as they are.
fn files_note(sources: Sources<'_>) -> String {
    let masked = sources.files.iter().any(|item| super::altered(item) == "masked copy");
    let cleaned = sources.files.iter().any(|item| super::altered(item) == "without position");
    if !masked && !cleaned {
        return String::new();
    }
    let mut note = String::from(
        "Size and SHA-256 are those of the session's own files, from which the document number follows.",
    );
    if masked {
        note +=
            " A masked copy travels in the place of the file itself: what is private reads 'withheld' there.";
    }
    if cleaned {
        note += " Photographs marked 'without position' travel with their picture as it was, and without the place \
                 where they were taken.";
    }
    note
}

/// Readings are printed once: in the section of their check, or here.
fn elsewhere(shown: &[String], all: bool) -> String {
    match shown {
        [] => String::new(),
        _ if all => "Every reading stands in the section of its check, as it was written down.".to_owned(),
        [one] => format!(
            "The readings of '{one}' stand in its section, as they were written down; the others stand here."
        ),
        _ => format!(
            "The readings of these stand in their sections, as they were written down, and the others here: {}.",
            sentences::listed(shown)
        ),
    }
}

/// What holds for every measure, with its source.
pub(in crate::compose) fn general_methods() -> Vec<Method> {
    let method = |what: &str, text: &str, source: &str| Method {
        what: what.to_owned(),
        text: text.to_owned(),
        source: source.to_owned(),
    };
    vec![
        method(
            "Uncertainty",
            "Components combine in quadrature: display step d/√12, stated accuracy a/√3 or a certificate's \
             U/k, scatter s. Effective degrees of freedom by Welch–Satterthwaite, cut down to a whole number; \
             U is Student's t at 97.5 % times the combined standard uncertainty; of a standard deviation itself, with \
             u = s/√(2ν), the factor is chi-squared's.",
            "JCGM 100:2008, 4.3, 5.1, G.4, E.4.3",
        ),
        method(
            "Floor",
            "What the instrument would show on a perfect part 95 times in 100, from its display step and its \
             repeatability, allowing for the few readings that was found from. A value at or below it is not \
             distinguishable from zero.",
            "Monte Carlo, JCGM 101:2008, 6.4.9; chi-squared and Fisher's F for standard deviations",
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
    ]
}

/// A method as a measure says it, "Name: what was done (source).", taken apart.
pub(in crate::compose) fn method(text: &str) -> Method {
    let (what, rest) = text.split_once(": ").unwrap_or(("Method", text));
    let (body, source) = match rest.rsplit_once(" (") {
        Some((body, source)) if source.ends_with(").") => (body, source.trim_end_matches(").")),
        _ => (rest, ""),
    };
    Method {
        what: what.to_owned(),
        text: sentences::full_stop(&sentences::capital(body)),
        source: source.to_owned(),
    }
}

fn methods(sources: Sources<'_>) -> Vec<Method> {
    let mut list = general_methods();
    list.extend(sources.findings.methods.iter().map(|text| method(text)));
    list
}
