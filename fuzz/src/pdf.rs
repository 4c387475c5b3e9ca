//! A PDF as `verify` meets it: its attachments and pages read, and held against what it says of itself.

use std::sync::{Arc, Once};

use asfound::commands::Prover;
use asfound::evidence::pdf::{Wanted, read};

static HOOK: Once = Once::new();

/// Tries what a fuzzer wrote.
pub fn run(bytes: &[u8]) {
    // PDFs are read in a thread of their own, so that a parser that gives up is an answer ("this is no PDF that can be
    // read"). A panic anywhere else is still a find.
    HOOK.call_once(|| {
        let abort = std::panic::take_hook();
        std::panic::set_hook(Box::new(move |info| {
            if std::thread::current().name() != Some("pdf") {
                abort(info);
            }
        }));
    });
    let Ok(found) = read(Arc::new(bytes.to_vec()), Wanted::Pages) else { return };
    let plain = read(Arc::new(bytes.to_vec()), Wanted::Attached).expect("less is wanted");
    assert_eq!(plain.attached, found.attached);
    // A report that carries a whole session is made again, which takes a second: that is `verify`'s work, not its reader's.
    if !found.attached.iter().any(|file| file.name == "made.json") {
        let answer = Prover::default().prove(bytes.to_vec(), None);
        assert!(!answer.is_whole(), "a PDF that carries nothing stands");
    }
}
