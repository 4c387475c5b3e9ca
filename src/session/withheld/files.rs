//! The files of a session, each searched and copied where something in it is private.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use walkdir::WalkDir;

use super::super::problem::{Problem, Problems};
use super::super::walls::Walls;
use super::values::{self, Private};
use super::{in_a_name, text, yaml};

/// A text larger than this is not searched.
const LARGEST: u64 = 256 << 20;
/// More files than this are no session.
const MOST_FILES: usize = 20_000;

/// Makes the masked copies of a session's files in a folder.
pub(super) fn mask(
    walls: &Walls,
    list: &[Private],
    folder: &Path,
    copies: &mut BTreeMap<PathBuf, PathBuf>,
    problems: &mut Problems,
) {
    let searched: Vec<&Private> = list.iter().filter(|value| value.is_searched()).collect();
    let known = values::machines(walls);
    for path in paths(walls) {
        in_a_name(&path, "the file", list, problems);
        let Ok(resolved) = walls.resolve(&path) else { continue };
        if copies.contains_key(&resolved) {
            continue;
        }
        let made = match masked(&resolved, &path, &searched) {
            Ok(Some(text)) => {
                names_alone(&text.masked, &path, (list, &known), problems);
                match text.bytes {
                    Some(bytes) => bytes,
                    None => continue,
                }
            }
            Ok(None) => continue,
            Err(why) => {
                problems.push(Problem::folder(format!("{path} {why}")));
                continue;
            }
        };
        let place = folder.join(copies.len().to_string());
        let copy = place.join(resolved.file_name().unwrap_or_default());
        match fs::create_dir_all(&place).and_then(|()| fs::write(&copy, made)) {
            Ok(()) => {
                copies.insert(resolved, copy);
            }
            Err(error) => {
                problems.push(Problem::folder(format!("a masked copy of {path} cannot be written: {error}")));
            }
        }
    }
}

/// Points out a word of a name that stands alone in a text: it may be the person, and it may be a tree.
fn names_alone(text: &str, path: &str, (list, known): (&[Private], &str), problems: &mut Problems) {
    for value in list {
        for word in value.names().filter(|word| !known.contains(word)) {
            let alone = |line: &str| line.split(|c: char| !c.is_alphanumeric()).any(|found| found == word);
            if let Some(line) = text.lines().position(alone) {
                problems.push(
                    Problem::folder(format!(
                        "{path}, line {}: '{word}' stands there, which is part of a name that is withheld ({})",
                        line + 1,
                        value.what
                    ))
                    .warning()
                    .help("only whole values are withheld; write it otherwise if it is the person"),
                );
            }
        }
    }
}

/// A text file.
struct Text {
    /// As it reads when it is masked.
    masked: String,
    /// The bytes of the copy; none where nothing in it is private.
    bytes: Option<Vec<u8>>,
}

/// Every file that is no hidden one, by its path in the session.
fn paths(walls: &Walls) -> Vec<String> {
    let visible = |entry: &walkdir::DirEntry| {
        entry.depth() == 0 || !entry.file_name().to_string_lossy().starts_with('.')
    };
    WalkDir::new(walls.root())
        .sort_by_file_name()
        .into_iter()
        .filter_entry(visible)
        .take(MOST_FILES)
        .filter_map(Result::ok)
        .filter(|entry| !entry.file_type().is_dir())
        .filter_map(|entry| {
            let within = entry.path().strip_prefix(walls.root()).ok()?;
            let parts: Vec<_> = within.components().map(|part| part.as_os_str().to_string_lossy()).collect();
            Some(parts.join("/"))
        })
        .collect()
}

/// A file, masked; `None` where it is no text.
fn masked(resolved: &Path, path: &str, searched: &[&Private]) -> Result<Option<Text>, String> {
    let unreadable = |error: std::io::Error| format!("cannot be read: {error}");
    let ending = path.rsplit_once('.').map_or("", |(_, ending)| ending).to_ascii_lowercase();
    if matches!(ending.as_str(), "jpg" | "jpeg" | "png" | "wav") {
        return Ok(None);
    }
    let text_by_name = matches!(ending.as_str(), "csv" | "txt" | "md" | "yaml" | "yml" | "json" | "tsv");
    let size = fs::metadata(resolved).map_err(unreadable)?.len();
    if size > LARGEST {
        let why = "is too large to be searched for private values";
        return if text_by_name { Err(why.to_owned()) } else { Ok(None) };
    }
    let bytes = fs::read(resolved).map_err(unreadable)?;
    let Some((source, encoding)) = text::decoded(&bytes, text_by_name) else { return Ok(None) };
    // Readings are not to be taken for a private number.
    let no_numbers: Vec<&Private> = searched.iter().copied().filter(|value| !value.is_a_number()).collect();
    let in_visit = path.strip_prefix("visits/").and_then(|rest| rest.split_once('/')).map(|(_, file)| file);
    let made = match () {
        () if path == "session.yaml" => as_yaml(&source, &values::of_session, searched)?,
        () if in_visit == Some("visit.yaml") => as_yaml(&source, &values::of_visit, searched)?,
        () if matches!(ending.as_str(), "csv" | "tsv") => text::masked(&source, &no_numbers),
        () => text::masked(&source, searched),
    };
    let bytes = made.as_deref().map(|made| text::encoded(made, encoding));
    Ok(Some(Text { masked: made.unwrap_or(source), bytes }))
}

/// A file of the session format. One that cannot be read is left to the reader to speak of.
fn as_yaml(
    source: &str,
    fields: &dyn Fn(&super::super::tree::Node) -> Vec<values::Field>,
    searched: &[&Private],
) -> Result<Option<String>, String> {
    let (mark, plain) = source.strip_prefix('\u{feff}').map_or(("", source), |plain| ("\u{feff}", plain));
    if yaml::is_faulty(plain) {
        return Ok(None);
    }
    let made = yaml::masked(plain, fields, searched).map_err(|()| {
        "holds a private value in a way that cannot be masked; write it plainly, on one line".to_owned()
    })?;
    Ok(made.map(|made| format!("{mark}{made}")))
}

/// The session's own templates with their masked copies, in a folder of their own; `None` where it has none.
pub(super) fn templates(
    walls: &Walls,
    folder: &Path,
    copies: &BTreeMap<PathBuf, PathBuf>,
    problems: &mut Problems,
) -> Option<PathBuf> {
    let own = walls.root().join("templates");
    if !fs::symlink_metadata(&own).is_ok_and(|meta| meta.is_dir()) {
        return None;
    }
    let target = folder.join("templates");
    let copied = paths(&Walls::around(&own).ok()?).into_iter().try_for_each(|path| {
        let from = own.join(&path);
        // Links are left out there, too.
        if !fs::symlink_metadata(&from)?.is_file() {
            return Ok(());
        }
        let to = target.join(&path);
        to.parent().map_or(Ok(()), fs::create_dir_all)?;
        fs::copy(copies.get(&from).unwrap_or(&from), to).map(|_| ())
    });
    if let Err(error) = copied.and_then(|()| fs::create_dir_all(&target)) {
        problems
            .push(Problem::folder(format!("a copy of the session's templates cannot be written: {error}")));
    }
    Some(target)
}
