//! A bag: whether it is whole, and, where it is one of ours, whether its numbers still follow from its readings.

use std::fs::File;
use std::io::{self, Write};
use std::path::Path;

use super::answer::Answer;
use super::carried::{Beside, Prover};
use super::rows;
use super::taken::{TakingOut, name_of_ours};
use crate::evidence::bag::{Along, Examined, Fault, Folder, Holder, SESSIONS, examine, order_in_zip};
use crate::evidence::digest::Algorithm;
use crate::evidence::zip::{Entry, Zip, packed_as_written};

/// A report or findings larger than this are none.
const MOST: u64 = 512 << 20;

/// Proves a bag that is a folder.
pub(super) fn folder(path: &Path, templates: Option<&Path>, tell: &mut dyn FnMut(&str)) -> Answer {
    let holder = Folder::look(path);
    let (mut answer, examined) = whole(&holder, &mut Telling(tell));
    if let Some(name) = name_of_ours(&examined.info) {
        let own = own(&holder, &name);
        let beside = own.as_ref().map(|own| Beside::new(path.join(own), own, &examined));
        inside(&holder, &name, beside.as_ref(), templates, &mut answer);
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
    let mut taking = TakingOut::new(tell);
    let (mut answer, examined) = whole(&holder, &mut taking);
    let Some(name) = name_of_ours(&examined.info) else { return answer };
    packing(path, &holder, &mut answer);
    if !answer.is_whole() {
        return answer;
    }
    let Some(own) = own(&holder, &name) else {
        inside(&holder, &name, None, templates, &mut answer);
        return answer;
    };
    match taking.taken(&own) {
        Ok(taken) => {
            let beside = Beside::new(taken.root, &own, &examined);
            inside(&holder, &name, Some(&beside), templates, &mut answer);
        }
        Err(error) => answer.differ(format!("the session cannot be taken out of the zip: {error}")),
    }
    answer
}

/// A bag whose files are where they are wanted.
struct Telling<'a>(&'a mut dyn FnMut(&str));

impl Along for Telling<'_> {
    fn reads(&mut self, path: &str) -> io::Result<Box<dyn Write>> {
        (self.0)(path);
        Ok(Box::new(io::sink()))
    }
}

fn whole(holder: &dyn Holder, along: &mut dyn Along) -> (Answer, Examined) {
    let examined = examine(holder, along);
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
    let mut held: Vec<_> = holder.files().iter().enumerate().collect();
    held.sort_by(|(_, a), (_, b)| order_in_zip(&a.path).cmp(&order_in_zip(&b.path)));
    let entries: Vec<Entry> = held
        .into_iter()
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
    beside: Option<&Beside>,
    templates: Option<&Path>,
    answer: &mut Answer,
) {
    let Some(beside) = beside else {
        answer.differ(format!("the bag holds no session '{name}'"));
        return;
    };
    let report = format!("data/out/{name}/report.pdf");
    let Some(pdf) = bytes_of(holder, &report) else {
        answer.differ(format!("{report} is missing or far too large"));
        return;
    };
    let (of_report, again) = Prover::default().prove_beside(pdf, templates, Some(beside));
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
