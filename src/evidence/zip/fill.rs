//! A zip that is filled while its files are read for the first time: what a header tells of a file (its CRC-32) is known only
//! when the file has gone by, and is put where it belongs in the end.

use std::io::{self, Seek, SeekFrom, Write};

use super::write::{Entry, ZipError, central, ends, local};

/// A zip in the making. What comes of it is what [`super::write()`] writes of the same entries. A file is begun, written and
/// ended before the next one is begun.
pub struct Filling<W> {
    out: W,
    at: u64,
    entries: Vec<(Entry, u64)>,
    /// Where the content of the last file began.
    content: u64,
}

impl<W: Write + Seek> Filling<W> {
    /// Fills an empty file.
    pub fn new(out: W) -> Self {
        Self { out, at: 0, entries: Vec::new(), content: 0 }
    }

    /// Begins a file; `size` bytes of it are to be written.
    ///
    /// # Errors
    /// Where the zip cannot be written, or the path is too long.
    pub fn begin(&mut self, path: String, size: u64) -> Result<(), ZipError> {
        let entry = Entry { path, size, crc32: 0 };
        let header = local(&entry)?;
        self.entries.push((entry, self.at));
        self.write_all(&header).map_err(ZipError::Write)?;
        self.content = self.at;
        Ok(())
    }

    /// Ends the file that was begun, whose bytes had this CRC-32.
    ///
    /// # Errors
    /// Where there were more or fewer bytes.
    pub fn end(&mut self, crc32: u32) -> Result<(), ZipError> {
        if let Some((entry, _)) = self.entries.last_mut() {
            if self.at - self.content != entry.size {
                return Err(ZipError::Changed { path: entry.path.clone() });
            }
            entry.crc32 = crc32;
        }
        Ok(())
    }

    /// Writes the directory, and what was not known before into the headers.
    ///
    /// # Errors
    /// Where the zip cannot be written.
    pub fn finish(mut self) -> Result<W, ZipError> {
        let directory = self.at;
        let mut end = Vec::new();
        for (entry, start) in &self.entries {
            end.extend(central(entry, *start)?);
        }
        let length = end.len() as u64;
        end.extend(ends(self.entries.len() as u64, directory, length));
        self.out.write_all(&end).map_err(ZipError::Write)?;
        for (entry, start) in &self.entries {
            self.out.seek(SeekFrom::Start(*start)).map_err(ZipError::Write)?;
            self.out.write_all(&local(entry)?).map_err(ZipError::Write)?;
        }
        self.out.flush().map_err(ZipError::Write)?;
        Ok(self.out)
    }
}

impl<W: Write> Write for Filling<W> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let written = self.out.write(bytes)?;
        self.at += written as u64;
        Ok(written)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.out.flush()
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use std::io::{Cursor, Read, Write};

    use proptest::prelude::*;

    use super::super::{Entry, ZipError, write};
    use super::Filling;

    fn crc(bytes: &[u8]) -> u32 {
        let mut crc = crc32fast::Hasher::new();
        crc.update(bytes);
        crc.finalize()
    }

    proptest! {
        #[test]
        fn a_zip_filled_in_one_reading_is_the_zip_written_of_what_was_known(
            files in prop::collection::vec(("[a-zé/]{1,20}", prop::collection::vec(any::<u8>(), 0..300)), 0..6),
        ) {
            let mut filling = Filling::new(Cursor::new(Vec::new()));
            for (path, bytes) in &files {
                filling.begin(path.clone(), bytes.len() as u64).unwrap();
                filling.write_all(bytes).unwrap();
                filling.end(crc(bytes)).unwrap();
            }
            let filled = filling.finish().unwrap().into_inner();
            let entries: Vec<Entry> = files.iter()
                .map(|(path, bytes)| Entry { path: path.clone(), size: bytes.len() as u64, crc32: crc(bytes) })
                .collect();
            let mut written = Vec::new();
            write(&entries, &mut |index| Ok(Box::new(&files[index].1[..]) as Box<dyn Read>), &mut written).unwrap();
            prop_assert_eq!(filled, written);
        }
    }

    #[test]
    fn a_file_that_grew_while_it_was_put_in_is_an_error() {
        let mut filling = Filling::new(Cursor::new(Vec::new()));
        filling.begin("a".to_owned(), 2).unwrap();
        filling.write_all(b"abc").unwrap();
        let grown = filling.end(crc(b"abc"));
        assert!(matches!(grown, Err(ZipError::Changed { path }) if path == "a"));
    }
}
