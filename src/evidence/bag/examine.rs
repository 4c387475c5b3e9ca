//! Whether a bag is whole: everything there, nothing more, every digest right (RFC 8493, 3).

use std::collections::{BTreeMap, BTreeSet};
use std::io::{self, Write};

use unicode_normalization::UnicodeNormalization;

use super::line::{Line, Version, lines, of_payload, stays};
use super::tags::{Encoding, declaration, info, manifest_text};
use super::{DECLARATION, Holder, INFO, MANIFEST, TAG_MANIFEST};
use crate::evidence::digest::{Algorithm, Digests, read_through};

/// A tag file above this is no tag file.
const MOST_TAG: u64 = 64 << 20;

/// Something about a bag, and the file that it is about.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Fault {
    /// The file's path below the bag; empty where it is about the bag itself.
    pub path: String,
    /// What is wrong, as the end of a sentence that begins with the path.
    pub says: String,
}

impl Fault {
    /// A fault of a file.
    pub fn new(path: impl Into<String>, says: impl Into<String>) -> Self {
        Self { path: path.into(), says: says.into() }
    }
}

/// What came of looking a bag through.
#[derive(Clone, Debug, Default)]
pub struct Examined {
    /// Why it is not whole; empty where it is.
    pub faults: Vec<Fault>,
    /// What is unusual and yet allowed.
    pub remarks: Vec<Fault>,
    /// What `bag-info.txt` tells, in order.
    pub info: Vec<(String, String)>,
    /// Files of the payload.
    pub files: usize,
    /// Their bytes together.
    pub bytes: u64,
    /// The digests that vouch for the payload.
    pub algorithms: Vec<Algorithm>,
    /// The SHA-256 of each file that was read, by path, where a manifest asks for it.
    pub sha256: BTreeMap<String, String>,
}

/// Who goes along while a bag is looked through.
pub trait Along {
    /// Hears what `bag-info.txt` tells, before any file is read.
    fn told(&mut self, _info: &[(String, String)]) {}

    /// Hears of each file before it is read, and may want its bytes: they go where this leads.
    ///
    /// # Errors
    /// Where they cannot be put there.
    fn reads(&mut self, _path: &str) -> io::Result<Box<dyn Write>> {
        Ok(Box::new(io::sink()))
    }
}

/// Nobody goes along.
impl Along for () {}

impl Examined {
    /// The first value of a label of `bag-info.txt`.
    pub fn told(&self, label: &str) -> Option<&str> {
        value_of(&self.info, label)
    }
}

/// The first value of a label among what `bag-info.txt` tells.
pub fn value_of<'a>(info: &'a [(String, String)], label: &str) -> Option<&'a str> {
    info.iter().find(|(known, _)| known.eq_ignore_ascii_case(label)).map(|(_, value)| value.as_str())
}

/// A manifest: of what, by which digest, and its lines.
struct Manifest {
    name: String,
    algorithm: Algorithm,
    of_tags: bool,
    lines: Vec<Line>,
}

/// Looks a whole bag through; every file is read once.
pub fn examine(holder: &dyn Holder, along: &mut dyn Along) -> Examined {
    let mut found = Examined { faults: holder.faults().to_vec(), ..Examined::default() };
    let Some((version, encoding)) = declared(holder, &mut found) else {
        return found;
    };
    if version > Version::RFC {
        let says =
            format!("declares BagIt {}.{}, later than the 1.0 that is known here", version.0, version.1);
        found.remarks.push(Fault::new(DECLARATION, says));
    }
    if let Some(text) = tag_text(holder, INFO, encoding, &mut found.faults) {
        found.info = info(&text, version, &mut found.faults);
        along.told(&found.info);
    }
    let manifests = manifests(holder, version, encoding, &mut found);
    found.algorithms = manifests.iter().filter(|m| !m.of_tags).map(|m| m.algorithm).collect();
    found.remarks.extend(names(holder.files().iter().map(|held| held.path.as_str())));
    complete(holder, &manifests, version, encoding, &mut found);
    let digests = digests(holder, &manifests, &mut found, along);
    compare(&manifests, &digests, &mut found.faults);
    let sha256 = digests
        .iter()
        .filter_map(|(path, of)| Some(((*path).to_owned(), of.of(Algorithm::Sha256)?.to_owned())));
    found.sha256 = sha256.collect();
    oxum(&mut found);
    ours(holder, &manifests, &mut found);
    found.faults.sort();
    found.faults.dedup();
    found.remarks.sort();
    found.remarks.dedup();
    found
}

fn declared(holder: &dyn Holder, found: &mut Examined) -> Option<(Version, Encoding)> {
    let Some(index) = holder.place_of(DECLARATION) else {
        found.faults.push(Fault::new("", "there is no bagit.txt: this is no bag"));
        return None;
    };
    match holder.bytes(index, MOST_TAG) {
        Ok(bytes) => declaration(&bytes, &mut found.faults),
        Err(error) => {
            found.faults.push(Fault::new(DECLARATION, format!("cannot be read: {error}")));
            None
        }
    }
}

fn tag_text(holder: &dyn Holder, path: &str, encoding: Encoding, faults: &mut Vec<Fault>) -> Option<String> {
    let index = holder.place_of(path)?;
    match holder.bytes(index, MOST_TAG) {
        Ok(bytes) => {
            let text = encoding.read(&bytes);
            if text.is_none() {
                faults.push(Fault::new(path, "is not in the encoding that bagit.txt names"));
            }
            text
        }
        Err(error) => {
            faults.push(Fault::new(path, format!("cannot be read: {error}")));
            None
        }
    }
}

fn manifests(
    holder: &dyn Holder,
    version: Version,
    encoding: Encoding,
    found: &mut Examined,
) -> Vec<Manifest> {
    let mut manifests = Vec::new();
    for held in holder.files() {
        let of = |begin| held.path.strip_prefix(begin)?.strip_suffix(".txt");
        let (of_tags, algorithm) = match (of(TAG_MANIFEST), of(MANIFEST)) {
            (Some(algorithm), _) => (true, algorithm),
            (None, Some(algorithm)) => (false, algorithm),
            (None, None) => continue,
        };
        let Some(algorithm) = Algorithm::named(algorithm) else {
            found.remarks.push(Fault::new(&held.path, "is written in a digest that is not known here"));
            continue;
        };
        let Some(text) = tag_text(holder, &held.path, encoding, &mut found.faults) else { continue };
        let mut list = lines(&text, &held.path, version, &mut found.faults, &mut found.remarks);
        list.retain(|line| of_its_kind(line, of_tags, &held.path, &mut found.faults));
        twice(&list, &held.path, version, found);
        manifests.push(Manifest { name: held.path.clone(), algorithm, of_tags, lines: list });
    }
    if !manifests.iter().any(|manifest| !manifest.of_tags) {
        found.faults.push(Fault::new("", "no manifest tells what the bag should hold"));
    }
    manifests
}

fn of_its_kind(line: &Line, of_tags: bool, name: &str, faults: &mut Vec<Fault>) -> bool {
    let right = if of_tags {
        !of_payload(&line.path) && !line.path.starts_with(TAG_MANIFEST)
    } else {
        of_payload(&line.path)
    };
    if !right {
        let what = if of_tags { "a file that is no tag file" } else { "a file outside data/" };
        faults.push(Fault::new(name, format!("lists {what}: {}", line.path)));
    }
    right
}

/// A path that is listed twice in one manifest: never right in RFC 8493, 2.1.3; before, only if the digests differ.
fn twice(list: &[Line], name: &str, version: Version, found: &mut Examined) {
    let mut known: BTreeMap<&str, &str> = BTreeMap::new();
    for line in list {
        if let Some(before) = known.insert(&line.path, &line.digest) {
            let differ = before != line.digest;
            let with = if differ { "with two digests" } else { "with the same digest" };
            let fault = Fault::new(name, format!("lists {} twice, {with}", line.path));
            let list = if differ || version >= Version::RFC { &mut found.faults } else { &mut found.remarks };
            list.push(fault);
        }
    }
}

/// Names that other systems cannot have, or cannot tell apart, or that systems leave behind (RFC 8493, 6.1).
pub fn names<'p>(paths: impl IntoIterator<Item = &'p str>) -> Vec<Fault> {
    let mut remarks = Vec::new();
    let mut known: BTreeMap<String, String> = BTreeMap::new();
    let mut said: BTreeSet<&str> = BTreeSet::new();
    for path in paths {
        alike(path, &mut known, &mut remarks);
        for part in path.split('/') {
            if let Some(why) = elsewhere_impossible(part).filter(|_| said.insert(part)) {
                remarks
                    .push(Fault::new(path, format!("cannot lie on every system: '{part}' {why}; rename it")));
            }
        }
    }
    remarks
}

/// Why a file or a folder cannot be called so on every system ("Naming files, paths, and namespaces", Windows' documentation
/// of its files, from memory).
fn elsewhere_impossible(name: &str) -> Option<&'static str> {
    const DEVICES: [&str; 4] = ["con", "prn", "aux", "nul"];
    let stem = name.split('.').next().unwrap_or(name).trim_end().to_lowercase();
    let numbered = ["com", "lpt"].iter().find_map(|device| stem.strip_prefix(device));
    let is_port = numbered.is_some_and(|rest| matches!(rest.as_bytes(), [b'1'..=b'9']));
    if DEVICES.contains(&stem.as_str()) || is_port {
        return Some("is the name of a device on Windows");
    }
    if name.ends_with(['.', ' ']) {
        return Some("ends with a point or a space, which Windows takes away");
    }
    let held = name.contains(|c: char| "<>:\"|?*\\".contains(c) || c.is_control());
    held.then_some("holds one of < > : \" | ? * or a letter that cannot be seen, which Windows does not take")
}

fn alike(path: &str, known: &mut BTreeMap<String, String>, remarks: &mut Vec<Fault>) {
    let folded: String = path.nfc().flat_map(char::to_lowercase).collect();
    if let Some(other) = known.insert(folded, path.to_owned())
        && other != path
    {
        let says = format!("differs from {other} only as some systems do not tell apart");
        remarks.push(Fault::new(path, says));
    }
    let name = path.rsplit('/').next().unwrap_or(path);
    let left_behind = matches!(name, ".DS_Store" | "Thumbs.db" | "desktop.ini") || name.starts_with("._");
    if left_behind {
        remarks.push(Fault::new(path, "is a file that a system leaves behind, and nobody's reading"));
    }
}

/// Everything that is listed is there, and everything that is there is listed.
fn complete(
    holder: &dyn Holder,
    manifests: &[Manifest],
    version: Version,
    encoding: Encoding,
    found: &mut Examined,
) {
    let to_fetch = fetch(holder, encoding, &mut found.faults);
    let mut known = BTreeMap::new();
    for line in manifests.iter().flat_map(|manifest| &manifest.lines) {
        alike(&line.path, &mut known, &mut found.remarks);
        if holder.place_of(&line.path).is_none() {
            let says = if to_fetch.contains(&line.path) {
                "is still to be fetched, as fetch.txt says; nothing is fetched here"
            } else {
                "is missing"
            };
            found.faults.push(Fault::new(&line.path, says));
        }
    }
    let sets: Vec<(&Manifest, BTreeSet<&str>)> = manifests
        .iter()
        .map(|manifest| (manifest, manifest.lines.iter().map(|line| line.path.as_str()).collect()))
        .collect();
    for held in holder.files() {
        let payload = of_payload(&held.path);
        if payload {
            found.files += 1;
            found.bytes += held.size;
        }
        let of_its_kind: Vec<_> = sets.iter().filter(|(manifest, _)| manifest.of_tags != payload).collect();
        let lists = of_its_kind.iter().filter(|(_, set)| set.contains(held.path.as_str())).count();
        if payload && lists == 0 {
            found.faults.push(Fault::new(&held.path, "is in the bag and in no manifest"));
        } else if payload && version >= Version::RFC && lists < of_its_kind.len() {
            found.faults.push(Fault::new(&held.path, "is not in every manifest"));
        } else if !payload && !held.path.starts_with(TAG_MANIFEST) && lists < of_its_kind.len() {
            let says = "is not in every tag manifest";
            let must = version >= Version::RFC && held.path.starts_with(MANIFEST);
            let list = if must { &mut found.faults } else { &mut found.remarks };
            list.push(Fault::new(&held.path, says));
        }
    }
}

/// What `fetch.txt` wants fetched: paths only. What leaves the bag is a fault.
fn fetch(holder: &dyn Holder, encoding: Encoding, faults: &mut Vec<Fault>) -> BTreeSet<String> {
    let text = tag_text(holder, "fetch.txt", encoding, faults).unwrap_or_default();
    let mut paths = BTreeSet::new();
    for line in text.split(['\n', '\r']).filter(|line| !line.trim().is_empty()) {
        let mut parts = line.splitn(3, [' ', '\t']);
        let path = parts.nth(2).map(str::trim).unwrap_or_default();
        if stays(path) && of_payload(path) {
            paths.insert(path.to_owned());
        } else {
            let says = format!("names a path that is not in data/: '{}'", super::line::short(path));
            faults.push(Fault::new("fetch.txt", says));
        }
    }
    paths
}

fn digests<'a>(
    holder: &'a dyn Holder,
    manifests: &[Manifest],
    found: &mut Examined,
    along: &mut dyn Along,
) -> BTreeMap<&'a str, Digests> {
    let mut wanted: BTreeMap<&str, BTreeSet<Algorithm>> = BTreeMap::new();
    for manifest in manifests {
        for line in &manifest.lines {
            wanted.entry(&line.path).or_default().insert(manifest.algorithm);
        }
    }
    let mut digests = BTreeMap::new();
    for (index, held) in holder.files().iter().enumerate() {
        let Some(algorithms) = wanted.get(held.path.as_str()) else { continue };
        let algorithms: Vec<Algorithm> = algorithms.iter().rev().copied().collect();
        let read = along.reads(&held.path).and_then(|copy| Ok((copy, holder.open(index)?)));
        let read = read.map_err(|error| error.to_string()).and_then(|(mut copy, mut from)| {
            read_through(&mut from, &algorithms, &mut copy).map_err(|error| error.to_string())
        });
        match read {
            Ok(of_it) => {
                digests.insert(held.path.as_str(), of_it);
            }
            Err(error) => found.faults.push(Fault::new(&held.path, format!("cannot be read: {error}"))),
        }
    }
    digests
}

fn compare(manifests: &[Manifest], digests: &BTreeMap<&str, Digests>, faults: &mut Vec<Fault>) {
    for manifest in manifests {
        for line in &manifest.lines {
            let Some(is) = digests.get(line.path.as_str()).and_then(|of| of.of(manifest.algorithm)) else {
                continue;
            };
            if is != line.digest {
                let name = manifest.algorithm.name();
                let says = format!(
                    "is not what {} lists: its {name} is {is}, listed is {}",
                    manifest.name,
                    super::line::short(&line.digest)
                );
                faults.push(Fault::new(&line.path, says));
            }
        }
    }
}

/// `Payload-Oxum`: bytes and files of the payload (RFC 8493, 2.2.2). It stands once.
fn oxum(found: &mut Examined) {
    const LABEL: &str = "Payload-Oxum";
    let values: Vec<&str> = found
        .info
        .iter()
        .filter(|(label, _)| label.eq_ignore_ascii_case(LABEL))
        .map(|(_, value)| value.as_str())
        .collect();
    let is = format!("{}.{}", found.bytes, found.files);
    for value in &values {
        if *value != is {
            let says = format!("says {LABEL}: {value}; the payload has {is} (bytes, files)");
            found.faults.push(Fault::new(INFO, says));
        }
    }
    if values.len() > 1 {
        found.remarks.push(Fault::new(INFO, format!("says {LABEL} {} times", values.len())));
    }
}

/// What `bag-info.txt` calls the program that made a bag.
pub(super) const AGENT: &str = "Bag-Software-Agent";

/// No manifest vouches for the tag manifests themselves. Those of our own bags are known to the letter.
fn ours(holder: &dyn Holder, manifests: &[Manifest], found: &mut Examined) {
    if !found.told(AGENT).is_some_and(|agent| agent.starts_with("asfound ")) {
        return;
    }
    for manifest in manifests.iter().filter(|manifest| manifest.of_tags) {
        let mut list: Vec<&Line> = manifest.lines.iter().collect();
        list.sort_by(|a, b| a.path.cmp(&b.path));
        let text = manifest_text(list.iter().map(|line| (line.digest.as_str(), line.path.as_str())));
        let same = holder
            .place_of(&manifest.name)
            .and_then(|index| holder.bytes(index, MOST_TAG).ok())
            .is_some_and(|bytes| bytes == text.as_bytes());
        if !same {
            let says = "is not written as asfound writes it: somebody or something changed it";
            found.faults.push(Fault::new(&manifest.name, says));
        }
    }
    for wanted in [Algorithm::Sha256, Algorithm::Sha512] {
        for of_tags in [false, true] {
            if !manifests.iter().any(|m| m.algorithm == wanted && m.of_tags == of_tags) {
                let begin = if of_tags { TAG_MANIFEST } else { MANIFEST };
                let name = super::tags::manifest_name(begin, wanted);
                found.faults.push(Fault::new(name, "is missing, and asfound writes one"));
            }
        }
    }
    let known = |path: &str| manifests.iter().any(|m| m.lines.iter().any(|line| line.path == path));
    for held in holder.files() {
        if !of_payload(&held.path) && !held.path.starts_with(TAG_MANIFEST) && !known(&held.path) {
            found.faults.push(Fault::new(&held.path, "is in the bag and in no manifest"));
        }
    }
}
