//! A seal as text.

use super::Seal;
use super::parse::HEAD;

/// The seal's file. `cd visits/VISIT && sha256sum -c seal.txt` (GNU coreutils) checks its files and passes over
/// the lines that begin with `#`.
pub fn of(seal: &Seal) -> String {
    let mut text = format!("{HEAD}\n# visit: {}\n# sealed: {}\n", seal.visit, seal.sealed.text());
    text += &match &seal.before {
        Some(before) => format!("# before: {}  {}\n", before.sha256, before.path),
        None => "# before: none\n".to_owned(),
    };
    for file in &seal.files {
        text += &format!("{}  {}\n", file.sha256, file.shown);
    }
    text
}
