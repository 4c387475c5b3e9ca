//! Where a session and the sessions that it is compared with lie beside each other when they are taken along, so that
//! every path that they name still leads where it led.

use std::path::PathBuf;

use walkdir::WalkDir;

use crate::session::{Problem, Problems, WallBreach, Walls};

/// Where each session's folder lies, `/`-separated.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Layout {
    /// The session's own.
    pub own: String,
    /// The others', in the session's order; none where one lies inside the session and travels with it.
    pub others: Vec<Option<String>>,
}

/// Why sessions cannot be taken along together.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum LayoutError {
    /// The path begins at the root of one machine.
    #[error(
        "another session is named by a path of this machine alone: {0}; name it from this session's folder: ../old-saw"
    )]
    Absolute(String),
    /// Two would lie in one place.
    #[error("two sessions would lie in one place: {0}")]
    Twice(String),
}

/// How many folders up a path leads, and down again from there.
fn steps(named: &str) -> Option<(usize, Vec<&str>)> {
    let drive = named.as_bytes().get(1) == Some(&b':');
    if named.starts_with(['/', '\\', '~']) || drive {
        return None;
    }
    let (mut up, mut down) = (0, Vec::new());
    for part in named.split(['/', '\\']) {
        match part {
            "" | "." => {}
            ".." => {
                if down.pop().is_none() {
                    up += 1;
                }
            }
            name => down.push(name),
        }
    }
    Some((up, down))
}

/// The path from a session's folder to another that it names, as short as it can be: `../old-saw`. None where the other lies
/// inside the session, or on this machine alone.
pub fn from_session(name: &str, named: &str) -> Option<String> {
    let (up, down) = steps(named)?;
    let inside = up == 0 || up == 1 && down.first() == Some(&name);
    let mut path = vec![".."; up];
    path.extend(down);
    (!inside).then(|| path.join("/"))
}

/// The layout below `sessions/` for a session of this name that names these others.
///
/// # Errors
/// Where another is named by a path that no other machine has, or two would lie in one place.
pub fn layout<'a>(name: &str, others: impl IntoIterator<Item = &'a str>) -> Result<Layout, LayoutError> {
    let mut ways = Vec::new();
    for named in others {
        ways.push(steps(named).ok_or_else(|| LayoutError::Absolute(named.to_owned()))?);
    }
    let above = ways.iter().map(|(up, _)| *up).max().unwrap_or(0).max(1) - 1;
    let mut own = vec!["sessions"];
    // The names of the folders between are nobody's business.
    own.extend(std::iter::repeat_n("_", above));
    own.push(name);
    let own_path = own.join("/");
    let mut taken = vec![own_path.clone()];
    let mut placed = Vec::with_capacity(ways.len());
    for (up, down) in ways {
        let mut path = own[..own.len() - up].to_vec();
        path.extend(down);
        let path = path.join("/");
        if path.starts_with(&format!("{own_path}/")) {
            placed.push(None);
            continue;
        }
        if taken.contains(&path) {
            return Err(LayoutError::Twice(path));
        }
        taken.push(path.clone());
        placed.push(Some(path));
    }
    Ok(Layout { own: own_path, others: placed })
}

/// Every file of a session's folder, hidden ones left out: its path there, and the file behind it, links followed. A link that
/// leaves the folder is an error. No more than `most` of what lies there is looked at.
pub fn files_of(walls: &Walls, most: usize, problems: &mut Problems) -> Vec<(String, PathBuf)> {
    let mut files = Vec::new();
    let visible = |entry: &walkdir::DirEntry| {
        entry.depth() == 0 || !entry.file_name().to_string_lossy().starts_with('.')
    };
    let walk = WalkDir::new(walls.root()).sort_by_file_name().into_iter().filter_entry(visible);
    for entry in walk.take(most) {
        let entry = match entry {
            Ok(entry) if entry.file_type().is_dir() => continue,
            Ok(entry) => entry,
            Err(error) => {
                problems.push(Problem::folder(format!("a file of the session cannot be read: {error}")));
                continue;
            }
        };
        let below = entry.path().strip_prefix(walls.root()).unwrap_or(entry.path());
        let parts: Option<Vec<&str>> = below.components().map(|part| part.as_os_str().to_str()).collect();
        let Some(parts) = parts else {
            problems.push(
                Problem::folder(format!("{}: the name is not UTF-8", below.display()))
                    .help("rename the file; other systems could not read its name"),
            );
            continue;
        };
        let path = parts.join("/");
        match walls.resolve(&path) {
            Ok(behind) => files.push((path, behind)),
            // A link to a folder: what lies there is taken where it stands.
            Err(WallBreach::NotAFile) => {}
            Err(breach) => problems.push(Problem::folder(format!("{path}: {breach}"))),
        }
    }
    files
}

#[cfg(test)]
#[allow(clippy::unwrap_used, clippy::cast_possible_truncation)]
mod tests {
    use super::{LayoutError, from_session, layout};

    #[test]
    fn sessions_lie_so_that_the_paths_between_them_still_lead_where_they_led() {
        let beside = layout("saw", ["../old-saw"]).unwrap();
        assert_eq!(beside.own, "sessions/saw");
        assert_eq!(beside.others, [Some("sessions/old-saw".to_owned())]);
        let far = layout("saw", ["../old-saw", "../../2022/./lathe", "part/of-it"]).unwrap();
        assert_eq!(far.own, "sessions/_/saw");
        let placed = ["sessions/_/old-saw", "sessions/2022/lathe"].map(|path| Some(path.to_owned()));
        assert_eq!(far.others[..2], placed);
        assert_eq!(far.others[2], None, "it lies inside and travels with its folder");
        assert_eq!(from_session("saw", "./../old-saw/"), Some("../old-saw".to_owned()));
        assert_eq!(from_session("saw", "part"), None);
        assert!(matches!(layout("saw", ["/srv/saw"]), Err(LayoutError::Absolute(_))));
        assert!(matches!(layout("saw", ["../x", "../y/../x"]), Err(LayoutError::Twice(_))));
    }
}
