//! A report by itself: what is attached to it against its own list, then everything in it against what follows from the
//! readings that it carries.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use serde_json::Value;

use super::again::{Again, Made, again};
use super::answer::Answer;
use super::taken::{Taken, is_name};
use super::{pages, rows};
use crate::commands::PROGRAM;
use crate::compose::report::attached_name;
use crate::evidence::bag::Examined;
use crate::evidence::pdf::{self, Attached, Wanted};
use crate::evidence::{Known, Listed, document_number_of_list, list, sha256};

/// What every report carries beside the session's files.
const MADE: [&str; 4] = ["findings.json", "findings.csv", "files.sha256", "made.json"];

/// Proves reports. One that was made again is remembered: many copies of a report follow from the same readings.
#[derive(Default)]
pub struct Prover {
    known: BTreeMap<String, Result<Again, Vec<String>>>,
}

/// A session that lies beside its report in a bag.
pub(super) struct Beside {
    /// Its folder.
    root: PathBuf,
    /// The SHA-256 of its files, and of those of the sessions that it is compared with, by path from there.
    digests: BTreeMap<String, String>,
}

impl Beside {
    /// The session that lies in `root` and at `own` in a bag that was looked through.
    pub(super) fn new(root: PathBuf, own: &str, examined: &Examined) -> Self {
        let from_there = |path: &str| {
            let mut up = String::new();
            let mut folder = Some(own);
            while let Some(here) = folder {
                if let Some(below) = path.strip_prefix(here).and_then(|below| below.strip_prefix('/')) {
                    return Some(up + below);
                }
                up.push_str("../");
                folder = here.rsplit_once('/').map(|(above, _)| above);
            }
            None
        };
        let digests =
            examined.sha256.iter().filter_map(|(path, sha256)| Some((from_there(path)?, sha256.clone())));
        Self { root, digests: digests.collect() }
    }
}

/// The files of a report, told apart.
struct Carried {
    made: Made,
    list: Vec<Listed>,
    findings: Value,
    csv: Vec<u8>,
    files: BTreeMap<String, Vec<u8>>,
}

impl Prover {
    /// Proves a report from what it carries. `templates` are those that it was made with, if they are not the program's
    /// or the session's own.
    pub fn prove(&mut self, bytes: Vec<u8>, templates: Option<&Path>) -> Answer {
        self.prove_beside(bytes, templates, None).0
    }

    /// The same with the session that lies `beside` it, which also has what is too large for a report to carry. Gives
    /// what follows from it too, where this program would have made the same.
    pub(super) fn prove_beside(
        &mut self,
        bytes: Vec<u8>,
        templates: Option<&Path>,
        beside: Option<&Beside>,
    ) -> (Answer, Option<Again>) {
        let bytes = Arc::new(bytes);
        let mut answer = Answer::default();
        let Some(carried) = carried(&bytes, &mut answer) else {
            return (answer, None);
        };
        let Carried { made, list, .. } = &carried;
        let whose = if made.publication.public { ", a copy for publication" } else { "" };
        answer.hold(format!("report {} by {}{whose}", made.number, made.program));
        if answer.is_whole() {
            let altered = made.altered.iter().filter(|path| carried.files.contains_key(*path)).count();
            let same = carried.files.len() - altered;
            let and = if altered == 0 {
                String::new()
            } else {
                format!("; {altered} were altered for publication")
            };
            answer.hold(format!("{same} files of the session are what its list says{and}"));
        }
        if !made.templates.is_empty() && templates.is_none() {
            let names: Vec<&str> = made.templates.iter().map(|(name, _)| name.as_str()).collect();
            let names = names.join(", ");
            answer.remark(format!(
                "it was made with templates of somebody's own ({names}); --templates names their folder"
            ));
        }
        // What was left out of a copy for publication follows only from what it carries itself.
        let beside = beside.filter(|_| !made.publication.public);
        let missing: Vec<&str> = list
            .iter()
            .map(|file| file.path.as_str())
            .filter(|path| beside.is_none() && !carried.files.contains_key(*path))
            .collect();
        if !missing.is_empty() {
            let which = missing.join(", ");
            answer.differ(format!(
                "the numbers cannot be had again from the report alone: it does not carry {which}; ask for the bag"
            ));
            return (answer, None);
        }
        let again = match beside {
            Some(beside) => again(&beside.root, templates, made.publication, Known::Digests(&beside.digests)),
            None => self.made_again(&carried, templates),
        };
        match again {
            Ok(again) => {
                hold_against(&bytes, &carried, &again, &mut answer);
                let same = made.program == PROGRAM && (made.templates.is_empty() || templates.is_some());
                (answer, same.then_some(again))
            }
            Err(lines) => {
                for line in lines {
                    answer.differ(line);
                }
                (answer, None)
            }
        }
    }

    fn made_again(&mut self, carried: &Carried, templates: Option<&Path>) -> Result<Again, Vec<String>> {
        let mut text =
            format!("{:?} {:?} {templates:?}\n", carried.made.publication, carried.findings.get("session"));
        text += &list::written(&carried.list);
        for (path, bytes) in &carried.files {
            text += &format!("{path} {}\n", sha256(bytes));
        }
        let key = sha256(text.as_bytes());
        if let Some(known) = self.known.get(&key) {
            return known.clone();
        }
        let fresh = from_scratch(carried, templates);
        self.known.insert(key, fresh.clone());
        fresh
    }
}

fn from_scratch(carried: &Carried, templates: Option<&Path>) -> Result<Again, Vec<String>> {
    let name = carried.findings.get("session").and_then(Value::as_str).unwrap_or_default();
    if !is_name(name) {
        return Err(vec!["findings.json names no session".to_owned()]);
    }
    let up = carried.files.keys().map(|path| path.split('/').filter(|part| *part == "..").count()).max();
    let taken = Taken::empty(name, up.unwrap_or(0).min(32)).map_err(|error| vec![cannot(&error)])?;
    for (path, bytes) in &carried.files {
        taken.put(path, bytes).map_err(|error| vec![format!("{path}: {error}")])?;
    }
    again(&taken.root, templates, carried.made.publication, Known::List(&carried.list))
}

fn cannot(error: &std::io::Error) -> String {
    format!("the session cannot be taken out into a folder for temporary files: {error}")
}

/// Takes the report apart and holds what is attached against the list. None where there is nothing to go on with.
fn carried(bytes: &Arc<Vec<u8>>, answer: &mut Answer) -> Option<Carried> {
    if bytes.len() as u64 > pdf::MOST {
        answer.differ("it is far larger than a report");
        return None;
    }
    let read = match pdf::read(Arc::clone(bytes), Wanted::Attached) {
        Ok(read) => read,
        Err(error) => {
            answer.differ(error.to_string());
            return None;
        }
    };
    let mut attached: BTreeMap<String, Vec<u8>> =
        read.attached.into_iter().map(|Attached { name, bytes }| (name, bytes)).collect();
    let made = MADE.map(|name| {
        // Where the session has a file of that name, ours has a mark before it.
        attached.remove(&format!("~{name}")).or_else(|| attached.remove(name))
    });
    let [Some(json), Some(csv), Some(files), Some(how)] = made else {
        let by = read.creator.map_or_else(String::new, |creator| format!(" (its metadata name {creator})"));
        answer
            .differ(format!("this is no report that carries its readings{by}: it lacks {}", MADE.join(", ")));
        return None;
    };
    let text = String::from_utf8(files).ok();
    let (Some(mut list), Some(made)) = (text.and_then(|text| list::read(&text)), Made::read(&how)) else {
        answer.differ("its list of files or its made.json cannot be read");
        return None;
    };
    for file in &mut list {
        file.size = made.sizes.get(&file.path).copied();
    }
    let Ok(findings) = serde_json::from_slice::<Value>(&json) else {
        answer.differ("its findings.json cannot be read");
        return None;
    };
    if read.creator.as_deref() != Some(made.program.as_str()) {
        let creator = read.creator.unwrap_or_default();
        answer.differ(format!("its metadata name '{creator}', its made.json names '{}'", made.program));
    }
    let number = document_number_of_list(&list);
    if number != made.number {
        answer.differ(format!("its number is {}, the list of its files gives {number}", made.number));
    }
    let files = listed(&list, &made, &mut attached, answer);
    for name in attached.keys() {
        answer.differ(format!("'{name}' is attached and stands in no list"));
    }
    Some(Carried { made, list, findings, csv, files })
}

/// The attached files by their paths in the session, each held against its listed digest.
fn listed(
    list: &[Listed],
    made: &Made,
    attached: &mut BTreeMap<String, Vec<u8>>,
    answer: &mut Answer,
) -> BTreeMap<String, Vec<u8>> {
    let mut files = BTreeMap::new();
    for Listed { path, sha256: wanted, .. } in list {
        let altered = made.altered.contains(path);
        let Some(bytes) = attached.remove(&attached_name(path)) else {
            if altered || !made.sizes.contains_key(path) {
                answer.differ(format!("{path} is listed and not attached"));
            }
            continue;
        };
        let is = sha256(&bytes);
        if is != *wanted && !altered {
            answer.differ(format!("{path} is not what it was: its SHA-256 is {is}, listed is {wanted}"));
        }
        files.insert(path.clone(), bytes);
    }
    files
}

fn hold_against(bytes: &Arc<Vec<u8>>, carried: &Carried, again: &Again, answer: &mut Answer) {
    if carried.made.number != again.number {
        answer.differ(format!(
            "it is report {}, and the session is that of {}",
            carried.made.number, again.number
        ));
    }
    // An edit after a seal is allowed, and shown.
    again.sealed.iter().for_each(|line| answer.hold(line.clone()));
    again.not_as_sealed.iter().for_each(|line| answer.remark(line.clone()));
    let follows: Value = serde_json::from_str(&again.json).unwrap_or_default();
    let lines = rows::differences(&carried.findings, &follows);
    let none = lines.is_empty();
    answer.differ_all(lines, "findings and changes differ");
    let count = |list: &str| carried.findings.get(list).and_then(Value::as_array).map_or(0, Vec::len);
    if none {
        let (findings, changes) = (count("findings"), count("changes"));
        answer.hold(format!("{findings} findings and {changes} changes come out the same from the readings"));
        if carried.made.program == PROGRAM && carried.csv != again.csv.as_bytes() {
            answer.differ("its findings.csv does not say what its findings.json says");
        }
    }
    if carried.made.program == PROGRAM {
        pages::compare(bytes, &again.pdf, answer);
    } else {
        let program = &carried.made.program;
        answer.remark(format!("it was made by {program}; this is {PROGRAM}, which sets pages otherwise"));
        pages::said(bytes, &carried.findings, answer);
    }
}
