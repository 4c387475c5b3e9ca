//! A bag: whether it is whole, and, where it is one of ours, whether its numbers still follow from its readings.

use std::fs::File;
use std::path::Path;

use super::answer::Answer;
use super::carried::Prover;
use super::rows;
use super::taken::{is_name, out_of};
use crate::evidence::bag::{Examined, Fault, Folder, Holder, examine};
use crate::evidence::digest::Algorithm;
use crate::evidence::zip::{Entry, Zip, packed_as_written};

/// A report or findings larger than this are none.
const MOST: u64 = 512 << 20;
const SESSIONS: &str = "data/sessions/";

/// Proves a bag that is a folder.
pub(super) fn folder(path: &Path, templates: Option<&Path>, tell: &mut dyn FnMut(&str)) -> Answer {
    let holder = Folder::look(path);
    let (mut answer, examined) = whole(&holder, tell);
    if let Some(name) = ours(&examined) {
        let own = own(&holder, &name);
        let here = own.as_ref().map(|own| path.join(own));
        inside(&holder, &name, own.as_deref(), here.as_deref(), templates, &mut answer);
    }
    answer
}

/// Proves a bag that is a zip.
pub(super) fn zip(path: &Path, templates: Option<&Path>, tell: &mut dyn FnMut(&str)) -> Answer {
    let holder = match Zip::look(path) {
        Ok(holder) => holder,
        Err(error) => {
            let mut answer = Answer::default();
            answer.differ(error.to_string());
            return answer;
        }
    };
    let (mut answer, examined) = whole(&holder, tell);
    if let Some(name) = ours(&examined) {
        packing(path, &holder, &mut answer);
        if answer.is_whole() {
            let own = own(&holder, &name);
            match own.as_deref().map(|own| out_of(&holder, SESSIONS, own)) {
                Some(Ok(taken)) => {
                    inside(&holder, &name, own.as_deref(), Some(&taken.root), templates, &mut answer);
                }
                Some(Err(error)) => {
                    answer.differ(format!("the session cannot be taken out of the zip: {error}"));
                }
                None => inside(&holder, &name, None, None, templates, &mut answer),
            }
        }
    }
    answer
}

fn whole(holder: &dyn Holder, tell: &mut dyn FnMut(&str)) -> (Answer, Examined) {
    let examined = examine(holder, tell);
    let mut answer = Answer::default();
    for fault in &examined.remarks {
        answer.remark(line(fault));
    }
    for fault in &examined.faults {
        answer.differ(line(fault));
    }
    if answer.is_whole() {
        let mut names: Vec<&str> = examined.algorithms.iter().map(|algorithm| algorithm.name()).collect();
        names.sort_unstable();
        let (files, bytes) = (examined.files, examined.bytes);
        let many = if files == 1 { "file" } else { "files" };
        answer.hold(format!(
            "{files} {many}, {bytes} bytes, each with the {} that the bag lists",
            names.join(" and ")
        ));
        if examined.algorithms.iter().all(|algorithm| matches!(algorithm, Algorithm::Md5 | Algorithm::Sha1)) {
            answer.remark("its digests find damage and stop no forger: they are not of the SHA-2 family");
        }
    }
    (answer, examined)
}

fn line(fault: &Fault) -> String {
    if fault.path.is_empty() { fault.says.clone() } else { format!("{} {}", fault.path, fault.says) }
}

/// The session's name in a bag that this program made.
fn ours(examined: &Examined) -> Option<String> {
    let made = examined.told("Bag-Software-Agent").is_some_and(|agent| agent.starts_with("asfound "));
    let name = examined.told("Internal-Sender-Identifier").filter(|name| made && is_name(name))?;
    Some(name.to_owned())
}

/// Where the session lies in the bag.
fn own(holder: &dyn Holder, name: &str) -> Option<String> {
    let mut folder = SESSIONS.to_owned();
    loop {
        let own = format!("{folder}{name}");
        if holder.place_of(&format!("{own}/session.yaml")).is_some() {
            return Some(own);
        }
        folder.push_str("_/");
        if !holder.files().iter().any(|held| held.path.starts_with(&folder)) {
            return None;
        }
    }
}

/// The zip's own packing: known to the byte where we wrote it.
fn packing(path: &Path, holder: &Zip, answer: &mut Answer) {
    let entries: Vec<Entry> = holder
        .files()
        .iter()
        .enumerate()
        .map(|(index, held)| Entry {
            path: format!("{}{}", holder.top(), held.path),
            size: held.size,
            crc32: holder.crc32(index).unwrap_or_default(),
        })
        .collect();
    let same = File::open(path)
        .map_err(|error| error.to_string())
        .and_then(|mut file| packed_as_written(&entries, &mut file).map_err(|error| error.to_string()));
    match same {
        Ok(None) => {}
        Ok(Some(at)) => answer.differ(format!(
            "the zip is not packed as asfound packs it, first at byte {at}: it was changed, or packed anew by something else"
        )),
        Err(error) => answer.differ(format!("the zip cannot be read: {error}")),
    }
}

fn bytes_of(holder: &dyn Holder, path: &str) -> Option<Vec<u8>> {
    holder.bytes(holder.place_of(path)?, MOST).ok()
}

/// Whether numbers and pages in the bag follow from the readings in it.
fn inside(
    holder: &dyn Holder,
    name: &str,
    own: Option<&str>,
    here: Option<&Path>,
    templates: Option<&Path>,
    answer: &mut Answer,
) {
    let (Some(_), Some(here)) = (own, here) else {
        answer.differ(format!("the bag holds no session '{name}'"));
        return;
    };
    let report = format!("data/out/{name}/report.pdf");
    let Some(pdf) = bytes_of(holder, &report) else {
        answer.differ(format!("{report} is missing or far too large"));
        return;
    };
    let (of_report, again) = Prover::default().prove_beside(pdf, templates, Some(here));
    answer.take("report.pdf", of_report);
    let Some(again) = again else { return };
    let given = |file: &str| bytes_of(holder, &format!("data/out/{name}/{file}")).unwrap_or_default();
    let findings = serde_json::from_slice(&given("findings.json")).unwrap_or_default();
    let follows = serde_json::from_str(&again.json).unwrap_or_default();
    let before = answer.differs.len();
    for line in rows::differences(&findings, &follows) {
        answer.differ(format!("findings.json: {line}"));
    }
    for (file, follows) in [("findings.csv", &again.csv), ("page.html", &again.page)] {
        if given(file) != follows.as_bytes() {
            answer.differ(format!("{file} is not what follows from the session in the bag"));
        }
    }
    if answer.differs.len() == before {
        answer.hold("findings.json, findings.csv and page.html are what follows from the session in the bag");
    }
}
