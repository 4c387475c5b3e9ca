//! A manifest line by line.

use super::{Fault, PAYLOAD};

/// The version of the format that a bag declares.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Version(pub(super) u32, pub(super) u32);

impl Version {
    /// RFC 8493.
    pub(super) const RFC: Self = Self(1, 0);
}

/// A line of a manifest: a digest and the path that it is of.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Line {
    pub(super) digest: String,
    pub(super) path: String,
}

/// A path as a manifest writes it: line ends and the percent sign are percent-encoded, and only those
/// (RFC 8493, 2.1.3).
pub(super) fn encoded(path: &str) -> String {
    path.replace('%', "%25").replace('\n', "%0A").replace('\r', "%0D")
}

/// The other way. Before 1.0 a percent sign stood for itself. One pass: what was decoded is not decoded again.
fn decoded(path: &str, version: Version) -> String {
    let mut plain = String::with_capacity(path.len());
    let mut rest = path;
    while let Some(at) = rest.find('%') {
        plain.push_str(&rest[..at]);
        let code = rest.get(at..at + 3).unwrap_or_default().to_ascii_uppercase();
        let letter = match code.as_str() {
            "%0A" => Some('\n'),
            "%0D" => Some('\r'),
            "%25" if version >= Version::RFC => Some('%'),
            _ => None,
        };
        plain.push(letter.unwrap_or('%'));
        rest = &rest[if letter.is_some() { at + 3 } else { at + 1 }..];
    }
    plain.push_str(rest);
    plain
}

/// Takes a manifest apart. `name` is the manifest's own; what is wrong with a line goes to `faults`, what is
/// only unusual to `remarks`.
pub(super) fn lines(
    text: &str,
    name: &str,
    version: Version,
    faults: &mut Vec<Fault>,
    remarks: &mut Vec<Fault>,
) -> Vec<Line> {
    let mut found = Vec::new();
    for (number, line) in text.replace("\r\n", "\n").split(['\n', '\r']).enumerate() {
        let line = line.trim_start_matches([' ', '\t']);
        if line.is_empty() {
            continue;
        }
        let at = format!("line {}", number + 1);
        let Some((digest, rest)) = line.split_once([' ', '\t']) else {
            faults.push(Fault::new(name, format!("{at} is no digest and path: '{}'", short(line))));
            continue;
        };
        if digest.is_empty() || !digest.bytes().all(|byte| byte.is_ascii_hexdigit()) {
            faults.push(Fault::new(name, format!("{at} begins with no digest: '{}'", short(line))));
            continue;
        }
        let mut path = rest.trim_start_matches([' ', '\t']);
        if let Some(bare) = path.strip_prefix('*') {
            remarks.push(Fault::new(name, format!("{at} has a '*' before the path, as md5sum writes it")));
            path = bare;
        }
        if let Some(bare) = path.strip_prefix("./") {
            remarks.push(Fault::new(name, format!("{at} has './' before the path")));
            path = bare;
        }
        let path = decoded(path, version);
        if !stays(&path) {
            faults
                .push(Fault::new(name, format!("{at} names a path that leaves the bag: '{}'", short(&path))));
            continue;
        }
        found.push(Line { digest: digest.to_ascii_lowercase(), path });
    }
    found
}

/// Whether a path can only lie inside the bag.
pub fn stays(path: &str) -> bool {
    let drive = path.as_bytes().get(1) == Some(&b':');
    !path.is_empty()
        && !drive
        && !path.starts_with(['~', '\\'])
        && path.split('/').all(|part| !matches!(part, "" | "." | ".."))
        && !path.split(['/', '\\']).any(|part| part == "..")
}

/// Whether a path is of the payload.
pub(super) fn of_payload(path: &str) -> bool {
    path.starts_with(PAYLOAD)
}

/// The beginning of a text that somebody else wrote.
pub(super) fn short(text: &str) -> String {
    if text.chars().count() <= 80 {
        return text.to_owned();
    }
    let mut begin: String = text.chars().take(79).collect();
    begin.push('…');
    begin
}

#[cfg(test)]
#[allow(clippy::unwrap_used, clippy::cast_possible_truncation)]
mod tests {
    use proptest::prelude::*;

    use super::{Version, decoded, encoded, lines, stays};

    proptest! {
        #[test]
        fn any_path_that_stays_is_read_back_from_its_manifest(parts in prop::collection::vec("[^/\\\\\0:~. \t*][^/\\\\\0]{0,12}", 1..4)) {
            let path = format!("data/{}", parts.join("/"));
            prop_assume!(stays(&path));
            let digest = "ab".repeat(32);
            let text = super::super::tags::manifest_text([(digest.as_str(), path.as_str())].into_iter());
            let (mut faults, mut remarks) = (Vec::new(), Vec::new());
            let read = lines(&text, "m", Version::RFC, &mut faults, &mut remarks);
            prop_assert_eq!(faults, vec![]);
            prop_assert_eq!(read.len(), 1);
            prop_assert_eq!(&read[0].path, &path);
        }

        #[test]
        fn whatever_stands_in_a_manifest_nothing_that_it_names_leaves_the_bag(text in "\\PC{0,200}", hex in "[0-9a-f]{8}  [./~a-z%0-9\\\\:]{0,30}\n") {
            let (mut faults, mut remarks) = (Vec::new(), Vec::new());
            for line in lines(&(hex + &text), "m", Version::RFC, &mut faults, &mut remarks) {
                prop_assert!(stays(&line.path));
            }
        }
    }

    #[test]
    fn only_line_ends_and_the_percent_sign_are_encoded_and_none_is_decoded_twice() {
        let odd = "data/50 %0A of\nit\r%25";
        assert_eq!(encoded(odd), "data/50 %250A of%0Ait%0D%2525");
        assert_eq!(decoded(&encoded(odd), Version::RFC), odd);
        // Before 1.0 a percent sign was only itself.
        assert_eq!(decoded("data/%25test%0a", Version(0, 97)), "data/%25test\n");
        assert_eq!(decoded("data/%7Edir", Version::RFC), "data/%7Edir");
        assert_eq!(decoded("data/%", Version::RFC), "data/%");
        assert_eq!(decoded("data/%°", Version::RFC), "data/%°");
    }

    #[test]
    fn a_path_that_could_leave_the_bag_is_none() {
        for out in [
            "../x",
            "data/../../x",
            "/etc/passwd",
            "~/x",
            "c:/x",
            "\\\\server\\x",
            "data\\..\\..\\x",
            "data//x",
            "",
        ] {
            assert!(!stays(out), "{out}");
        }
        for inside in ["data/x", "data/~x", "data/a..b", "data/.x", "bag-info.txt"] {
            assert!(stays(inside), "{inside}");
        }
    }
}
