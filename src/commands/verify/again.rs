//! A report made again from a session, as the report that is to be proved was made.

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::Arc;

use serde_json::Value;

use super::super::{analysed, report};
use crate::evidence::seal::{Found, Standing, words};
use crate::evidence::{Known, Positions, Publication};
use crate::registry::measures;
use crate::session::{Problems, Severity};
use crate::typeset;

/// What a report says of its own making (made.json).
#[derive(Clone, Debug, Default)]
pub(super) struct Made {
    pub(super) program: String,
    pub(super) number: String,
    pub(super) publication: Publication,
    /// Files whose bytes in the report are not the session's.
    pub(super) altered: Vec<String>,
    /// The size of each file that does not travel, or not as it is.
    pub(super) sizes: BTreeMap<String, u64>,
    /// Templates from elsewhere, with their digests.
    pub(super) templates: Vec<(String, String)>,
}

impl Made {
    /// Reads made.json; none where it is not one.
    pub(super) fn read(text: &[u8]) -> Option<Self> {
        let value: Value = serde_json::from_slice(text).ok()?;
        let word = |name: &str| value.get(name)?.as_str().map(str::to_owned);
        let words = |name: &str| -> Option<Vec<String>> {
            value.get(name)?.as_array()?.iter().map(|word| word.as_str().map(str::to_owned)).collect()
        };
        let templates = value.get("templates")?.as_array()?.iter();
        let templates: Option<Vec<(String, String)>> = templates
            .map(|row| Some((row.get("name")?.as_str()?.to_owned(), row.get("sha256")?.as_str()?.to_owned())))
            .collect();
        let sizes = value.get("sizes")?.as_object()?.iter();
        let sizes: Option<BTreeMap<String, u64>> =
            sizes.map(|(path, size)| Some((path.clone(), size.as_u64()?))).collect();
        Some(Self {
            program: word("program")?,
            number: word("number")?,
            publication: Publication {
                public: value.get("public")?.as_bool()?,
                positions: Positions::of(&word("positions")?)?,
            },
            altered: words("altered")?,
            sizes: sizes?,
            templates: templates?,
        })
    }
}

/// A report that follows from a session.
#[derive(Clone)]
pub(super) struct Again {
    pub(super) pdf: Arc<Vec<u8>>,
    pub(super) json: String,
    pub(super) csv: String,
    pub(super) page: String,
    pub(super) number: String,
    /// How its visits stand with their seals, a line each, and what is not as it was sealed.
    pub(super) sealed: Vec<String>,
    pub(super) not_as_sealed: Vec<String>,
}

/// Makes the report of a session again; what hinders, a line each.
pub(super) fn again(
    root: &Path,
    templates: Option<&Path>,
    publication: Publication,
    known: Known<'_>,
) -> Result<Again, Vec<String>> {
    let mut problems = Problems::default();
    let said = |problems: &Problems| {
        let errors = problems.iter().filter(|problem| problem.severity == Severity::Error);
        errors
            .map(|problem| format!("the session cannot be analysed: {}", problem.message))
            .collect::<Vec<_>>()
    };
    let Some(session) = crate::session::read(root, &mut problems) else {
        return Err(said(&problems));
    };
    let Some(findings) = analysed(&session, &measures(), &mut problems) else {
        return Err(said(&problems));
    };
    let mut heard = Vec::new();
    let Some(templates) = super::super::templates(templates, root, None, &mut heard) else {
        return Err(vec![String::from_utf8_lossy(&heard).trim_end().to_owned()]);
    };
    let mut warnings = Problems::default();
    let built = report::build_as(&session, &findings, &templates, publication, known, &mut warnings)
        .map_err(|error| vec![format!("the report cannot be made again: {error}")])?;
    let pdf = typeset::pdf(&built.bundle, &built.meta)
        .map_err(|error| vec![format!("the report cannot be made again: {error}")])?;
    let in_order = |standing: &&Standing| match &standing.found {
        Found::Seal(checked) => checked.in_order(),
        _ => false,
    };
    let sealed = built.seals.iter().filter(in_order);
    let broken = words::not_as_sealed(&session, &built.seals);
    Ok(Again {
        sealed: sealed
            .map(|standing| {
                format!("{}: {}", session.visit_title(&standing.visit), words::said(&standing.found))
            })
            .collect(),
        not_as_sealed: broken.into_iter().map(|(visit, what)| format!("{visit}: {what}")).collect(),
        pdf: Arc::new(pdf.bytes),
        json: built.json,
        csv: built.csv,
        page: built.page,
        number: built.meta.ident,
    })
}
