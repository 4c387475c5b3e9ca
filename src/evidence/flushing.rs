//! A long file that is on the disk soon after its last byte was written: what was written goes there while the rest is made.

use std::fs::File;
use std::io::{self, Seek, SeekFrom, Write};
use std::sync::mpsc::{SyncSender, sync_channel};
use std::thread::JoinHandle;

/// Bytes after which the disk is set to work.
const STEP: u64 = 32 << 20;

/// A file in the making.
pub struct Flushing {
    file: File,
    since: u64,
    worker: Option<(SyncSender<()>, JoinHandle<io::Result<()>>)>,
}

impl Flushing {
    /// Writes to a file from where it stands.
    pub fn to(file: File) -> Self {
        Self { file, since: 0, worker: None }
    }

    /// Waits until everything is on the disk.
    ///
    /// # Errors
    /// Where the system could not put it there, now or on the way.
    pub fn finish(self) -> io::Result<File> {
        if let Some((hand, worker)) = self.worker {
            drop(hand);
            worker.join().map_err(|_| io::Error::other("the disk was given up on"))??;
        }
        self.file.sync_data()?;
        Ok(self.file)
    }

    fn set_to_work(&mut self) -> io::Result<()> {
        if self.worker.is_none() {
            let file = self.file.try_clone()?;
            let (hand, steps) = sync_channel(1);
            let worker = std::thread::spawn(move || steps.into_iter().try_for_each(|()| file.sync_data()));
            self.worker = Some((hand, worker));
        }
        if let Some((hand, _)) = &self.worker {
            // One that still waits will take this along; one that failed tells in the end.
            let _ = hand.try_send(());
        }
        Ok(())
    }
}

impl Write for Flushing {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let written = self.file.write(bytes)?;
        self.since += written as u64;
        if self.since >= STEP {
            self.since = 0;
            self.set_to_work()?;
        }
        Ok(written)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.file.flush()
    }
}

impl Seek for Flushing {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        self.file.seek(to)
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used, clippy::cast_possible_truncation)]
mod tests {
    use std::io::{Read, Seek, SeekFrom, Write};

    use super::{Flushing, STEP};

    #[test]
    fn a_file_of_several_steps_holds_what_was_written() {
        let mut flushing = Flushing::to(tempfile::tempfile().unwrap());
        let block: Vec<u8> = (0..1_000_003_u32).map(|index| (index % 251) as u8).collect();
        let blocks = (3 * STEP) as usize / block.len();
        for _ in 0..blocks {
            flushing.write_all(&block).unwrap();
        }
        let mut file = flushing.finish().unwrap();
        file.seek(SeekFrom::Start(0)).unwrap();
        let mut bytes = Vec::new();
        file.read_to_end(&mut bytes).unwrap();
        assert!(bytes.chunks(block.len()).all(|chunk| chunk == block));
        assert_eq!(bytes.len(), blocks * block.len());
    }
}
