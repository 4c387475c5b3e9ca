//! Many sessions: where they lie, and a row of each.
//!
//! [`walk()`] finds session folders in any tree; [`Row::of`] reads and analyses one and keeps a few words and numbers of it;
//! [`side_by_side`] does so with all of them. What a row says holds on any day: which coverage ends soon is asked of it with
//! a [`Day`].

pub mod history;
pub mod instrument;
mod row;
mod table;
mod walk;
mod wanted;
pub mod words;

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::mpsc::channel;

pub use row::{Calibration, InstrumentOn, MachineOn, Row, RowRead, Seals, Use, Window};
pub use table::{Said, to_csv, to_json};
pub use walk::{Walked, walk};
pub use wanted::{Day, Order, Wanted, sort};

/// A serial number or a name as it is compared: letter case does not count, nor does space around it.
pub fn folded(text: &str) -> String {
    text.trim().to_lowercase()
}

/// A path with its links resolved; one that is not there as it is.
pub fn real(path: &Path) -> PathBuf {
    std::fs::canonicalize(path).unwrap_or_else(|_| path.to_owned())
}

/// As many as can work at once.
pub fn processors() -> usize {
    std::thread::available_parallelism().map_or(1, usize::from)
}

/// From here on this thread does by itself what it would else share out. Where that cannot be had, it shares it out.
fn alone() -> Option<rayon::ThreadPool> {
    rayon::ThreadPoolBuilder::new().num_threads(1).use_current_thread().build().ok()
}

/// Does the same work on each folder, so many `at_once`, and hands on what came of each in the order of
/// the folders, as soon as it is its turn. Each worker has a hand of its own, which it keeps from one folder to the next.
///
/// Threads of their own, and not the pool that an analysis shares its work out in: a worker there that waits for a part
/// would take up the next session meanwhile, and so hold any number of them at once. Where there are more folders than
/// processors, each worker does all of its own session's work: to part that too would only make threads wait for each other.
pub fn side_by_side<H: Default, T: Send>(
    dirs: &[PathBuf],
    at_once: usize,
    work: &(dyn Fn(&mut H, &Path) -> T + Sync),
    take: &mut dyn FnMut(T),
) {
    let workers = at_once.min(dirs.len());
    let by_itself = dirs.len() > processors();
    let next = AtomicUsize::new(0);
    let (send, receive) = channel();
    std::thread::scope(|scope| {
        for _ in 0..workers {
            let (next, send) = (&next, send.clone());
            scope.spawn(move || {
                let _alone = by_itself.then(alone);
                let mut hand = H::default();
                while let Some((index, dir)) = {
                    let index = next.fetch_add(1, Ordering::Relaxed);
                    dirs.get(index).map(|dir| (index, dir))
                } {
                    if send.send((index, work(&mut hand, dir))).is_err() {
                        return;
                    }
                }
            });
        }
        drop(send);
        let mut early = BTreeMap::new();
        let mut turn = 0;
        for (index, made) in receive {
            early.insert(index, made);
            while let Some(made) = early.remove(&turn) {
                take(made);
                turn += 1;
            }
        }
    });
}

#[cfg(test)]
mod tests {
    use std::path::PathBuf;

    use super::{processors, side_by_side};

    /// Among how many threads each worker parts its work, with so many folders in all.
    fn parted(folders: usize) -> Vec<usize> {
        let dirs: Vec<PathBuf> = (0..folders).map(|n| PathBuf::from(n.to_string())).collect();
        let mut all = Vec::new();
        side_by_side(&dirs, processors(), &|(): &mut (), _| rayon::current_num_threads(), &mut |n| {
            all.push(n);
        });
        all
    }

    #[test]
    fn with_more_folders_than_processors_a_worker_does_all_of_its_work_itself() {
        assert_eq!(parted(2 * processors() + 1), vec![1; 2 * processors() + 1]);
        assert_eq!(parted(1), [rayon::current_num_threads()]);
    }

    #[test]
    fn what_came_of_each_folder_is_handed_on_in_their_order() {
        let dirs: Vec<PathBuf> = (0..20).map(|n| PathBuf::from(n.to_string())).collect();
        let mut came = Vec::new();
        let work = |(): &mut (), dir: &std::path::Path| {
            // The first ones take longest.
            let waits = dir.to_string_lossy().parse().map_or(0, |n: u64| 20 - n);
            std::thread::sleep(std::time::Duration::from_millis(waits));
            dir.to_owned()
        };
        side_by_side(&dirs, 4, &work, &mut |dir| came.push(dir));
        assert_eq!(came, dirs);
    }
}
