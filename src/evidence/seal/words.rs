//! Seals in sentences, for the terminal and the report.

use super::signature::Signature;
use super::stamp::Stamp;
use super::{Change, Checked, Found, Link, NAME, SIGNATURE, STAMP, Standing, What};
use crate::findings::claim::words::shortened;
use crate::findings::sentences::{full_stop, listed};
use crate::session::{Problem, Session};

/// More names than this are counted in a sentence.
const MOST_NAMED: usize = 3;
/// A longer name is cut in a sentence; the appendix has it whole.
const LONGEST_NAME: usize = 48;

/// Every seal of a session, as the terminal shows it. Empty where nothing is sealed.
pub fn told(session: &Session, standings: &[Standing]) -> String {
    if !any(standings) {
        return String::new();
    }
    let mut text = String::from("\nSeals\n");
    for standing in standings {
        let title = session.visit_title(&standing.visit);
        text += &format!("  {title}: {}\n", said(&standing.found));
        let Found::Seal(checked) = &standing.found else { continue };
        for change in &checked.changes {
            text += &format!("    {}\n", short(change));
        }
        for remark in remarks(checked) {
            text += &format!("    {remark}\n");
        }
    }
    text
}

/// Whether any visit has a seal, or a file in its place.
pub fn any(standings: &[Standing]) -> bool {
    standings.iter().any(|standing| standing.found != Found::Nothing)
}

/// When a visit was sealed, and whether the seal holds.
pub fn said(found: &Found) -> String {
    match found {
        Found::Seal(checked) => format!("sealed {}; {}", checked.seal.sealed, holds(checked)),
        none => without_seal(none),
    }
}

/// That a visit has no seal; empty where it has one.
pub fn without_seal(found: &Found) -> String {
    match found {
        Found::Nothing => "not sealed".to_owned(),
        Found::Gone => format!("was sealed, and its {NAME} is gone"),
        Found::Unreadable => format!("{NAME} is no seal that can be read"),
        Found::Seal(_) => String::new(),
    }
}

/// Whether a seal holds: "9 files, all as they were sealed".
pub fn holds(checked: &Checked) -> String {
    let count = |of: fn(&What) -> bool| checked.changes.iter().filter(|change| of(&change.what)).count();
    let changed = count(|what| matches!(what, What::Changed { .. }));
    let gone = count(|what| matches!(what, What::Missing { .. }));
    let added = count(|what| matches!(what, What::Added { .. }));
    let sealed = files(checked.seal.files.len());
    if checked.holds() {
        return match checked.seal.files.len() {
            1 => "1 file, as it was sealed".to_owned(),
            _ => format!("{sealed}, all as they were sealed"),
        };
    }
    let parts: Vec<String> = [(changed, "changed"), (gone, "gone"), (added, "added")]
        .iter()
        .filter(|(number, _)| *number > 0)
        .map(|(number, what)| format!("{number} {what}"))
        .collect();
    format!("{sealed}; since then {}", listed(&parts))
}

fn files(count: usize) -> String {
    if count == 1 { "1 file".to_owned() } else { format!("{count} files") }
}

/// "changed  visit.yaml  0123456789ab, now ba9876543210".
fn short(change: &Change) -> String {
    let path = &change.path;
    match &change.what {
        What::Changed { was, is } => format!("changed  {path}  {}, now {}", &was[..12], &is[..12]),
        What::Missing { was, why } => format!("gone     {path}  {} ({why})", &was[..12]),
        What::Added { is } => format!("added    {path}  now {}", &is[..12]),
    }
}

/// What else is to be said of a seal: the one before it, its signature, its time stamp.
pub fn remarks(checked: &Checked) -> Vec<String> {
    let chain = checked.before.iter().map(link);
    let signature = checked.signature.as_ref().map(signature);
    let stamp = checked.stamp.as_ref().map(stamp);
    chain.chain(signature).chain(stamp).collect()
}

fn link(link: &Link) -> String {
    match link {
        Link::Right { path } => format!("Follows {path}, which is as it was."),
        Link::Kept { path } => {
            format!("Follows a seal that was replaced since; it was kept as {path} and is as it was.")
        }
        Link::Changed { path, was, is } => {
            format!("Follows {path}, which is not what it was: SHA-256 {was} when it was followed, now {is}.")
        }
        Link::Missing { path } => format!("Follows {path}, which is gone."),
    }
}

fn signature(signature: &Signature) -> String {
    const NOT_JUDGED: &str = "Whose key that is, is not judged here.";
    match signature {
        Signature::Good(key) => format!(
            "Signed with {} {}; the signature is good for this seal. {NOT_JUDGED}",
            key.kind, key.fingerprint
        ),
        Signature::Bad(key) => format!(
            "{NAME}{SIGNATURE} names {} {} and is not good for this seal: one of the two was changed.",
            key.kind, key.fingerprint
        ),
        Signature::ForSomethingElse(key, namespace) => format!(
            "{NAME}{SIGNATURE} was made with {} {} for the namespace '{namespace}' and not as a seal's.",
            key.kind, key.fingerprint
        ),
        Signature::Unreadable(why) => format!("{NAME}{SIGNATURE} cannot be checked: {why}."),
    }
}

fn stamp(stamp: &Stamp) -> String {
    match stamp {
        Stamp::Good(stamped) => format!(
            "Time stamp {stamped}; it is good for this seal. Whether that authority is to be trusted is not judged \
             here; in the visit's folder this asks it: openssl ts -verify -data {NAME} -in {NAME}{STAMP} -CAfile \
             THEIRS.pem."
        ),
        Stamp::Bad(why) => format!("{NAME}{STAMP} is not good: {why}."),
    }
}

/// Which files are not as they were sealed: "changed: visit.yaml; gone: v.csv".
pub(super) fn files_changed(checked: &Checked) -> String {
    changed_files(checked).join("; ")
}

fn changed_files(checked: &Checked) -> Vec<String> {
    let names = |of: fn(&What) -> bool| {
        let names: Vec<String> = checked
            .changes
            .iter()
            .filter(|change| of(&change.what))
            .map(|change| shortened(&change.path, LONGEST_NAME))
            .collect();
        let more = names.len().saturating_sub(MOST_NAMED);
        let mut shown: Vec<String> = names.into_iter().take(MOST_NAMED).collect();
        if more > 0 {
            shown.push(format!("{more} more"));
        }
        (!shown.is_empty()).then(|| listed(&shown))
    };
    let changed = names(|what| matches!(what, What::Changed { .. })).map(|names| format!("changed: {names}"));
    let gone = names(|what| matches!(what, What::Missing { .. })).map(|names| format!("gone: {names}"));
    let added = names(|what| matches!(what, What::Added { .. })).map(|names| format!("added: {names}"));
    [changed, gone, added].into_iter().flatten().collect()
}

/// What is not in order with a seal, in a few words each.
fn disorder(checked: &Checked) -> Vec<String> {
    let chain = checked.before.iter().filter_map(|link| match link {
        Link::Changed { path, .. } => Some(format!("the seal before it, {path}, is not what it was")),
        Link::Missing { path } => Some(format!("the seal before it, {path}, is gone")),
        Link::Right { .. } | Link::Kept { .. } => None,
    });
    let signature = checked.signature.as_ref().filter(|signature| !signature.is_good());
    let stamp = checked.stamp.as_ref().filter(|stamp| !stamp.is_good());
    let beside =
        [signature.map(|_| "its signature is not good"), stamp.map(|_| "its time stamp is not good")];
    let beside = beside.into_iter().flatten().map(str::to_owned);
    changed_files(checked).into_iter().chain(chain).chain(beside).collect()
}

/// What is not in order with a session's seals: the visit, and what it is. Empty where all is.
pub fn not_as_sealed(session: &Session, standings: &[Standing]) -> Vec<(String, String)> {
    let of = |standing: &Standing| {
        let what = match &standing.found {
            Found::Seal(checked) if !checked.in_order() => {
                format!("sealed {}; {}", checked.seal.sealed, disorder(checked).join("; "))
            }
            Found::Unreadable | Found::Gone => without_seal(&standing.found),
            Found::Seal(_) | Found::Nothing => return None,
        };
        Some((session.visit_title(&standing.visit).to_owned(), full_stop(&what)))
    };
    standings.iter().filter_map(of).collect()
}

/// The same of one seal, as a warning.
pub(super) fn warning(session: &Session, checked: &Checked) -> Problem {
    let visit = &checked.seal.visit;
    let what = disorder(checked).join("; ");
    let shown = format!("{}/visits/{visit}", session.name);
    let (message, help) = if checked.holds() {
        (
            format!("the seal of {shown} is not in order: {what}"),
            "what was sealed is as it was; look for what is named here in a copy of the session",
        )
    } else {
        (
            format!("{shown} is not as it was sealed: {what}"),
            "an edit is allowed, and shown in every report; put the file back as it was, or seal the new state \
             with 'asfound seal --again', which keeps the old seal",
        )
    };
    Problem::folder(message).warning().help(help)
}
