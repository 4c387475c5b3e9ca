//! What other commands put beside a report and what belongs to other readings than it: it is left as it is, and this
//! is said.

use std::fs;
use std::io::Write;
use std::path::Path;

use super::{letter, show, stills, written};

/// Says what beside a report does not carry its number.
pub(super) fn say(target: &Path, number: &str, err: &mut dyn Write) {
    let narration = Path::new("script.md");
    let letter = Path::new(letter::NAME);
    let pictures = Path::new(stills::FOLDER);
    let contents = pictures.join(written::CONTENTS);
    let known = [
        (
            narration,
            narration,
            "was filled from other readings than this report; make it again with `asfound script`",
        ),
        (letter, letter, "belongs to other readings than this report; write it again with `asfound letter`"),
        (
            pictures,
            contents.as_path(),
            "belongs to other readings than this report; make the pictures again with `asfound stills`",
        ),
    ];
    for (named, holds_number, what) in known {
        let stale =
            fs::read(target.join(holds_number)).is_ok_and(|bytes| !written::holds(&bytes, number.as_bytes()));
        if stale {
            let path = show::plain(&target.join(named).display().to_string());
            // A reader that went away is no error of ours.
            let _ = writeln!(err, "{path} {what}");
        }
    }
}
