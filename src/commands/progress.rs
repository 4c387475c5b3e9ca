//! How far a long piece of work has come, for whoever waits at a terminal.

use std::io::{IsTerminal, Write};
use std::sync::Mutex;
use std::time::{Duration, Instant};

/// Work that is done before this is not talked of.
const PATIENCE: Duration = Duration::from_millis(500);

/// A count of what is done, written over itself on a terminal and nowhere else.
pub(super) struct Progress {
    what: &'static str,
    total: usize,
    began: Instant,
    done: Mutex<(usize, bool)>,
}

impl Progress {
    /// So many of something are to be made: `pictures`.
    pub(super) fn of(total: usize, what: &'static str, quiet: bool) -> Self {
        // Where nobody is to be told, it has said everything already.
        let total = if quiet || !std::io::stderr().is_terminal() { 0 } else { total };
        Self { what, total, began: Instant::now(), done: Mutex::new((0, false)) }
    }

    /// One more is made.
    pub(super) fn step(&self) {
        if self.total == 0 || self.began.elapsed() < PATIENCE {
            if let Ok(mut done) = self.done.lock() {
                done.0 += 1;
            }
            return;
        }
        if let Ok(mut done) = self.done.lock() {
            *done = (done.0 + 1, true);
            let _ = write!(std::io::stderr(), "\r{} of {} {}", done.0, self.total, self.what);
        }
    }
}

impl Drop for Progress {
    /// Leaves the line as it was found.
    fn drop(&mut self) {
        if self.done.lock().is_ok_and(|done| done.1) {
            let width = self.what.len() + 20;
            let _ = write!(std::io::stderr(), "\r{:width$}\r", "");
        }
    }
}
