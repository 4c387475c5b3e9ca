//! The list of a session's files with their hashes, and the document number that follows from it.

use std::fmt::Write as _;

use sha2::{Digest, Sha256};

use super::{Item, hex};

/// A file as a session's list has it, wherever its bytes are.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Listed {
    /// The path in the session folder, `/`-separated.
    pub path: String,
    /// SHA-256, 64 hexadecimal digits.
    pub sha256: String,
    /// Its size in bytes, where that is known without the file.
    pub size: Option<u64>,
}

impl From<&Item> for Listed {
    fn from(item: &Item) -> Self {
        Self { path: item.path.clone(), sha256: item.sha256.clone(), size: Some(item.size) }
    }
}

/// A document number from the content: the first twelve hexadecimal digits of the SHA-256 over
/// every file's path and hash, in threes of four. It changes when any file does.
pub fn document_number(items: &[Item]) -> String {
    number(items.iter().map(|item| (item.path.as_str(), item.sha256.as_str())))
}

/// The same from a list alone, in the order of [`super::inventory`].
pub fn document_number_of_list(list: &[Listed]) -> String {
    number(list.iter().map(|file| (file.path.as_str(), file.sha256.as_str())))
}

fn number<'a>(files: impl Iterator<Item = (&'a str, &'a str)>) -> String {
    let mut hasher = Sha256::new();
    for (path, sha256) in files {
        hasher.update(path.as_bytes());
        hasher.update([0]);
        hasher.update(sha256.as_bytes());
        hasher.update([b'\n']);
    }
    let digits = hex(&hasher.finalize()).to_uppercase();
    let mut number = String::from("AF");
    for group in 0..3 {
        number.push('-');
        number.push_str(&digits[group * 4..group * 4 + 4]);
    }
    number
}

/// The list as `sha256sum` writes and checks it (GNU coreutils manual, "md5 output modes"): hash, two
/// spaces, path. A line whose path holds a backslash or an end of line begins with `\`, and they are escaped.
pub fn written(list: &[Listed]) -> String {
    let mut text = String::new();
    for Listed { path, sha256, .. } in list {
        let escaped = path.replace('\\', "\\\\").replace('\n', "\\n").replace('\r', "\\r");
        let mark = if escaped == *path { "" } else { "\\" };
        // Writing to a String cannot fail.
        let _ = writeln!(text, "{mark}{sha256}  {escaped}");
    }
    text
}

/// Reads such a list. `None` where a line is none of one: nothing is guessed.
pub fn read(text: &str) -> Option<Vec<Listed>> {
    let mut list = Vec::new();
    for line in text.split_inclusive('\n') {
        let line = line.strip_suffix('\n')?;
        let (escaped, line) = line.strip_prefix('\\').map_or((false, line), |line| (true, line));
        let (sha256, path) = line.split_once("  ")?;
        let hash = sha256.len() == 64 && sha256.bytes().all(|b| matches!(b, b'0'..=b'9' | b'a'..=b'f'));
        let path = if escaped { unescaped(path)? } else { path.to_owned() };
        if !hash || path.is_empty() {
            return None;
        }
        list.push(Listed { path, sha256: sha256.to_owned(), size: None });
    }
    Some(list)
}

fn unescaped(path: &str) -> Option<String> {
    let mut plain = String::new();
    let mut letters = path.chars();
    while let Some(letter) = letters.next() {
        plain.push(match letter {
            '\\' => match letters.next()? {
                '\\' => '\\',
                'n' => '\n',
                'r' => '\r',
                _ => return None,
            },
            other => other,
        });
    }
    Some(plain)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn listed(path: &str) -> Listed {
        Listed { path: path.to_owned(), sha256: super::super::sha256(path.as_bytes()), size: None }
    }

    #[test]
    fn a_list_reads_back_as_it_was_whatever_the_paths_hold() {
        let list: Vec<Listed> =
            ["session.yaml", "visits/as found/a  b.csv", "a\\n\nb\r", "ä"].map(listed).to_vec();
        let text = written(&list);
        assert_eq!(text.lines().count(), list.len());
        assert_eq!(read(&text), Some(list));
    }

    #[test]
    fn what_is_no_list_is_not_guessed_at() {
        let good = written(&[listed("a")]);
        for bad in ["a", "  a\n", good.trim_end(), &good.to_uppercase(), &good.replace("  a", "  "), "\n"] {
            assert_eq!(read(bad), None, "{bad:?}");
        }
        assert_eq!(read(""), Some(Vec::new()));
    }
}
